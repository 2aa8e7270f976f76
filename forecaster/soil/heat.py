"""Heat conduction from a surface forcing down to planting depth, at every frequency."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.arrays import Floats
from forecaster.soil.season import YEARLY_OMEGA_PER_DAY

SECONDS_PER_DAY = 86_400.0

_BLOCK_MEMORIES = 30.0  # e³⁰ leaves three of sixteen digits to spare
_PAD_DAYS = 400  # zeros after the record, so that its end cannot reach round to its start


def transfer(
    omega: Floats, depth_m: float, diffusivity_m2_s: float, exchange_length_m: float
) -> NDArray[np.complex128]:
    r"""Return the complex response of soil at a depth to a forcing above the surface.

    Homogeneous half-space, conduction only, with a film (air, thatch, cover) between the
    forcing and the surface that passes heat in proportion to the difference across it.

    Parameters
    ----------
    omega : (n,) array
        Angular frequency, rad/s, ≥ 0.
    depth_m : float
        Depth below the surface, m, ≥ 0.
    diffusivity_m2_s : float
        Thermal diffusivity κ, m²/s, > 0.
    exchange_length_m : float
        L = conductivity / surface exchange coefficient, m, ≥ 0; 0 ties surface to forcing.

    Returns
    -------
    (n,) complex array
        H(ω) = exp(−z·q) / (1 + L·q), q = (1 + i)·√(ω/2κ).

    Notes
    -----
    Carslaw & Jaeger 1959, Conduction of Heat in Solids, 2nd ed., §2.6 (periodic surface
    temperature) and §2.8 (exchange at the surface); section numbers from memory.
    """
    q = (1.0 + 1.0j) * np.sqrt(omega / (2.0 * diffusivity_m2_s))
    return np.asarray(np.exp(-depth_m * q) / (1.0 + exchange_length_m * q))


def respond_yearly(
    coefficients: Floats, depth_m: float, diffusivity_m2_s: float, exchange_length_m: float
) -> Floats:
    """Return the yearly wave at a depth from the yearly wave of the forcing.

    The damped sinusoid in closed form: each harmonic keeps |H(kω)| of its amplitude and lags
    by −arg H(kω).

    Parameters
    ----------
    coefficients : (1 + 2·count,) array
        Mean, cos, sin, cos 2, sin 2 … of the forcing, °C.
    depth_m, diffusivity_m2_s, exchange_length_m : float
        As for `transfer`.

    Returns
    -------
    (1 + 2·count,) array
        The same coefficients at depth, °C.
    """
    count = (len(coefficients) - 1) // 2
    omega = (YEARLY_OMEGA_PER_DAY / SECONDS_PER_DAY) * np.arange(count + 1.0)
    gain = transfer(omega, depth_m, diffusivity_m2_s, exchange_length_m)
    wave = gain[1:] * (coefficients[1::2] - 1j * coefficients[2::2])
    result = np.array(coefficients, dtype=float)
    result[1::2], result[2::2] = wave.real, -wave.imag
    return result


def respond(
    departure: Floats, depth_m: float, diffusivity_m2_s: float, exchange_length_m: float
) -> Floats:
    """Return the soil's response to the departures of the forcing from its yearly wave.

    Before the first day the departure is taken as none; zeros after the last keep the end of
    a record from reaching round to its start.

    Parameters
    ----------
    departure : (..., n) array
        Daily means, °C, without gaps.
    depth_m, diffusivity_m2_s, exchange_length_m : float
        As for `transfer`.

    Returns
    -------
    (..., n) array
        Daily means at depth, °C.
    """
    import scipy.fft  # noqa: PLC0415 - only this function needs it

    days = departure.shape[-1]
    size = scipy.fft.next_fast_len(days + _PAD_DAYS, real=True)
    omega = (2.0 * np.pi / SECONDS_PER_DAY / size) * np.arange(size // 2 + 1.0)
    gain = transfer(omega, depth_m, diffusivity_m2_s, exchange_length_m)
    spectrum = scipy.fft.rfft(departure, size, axis=-1)
    return np.asarray(scipy.fft.irfft(spectrum * gain, size, axis=-1)[..., :days])


def running_mean(values: Floats, memory_days: float, before: Floats | float) -> Floats:
    """Return the exponentially weighted mean of each day and the days before it.

    Parameters
    ----------
    values : (..., n) array
        Daily quantity without gaps.
    memory_days : float
        e-folding time, days.
    before : float or (...) array
        The mean before the first day.

    Returns
    -------
    (..., n) array
        m[t] = φ·m[t−1] + (1 − φ)·x[t], φ = exp(−1/memory).

    Notes
    -----
    Within a block of thirty memories the recursion is a running sum of values that grow by
    1/φ a day, shrunk back again; only from block to block is there a loop.
    """
    block = max(int(_BLOCK_MEMORIES * memory_days), 1)
    step = np.arange(1, min(block, values.shape[-1]) + 1) / memory_days
    grow, shrink = (1.0 - np.exp(-1.0 / memory_days)) * np.exp(step), np.exp(-step)
    result = np.empty(values.shape)
    mean = np.asarray(before, dtype=float)
    for start in range(0, values.shape[-1], block):
        part = values[..., start : start + block]
        size = part.shape[-1]
        total = np.cumsum(part * grow[:size], axis=-1)
        total += mean[..., None]
        total *= shrink[:size]
        result[..., start : start + size] = total
        mean = total[..., -1]
    return result
