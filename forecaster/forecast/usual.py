"""What is usual in a record of air, fitted so that a spoiled part of it counts for little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.soil.forcing import AIR_WAVE_C, AIR_WAVE_SD_C, WEATHER_SD_C
from forecaster.soil.season import harmonics

LEAST_RANGE_C = 0.5  # below it a logarithm says more than the thermometer
LEAST_DAY_SD_C = 0.8
LEAST_RANGE_SD = 0.25  # of the logarithm
WILD_C = 15.0  # departures count as no larger when the season's spread is fitted
RANGE_WAVE_SD, RANGE_NOISE_SD = 0.3, 1.0  # of the logarithm: its year, its days
ROUNDS = 3
ENOUGH, ENOUGH_TO_FIT = 1000, 1800  # days, spread evenly: of neighbours each says little new
WILD_SDS = 2.5  # a day so far off counts half: Cauchy's weights
MAD_TO_SD = 1.4826  # of a normal distribution
ABS_TO_SD = float(np.sqrt(np.pi / 2.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """A record against its own usual year.

    Parameters
    ----------
    day : (n,) array of int
        Days since 1970-01-01.
    mean_c : (n,) array
        The day's mean, NaN where unknown.
    wave_c, sd_c : (n,) arrays
        What is usual on the day, and the spread of days about it.
    year_c : (5,) array
        The wave's coefficients, as `harmonics` has them.
    range_log : (n,) array or None
        Logarithm of the day's range over what is usual on the day.
    range_sd : float
        Spread of `range_log`.
    range_shares_c : (float, float, float) or None
        The day's range that 10, 50 and 90 % of the days stay below, °C.
    """

    day: Ints
    mean_c: Floats
    wave_c: Floats
    sd_c: Floats
    year_c: Floats
    range_log: Floats | None
    range_sd: float
    range_shares_c: tuple[float, float, float] | None = None

    @property
    def off_c(self) -> Floats:
        """The days' departures from the usual, °C."""
        return self.mean_c - self.wave_c


def usual_of(day: Ints, mean_c: Floats, range_c: Floats | None, latitude_deg: float) -> Usual:
    """Return a record's usual year; where a year is not full, the latitude says how it swings.

    Parameters
    ----------
    day : (n,) array
        Days since 1970-01-01, without a gap.
    mean_c, range_c : (n,) arrays
        The day's mean and range, NaN where unknown; °C.
    latitude_deg : float
        Degrees north.
    """
    columns = harmonics(day)
    swing = np.array([0.0, *AIR_WAVE_C, 0.0, 0.0]) * np.sin(np.radians(latitude_deg))
    ridge = np.concatenate([[1e-9], (WEATHER_SD_C / np.array(AIR_WAVE_SD_C)) ** 2])
    year_c = _fit(columns, mean_c, ridge, swing)
    wave_c = columns @ year_c
    size = np.minimum(np.abs(mean_c - wave_c), WILD_C)
    known = np.isfinite(size)
    narrow = columns[:, :3]
    held = narrow[known]
    spread = narrow @ np.linalg.solve(held.T @ held + 1e-9 * np.eye(3), held.T @ size[known])
    sd_c = np.maximum(ABS_TO_SD * spread, LEAST_DAY_SD_C)
    if range_c is None or not np.isfinite(range_c).any():
        return Usual(
            day=day,
            mean_c=mean_c,
            wave_c=wave_c,
            sd_c=sd_c,
            year_c=year_c,
            range_log=None,
            range_sd=LEAST_RANGE_SD,
        )
    log = np.log(np.maximum(range_c, LEAST_RANGE_C))
    ridge = np.array([1e-9, *[(RANGE_NOISE_SD / RANGE_WAVE_SD) ** 2] * 4])
    log = log - columns @ _fit(columns, log, ridge, np.zeros(5))
    sd = max(_robust_sd(log[np.isfinite(log)]), LEAST_RANGE_SD)
    low_c, middle_c, high_c = np.quantile(range_c[np.isfinite(range_c)], [0.1, 0.5, 0.9])
    shares_c = (float(low_c), float(middle_c), float(high_c))
    return Usual(
        day=day,
        mean_c=mean_c,
        wave_c=wave_c,
        sd_c=sd_c,
        year_c=year_c,
        range_log=log,
        range_sd=sd,
        range_shares_c=shares_c,
    )


def _robust_sd(off: Floats) -> float:
    """Return a spread that wild days do not move, from a thousand of them."""
    some = off[:: max(off.size // ENOUGH, 1)]
    return MAD_TO_SD * float(np.median(np.abs(some)))


def _fit(columns: Floats, values: Floats, ridge: Floats, expected: Floats) -> Floats:
    """Return a yearly wave by least squares reweighted so that wild days count little."""
    known = np.flatnonzero(np.isfinite(values))
    known = known[:: max(known.size // ENOUGH_TO_FIT, 1)]
    rows = np.ascontiguousarray(columns[known].T)
    y = values[known] - expected @ rows
    left: Floats = np.asarray(y)
    moved, wild = np.zeros(expected.size), np.inf
    for _ in range(ROUNDS):
        weighed = rows / (1.0 + (left / wild) ** 2)
        moved = np.asarray(
            np.linalg.solve(weighed @ rows.T + np.diag(ridge), weighed @ y), dtype=np.float64
        )
        left = y - moved @ rows
        wild = WILD_SDS * (_robust_sd(left) + 1e-6)
    return np.asarray(expected + moved)
