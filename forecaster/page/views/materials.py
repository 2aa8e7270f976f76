"""Materials: what a bed takes, added up while it is typed; its outline; where each plant goes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, render_template, request

from forecaster import book as kept
from forecaster.ground.errors import ForecasterError, InputError
from forecaster.ground.units import METRES_PER_FOOT, parse_area, parse_length
from forecaster.page.say import NUMBER, sentence_of
from forecaster.page.views.beds import PICTURE_RULES
from forecaster.page.views.common import Here, bed_named, garden
from forecaster.words.phrases import number

if TYPE_CHECKING:
    from forecaster.plan import Bed, Shopping, Wants
    from forecaster.plan.layout.scatter import Scatter

views = Blueprint("materials", __name__)
FIELDS = ("area", "outline", "spacing", "flats", "renewal", "ratio", "fertilizer", "colours")
SIDE = 100.0


@views.get("/materials")
def materials() -> str:
    """Show the form with its sums; a wrong field is said, the others stay."""
    from forecaster.answers.crops import known_crops
    from forecaster.page.views.goes import lines_of as goes_of

    with garden().open() as book:
        here = bed_named(book, request.args.get("bed"))
        beds = kept.beds(book)
        told, error, shape = _sums(book, here, _form(here))
        held = goes_of(book, here)
    part = request.headers.get("HX-Target") == "sums"
    return render_template(
        "sums.html" if part else "materials.html",
        at=here, beds=beds, held=held, crops=[one.label for one in known_crops().values()],
        form=_form(here), told=told, error=error, shape=shape,
        season=request.args.get("season", "autumn"), here="materials",
        address=request.query_string.decode("ascii", "ignore"),
    )  # fmt: skip


def _form(here: Here) -> dict[str, str]:
    """Return the fields as given, outline and area as the book has them."""
    form = {name: request.args.get(name, "").strip() for name in FIELDS}
    if "area" not in request.args and not form["outline"]:
        corners = " ".join(f"{x:.10g},{y:.10g}" for x, y in here.bed.outline)
        form["outline"] = here.bed.shape or corners
    if not form["area"] and not form["outline"] and here.bed.area_m2 is not None:
        feet = here.show == "F"
        size = here.bed.area_m2 / METRES_PER_FOOT**2 if feet else here.bed.area_m2
        form["area"] = f"{number(size)} {'ft2' if feet else 'm2'}"
    return form


def bed_and_wants(here: Here, form: dict[str, str]) -> tuple[Bed, Wants]:
    """Return the bed and what is wanted, from the fields of a form."""
    from forecaster.plan import Bed, Wants, read_outline
    from forecaster.plan.supplies.quantities import nitrogen_share

    us = here.show == "F"
    outline = read_outline(_with_units(form["outline"], us)) if form["outline"] else None
    area = None if outline or not form["area"] else parse_area(_bare(form["area"], us, "ft2", "m2"))
    if form["fertilizer"]:
        nitrogen_share(form["fertilizer"])
    sizes, prices = _flats(form["flats"])
    wants = Wants(
        spacing_m=_length(form["spacing"], us),
        flat_sizes=sizes,
        prices=prices,
        renewal_depth_m=_length(form["renewal"], us),
        parts=_ratio(form["ratio"]),
        fertilizer=form["fertilizer"] or None,
        colours=_colours(form["colours"]),
    )
    return Bed(name=here.bed.name, area_m2=area, outline=outline, soil=here.bed.soil), wants


def bought(book: kept.Book, here: Here, form: dict[str, str]) -> tuple[Bed, Shopping | None]:
    """Return the bed and what to buy for it: as the form says, else as the book has it."""
    from forecaster.plan import shopping_for
    from forecaster.plan.wanted import with_goes

    season = "spring" if request.args.get("season") == "spring" else "autumn"
    bed, told = bed_and_wants(here, form)
    wants = with_goes(told, kept.wants(book, here.bed.name), season)
    return bed, shopping_for(bed, wants, season)


def _sums(
    book: kept.Book, here: Here, form: dict[str, str]
) -> tuple[list[str], str, dict[str, Any] | None]:
    from forecaster.words.plan import shopping_words

    try:
        bed, shopping = bought(book, here, form)
        lines = [line.removeprefix("· ") for line in shopping_words(shopping)]
    except ForecasterError as error:
        return [], sentence_of(error), None
    if bed.outline is None or shopping is None:
        return lines, "", None
    return lines, "", _shape(bed.outline) | {"coloured": shopping.coloured}


def _shape(outline: Any) -> dict[str, Any]:
    """Return an outline as points of a drawing that fits a square."""
    x0, y0, x1, y1 = outline.bounds_m
    scale = SIDE / max(x1 - x0, y1 - y0)
    rings = [
        " ".join(f"{(x - x0) * scale:.2f},{(y1 - y) * scale:.2f}" for x, y in ring)
        for ring in outline.rings_m
    ]
    return {
        "rings": rings,
        "wide": round((x1 - x0) * scale, 2), "tall": round((y1 - y0) * scale, 2),
        "words": f"{number(x1 - x0)} m by {number(y1 - y0)} m, "
        f"{number((x1 - x0) / METRES_PER_FOOT)} ft by {number((y1 - y0) / METRES_PER_FOOT)} ft",
    }  # fmt: skip


@views.get("/layout")
def layout() -> str:
    """Show where each plant goes, and the same in words."""
    _, words, here = _sheet()
    address = request.query_string.decode("ascii", "ignore")
    return render_template(
        "still.html", title=f"Where each plant goes in {here.bed.name}",
        source=f"/layout/picture?{address}", words=words, back=f"/materials?{address}",
        paper=f"/layout/paper?{address}", here="materials",
    )  # fmt: skip


@views.get("/layout/picture")
def layout_picture() -> Response:
    """Give the sheet that says where each plant goes."""
    from forecaster.charts.save import svg
    from forecaster.charts.scatter import build_scatter

    found, words, here = _sheet()
    with garden().lock:
        drawn = svg(build_scatter(found, here.bed.name), f"Planting sheet: {here.bed.name}", words)
    rules = {"Content-Security-Policy": PICTURE_RULES}
    return Response(drawn, mimetype="image/svg+xml", headers=rules)


@views.get("/layout/paper")
def layout_paper() -> Response:
    """Give the sheet to plant from, to be printed."""
    from forecaster.charts.sheet import sheet_pdf

    found, _, here = _sheet()
    with garden().lock:
        pages = sheet_pdf(found, here.bed.name)
    headers = {"Content-Disposition": 'inline; filename="planting-sheet.pdf"'}
    return Response(pages, mimetype="application/pdf", headers=headers)


def _sheet() -> tuple[Scatter, str, Here]:
    """Return the places of the plants, the same in words, and the bed."""
    from forecaster.charts.scatter import describe_scatter
    from forecaster.plan import scattered

    with garden().open() as book:
        here = bed_named(book, request.args.get("bed"))
        bed, shopping = bought(book, here, _form(here))
    if bed.outline is None:
        raise InputError("a sheet needs the outline; an area alone has no places")
    if shopping is None or not shopping.coloured:
        raise InputError("a sheet is of one crop in its colours; write yellow=72, white=72")
    found = scattered(bed, shopping, 0)
    return found, describe_scatter(found, here.bed.name), here


def _colours(text: str) -> tuple[tuple[str, int | None], ...]:
    """Return plants by colour from `yellow=72, white=72`, or `yellow, white` to share evenly."""
    from forecaster.plan.layout.lightness import srgb_of

    counts: dict[str, int | None] = {}
    for part in filter(None, (piece.strip() for piece in text.split(","))):
        name, told, many = (piece.strip() for piece in part.partition("="))
        wrong = told and not (many.isascii() and many.isdigit() and 0 < int(many) < 10_000)
        if not name or wrong:
            raise InputError(f"{part!r:.40} is no colour; write yellow=72, white=72")
        srgb_of(name)
        counts[name] = int(many) if told else None
    return tuple(counts.items())


def _length(text: str, us: bool) -> float | None:
    return None if not text else parse_length(_bare(text, us, "in", "cm"))


def _bare(text: str, us: bool, theirs: str, ours: str) -> str:
    """Return a bare number with the unit that the place uses."""
    return f"{text.replace(',', '.')}{theirs if us else ours}" if NUMBER.fullmatch(text) else text


def _with_units(outline: str, us: bool) -> str:
    """Return the words of an outline, bare sizes with a unit; corners are left alone."""
    words = outline.split()
    if words[:1] == ["polygon"] or all("," in word for word in words):
        return outline
    return " ".join(
        _bare(word, us, "ft", "m") if NUMBER.fullmatch(word) else word for word in outline.split()
    )


def _ratio(text: str) -> tuple[float, float] | None:
    if not text:
        return None
    bark, _, compost = text.partition(":")
    try:
        return float(bark), float(compost)
    except ValueError as error:
        raise InputError(f"{text!r:.20} is no ratio of bark to compost; write 2:1") from error


def _flats(text: str) -> tuple[tuple[int, ...], dict[int, float]]:
    """Return sizes of flats and prices from `36=18.50, 48=22`."""
    sizes: list[int] = []
    prices: dict[int, float] = {}
    for part in filter(None, (piece.strip() for piece in text.split(","))):
        size, _, price = (piece.strip() for piece in part.partition("="))
        try:
            number_of = int(size)
            cost = float(price) if price else None
        except ValueError as error:
            raise InputError(f"{part!r:.30} is no flat; write 36 or 36=18.50") from error
        if not 0 < number_of < 10_000:
            raise InputError(f"a flat of {number_of} plants? Write 36 or 36=18.50")
        sizes.append(number_of)
        if cost is not None:
            prices[number_of] = cost
    return tuple(sizes), prices
