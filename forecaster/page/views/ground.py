"""The ground of a bed: soil, what lies on it, the thermometer's depth, changed on the page."""

from __future__ import annotations

from typing import Any, cast, get_args

from flask import Blueprint, render_template, request

from forecaster import book as kept
from forecaster.ground.errors import InputError
from forecaster.ground.site import Cover, Soil
from forecaster.ground.units import METRES_PER_FOOT, parse_area
from forecaster.page.say import NUMBER, bare_depth, depth_m
from forecaster.page.views.common import Here, bed_named, garden
from forecaster.page.views.read import Written, moved, window_now
from forecaster.words.phrases import number

views = Blueprint("ground", __name__)


def ground_fields(here: Here) -> dict[str, Any]:
    """Return what the form about a bed's ground shows."""
    bed, us = here.bed, here.show == "F"
    area = bed.area_m2
    return {
        "soils": get_args(Soil),
        "covers": get_args(Cover),
        "depth": bare_depth(bed.depth_m, here.show),
        "area": "" if area is None else number(area / METRES_PER_FOOT**2 if us else area),
    }


@views.post("/bed/ground")
def change() -> str:
    """Change the ground of a bed; the new window stands beside the old, with a way back."""
    form = request.form
    with garden().open() as book:
        here = bed_named(book, form.get("bed"))
        new = _changed(here, form)
        if not new:
            raise InputError("nothing was changed; the book has all of it as it stands there")
        before, _ = window_now(book, here)
        kept.change_bed(book, here.bed.name, **new)
        batch = kept.batches(book, 1)[-1].number
        here = bed_named(book, here.bed.name)
        after, why_not = window_now(book, here)
    written = Written(
        here=here, said="The ground of the bed is changed", doubt="", batch=batch, before=before,
        after=after, moved=moved(before, after), why_not=why_not,
    )  # fmt: skip
    return render_template("written.html", written=written, at=here, here="bed")


def _changed(here: Here, form: Any) -> dict[str, Any]:
    """Return what a form says that the book does not; a field left as it was shown says nothing."""
    shown, bed = ground_fields(here), here.bed
    said: dict[str, Any] = {
        "soil": cast("Soil", form.get("soil", bed.soil)),  # refused by the bed if it is none
        "cover": cast("Cover", form.get("cover", bed.cover)),
        "raised": form.get("raised") == "yes",
    }
    deep, area = form.get("depth", "").strip(), form.get("area", "").strip()
    if deep and deep != shown["depth"]:
        said["depth_m"] = depth_m(deep, here.show)
    if area and area != shown["area"]:
        unit = "ft2" if here.show == "F" else "m2"
        bare = NUMBER.fullmatch(area)
        said["area_m2"] = parse_area(f"{area.replace(',', '.')}{unit}" if bare else area)
    return {name: value for name, value in said.items() if value != getattr(bed, name)}
