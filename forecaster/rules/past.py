"""Past seasons of a daily soil record: when each one settled, where it is known well enough."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.rules.crossings import NEVER, Direction, crossing_index
from forecaster.rules.season import Season

LEAST_SEASONS = 5  # fewer say nothing of a median, a middle 80 %, or of 8 in 10
LEAST_KNOWN = 0.9  # share of a season's days that must have been read
LONGEST_BRIDGE_DAYS = 5  # a longer gap is not interpolated


@dataclass(frozen=True, slots=True)
class PastSeason:
    """One season and what came true in it.

    Parameters
    ----------
    year : int
        Year in which it starts.
    start : datetime64[D]
        First day.
    days : int
        Days from the first to the last.
    index : int
        Settled day counted from the first; 0 if it began past the threshold, −1 for never.
    """

    year: int
    start: np.datetime64
    days: int
    index: int

    @property
    def end(self) -> np.datetime64:
        """Last day."""
        last: np.datetime64 = self.start + np.timedelta64(self.days, "D")
        return last

    @property
    def censored(self) -> int:
        """Settled day counted from the first; the last day stands for never."""
        return self.days if self.index == NEVER else self.index

    @property
    def crossed(self) -> bool:
        """Whether it crossed after its first day."""
        return self.index > 0


def past_seasons(
    day: Ints,
    soil_c: Floats,
    season: Season,
    threshold_c: float,
    direction: Direction,
) -> list[PastSeason]:
    """Return the seasons of a record that are known well enough, in order.

    Known well enough: nine days in ten have a value and no gap is longer than five days;
    shorter ones are interpolated.

    Parameters
    ----------
    day : (n,) array of int
        Days since 1970-01-01, without a gap.
    soil_c : (n,) array
        Daily means, °C, NaN where unknown.
    season : Season
    threshold_c : float
        °C.
    direction : {"falling", "rising"}
    """
    whole = bridge_short(soil_c, LONGEST_BRIDGE_DAYS)
    first, last = (np.datetime64(int(day[at]), "D") for at in (0, -1))
    found = []
    for year in range(int(str(first)[:4]) - 1, int(str(last)[:4]) + 1):
        start = season.start(year)
        begin = int((start - first).astype(int))
        inside = slice(begin, begin + season.days + 1)
        if begin < 0 or start + season.days > last or np.isnan(whole[inside]).any():
            continue
        if np.isfinite(soil_c[inside]).mean() < LEAST_KNOWN:
            continue
        index = int(crossing_index(whole[inside], threshold_c, direction))
        found.append(PastSeason(year, start, season.days, index))
    return found


def bridge_short(values: Floats, longest_days: int) -> Floats:
    """Return a record with its short gaps interpolated linearly, the long ones left.

    A gap at either end of the record has one neighbour only and stays.
    """
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 2:  # nothing to interpolate between
        return values.copy()
    index = np.arange(values.size)
    at = np.searchsorted(known, index)
    before = known[np.clip(at - 1, 0, known.size - 1)]
    after = known[np.clip(at, 0, known.size - 1)]
    inside = (index > known[0]) & (index < known[-1])
    short = inside & (after - before - 1 <= longest_days) & ~np.isfinite(values)
    result = values.copy()
    result[short] = np.interp(index[short], known, values[known])
    return result
