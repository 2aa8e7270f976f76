"""The date and time of each row of a table, from whichever columns hold them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecaster.ingest.text import columns as col
from forecaster.ingest.text.cells import numbers
from forecaster.ingest.text.columns import Meaning
from forecaster.ingest.text.dates import (
    Days,
    Where,
    civil_days,
    read_clock,
    read_stamps,
    year_named,
)
from forecaster.ingest.text.dialect import is_missing
from forecaster.ingest.text.shapes import MONTHS, Cells, Ints
from forecaster.ingest.text.table import Table, no_columns

HOUR_NS = 3_600_000_000_000
DATE_ROLES = (col.DATE, col.TIME, col.YEAR, col.MONTH, col.DAY, col.DOY, col.HOUR)


@dataclass(slots=True)
class When:
    """Day (NaT where refused), nanoseconds from midnight (−1 unknown), offset, and the evidence."""

    day: Days
    nanosecond: Ints
    offset_min: NDArray[np.float64]
    notes: list[str]


def is_date_column(_place: int, meaning: Meaning) -> bool:
    """Whether a column tells when."""
    return meaning.role in DATE_ROLES


def read_when(
    table: Table,
    *,
    day_first: bool | None = None,
    year: int | None = None,
    daily: bool = False,
) -> When:
    """Read the date and time of each row; rows without one are refused in the table's tally."""
    found = (
        _from_date(table, day_first, year, daily) if table.find(col.DATE) else _from_parts(table)
    )
    if not (found.nanosecond >= 0).any():
        _add_clock(table, found)
    return found


def _from_date(table: Table, day_first: bool | None, year: int | None, daily: bool) -> When:
    place = table.find(col.DATE)[0]
    cells = table.raw(place)
    where = Where(table.path, place + 1, table.heading(place))
    stamps = read_stamps(
        cells, where, day_first=day_first, year=year or year_above(table), daily=daily
    )
    table.tally.refuse(missing_among(cells, stamps.bad == 1), "no date")
    table.tally.refuse(stamps.bad == 1, "not a date", cells)
    table.tally.refuse(stamps.bad == 2, "impossible date or time", cells)
    notes = list(stamps.notes)
    if stamps.why_order:
        notes.append(f"Dates read {stamps.why_order}.")
    return When(stamps.day, stamps.nanosecond, stamps.offset_min, notes)


def missing_among(cells: Cells, rows: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark those of `rows` whose cell is empty or says that it is missing."""
    found = np.zeros(len(cells), dtype=np.bool_)
    for row in np.flatnonzero(rows):
        cell = cells[row]
        text = cell.decode("utf-8", "replace") if isinstance(cell, bytes) else str(cell)
        found[row] = is_missing(text)
    return found


def year_above(table: Table) -> int | None:
    """Find the only year named above the data or in the file's name."""
    head = table.source.head(table.dialect.first_line)[: table.dialect.first_line - 1]
    return year_named(" ".join(head), table.path)


def _from_parts(table: Table) -> When:
    """Put a date together from year, month and day, or year and day of the year."""
    years, months, days = (table.find(role) for role in (col.YEAR, col.MONTH, col.DAY))
    ordinal = table.find(col.DOY)
    if not years or not ((months and days) or ordinal):
        raise no_columns(table, "a date", "Give the column of dates the heading date.")
    year = _whole(table, years[0])
    if months and days:
        day = civil_days(year, _months(table, months[0]), _whole(table, days[0]))
        shown = [years[0], months[0], days[0]]
    else:
        one = np.ones_like(year)
        first = civil_days(year, one, one)
        number = _whole(table, ordinal[0])
        day = first + np.maximum(number - 1, 0).astype("m8[D]")
        wrong = (number < 1) | (day.astype("M8[Y]") != first.astype("M8[Y]"))
        day[wrong] = np.datetime64("NaT")
        shown = [years[0], ordinal[0]]
    bad = np.isnat(day)
    if bad.any():
        parts = [table.texts(k) for k in shown]
        seen = np.array([""] * len(day), dtype=object)
        for row in np.flatnonzero(bad):
            seen[row] = " ".join(str(p[row]).removesuffix(".0") for p in parts)
        table.tally.refuse(bad & (seen == " " * (len(shown) - 1)), "no date")
        table.tally.refuse(bad, "impossible date or time", seen)
    n = len(day)
    return When(day, np.full(n, -1, dtype=np.int64), np.full(n, np.nan), [])


def _whole(table: Table, place: int) -> Ints:
    """Return a column of whole numbers; −1 where there is none."""
    value = numbers(table.cells[place], codes=()).value
    fine = np.isfinite(value) & (value == np.floor(value)) & (np.abs(value) < 1e6)
    return np.where(fine, value, -1).astype(np.int64)


def _months(table: Table, place: int) -> Ints:
    """Return months from numbers or English names."""
    texts = table.texts(place)
    names = {name: k for k, name in enumerate(MONTHS, 1)}
    lookup = {
        t: int(t) if str(t).isdecimal() and len(str(t)) < 4 else names.get(str(t)[:3].lower(), -1)
        for t in set(texts.tolist())
    }
    return np.array([lookup[t] for t in texts], dtype=np.int64)


def _add_clock(table: Table, when: When) -> None:
    """Take the time of day from its own column, or whole hours from an hour column."""
    if places := table.find(col.TIME, col.HOUR):
        cells = table.raw(places[0])
        nanosecond, offset, bad = read_clock(cells)
        table.tally.refuse((bad == 1) & ~missing_among(cells, bad == 1), "not a time of day", cells)
        table.tally.refuse(bad == 2, "impossible date or time", cells)
        end = nanosecond >= 24 * HOUR_NS
        when.day = np.where(end, when.day + np.timedelta64(1, "D"), when.day)
        when.nanosecond = np.where(end, nanosecond - 24 * HOUR_NS, nanosecond)
        when.offset_min = offset
