"""What can still be read of a damaged book, written into a new one.

Works on a copy. How the tables are declared is put right first, since it is known; then every
table is read in stretches, each that fails cut in two until the rows that cannot be read are
alone. Rows that no book can hold are left out. Batches and beds that rows belong to and that are
lost are made anew under a name that says so. What is lost, and which batches no longer add up, is
returned and written down as a note in the new book.
"""

from __future__ import annotations

import heapq
import os
import shutil
import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from forecaster.book import schema, sums
from forecaster.book.copying import put_in_place, refuse_target, sweep
from forecaster.book.trouble import not_a_book, told
from forecaster.ground.errors import FileError, InputError
from forecaster.ground.plural import counted

_PARENTS = {"air_days": "places", "bed_changes": "beds", "shown_soil": "shown"}
"""Tables kept in the order of their parent's number, and the parent."""
_OF_BEDS = ("readings", "plantings", "wants", "outcomes")
_OF_BATCHES = ("places", "beds", "air_days", "notes", "costs", *_OF_BEDS)
_MOST_TRIES = 20_000  # a second or two for each table
_LIKELY_ROWS, _MOST_ROWS = 1 << 22, 1 << 40
_FIRST_DAY, _LAST_DAY = date(1700, 1, 1).toordinal(), date(2300, 1, 1).toordinal()

Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What came out of a damaged book.

    Parameters
    ----------
    rows : dict of str to int
        Rows by table in the new book.
    troubles : tuple of str
        What was lost or may be wrong, a sentence each; empty where the book was sound.
    """

    rows: dict[str, int]
    troubles: tuple[str, ...]


def salvage_book(source: Path, target: Path) -> Salvaged:
    """Write what can be read of a book into a new one; the damaged file stays as it is.

    Raises
    ------
    InputError
        If the target is there already, or its folder is not.
    FileError
        If the source is no book, or nothing of it can be read.
    """
    refuse_target(target, "file for what can be read")
    if not source.is_file():
        raise FileError("no such file", path=source, expected="a garden book")
    with told(target):
        sweep(target)
        stem = f"{target.name}.part{os.getpid()}"
        copy, part = target.with_name(f"{stem}.old"), target.with_name(stem)
        try:
            _copy(source, copy)
            with told(source), closing(_sound_tables(source, copy)) as old:
                found = _write(old, part, source)
            if not put_in_place(part, target):
                raise InputError(f"{target} is there already; name a new file")
        finally:
            for name in (copy, part):
                for end in ("", "-wal", "-shm", "-journal"):
                    name.with_name(name.name + end).unlink(missing_ok=True)
    return found


def _copy(source: Path, copy: Path) -> None:
    for end in ("", "-wal"):
        beside = source.with_name(source.name + end)
        if beside.is_file():
            shutil.copyfile(beside, copy.with_name(copy.name + end))


def _version(db: sqlite3.Connection) -> int:
    said = int(db.execute("PRAGMA user_version").fetchone()[0])
    return said if 1 <= said <= schema.VERSION else schema.VERSION


def _sound_tables(source: Path, copy: Path) -> sqlite3.Connection:
    """Return the copy, open, with its tables declared as they should be."""
    with copy.open("r+b") as handle:
        header = handle.read(16)
        if len(header) < 16:
            raise not_a_book(source)
    db = sqlite3.connect(copy, isolation_level=None)
    try:
        version = _version(db)
        db.execute("PRAGMA writable_schema = ON")
        if schema.text_of(db) == schema.expected_text(version):
            return db
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
            for step in range(version):
                schema.STEPS[step](fresh)
            right = fresh.execute(
                "SELECT type, name, tbl_name, sql, rowid FROM sqlite_master"
            ).fetchall()
        db.executemany(
            "UPDATE sqlite_master SET type = ?, name = ?, tbl_name = ?, sql = ? WHERE rowid = ?",
            right,
        )
    except BaseException:
        db.close()
        raise
    db.close()
    return sqlite3.connect(copy, isolation_level=None)


def _write(old: sqlite3.Connection, part: Path, source: Path) -> Salvaged:
    """Fill a new book with what can be read."""
    version = _version(old)
    lost: Counter[str] = Counter()
    with closing(sqlite3.connect(part, isolation_level=None)) as new:
        new.execute("BEGIN IMMEDIATE")
        for step in range(version):
            schema.STEPS[step](new)
        for table in schema.tables_of(new):
            _move(old, new, table, lost)
        troubles = [_said(table, many) for table, many in lost.items() if many]
        troubles += _doubtful(old, new) if version >= schema.FIRST_WITH_SUMS else []
        troubles += _parents(new)
        schema.step_up(new, version)
        rows = {
            table: new.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608
            for table in schema.TABLES
        }
        if not any(rows.values()):
            raise FileError("nothing of it can be read", path=source, remedy="Restore a backup.")
        _remark(new, source, troubles)
        sums.seal_all(new)
        new.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
        new.execute("COMMIT")
    return Salvaged(rows, tuple(troubles))


def _move(old: sqlite3.Connection, new: sqlite3.Connection, table: str, lost: Counter[str]) -> None:
    """Copy the rows of a table that can be read and that a book can hold."""
    columns = len(new.execute(f"PRAGMA table_info({table})").fetchall())
    insert = f"INSERT INTO {table} VALUES ({', '.join('?' * columns)})"  # noqa: S608
    for shelf in _shelves(old, new, table):
        for row in _readable(old, shelf, lost):
            try:
                new.execute(insert, row)
            except (sqlite3.Error, UnicodeEncodeError):
                lost[table] += 1


@dataclass(frozen=True, slots=True)
class _Shelf:
    """The rows of a table, or those of one parent in it, in the order of their key."""

    table: str
    key: str
    first: int
    last: int
    parent: Row = ()

    def query(self) -> str:
        """Return the question for a stretch of keys."""
        mine = f"{_key(self.table)} = ? AND " if self.parent else ""
        return (
            f"SELECT {self.key}, * FROM {self.table} "  # noqa: S608 - names are ours
            f"WHERE {mine}{self.key} BETWEEN ? AND ? ORDER BY {self.key}"
        )

    def told(self, key: int) -> int | str:
        """Return a key as the table has it."""
        return date.fromordinal(key).isoformat() if self.key == "day" else key

    def number(self, key: Any) -> int:
        """Return a key of the table as a number."""
        return date.fromisoformat(key).toordinal() if self.key == "day" else int(key)


def _shelves(old: sqlite3.Connection, new: sqlite3.Connection, table: str) -> list[_Shelf]:
    """Return a table in shelves: one, or one for each parent that was saved."""
    if table not in _PARENTS:
        return [_Shelf(table, "id", 1, _last(old, table))]
    found = new.execute(f"SELECT id FROM {_PARENTS[table]} ORDER BY id")  # noqa: S608
    parents = [tuple(row) for row in found.fetchall()]
    if table == "bed_changes":
        last = _last(new, "batches")
        return [_Shelf(table, "batch_id", 1, last, parent) for parent in parents]
    return [_Shelf(table, "day", _FIRST_DAY, _LAST_DAY, parent) for parent in parents]


def _last(db: sqlite3.Connection, table: str) -> int:
    """Return the number of the last row, or more where it cannot be read."""
    try:
        found = db.execute(f"SELECT max(id) FROM {table}").fetchone()[0]  # noqa: S608
        return min(int(found or 0), _MOST_ROWS)
    except (sqlite3.DatabaseError, ValueError, TypeError):
        return _LIKELY_ROWS


def _readable(db: sqlite3.Connection, shelf: _Shelf, lost: Counter[str]) -> Iterator[Row]:
    """Yield rows; a stretch that fails is cut in two, down to a single key."""
    query = shelf.query()
    # The longest stretch first, so that few rows are given up where there are too many to try.
    waiting = [(0, shelf.first, shelf.last)]
    for _ in range(_MOST_TRIES):
        if not waiting:
            return
        _, low, high = heapq.heappop(waiting)
        seen = False
        try:
            for key, *row in db.execute(query, (*shelf.parent, shelf.told(low), shelf.told(high))):
                yield tuple(row)
                low, seen = shelf.number(key), True
        except (sqlite3.DatabaseError, ValueError, TypeError):
            # What was read of the key `low` is told already; the key after it may be sound.
            low += seen
            if low < high:
                middle = (low + high) // 2
                heapq.heappush(waiting, (middle + 1 - high, middle + 1, high))
                heapq.heappush(waiting, (low - middle, low, middle))
            elif low == high:
                lost[shelf.table] += 1
    lost[shelf.table] += len(waiting)


def _said(table: str, many: int) -> str:
    return f"Could not be read, or were no entries: about {counted(many, 'row')} of {table}."


def _doubtful(old: sqlite3.Connection, new: sqlite3.Connection) -> list[str]:
    """Name the batches whose rows no longer add up to what they did."""
    try:
        kept = {(o, n, p): total for o, n, p, total in old.execute("SELECT * FROM sums")}
    except sqlite3.DatabaseError:
        return ["The sums of the rows are lost: whether values changed is not known."]
    sums.seal_all(new)
    found = {(o, n, p): total for o, n, p, total in new.execute("SELECT * FROM sums")}
    wrong = sorted({key[:2] for key in {*kept, *found} if kept.get(key) != found.get(key)})
    return [
        f"{'Batch' if owner == 'batch' else 'Forecast shown'} {number} is not whole or not as it "
        "was written: compare it with its file, or undo it and import that again."
        for owner, number in wrong
    ]  # fmt: skip


def _parents(new: sqlite3.Connection) -> list[str]:
    """Make anew the batches and beds that rows belong to; drop what belongs to a lost place."""
    troubles = []
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    made = new.execute(
        "INSERT INTO batches (id, kind, source, made_at) SELECT DISTINCT batch_id, "  # noqa: S608
        f"'salvage', 'a batch that was lost', ? FROM ({_union(new, 'batch_id', _OF_BATCHES)}) "
        "WHERE batch_id NOT IN (SELECT id FROM batches)",
        (now,),
    ).rowcount
    troubles += [f"{made} batches were lost and are made anew without their source."] * (made > 0)
    place = new.execute("SELECT id FROM places ORDER BY id LIMIT 1").fetchone()
    if place is not None:
        batch = new.execute("SELECT min(id) FROM batches").fetchone()[0]
        made = new.execute(
            "INSERT INTO beds (id, place_id, name, name_key, soil, cover, light, raised, depth_m, "  # noqa: S608
            "batch_id) SELECT DISTINCT bed_id, ?, 'lost bed ' || bed_id, 'lost bed ' || bed_id, "
            f"'loam', 'grass', 'sun', 0, 0.1016, ? FROM ({_union(new, 'bed_id', _OF_BEDS)}) "
            "WHERE bed_id NOT IN (SELECT id FROM beds)",
            (place[0], batch),
        ).rowcount
        word = f"Lost and made anew as 'lost bed': {counted(made, 'bed')}; say what they are."
        troubles += [word] * (made > 0)
    dropped = 0
    while orphans := new.execute("PRAGMA foreign_key_check").fetchall():
        for table, rowid, *_ in orphans:
            if rowid is not None:
                new.execute(f"DELETE FROM {table} WHERE rowid = ?", (rowid,))  # noqa: S608
            else:  # a table without row numbers: what has no parent goes
                key, parent = _key(table), _PARENTS[table]
                new.execute(
                    f"DELETE FROM {table} WHERE {key} NOT IN (SELECT id FROM {parent})"  # noqa: S608
                )
            dropped += 1
    if dropped:
        troubles.append(f"{counted(dropped, 'row')} belonged to what is lost, and went with it.")
    return troubles


def _key(table: str) -> str:
    return {"places": "place_id", "beds": "bed_id", "shown": "shown_id"}[_PARENTS[table]]


def _union(new: sqlite3.Connection, key: str, tables: tuple[str, ...]) -> str:
    there = schema.tables_of(new)
    return " UNION ".join(f"SELECT {key} FROM {table}" for table in tables if table in there)  # noqa: S608


def _remark(new: sqlite3.Connection, source: Path, troubles: list[str]) -> None:
    """Write down in the new book where it comes from and what may be wrong."""
    now = datetime.now(UTC)
    said = " ".join([f"Salvaged from {source.name!r}.", *troubles])[:3900]
    made = new.execute(
        "INSERT INTO batches (kind, source, made_at) VALUES ('salvage', ?, ?)",
        (source.name.encode("utf-8", "replace").decode(), now.strftime("%Y-%m-%dT%H:%M:%SZ")),
    )
    new.execute(
        "INSERT INTO notes (day, text, batch_id) VALUES (?, ?, ?)",
        (f"{now:%Y-%m-%d}", said.encode("utf-8", "replace").decode(), made.lastrowid),
    )
