"""The members' days as plantings meet them: soil, air, frost and heat, summed once for all.

Sums, next frosts, next hot spells and thermal time are worked out once for each figure that is
asked for and kept, since many crops share them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Floats, Ints

BED_MEAN_DAYS = 5  # the soil of a planting day is the mean of the five days around it
HOT_SPELL_DAYS = 14  # heat that ends a harvest is a fortnight's mean, not a day's
ROUNDING = 1e-9  # so that n days of 1/n make one


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowingDays:
    """Joint draws of the days around a planting.

    Parameters
    ----------
    soil_c, seedbed_c : (members, n) array
        Daily means of the soil at planting depth and at sowing depth, °C.
    least_c, most_c, air_c : (members, n) array
        Daily minima of the air at the bed, maxima and means, °C.
    light_h : (n,) array
        Hours from sunrise to sunset.
    """

    soil_c: Floats
    seedbed_c: Floats
    least_c: Floats
    most_c: Floats
    air_c: Floats
    light_h: Floats
    _kept: dict[Hashable, NDArray[Any]] = field(default_factory=dict, repr=False, compare=False)

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

        def found() -> Floats:
            day, half = np.arange(self.days), BED_MEAN_DAYS // 2
            first = np.maximum(day - half, 0)
            last = np.minimum(day + half, self.days - 1)
            sums = self.sums("soil")
            return np.asarray((sums[:, last + 1] - sums[:, first]) / (last + 1 - first))

        return self.keep("bed", found)

    def sums(self, what: str) -> Floats:
        """Return sums before each day of `soil`, `air` or `most`, (members, n + 1), °C·d."""
        return self.way(what, lambda: getattr(self, f"{what}_c"))

    def way(self, key: Hashable, rate: Callable[[], Floats]) -> Floats:
        """Return the sum of a daily rate before each day, (members, n + 1), kept by its key."""

        def found() -> Floats:
            total = np.zeros((self.members, self.days + 1))
            np.cumsum(rate(), axis=1, out=total[:, 1:])
            return total

        return self.keep(("way", key), found)

    def next_frost(self, least_c: float) -> Ints:
        """Return the first day, from each day on, with a minimum below a temperature.

        (members, n + 1) array of int; n for none within the days.
        """
        return self.keep(("frost", least_c), lambda: _next(self.least_c < least_c))

    def next_heat(self, most_c: float) -> Ints:
        """Return the first day, from each day on, that begins a fortnight hotter than that.

        (members, n + 1) array of int; n for none.
        """

        def found() -> Ints:
            day = np.arange(self.days)
            last = np.minimum(day + HOT_SPELL_DAYS, self.days)
            sums = self.sums("air")
            return _next((sums[:, last] - sums[:, day]) / (last - day) > most_c)

        return self.keep(("heat", most_c), found)

    def keep(self, key: Hashable, make: Callable[[], NDArray[Any]]) -> NDArray[Any]:
        """Return what was made for a key, made now if it is asked for the first time."""
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
        Days on which it begins, 0 to n.
    needed : float
        More than 0.

    Returns
    -------
    (members, k) array of int
        n where it is not reached within the days.
    """
    target = (way[:, start] if start.ndim == 1 else at(way, start)) + (needed - ROUNDING)
    found = np.empty(target.shape, dtype=np.int64)
    for row in range(way.shape[0]):
        found[row] = way[row].searchsorted(target[row])
    found -= 1
    return found


def at(table: NDArray[Any], day: Ints) -> NDArray[Any]:
    """Return a table's values, (members, n + 1), on each member's own days, (members, k)."""
    row = np.arange(0, table.size, table.shape[1])[:, None]
    return np.asarray(table.ravel().take(day + row))


def mean_between(sums: Floats, first: Ints, last: Ints) -> Floats:
    """Return the means from one day to another, both included, from sums before each day.

    Parameters
    ----------
    sums : (members, n + 1) array
    first, last : (members, k) array of int
        0 ≤ first ≤ last < n.
    """
    after = last + 1
    return np.asarray((at(sums, after) - at(sums, first)) / (after - first))


def _next(true: Bools) -> Ints:
    """Return the first day, from each day on, on which something is true; n for none."""
    days = true.shape[1]
    where = np.full((true.shape[0], days + 1), days)
    where[:, :days] = np.where(true, np.arange(days), days)
    return np.ascontiguousarray(np.minimum.accumulate(where[:, ::-1], axis=1)[:, ::-1])
