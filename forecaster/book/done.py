"""Tasks that are done, or moved to another day: notes of the diary, in batches of their own kinds.

So it is read by people, exported, backed up and undone as every other entry, and needs no table.
"""

from __future__ import annotations

import re
from datetime import date

from forecaster.book.diary import Note, add_note
from forecaster.book.places import bed_number, find_bed
from forecaster.book.store import Batch, Book
from forecaster.ground.errors import InputError

KIND, MOVED = "done", "moved"
_KEY = re.compile(r"\[([^\[\]]+)\]$")


def add_done(batch: Batch, bed: str, key: str, title: str, day: date) -> None:
    """Write down that a task of a bed's plan was done on a day, in a batch of the kind `KIND`."""
    add_note(batch, Note(day, f"done: {title} [{_checked(key)}]", bed))


def add_moved(batch: Batch, bed: str, key: str, title: str, day: date) -> None:
    """Write down the day to which a task was moved, in a batch of the kind `MOVED`."""
    add_note(batch, Note(day, f"moved here: {title} [{_checked(key)}]", bed))


def _checked(key: str) -> str:
    if not re.fullmatch(r"[\w./ -]{1,120}", key):
        raise InputError(f"{key!r:.40} is no task; expected one as 2026-autumn/order")
    return key


def done_tasks(book: Book, bed: str) -> dict[str, date]:
    """Return the tasks of a bed that were ticked, by key, with their days."""
    return {key: day for key, day, _ in _ticks(book, bed, KIND)}


def moved_tasks(book: Book, bed: str) -> dict[str, date]:
    """Return the tasks of a bed that were moved, by key, with the day each was last moved to."""
    return {key: day for key, day, _ in _ticks(book, bed, MOVED)}


def moved_batches(book: Book, bed: str, key: str) -> list[int]:
    """Return the batches that moved a task, the last first; undone, it has its own day again.

    Raises
    ------
    InputError
        If it was not moved.
    """
    found = [number for known, _, number in _ticks(book, bed, MOVED) if known == key]
    if not found:
        raise InputError("that task was not moved")
    return found[::-1]


def done_batch(book: Book, bed: str, key: str) -> int:
    """Return the batch that ticked a task, by which it is undone.

    Raises
    ------
    InputError
        If it was not ticked.
    """
    found = [number for known, _, number in _ticks(book, bed, KIND) if known == key]
    if not found:
        raise InputError("that task was not ticked")
    return found[-1]


def _ticks(book: Book, bed: str, kind: str) -> list[tuple[str, date, int]]:
    here = find_bed(book, bed)
    with book.reading() as db:
        rows = db.execute(
            "SELECT text, day, batch_id FROM notes JOIN batches ON batches.id = batch_id "
            "WHERE kind = ? AND bed_id = ? ORDER BY notes.id",
            (kind, bed_number(db, here.name)),
        ).fetchall()
    found = [(_KEY.search(text), day, number) for text, day, number in rows]
    return [(key[1], date.fromisoformat(day), number) for key, day, number in found if key]
