"""When sown seed comes up: published days to emergence as a daily rate, summed over the soil."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.errors import InputError
from forecaster.rules.crossings import NEVER


class Rate(Protocol):
    """How fast seed comes up, by the temperature of its soil."""

    def rate(self, temp_c: Floats) -> Floats:
        """Return the share of the way to emergence that a day at a temperature makes, 1/day."""
        ...

    def __hash__(self) -> int:
        """Return what tells it from others."""
        ...


ROUNDING = 1e-9  # so that n days of rate 1/n make one
NONE_ABOVE_C = 10.0  # a seed bed so much hotter than the best brings none up; no source


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

        The rate, 1/days, is a straight line between neighbouring temperatures that were tried,
        0 where none came up. Past the last that was tried it does not break off: towards the
        cold the line of the last two goes on down to 0, towards the heat it falls to 0 over
        as much as parts the last two temperatures.

        Parameters
        ----------
        temp_c : (...) array
            Mean of the day, °C.

        Returns
        -------
        (...) array, 1/day
        """
        temp, rate = _closed(self.temp_c, self.days)
        return np.interp(temp_c, temp, rate, left=0.0, right=0.0)


@dataclass(frozen=True, slots=True)
class HeatSum:
    """Emergence by a heat sum above a base, for seed of which no table of days is known.

    Parameters
    ----------
    base_c, sum_c_d : float
        °C, and °C·d from sowing until half have come up.
    most_c : float
        From here on it comes up no faster, °C; none does 10 °C above.
    basis, source : str
    """

    base_c: float
    sum_c_d: float
    most_c: float
    basis: str
    source: str

    def __post_init__(self) -> None:
        """Refuse what is no heat sum."""
        if not (self.sum_c_d > 0.0 and self.most_c > self.base_c):
            raise InputError(
                f"{self.sum_c_d:g} °C·d above {self.base_c:g} and below {self.most_c:g} °C "
                "is no heat sum"
            )

    def rate(self, temp_c: Floats) -> Floats:
        """Return the share of the way to emergence that a day at a temperature makes, 1/day."""
        most = (self.most_c - self.base_c) / self.sum_c_d
        at = (self.base_c, self.most_c, self.most_c + NONE_ABOVE_C)
        return np.interp(temp_c, at, (0.0, most, 0.0))


def _closed(temp_c: tuple[float, ...], days: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Return temperatures and rates of a table, both ends brought down to 0."""
    tried = np.isfinite(np.array(days)) | np.isinf(np.array(days))
    temp, rate = np.array(temp_c)[tried], 1.0 / np.array(days)[tried]
    if rate.size < 2:
        return temp, rate
    if rate[0] > 0.0:
        slope = (rate[1] - rate[0]) / (temp[1] - temp[0])
        base = temp[0] - rate[0] / slope if slope > 0.0 else temp[0] - (temp[1] - temp[0])
        temp, rate = np.append(base, temp), np.append(0.0, rate)
    if rate[-1] > 0.0:
        temp, rate = np.append(temp, 2.0 * temp[-1] - temp[-2]), np.append(rate, 0.0)
    return temp, rate


def emergence_index(soil_c: Floats, sown: int, table: Rate) -> Ints:
    """Return the day on which seed sown on a day comes up, −1 for not within the days given.

    Parameters
    ----------
    soil_c : (..., n) array
        Daily means at sowing depth, °C.
    sown : int
        Day of sowing; the next day is the first that counts.
    table : Emergence or HeatSum

    Returns
    -------
    (...) array of int
    """
    way = np.cumsum(table.rate(soil_c[..., sown + 1 :]), axis=-1)
    if way.shape[-1] == 0:
        return np.full(way.shape[:-1], NEVER)
    there = way >= 1.0 - ROUNDING
    return np.where(there.any(axis=-1), sown + 1 + there.argmax(axis=-1), NEVER)
