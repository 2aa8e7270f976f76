"""Values that look wrong though they are possible: jumps and stuck sensors.

Soil under thawing or freezing ground stands at 0 °C for weeks (the zero curtain), so a run of
zeros is no fault by itself. It is taken for one where it is entered and left by a leap, or where
the same season is far from 0 °C otherwise.

The limits were set on 70 stations with 487,022 station-days: single days that stand out from both
neighbours by more than 20 °C in the air occur on 4 of them in either extreme, by more than 8 °C in
the soil at 5 to 20 cm on none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.ingest.account import Suspect

AIR_SPIKE_C, SOIL_SPIKE_C = 20.0, 8.0
NEAR_DAYS = 2.0
"""Values further apart are no neighbours: soil may well have changed between them."""
LEAP_C = 4.0
"""Daily soil at 5 cm leaps so far up and back on 29 station-days of 487,022."""
SEASON_C = 10.0
LONG_SOIL_DAYS, LONG_AIR_DAYS = 21.0, 12.0
SURE_DAYS = 60.0
"""At 1 m a yearly wave of 6 °C stays within 0.05 °C of its turning point for 15 days."""
LONE_AIR_LEAP_C, LONE_SOIL_LEAP_C = 15.0, 8.0
"""Leaps that give away one or two zeros; on the 70 stations no other value leaps so in the soil."""
LISTED = 20
_ZEROS = (0.0, -32 / 1.8)
"""A dead channel writes 0, in °C or in °F."""
_NS_PER_DAY = 86_400_000_000_000


@dataclass(frozen=True, slots=True)
class Run:
    """Positions of the first and last of equal values, whether they are surely wrong, and why."""

    first: int
    last: int
    sure: bool
    note: str


def stretches(days: Ints, step: int = 1) -> list[tuple[int, int]]:
    """Return (first, last) positions of runs whose values follow one another by `step`."""
    if not len(days):
        return []
    ends = np.flatnonzero(np.diff(days) > step)
    firsts = np.concatenate([[0], ends + 1])
    lasts = np.concatenate([ends, [len(days) - 1]])
    return [(int(a), int(b)) for a, b in zip(firsts, lasts, strict=True)]


def dates_text(first: int | np.int64, last: int | np.int64) -> tuple[str, str]:
    """Return two ISO dates from days since 1970."""
    return str(np.datetime64(int(first), "D")), str(np.datetime64(int(last), "D"))


def spikes(time_days: Floats, value: Floats, limit_c: float, near_days: float) -> Ints:
    """Return positions of values that stand out from both neighbours, the same way, by more."""
    if len(value) < 3:
        return np.zeros(0, dtype=np.int64)
    step = np.diff(value)
    close = np.diff(time_days) <= near_days
    out = np.minimum(np.abs(step[:-1]), np.abs(step[1:])) > limit_c
    return np.flatnonzero(out & (step[:-1] * step[1:] < 0) & close[:-1] & close[1:]) + 1


def stuck_runs(time_days: Floats, value: Floats, long_days: float, lone_leap_c: float) -> list[Run]:
    """Find runs of equal values of a sensor that has stuck.

    Parameters
    ----------
    time_days : array
        Times in days since 1970, rising.
    value : array
        Values in °C, none missing.
    long_days : float
        Days after which an unchanging value other than zero is suspect.
    lone_leap_c : float
        Leap on both sides that gives away fewer than three zeros.
    """
    n = len(value)
    if n < 3:
        return []
    change = np.flatnonzero(np.diff(value) != 0) + 1
    first = np.concatenate([[0], change])
    last = np.concatenate([change, [n]]) - 1
    lasting = time_days[last] - time_days[first]
    zeros = np.any([np.abs(value[first] - z) < 1e-6 for z in _ZEROS], axis=0)
    some = np.flatnonzero(zeros | ((last - first >= 2) & (lasting >= long_days)))
    runs = []
    coarse = is_coarse(value)
    leaps = (lone_leap_c if coarse else LEAP_C, lone_leap_c)
    for k in some:
        where = int(first[k]), int(last[k])
        run = (
            _zero_run(time_days, value, where, leaps)
            if zeros[k]
            else _long_run(value, where, float(lasting[k]), long_days * (1 + coarse))
        )
        runs += [run] if run else []
    return runs


def is_coarse(value: Floats) -> bool:
    """Whether most values are whole degrees, in °C or (rounded to 0.1 °C) in °F.

    Then 32 °F three days running is nothing strange.
    """
    fahrenheit = value * 1.8 + 32.0
    return any(
        float((np.abs(degrees - np.round(degrees)) <= slack).mean()) > 0.9
        for degrees, slack in ((value, 1e-6), (fahrenheit, 0.1))
    )


def _long_run(
    value: Floats, where: tuple[int, int], lasting: float, long_days: float
) -> Run | None:
    """Judge a run of one value that is not zero: unlikely when long, impossible for months."""
    level = float(value[where[0]])
    near_freezing = abs(level) < 4.0
    if lasting < long_days * (4 if near_freezing else 1):
        return None
    sure = lasting >= SURE_DAYS and not near_freezing
    return Run(*where, sure, f"{lasting + 1:.0f} days of exactly {level:.1f} °C")


def _zero_run(
    time_days: Floats, value: Floats, where: tuple[int, int], limits: tuple[float, float]
) -> Run | None:
    """Judge a run of zeros by how it is entered and left, and by its season.

    `limits` are the leaps that give away three or more zeros, and fewer.
    """
    i, j = where
    level = float(value[i])
    days = time_days[j] - time_days[i] + min(1.0, _step(time_days, i, j))
    leaps = [
        abs(float(value[k]) - level)
        for k, beside in ((i - 1, i), (j + 1, j))
        if 0 <= k < len(value) and abs(time_days[k] - time_days[beside]) <= NEAR_DAYS
    ]
    said = f"{days:.0f} day{'s' if days >= 1.5 else ''} of exactly {level:.1f} °C"
    if days < 0.5:
        said = f"{j - i + 1} × exactly {level:.1f} °C"
    lone = bool(j - i < 2 or days < 2.9)
    if len(leaps) == 2 and min(leaps) >= limits[lone]:
        leap = f"entered and left by leaps of {min(leaps):.0f} °C or more"
        return Run(i, j, sure=True, note=f"{said}, {leap}")
    if lone or min(leaps, default=99.0) < LEAP_C:
        return None
    usual = _season(time_days, value, i, j)
    if usual is None:
        return None
    if abs(usual - level) >= SEASON_C:
        return Run(i, j, sure=True, note=f"{said}, when {usual:.0f} °C is usual for the season")
    if leaps and abs(usual - level) >= LEAP_C:
        return Run(i, j, sure=False, note=f"{said}, beside a leap of {min(leaps):.0f} °C")
    return None


def _step(time_days: Floats, i: int, j: int) -> float:
    """Return the time between values around a run."""
    near = time_days[max(i - 1, 0) : j + 2]
    return float(near[1] - near[0]) if len(near) > 1 else 1.0


def _season(time_days: Floats, value: Floats, i: int, j: int) -> float | None:
    """Return the median of the other values within 45 days of the season, in any year."""
    middle = (time_days[i] + time_days[j]) / 2
    away = np.abs((time_days - middle + 182.625) % 365.25 - 182.625)
    near = away <= 45 + (time_days[j] - time_days[i]) / 2
    near[i : j + 1] = False
    near &= value != value[i]
    return float(np.median(value[near])) if np.count_nonzero(near) >= 10 else None


def gaps(frame: pd.DataFrame) -> tuple[int, str]:
    """Count days without a mean or both extremes, and name the longest stretch of them."""
    both = frame["tmin_c"].notna().to_numpy(copy=True) & frame["tmax_c"].notna().to_numpy()
    if "tavg_c" in frame:
        both |= frame["tavg_c"].notna().to_numpy()
    empty = np.flatnonzero(~both)
    if not len(empty):
        return 0, ""
    first, last = max(stretches(empty), key=lambda s: s[1] - s[0])
    start, end = (frame.index[empty[k]].date().isoformat() for k in (first, last))
    days = last - first + 1
    return len(empty), f"{days} day{'s' if days > 1 else ''}, {start} to {end}"


def air_runs(day: Ints, value: Floats, column: str) -> tuple[list[Suspect], Bools]:
    """Find stuck values in one column of daily air; returns suspects and what to drop."""
    time = day.astype(np.float64)
    drop = np.zeros(len(value), dtype=np.bool_)
    found = []
    for run in stuck_runs(time, value, LONG_AIR_DAYS, LONE_AIR_LEAP_C):
        drop[run.first : run.last + 1] = run.sure
        found.append(_stuck(column, *dates_text(day[run.first], day[run.last]), run))
    return _at_most(found), drop


def air_jumps(day: Ints, value: Floats, column: str) -> list[Suspect]:
    """Find days of the air that stand out from both neighbours; they are kept."""
    found = spikes(day.astype(np.float64), value, AIR_SPIKE_C, 1.0)
    return _at_most(
        [
            Suspect(
                kind="jump",
                column=column,
                first=dates_text(day[k], day[k])[0],
                last=dates_text(day[k], day[k])[1],
                values=1,
                action="kept",
                note=f"{value[k]:.1f} °C between {value[k - 1]:.1f} and {value[k + 1]:.1f} °C",
            )
            for k in found
        ]
    )


def reading_suspects(
    order: Ints, time_ns: Ints, depth_m: Floats, value: Floats
) -> tuple[list[Suspect], Ints]:
    """Find jumps and stuck values in readings, each depth by itself.

    Parameters
    ----------
    order : array of int
        Positions of the readings to judge, in order of time.
    time_ns, depth_m, value : array
        All readings.

    Returns
    -------
    suspects, drop
        What was found, and the positions of readings that are surely wrong.
    """
    found: list[Suspect] = []
    drop: list[Ints] = [np.zeros(0, dtype=np.int64)]
    deep = depth_m[order]
    for depth in np.unique(deep):
        rows = order[np.isnan(deep) if np.isnan(depth) else deep == depth]
        column = "temp_c" if np.isnan(depth) else f"temp_c at {depth:g} m"
        time = time_ns[rows] / _NS_PER_DAY
        for run in stuck_runs(time, value[rows], LONG_SOIL_DAYS, LONE_SOIL_LEAP_C):
            first, last = _times(time_ns[rows[[run.first, run.last]]])
            found.append(_stuck(column, first, last, run))
            if run.sure:
                drop.append(rows[run.first : run.last + 1])
        for k in spikes(time, value[rows], SOIL_SPIKE_C, 1.0):
            first, last = _times(time_ns[rows[[k, k]]])
            before, now, after = value[rows[k - 1 : k + 2]]
            note = f"{now:.1f} °C between {before:.1f} and {after:.1f} °C"
            found.append(
                Suspect(
                    kind="jump",
                    column=column,
                    first=first,
                    last=last,
                    values=1,
                    action="kept",
                    note=note,
                )
            )
    return _at_most(found), np.concatenate(drop)


def _times(pair: Ints) -> tuple[str, str]:
    first, last = (str(np.datetime64(int(t), "ns").astype("M8[m]")) for t in pair)
    return first, last


def _stuck(column: str, first: str, last: str, run: Run) -> Suspect:
    action = "dropped" if run.sure else "kept"
    return Suspect(
        kind="stuck",
        column=column,
        first=first,
        last=last,
        values=run.last - run.first + 1,
        action=action,
        note=run.note,
    )


def _at_most(found: list[Suspect]) -> list[Suspect]:
    """List the first of each kind and column, and the rest as one."""
    kinds: dict[tuple[str, str, str], list[Suspect]] = {}
    for suspect in found:
        kinds.setdefault((suspect.kind, suspect.column, suspect.action), []).append(suspect)
    listed: list[Suspect] = []
    for (kind, column, action), all_of in kinds.items():
        listed += all_of[:LISTED]
        rest = all_of[LISTED:]
        if rest:
            values = sum(s.values for s in rest)  # noqa: PD011
            note = f"{len(rest)} more"
            listed.append(
                Suspect(
                    kind=kind,
                    column=column,
                    first=rest[0].first,
                    last=rest[-1].last,
                    values=values,
                    action=action,
                    note=note,
                )
            )
    return listed
