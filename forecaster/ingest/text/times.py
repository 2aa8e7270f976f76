"""The date and time of each row of a table, from whichever columns hold them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Days, Floats, Ints
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.cells import numbers
from forecaster.ingest.text.dates import (
    Where,
    civil_days,
    read_clock,
    read_stamps,
    year_named,
)
from forecaster.ingest.text.dialect import is_missing
from forecaster.ingest.text.shapes import (
    MONTHS,
    Cells,
)
from forecaster.ingest.text.table import Table, no_columns

HOUR_NS = 3_600_000_000_000
MOST_AHEAD_DAYS = 731
"""No file tells of days further ahead than this; a clock that does is wrong."""
_CLOCKS_START = np.datetime64("2000-01-01"), np.datetime64("2002-01-01")
_CLOCKS_KEPT = np.datetime64("2005-01-01")
"""A clock without power starts at 2000; a log that otherwise begins in 2005 or later was not
kept then (*common practice, no source*)."""
DATE_ROLES = (
    col.DATE, col.TIME, col.YEAR, col.MONTH, col.DAY, col.DOY, col.HOUR, col.MINUTE,
)  # fmt: skip


@dataclass(slots=True)
class When:
    """Day (NaT where refused), nanoseconds from midnight (−1 unknown), offset, and the evidence."""

    day: Days
    nanosecond: Ints
    offset_min: Floats
    notes: list[str]


def read_when(
    table: Table,
    *,
    day_first: bool | None = None,
    year: int | None = None,
    daily: bool = False,
) -> When:
    """Read the date and time of each row; rows without one are refused in the table's tally."""
    notes: list[str] = []
    clock = _clock(table, notes)
    if table.find(col.DATE):
        found = _from_date(table, day_first, year, daily, clock)
    else:
        found = _from_parts(table)
    if not (found.nanosecond >= 0).any() and clock is not None:
        _add_clock(table, found, clock)
    found.notes += notes
    _refuse_lost_clock(table, found)
    return found


def _from_date(
    table: Table, day_first: bool | None, year: int | None, daily: bool, clock: Clock | None
) -> When:
    place = table.find(col.DATE)[0]
    cells = table.raw(place)
    where = Where(table.path, place + 1, table.heading(place))
    stamps = read_stamps(
        cells, where, day_first=day_first, year=year or year_above(table), daily=daily,
        beside=None if clock is None else clock.nanosecond,
    )  # fmt: skip
    table.tally.refuse(missing_among(cells, stamps.bad == 1), "no date")
    table.tally.refuse(stamps.bad == 1, "not a date", cells)
    table.tally.refuse(stamps.bad == 2, "impossible date or time", cells)
    notes = list(stamps.notes)
    if stamps.why_order:
        notes.append(f"Dates read {stamps.why_order}.")
    return When(stamps.day, stamps.nanosecond, stamps.offset_min, notes)


def missing_among(cells: Cells, rows: Bools) -> Bools:
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


@dataclass(slots=True)
class Clock:
    """A column of times of day: nanoseconds, offsets in minutes, what is bad, and its cells."""

    nanosecond: Ints
    offset_min: Floats
    bad: NDArray[np.int8]
    cells: Cells


PARTS_OF_DAY = {
    8: "morning am a.m. breakfast manana matin morgen morgens manha mattina mattino rano dopoledne",
    12: "noon midday lunch mediodia midi mittag mittags meio-dia mezzogiorno poledne",
    15: "afternoon tarde nachmittag nachmittags apres-midi pomeriggio odpoledne",
    18: "evening pm p.m. dinner soir abend abends sera vecer",
    22: "night noche nuit nacht nachts noite notte noc",
}
"""Hours of the clock for words; *common practice, no source*."""
_HOUR_OF = {word: hour for hour, words in PARTS_OF_DAY.items() for word in words.split()}


def _text(cell: object) -> str:
    return cell.decode("utf-8", "replace").strip() if isinstance(cell, bytes) else str(cell)


def _clock(table: Table, notes: list[str]) -> Clock | None:
    """Read the time of day from its own column: times, hours with or without minutes, words."""
    places = table.find(col.TIME, col.HOUR)
    if not places:
        return None
    place = places[0]
    cells = table.raw(place)
    if (found := _hours(table, place, cells)) is not None:
        return found
    nanosecond, offset, bad = read_clock(cells)
    rows = np.flatnonzero(bad == 1)
    words = {}
    for row in rows:
        word = col.normal(_text(cells[row]))
        if word in _HOUR_OF:
            nanosecond[row], bad[row] = _HOUR_OF[word] * HOUR_NS, 0
            words[word] = _HOUR_OF[word]
    if words:
        said = ", ".join(f"{word} as {hour}:00" for word, hour in sorted(words.items()))
        notes.append(f"Words for the time of day: {said} (common practice, no source).")
    return Clock(nanosecond, offset, bad, cells)


def _hours(table: Table, place: int, cells: Cells) -> Clock | None:
    """Read a column of numbers: hours, 0.5 being half past twelve, or hours and minutes as 730.

    None if the column holds others.
    """
    if table.meanings[place].role == col.HOUR:
        value = numbers(table.cells[place], codes=()).value
    elif len(cells) and _text(cells[0]).isdecimal():
        value = pd.to_numeric(pd.Series(table.texts(place)), errors="coerce").to_numpy(float)
    else:
        return None
    fine = np.isfinite(value)
    if not fine.any() or float(np.nanmin(value)) < 0.0 or float(np.nanmax(value)) > 2400.0:
        return None
    if float(np.nanmax(value)) > 24.0:
        if (value[fine] % 100 >= 60).any() or (value[fine] % 1 > 0).any():
            return None
        value = value // 100 + value % 100 / 60.0
    elif table.meanings[place].role != col.HOUR:
        return None
    minutes = table.find(col.MINUTE)
    if minutes:
        minute = numbers(table.cells[minutes[0]], codes=()).value
        value = value + np.where(minute < 60.0, minute, np.nan) / 60.0
        fine = np.isfinite(value)
    seconds = np.round(np.where(fine, value, 0.0) * 3600.0).astype(np.int64)
    nanosecond = np.where(fine, seconds * 1_000_000_000, -1)
    bad = np.where(fine, 0, 1).astype(np.int8)
    return Clock(nanosecond, np.full(len(value), np.nan), bad, cells)


def _add_clock(table: Table, when: When, clock: Clock) -> None:
    """Give the days their time of day; 24:00 is the next day's midnight."""
    cells, bad = clock.cells, clock.bad
    table.tally.refuse((bad == 1) & ~missing_among(cells, bad == 1), "not a time of day", cells)
    table.tally.refuse(bad == 2, "impossible date or time", cells)
    end = clock.nanosecond >= 24 * HOUR_NS
    when.day = np.where(end, when.day + np.timedelta64(1, "D"), when.day)
    when.nanosecond = np.where(end, clock.nanosecond - 24 * HOUR_NS, clock.nanosecond)
    when.offset_min = clock.offset_min


def _refuse_lost_clock(table: Table, when: When) -> None:
    """Refuse rows of a clock that fell back to its first year, and rows of years to come."""
    day = when.day.astype("M8[D]")
    ahead = np.datetime64("today", "D") + np.timedelta64(MOST_AHEAD_DAYS, "D")
    live = ~np.isnat(day)
    if not live.any():
        return
    first, last = day[live].min(), day[live].max()
    if last > ahead:
        table.tally.refuse(
            live & (day > ahead), "a date years ahead", day.astype(str).astype(object)
        )
        when.day = np.where(day > ahead, np.datetime64("NaT"), when.day)
    if first >= _CLOCKS_START[1] or last < _CLOCKS_KEPT:
        return
    lost = live & (day >= _CLOCKS_START[0]) & (day < _CLOCKS_START[1])
    years = day[live & ~lost]
    if lost.any() and len(years) and years.min() >= _CLOCKS_KEPT:
        row = int(np.flatnonzero(lost)[0])
        table.tally.refuse(lost, "a clock that fell back to 2000")
        when.day = np.where(lost, np.datetime64("NaT"), when.day)
        when.notes.append(
            f"From line {table.tally.lines[row]} on the clock says {day[row]}, after years from "
            f"{years.min()} on: it had lost the date, and these rows are refused."
        )
