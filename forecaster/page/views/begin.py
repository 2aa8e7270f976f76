"""Begin: where the garden is, its air, its first bed; each step can be left out and done later."""

from __future__ import annotations

from dataclasses import replace
from typing import cast, get_args

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster import book as kept
from forecaster.answers.towns import find_towns
from forecaster.ground.errors import InputError
from forecaster.ground.site import Cover, Site, Soil
from forecaster.packaged import data_path, load_json
from forecaster.page.garden import EXAMPLE, scale_of
from forecaster.page.say import bare_depth, depth_m, sentence_of
from forecaster.page.views.air import onward, standing
from forecaster.page.views.common import dropped, garden, show_for

views = Blueprint("begin", __name__)
STEPS = ("place", "air", "bed")
USUAL_DEPTH_M = 0.1016


@views.get("/begin")
def begin() -> str:
    """Show the step asked for, or the first that is not done."""
    places, beds, with_air = _standing()
    step = request.args.get("step", "")
    if step not in STEPS:
        step = "place" if not places else "air" if not with_air else "bed"
    named = request.args.get("place")
    place = next((one for one in places if one.name == named), places[-1] if places else None)
    show = "C" if place is None else show_for(place)
    words = request.args.get("town", "")
    air = None
    if place is not None and step == "air":
        with garden().open() as book:
            air = standing(book, place, look=request.args.get("look") == "1")
    return render_template(
        "begin.html",
        step=step, place=place, places=places, beds=beds, with_air=with_air, words=words,
        air=air, onward="" if place is None else onward(place.name),
        towns=find_towns(words) if words else [],
        soils=get_args(Soil), covers=get_args(Cover), show=show,
        depth=bare_depth(USUAL_DEPTH_M, show), here="begin",
    )  # fmt: skip


def _standing() -> tuple[list[kept.Place], list[kept.Bed], list[str]]:
    """Return the places, the beds, and the places that have air."""
    if not garden().exists():
        return [], [], []
    with garden().open() as book:
        places = kept.places(book)
        air = [one.name for one in places if kept.air_span(book, one.name)["air_days"]]
        return places, kept.beds(book), air


@views.get("/towns")
def towns() -> str:
    """Show the towns that a few letters may mean."""
    words = request.args.get("town", "")
    return render_template("towns.html", towns=find_towns(words), words=words)


@views.post("/begin/place")
def add_place() -> Answer:
    """Write down where the garden is."""
    form = request.form
    north, east, called = form.get("north", ""), form.get("east", ""), form.get("name", "")
    if chosen := form.get("chosen"):
        north, east, town = (*chosen.split("|", 2), "", "")[:3]
        called = called.strip() or town.split(",")[0]
    elif not north.strip() and not east.strip():
        found = find_towns(form.get("town", ""))
        if len(found) != 1:
            return redirect(f"/begin?step=place&town={_quoted(form.get('town', ''))}", 303)
        north, east = str(found[0].latitude_deg), str(found[0].longitude_deg)
        called = called.strip() or found[0].name
    place = kept.Place(
        name=called.strip() or "garden",
        latitude_deg=_degrees(north, "N", "S", "latitude"),
        longitude_deg=_degrees(east, "E", "W", "longitude"),
    )
    with garden().open(create=True) as book:
        try:
            with book.batch("start", place.name) as batch:
                kept.add_place(batch, place)
        except BaseException:
            book.discard_if_empty()
            raise
    return redirect("/begin?step=air", 303)


def _quoted(words: str) -> str:
    from urllib.parse import quote

    return quote(words[:80])


def _degrees(text: str, plus: str, minus: str, what: str) -> float:
    """Return degrees from `36.2S`, `-36.2` or `36,2 s`."""
    words = text.strip().upper().replace(",", ".").replace("°", "").replace(" ", "")
    sign = -1.0 if words.endswith(minus) else 1.0
    try:
        return sign * float(words.rstrip(plus + minus))
    except ValueError as error:
        raise InputError(
            f"{what} {text!r:.40} is no position; expected degrees, as 36.2{minus} or 51.5{plus}"
        ) from error


@views.post("/begin/example")
def example() -> Answer:
    """Make the invented garden that comes with the program: its place, air, readings and bed."""
    from forecaster.ingest import read_air, read_readings

    told = load_json("demo/garden.json")
    name = "Eddermarl Terrace"
    place = kept.Place(
        name=name,
        latitude_deg=told["latitude_deg"],
        longitude_deg=told["longitude_deg"],
        station=EXAMPLE,
    )
    bed = kept.Bed(
        name="north bed", place=name, area_m2=9.0, soil=told["soil"], cover=told["cover"]
    )
    with garden().open(create=True) as book, book.batch("start", EXAMPLE) as batch:
        kept.add_place(batch, place)
        kept.add_air(batch, name, read_air(str(data_path("demo/air.csv"))), source="example garden")
        kept.add_bed(batch, replace(bed, depth_m=told["depth_m"]))
        readings = read_readings(str(data_path("demo/readings.csv")))
        kept.add_readings(batch, bed.name, readings)
    return redirect("/?wait=1", 303)


@views.post("/begin/air")
def add_air() -> Answer | str:
    """Take in a place's air record."""
    from forecaster.answers.taken import take_file
    from forecaster.words.account import account_words
    from forecaster.words.book import air_words

    with dropped(request.files.get("file")) as (path, called), garden().open() as book:
        place = kept.find_place(book, request.form.get("place") or kept.places(book)[-1].name)
        show = show_for(place)
        taken = take_file(
            book, path, "air", called=called, place=place.name,
            units=request.form.get("units") or None, day_first=_day_first(scale_of(place)),
        )  # fmt: skip
    words = air_words(taken.air, place.name, show) if taken.air else []
    told = [sentence_of(text, called) for text in account_words("Air", taken.account)[1:]]
    return render_template(
        "taken.html", taken=taken, words=words, told=told, called=called,
        onward="/begin?step=bed", here="begin",
    )  # fmt: skip


def _day_first(show: str) -> bool | None:
    """Return the order of day and month where a file does not say: as the place writes them."""
    return False if show == "F" else None


@views.post("/begin/bed")
def add_bed() -> Answer:
    """Make a bed."""
    form = request.form
    with garden().open() as book:
        place = kept.find_place(book, form.get("place") or kept.places(book)[-1].name)
        show = show_for(place)
        deep = form.get("depth", "").strip()
        bed = kept.Bed(
            name=form.get("name", "").strip() or "first bed",
            place=place.name,
            soil=cast("Soil", form.get("soil", "loam")),  # refused below if it is none
            cover=cast("Cover", form.get("cover", "bare")),
            raised=form.get("raised") == "yes",
            depth_m=depth_m(deep, show) if deep else USUAL_DEPTH_M,
        )
        Site(place.latitude_deg, place.longitude_deg, bed.depth_m, bed.soil, bed.cover)
        with book.batch("bed", bed.name) as batch:
            kept.add_bed(batch, bed)
    return redirect("/?wait=1", 303)
