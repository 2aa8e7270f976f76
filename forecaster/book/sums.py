"""What the rows of a batch add up to: damage that SQLite's own check cannot see.

A page of the file may change on a failing disk and still be a sound page with other numbers in
it. So every batch, and every forecast shown, keeps the sum of its rows; opening a book adds all
rows up once more. A row counts as a whole number made of its columns: of a measure its
millionths, of a text its CRC-32, each times a number of its own. Sums have no order, and a batch
taken back takes its sum away. (A row of readings is about 2^34: some 2^28 of them can be added.)
"""

from __future__ import annotations

import sqlite3
import zlib
from dataclasses import dataclass

_TIMES = (3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67)

_QUICK = {
    ("readings", "span"): "((span = 'instant') - (span = 'day'))",
    ("air_days", "day"): "CAST(replace(day, '-', '') AS INTEGER)",
    ("shown_soil", "day"): "CAST(replace(day, '-', '') AS INTEGER)",
}
"""Texts of the long tables that SQLite can count without asking us for each row."""


@dataclass(frozen=True, slots=True)
class Part:
    """A table whose rows are summed for their owner: which column names the owner."""

    table: str
    owner: str
    key: str


PARTS = (
    Part("batches", "batch", "id"),
    *(
        Part(table, "batch", "batch_id")
        for table in (
            "places", "beds", "readings", "air_days", "plantings", "notes", "bed_changes",
            "wants", "outcomes", "costs",
        )
    ),
    Part("shown", "shown", "id"),
    Part("shown_windows", "shown", "shown_id"),
    Part("shown_soil", "shown", "shown_id"),
)  # fmt: skip


def _parts(db: sqlite3.Connection) -> list[Part]:
    """Return the parts that a book of its version has."""
    there = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    return [part for part in PARTS if part.table in there]


def _crc(value: object) -> int:
    return zlib.crc32(str(value).encode("utf-8", "surrogatepass"))


def _as_number(db: sqlite3.Connection, table: str) -> str:
    """Return the expression that makes a row of a table a number."""
    terms = []
    columns = db.execute(f"PRAGMA table_info({table})").fetchall()
    for at, (_, name, kind, required, _, key) in enumerate(columns):
        if (table, name) in _QUICK:
            value = _QUICK[table, name]
        elif kind == "REAL":
            value = f"CAST({name} * 1000000 AS INTEGER)"
        else:
            value = f"crossday_crc({name})" if kind == "TEXT" else name
        term = f"{value} * {_TIMES[at]}"
        terms.append(term if required or key else f"ifnull({term}, {at + 1})")
    return " + ".join(terms)


def _prepared(db: sqlite3.Connection) -> sqlite3.Connection:
    db.create_function("crossday_crc", 1, _crc, deterministic=True)
    return db


def seal(db: sqlite3.Connection, owner: str, number: int, since: dict[str, int]) -> None:
    """Write down what the rows of an owner add up to.

    Parameters
    ----------
    db : Connection
        Within the transaction that wrote the rows.
    owner : {"batch", "shown"}
    number : int
    since : dict of str to int
        By table, a row number below all rows of this owner, so that old ones are not read again.
    """
    _prepared(db)
    db.execute("DELETE FROM sums WHERE owner = ? AND number = ?", (owner, number))
    for part in _parts(db):
        if part.owner != owner:
            continue
        later = f" AND id > {since[part.table]:d}" if part.table in since else ""
        db.execute(
            "INSERT INTO sums SELECT ?, ?, ?, total FROM ("  # noqa: S608 - names are ours
            f"SELECT sum({_as_number(db, part.table)}) AS total FROM {part.table} "
            f"WHERE {part.key} = ?{later}) WHERE total IS NOT NULL",
            (owner, number, part.table, number),
        )


def last_rows(db: sqlite3.Connection) -> dict[str, int]:
    """Return the number of the last row of the long table of readings."""
    return {"readings": db.execute("SELECT ifnull(max(id), 0) FROM readings").fetchone()[0]}


def seal_all(db: sqlite3.Connection) -> None:
    """Write down every sum anew, as after a migration or for a book read back from an export."""
    _prepared(db)
    db.execute("DELETE FROM sums")
    for part in _parts(db):
        db.execute(
            "INSERT INTO sums "  # noqa: S608 - names are ours
            f"SELECT '{part.owner}', {part.key}, '{part.table}', "
            f"sum({_as_number(db, part.table)}) FROM {part.table} "
            f"WHERE {part.key} IS NOT NULL GROUP BY {part.key}"
        )


def drop_lost(db: sqlite3.Connection) -> None:
    """Drop the sums of forecasts that went with their bed."""
    db.execute("DELETE FROM sums WHERE owner = 'shown' AND number NOT IN (SELECT id FROM shown)")


def wrong(db: sqlite3.Connection) -> str:
    """Say in words which values are not as they were written, "" if all are."""
    try:
        kept = dict(_prepared(db).execute("SELECT part, sum(total) FROM sums GROUP BY part"))
        for part in _parts(db):
            found = db.execute(
                f"SELECT sum({_as_number(db, part.table)}) FROM {part.table} NOT INDEXED"  # noqa: S608
            ).fetchone()[0]
            if kept.pop(part.table, None) != found:
                return f"values in {part.table} are not those that were written{_whose(db, part)}"
    except sqlite3.OperationalError as error:
        # A text that is none, or a sum that no rows of ours reach.
        if getattr(error, "sqlite_errorname", "") != "SQLITE_ERROR":
            raise
        return f"its rows cannot be added up ({error})"
    return f"there are sums of {next(iter(kept))!r:.30}, which no book has" if kept else ""


def index_wrong(db: sqlite3.Connection) -> bool:
    """Whether the index of the readings leads to other rows than the table has."""
    total = "SELECT sum(id + time_s) FROM readings"
    by_index = db.execute(f"{total} INDEXED BY readings_once").fetchone()
    found: bool = by_index != db.execute(f"{total} NOT INDEXED").fetchone()
    return found


def _whose(db: sqlite3.Connection, part: Part) -> str:
    """Name the first batch whose rows do not add up, for a person to look for it."""
    row = db.execute(
        f"SELECT number FROM (SELECT {part.key} AS number, "  # noqa: S608 - names are ours
        f"sum({_as_number(db, part.table)}) AS found FROM {part.table} GROUP BY {part.key}) "
        "LEFT JOIN sums USING (number) WHERE owner = ? AND part = ? AND found IS NOT total LIMIT 1",
        (part.owner, part.table),
    ).fetchone()
    return "" if row is None else f" ({part.owner} {row[0]})"
