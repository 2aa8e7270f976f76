"""Daily sun from the calendar and the temperature range, after FAO-56.

Every equation number is that of Allen, Pereira, Raes & Smith 1998, Crop
evapotranspiration: guidelines for computing crop water requirements, FAO Irrigation and
Drainage Paper 56, chapters 2 and 3. Energies are MJ per m² of level ground and day.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
DAYS_PER_YEAR = 365.0
MJ_PER_MM_EVAPORATED = 2.45  # latent heat of vaporization at 20 °C, MJ/kg (FAO-56 eq. 20)
KRS_INLAND, KRS_COASTAL = 0.16, 0.19  # °C^−½ (FAO-56 eq. 50)
OCEANIC, CONTINENTAL = 5.0, 25.0  # Conrad's index where the sea's air and the land's own rule


def inverse_relative_distance(day_of_year: ArrayLike) -> Floats:
    """Return the squared ratio of mean to present distance from the sun (eq. 23).

    Parameters
    ----------
    day_of_year : array
        1 to 365, or 366 at the end of a leap year (FAO-56 keeps the divisor 365).

    Returns
    -------
    array of the same shape
        d_r = 1 + 0.033·cos(2πJ/365), dimensionless.
    """
    return np.asarray(1.0 + 0.033 * np.cos(_year_angle(day_of_year)))


def declination(day_of_year: ArrayLike) -> Floats:
    """Return the solar declination, rad: δ = 0.409·sin(2πJ/365 − 1.39) (eq. 24)."""
    return np.asarray(0.409 * np.sin(_year_angle(day_of_year) - 1.39))


def sunset_hour_angle(day_of_year: ArrayLike, latitude_deg: float) -> Floats:
    """Return the sunset hour angle, rad: ω_s = arccos(−tanφ·tanδ) (eq. 25).

    Clipped to 0 in polar night and π under the midnight sun, where the equation has no
    answer.

    Parameters
    ----------
    day_of_year : array
        1 to 366.
    latitude_deg : float
        Degrees north, −90 to 90.

    Raises
    ------
    InputError
        If the latitude lies outside −90 to 90.
    """
    tan_latitude = np.tan(_latitude(latitude_deg))
    cosine = -tan_latitude * np.tan(declination(day_of_year))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def extraterrestrial_radiation(day_of_year: ArrayLike, latitude_deg: float) -> Floats:
    """Return the radiation on level ground above the atmosphere, MJ/m²/day (eq. 21).

    Parameters
    ----------
    day_of_year : array
        1 to 366. Whole days are looked up, fractions computed.
    latitude_deg : float
        Degrees north, −90 to 90.

    Returns
    -------
    array of the same shape
        Ra = (24·60/π)·G_sc·d_r·[ω_s·sinφ·sinδ + cosφ·cosδ·sinω_s], ≥ 0.

    Raises
    ------
    InputError
        If the latitude lies outside −90 to 90.

    Examples
    --------
    FAO-56 Example 8 (3 September at 20° S):

    >>> round(float(extraterrestrial_radiation(246, -20.0)), 1)
    32.2
    """
    days = np.asarray(day_of_year)
    whole = days.size > _CALENDAR.size and days.dtype.kind in "iu"
    if whole and days.min() >= 0 and days.max() < _CALENDAR.size:
        return np.asarray(_radiation_above(_CALENDAR, latitude_deg)[days])
    return _radiation_above(days, latitude_deg)


def daylight_hours(day_of_year: ArrayLike, latitude_deg: float) -> Floats:
    """Return hours from sunrise to sunset: N = (24/π)·ω_s (eq. 34)."""
    return np.asarray(24.0 / np.pi * sunset_hour_angle(day_of_year, latitude_deg))


def clear_sky_radiation(ra: ArrayLike, elevation_m: float = 0.0) -> Floats:
    """Return the radiation under a cloudless sky, MJ/m²/day (eq. 37).

    R_so = (0.75 + 2·10⁻⁵·elevation)·Ra.

    Parameters
    ----------
    ra : array
        Extraterrestrial radiation, MJ/m²/day.
    elevation_m : float
        Metres above the sea.
    """
    return np.asarray((0.75 + 2e-5 * elevation_m) * np.asarray(ra, dtype=float))


def radiation_from_range(
    ra: ArrayLike, tmin_c: ArrayLike, tmax_c: ArrayLike, k_rs: float = KRS_INLAND
) -> Floats:
    """Return solar radiation at the ground from the day's temperature range (eq. 50).

    R_s = k_Rs·√(Tmax − Tmin)·Ra: clear days swing wide, cloudy ones do not. Allen et al.
    advise no more than the clear-sky value (`clear_sky_radiation`); that is left to the
    caller.

    Parameters
    ----------
    ra : array
        Extraterrestrial radiation, MJ/m²/day.
    tmin_c, tmax_c : array
        The day's extremes, °C. A negative range (a shifted record) counts as none; NaN
        stays NaN.
    k_rs : float
        0.16 inland, 0.19 near a coast (°C^−½).

    Returns
    -------
    array
        MJ/m²/day, broadcast over the inputs.
    """
    return np.asarray(k_rs * np.sqrt(_range(tmin_c, tmax_c)) * np.asarray(ra, dtype=float))


def continentality(yearly_range_c: float, latitude_deg: float) -> float:
    """Return Conrad's index: near 0 on an ocean's shore, near 100 in inner Siberia.

    1.7·A/sin(|φ| + 10°) − 14, A the range of the monthly means, °C (Conrad 1946, Transactions
    of the American Geophysical Union 27:663; from memory).
    """
    return 1.7 * yearly_range_c / float(np.sin(np.radians(abs(latitude_deg) + 10.0))) - 14.0


def krs_of(yearly_range_c: float, latitude_deg: float) -> float:
    """Return k_Rs of eq. 50 for a place, °C^−½: 0.19 in the sea's air, 0.16 inland.

    Allen et al. give the two values for places whose air the sea rules and for those where the
    land does; between them `continentality` decides, straight from 5 to 25 (chosen on stations:
    DEVELOPERS.md).
    """
    inland = (continentality(yearly_range_c, latitude_deg) - OCEANIC) / (CONTINENTAL - OCEANIC)
    share = min(max(inland, 0.0), 1.0)
    return KRS_COASTAL + share * (KRS_INLAND - KRS_COASTAL)


def reference_evapotranspiration(ra: ArrayLike, tmin_c: ArrayLike, tmax_c: ArrayLike) -> Floats:
    """Return evapotranspiration of a watered lawn from temperatures alone, mm/day (eq. 52).

    ETo = 0.0023·(Tmean + 17.8)·√(Tmax − Tmin)·Ra with Ra as mm of evaporation, Tmean =
    (Tmax + Tmin)/2. Hargreaves & Samani's method; never below zero here.

    Parameters
    ----------
    ra : array
        Extraterrestrial radiation, MJ/m²/day.
    tmin_c, tmax_c : array
        The day's extremes, °C.
    """
    mean_c = (np.asarray(tmin_c, dtype=float) + np.asarray(tmax_c, dtype=float)) / 2.0
    ra_mm = np.asarray(ra, dtype=float) / MJ_PER_MM_EVAPORATED
    water_mm = 0.0023 * (mean_c + 17.8) * np.sqrt(_range(tmin_c, tmax_c)) * ra_mm
    return np.asarray(np.maximum(water_mm, 0.0))


def soil_heat_flux(month_before_c: ArrayLike, month_after_c: ArrayLike) -> Floats:
    """Return the mean flux of heat into the soil over a month, MJ/m²/day (eq. 43).

    G = 0.07·(T_next − T_previous), from the mean air temperatures of the months on either
    side.
    """
    return np.asarray(
        0.07 * (np.asarray(month_after_c, dtype=float) - np.asarray(month_before_c, dtype=float))
    )


_CALENDAR = np.arange(367)


def _radiation_above(day_of_year: NDArray[np.generic], latitude_deg: float) -> Floats:
    """Return Ra without the table."""
    latitude, tilt = _latitude(latitude_deg), declination(day_of_year)
    sunset = sunset_hour_angle(day_of_year, latitude_deg)
    sine = np.sin(latitude) * np.sin(tilt)
    cosine = np.cos(latitude) * np.cos(tilt)
    scale = 24.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * inverse_relative_distance(day_of_year)
    return np.asarray(np.maximum(scale * (sunset * sine + cosine * np.sin(sunset)), 0.0))


def _range(tmin_c: ArrayLike, tmax_c: ArrayLike) -> Floats:
    """Return the day's temperature range, not below zero."""
    difference = np.asarray(tmax_c, dtype=float) - np.asarray(tmin_c, dtype=float)
    return np.asarray(np.maximum(difference, 0.0))


def _year_angle(day_of_year: ArrayLike) -> Floats:
    """Return the day as an angle of the year, rad."""
    return np.asarray(2.0 * np.pi / DAYS_PER_YEAR * np.asarray(day_of_year, dtype=float))


def _latitude(latitude_deg: float) -> float:
    """Return the latitude in rad, refusing what the earth has not."""
    if not -90.0 <= latitude_deg <= 90.0:
        raise InputError(
            f"latitude_deg is {latitude_deg!r}; expected a number from -90 to 90 (degrees north)"
        )
    return float(np.radians(latitude_deg))
