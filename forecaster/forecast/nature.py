"""Whether a whole record of air is what it is taken for: air, with its extremes, at its dates.

Each check is pure, and its limits stand between 92 true records (70 stations of the US Climate
Reference Network, 13 of Met Éireann's, and others) and the same records spoiled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecaster.forecast.air_map import Expected
from forecaster.forecast.usual import Usual
from forecaster.ground.arrays import Floats
from forecaster.soil.season import DAYS_PER_YEAR

LEAST_STEPS = 200
SOIL_REMEMBERS, SOIL_STEP_C, SOIL_SWING_C = 0.84, 1.9, 3.0
"""How much of a day's departure stays to the next, the step between, and the year's swing. At
10 cm soil has 0.86 or more and 1.4 °C or less; air as still as that has 0.82 or less (Yuma)."""
ALIKE, HALVED_RANGE_C, UNEVEN_RANGE = 0.5, 9.5, 2.4
"""Correlation of the extremes' steps, the typical range, and its 90 % over its 10 %. The mean in
the maximum's column moves half with the minimum and halves the range. Of 92 true records none has
all three; of 76 spoiled ones all but nine from deserts, whose range is even."""
MEAN_LIES = (0.25, 0.75)
"""Where the day's mean lies between its extremes; true records 0.38 to 0.56."""
CLEAREST = 0.77
"""Of the sun above the atmosphere on a clear day [Allen et al. 1998, eq. 37: 0.75 + 2e-5 z]."""
KRS = 0.16  # of the range's root in the clearness [Allen et al. 1998, eq. 50]
EARLIEST_DAY, LATEST_DAY, LATEST_SEA_DAY = 188.0, 220.0, 240.0
"""Day of the year of the wave's top, north: true records 193 to 218 where the year swings by
7 °C or more; by the sea it lies later [from memory: Sitka 221, San Francisco in September]."""
INLAND_SWING_C, SEA_SWING_C = 7.0, 4.0
EARLY_FROM_DEG = 37.0  # nearer the equator the rains may bring the top forward
SOUTH_DAYS = DAYS_PER_YEAR / 2.0
PHASE_SD_DAYS = 4.5  # of one year's wave
TROPICS_DEG = 24.0
WHOLE_YEAR_DAYS = 330
OFF_MAP_C, LEAST_MAP_SD_C, YEAR_SD_C = 0.6, 0.7, 0.8
"""Of a yearly mean beyond the map's, more than the map's own spread; and one year's own. Left out
one by one, 2 of 79 stations lie beyond; of records 4 °C warmer 82 %, 6.5 °C colder 86 %."""
OFF_MAP_RANGE = 0.25
"""Of the range's logarithm, more than the map's own spread: 1 of 79 left out lies beyond."""


@dataclass(frozen=True, slots=True)
class Nature:
    """What a whole record looks like, other than what it is taken for.

    Parameters
    ----------
    what : str
        ``soil``, ``mean as maximum``, ``mean as minimum``, ``sun``, ``late``, ``early``, ``warm``,
        ``cold``, ``wide`` or ``narrow``.
    size : float
        What was measured: a step, a range, a yearly mean, °C; days.
    usual : float
        What it should be, where that is known.
    """

    what: str
    size: float
    usual: float = float("nan")


def looks_like_soil(usual: Usual) -> Nature | None:
    """Tell soil from air by its memory: ground passes on nearly all of a day's departure."""
    off = usual.off_c
    step = np.diff(off)
    step = step[np.isfinite(step)]
    if step.size < LEAST_STEPS:
        return None
    sd = float(np.sqrt(np.mean(step**2)))
    variance = float(np.nanmean(off**2))
    memory = 1.0 - sd**2 / (2.0 * variance) if variance > 0.0 else 0.0
    swing = float(np.hypot(usual.year_c[1], usual.year_c[2]))
    if memory > SOIL_REMEMBERS and sd < SOIL_STEP_C and swing > SOIL_SWING_C:
        return Nature("soil", sd)
    return None


def misplaced_mean(usual: Usual, least: Floats, most: Floats, mean: Floats | None) -> Nature | None:
    """Tell the day's mean in the place of an extreme.

    Parameters
    ----------
    usual : Usual
    least, most : (n,) arrays
        Minimum and maximum as read, °C.
    mean : (n,) array or None
        The true mean, where the record has it: then it says so by itself.
    """
    if usual.range_shares_c is None:
        return None
    if mean is not None:
        spread = most - least
        share = (mean - least)[spread > 1.0] / spread[spread > 1.0]
        share = share[np.isfinite(share)]
        lies = float(np.median(share)) if share.size >= LEAST_STEPS else 0.5
        if lies > MEAN_LIES[1]:
            return Nature("mean as maximum", lies)
        return Nature("mean as minimum", lies) if lies < MEAN_LIES[0] else None
    low_range, middle, high_range = usual.range_shares_c
    low, high = np.diff(least), np.diff(most)
    known = np.isfinite(low) & np.isfinite(high)
    even = high_range <= UNEVEN_RANGE * low_range
    if known.sum() < LEAST_STEPS or middle >= HALVED_RANGE_C or even:
        return None
    low, high = low[known], high[known]
    if min(float(low.std()), float(high.std())) == 0.0:
        return None
    alike = float(np.corrcoef(low, high)[0, 1])
    return Nature("mean as maximum", middle) if alike > ALIKE else None


def in_the_sun(usual: Usual) -> Nature | None:
    """Tell a range that asks for more sun than a clear sky lets through."""
    if usual.range_shares_c is None:
        return None
    middle = usual.range_shares_c[1]
    return Nature("sun", middle) if KRS * np.sqrt(middle) > CLEAREST else None


def shifted_year(usual: Usual, latitude_deg: float) -> Nature | None:
    """Tell dates that lie a month off by the day on which the year is warmest."""
    years = usual.day.size / DAYS_PER_YEAR
    if abs(latitude_deg) < TROPICS_DEG or years < 0.9:
        return None
    turn = np.arctan2(usual.year_c[2], usual.year_c[1]) / (2.0 * np.pi)
    top = float(turn * DAYS_PER_YEAR + (0.0 if latitude_deg > 0.0 else SOUTH_DAYS)) % DAYS_PER_YEAR
    swing = float(np.hypot(usual.year_c[1], usual.year_c[2]))
    unsure = 2.0 * PHASE_SD_DAYS / np.sqrt(years)
    latest = float(np.interp(swing, (SEA_SWING_C, INLAND_SWING_C), (LATEST_SEA_DAY, LATEST_DAY)))
    if top > latest + unsure:
        return Nature("late", top - latest)
    if abs(latitude_deg) > EARLY_FROM_DEG and top < EARLIEST_DAY - unsure:
        return Nature("early", EARLIEST_DAY - top)
    return None


def off_the_map(usual: Usual, expected: Expected) -> list[Nature]:
    """Tell a record whose yearly mean or range is not that of the stations around."""
    known = int(np.isfinite(usual.mean_c).sum())
    if known < WHOLE_YEAR_DAYS:
        return []
    found = []
    mean_c = float(usual.year_c[0])
    limit_c = (
        OFF_MAP_C + max(expected.sd_c, LEAST_MAP_SD_C) + YEAR_SD_C / np.sqrt(known / DAYS_PER_YEAR)
    )
    if mean_c > expected.high_c + limit_c:
        found.append(Nature("warm", mean_c, expected.high_c))
    if mean_c < expected.low_c - limit_c:
        found.append(Nature("cold", mean_c, expected.low_c))
    if usual.range_shares_c is None:
        return found
    middle = max(usual.range_shares_c[1], 0.1)
    ratio = float(np.log(middle / expected.range_c))
    if abs(ratio) > OFF_MAP_RANGE + expected.range_sd:
        found.append(Nature("wide" if ratio > 0.0 else "narrow", middle, expected.range_c))
    return found
