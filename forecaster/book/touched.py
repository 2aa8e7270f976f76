"""Which beds and places a batch is about: what an answer about a bed rests on, and what not."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field

from forecaster.book.places import bed_number, find_bed, place_number
from forecaster.book.store import Book
from forecaster.book.sums import PARTS

Ground = tuple[str, int]
"""A column that names a bed or a place, and its number."""
GROUND = ("bed_id", "place_id")


@dataclass(slots=True)
class Touched:
    """What each batch of a book is about, found once: a batch's rows never change.

    Never ask within a batch: one that is given up leaves its number to another.

    Parameters
    ----------
    identity : (int, int)
        Of the book's file: another one is read from its beginning.
    last : int
        The latest batch looked at.
    about : dict of int to set of Ground
        By batch. One that is about no bed and no place is about all.
    lock : Lock
    """

    identity: tuple[int, int] = (0, 0)
    last: int = 0
    about: dict[int, set[Ground]] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def state(self, book: Book, bed: str) -> Hashable:
        """Return what changes when anything in a book does that an answer about a bed rests on.

        Raises
        ------
        InputError
            If there is no such bed.
        """
        here = find_bed(book, bed)
        with book.reading() as db:
            there, place = bed_number(db, here.name), place_number(db, here.place)
            return self._state(book, db, {("bed_id", there), ("place_id", place)})

    def place_state(self, book: Book, place: str) -> Hashable:
        """Return the same of what is about a place and no bed: its air.

        Raises
        ------
        InputError
            If there is no such place.
        """
        with book.reading() as db:
            return self._state(book, db, {("place_id", place_number(db, place))})

    def _state(self, book: Book, db: sqlite3.Connection, ground: set[Ground]) -> Hashable:
        with self.lock:
            self._look(book, db)
            live = db.execute("SELECT id FROM batches WHERE undone_at IS NULL").fetchall()
            mine = tuple(number for (number,) in live if self._of(number, ground))
        return str(book.path), self.identity, mine

    def _of(self, batch: int, ground: set[Ground]) -> bool:
        about = self.about.get(batch)
        return not about or not about.isdisjoint(ground)

    def _look(self, book: Book, db: sqlite3.Connection) -> None:
        """Look at the batches that came since."""
        if book.identity != self.identity:
            self.identity, self.last = book.identity, 0
            self.about.clear()
        latest = db.execute("SELECT ifnull(max(id), 0) FROM batches").fetchone()[0]
        if latest == self.last:
            return
        for part in PARTS:
            if part.key == "batch_id":
                for batch, ground in _about(db, part.table, self.last).items():
                    self.about.setdefault(batch, set()).update(ground)
        self.last = latest


def _about(db: sqlite3.Connection, table: str, after: int) -> dict[int, set[Ground]]:
    """Return what the later batches of a table are about."""
    columns = {row[1] for row in db.execute(f"PRAGMA table_info({table})")}
    named = [name for name in GROUND if name in columns]
    picked = list(named)
    if table in {"beds", "places"}:  # the row is the bed, or the place, itself
        named, picked = [f"{table[:-1]}_id"], ["id"]
    found: dict[int, set[Ground]] = {}
    for batch, *numbers in _rows(db, table, ", ".join(["batch_id", *picked]), after):
        ground = {(name, n) for name, n in zip(named, numbers, strict=True) if n is not None}
        found.setdefault(batch, set()).update(ground)
    return found


def _rows(db: sqlite3.Connection, table: str, picked: str, after: int) -> Iterator[tuple[int, ...]]:
    """Yield the rows of later batches; those of the long table stand last, so all others stay."""
    if table != "readings" or after == 0:
        yield from db.execute(
            f"SELECT DISTINCT {picked} FROM {table} WHERE batch_id > ?",  # noqa: S608
            (after,),
        )
        return
    for row in db.execute(f"SELECT {picked} FROM {table} ORDER BY id DESC"):  # noqa: S608
        if row[0] <= after:
            return
        yield row
