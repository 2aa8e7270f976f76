"""A text → a table of cells with the line each row stands on.

Clean tables go through one call of `pandas.read_csv`. Where that cannot give every line its
row (uneven rows, stray quotes), the lines are parted one by one and each is accounted for.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.errors import FileError
from forecaster.ingest import columns as col
from forecaster.ingest.cells import MISSING_WORDS
from forecaster.ingest.columns import Meaning
from forecaster.ingest.dialect import (
    GAPS,
    SPACES,
    Dialect,
    date_like,
    is_blank,
    is_comment,
    is_missing,
    number_like,
    sniff,
    split,
    time_like,
)
from forecaster.ingest.shapes import EPOCH, SERIAL, Texts, layout_of
from forecaster.ingest.tally import Tally
from forecaster.ingest.text import Source

_TEXT_ROLES = {col.DATE, col.TIME, col.MONTH, col.STATION, col.NAME}
EXTRA = 3
"""Cells beyond the heading that the fast path still sees."""


@dataclass(slots=True)
class Table:
    """Cells of one file, the meaning of each column, and the count of its rows."""

    path: str
    dialect: Dialect
    meanings: list[Meaning]
    cells: dict[int, pd.Series]
    tally: Tally
    source: Source

    def find(self, *roles: str) -> list[int]:
        """Return the columns with one of these roles."""
        return [k for k, meaning in enumerate(self.meanings) if meaning.role in roles]

    def heading(self, column: int) -> str:
        """Return the heading of a column as written, or its number."""
        headings = self.dialect.headings
        return headings[column] if column < len(headings) else f"column {column + 1}"

    def texts(self, column: int) -> Texts:
        """Return a column's cells as text without blanks around them; "" where missing."""
        return texts_of(self.cells[column])


def texts_of(column: pd.Series) -> Texts:
    """Return cells as text; "" where missing."""
    found = column.to_numpy(dtype=object, copy=True)
    found[column.isna().to_numpy()] = ""
    return found


Wanted = Callable[[int, Meaning], bool]


def read_table(
    source: Source,
    wanted: Wanted,
    *,
    dialect: Dialect | None = None,
    verbatim: frozenset[int] = frozenset(),
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
    """
    dialect = dialect or sniff(source)
    dialect, meanings = settle(dialect)
    keep = [k for k, meaning in enumerate(meanings) if wanted(k, meaning)]
    frame, tally = _load(source, dialect, meanings, keep, verbatim)
    return Table(source.path, dialect, meanings, frame, tally, source)


def settle(dialect: Dialect) -> tuple[Dialect, list[Meaning]]:
    """Give each column its meaning, from its heading and from what its cells look like."""
    width = Counter(map(len, dialect.sample)).most_common(1)[0][0] if dialect.sample else 0
    headings = list(dialect.headings)
    sample = [row for row in dialect.sample if len(row) == width]
    if headings and width == len(headings) + 1:
        headings = _part_date_heading(headings, sample)
    if not headings:
        return dialect, _without_heading(sample, width)
    meanings = [col.understand(h) for h in headings]
    for place, meaning in enumerate(meanings):
        cells = [row[place] for row in sample if place < len(row) and not is_missing(row[place])]
        meanings[place] = _by_content(meaning, cells, meanings)
    if not any(m.role in (col.DATE, col.YEAR) for m in meanings):
        for place in range(min(len(meanings), width)):
            cells = [row[place] for row in sample if not is_missing(row[place])]
            if cells and all(map(date_like, cells)):
                meanings[place] = Meaning(col.DATE)
                break
    return replace(dialect, headings=tuple(headings)), meanings


def _without_heading(sample: list[tuple[str, ...]], width: int) -> list[Meaning]:
    """Give columns without headings the meaning that their cells allow."""
    meanings: list[Meaning] = []
    for place in range(width):
        cells = [row[place] for row in sample if not is_missing(row[place])]
        known = {m.role for m in meanings}
        if not cells:
            role = col.OTHER
        elif col.DATE not in known and all(map(date_like, cells)):
            role = col.DATE
        elif col.TIME not in known and all(map(time_like, cells)):
            role = col.TIME
        elif all(map(length_like, cells)):
            role = col.DEPTH
        else:
            role = col.TEMP if all(map(number_like, cells)) else col.OTHER
        meanings.append(Meaning(role))
    return meanings


def length_like(cell: str) -> bool:
    """Whether a cell is a length with its unit, such as 4in or 10 cm."""
    return bool(re.fullmatch(r"-?\d+(?:[.,]\d+)?\s*(?:cm|mm|in(?:ch(?:es)?)?|\"|ft|m)", cell.lower()))


def _part_date_heading(headings: list[str], sample: list[tuple[str, ...]]) -> list[str]:
    """Part "date time" over two columns, where one heading stands above a date and a time."""
    for place, heading in enumerate(headings):
        if col.understand(heading).role in (col.DATE, col.TIME) and all(
            date_like(row[place]) and time_like(row[place + 1]) for row in sample
        ):
            return [*headings[:place], "date", "time", *headings[place + 1 :]]
    return headings


def _by_content(meaning: Meaning, cells: list[str], meanings: list[Meaning]) -> Meaning:
    """Correct a date's or time's role by what stands under it."""
    if meaning.role not in (col.DATE, col.TIME, col.DAY, col.HOUR) or not cells:
        return meaning
    if all(map(date_like, cells)):
        return replace(meaning, role=col.DATE)
    has_year = any(m.role == col.YEAR for m in meanings)
    if meaning.role == col.DATE:
        if has_year and all(re.fullmatch(r"\d{1,2}", c) for c in cells):
            return replace(meaning, role=col.DAY)
        if all(map(time_like, cells)):
            return replace(meaning, role=col.TIME)
    if meaning.role == col.TIME and all(_counted_date(c) for c in cells):
        return replace(meaning, role=col.DATE)
    return meaning


def _counted_date(cell: str) -> bool:
    """Whether a cell counts seconds since 1970 or days since 1899-12-30."""
    layout = layout_of(re.sub(r"\d", "0", cell[:60]))
    return layout is not None and layout.kind in (EPOCH, SERIAL)


def _load(
    source: Source,
    dialect: Dialect,
    meanings: list[Meaning],
    keep: list[int],
    verbatim: frozenset[int],
) -> tuple[dict[int, pd.Series], Tally]:
    """Load the columns kept, by the fast way if every line becomes one row."""
    frame = _fast(source, dialect, meanings, keep, verbatim)
    if frame is None:
        return _slow(source, dialect, meanings, keep, verbatim)
    lines = np.arange(dialect.first_line, dialect.first_line + len(frame), dtype=np.int64)
    nothing = frame[keep].isna().all(axis=1).to_numpy() if len(frame) else np.zeros(0, np.bool_)
    if len(frame) and nothing.any():
        frame, lines = _without_blank_lines(source, frame, lines, nothing)
    return {k: frame[k] for k in keep}, Tally(lines, source.path)


def _without_blank_lines(
    source: Source, frame: pd.DataFrame, lines: NDArray[np.int64], nothing: NDArray[np.bool_]
) -> tuple[pd.DataFrame, NDArray[np.int64]]:
    """Leave out lines without any cell and remarks: they are no rows."""
    raw = source.data.split(b"\n")
    rows = np.flatnonzero(nothing)
    drop = [r for r in rows if is_blank(raw[lines[r] - 1].decode("utf-8", "replace"))]
    stay = np.ones(len(frame), dtype=np.bool_)
    stay[drop] = False
    return frame[stay].reset_index(drop=True), lines[stay]


def _skip(data: bytes, lines: int) -> int:
    """Return where the line after the first `lines` begins."""
    start = 0
    for _ in range(lines):
        start = data.find(b"\n", start) + 1
        if not start:
            return len(data)
    return start


def _fast(
    source: Source,
    dialect: Dialect,
    meanings: list[Meaning],
    keep: list[int],
    verbatim: frozenset[int],
) -> pd.DataFrame | None:
    """Read with `pandas.read_csv`; None where lines and rows would not match."""
    if dialect.delimiter == GAPS:
        return None
    start = _skip(source.data, dialect.first_line - 1)
    body = source.data[start:] if start else source.data
    if b"#" in body or (dialect.delimiter == SPACES and b'"' in body):
        return None
    width = len(meanings) + EXTRA
    extras = list(range(len(meanings), width))
    text = {k for k in keep if meanings[k].role in _TEXT_ROLES} | (verbatim & set(keep))
    try:
        frame = pd.read_csv(
            io.BytesIO(body),
            sep=dialect.delimiter,
            header=None,
            names=list(range(width)),
            usecols=[*keep, *extras],
            dtype=dict.fromkeys(text, str),
            na_values={k: [""] if k in verbatim else list(MISSING_WORDS) for k in [*keep, *extras]},
            keep_default_na=False,
            skip_blank_lines=False,
            skipinitialspace=True,
            decimal=dialect.decimal,
            index_col=False,
            low_memory=False,
            encoding="utf-8",
        )
    except (pd.errors.ParserError, pd.errors.EmptyDataError, ValueError, OverflowError):
        return None
    expected = body.count(b"\n") + (not body.endswith(b"\n"))
    if len(frame) != expected or frame[extras].notna().to_numpy().any():
        return None
    return frame


def _slow(
    source: Source,
    dialect: Dialect,
    meanings: list[Meaning],
    keep: list[int],
    verbatim: frozenset[int],
) -> tuple[dict[int, pd.Series], Tally]:
    """Part line by line; rows with too many cells are refused, short ones filled."""
    raw = source.data.decode("utf-8", "replace").split("\n")
    numbers: list[int] = []
    rows: list[list[str]] = []
    for number, line in enumerate(raw[dialect.first_line - 1 :], dialect.first_line):
        if is_blank(line) or is_comment(line):
            continue
        body = re.split(r"\s#", line, maxsplit=1)[0] if "#" in line else line
        numbers.append(number)
        rows.append(split(body, dialect.delimiter))
    width = len(meanings)
    lines = np.array(numbers, dtype=np.int64)
    tally = Tally(lines, source.path)
    wide = np.array([sum(1 for c in row[width:] if not is_missing(c)) > 0 for row in rows], bool)
    tally.refuse(wide, f"more cells than the {width} expected", [len(row) for row in rows])
    cells = {
        k: _column([row[k] if k < len(row) else "" for row in rows], meanings[k], k in verbatim)
        for k in keep
    }
    return cells, tally


def _column(cells: list[str], meaning: Meaning, verbatim: bool) -> pd.Series:  # noqa: FBT001
    """Return a column as `pandas.read_csv` would: numbers if all are numbers, else text."""
    missing = (lambda cell: cell == "") if verbatim else is_missing
    found = pd.Series([None if missing(c) else c for c in cells], dtype=object)
    if verbatim or meaning.role in _TEXT_ROLES:
        return found
    try:
        return pd.to_numeric(found).astype(np.float64)
    except (ValueError, TypeError, OverflowError):
        return found


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


__all__ = ["Table", "date_like", "no_columns", "number_like", "read_table", "settle", "texts_of"]
