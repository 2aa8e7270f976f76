"""When sown seed comes up: published days to emergence as a daily rate, summed over the soil."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecaster.errors import InputError
from forecaster.rules.crossings import NEVER

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROUNDING = 1e-9  # so that n days of rate 1/n make one


@dataclass(frozen=True, slots=True)
class Emergence:
    """Days from sowing to emergence at steady temperatures.

    Parameters
    ----------
    temp_c : tuple of float
        Temperatures of the trials, °C, rising.
    days : tuple of float
        Days to emergence; infinity where none came up, NaN where it was not tried.
    depth_m : float
        Depth of sowing in the trials, m.
    basis, source : str
        How well it is known, and from where.

    Raises
    ------
    InputError
        If the temperatures do not rise, or the two differ in number.
    """

    temp_c: tuple[float, ...]
    days: tuple[float, ...]
    depth_m: float
    basis: str
    source: str

    def __post_init__(self) -> None:
        """Refuse a table that cannot be read as one."""
        if len(self.temp_c) != len(self.days) or (np.diff(self.temp_c) <= 0.0).any():
            raise InputError("a table of emergence needs rising temperatures, one figure for each")
        if any(figure <= 0.0 for figure in self.days):
            raise InputError("days to emergence are more than 0")

    def rate(self, temp_c: Floats) -> Floats:
        """Return the share of the way to emergence that a day at a temperature makes.

        The rate, 1/days, is interpolated between neighbouring temperatures that were tried.
        Beyond them, and next to one that was not tried, nothing is known: the rate is 0.

        Parameters
        ----------
        temp_c : (...) array
            Mean of the day, °C.

        Returns
        -------
        (...) array, 1/day
        """
        soil = np.asarray(temp_c, dtype=float)
        rate = np.zeros(soil.shape)
        known = 1.0 / np.array(self.days)
        for j in range(len(known)):
            at = np.abs(soil - self.temp_c[j]) < ROUNDING
            if np.isfinite(known[j]):
                rate[at] = known[j]
            if j + 1 == len(known) or not np.isfinite(known[j : j + 2]).all():
                continue
            inside = (soil > self.temp_c[j]) & (soil < self.temp_c[j + 1]) & ~at
            rate[inside] = np.interp(soil[inside], self.temp_c[j : j + 2], known[j : j + 2])
        return rate


def emergence_index(soil_c: Floats, sown: int, table: Emergence) -> Ints:
    """Return the day on which seed sown on a day comes up, −1 for not within the days given.

    Parameters
    ----------
    soil_c : (..., n) array
        Daily means at sowing depth, °C.
    sown : int
        Day of sowing; the next day is the first that counts.
    table : Emergence

    Returns
    -------
    (...) array of int
    """
    way = np.cumsum(table.rate(soil_c[..., sown + 1 :]), axis=-1)
    if way.shape[-1] == 0:
        return np.full(way.shape[:-1], NEVER)
    there = way >= 1.0 - ROUNDING
    return np.where(there.any(axis=-1), sown + 1 + there.argmax(axis=-1), NEVER)
