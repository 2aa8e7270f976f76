"""Plantings, removals and notes; batches and their undoing."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import date
from typing import Literal

from forecaster.book import sums
from forecaster.book.places import bed_number, check_text, find_bed
from forecaster.book.store import Batch, Book
from forecaster.ground.errors import InputError

Action = Literal["planted", "pulled"]

_ENTRIES = (
    "readings", "air_days", "plantings", "notes", "bed_changes", "wants", "outcomes", "costs",
)  # fmt: skip
_OF_A_BATCH = (*_ENTRIES, "beds", "places")
_NEEDED = {
    "beds": "SELECT bed_id FROM readings UNION SELECT bed_id FROM plantings "
    "UNION SELECT bed_id FROM notes WHERE bed_id IS NOT NULL UNION SELECT bed_id FROM bed_changes "
    "UNION SELECT bed_id FROM wants UNION SELECT bed_id FROM outcomes "
    "UNION SELECT bed_id FROM costs WHERE bed_id IS NOT NULL",
    "places": "SELECT place_id FROM beds UNION SELECT place_id FROM air_days "
    "UNION SELECT place_id FROM notes WHERE place_id IS NOT NULL",
}
"""Places and beds that entries belong to: they stay when the batch that made them is undone."""
_SAID = {
    "readings": "reading", "air_days": "air day", "plantings": "planting or removal",
    "notes": "note", "bed_changes": "bed setting", "wants": "thing wanted",
    "outcomes": "outcome", "costs": "cost", "beds": "bed", "places": "place",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Planting:
    """Something put into a bed, or taken out: what, and how many if that was said."""

    bed: str
    day: date
    action: Action
    what: str
    how_many: int | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """A remark on a bed, or on the garden."""

    day: date
    text: str
    bed: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchLine:
    """A batch as `batches` lists it; `rows` counts by kind, `undone_at` is None while it counts."""

    number: int
    kind: str
    source: str
    made_at: str
    undone_at: str | None
    rows: dict[str, int]


def add_planting(batch: Batch, planting: Planting) -> None:
    """Write down that something was planted or pulled."""
    check_text(planting.what, "plant's name")
    if not planting.what.strip():
        raise InputError("what was it? Expected a name, as 'lettuce'")
    if planting.how_many is not None and planting.how_many < 1:
        raise InputError(f"count is {planting.how_many}; expected 1 or more")
    batch.db.execute(
        "INSERT INTO plantings (bed_id, day, action, what, how_many, batch_id) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        (
            bed_number(batch.db, planting.bed),
            planting.day.isoformat(),
            planting.action,
            planting.what,
            planting.how_many,
            batch.number,
        ),
    )
    batch.rows += 1


def add_note(batch: Batch, note: Note) -> None:
    """Write a note down."""
    check_text(note.text, "note")
    if not note.text.strip():
        raise InputError("the note is empty; expected a few words")
    bed = None if note.bed is None else bed_number(batch.db, note.bed)
    batch.db.execute(
        "INSERT INTO notes (bed_id, day, text, batch_id) VALUES (?, ?, ?, ?)",
        (bed, note.day.isoformat(), note.text, batch.number),
    )
    batch.rows += 1


def plantings(book: Book, bed: str | None = None) -> list[Planting]:
    """Return plantings and removals in order of their days: a bed's, or all."""
    only = None if bed is None else find_bed(book, bed).name
    with book.reading() as db:
        rows = db.execute(
            "SELECT beds.name, day, action, what, how_many FROM plantings "
            "JOIN beds ON beds.id = bed_id ORDER BY day, plantings.id"
        ).fetchall()
    return [
        Planting(name, date.fromisoformat(day), action, what, how_many)
        for name, day, action, what, how_many in rows
        if only in (None, name)
    ]


def notes(book: Book, bed: str | None = None) -> list[Note]:
    """Return notes in order of their days: a bed's, or all."""
    only = None if bed is None else find_bed(book, bed).name
    with book.reading() as db:
        rows = db.execute(
            "SELECT day, text, beds.name FROM notes LEFT JOIN beds ON beds.id = bed_id "
            "ORDER BY day, notes.id"
        ).fetchall()
    return [Note(date.fromisoformat(day), text, name) for day, text, name in rows
            if only in (None, name)]  # fmt: skip


def batches(book: Book, last: int | None = None) -> list[BatchLine]:
    """Return the last batches, or all, in the order in which they were made."""
    with book.reading() as db:
        rows = db.execute(
            "SELECT id, kind, source, made_at, undone_at FROM batches ORDER BY id DESC LIMIT ?",
            (-1 if last is None else last,),
        ).fetchall()
        counts = _rows(db, rows[-1][0]) if rows else {}
    return [_line(row, counts.get(row[0], {})) for row in rows[::-1]]


def _line(row: tuple[int, str, str, str, str | None], counts: dict[str, int]) -> BatchLine:
    number, kind, source, made_at, undone_at = row
    return BatchLine(
        number=number,
        kind=kind,
        source=source,
        made_at=made_at,
        undone_at=undone_at,
        rows=counts,
    )


def _rows(db: sqlite3.Connection, first: int, last: int | None = None) -> dict[int, dict[str, int]]:
    """Count what each batch from a first to a last one holds, by kind; each table is read once."""
    counts: dict[int, dict[str, int]] = {}
    for table in _OF_A_BATCH:
        for batch, count in db.execute(
            f"SELECT batch_id, count(*) FROM {table} "  # noqa: S608 - names are ours
            "WHERE batch_id BETWEEN ? AND coalesce(?, batch_id) GROUP BY batch_id",
            (first, last),
        ):
            counts.setdefault(batch, {})[_SAID[table]] = count
    return counts


@dataclass(frozen=True, slots=True)
class Undone:
    """What `undo` took back.

    Parameters
    ----------
    batch : BatchLine
        The batch as it was.
    kept : int
        Places and beds of it that stay, because entries of other batches belong to them.
    later : bool
        Whether later batches still count. Rows that a later file held too are then gone with
        this one, and come back when that file is imported again.
    """

    batch: BatchLine
    kept: int
    later: bool


def undo(book: Book, batch: int | None = None) -> Undone:
    """Take a batch back as one: the last that still counts, or the one numbered.

    Air days that it had replaced count again. Forecasts shown for a bed go with the bed.

    Raises
    ------
    InputError
        If there is no such batch, it was undone already, or it made only a place or bed that
        others need.
    """
    with book.changing() as db:
        line = _to_undo(db, batch)
        for table in _ENTRIES:
            db.execute(
                f"DELETE FROM {table} WHERE batch_id = ?",  # noqa: S608 - names are ours
                (line.number,),
            )
        kept = 0
        for table, needed in _NEEDED.items():
            db.execute(
                f"DELETE FROM {table} WHERE batch_id = ? AND id NOT IN ({needed})",  # noqa: S608
                (line.number,),
            )
            left = db.execute(f"SELECT count(*) FROM {table} WHERE batch_id = ?", (line.number,))  # noqa: S608
            kept += left.fetchone()[0]
        if kept and kept == sum(line.rows.values()):
            raise InputError(
                f"batch {line.number} made a place or bed that later entries belong to; "
                "undo those first (crossday book show lists them)"
            )
        db.execute("UPDATE batches SET undone_at = ? WHERE id = ?", (book.stamp(), line.number))
        sums.seal(db, "batch", line.number, {})
        sums.drop_lost(db)
        later = db.execute(
            "SELECT 1 FROM batches WHERE id > ? AND undone_at IS NULL LIMIT 1", (line.number,)
        ).fetchone()
    return Undone(line, kept, later is not None)


def _to_undo(db: sqlite3.Connection, batch: int | None) -> BatchLine:
    """Return the batch to undo, if it still counts."""
    columns = "SELECT id, kind, source, made_at, undone_at FROM batches "
    if batch is None:
        found = db.execute(columns + "WHERE undone_at IS NULL ORDER BY id DESC LIMIT 1").fetchone()
    else:
        found = db.execute(columns + "WHERE id = ?", (batch,)).fetchone()
    if found is None:
        what = "nothing to undo" if batch is None else f"no batch {batch}"
        raise InputError(f"the book has {what}; crossday book show lists its batches")
    if found[4] is not None:
        raise InputError(f"batch {found[0]} was undone already, at {found[4]}")
    return _line(found, _rows(db, found[0], found[0]).get(found[0], {}))
