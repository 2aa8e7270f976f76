"""What a thermometer shows at an hour, beside the day's mean that the dates are counted from."""

from __future__ import annotations

import numpy as np
import pandas as pd

from forecaster.forecast.clock import solar_noon_at
from forecaster.forecast.understand import Place, load_daily_wave
from forecaster.ground.arrays import Days, Floats
from forecaster.ground.site import Site
from forecaster.soil.forcing import usual_range
from forecaster.soil.season import harmonics
from forecaster.soil.wave import hour_correction


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
