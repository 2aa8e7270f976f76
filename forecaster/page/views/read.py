"""Write a reading: the new window against the old, and a way back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster import book as kept
from forecaster.ground.errors import ForecasterError, InputError, NotEnoughData
from forecaster.page.say import bare_depth, depth_m, hour_of, sentence_of, span, temperature_c
from forecaster.page.views.common import Here, bed_named, garden

if TYPE_CHECKING:
    from datetime import date

    from forecaster.plan import WholePlan

views = Blueprint("read", __name__)
COLDEST_C, WARMEST_C = -60.0, 80.0
LONGEST_NUMBER = 12  # digits of an entry


@dataclass(frozen=True, slots=True)
class Answered:
    """A window as it is compared: its dates large, the sentence, how wide it is."""

    dates: str
    middle: date | None
    sentence: str
    days: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What a reading did.

    Parameters
    ----------
    said, doubt : str
        The reading in words; what is strange about it.
    batch : int or None
        By which it is undone; None where the book had it already.
    before, after : Answered or None
        The window without and with it; None where none can be told.
    moved : str
        The difference in words.
    """

    here: Here
    said: str
    doubt: str
    batch: int | None
    before: Answered | None
    after: Answered | None
    moved: str
    why_not: str = ""


@views.get("/read")
def read() -> str:
    """Show the form: the hour and the depth stand in it already."""
    with garden().open() as book:
        here = bed_named(book, request.args.get("bed"))
        beds = kept.beds(book)
        log = garden().log(book, here.bed.name)
    last = log.iloc[-1] if len(log) else None
    deep = here.bed.depth_m
    if last is not None and last["depth_m"] == last["depth_m"]:
        deep = float(last["depth_m"])
    return render_template(
        "read.html", at=here, beds=beds, day=here.now.date(), hour=hour_of(here.now),
        depth=bare_depth(deep, here.show), last=last, here="read",
    )  # fmt: skip


@views.post("/read")
def write() -> Answer | str:
    """Write a reading down, and say what it changed."""
    form = request.form
    with garden().open() as book:
        here = bed_named(book, form.get("bed"))
        before, _ = window_now(book, here)
        written = _write(book, here, before, {name: form.get(name, "") for name in form})
    return render_template("written.html", written=written, at=here, here="read")


def _write(book: kept.Book, here: Here, before: Answered | None, form: dict[str, str]) -> Written:
    import pandas as pd

    from forecaster.answers.at_once import doubt_reading
    from forecaster.book.moments import moment
    from forecaster.words.book import readings_words
    from forecaster.words.phrases import degrees, length

    temp_c = temperature_c(form.get("temperature", ""), here.show)
    if not COLDEST_C <= temp_c <= WARMEST_C:
        raise InputError(f"{form.get('temperature', '')!r:.20} is no soil's temperature")
    deep = form.get("depth", "").strip()
    metres = depth_m(deep, here.show) if deep else here.bed.depth_m
    text = " ".join(part for part in (form.get("day", ""), form.get("hour", "")) if part.strip())
    when = moment(text.strip() or None, here.now)
    row = {
        "time": [pd.Timestamp(when.standard)], "wall": [pd.Timestamp(when.wall)],
        "temp_c": [temp_c], "depth_m": [metres], "span": ["instant"],
        "hour_known": [when.hour_known],
    }  # fmt: skip
    air = _air(book, here)
    with book.batch("read", "by hand") as batch:
        added = kept.add_readings(batch, here.bed.name, pd.DataFrame(row))
        doubt = ""
        if added.new:
            stamp = pd.Timestamp(when.standard)
            doubt = doubt_reading(book, here.bed.name, stamp, temp_c, air)
    if added.conflicts:
        raise InputError(" ".join(readings_words(added, here.bed.name, here.show)))
    after, why_not = window_now(book, here)
    said = f"{degrees(temp_c, here.show, both=True)}, {length(metres)} down, {when.said}"
    return Written(
        here=here, said=said, doubt=sentence_of(InputError(doubt)) if doubt else "",
        batch=batch.number if added.new else None, before=before, after=after,
        moved=moved(before, after), why_not=why_not,
    )  # fmt: skip


def _air(book: kept.Book, here: Here) -> Any:
    """Return the air of a bed's place, None where it has none yet."""
    try:
        return garden().air(book, here.place)
    except NotEnoughData:
        return None


def window_now(book: kept.Book, here: Here) -> tuple[Answered | None, str]:
    """Return the window of a bed as the book stands; why there is none, if so."""
    try:
        whole = garden().whole(book, here.bed.name)
    except ForecasterError as error:
        return None, sentence_of(error)
    return _of_whole(whole, here), ""


def _of_whole(whole: WholePlan, here: Here) -> Answered:
    from forecaster.words.window import lead

    out, day = whole.window.outlook, whole.record.today
    days = None if out.early is None or out.late is None else (out.late - out.early).days + 1
    return Answered(
        "" if whole.window.so_far.stale_days else span(out.early, out.late, day),
        out.median,
        lead(whole.window, day, here.show),
        days,
    )


def moved(before: Answered | None, after: Answered | None) -> str:
    """Say how a window moved and narrowed."""
    if before is None or after is None or before.middle is None or after.middle is None:
        return ""
    days = (after.middle - before.middle).days
    said = "The likely day stays where it was"
    if days:
        way = "later" if days > 0 else "earlier"
        said = f"The likely day moved {abs(days)} day{'s' if abs(days) > 1 else ''} {way}"
    if before.days is None or after.days is None or before.days == after.days:
        return f"{said}."
    wide = "narrower" if after.days < before.days else "wider"
    by = abs(after.days - before.days)
    return f"{said}; the window is {by} day{'s' if by > 1 else ''} {wide}."


@views.post("/undo")
def undo() -> Answer:
    """Take a batch of the book back."""
    number = request.form.get("batch", "")
    if not number.isascii() or not number.isdigit() or len(number) > LONGEST_NUMBER:
        raise InputError("which entry is meant? Load the page again")
    with garden().open() as book:
        kept.undo(book, int(number))
    back = request.form.get("back", "/data")
    return redirect(back if back in ("/", "/data", "/read", "/week") else "/data", 303)
