"""From daily air to the forcing above the soil: air, sun, frost, snow and wetness.

The forcing is a weighted sum of named terms, each computed here from the day's air alone.
The weights were fitted on stations and live in ``data/soil_model.json``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.soil.heat import running_mean
from forecaster.soil.season import fill_gaps, fit_yearly, harmonics
from forecaster.soil.sun import (
    KRS_INLAND,
    MJ_PER_MM_EVAPORATED,
    extraterrestrial_radiation,
    krs_of,
)

WEATHER_MEMORY_DAYS = 3.0  # e-folding time of air departures; φ ≈ 0.7 a day
WEATHER_SD_C = 10.0  # of a day about the yearly wave, for days as if independent
AIR_WAVE_C = (-17.6, -6.0)  # cos and sin of the year over sin(latitude), mean of 70 stations
AIR_WAVE_SD_C = (4.0, 2.0, 1.0, 1.0)  # of cos, sin, cos 2, sin 2: those stations', widened
CLEARNESS_WAVE_SD = 0.04  # of the same stations
WETNESS_MEMORY_DAYS = 10.0
WETNESS_FLOOR_MM = 0.2  # keeps the share defined where neither rain nor evaporation is
MEMORY_REACH_DAYS = 250  # snow of a winter, and many memories of wetness
SNOW_MELT_MM_PER_C = 3.0  # 2–6 is usual (from memory: Hock 2003, J. Hydrology 282)
SNOW_FALLS_BELOW_C = 0.5
SNOW_HALF_COVER_MM = 15.0  # e-folding water equivalent at which ground is covered
RAIN_DAY_MM = 1.0  # a wet day, as climatological practice counts them
DRY_CLIMATE_RATIO = 0.2  # rain over evaporation at the edge of the arid (UNEP 1992, from memory)

_USUAL_YEAR_START = 11_323  # 2001-01-01 counted from 1970-01-01


@dataclass(frozen=True, slots=True)
class DailyAir:
    """Air as arrays: one value a day, NaN where unknown.

    Parameters
    ----------
    day : (n,) array of int
        Days since 1970-01-01, without a gap.
    day_of_year : (n,) array of int
        1 to 366.
    mean_c : (..., n) array
        The day's mean, °C: the true mean where the record has it, else (min + max)/2.
    range_c : (..., n) array, optional
        Maximum less minimum, °C.
    rain_mm : (..., n) array, optional
        Precipitation, mm.
    """

    day: Ints
    day_of_year: Ints
    mean_c: Floats
    range_c: Floats | None = None
    rain_mm: Floats | None = None


@dataclass(frozen=True, slots=True)
class GroundMemory:
    """What the ground carries over into the first day.

    Parameters
    ----------
    rain_mm, evaporation_mm : float
        Running means of the day before.
    snow_mm : float
        Water in the snow.
    """

    rain_mm: float
    evaporation_mm: float
    snow_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Climate:
    """What is usual here, from the record alone.

    Parameters
    ----------
    mean_c : (5,) array
        Yearly wave of the air's mean.
    clearness : (5,) array
        Yearly wave of solar radiation over that above the atmosphere.
    rain_mm : float
        Mean rain a day.
    evaporation_mm : float
        Mean reference evapotranspiration a day.
    k_rs : float
        Sun over that above the atmosphere for a day whose range is 1 °C (FAO-56 eq. 50).
    """

    mean_c: Floats
    clearness: Floats
    rain_mm: float = 0.0
    evaporation_mm: float = 0.0
    k_rs: float = KRS_INLAND

    @property
    def dryness(self) -> float:
        """1 where no rain falls, near 0 where rain keeps up with evaporation."""
        if self.evaporation_mm <= 0.0:
            return 0.0
        return float(np.exp(-self.rain_mm / self.evaporation_mm / DRY_CLIMATE_RATIO))


def describe(air: DailyAir, latitude_deg: float, columns: Floats) -> Climate:
    """Return what is usual at a place.

    Where the record is shorter than a year, the latitude says how far the year swings.

    Parameters
    ----------
    air : DailyAir
        The record, (n,) arrays, NaN where unknown.
    latitude_deg : float
        Degrees north.
    columns : (n, 5) array
        `harmonics` of the same days.
    """
    swing = np.array([0.0, *AIR_WAVE_C, 0.0, 0.0]) * np.sin(np.radians(latitude_deg))
    mean_c = fit_yearly(columns, air.mean_c, np.array(AIR_WAVE_SD_C), WEATHER_SD_C, swing)
    k_rs = krs_of(2.0 * float(np.hypot(mean_c[1], mean_c[2])), latitude_deg)
    if air.range_c is None:
        return Climate(mean_c, np.zeros(5), k_rs=k_rs)
    clear = k_rs * np.sqrt(np.maximum(air.range_c, 0.0))
    clearness = fit_yearly(columns, clear, CLEARNESS_WAVE_SD, noise_sd=0.25)
    if air.rain_mm is None:
        return Climate(mean_c, clearness, k_rs=k_rs)
    sun = clear * extraterrestrial_radiation(air.day_of_year, latitude_deg)
    return Climate(
        mean_c,
        clearness,
        float(np.nanmean(air.rain_mm)),
        float(np.nanmean(evaporation(air.mean_c, sun))),
        k_rs,
    )


def evaporation(mean_c: Floats, sun_mj: Floats) -> Floats:
    """Return Hargreaves' reference evapotranspiration, mm/day, from mean and radiation.

    FAO-56 eq. 52 with eq. 50 put in, k_Rs as inland: ETo = 0.0023·(T + 17.8)·√(range)·Ra/2.45;
    where the sea's air makes more sun of a range, more water is drawn.
    """
    water = (0.0023 / KRS_INLAND / MJ_PER_MM_EVAPORATED) * (mean_c + 17.8) * sun_mj
    return np.asarray(np.maximum(water, 0.0))


def bridge(air: DailyAir, climate: Climate, columns: Floats) -> tuple[DailyAir, int]:
    """Return a record without gaps, and the number of days whose mean was filled.

    Means and ranges are bridged by `fill_gaps`; a day without a rain figure gets the mean.
    """
    mean_c, filled = fill_gaps(air.mean_c, columns @ climate.mean_c, WEATHER_MEMORY_DAYS)
    range_c, rain_mm = air.range_c, air.rain_mm
    if range_c is not None:
        usual = usual_range(climate, columns)
        range_c = np.maximum(fill_gaps(range_c, usual, WEATHER_MEMORY_DAYS)[0], 0.0)
    if rain_mm is not None:
        rain_mm = np.where(np.isfinite(rain_mm), rain_mm, climate.rain_mm)
    return DailyAir(air.day, air.day_of_year, mean_c, range_c, rain_mm), filled


def usual_range(climate: Climate, columns: Floats) -> Floats:
    """Return the usual difference of maximum and minimum by day, °C."""
    return np.asarray((columns @ climate.clearness / climate.k_rs) ** 2)


def usual_year(climate: Climate, like: DailyAir) -> tuple[DailyAir, Floats]:
    """Return a year of usual air with what a record holds, and its columns."""
    day_of_year = np.arange(1, 366)
    day = _USUAL_YEAR_START + day_of_year - 1
    columns = harmonics(day)
    return DailyAir(
        day,
        day_of_year,
        columns @ climate.mean_c,
        None if like.range_c is None else usual_range(climate, columns),
        None if like.rain_mm is None else np.full(day.size, climate.rain_mm),
    ), columns


def forcing_terms(
    air: DailyAir,
    climate: Climate,
    latitude_deg: float,
    columns: Floats,
    before: GroundMemory | None = None,
) -> dict[str, Floats]:
    """Return the terms of the surface forcing by name.

    Parameters
    ----------
    air : DailyAir
        A record without gaps; its arrays may carry leading axes (members).
    climate : Climate
        From `describe`.
    latitude_deg : float
        Degrees north.
    columns : (n, 5) array
        `harmonics` of the same days.
    before : GroundMemory, optional
        What earlier days left; by default the climate's means and no snow.

    Returns
    -------
    dict of str to array that broadcasts to (..., n)
        ``one``; ``air_yearly``, ``air_departure`` (°C); ``sun_yearly``, ``sun_departure``
        (MJ/m²/day, the departure only where ranges are known); ``frost`` (the mean where it
        is below 0 °C); and with rain ``snow`` (share of ground covered), ``snow_air``
        (that × °C), ``wet`` (rain over rain and evaporation, recent days), ``wet_sun``,
        ``dry_sun`` (dryness of the climate × sun_yearly), ``rain_day``.
    """
    above = extraterrestrial_radiation(air.day_of_year, latitude_deg)
    usual_c = columns @ climate.mean_c
    terms = {
        "one": np.ones_like(usual_c),
        "air_yearly": usual_c,
        "air_departure": air.mean_c - usual_c,
        "frost": np.minimum(air.mean_c, 0.0),
    }
    if air.range_c is None:
        return terms | {"sun_yearly": 0.5 * above}
    sun_yearly = (columns @ climate.clearness) * above
    sun = climate.k_rs * np.sqrt(air.range_c) * above
    terms |= {"sun_yearly": sun_yearly, "sun_departure": sun - sun_yearly}
    if air.rain_mm is None:
        return terms
    start = before or GroundMemory(climate.rain_mm, climate.evaporation_mm)
    covered = 1.0 - np.exp(-snow_water(air.mean_c, air.rain_mm, start) / SNOW_HALF_COVER_MM)
    wet = wetness(air.rain_mm, evaporation(air.mean_c, sun), start)
    return terms | {
        "snow": covered,
        "snow_air": covered * air.mean_c,
        "wet": wet,
        "wet_sun": wet * sun,
        "dry_sun": climate.dryness * sun_yearly,
        "rain_day": (air.rain_mm > RAIN_DAY_MM).astype(float),
    }


def snow_water(mean_c: Floats, rain_mm: Floats, before: GroundMemory) -> Floats:
    """Return the water held in snow on each day, mm, by a degree-day balance.

    Water falls as snow below 0.5 °C and melts at 3 mm/°C above it. The balance of a store
    that cannot go below zero is its running sum less the lowest that the sum has been, which
    needs no loop (Lindley 1952, Math. Proc. Cambridge Phil. Soc. 48:277; from memory).
    """
    cold = mean_c < SNOW_FALLS_BELOW_C
    melt = SNOW_MELT_MM_PER_C * np.maximum(mean_c - SNOW_FALLS_BELOW_C, 0.0)
    balance = before.snow_mm + np.cumsum(np.where(cold, rain_mm, -melt), axis=-1)
    return np.asarray(balance - np.minimum(np.minimum.accumulate(balance, axis=-1), 0.0))


def wetness(rain_mm: Floats, evaporation_mm: Floats, before: GroundMemory) -> Floats:
    """Return recent rain over recent rain and evaporation, 0 (dry) to 1 (wet)."""
    rain = running_mean(rain_mm, WETNESS_MEMORY_DAYS, before.rain_mm)
    drawn = running_mean(evaporation_mm, WETNESS_MEMORY_DAYS, before.evaporation_mm)
    rain, drawn = np.maximum(rain, 0.0), np.maximum(drawn, 0.0)
    return np.asarray(rain / (rain + drawn + WETNESS_FLOOR_MM))


def memory_after(air: DailyAir, climate: Climate, latitude_deg: float) -> GroundMemory | None:
    """Return what the ground remembers after the last day of a record without gaps.

    None if the record has no rain.
    """
    if air.rain_mm is None or air.range_c is None:
        return None
    since = slice(-MEMORY_REACH_DAYS, None)
    mean_c, rain = air.mean_c[since], air.rain_mm[since]
    above = extraterrestrial_radiation(air.day_of_year[since], latitude_deg)
    drawn = evaporation(mean_c, climate.k_rs * np.sqrt(air.range_c[since]) * above)
    start = GroundMemory(climate.rain_mm, climate.evaporation_mm)
    return GroundMemory(
        float(running_mean(rain, WETNESS_MEMORY_DAYS, start.rain_mm)[-1]),
        float(running_mean(drawn, WETNESS_MEMORY_DAYS, start.evaporation_mm)[-1]),
        float(snow_water(mean_c, rain, start)[-1]),
    )
