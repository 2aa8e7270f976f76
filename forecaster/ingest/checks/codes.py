"""A number written for a missing value, though a thermometer could show it: −17.8, −10, 99.9.

Codes that no place has fall away by themselves. Others are told by how often one exact number
comes beside its neighbours, and by how seldom it suits the month it stands in.
"""

from __future__ import annotations

import numpy as np

from forecaster.ground.arrays import Bools, Floats, Ints

LEAST_TIMES = 10
TIMES_ITS_NEIGHBOURS = 5.0
NEIGHBOURS_C = 1.5
"""On 92 true records, also rounded to whole °C or °F, no number but one in the right season comes
so often beside its neighbours; rare extremes in whole degrees come up to 8 times."""
ALIEN_SHARE, ALIEN_SDS = 0.2, 3.0
LEAST_SD_C = 1.5
MAD_TO_SD = 1.4826
LEAST_VALUES = 60
MOST_SHARE = 0.5  # what stands on most days is no code but a column filled in


def missing_codes(day: Ints, value: Floats) -> Bools:
    """Mark values that stand for a missing one.

    Parameters
    ----------
    day : (n,) array of int
        Days since 1970-01-01.
    value : (n,) array
        One element's values, °C.

    Returns
    -------
    (n,) array of bool
        Every occurrence of a number that comes ten times or more, five times as often as its
        neighbours within 1.5 °C, and in one of five more than three standard deviations from
        its month's median.
    """
    number, which, often = _frequent(value)
    if value.size < LEAST_VALUES or not often.size:
        return np.zeros(value.size, dtype=np.bool_)
    times = np.bincount(which, minlength=number.size)
    often = often[times[often] <= MOST_SHARE * value.size]
    share = np.bincount(which, weights=_alien(day, value), minlength=number.size) / times
    return np.asarray(np.isin(which, often[share[often] >= ALIEN_SHARE]))


def twin_codes(value: Floats) -> Bools:
    """Mark values of days whose minimum and maximum are one number, where it stands for none.

    Parameters
    ----------
    value : (n,) array
        The number of each such day, °C. Days of one temperature are rare, and spread out.
    """
    _, which, often = _frequent(value)
    return np.asarray(np.isin(which, often))


def _frequent(value: Floats) -> tuple[Floats, Ints, Ints]:
    """Return the numbers, which of them each value is, and which come oddly often."""
    number, which, times = np.unique(np.round(value, 2), return_inverse=True, return_counts=True)
    often = np.flatnonzero(times >= LEAST_TIMES)
    low = np.searchsorted(number, number[often] - NEIGHBOURS_C)
    high = np.searchsorted(number, number[often] + NEIGHBOURS_C, side="right")
    total = np.concatenate([[0], np.cumsum(times)])
    beside = (total[high] - total[low] - times[often]) / np.maximum(high - low - 1, 1)
    return number, which, often[times[often] >= TIMES_ITS_NEIGHBOURS * np.maximum(beside, 1.0)]


def _alien(day: Ints, value: Floats) -> Bools:
    """Mark values far from what is usual in their month."""
    month = day.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12
    alien = np.zeros(value.size, dtype=np.bool_)
    for each in range(12):
        here = month == each
        if here.any():
            off = np.abs(value[here] - np.median(value[here]))
            sd = max(MAD_TO_SD * float(np.median(off)), LEAST_SD_C)
            alien[here] = off > ALIEN_SDS * sd
    return alien
