"""What a thermometer shows at an hour, beside the day's mean that the dates are counted from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecaster.forecast.clock import solar_noon_at
from forecaster.forecast.understand import Place, load_daily_wave
from forecaster.ground.arrays import Days, Floats
from forecaster.ground.site import Site
from forecaster.soil.forcing import usual_range
from forecaster.soil.readings import THERMOMETER_SD_C
from forecaster.soil.season import harmonics
from forecaster.soil.wave import hour_correction

READING_HOURS = np.arange(6.0, 21.0)
BestReading = tuple[float, float, float]
"""Hour, depth (m) and error (°C) of the reading that says most of the daily mean."""
READING_DEPTHS_M = (0.05, 0.10, 0.15)  # as far as a kitchen-drawer thermometer reaches


@dataclass(frozen=True, slots=True)
class Departures:
    """What a thermometer shows beside the day's mean, by hour and day; the reading worth most."""

    by_hour: dict[float, Floats]
    best: BestReading


def departure_c(place: Place, site: Site, day: Days, hour: float) -> Floats | None:
    """Return what the soil is usually warmer at an hour than in the day's mean, by day.

    Parameters
    ----------
    place : Place
    site : Site
    day : (n,) array of datetime64[D]
    hour : float
        Local standard hour.

    Returns
    -------
    (n,) array or None
        °C, at the site's depth; None where the record has no daily range.
    """
    climate, air = place.modelled.climate, place.modelled.air
    if air.range_c is None:
        return None
    columns = harmonics(day.astype(np.int64))
    middle, half = columns @ climate.mean_c, usual_range(climate, columns) / 2.0
    found = hour_correction(
        np.full(day.size, hour),
        site.depth_m,
        tmin_c=middle - half,
        tmax_c=middle + half,
        day_of_year=pd.DatetimeIndex(day.astype("datetime64[ns]")).day_of_year.to_numpy(),
        latitude_deg=site.latitude_deg,
        wave=load_daily_wave(site),
        solar_noon_h=solar_noon_at(site, day.astype(np.int64)),
    )
    return np.asarray(found.departure_c)


def best_reading(place: Place, site: Site) -> BestReading:
    """Return hour, depth (m) and error (°C) of the reading that says most of the daily mean."""
    air = place.modelled.air
    recent = slice(-14, None)
    half = 5.0 if air.range_c is None else float(np.mean(air.range_c[recent])) / 2.0
    middle = float(np.mean(air.mean_c[recent]))
    best = (float("inf"), 0.0, 0.0)
    for depth in READING_DEPTHS_M:
        found = hour_correction(
            READING_HOURS,
            depth,
            tmin_c=np.full(READING_HOURS.size, middle - half),
            tmax_c=np.full(READING_HOURS.size, middle + half),
            day_of_year=np.full(READING_HOURS.size, air.day_of_year[-1]),
            latitude_deg=site.latitude_deg,
            wave=load_daily_wave(site),
            solar_noon_h=solar_noon_at(site, np.full(READING_HOURS.size, air.day[-1])),
        )
        apart = place.model.apart_c(depth, site.depth_m)
        error = np.sqrt(THERMOMETER_SD_C**2 + found.sd_c**2 + apart**2)
        least = int(np.argmin(error))
        best = min(best, (float(error[least]), float(READING_HOURS[least]), depth))
    return best[1], best[2], best[0]
