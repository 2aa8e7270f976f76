"""A text → a table of cells with the line each row stands on.

Clean tables go through one call of `pandas.read_csv`. Where that cannot give every line its
row (uneven rows, stray quotes), the lines are parted one by one and each is accounted for.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools
from forecaster.ground.errors import FileError
from forecaster.ingest.account import Column
from forecaster.ingest.checks.tally import Tally
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.cells import MISSING_WORDS, Numbers
from forecaster.ingest.text.columns import Meaning
from forecaster.ingest.text.dialect import (
    GAPS,
    SPACES,
    Dialect,
    is_blank,
    is_comment,
    is_missing,
    sniff,
    split,
)
from forecaster.ingest.text.grid import Grid, grid_of
from forecaster.ingest.text.settle import settle
from forecaster.ingest.text.shapes import Cells, Texts
from forecaster.ingest.text.strict_csv import read_strictly
from forecaster.ingest.text.told import NOTHING_TOLD, Told

_TEXT_ROLES = {col.DATE, col.TIME, col.MONTH, col.STATION, col.NAME, col.PROBE}


_DATED = {
    col.DATE: "date", col.TIME: "time of day", col.YEAR: "year", col.MONTH: "month",
    col.DAY: "day", col.DOY: "day of the year", col.HOUR: "hour", col.MINUTE: "minute",
    col.UNIT: "unit of the temperatures",
}  # fmt: skip


@dataclass(slots=True, kw_only=True)
class Table:
    """Cells of one file, the meaning of each column, and the count of its rows."""

    path: str
    dialect: Dialect
    meanings: list[Meaning]
    cells: dict[int, pd.Series]
    tally: Tally
    source: Source
    bytes_of: dict[int, NDArray[np.bytes_]]
    taken: dict[int, str] = field(default_factory=dict)
    left: dict[int, str] = field(default_factory=dict)

    def find(self, *roles: str) -> list[int]:
        """Return the columns with one of these roles."""
        return [k for k, meaning in enumerate(self.meanings) if meaning.role in roles]

    def heading(self, column: int) -> str:
        """Return the heading of a column as written, or its number."""
        headings = self.dialect.headings
        return headings[column] if column < len(headings) else f"column {column + 1}"

    def uses(self) -> tuple[Column, ...]:
        """Return of every column what it was taken as, or why it was left."""
        found = []
        for k, meaning in enumerate(self.meanings):
            name = self.heading(k).strip() or f"column {k + 1}"
            taken = self.taken.get(k, _DATED.get(meaning.role, ""))
            why = "" if taken else self.left.get(k, meaning.what) or "not needed"
            found.append(Column(name, taken, why))
        return tuple(found)

    def texts(self, column: int) -> Texts:
        """Return a column's cells as text without blanks around them; "" where missing."""
        if column in self.bytes_of:
            cells = self.bytes_of[column]
            found = [c.decode("utf-8", "replace").strip() for c in cells]
            return np.array(["" if is_missing(c) else c for c in found], dtype=object)
        return texts_of(self.cells[column])

    def raw(self, column: int) -> Cells:
        """Return a column's cells as bytes where they were kept so, else as text."""
        return self.bytes_of[column] if column in self.bytes_of else self.texts(column)


def texts_of(column: pd.Series) -> Texts:
    """Return cells as text; "" where missing."""
    found = column.to_numpy(dtype=object, copy=True)
    found[column.isna().to_numpy()] = ""
    return found


_REMARKS = re.compile(rb"(?m)^[ \t]*(?:#|//|%).*$|[ \t]#.*$")
_UNIT_LETTER = re.compile(r"(?:°|º|deg(?:rees?)?\.?)?\s*([cfk])(?:elsius|ahrenheit|elvin)?\.?")
Wanted = Callable[[int, Meaning], bool]
MOST_COLUMNS = 2_000


def read_table(
    source: Source,
    wanted: Wanted,
    *,
    dialect: Dialect | None = None,
    verbatim: frozenset[int] = frozenset(),
    told: Told = NOTHING_TOLD,
) -> Table:
    """Read a text as a table.

    Parameters
    ----------
    source : Source
        The text.
    wanted : callable
        Says of a column, by its place and meaning, whether its cells are needed.
    dialect : Dialect, optional
        The layout, where it is known already.
    verbatim : set of int
        Columns in which no word means "missing": an ``M`` there is a flag.
    told : Told
        What the user says of some columns.
    """
    dialect = dialect or sniff(source)
    if (width := max(map(len, dialect.sample), default=0)) > MOST_COLUMNS:
        raise FileError(
            f"lines of {width:,} cells",
            path=source.path,
            expected=f"a table of at most {MOST_COLUMNS:,} columns",
            remedy="Keep the columns of the date and the temperatures.",
        )
    dialect, meanings = settle(dialect, told, source.path)
    keep = [k for k, meaning in enumerate(meanings) if wanted(k, meaning)]
    columns = _Columns(dialect, meanings, keep, verbatim)
    cells, bytes_of, tally = _load(source, columns)
    return Table(
        path=source.path,
        dialect=dialect,
        meanings=meanings,
        cells=cells,
        tally=tally,
        source=source,
        bytes_of=bytes_of,
    )


@dataclass(frozen=True, slots=True)
class _Columns:
    """Which columns to load and how."""

    dialect: Dialect
    meanings: list[Meaning]
    keep: list[int]
    verbatim: frozenset[int]

    def is_text(self, place: int) -> bool:
        """Whether a column stays text whatever it holds."""
        return place in self.verbatim or self.meanings[place].role in _TEXT_ROLES


_Loaded = tuple[dict[int, pd.Series], dict[int, NDArray[np.bytes_]], Tally]


def _load(source: Source, columns: _Columns) -> _Loaded:
    """Load the columns kept, by the fast way if every line becomes one row."""
    start = _skip(source.data, columns.dialect.first_line - 1)
    body = (source.data[start:] if start else source.data).rstrip(b"\n")
    if b"#" in body or b"//" in body or b"%" in body:
        body = _REMARKS.sub(b"", body)
    if not body or columns.dialect.delimiter == GAPS:
        return _slow(source, columns)
    first = body.split(b"\n", 1)[0].decode("utf-8", "replace")
    width = max(len(columns.meanings), len(split(first, columns.dialect.delimiter)))
    grid = grid_of(body, columns.dialect.delimiter, width)
    bytes_of = {
        k: grid.column(k)
        for k in columns.keep
        if grid and columns.meanings[k].role in (col.DATE, col.TIME) and k not in columns.verbatim
    }
    others = [k for k in columns.keep if k not in bytes_of]
    frame = _fast(body, columns, width, others, grid)
    if frame is None:
        return _slow(source, columns)
    lines = np.arange(len(frame), dtype=np.int64) + columns.dialect.first_line
    nothing = frame.isna().all(axis=1).to_numpy(dtype=np.bool_, copy=True)
    for cells in bytes_of.values():
        nothing &= np.char.str_len(cells) == 0 if nothing.any() else nothing
    if nothing.any():
        stay = ~_blank_lines(body, nothing)
        frame, lines = frame[stay].reset_index(drop=True), lines[stay]
        bytes_of = {k: cells[stay] for k, cells in bytes_of.items()}
    return {k: frame[k] for k in others}, bytes_of, Tally(lines, source.path)


def _blank_lines(body: bytes, nothing: Bools) -> Bools:
    """Mark lines without any cell: they are no rows."""
    raw = body.split(b"\n")
    found = np.zeros(len(nothing), dtype=np.bool_)
    for row in np.flatnonzero(nothing):
        found[row] = is_blank(raw[row].decode("utf-8", "replace"))
    return found


def _skip(data: bytes, lines: int) -> int:
    """Return where the line after the first `lines` begins."""
    start = 0
    for _ in range(lines):
        start = data.find(b"\n", start) + 1
        if not start:
            return len(data)
    return start


def _fast(
    body: bytes, columns: _Columns, width: int, keep: list[int], grid: Grid | None
) -> pd.DataFrame | None:
    """Read with `pandas.read_csv`; None where lines and rows would not match.

    Of an even table only the columns kept are read; otherwise all, so that rows that are too long
    are noticed.
    """
    if grid and not keep:
        return pd.DataFrame(index=range(grid.rows))
    if columns.dialect.delimiter == SPACES and b'"' in body:
        return None
    words = list(MISSING_WORDS)
    types: dict[Hashable, Any] = {k: str for k in keep if columns.is_text(k)}
    missing: Any = {k: [""] if k in columns.verbatim else words for k in range(width)}
    try:
        frame = read_strictly(
            body,
            list(range(width)),
            sep=columns.dialect.delimiter,
            usecols=keep if grid else None,
            dtype=types,
            na_values=missing,
            keep_default_na=False,
            skipinitialspace=True,
            decimal=columns.dialect.decimal,
            low_memory=False,
        )
    except ValueError:
        return None
    extras = [] if grid else list(range(len(columns.meanings), width))
    if extras and frame[extras].notna().to_numpy().any():
        return None
    return frame[keep]


def _slow(source: Source, columns: _Columns) -> _Loaded:
    """Part line by line; rows with too many cells are refused, short ones filled."""
    raw = source.data.decode("utf-8", "replace").split("\n")
    first, delimiter = columns.dialect.first_line, columns.dialect.delimiter
    numbers: list[int] = []
    rows: list[list[str]] = []
    for number, line in enumerate(raw[first - 1 :], first):
        if is_blank(line) or is_comment(line):
            continue
        body = re.split(r"\s#", line, maxsplit=1)[0] if "#" in line else line
        numbers.append(number)
        rows.append(split(body, delimiter))
    width = len(columns.meanings)
    tally = Tally(np.array(numbers, dtype=np.int64), source.path)
    wide = np.array([any(not is_missing(c) for c in row[width:]) for row in rows], dtype=np.bool_)
    tally.refuse(wide, f"more cells than the {width} expected", [len(row) for row in rows])
    cells = {
        k: _column([row[k] if k < len(row) else "" for row in rows], k, columns)
        for k in columns.keep
    }
    return cells, {}, tally


def _column(cells: list[str], place: int, columns: _Columns) -> pd.Series:
    """Return a column as `pandas.read_csv` would: numbers if all are numbers, else text."""
    verbatim = place in columns.verbatim
    missing = [cell == "" if verbatim else is_missing(cell) for cell in cells]
    found = pd.Series(
        [None if gone else cell for cell, gone in zip(cells, missing, strict=True)], dtype=object
    )
    if columns.is_text(place):
        return found
    try:
        return pd.to_numeric(found).astype(np.float64)
    except (ValueError, TypeError, OverflowError):
        return found


def with_unit_column(table: Table, column: Numbers) -> Numbers:
    """Give numbers without units the letters of a column of units, where the table has one."""
    places = table.find(col.UNIT)
    if not places or column.units is not None:
        return column
    codes, unique = pd.factorize(table.texts(places[0]))
    letters = [_UNIT_LETTER.fullmatch(str(cell).lower()) for cell in unique]
    found = np.array([m[1].upper() if m else "" for m in letters], dtype="U1")[codes]
    return replace(column, units=found) if (found != "").any() else column


def no_columns(table: Table, needed: str, remedy: str = "") -> FileError:
    """Return the error for a table without a column that is needed."""
    line = table.dialect.heading_line or None
    shown = ", ".join(table.dialect.headings)[:120]
    return FileError(
        f"no column understood as {needed}; the headings are: {shown}"
        if shown
        else f"no column understood as {needed}, and no heading",
        path=table.path,
        line=line,
        expected=needed,
        remedy=remedy,
    )
