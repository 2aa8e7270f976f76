"""What every view needs: the garden, a bed with its place, the scale to show."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from flask import current_app, request
from werkzeug.datastructures import FileStorage

from forecaster import book as kept
from forecaster.ground.errors import InputError
from forecaster.page.garden import EXAMPLE, Garden, scale_of
from forecaster.words.phrases import Show


class NoBed(InputError):  # noqa: N818 - it reads as what it says
    """The book has no bed yet: the page Begin makes one."""


ENDINGS = (".csv", ".txt", ".tsv", ".dat", ".gz", ".zip", ".json", ".dly", ".epw", ".xlsx")


def garden() -> Garden:
    """Return the garden of this page."""
    found: Garden = current_app.config["GARDEN"]
    return found


@dataclass(frozen=True, slots=True)
class Here:
    """A bed with its place, the time there, and the scale in which its numbers are said."""

    bed: kept.Bed
    place: kept.Place
    now: datetime
    show: Show

    @property
    def invented(self) -> bool:
        """Whether it is the packaged example, whose time stands still."""
        return self.place.station == EXAMPLE


def show_for(place: kept.Place) -> Show:
    """Return the scale asked for, or the place's own."""
    chosen = request.cookies.get("crossday_scale")
    return "F" if chosen == "F" else "C" if chosen == "C" else scale_of(place)


def bed_named(book: kept.Book, name: str | None) -> Here:
    """Return a bed, the first of the book where none is named."""
    known = kept.beds(book)
    if not known:
        raise NoBed("the book has no bed yet; make one on the page Begin")
    bed = kept.find_bed(book, name or known[0].name)
    place = kept.find_place(book, bed.place)
    return Here(bed, place, garden().clock_at(place), show_for(place))


@contextmanager
def dropped(given: FileStorage | None) -> Iterator[tuple[Path, str]]:
    """Put a file sent by the browser where only this program looks; yield it and its name.

    It is written under a name of ours; of its own only a known ending is used.
    """
    if given is None or not given.filename:
        raise InputError("no file was chosen; choose one and send it again")
    called = given.filename.replace("\\", "/").rsplit("/", 1)[-1]
    called = "".join(c for c in called if c.isprintable())[:80] or "a file"
    ending = Path(called).suffix.lower()
    with tempfile.TemporaryDirectory(prefix="crossday-") as folder:
        path = Path(folder) / f"dropped{ending if ending in ENDINGS else ''}"
        given.save(path)
        yield path, called


def scale_word(show: Show) -> Literal["°F", "°C"]:
    """Return the sign of a scale."""
    return "°F" if show == "F" else "°C"
