"""How a text is laid out: what parts its cells, which line is the heading, comma or point.

Each way of parting cells is tried on the first lines. The one under which most lines hold a date
and a number is taken; nothing else decides.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

from forecaster.ground.errors import FileError
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.cells import parse_cell, says_missing
from forecaster.ingest.text.shapes import LONGEST_DATE, SERIAL, layout_of

SPACES, GAPS = r"\s+", r"\s{2,}"
DELIMITERS = ("\t", ";", "|", ",", GAPS, SPACES)
NAMES = {
    "\t": "tabs", ";": "semicolons", "|": "bars", ",": "commas", SPACES: "blanks",
    GAPS: "two or more blanks",
}  # fmt: skip
_UNIT_CELL = re.compile(
    r"[(\[]?(?:(?:°|º|\*|deg\.?)?\s?(?:c|f|k|celsius|fahrenheit|kelvin)"
    r"|mm|cm|in|inch|inches|%|m|-|v|m/s|yyyy.*|hh.*|date.*|ts|rn|smp|avg|min|max|text|lst|utc|local"
    r"|\d+(?:\.\d+)?\s*(?:cm|mm|in|inch|inches|m|ft)"
    r")[)\]]?"
)
FEW, MANY = 100, 600
"""Lines looked at: few, or many where the few hold no data."""

_DATE_ROLES = {col.DATE, col.TIME, col.YEAR, col.DOY}
_VALUE_ROLES = {col.TMIN, col.TMAX, col.TAVG, col.TEMP}
_COMMA = re.compile(r"[+\-]?\d+,\d+")
_POINT = re.compile(r"[+\-]?\d+\.\d+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """The layout of one text.

    `heading_line` and `first_line` count from 1; `heading_line` is 0 where there is none.
    """

    delimiter: str
    decimal: str
    headings: tuple[str, ...]
    heading_line: int
    first_line: int
    sample: tuple[tuple[str, ...], ...]

    def describe(self) -> str:
        """Say how the text is laid out, in words."""
        comma = ", decimal commas" if self.decimal == "," else ""
        return f"cells parted by {NAMES[self.delimiter]}{comma}"


def split(line: str, delimiter: str) -> list[str]:
    """Part one line into cells without blanks around them."""
    if delimiter == SPACES:
        return line.split()
    if delimiter == GAPS:
        return re.split(GAPS, line.strip())
    if '"' not in line:
        return [cell.strip() for cell in line.split(delimiter)]
    try:
        return [
            c.strip() for c in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
        ]
    except (csv.Error, StopIteration):
        return [cell.strip().strip('"') for cell in line.split(delimiter)]


@lru_cache(maxsize=8192)
def date_like(cell: str) -> bool:
    """Whether a cell is written as a date, with or without a year and a time."""
    layout = layout_of(re.sub(r"\d", "0", cell[:LONGEST_DATE]))
    return layout is not None and layout.kind != SERIAL


@lru_cache(maxsize=8192)
def time_like(cell: str) -> bool:
    """Whether a cell is written as a time of day with a colon, an h, or am/pm."""
    shape = re.sub(r"\d", "0", cell[:LONGEST_DATE])
    return shape.strip("0.,") != "" and layout_of(shape, clock_only=True) is not None


def number_like(cell: str) -> bool:
    """Whether a cell holds a number, with or without the unit of a temperature."""
    return parse_cell(cell) is not None


def is_missing(cell: str) -> bool:
    """Whether a cell is empty or says that nothing was measured."""
    return says_missing(cell)


def is_blank(line: str) -> bool:
    """Whether a line holds no cell at all."""
    return not line.strip(' \t,;|"\x1a\f')


def is_comment(line: str) -> bool:
    """Whether a line is a remark."""
    return line.lstrip().startswith(("#", "//", "%"))


def data_like(cells: list[str]) -> bool:
    """Whether a line's cells hold a date and, beside it, a number or a place for one."""
    if len(cells) < 2:
        return False
    for place in sorted({*range(min(24, len(cells))), len(cells) - 1}):
        if date_like(cells[place]):
            rest = cells[:place] + cells[place + 1 :]
            return any(number_like(c) or is_missing(c) for c in rest)
    if any(counted_days(c) for c in cells[:2]) and any(map(number_like, cells[1:])):
        return True
    years = sum(1 for c in cells[:24] if re.fullmatch(r"(1[789]|2[01])\d\d", c))
    return bool(years and len(cells) >= 3 and sum(map(number_like, cells)) >= 3)


def counted_days(cell: str) -> bool:
    """Whether a cell may count days since 1899-12-30: 1954 to 2064."""
    return bool(re.fullmatch(r"\d{5}(\.\d+)?", cell)) and 20_000 <= float(cell) <= 60_000


def heading_score(cells: list[str]) -> int:
    """Count the headings understood; 0 unless both a date and a value are among them."""
    if not 2 <= len(cells) <= 400 or any(date_like(c) for c in cells):
        return 0
    if sum(map(number_like, cells)) > len(cells) // 2:
        return 0
    roles = [col.understand(cell).role for cell in cells]
    if not (_DATE_ROLES & set(roles) and _VALUE_ROLES & set(roles)):
        return 0
    return sum(role != col.OTHER for role in roles)


def sniff(source: Source) -> Dialect:
    """Find the layout of a text.

    Raises
    ------
    FileError
        If no way of parting cells gives dates with numbers.
    """
    lines = source.head(FEW)
    best = _best(lines)
    if best is None:
        lines = source.head(MANY)
        best = _best(lines)
    if best is None:
        raise _nothing(source, lines)
    return _layout(*best)


def has_data(source: Source) -> bool:
    """Whether any line near the top looks like data."""
    return _best(source.head(FEW)) is not None or _best(source.head(MANY)) is not None


def _best(lines: list[str]) -> tuple[str, list[list[str]]] | None:
    """Return the way of parting cells under which most lines look like data, and their cells."""
    best: tuple[float, str, list[list[str]]] | None = None
    for delimiter in DELIMITERS:
        if len(delimiter) == 1 and not any(delimiter in line for line in lines):
            continue
        if best is not None and best[1] == "\t" and delimiter in (GAPS, SPACES):
            continue  # where tabs part cells, blanks are inside them
        rows = [_cells(line, delimiter) for line in lines]
        found = sum(map(data_like, rows))
        headed = max((heading_score(r) for r in rows[:60]), default=0)
        score = found + (0.5 if headed else 0.0)
        if found and (best is None or score > best[0] * 1.02):
            best = (score, delimiter, rows)
    return None if best is None else (best[1], best[2])


def _cells(line: str, delimiter: str) -> list[str]:
    """Part a line; a remark may be the heading but never data."""
    if is_blank(line):
        return []
    if not is_comment(line):
        return split(line, delimiter)
    cells = split(line.lstrip("#%/ \t"), delimiter)
    return [] if data_like(cells) else cells


def _nothing(source: Source, lines: list[str]) -> FileError:
    shown = next((line.strip() for line in lines if line.strip()), "")
    return FileError(
        f"no line with a date and a number; it begins {shown[:60]!r}",
        path=source.path,
        line=1,
        expected="lines such as 2025-03-14,61.5 under a heading such as date,temp_f",
    )


def _layout(delimiter: str, rows: list[list[str]]) -> Dialect:
    """Find the heading and the first line of data under one way of parting cells."""
    data = [k for k, row in enumerate(rows) if data_like(row)]
    width = Counter(len(rows[k]) for k in data).most_common(1)[0][0]
    first = next(k for k in data if len(rows[k]) == width)
    heading = _find_heading(rows, first, width)
    start = first
    headings: tuple[str, ...] = ()
    if heading is not None:
        start = heading + 1
        headings = _with_above(rows, heading)
        while start < len(rows) and (
            not rows[start]
            or _is_unit_row(rows[start])
            or (start < first and _is_below_heading(rows[start], width))
        ):
            if rows[start]:
                headings = _with_units(headings, rows[start])
            start += 1
    else:
        while start > 0 and rows[start - 1] and data_like(rows[start - 1]):
            start -= 1
    sample = tuple(tuple(rows[k]) for k in data if k >= start)
    cells = [c for row in sample for c in row]
    comma = sum(1 for c in cells if _COMMA.match(c) and not date_like(c))
    point = sum(1 for c in cells if _POINT.match(c) and not date_like(c))
    return Dialect(
        delimiter=delimiter,
        decimal="," if comma > point else ".",
        headings=headings,
        heading_line=0 if heading is None else heading + 1,
        first_line=start + 1,
        sample=sample,
    )


def _find_heading(rows: list[list[str]], first: int, width: int) -> int | None:
    """Return the line of the heading: best understood, or else the one right above the data."""
    found = [(heading_score(row), -k) for k, row in enumerate(rows[:first])]
    scores = [(score, k) for score, k in found if score > 0]
    fitting = [(score, k) for score, k in scores if abs(len(rows[-k]) - width) <= 1]
    if scores:
        return -max(fitting or scores)[1]
    for k in range(first - 1, -1, -1):
        row = rows[k]
        if not row or (len(row) == width and _is_unit_row(row)):
            continue
        wordy = sum(1 for c in row if c and not number_like(c) and not date_like(c))
        return k if len(row) == width and wordy >= max(1, (width + 1) // 2) else None
    return None


def _with_above(rows: list[list[str]], heading: int) -> tuple[str, ...]:
    """Return the heading; where names in it come again, with the lines above that part them."""
    found = list(rows[heading])
    named = [name for name in found if name]
    above = heading - 1
    while above >= 0 and len(set(named)) < len(named):
        row = rows[above]
        if len(row) != len(found) or sum(map(bool, row)) < len(row) // 2 or data_like(row):
            break
        found = [
            f"{over} {name}" if over and name and found.count(name) > 1 else name
            for over, name in zip(row, found, strict=True)
        ]
        named = [name for name in found if name]
        above -= 1
    return tuple(found)


def _is_unit_row(row: list[str]) -> bool:
    """Whether a line under the heading holds only units."""
    filled = [c for c in row if c]
    if not filled or any(date_like(c) or number_like(c) for c in filled):
        return False
    return all(_UNIT_CELL.fullmatch(cell.lower()) for cell in filled)


def _is_below_heading(row: list[str], width: int) -> bool:
    """Whether a line above the data goes on with the heading: words, no number and no date."""
    filled = [c for c in row if c]
    return len(row) == width and not any(date_like(c) or number_like(c) for c in filled)


def _with_units(headings: tuple[str, ...], row: list[str]) -> tuple[str, ...]:
    """Write the units of the line below into the headings."""
    padded = list(row) + [""] * (len(headings) - len(row))
    return tuple(
        f"{head} ({unit.strip('()[]')})" if unit and not unit.lower().startswith("yyyy") else head
        for head, unit in zip(headings, padded, strict=False)
    )
