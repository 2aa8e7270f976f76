"""The whole book as a folder of CSV tables or one JSON file, and back."""

from __future__ import annotations

import csv
import json
import os
import shutil
import sqlite3
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from forecaster.book import schema, sums
from forecaster.book.copying import refuse_target
from forecaster.book.csv_cells import Kind, Value, checked, from_cell, to_cell
from forecaster.book.store import Book
from forecaster.book.trouble import told
from forecaster.ground.errors import FileError, ForecasterError, InputError

FORMAT = "crossday garden book"
MANIFEST = "manifest.json"
LARGEST_JSON = 2_000_000_000  # bytes
_ABOUT = (
    "All tables of a garden book. Temperatures in degrees Celsius, depths in metres, areas in "
    "square metres, rain in millimetres; time_s in seconds since 1970-01-01 00:00 of local "
    "standard time. An empty cell is a missing value. A text that could start a formula has one "
    "' in front, which reading the folder back takes away."
)

Columns = dict[str, Kind]


def export_book(book: Book, target: Path) -> dict[str, int]:
    """Write the whole book to a folder of CSV tables, or to one file if `target` ends in .json.

    It appears whole or not at all, and never over something that is there.

    Returns
    -------
    dict of str to int
        Rows by table.

    Raises
    ------
    InputError
        If the target is there already, or its folder is not.
    """
    target = target.absolute()
    refuse_target(target, "folder or file for the export")
    part = target.with_name(f"{target.name}.part{os.getpid()}")
    with told(target), book.reading() as db, _cleared(part):
        as_json = target.suffix.lower() == ".json"
        counts = _write_json(db, part) if as_json else _write_folder(db, part)
        part.rename(target)
    return counts


@contextmanager
def _cleared(part: Path) -> Iterator[None]:
    try:
        yield
    finally:
        if part.is_dir():
            shutil.rmtree(part, ignore_errors=True)
        part.unlink(missing_ok=True)


def columns_of(db: sqlite3.Connection, table: str) -> Columns:
    """Return the columns of a table with the kind of their values."""
    return {row[1]: row[2] for row in db.execute(f"PRAGMA table_info({table})")}


def _rows(db: sqlite3.Connection, table: str) -> Iterable[tuple[Value, ...]]:
    keys = [row[1] for row in db.execute(f"PRAGMA table_info({table})") if row[5]]
    return db.execute(f"SELECT * FROM {table} ORDER BY {', '.join(keys)}")  # noqa: S608


def _head(counts: dict[str, int]) -> dict[str, Any]:
    return {"format": FORMAT, "version": schema.VERSION, "about": _ABOUT, "rows": counts}


def _write_folder(db: sqlite3.Connection, folder: Path) -> dict[str, int]:
    folder.mkdir()
    counts = {}
    for table in schema.TABLES:
        with (folder / f"{table}.csv").open("w", encoding="utf-8", newline="") as handle:
            writer = csv.writer(handle, lineterminator="\r\n")
            writer.writerow(columns_of(db, table))
            counts[table] = 0
            for row in _rows(db, table):
                writer.writerow([to_cell(value) for value in row])
                counts[table] += 1
    text = json.dumps(_head(counts), indent=2)
    (folder / MANIFEST).write_text(text + "\n", encoding="utf-8")
    return counts


def _write_json(db: sqlite3.Connection, file: Path) -> dict[str, int]:
    counts: dict[str, int] = {}
    with file.open("w", encoding="utf-8", newline="\n") as handle:
        handle.write('{"tables": {')
        for at, table in enumerate(schema.TABLES):
            names = json.dumps(list(columns_of(db, table)))
            handle.write(f'{"," if at else ""}\n"{table}": {{"columns": {names}, "rows": [')
            counts[table] = 0
            for row in _rows(db, table):
                handle.write(("," if counts[table] else "") + "\n" + json.dumps(row))
                counts[table] += 1
            handle.write("]}")
        handle.write("},\n" + json.dumps(_head(counts))[1:] + "\n")
    return counts


def is_export(path: Path) -> bool:
    """Say whether a path looks like an exported book: its folder, or its JSON file."""
    try:
        if path.is_dir():
            return (path / MANIFEST).is_file()
        if path.suffix.lower() != ".json" or not path.is_file():
            return False
        with path.open("rb") as handle:
            return handle.read(12).startswith(b'{"tables"')
    except (OSError, ValueError):
        return False  # whoever reads it as a log will say what is wrong with it


def import_book(book: Book, source: Path) -> dict[str, int]:
    """Read an exported book back into a book that is still empty, whole or not at all.

    Returns
    -------
    dict of str to int
        Rows by table.

    Raises
    ------
    InputError
        If the book is not empty.
    FileError
        If the export is incomplete, of a later version, or holds what no book can.
    """
    with told(book.path), book.changing() as db:
        if any(db.execute(f"SELECT 1 FROM {t} LIMIT 1").fetchone() for t in schema.TABLES):  # noqa: S608
            raise InputError(
                f"{book.path}: the book is not empty, so {source} was not read into it; "
                "name a new one with --book"
            )
        read = _read_folder if source.is_dir() else _read_json
        counts, version = read(db, source)
        if version < schema.VERSION:
            schema.step_up(db, version)
        sums.seal_all(db)
        return counts


def _read_folder(db: sqlite3.Connection, folder: Path) -> tuple[dict[str, int], int]:
    try:
        head = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise FileError(f"not readable: {error}", path=folder / MANIFEST) from error
    version = _check_head(head, folder / MANIFEST)
    counts = {}
    for table in _tables(db, version):
        file = folder / f"{table}.csv"
        try:
            with file.open(encoding="utf-8-sig", newline="") as handle:
                counts[table] = _read_table(db, table, handle, file)
        except OSError as error:
            raise FileError(f"not readable: {error.strerror}", path=file) from error
        except (UnicodeDecodeError, csv.Error) as error:
            raise FileError(str(error), path=file, expected="CSV in UTF-8") from error
    _check_counts(head, counts, folder)
    return counts, version


def _tables(db: sqlite3.Connection, version: int) -> list[str]:
    """Return the tables of an export of a version, ready in the database to be filled."""
    if version < schema.VERSION:
        schema.start_over(db, version)
    return schema.tables_of(db)


def _read_table(db: sqlite3.Connection, table: str, lines: Iterable[str], file: Path) -> int:
    kinds = columns_of(db, table)
    csv.field_size_limit(min(sys.maxsize, 10_000_000))
    reader = csv.reader(lines, strict=True)
    _check_columns(next(reader, []), kinds, file)
    cells = list(kinds.values())
    count = 0
    for count, row in enumerate(reader, 1):  # noqa: B007
        line = reader.line_num
        if len(row) != len(cells):
            raise FileError(f"{len(row)} cells", path=file, line=line, expected=f"{len(cells)}")
        try:
            values = [from_cell(cell, kind) for cell, kind in zip(row, cells, strict=True)]
            _insert(db, table, values)
        except (ValueError, sqlite3.IntegrityError) as error:
            raise FileError(str(error), path=file, line=line, expected="a row of a book") from error
    return count


def _read_json(db: sqlite3.Connection, file: Path) -> tuple[dict[str, int], int]:
    try:
        if file.stat().st_size > LARGEST_JSON:
            raise FileError(f"{file.stat().st_size:,} bytes", path=file, expected="2 GB at most")
        whole = json.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise FileError(f"not readable: {error.strerror}", path=file) from error
    except (ValueError, RecursionError) as error:
        raise FileError(f"not JSON: {error}", path=file) from error
    version = _check_head(whole, file)
    counts = {}
    for table in _tables(db, version):
        kinds = columns_of(db, table)
        try:
            held = whole["tables"][table]
            columns, rows = held["columns"], held["rows"]
            _check_columns(columns, kinds, file)
            for row in rows:
                pairs = zip(row, kinds.values(), strict=True)
                _insert(db, table, [checked(value, kind) for value, kind in pairs])
        except ForecasterError:
            raise
        except (KeyError, TypeError, ValueError, sqlite3.IntegrityError) as error:
            raise FileError(
                f"table {table}: {error}", path=file, expected="the tables of a book"
            ) from error
        counts[table] = len(rows)
    _check_counts(whole, counts, file)
    return counts, version


def _insert(db: sqlite3.Connection, table: str, values: list[Value]) -> None:
    marks = ", ".join("?" * len(values))
    db.execute(f"INSERT INTO {table} VALUES ({marks})", values)  # noqa: S608 - names are ours


def _check_head(head: Any, path: Path) -> int:
    """Return the version that an export says it has, if it can be read."""
    if not isinstance(head, dict) or head.get("format") != FORMAT:
        raise FileError("not an exported garden book", path=path)
    version = head.get("version")
    if type(version) is not int or not 1 <= version <= schema.VERSION:
        raise FileError(
            f"an export of version {version!r:.20}",
            path=path,
            expected=f"version {schema.VERSION} or earlier",
            remedy="Read it with the crossday that wrote it, or install a newer one.",
        )
    return version


def _check_columns(seen: list[str], kinds: Columns, file: Path) -> None:
    if list(seen) != list(kinds):
        raise FileError(
            f"columns {', '.join(map(str, seen))!r:.200}",
            path=file,
            line=1 if file.suffix == ".csv" else None,
            expected=", ".join(kinds),
        )


def _check_counts(head: dict[str, Any], counts: dict[str, int], path: Path) -> None:
    said = head.get("rows")
    for table, count in counts.items():
        expected = said.get(table) if isinstance(said, dict) else None
        if expected != count:
            raise FileError(
                f"table {table} has {count} rows",
                path=path,
                expected=f"{expected!r:.20} as it says itself",
                remedy="It is not whole; nothing was read.",
            )
