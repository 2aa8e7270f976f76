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
    from pandas import DataFrame

    from forecaster.answers.record import Record
    from forecaster.answers.several import Beds
    from forecaster.plan import WholePlan
    from forecaster.words.phrases import Show

EXAMPLE = "example garden (invented)"
"""The station of a place whose air is the packaged example's; its days end with that."""
KEPT_ANSWERS = 60
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
    sound, touched, logs
        What is remembered of the book, so that it is not read whole again and again.
    known : dict
        Answers by what was asked and the state of the book, the latest last.
    lock : RLock
        One answer is worked out at a time.
    """

    path: Path | None
    now: Callable[[], datetime]
    door: Door = _to_the_services
    warm: bool = True
    sound: kept.Sound = field(default_factory=kept.Sound)
    touched: kept.Touched = field(default_factory=kept.Touched)
    logs: kept.KnownLogs = field(default_factory=kept.KnownLogs)
    known: OrderedDict[Hashable, Any] = field(default_factory=OrderedDict)
    lock: threading.RLock = field(default_factory=threading.RLock)

    def open(self, *, create: bool = False) -> kept.Book:
        """Open the book; whoever opens it closes it."""
        return kept.open_book(self.path, create=create, sound=self.sound)

    def exists(self) -> bool:
        """Say whether there is a book with a place in it."""
        path = kept.default_path() if self.path is None else self.path
        if not path.exists():
            return False
        with self.open() as book:
            return bool(kept.places(book))

    def once(self, book: kept.Book, bed: str, what: Hashable, find: Callable[[], Found]) -> Found:
        """Return an answer about a bed, worked out anew only if what it rests on has changed."""
        return self._kept((what, self.touched.state(book, bed)), find)

    def _kept(self, key: Hashable, find: Callable[[], Found]) -> Found:
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

    def has(self, book: kept.Book, bed: str, what: Hashable) -> bool:
        """Say whether an answer about a bed is ready."""
        return (what, self.touched.state(book, bed)) in self.known

    def clock_at(self, place: kept.Place) -> datetime:
        """Return the time at a place: the example's stands still."""
        if place.station == EXAMPLE:
            day = date.fromisoformat(load_json("demo/garden.json")["today"])
            return datetime.combine(day, self.now().time())
        return self.now()

    def record(self, book: kept.Book, bed: str, issued: date | None = None) -> Record:
        """Return the record of a bed as it stands today, or as it stood on another day."""
        from forecaster.answers.several import Beds

        place = kept.find_place(book, kept.find_bed(book, bed).place)
        now = self.clock_at(place).date()
        beds = self.beds(book, place) if issued is None else Beds(now, issued, logs=self.logs)
        return beds.record(book, bed)

    def beds(self, book: kept.Book, place: kept.Place) -> Beds:
        """Return what the beds of a place share today; it goes when the place's air changes."""
        from forecaster.answers.several import Beds

        now = self.clock_at(place).date()
        key = ("beds", now, self.touched.place_state(book, place.name))
        return self._kept(key, lambda: Beds(now, logs=self.logs))

    def air(self, book: kept.Book, place: kept.Place) -> DataFrame:
        """Return the air of a place, read anew only if it has changed since."""
        return self.beds(book, place).air(book, place.name)

    def log(self, book: kept.Book, bed: str) -> DataFrame:
        """Return the readings of a bed; only new ones are read."""
        with self.lock:
            return kept.bed_readings(book, bed, self.logs)

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
            found = plan_bed(self.beds(book, place), book, here.name)
            record = found.record
            if record.held is not None:
                try:
                    keep_answer(record.held, found.answer, record.today, record.site.depth_m, book)
                except ForecasterError:
                    return replace(found, record=replace(record, notes=(*record.notes, UNKEPT)))
            return found

        return self.once(book, here.name, self.plan_key(place, here.name), find)


UNKEPT = "This forecast could not be kept in the book."


def scale_of(place: kept.Place) -> Show:
    """Return the scale that a bare number means at a place: °F in the United States."""
    return scale_at(place.latitude_deg, place.longitude_deg)
