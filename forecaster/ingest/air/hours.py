"""Air by the hour or oftener → the extremes and mean of each day, where the day is whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecaster.ground.arrays import Bools, Days, Floats, Ints
from forecaster.ground.errors import FileError
from forecaster.ground.plural import counted
from forecaster.ingest.air import daily
from forecaster.ingest.checks.codes import missing_codes
from forecaster.ingest.checks.tally import Tally

LONGEST_STEP_H = 3.0
"""Values further apart miss the extremes of a day by degrees; *common practice, no source*."""
WHOLE_DAY = 0.9
"""Share of a day's values that it must have (*common practice, no source*)."""
THIN = "a day with too few values for its extremes"
_DAY_NS = 86_400_000_000_000


@dataclass(frozen=True, slots=True)
class Timed:
    """When the values of a table are: day (NaT where refused), nanoseconds from midnight."""

    day: Days
    nanosecond: Ints


def are_hours(timed: Timed) -> bool:
    """Whether a table has several values a day, with the time of day."""
    known = (timed.nanosecond >= 0) & ~np.isnat(timed.day)
    days = timed.day[known]
    return len(days) > 1 and len(days) > 1.5 * len(np.unique(days))


def of_days(
    timed: Timed, values: dict[int, Floats], tally: Tally, notes: list[str]
) -> tuple[dict[int, Floats], Ints]:
    """Return the values of whole days, each on the first row of its day; NaN on the others.

    Also returned: for every row the row on which its day's values stand, −1 for none.

    Parameters
    ----------
    timed : Timed
        When the rows are.
    values : dict of int to array
        Temperatures in °C by element; precipitation in mm.
    tally : Tally
        Rows of days too thin are refused in it.
    notes : list of str
        Sentences for the account are added.

    Raises
    ------
    FileError
        If values are more than three hours apart, or no day is whole.
    """
    live = ~np.isnat(timed.day) & (timed.nanosecond >= 0)
    day = np.where(live, timed.day, np.datetime64(0, "D")).astype("M8[D]").astype(np.int64)
    step_h = _step_h(day[live] * _DAY_NS + timed.nanosecond[live], tally)
    values = {k: _without_codes(k, day, live, v, notes) for k, v in values.items()}
    some = next(values[k] for k in (daily.TAVG, daily.TMAX, daily.TMIN) if k in values)
    there = live & np.isfinite(some)
    first, count = _by_day(day, timed.nanosecond, there)
    needed = int(np.ceil(WHOLE_DAY * round(24.0 / step_h)))
    whole = count >= needed
    thin = there & ~whole
    days_thin = len(np.unique(day[thin]))
    tally.refuse(thin, THIN)
    if not whole.any():
        most = int(count.max(initial=0))
        raise FileError(
            f"none of {days_thin} days is whole: the fullest has {counted(most, 'value')}, "
            f"one every {_words(step_h)}",
            path=tally.files[0],
            expected=f"days of at least {needed} values, for their maximum and minimum",
            remedy="Give a file of more days.",
        )
    used = there & whole
    found = _reduced(day, used, values, first)
    notes.append(
        f"Values every {_words(step_h)}: the day's maximum, minimum and mean were taken of "
        f"{counted(len(np.unique(day[used])), 'day')}"
        + (
            f"; {counted(days_thin, 'day')} with fewer than {needed} values refused."
            if days_thin
            else "."
        )
    )
    return found, np.where(used, first, -1)


def _without_codes(element: int, day: Ints, live: Bools, value: Floats, notes: list[str]) -> Floats:
    """Drop a number written for missing values, as a −17.78 at the end of every day."""
    if element == daily.PRECIP:
        return value
    rows = np.flatnonzero(live & np.isfinite(value))
    coded = rows[missing_codes(day[rows], value[rows])]
    if not len(coded):
        return value
    shown = ", ".join(f"{v:.4g} °C" for v in np.unique(np.round(value[coded], 2))[:3])
    notes.append(f"{counted(len(coded), 'value')} of {shown} stood for missing ones: dropped.")
    return np.where(np.isin(np.arange(len(value)), coded), np.nan, value)


def _step_h(time_ns: Ints, tally: Tally) -> float:
    """Return the usual step from value to value in hours."""
    step = np.diff(np.unique(time_ns))
    usual = float(np.median(step)) / 3.6e12 if len(step) else 24.0
    if usual > LONGEST_STEP_H:
        raise FileError(
            f"values every {usual:g} hours",
            path=tally.files[0],
            expected="a maximum and minimum a day, or values at most 3 hours apart",
            remedy="Values so far apart miss the extremes of a day.",
        )
    return max(usual, 1.0 / 60.0)


def _words(step_h: float) -> str:
    if step_h >= 1.0:
        return "hour" if round(step_h, 2) == 1.0 else f"{step_h:g} hours"
    return f"{step_h * 60:.0f} minutes"


def _by_day(day: Ints, nanosecond: Ints, there: Bools) -> tuple[Ints, Ints]:
    """Return for each row the first row of its day, and how many times the day has."""
    start = int(day[there].min()) if there.any() else 0
    place = np.where(there, day - start, 0)
    moments = np.unique(place[there] * _DAY_NS + nanosecond[there])
    count = np.bincount(moments // _DAY_NS, minlength=int(place.max(initial=0)) + 1)
    first = np.full(len(count), -1, dtype=np.int64)
    rows = np.flatnonzero(there)[::-1]
    first[place[rows]] = rows
    return first[place], np.where(there, count[place], 0)


def _reduced(day: Ints, used: Bools, values: dict[int, Floats], first: Ints) -> dict[int, Floats]:
    """Reduce the rows of each day to its extremes, mean and sum, set on its first row."""
    rows = np.flatnonzero(used)
    order = rows[np.argsort(day[rows], kind="stable")]
    starts = np.flatnonzero(np.concatenate([[True], np.diff(day[order]) > 0]))
    target = first[order[starts]]
    size = np.diff(np.append(starts, len(order)))
    middle = values.get(daily.TAVG)
    high = values.get(daily.TMAX, middle)
    low = values.get(daily.TMIN, middle)
    found: dict[int, Floats] = {}
    for element, source, reduce in (
        (daily.TMAX, high, np.fmax),
        (daily.TMIN, low, np.fmin),
        (daily.TAVG, middle, np.add),
        (daily.PRECIP, values.get(daily.PRECIP), np.add),
    ):
        if source is None:
            continue
        column = np.full(len(day), np.nan)
        total = reduce.reduceat(source[order], starts)
        column[target] = total / size if element == daily.TAVG else total
        found[element] = column
    return found
