"""Columns of dates and times → days and seconds; the order of day and month is decided here.

The order is decided from the whole column: a first number above 12 is a day. Where no number
says so, dots mean day first (*common practice, no source*), and otherwise the order in which
the column runs forward is taken if only one does. If both do, the user is asked.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Days, Floats, Ints
from forecaster.ground.errors import FileError
from forecaster.ground.plural import counted
from forecaster.ingest.text.shapes import (
    EPOCH,
    NO_YEAR,
    NONE,
    NUMERIC,
    ORDINAL,
    SERIAL,
    Cells,
    Fields,
    read_fields,
)

FIRST_YEAR, LAST_YEAR = 1700, 2200
PIVOT = 69
"""Two-digit years from 69 are 1969–1999, below are 2000–2068 (POSIX ``strptime``, ``%y``;
from memory)."""

_SPREADSHEET_EPOCH = np.datetime64("1899-12-30", "D")
_DAY_NS = 86_400_000_000_000
_ENOUGH_TO_RUN_FORWARD, _ENOUGH_IN_STEP = 4, 3
_LONGEST_STEP_DAYS, _LEAP_DAYS = 1.5, 20
"""Only logs and daily tables are judged by their step; the wrong order leaps by a month."""

Triple = tuple[Ints, Ints, Ints]


@dataclass(slots=True, kw_only=True)
class Stamps:
    """Dates and times of a column.

    `day` is NaT where `bad` says why: 0 fine, 1 not a date, 2 impossible date or time.
    `nanosecond` counts from midnight and is −1 where no time is given.
    """

    day: Days
    nanosecond: Ints
    offset_min: Floats
    bad: NDArray[np.int8]
    why_order: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Where:
    """The column in its file, for messages, and whether its table has a row a day."""

    path: str
    column: int | None = None
    heading: str = ""
    daily: bool = False


def civil_days(year: Ints, month: Ints, day: Ints) -> Days:
    """Return dates from year, month, day; NaT where there is no such day."""
    fine = (year >= FIRST_YEAR) & (year <= LAST_YEAR) & (month >= 1) & (month <= 12) & (day >= 1)
    months = np.where(fine, (year - 1970) * 12 + month - 1, 0).astype("M8[M]")
    start = months.astype("M8[D]")
    length = ((months + 1).astype("M8[D]") - start).astype(np.int64)
    fine &= day <= length
    found: Days = start + np.where(fine, day - 1, 0).astype("m8[D]")
    found[~fine] = np.datetime64("NaT")
    return found


def clock(fields: Fields) -> tuple[Ints, Bools]:
    """Return nanoseconds from midnight (−1 where absent) and where the time is impossible."""
    given = fields.hour >= 0
    minute, second = np.maximum(fields.minute, 0), np.maximum(fields.second, 0)
    whole = fields.hour * 3600 + minute * 60 + second
    wrong = given & ((whole > 86_400) | (minute > 59) | (second > 59) | (fields.hour > 24))
    found = np.where(given, whole * 1_000_000_000 + fields.nanosecond, -1)
    return found, wrong


def read_stamps(
    cells: Cells,
    where: Where,
    *,
    day_first: bool | None = None,
    year: int | None = None,
    daily: bool = False,
    beside: Ints | None = None,
) -> Stamps:
    """Read a column of dates, with or without times.

    Parameters
    ----------
    cells : array of str or bytes
        The cells as written.
    where : Where
        The column, for messages.
    day_first : bool, optional
        The order of day and month, where the user says.
    year : int, optional
        The year of the first date, where dates are written without one.
    daily : bool
        Whether the table has a row a day, so that one day from row to row is the right order.
    beside : array of int, optional
        Nanoseconds from midnight of each row from another column; −1 where unknown.

    Raises
    ------
    FileError
        If the order of day and month, or the year, cannot be known.
    """
    fields = read_fields(cells)
    notes: list[str] = []
    years, months, days = ymd = fields.a.copy(), fields.b.copy(), fields.c.copy()
    nanosecond, wrong_clock = clock(fields)
    at = nanosecond if beside is None or (nanosecond >= 0).any() else beside
    why = _order_numeric(fields, replace(where, daily=daily), day_first, ymd, at)
    bare = fields.kind == NO_YEAR
    named = bare & ~fields.numeric_order
    months[named], days[named] = fields.a[named], fields.b[named]
    if bare.any():
        notes.append(_fill_years(np.flatnonzero(bare), ymd, where, year))
    two = fields.two_digit_year & (years >= 0) & (years < 100)
    years = np.where(two, years + np.where(years < PIVOT, 2000, 1900), years)
    ordinal = fields.kind == ORDINAL
    day = civil_days(
        np.where(ordinal, fields.a, years), np.where(ordinal, 1, months), np.where(ordinal, 1, days)
    )
    if ordinal.any():
        day = _add_ordinal(day, ordinal, fields.b)
    if (fields.kind >= EPOCH).any():
        notes += _machine_dates(fields, day, nanosecond)
    bad = np.where(fields.kind == NONE, 1, np.where(np.isnat(day) | wrong_clock, 2, 0))
    day[bad > 0] = np.datetime64("NaT")
    if (end := nanosecond >= _DAY_NS).any():  # 24:00 is the next day's midnight (ISO 8601)
        day = np.where(end, day + np.timedelta64(1, "D"), day)
        nanosecond = np.where(end, nanosecond - _DAY_NS, nanosecond)
    return Stamps(
        day=day,
        nanosecond=nanosecond,
        offset_min=fields.offset_min,
        bad=bad.astype(np.int8),
        why_order=why,
        notes=tuple(notes),
    )


def read_clock(cells: Cells) -> tuple[Ints, Floats, NDArray[np.int8]]:
    """Read a column of times of day: nanoseconds, offsets in minutes, and what is bad (0/1/2)."""
    fields = read_fields(cells, clock_only=True)
    found, wrong = clock(fields)
    return found, fields.offset_min, np.where(fields.hour < 0, 1, wrong * 2).astype(np.int8)


def year_named(above: str, path: str) -> int | None:
    """Return the only year named in the lines above the data, or else in the file's name."""
    for text in (above, re.split(r"[/\\]", path)[-1]):
        years = {int(y) for y in re.findall(r"(?<!\d)(19\d\d|20\d\d)(?!\d)", text)}
        if len(years) == 1:
            return years.pop()
    return None


def _order_numeric(
    fields: Fields, where: Where, day_first: bool | None, ymd: Triple, at: Ints
) -> str:
    """Decide which of two numbers is the day, write it into the arrays, and say why."""
    rows = np.flatnonzero(fields.numeric_order)
    if not len(rows):
        return ""
    years, months, days = ymd
    a, b, c = abc = fields.a[rows], fields.b[rows], fields.c[rows]
    numeric = fields.kind[rows] == NUMERIC
    two = fields.two_digit_year[rows]
    if two.any() and numeric.all() and day_first is None and _is_year_first(a, b, c):
        years[rows], months[rows], days[rows] = a, b, c
        return "year first: the first number changes least"
    if day_first is None:
        day_first, why = _decide(abc, numeric, fields.separators, where, at[rows])
    else:
        why = "day first, as asked" if day_first else "month first, as asked"
    years[rows] = np.where(numeric, c, -1)
    months[rows] = b if day_first else a
    days[rows] = a if day_first else b
    return why


def _is_year_first(a: Ints, b: Ints, c: Ints) -> bool:
    """Whether two-digit dates are year, month, day: they can be, and the first changes least."""
    possible = (b >= 1) & (b <= 12) & (c >= 1) & (c <= 31)
    if possible.mean() < 0.9:
        return False
    if (a > 31).mean() > 0.9:
        return True
    return bool((a > 12).any() and len(np.unique(a)) < len(np.unique(c)))


def _decide(
    abc: Triple, numeric: Bools, separators: set[str], where: Where, at: Ints
) -> tuple[bool, str]:
    """Decide day first (True) or month first from the whole column."""
    a, b, c = abc
    day_like, month_like = int((a > 12).sum()), int((b > 12).sum())
    if day_like > 10 * month_like:
        return True, f"day first: the first number is above 12 on {counted(day_like, 'row')}"
    if month_like > 10 * day_like:
        return False, f"month first: the second number is above 12 on {counted(month_like, 'row')}"
    if day_like or month_like:
        raise _ask(
            where,
            f"{day_like} dates only make sense day first and {month_like} only month first",
        )
    if numeric.all() and (by_step := _by_step(abc, at)) is not None:
        word = "day" if by_step else "month"
        return (
            by_step,
            f"{word} first: the other order would leap over weeks in a log of even steps",
        )
    if separators == {"."}:
        return True, "day first: dates written with dots (common practice, no source)"
    orders = ((b, a), (a, b))
    if where.daily and numeric.all() and len(a) >= _ENOUGH_IN_STEP:
        day_steps, month_steps = (_in_step(x, y, c) for x, y in orders)
        if day_steps != month_steps:
            word = "day" if day_steps else "month"
            return day_steps, f"{word} first: only so does a day follow on a day"
    day_runs, month_runs = (_runs(x, y, c, numeric) for x, y in orders)
    if day_runs != month_runs:
        word = "day" if day_runs else "month"
        return day_runs, f"{word} first: only so do the dates run forward"
    raise _ask(where, f"{int(a[0])}/{int(b[0])} could be either day or month first")


def _by_step(abc: Triple, at: Ints) -> bool | None:
    """Return whether the day comes first, where only one order goes on in small steps."""
    a, b, c = abc
    leaps = []
    for month, day in ((b, a), (a, b)):
        days = civil_days(np.where(c < 100, c + 2000, c), month, day)
        time = days[~np.isnat(days)].astype(np.int64) * _DAY_NS + np.maximum(at, 0)[~np.isnat(days)]
        step = np.diff(time)
        if len(step) < _ENOUGH_IN_STEP or np.median(step) > _LONGEST_STEP_DAYS * _DAY_NS:
            leaps.append(len(step) + 1)
            continue
        leaps.append(int(((step > _LEAP_DAYS * _DAY_NS) | (step < 0)).sum()))
    if 3 * leaps[0] < leaps[1]:
        return True
    return False if 3 * leaps[1] < leaps[0] else None


def _in_step(month: Ints, day: Ints, year: Ints) -> bool:
    """Whether every date is the day after the one before."""
    dates = civil_days(np.where(year < 100, year + 2000, year), month, day)
    return bool(np.all(np.diff(dates) == np.timedelta64(1, "D")))


def _runs(month: Ints, day: Ints, year: Ints, numeric: Bools) -> bool:
    """Whether the dates never run backward in this order, with enough of them to tell."""
    key = np.where(numeric, year, 0) * 400 + month * 32 + day
    different = np.count_nonzero(np.diff(key)) + 1
    return bool(different >= _ENOUGH_TO_RUN_FORWARD and np.all(np.diff(key) >= 0))


def _ask(where: Where, problem: str) -> FileError:
    return FileError(
        f"the order of day and month is not clear: {problem}",
        path=where.path,
        column=where.column,
        remedy="Say which: day_first=True or False (--day-first or --month-first).",
    )


def _fill_years(rows: Ints, ymd: Triple, where: Where, year: int | None) -> str:
    """Give dates without a year one: the year before them, one more when the months wrap."""
    if year is None:
        raise FileError(
            "dates without a year",
            path=where.path,
            column=where.column,
            expected="a date such as 2025-03-14",
            remedy="Write it into them or on a line above; for readings, year= (--year 2025).",
        )
    years, months, days = ymd
    key = months[rows] * 32 + days[rows]
    wraps = np.concatenate([[0], np.cumsum(np.diff(key) < -180)])
    years[rows] = year + wraps
    last = int(years[rows].max())
    span = f"{year}" if last == year else f"{year} to {last}"
    return f"Dates without a year were taken as {span}."


def _add_ordinal(day: Days, ordinal: Bools, number: Ints) -> Days:
    """Turn 1 January and the day of the year into a date."""
    year_length = np.zeros(len(day), dtype=np.int64)
    fine = ordinal & ~np.isnat(day)
    years = day[fine].astype("M8[Y]")
    year_length[fine] = ((years + 1).astype("M8[D]") - years.astype("M8[D]")).astype(np.int64)
    fine &= (number >= 1) & (number <= year_length)
    found = day.copy()
    found[fine] += (number[fine] - 1).astype("m8[D]")
    found[ordinal & ~fine] = np.datetime64("NaT")
    return found


def _machine_dates(fields: Fields, day: Days, nanosecond: Ints) -> list[str]:
    """Fill in dates counted in seconds since 1970 or in days since 1899-12-30."""
    notes = []
    epoch = fields.kind == EPOCH
    if epoch.any():
        seconds = np.where(fields.c >= 0, fields.c * 1000, fields.b)[epoch]
        day[epoch] = np.datetime64("1970-01-01", "D") + (seconds // 86_400_000).astype("m8[D]")
        nanosecond[epoch] = seconds % 86_400_000 * 1_000_000
        day[epoch & (day > np.datetime64(f"{LAST_YEAR}-12-31"))] = np.datetime64("NaT")
        notes.append(
            "Times counted in seconds since 1970 are UTC, and were left so; "
            "local standard time differs by the longitude."
        )
    serial = fields.kind == SERIAL
    if serial.any():
        day[serial] = _SPREADSHEET_EPOCH + fields.c[serial].astype("m8[D]")
        part = fields.nanosecond[serial]  # thousand-millionths of a day
        whole_minutes = np.round(part * 1.44e-6).astype(np.int64) * 60_000_000_000
        nanosecond[serial] = np.where(part > 0, whole_minutes, -1)
        notes.append("Dates were counted in days since 1899-12-30, as spreadsheets do.")
    return notes
