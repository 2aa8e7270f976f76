"""The garden as the page sees it: the book, the clock, and answers kept until the book changes."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from forecaster import book as kept
from forecaster.answers.towns import scale_at
from forecaster.packaged import load_json

if TYPE_CHECKING:
    from forecaster.answers.record import Record
    from forecaster.answers.several import Beds
    from forecaster.plan import WholePlan
    from forecaster.words.phrases import Show

EXAMPLE = "example garden (invented)"
"""The station of a place whose air is the packaged example's; its days end with that."""
KEPT_ANSWERS = 40
Found = TypeVar("Found")
Door = Callable[[Callable[[float], None]], AbstractContextManager[Any]]


def _to_the_services(sleep: Callable[[float], None]) -> AbstractContextManager[Any]:
    from forecaster.answers.nearby import open_door

    return open_door(sleep)


@dataclass(slots=True, kw_only=True)
class Garden:
    """The garden book behind the page.

    Parameters
    ----------
    path : Path or None
        The book's file; None for the user's own.
    now : callable
        Tells the time on this computer's clock.
    door : callable
        Opens the way to the public services, given what waits between tries.
    warm : bool
        Whether what the first answer needs is loaded; until then pages come without answers.
    known : dict
        Answers by what was asked and the state of the book, the latest last.
    lock : RLock
        One answer is worked out at a time.
    """

    path: Path | None
    now: Callable[[], datetime]
    door: Door = _to_the_services
    warm: bool = True
    known: OrderedDict[Hashable, Any] = field(default_factory=OrderedDict)
    lock: threading.RLock = field(default_factory=threading.RLock)

    def open(self, *, create: bool = False) -> kept.Book:
        """Open the book; whoever opens it closes it."""
        return kept.open_book(self.path, create=create)

    def exists(self) -> bool:
        """Say whether there is a book with a place in it."""
        path = kept.default_path() if self.path is None else self.path
        if not path.exists():
            return False
        with self.open() as book:
            return bool(kept.places(book))

    def once(self, book: kept.Book, what: Hashable, find: Callable[[], Found]) -> Found:
        """Return an answer, worked out anew only if the book has changed since."""
        key = (what, _state(book))
        with self.lock:
            if key in self.known:
                self.known.move_to_end(key)
                found: Found = self.known[key]
                return found
            found = find()
            self.known[key] = found
            while len(self.known) > KEPT_ANSWERS:
                self.known.popitem(last=False)
            return found

    def has(self, book: kept.Book, what: Hashable) -> bool:
        """Say whether an answer is ready."""
        return (what, _state(book)) in self.known

    def clock_at(self, place: kept.Place) -> datetime:
        """Return the time at a place: the example's stands still."""
        if place.station == EXAMPLE:
            day = date.fromisoformat(load_json("demo/garden.json")["today"])
            return datetime.combine(day, self.now().time())
        return self.now()

    def record(self, book: kept.Book, bed: str, issued: date | None = None) -> Record:
        """Return the record of a bed as it stands today, or as it stood on another day."""
        from forecaster.answers.several import Beds

        now = self.clock_at(kept.find_place(book, kept.find_bed(book, bed).place)).date()
        return Beds(now, issued).record(book, bed)

    def beds(self, book: kept.Book, now: date) -> Beds:
        """Return what beds share, as they stand on a day; it goes when the book changes."""
        from forecaster.answers.several import Beds

        return self.once(book, ("beds", now), lambda: Beds(now))

    def plan_key(self, place: kept.Place, bed: str) -> Hashable:
        """Return what the plan of a bed is kept under: it is of a day."""
        return ("plan", bed, self.clock_at(place).date())

    def whole(self, book: kept.Book, bed: str) -> WholePlan:
        """Return the plan of a bed's next changeover, with the answer it was made from."""
        from forecaster.answers.bed import keep_answer
        from forecaster.ground.errors import ForecasterError
        from forecaster.plan.several import plan_bed

        here = kept.find_bed(book, bed)
        place = kept.find_place(book, here.place)

        def find() -> WholePlan:
            shared = self.beds(book, self.clock_at(place).date())
            found = plan_bed(shared, book, here.name)
            record = found.record
            if record.held is not None:
                try:
                    keep_answer(record.held, found.answer, record.today, record.site.depth_m)
                except ForecasterError:
                    return replace(found, record=replace(record, notes=(*record.notes, UNKEPT)))
            return found

        return self.once(book, self.plan_key(place, here.name), find)


UNKEPT = "This forecast could not be kept in the book."


def scale_of(place: kept.Place) -> Show:
    """Return the scale that a bare number means at a place: °F in the United States."""
    return scale_at(place.latitude_deg, place.longitude_deg)


def _state(book: kept.Book) -> tuple[str, int, int, int]:
    """Return what changes when anything in a book does that an answer rests on."""
    with book.reading() as db:
        last, undone, count = db.execute(
            "SELECT ifnull(max(id), 0), count(undone_at), count(*) FROM batches"
        ).fetchone()
    return str(book.path), last, undone, count
