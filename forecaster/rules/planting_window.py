"""From the chance of each planting day to a window: opens, best, best until, possible until.

The chance of a day is the share of members in which a planting on it goes well. The window is
the stretch of days, most of it in the season asked about, on which that chance is at least
even; where it nowhere gets near that, at least nine tenths of the most that there is. A day on
which a young plant meets a frost that kills it more often than is accepted is no day of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Floats
from forecaster.rules.planting import (
    HOT_ROOTS,
    LESS_HARVEST,
    OTHER_SEASON,
    WELL,
    YOUNG_FROST,
    Outcome,
)

EVEN = 0.5
NEAR_MOST = 0.9  # share of the most that makes a window where even odds are out of reach
SAFEST = 1.15  # where no day is as safe from frost as is accepted, so many times the least
ABOUT_BEST = 0.95
LIKELY, UNLIKELY = 0.8, 0.2
SMOOTH_DAYS = 7  # the chance of a day is the mean over so many days: members are few


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantingDays:
    """The days of planting of a season, as places among the days planted: it begins with them.

    Parameters
    ----------
    last : int
        A window begins on this one or before.
    until : int
        A window that has begun may go on to here.
    best_to : int
        Up to here a planting can be the season's best; later ones are possible only.
    ripe_from : int or None
        Day before which a harvest belongs to another season.
    keeps_bearing : bool
        The season's plantings bear until frost, so a later one bears less: worth it while it
        bears `bearing_share` of the most.
    """

    last: int
    until: int
    best_to: int
    ripe_from: int | None = None
    keeps_bearing: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Accepted risk and levels by which a window is read off the chances.

    Parameters
    ----------
    risk : float
        Share of members with a frost that kills the young plants, that is accepted.
    level : float
        Chance from which a day is one of the window.
    never_below : float
        Where no day of the season has this chance there is no window.
    bearing_share : float
        Share of the longest bearing that makes a spring planting worth it.
    """

    risk: float
    level: float = EVEN
    never_below: float = 0.25
    bearing_share: float = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """Chances by planting day, (k,) arrays from 0 to 1, and the reasons against.

    Parameters
    ----------
    well, possible : (k,) array
        That a planting goes well; that it gets where it is wanted at all.
    frost : (k,) array
        That a frost kills it while it is young.
    safe : (k,) array of bool
        Where that is as rare as is accepted.
    why : (members, k) array of int
        As `Outcome.why`.
    """

    well: Floats
    possible: Floats
    frost: Floats
    safe: Bools
    why: NDArray[np.int8]

    def reason(self, day: int) -> int:
        """Return why most plantings on a day that do not go well do not."""
        if not 0 <= day < self.well.size:
            return WELL
        if not self.safe[day]:
            return YOUNG_FROST
        failed = np.bincount(self.why[:, day], minlength=HOT_ROOTS + 1)
        failed[WELL] = 0
        return int(failed.argmax())


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantingWindow:
    """A window in places among the days planted; None where there is no such day.

    Parameters
    ----------
    opens, best, closes, possible_until : int
        In this order. `closes` is the last day that is worth it.
    opens_early, opens_late, closes_early, closes_late : int or None
        Days at whose ends the chance passes 1 in 5 and 4 in 5: the window of the bold and
        that of the careful.
    open_ended : bool
        No closing day is needed: nothing but the next season ends it.
    chance : float
        Of the best day.
    opens_because, closes_because : int
        The reason against planting earlier and later; `WELL` where only the season binds.
    """

    opens: int
    best: int
    closes: int
    possible_until: int
    opens_early: int | None
    opens_late: int | None
    closes_early: int | None
    closes_late: int | None
    open_ended: bool
    chance: float
    opens_because: int
    closes_because: int


def chances(found: Outcome, season: PlantingDays, reading: Reading, step: int) -> Chances:
    """Return the chances of each planting day for one season.

    Parameters
    ----------
    found : Outcome
    season : PlantingDays
    reading : Reading
    step : int
        Days between the days planted.
    """
    why = found.why.copy()
    if season.keeps_bearing:
        _bears_less(found, season, reading, why, step)
    possible = found.possible
    if season.ripe_from is not None:
        early = found.ripe < season.ripe_from
        why[early & (why == WELL)] = OTHER_SEASON
        possible = possible & ~early
    well, may, frost = (
        _smooth(share.mean(axis=0), step) for share in (why == WELL, possible, found.young_frost)
    )
    inside = np.zeros(frost.size, dtype=bool)
    inside[: season.last + 1] = True
    inside &= well >= reading.never_below
    least = SAFEST * frost[inside].min() if inside.any() else 0.0
    return Chances(
        well=well,
        possible=may,
        frost=frost,
        safe=frost <= max(reading.risk, least),
        why=why,
    )


def planting_window(
    chance: Chances,
    season: PlantingDays,
    reading: Reading,
    *,
    from_day: int = 0,
    advised: int | None = None,
) -> PlantingWindow | None:
    """Return the window of a season, or None where a planting hardly ever goes well.

    Parameters
    ----------
    chance : Chances
    season : PlantingDays
    reading : Reading
    from_day : int
        The best day is none before this one, if the window is not over by then: today, or
        when the soil itself is right.
    advised : int, optional
        Place of the day from which the soil is as advised: the best day is that one, within the
        window, and not the first that is about as sure as it can be.
    """
    well = np.where(chance.safe, chance.well, 0.0)
    well[season.best_to + 1 :] = 0.0
    top = float(well[: season.last + 1].max(initial=0.0))
    if top < reading.never_below:
        return None
    level = min(reading.level, NEAR_MOST * top)
    opens, closes = _longest(well, level, season)
    part = well[opens : closes + 1]
    left = min(max(from_day, opens), closes)
    rest = well[left : closes + 1]
    best = left + int(np.argmax(rest >= ABOUT_BEST * rest.max()))
    if advised is not None:
        best = min(max(left, advised), closes)
    may = np.where(chance.safe, chance.possible, 0.0)
    until = _run_end(may, closes, level, season.until)
    likely = np.flatnonzero(part >= LIKELY)
    because = chance.reason(closes + 1) if closes < season.best_to else WELL
    ended = closes >= season.until or (because == HOT_ROOTS and closes > season.last)
    return PlantingWindow(
        opens=opens,
        best=best,
        closes=closes,
        possible_until=until,
        opens_early=_run_start(well, opens, UNLIKELY),
        opens_late=opens + int(likely[0]) if likely.size else None,
        closes_early=opens + int(likely[-1]) if likely.size else None,
        closes_late=_run_end(well, closes, UNLIKELY, season.best_to),
        open_ended=bool(ended),
        chance=float(well[best]),
        opens_because=chance.reason(opens - 1) if opens > 0 else WELL,
        closes_because=because,
    )


def _longest(well: Floats, level: float, season: PlantingDays) -> tuple[int, int]:
    """Return the ends of the stretch at or above a level that holds most chance in season."""
    high = np.concatenate([[False], well >= level, [False]])
    starts = np.flatnonzero(high[1:] & ~high[:-1])
    ends = np.flatnonzero(~high[1:] & high[:-1]) - 1
    total = np.concatenate([[0.0], np.cumsum(well)])
    inside = np.minimum(ends, season.last) + 1
    worth = np.where(starts <= season.last, total[inside] - total[np.minimum(starts, inside)], -1.0)
    best = int(worth.argmax())
    return int(starts[best]), int(ends[best])


def _bears_less(
    found: Outcome,
    season: PlantingDays,
    reading: Reading,
    why: NDArray[np.int8],
    step: int,
) -> None:
    """Write which plantings bear too much less than the season's longest bearing ones."""
    bears = _smooth((found.bears_days * found.possible).mean(axis=0), step)
    part = bears[: season.last + 1]
    if part.max(initial=0.0) <= 0.0:
        return
    longest = int(part.argmax())
    less = bears < reading.bearing_share * part.max()
    less[: longest + 1] = False
    why[:, less] = np.where(why[:, less] == WELL, LESS_HARVEST, why[:, less])


def _smooth(share: Floats, step: int) -> Floats:
    """Return the mean over the days around each, as many as there are at the ends."""
    half = SMOOTH_DAYS // 2 // step
    if not half:
        return share
    kernel = np.ones(2 * half + 1)
    whole = np.convolve(np.ones(share.size), kernel, "same")
    return np.asarray(np.convolve(share, kernel, "same") / whole)


def _run_end(share: Floats, start: int, level: float, last: int) -> int:
    """Return the last day from a start on to which a share stays at or above a level."""
    low = np.flatnonzero(share[start : last + 1] < level)
    return start + int(low[0]) - 1 if low.size and low[0] > 0 else (start if low.size else last)


def _run_start(share: Floats, end: int, level: float) -> int:
    """Return the first day back from an end from which on a share is at or above a level."""
    low = np.flatnonzero(share[: end + 1] < level)
    return min(int(low[-1]) + 1, end) if low.size else 0
