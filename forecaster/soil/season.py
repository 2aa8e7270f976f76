"""The yearly wave of a daily quantity: a mean and a few harmonics of the year."""

from __future__ import annotations

import numpy as np

from forecaster.ground.arrays import Floats, Ints

DAYS_PER_YEAR = 365.2425  # mean Gregorian year
YEARLY_OMEGA_PER_DAY = 2.0 * np.pi / DAYS_PER_YEAR
_EPOCH_DAY = 10_957  # 2000-01-01 counted from 1970-01-01


def year_angle(day: Ints | Floats) -> Floats:
    """Return the angle of the year, rad, growing by 2π a mean year from 2000-01-01.

    Parameters
    ----------
    day : (n,) array
        Days since 1970-01-01.
    """
    return YEARLY_OMEGA_PER_DAY * (np.asarray(day, dtype=float) - _EPOCH_DAY)


def harmonics(day: Ints | Floats, count: int = 2) -> Floats:
    """Return the columns 1, cos, sin, cos 2, sin 2 … of the year.

    Parameters
    ----------
    day : (n,) array
        Days since 1970-01-01.
    count : int
        Number of harmonics.

    Returns
    -------
    (n, 1 + 2·count) array
    """
    wave = np.exp(1j * year_angle(day))
    columns = np.empty((wave.size, 1 + 2 * count))
    columns[:, 0] = 1.0
    power = wave
    for k in range(1, count + 1):
        columns[:, 2 * k - 1], columns[:, 2 * k] = power.real, power.imag
        if k < count:
            power = power * wave
    return columns


def fit_yearly(
    columns: Floats,
    values: Floats,
    prior_sd: float | Floats,
    noise_sd: float,
    expected: Floats | None = None,
) -> Floats:
    """Return the yearly wave of a record by regularised least squares.

    The mean is free; each harmonic is drawn to what is expected of it by a normal prior that
    a full year of days outweighs and a short record does not, so that three summer months do
    not invent a winter.

    Parameters
    ----------
    columns : (n, 1 + 2·count) array
        From `harmonics`.
    values : (n, ...) array
        The daily quantity; rows that are NaN in any column are left out.
    prior_sd : float or (2·count,) array
        Standard deviation of the harmonics' coefficients before the record is seen.
    noise_sd : float
        Standard deviation of a day about the wave, inflated for the memory of weather.
    expected : (1 + 2·count,) array, optional
        The wave before the record is seen; by default none.

    Returns
    -------
    (1 + 2·count, ...) array
        Coefficients: ``columns @ coefficients`` is the wave. What is expected, if no day is
        known.
    """
    flat = values.reshape(len(values), -1)
    start = np.zeros(columns.shape[1]) if expected is None else expected
    known = np.isfinite(flat).all(axis=1)
    x, y = (columns, flat) if known.all() else (columns[known], flat[known])
    draw = np.full(columns.shape[1], 1e-9)
    draw[1:] = (noise_sd / np.asarray(prior_sd)) ** 2
    normal = x.T @ x + np.diag(draw)
    moved = np.linalg.solve(normal, x.T @ (y - (x @ start)[:, None]))
    return np.asarray(moved + start[:, None]).reshape(-1, *values.shape[1:])


def fill_gaps(values: Floats, usual: Floats, memory_days: float) -> tuple[Floats, int]:
    """Return the record with its gaps bridged, and the number of days filled.

    Policy "usual weather, drawn to its neighbours": in a gap the departure from the yearly
    wave is the expectation of a first-order autoregressive process given the last day before
    and the first day after; far from both it is none.

    Parameters
    ----------
    values : (n,) array
        Daily record, NaN where unknown.
    usual : (n,) array
        The yearly wave on the same days.
    memory_days : float
        e-folding time of departures, days.

    Returns
    -------
    (n,) array, int
        The values given are kept as they are.
    """
    known = np.isfinite(values)
    filled = int(values.size - np.count_nonzero(known))
    if filled == 0:
        return values, 0
    if filled == values.size:
        return usual.copy(), filled
    index = np.arange(values.size)
    gap = index[~known]
    have = index[known]
    after = np.searchsorted(have, gap)
    left, right = have[np.maximum(after - 1, 0)], have[np.minimum(after, have.size - 1)]
    decay = np.exp(-1.0 / memory_days)
    to_left = np.where(after > 0, gap - left, np.inf)
    to_right = np.where(after < have.size, right - gap, np.inf)
    p, q = decay**to_left, decay**to_right
    departure = values - usual
    bridged = (p * (1 - q**2) * departure[left] + q * (1 - p**2) * departure[right]) / (
        1 - (p * q) ** 2
    )
    result = values.copy()
    result[gap] = usual[gap] + bridged
    return result, filled
