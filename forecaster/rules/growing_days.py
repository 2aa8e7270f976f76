"""The members' days as plantings meet them: soil, air, frost and heat, summed once for all.

Sums, next frosts, next hot spells and thermal time are worked out once for each figure that is
asked for and kept, since many crops share them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SOIL_MEAN_DAYS = 5  # the soil of a planting day is the mean of the five days around it
HOT_SPELL_DAYS = 14  # heat that ends a harvest is a fortnight's mean, not a day's
ROUNDING = 1e-9  # so that n days of 1/n make one


@dataclass(frozen=True)
class GrowingDays:
    """Joint draws of the days around a planting.

    Parameters
    ----------
    soil_c, tmin_c, tmax_c, air_c : (members, n) array
        Daily means of the soil at planting depth; the air's minima at the bed, maxima and
        means, °C.
    light_h : (n,) array
        Hours from sunrise to sunset.
    seedbed_c : (members, n) array, optional
        Daily means of the soil at sowing depth, °C; by default those at planting depth.
    """

    soil_c: Floats
    tmin_c: Floats
    tmax_c: Floats
    air_c: Floats
    light_h: Floats
    seedbed_c: Floats | None = None
    _kept: dict[Hashable, NDArray[np.generic]] = field(default_factory=dict, repr=False)

    @property
    def members(self) -> int:
        """Number of draws."""
        return int(self.soil_c.shape[0])

    @property
    def days(self) -> int:
        """Number of days."""
        return int(self.soil_c.shape[1])

    def bed_c(self) -> Floats:
        """Return the soil around each day, the mean of five days, (members, n), °C."""
        half = SOIL_MEAN_DAYS // 2
        day = np.arange(self.days)
        first, last = np.maximum(day - half, 0), np.minimum(day + half, self.days - 1)
        return self._keep("bed", lambda: _mean(_sums(self.soil_c), first, last))

    def air_sums(self) -> Floats:
        """Return sums of the air's means before each day, (members, n + 1), °C·d."""
        return self._keep("air", lambda: _sums(self.air_c))

    def most_sums(self) -> Floats:
        """Return sums of the air's maxima before each day, (members, n + 1), °C·d."""
        return self._keep("most", lambda: _sums(self.tmax_c))

    def next_frost(self, least_c: float) -> Ints:
        """Return the first day, from each day on, with a minimum below a temperature.

        (members, n + 1) array of int; n for none within the days.
        """
        return self._keep(("frost", least_c), lambda: _next(self.tmin_c < least_c))

    def next_heat(self, most_c: float) -> Ints:
        """Return the first day, from each day on, that begins a fortnight hotter than that.

        (members, n + 1) array of int; n for none.
        """

        def found() -> Ints:
            day = np.arange(self.days)
            last = np.minimum(day + HOT_SPELL_DAYS - 1, self.days - 1)
            return _next(_mean(self.air_sums(), day, last) > most_c)

        return self._keep(("heat", most_c), found)

    def way(self, key: Hashable, rate: Callable[[], Floats]) -> Floats:
        """Return the sum of a daily rate before each day, (members, n + 1), kept by its key."""
        return self._keep(("way", key), lambda: _sums(rate()))

    def _keep(self, key: Hashable, make: Callable[[], NDArray[np.generic]]) -> NDArray:  # type: ignore[type-arg]
        if key not in self._kept:
            self._kept[key] = make()
        return self._kept[key]


def reached(way: Floats, start: Ints, needed: float) -> Ints:
    """Return the day by whose end a sum has grown by so much since the start of a day.

    Parameters
    ----------
    way : (members, n + 1) array
        Sums before each day, never falling.
    start : (k,) or (members, k) array of int
        Days on which it begins.
    needed : float

    Returns
    -------
    (members, k) array of int
        n where it is not reached within the days.
    """
    begin = np.broadcast_to(start, (way.shape[0], start.shape[-1]))
    target = np.take_along_axis(way, begin, axis=1) + needed - ROUNDING
    found = np.empty(target.shape, dtype=np.int64)
    for row in range(way.shape[0]):
        found[row] = np.searchsorted(way[row], target[row])
    return np.clip(found - 1, begin, way.shape[1] - 1)


def mean_between(sums: Floats, first: Ints, last: Ints) -> Floats:
    """Return the means from one day to another, both included, from sums before each day.

    Parameters
    ----------
    sums : (members, n + 1) array
    first, last : (members, k) array of int
        0 ≤ first ≤ last < n.
    """
    total = np.take_along_axis(sums, last + 1, axis=1) - np.take_along_axis(sums, first, axis=1)
    return np.asarray(total / (last + 1 - first))


def _sums(daily: Floats) -> Floats:
    total = np.zeros((daily.shape[0], daily.shape[1] + 1))
    np.cumsum(daily, axis=1, out=total[:, 1:])
    return total


def _mean(sums: Floats, first: Ints, last: Ints) -> Floats:
    return np.asarray((sums[:, last + 1] - sums[:, first]) / (last + 1 - first))


def _next(true: NDArray[np.bool_]) -> Ints:
    """Return the first day, from each day on, on which something is true; n for none."""
    days = true.shape[1]
    at = np.full((true.shape[0], days + 1), days)
    at[:, :days] = np.where(true, np.arange(days), days)
    return np.asarray(np.minimum.accumulate(at[:, ::-1], axis=1)[:, ::-1])
