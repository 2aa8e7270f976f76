"""Data: drop a file and see what became of it; entries with a way back; export and backup."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from flask import Blueprint, Response, render_template, request, send_file

from forecaster import book as kept
from forecaster.ground.errors import ForecasterError, InputError
from forecaster.page.garden import scale_of
from forecaster.page.say import depth_m, sentence_of
from forecaster.page.views.common import dropped, garden, show_for

views = Blueprint("data", __name__)
BATCHES_SHOWN = 40
COLUMNS = {
    "date": "the date",
    "tmax": "the day's maximum",
    "tmin": "the day's minimum",
    "soil": "the soil",
}
WHAT: dict[str, Literal["air", "soil", "either"]] = {
    "air": "air", "soil": "soil", "either": "either",
}  # fmt: skip


@views.get("/data")
def data() -> str:
    """Show what the book holds."""
    from forecaster.words.book import air_span_words, reading_span_words

    if not garden().exists():
        raise InputError("there is no book yet; make one on the page Begin")
    with garden().open() as book:
        places, beds = kept.places(book), kept.beds(book)
        held = [(one, air_span_words(kept.air_span(book, one.name))) for one in places]
        shows = {one.name: show_for(one) for one in places}
        read = [
            (one, reading_span_words(kept.reading_span(book, one.name), shows[one.place]))
            for one in beds
        ]
        lines = kept.batches(book, BATCHES_SHOWN)[::-1]
    return render_template(
        "data.html", places=held, beds=read, lines=lines, entries=[_entry(one) for one in lines],
        columns=COLUMNS,
        here="data",
    )  # fmt: skip


def _entry(line: kept.BatchLine) -> tuple[kept.BatchLine, str]:
    """Return a batch with what it holds in words."""
    from forecaster.words.phrases import count, listed

    held = [count(many, kind) for kind, many in line.rows.items()]
    return line, listed(held) if held else "nothing"


@views.post("/data/drop")
def drop() -> str:
    """Take in a file; what cannot be read is said with what to do."""
    from forecaster.answers.taken import take_file
    from forecaster.words.account import account_words
    from forecaster.words.book import air_words, readings_words

    form = request.form
    with dropped(request.files.get("file")) as (path, called), garden().open() as book:
        bed = kept.find_bed(book, form["bed"]) if form.get("bed") else None
        places = kept.places(book)
        named = form.get("place") or (bed.place if bed else places[0].name)
        place = kept.find_place(book, named)
        show = show_for(place)
        deep = form.get("depth", "").strip()
        try:
            taken = take_file(
                book, path, WHAT.get(form.get("what", ""), "either"), called=called,
                place=place.name, bed=bed.name if bed else None,
                depth_m=depth_m(deep, show) if deep else None,
                columns=_columns(form), probe=form.get("probe", "").strip()[:80] or None,
                units=form.get("units") or None,
                day_first=False if scale_of(place) == "F" else None,
            )  # fmt: skip
        except ForecasterError as error:
            return render_template(
                "untaken.html", why=sentence_of(error, called), called=called,
                beds=kept.beds(book), here="data",
            )  # fmt: skip
    words: list[str] = []
    if taken.air is not None:
        words = air_words(taken.air, taken.where, show)
    if taken.readings is not None:
        words = readings_words(taken.readings, taken.where, show)
    told = account_words("Read", taken.account, by_hand=taken.readings is not None)
    told = [sentence_of(text, called) for text in told[1:]]
    return render_template(
        "taken.html", taken=taken, words=words, told=told, called=called, onward="/", here="data"
    )


def _columns(form: Mapping[str, str]) -> dict[str, str]:
    """Return what the form says that columns hold."""
    said = {name: form.get(f"column-{name}", "").strip()[:80] for name in COLUMNS}
    return {name: column for name, column in said.items() if column}


@views.get("/data/export")
def export() -> Response:
    """Give the whole book as tables."""
    with tempfile.TemporaryDirectory(prefix="crossday-") as folder, garden().open() as book:
        target = Path(folder) / "garden"
        kept.export_book(book, target)
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as into:
            for file in sorted(target.iterdir()):
                into.write(file, f"garden/{file.name}")
    packed.seek(0)
    return send_file(packed, "application/zip", as_attachment=True, download_name="garden.zip")


@views.get("/data/backup")
def backup() -> Response:
    """Give a whole copy of the book."""
    with tempfile.TemporaryDirectory(prefix="crossday-") as folder, garden().open() as book:
        target = Path(folder) / "garden.db"
        kept.copy_book(book.path, target)
        content = io.BytesIO(target.read_bytes())
    return send_file(
        content, "application/vnd.sqlite3", as_attachment=True, download_name="garden.db"
    )
