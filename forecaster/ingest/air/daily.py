"""Single daily values, however their file lays them out, → one continuous table.

Each reader hands over its values one by one (row, day, element, value). Here they are checked,
moved to the day they belong to and set out on a calendar; every row whose values all fell away is
refused with its most telling reason.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Days, Floats, Ints
from forecaster.ground.plural import counted
from forecaster.ingest.account import Column, Suspect
from forecaster.ingest.checks.codes import MOST_SHARE, missing_codes, twin_codes
from forecaster.ingest.checks.mistaken import refuse_mistaken
from forecaster.ingest.checks.scale import COLDEST_AIR_C, HOTTEST_AIR_C
from forecaster.ingest.checks.suspects import air_jumps, air_runs, dates_text, stretches
from forecaster.ingest.checks.tally import Tally

TMIN, TMAX, TAVG, PRECIP = range(4)
COLUMNS = ("tmin_c", "tmax_c", "tavg_c", "precip_mm")
WETTEST_DAY_MM = 2000.0
"""Above the wettest 24 hours on record (1,825 mm, La Réunion, 1966; WMO archive, from memory)."""
_RANGES = {
    TMIN: (COLDEST_AIR_C, HOTTEST_AIR_C, "°C"),
    TMAX: (COLDEST_AIR_C, HOTTEST_AIR_C, "°C"),
    TAVG: (COLDEST_AIR_C, HOTTEST_AIR_C, "°C"),
    PRECIP: (0.0, WETTEST_DAY_MM, "mm"),
}
NO_VALUE, OUTSIDE, CROSSED, SAME, OTHER, MOVED, STUCK, CODE = (
    "no temperature or rain",
    "value out of range",
    "minimum above maximum",
    "day given again with the same values",
    "day given again with other values (the first was kept)",
    "maximum moved onto a day that has one already",
    "stuck sensor",
    "number written for a missing value",
)


@dataclass(slots=True, kw_only=True)
class Part:
    """What one reader made of one file, or of several files of one kind.

    `shift` is the day, 0 or −1, to which the row's maximum belongs, relative to its date.
    `stands_on` is, where many rows make one day, the row that holds the day's values (−1: none).
    """

    tally: Tally
    row: Ints
    day: Days
    element: NDArray[np.int8]
    value: Floats
    shift: Ints
    format: str
    why_format: str
    units: str
    why_units: str
    notes: list[str] = field(default_factory=list)
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    station: str = ""
    shift_note: str = ""
    columns: tuple[Column, ...] = ()
    stands_on: Ints | None = None


def flatten(day: Days, columns: dict[int, Floats]) -> tuple[Ints, Days, NDArray[np.int8], Floats]:
    """Return columns of a table as single values: row, day, element, value; NaN left out."""
    rows, elements, values = [], [], []
    for element, value in columns.items():
        there = np.flatnonzero(np.isfinite(value) & ~np.isnat(day))
        rows.append(there)
        elements.append(np.full(len(there), element, dtype=np.int8))
        values.append(value[there])
    row = np.concatenate(rows).astype(np.int64)
    return row, day[row], np.concatenate(elements), np.concatenate(values)


@dataclass(slots=True, kw_only=True)
class _Values:
    """All values of all files, and why each fell away (−1 where it did not)."""

    row: Ints
    day: Ints
    element: NDArray[np.int8]
    value: Floats
    shift: Ints
    dropped: NDArray[np.int8]


_REASONS = (SAME, OTHER, MOVED, CODE, STUCK, CROSSED, OUTSIDE)
"""From the least to the most telling: a row lost for several is counted under the last."""


def assemble(parts: list[Part], path: str = "") -> tuple[pd.DataFrame, Tally, list[Suspect]]:
    """Check all values and set them out on a calendar.

    Raises
    ------
    FileError
        If so many values are wrong in the same way that the columns are not what they are
        taken for: another unit, extremes the wrong way round, the same number every day.

    Returns
    -------
    frame, tally, suspects
        The table, continuous by day; the tally with every row settled; values dropped as wrong.
    """
    starts = np.cumsum([0] + [len(p.tally.lines) for p in parts[:-1]])
    v = _Values(
        row=np.concatenate([p.row + s for p, s in zip(parts, starts, strict=True)]),
        day=np.concatenate([p.day for p in parts]).astype("M8[D]").astype(np.int64),
        element=np.concatenate([p.element for p in parts]),
        value=np.concatenate([p.value for p in parts]),
        shift=np.concatenate([p.shift[p.row] for p in parts]),
        dropped=np.full(sum(len(p.row) for p in parts), -1, dtype=np.int8),
    )
    tally = Tally.join([p.tally for p in parts])
    v.dropped[~tally.live[v.row]] = len(_REASONS)
    suspects = _drop_out_of_range(v)
    _drop_repeats(v, (SAME, OTHER))
    suspects += _drop_codes(v)
    suspects += _drop_crossed(v)
    suspects += _drop_stuck(v)
    _refuse_mistaken(v, path)
    if v.shift.any():
        v.day = v.day + np.where(v.element == TMAX, v.shift, 0)
        _drop_repeats(v, (MOVED, MOVED))
    _settle_rows(v, tally, _standing(parts, starts))
    return _calendar(v), tally, suspects


def _refuse_mistaken(v: _Values, path: str) -> None:
    temperature = v.element != PRECIP
    why = {
        name: v.dropped[temperature] == _REASONS.index(reason)
        for name, reason in (("outside", OUTSIDE), ("crossed", CROSSED), ("stuck", STUCK))
    }
    refuse_mistaken(path, v.day[temperature], v.value[temperature], **why)


def _drop_out_of_range(v: _Values) -> list[Suspect]:
    suspects = []
    for element, (low, high, unit) in _RANGES.items():
        wrong = np.flatnonzero((v.element == element) & ((v.value < low) | (v.value > high)))
        wrong = wrong[v.dropped[wrong] < 0]
        if not len(wrong):
            continue
        v.dropped[wrong] = _REASONS.index(OUTSIDE)
        for first, last in stretches(v.day[wrong])[:50]:
            some = v.value[wrong[first : last + 1]]
            begin, end = dates_text(v.day[wrong[first]], v.day[wrong[last]])
            suspects.append(
                Suspect(
                    kind="out of range",
                    column=COLUMNS[element],
                    first=begin,
                    last=end,
                    values=len(some),
                    action="dropped",
                    note=f"{some.min():.4g} to {some.max():.4g} {unit}, not {low:g} to {high:g}",
                )
            )
    return suspects


def _drop_repeats(v: _Values, reasons: tuple[str, str]) -> None:
    """Keep the first value of each day and element; tell equal repeats from others."""
    alive = np.flatnonzero(v.dropped < 0)
    key = v.day[alive] * 4 + v.element[alive]
    order = np.argsort(key, kind="stable")
    again = np.flatnonzero(np.diff(key[order]) == 0) + 1
    if not len(again):
        return
    first = np.zeros(len(order), dtype=np.int64)
    new = np.ones(len(order), dtype=np.bool_)
    new[again] = False
    first[new] = np.flatnonzero(new)
    first = np.maximum.accumulate(first)
    repeat, kept = alive[order[again]], alive[order[first[again]]]
    equal = np.abs(v.value[repeat] - v.value[kept]) < 1e-9
    v.dropped[repeat] = np.where(equal, _REASONS.index(reasons[0]), _REASONS.index(reasons[1]))


def _drop_codes(v: _Values) -> list[Suspect]:
    """Drop a number that stands for a missing temperature."""
    suspects = []
    twin = _twins(v)
    for element in (TMIN, TMAX, TAVG):
        rows = np.flatnonzero((v.dropped < 0) & (v.element == element))
        gone = rows[missing_codes(v.day[rows], v.value[rows]) | np.isin(v.day[rows], twin)]
        v.dropped[gone] = _REASONS.index(CODE)
        number, times = np.unique(np.round(v.value[gone], 2), return_counts=True)
        for each, count in zip(number, times, strict=True):
            days = v.day[gone[np.abs(v.value[gone] - each) < 0.01]]
            note = f"exactly {each:.1f} °C on {counted(int(count), 'day')}"
            begin, end = dates_text(days.min(), days.max())
            suspects.append(
                Suspect(
                    kind="code for missing",
                    column=COLUMNS[element],
                    first=begin,
                    last=end,
                    values=int(count),
                    action="dropped",
                    note=note,
                )
            )
    return suspects


def _twins(v: _Values) -> Ints:
    """Return the days on which minimum and maximum are one number that stands for none."""
    low, high = (np.flatnonzero((v.dropped < 0) & (v.element == e)) for e in (TMIN, TMAX))
    day, at_low, at_high = np.intersect1d(
        v.day[low], v.day[high], assume_unique=True, return_indices=True
    )
    value = v.value[low][at_low]
    same = np.abs(value - v.value[high][at_high]) < 1e-9
    gone = day[same][twin_codes(value[same])]
    return np.asarray(gone if gone.size <= MOST_SHARE * day.size else gone[:0])


def _drop_crossed(v: _Values) -> list[Suspect]:
    """Drop both extremes of a day whose minimum is above its maximum."""
    alive = np.flatnonzero((v.dropped < 0) & ((v.element == TMIN) | (v.element == TMAX)))
    if not len(alive):
        return []
    start = int(v.day[alive].min())
    span = int(v.day[alive].max()) - start + 1
    grid = np.full((2, span), np.nan)
    grid[v.element[alive], v.day[alive] - start] = v.value[alive]
    crossed = grid[TMIN] > grid[TMAX]
    if not crossed.any():
        return []
    gone = alive[crossed[v.day[alive] - start]]
    v.dropped[gone] = _REASONS.index(CROSSED)
    days = np.flatnonzero(crossed)
    return [
        Suspect(
            kind="minimum above maximum",
            column="tmin_c",
            first=dates_text(days[first] + start, days[first] + start)[0],
            last=dates_text(days[last] + start, days[last] + start)[1],
            values=2 * (last - first + 1),
            action="dropped",
            note=f"minimum {grid[TMIN, days[first]]:.1f} °C, "
            f"maximum {grid[TMAX, days[first]]:.1f} °C",
        )
        for first, last in stretches(days)[:50]
    ]


def _drop_stuck(v: _Values) -> list[Suspect]:
    """Drop what is surely a stuck sensor; flag jumps and runs that may be real."""
    suspects = []
    temperatures = np.flatnonzero((v.dropped < 0) & (v.element != PRECIP))
    for element in (TMIN, TMAX, TAVG):
        rows = np.flatnonzero((v.dropped < 0) & (v.element == element))
        rows = rows[np.argsort(v.day[rows], kind="stable")]
        found, drop = air_runs(v.day[rows], v.value[rows], COLUMNS[element])
        v.dropped[rows[drop]] = _REASONS.index(STUCK)
        rows = rows[~drop]
        suspects += found + air_jumps(v.day[rows], v.value[rows], COLUMNS[element])
    gone = temperatures[v.dropped[temperatures] >= 0]
    if len(gone):  # the other values of those days, where they stand at the same number
        wrong = set(zip(v.day[gone].tolist(), v.value[gone].tolist(), strict=True))
        same = [(d, x) in wrong for d, x in zip(v.day.tolist(), v.value.tolist(), strict=True)]
        also = (v.dropped < 0) & (v.element != PRECIP) & np.array(same)
        v.dropped[also] = _REASONS.index(STUCK)
    return suspects


def _standing(parts: list[Part], starts: Ints) -> Ints:
    """Return for every row of all files the row on which its values stand: mostly its own."""
    found = []
    for part, start in zip(parts, starts, strict=True):
        own = np.arange(len(part.tally.lines), dtype=np.int64)
        other = part.stands_on
        found.append(start + (own if other is None else np.where(other < 0, own, other)))
    return np.concatenate(found)


def _settle_rows(v: _Values, tally: Tally, standing: Ints) -> None:
    """Refuse the rows of which no value is left, each for its most telling reason."""
    n = len(tally.lines)
    used: Bools = np.zeros(n, dtype=np.bool_)
    used[v.row[v.dropped < 0]] = True
    lost = np.flatnonzero(v.dropped >= 0)
    reason = np.full(n, -1, dtype=np.int8)
    np.maximum.at(reason, v.row[lost], v.dropped[lost])
    used, reason = used[standing], reason[standing]
    for code, text in enumerate(_REASONS):
        tally.refuse(~used & (reason == code), text)
    tally.refuse(~used & (reason < 0), NO_VALUE)


def _calendar(v: _Values) -> pd.DataFrame:
    """Set the values out on a continuous calendar."""
    alive = np.flatnonzero(v.dropped < 0)
    if not len(alive):
        index = pd.DatetimeIndex([], name="date").as_unit("ns")
        return pd.DataFrame({c: np.zeros(0) for c in COLUMNS[:2]}, index=index)
    start, end = int(v.day[alive].min()), int(v.day[alive].max())
    grid = np.full((4, end - start + 1), np.nan)
    grid[v.element[alive], v.day[alive] - start] = v.value[alive]
    first = np.datetime64(start, "D")
    days = (first + np.arange(end - start + 1)).astype("M8[ns]")
    columns = {
        name: grid[k]
        for k, name in enumerate(COLUMNS)
        if k in (TMIN, TMAX) or np.isfinite(grid[k]).any()
    }
    return pd.DataFrame(columns, index=pd.DatetimeIndex(days, name="date"))
