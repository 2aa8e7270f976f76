"""Damped waves in soil: the year's, and the day's that an instant reading has to shed.

Homogeneous half-space, conduction only. One wave of period P in a soil of diffusivity κ
dies away by e every damping depth d = √(2κ/ω), ω = 2π/P, and comes later by one radian.

Sources: Hillel 1982, Introduction to Soil Physics (quoted); Carslaw & Jaeger 1959,
Conduction of Heat in Solids, §2.6 (section from memory); Kusuda & Achenbach 1965, ASHRAE
Transactions 71(1):61-75 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError
from forecaster.soil.heat import SECONDS_PER_DAY, transfer
from forecaster.soil.sun import extraterrestrial_radiation, radiation_from_range, sunset_hour_angle

Complexes = NDArray[np.complex128]

DAYS_PER_YEAR = 365.0
READING_HOURS = np.arange(7.0, 21.0)  # when people read thermometers; common practice, no source


def damping_depth_m(diffusivity_m2_s: float, period_days: float = DAYS_PER_YEAR) -> float:
    """Return the depth at which a wave keeps 1/e of its surface amplitude: d = √(2κ/ω).

    Parameters
    ----------
    diffusivity_m2_s : float
        κ, m²/s, > 0.
    period_days : float
        365 for the annual wave, 1 for the daily one.

    Raises
    ------
    InputError
        If either is not positive.

    Examples
    --------
    >>> round(damping_depth_m(5e-7, 1.0), 3)
    0.117
    """
    _positive(diffusivity_m2_s=diffusivity_m2_s, period_days=period_days)
    return float(np.sqrt(2.0 * diffusivity_m2_s / _omega(period_days)))


def annual_wave_c(
    day: ArrayLike,
    depth_m: float,
    *,
    mean_c: float,
    amplitude_c: float | Sequence[float],
    coldest_day: float | Sequence[float],
    diffusivity_m2_s: float,
    period_days: float = DAYS_PER_YEAR,
) -> Floats:
    r"""Return soil temperature from the yearly wave at the surface and its overtones, °C.

    Parameters
    ----------
    day : array
        Time, days; any origin, the same as for `coldest_day`.
    depth_m : float
        Depth, m, ≥ 0.
    mean_c : float
        Mean over a period, °C, the same at every depth.
    amplitude_c, coldest_day : float or sequence
        Surface amplitude (°C) and day of the minimum of harmonic 1, 2, …, equally many.
    diffusivity_m2_s : float
        κ, m²/s, > 0.
    period_days : float
        Period of the first harmonic, days.

    Returns
    -------
    array of the shape of `day`
        T = Tm − Σ A_n·exp(−z/d_n)·cos(nω(t − t_n) − z/d_n), d_n = √(2κ/nω).

    Raises
    ------
    InputError
        If κ or the period is not positive, the depth negative, or the harmonics unequal.

    Notes
    -----
    With one harmonic this is the Kusuda–Achenbach form T = Tm − A·exp(−z√(π/365α))·
    cos{(2π/365)·[t − t0 − (z/2)·√(365/πα)]} with α = 86 400 κ in m²/day: z/d over ω is
    the bracket's delay. With two it is that of Xing 2014 (quoted).
    """
    amplitudes, coldest = np.atleast_1d(amplitude_c), np.atleast_1d(coldest_day)
    if amplitudes.shape != coldest.shape:
        raise InputError(
            f"{amplitudes.size} amplitudes and {coldest.size} coldest days; "
            "expected one of each for every harmonic"
        )
    _not_negative(depth_m=depth_m)
    time = np.asarray(day, dtype=float)
    wave = np.full(time.shape, float(mean_c))
    for n, (amplitude, start) in enumerate(zip(amplitudes, coldest, strict=True), 1):
        lag = depth_m / damping_depth_m(diffusivity_m2_s, period_days / n)
        angle = 2.0 * np.pi * n / period_days * (time - start)
        wave = wave - amplitude * np.exp(-lag) * np.cos(angle - lag)
    return np.asarray(wave)


def layer_mean_response(
    depth_m: float, diffusivity_m2_s: float, period_days: float = DAYS_PER_YEAR
) -> tuple[float, float]:
    """Return gain and lag (days) of a wave averaged from the surface down to a depth.

    With β = z/d and x = e^(−β): gain √[(x² − 2x·cosβ + 1)/2β²], lag atan{[1 − x(cosβ +
    sinβ)]/[1 − x(cosβ − sinβ)]}/ω. Such means, not values at a depth, stand in the headers
    of EPW weather files; Kusuda & Achenbach 1965 (from memory).

    Raises
    ------
    InputError
        If an argument is not positive.
    """
    _positive(depth_m=depth_m)
    beta = depth_m / damping_depth_m(diffusivity_m2_s, period_days)
    x, cosine, sine = np.exp(-beta), np.cos(beta), np.sin(beta)
    gain = np.sqrt((x * x - 2.0 * x * cosine + 1.0) / (2.0 * beta * beta))
    lag = np.arctan2(1.0 - x * (cosine + sine), 1.0 - x * (cosine - sine))
    return float(gain), float(lag * period_days / (2.0 * np.pi))


def diffusivity_from_amplitudes(
    shallow_c: float, deep_c: float, separation_m: float, period_days: float
) -> float:
    """Return κ from how much a wave shrinks between two depths: (ω/2)·[Δz/ln(A₁/A₂)]².

    Horton, Wierenga & Nielsen 1983, Soil Science Society of America Journal 47:25-32
    (quoted; equation from memory) call this and the lag method erratic for single days.

    Parameters
    ----------
    shallow_c, deep_c : float
        Amplitudes at the two depths, °C, shallow > deep > 0.
    separation_m : float
        Distance between the depths, m, > 0.
    period_days : float
        Period, days, > 0.

    Raises
    ------
    InputError
        If the wave does not shrink downward, or a length or period is not positive.
    """
    _positive(deep_c=deep_c, separation_m=separation_m, period_days=period_days)
    if shallow_c <= deep_c:
        raise InputError(
            f"amplitude {shallow_c:g} °C above and {deep_c:g} °C below; a wave from the surface "
            "shrinks downward: check which depth is which"
        )
    return float(_omega(period_days) / 2.0 * (separation_m / np.log(shallow_c / deep_c)) ** 2)


def diffusivity_from_lag(separation_m: float, lag_days: float, period_days: float) -> float:
    """Return κ from how much later a wave comes at the lower depth: (1/2ω)·(Δz/Δt)².

    Source and caution as `diffusivity_from_amplitudes`.

    Raises
    ------
    InputError
        If an argument is not positive.
    """
    _positive(separation_m=separation_m, lag_days=lag_days, period_days=period_days)
    speed = separation_m / (lag_days * SECONDS_PER_DAY)
    return float(speed**2 / (2.0 * _omega(period_days)))


@dataclass(frozen=True, slots=True, kw_only=True)
class DailyWave:
    """Constants of the day's wave in soil, fitted by ``scripts/fit_daily_wave.py``.

    Parameters
    ----------
    diffusivity_m2_s : float
        κ at one and two cycles a day, m²/s.
    exchange_length_m : float
        L of `forecaster.soil.heat.transfer`, m.
    sun_gain_c_m2_day_mj : float
        °C of forcing for each MJ/m²/day of sun.
    air_lag_h : float
        Hours from solar noon to the warmest air.
    still_c, full_c : float
        Daily mean air at and below which the soil shows no daily wave (snow, frost), and at
        and above which it shows all of it, °C; linear between.
    sd_wave : float
        How far a place's amplitude lies off, as a share of it (another soil, another cover, a
        thermometer not quite at its depth).
    sd_phase_h : float
        How far its hour lies off, hours (the same, and a clock not quite the sun's).
    sd_day : float
        What is left on each day and hour, as a share of the amplitude at the depth in a soil
        free of snow and frost (a front passing, a cloudy afternoon).
    source : str
        What the constants were fitted on.
    """

    diffusivity_m2_s: float
    exchange_length_m: float
    sun_gain_c_m2_day_mj: float
    air_lag_h: float
    still_c: float
    full_c: float
    sd_wave: float
    sd_phase_h: float
    sd_day: float
    source: str

    def __post_init__(self) -> None:
        """Refuse constants that no soil has."""
        _positive(diffusivity_m2_s=self.diffusivity_m2_s)
        for name in NOT_NEGATIVE:
            _not_negative(**{name: getattr(self, name)})
        if not self.still_c < self.full_c:
            raise InputError(f"still_c is {self.still_c:g} °C; expected below {self.full_c:g} °C")

    @classmethod
    def from_table(cls, table: Mapping[str, Any], cover: str) -> DailyWave:
        """Return the constants for grass or bare ground from ``data/daily_wave.json``."""
        own = table["covers"][cover]
        return cls(
            **{name: float(own["constants"][name]["value"]) for name in NUMBERS},
            source=own["source"],
        )


NOT_NEGATIVE = ("exchange_length_m", "sun_gain_c_m2_day_mj", "sd_wave", "sd_phase_h", "sd_day")
NUMBERS = tuple(field.name for field in fields(DailyWave) if field.name != "source")


@dataclass(frozen=True, slots=True)
class HourCorrection:
    """What an instant's soil temperature owes to the hour.

    Parameters
    ----------
    departure_c : array
        Expected temperature at the hour minus the day's mean at the same depth, °C:
        subtract it from the reading.
    sd_c : array
        Standard error of that, °C, ≥ 0; the thermometer's own error comes on top.
    shared_c : array, shape of `departure_c` plus (2,)
        The parts of the error that all corrections at a place share, signed, °C: how far each
        moves if the wave here is one standard deviation larger than thought, and if it comes one
        earlier. A reading before and one after the day's mean move apart.
    """

    departure_c: Floats
    sd_c: Floats
    shared_c: Floats

    @property
    def own_sd_c(self) -> Floats:
        """Standard error of each correction beside the shared part, °C, ≥ 0."""
        shared = (self.shared_c**2).sum(axis=-1)
        return np.asarray(np.sqrt(np.maximum(self.sd_c**2 - shared, 0.0)))


def hour_correction(
    hour: ArrayLike,
    depth_m: float,
    *,
    tmin_c: ArrayLike,
    tmax_c: ArrayLike,
    day_of_year: ArrayLike,
    latitude_deg: float,
    wave: DailyWave,
    solar_noon_h: ArrayLike = 12.0,
) -> HourCorrection:
    r"""Return the departure of the soil at an hour from its daily mean, with its error.

    Assumes level ground in the open.

    Parameters
    ----------
    hour : (n,) array
        Local standard hour, 0 to 24; NaN where nobody wrote it down.
    depth_m : float
        Depth of the thermometer, m, ≥ 0.
    tmin_c, tmax_c : (n,) array
        That day's air temperature extremes, °C; where missing, so is the answer (NaN).
    day_of_year : (n,) array
        1 to 366.
    latitude_deg : float
        Degrees north.
    wave : DailyWave
        Fitted constants.
    solar_noon_h : float or (n,) array
        Hour of the readings' clock at which the sun stands highest (`solar_noon_hour`).

    Returns
    -------
    HourCorrection
        For an unknown hour, the mean over 7:00 to 20:00 and an error that also holds the
        spread between those hours.

    Raises
    ------
    InputError
        If an hour lies outside 0 to 24, the depth is negative, or the latitude impossible.

    Notes
    -----
    T(h) − mean = r·Re Σ_{n=1,2} F_n·H(nω)·exp{inω(h − noon)}, where H is
    `forecaster.soil.heat.transfer`, r the snow-and-frost factor and F_n the forcing: half
    the day's air range, warmest `air_lag_h` after noon, plus the sun (FAO-56 eq. 50 for its
    sum, `sun_harmonics` for its shape).
    """
    hours = np.asarray(hour, dtype=float)
    if ((hours < 0.0) | (hours > 24.0)).any():
        raise InputError(
            "an hour lies outside 0 to 24; expected local standard time, 13.5 = 1:30 pm"
        )
    _not_negative(depth_m=depth_m)
    frequencies = _omega(1.0) * np.array([1.0, 2.0])
    gain = transfer(frequencies, depth_m, wave.diffusivity_m2_s, wave.exchange_length_m)
    free = _forcing(tmin_c, tmax_c, day_of_year, latitude_deg, wave) * gain
    mean_c = (np.asarray(tmin_c, dtype=float) + np.asarray(tmax_c, dtype=float)) / 2.0
    ramp = np.clip((mean_c - wave.still_c) / (wave.full_c - wave.still_c), 0.0, 1.0)
    noon = np.asarray(solar_noon_h, dtype=float)
    unknown = np.isnan(hours)
    later = free * (2j * np.pi / 24.0 * np.array([1.0, 2.0]))  # °C an hour
    any_hour, any_slope = (
        _at(wave_c[..., None, :], READING_HOURS - noon[..., None]) for wave_c in (free, later)
    )
    departure = ramp * np.where(unknown, any_hour.mean(axis=-1), _at(free, hours - noon))
    slope = ramp * np.where(unknown, any_slope.mean(axis=-1), _at(later, hours - noon))
    spread = np.where(unknown, ramp * any_hour.std(axis=-1), 0.0)
    shared = np.stack([wave.sd_wave * departure, wave.sd_phase_h * slope], axis=-1)
    own = np.hypot(wave.sd_day * np.abs(free[..., 0]), spread)
    sd = np.sqrt((shared**2).sum(axis=-1) + own**2)
    return HourCorrection(np.asarray(departure), np.asarray(sd), np.asarray(shared))


def solar_noon_hour(longitude_deg: float, utc_offset_h: float | None = None) -> float:
    """Return the local standard hour of solar noon, leaving out the equation of time.

    12 + offset − longitude/15; the part left out is 16 minutes at most. Without an
    offset the clock is taken to keep the nearest multiple of 15° (common practice of time
    zones; many places keep a neighbour's).

    Parameters
    ----------
    longitude_deg : float
        Degrees east.
    utc_offset_h : float, optional
        Standard time minus universal time, hours: −7 in US Mountain Standard Time.
    """
    offset = round(longitude_deg / 15.0) if utc_offset_h is None else utc_offset_h
    return 12.0 + offset - longitude_deg / 15.0


def sun_harmonics(day_of_year: ArrayLike, latitude_deg: float) -> Floats:
    """Return amplitudes at one and two cycles a day of sunshine whose daily mean is 1.

    Under an even sky the sun on level ground follows cos h − cos ω_s between the hour
    angles −ω_s and ω_s (FAO-56 eq. 28 integrated; ω_s from eq. 25). Its Fourier cosine
    coefficients over its mean m = sinω_s − ω_s·cosω_s are (ω_s − sinω_s·cosω_s)/m and
    (sinω_s + sin3ω_s/3 − cosω_s·sin2ω_s)/m. At the equinox π/2 and 2/3.

    Returns
    -------
    array, shape of `day_of_year` plus (2,)
        Zero in polar night.
    """
    sunset = sunset_hour_angle(day_of_year, latitude_deg)
    sine, cosine = np.sin(sunset), np.cos(sunset)
    mean = sine - sunset * cosine
    first = sunset - sine * cosine
    second = sine + np.sin(3.0 * sunset) / 3.0 - cosine * np.sin(2.0 * sunset)
    lit = mean > 1e-9
    scale = np.where(lit, 1.0 / np.where(lit, mean, 1.0), 0.0)
    return np.stack([first * scale, second * scale], axis=-1)


def _forcing(
    tmin_c: ArrayLike,
    tmax_c: ArrayLike,
    day_of_year: ArrayLike,
    latitude_deg: float,
    wave: DailyWave,
) -> Complexes:
    """Return the forcing's complex amplitudes at one and two cycles a day, from noon, °C."""
    above = extraterrestrial_radiation(day_of_year, latitude_deg)
    sun = wave.sun_gain_c_m2_day_mj * radiation_from_range(above, tmin_c, tmax_c)
    half_range = (np.asarray(tmax_c, dtype=float) - np.asarray(tmin_c, dtype=float)) / 2.0
    forcing = sun[..., None] * sun_harmonics(day_of_year, latitude_deg) + 0.0j
    forcing[..., 0] += np.maximum(half_range, 0.0) * np.exp(-2j * np.pi * wave.air_lag_h / 24.0)
    return np.asarray(forcing)


def _at(amplitudes: Complexes, hours_from_noon: Floats) -> Floats:
    """Return the wave of given harmonics at hours counted from solar noon."""
    turn = np.exp(2j * np.pi / 24.0 * hours_from_noon)
    return np.asarray((amplitudes[..., 0] * turn + amplitudes[..., 1] * turn**2).real)


def _omega(period_days: float) -> float:
    """Return the angular frequency of a period, rad/s."""
    return 2.0 * np.pi / (period_days * SECONDS_PER_DAY)


def _positive(**values: float) -> None:
    """Refuse values at or below zero, by name."""
    for name, value in values.items():
        if not value > 0.0:
            raise InputError(f"{name} is {value!r}; expected a number above 0")


def _not_negative(**values: float) -> None:
    """Refuse values below zero, by name."""
    for name, value in values.items():
        if not value >= 0.0:
            raise InputError(f"{name} is {value!r}; expected a number of 0 or more")
