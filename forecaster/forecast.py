"""The public answers: soil temperature so far, and what it will do."""

from __future__ import annotations

import pandas as pd

from forecaster.place import understand
from forecaster.site import Site


def estimate_soil(
    air: pd.DataFrame, site: Site, readings: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Return the daily soil temperature at a site, from its air and any readings of its soil.

    Assumes grassed natural ground unless the site says otherwise; fitted at 5 to 20 cm,
    carried to other depths by the heat equation.

    Parameters
    ----------
    air : DataFrame
        Daily index without time zone; ``tmin_c`` and ``tmax_c`` or ``tavg_c`` (°C), optional
        ``precip_mm``; as `read_air` returns it. At least 60 days with a value.
    site : Site
    readings : DataFrame, optional
        ``time``, ``temp_c``, ``depth_m``, ``span``; as `read_readings` returns it. Missing
        depths are taken as the site's.

    Returns
    -------
    DataFrame
        Index of `air`; ``soil_c``, the mean of the day at the site's depth (°C), and
        ``sd_c``, its standard deviation (°C). ``attrs["filled_days"]`` counts the days whose
        air was bridged, ``attrs["outliers"]`` lists readings that the others contradict.

    Raises
    ------
    InputError
        If a column is missing or the index is not daily.
    NotEnoughData
        If fewer than 60 days have a value.
    """
    place = understand(air, site, readings)
    frame = pd.DataFrame({"soil_c": place.soil_c, "sd_c": place.sd_c}, index=air.index)
    frame.attrs |= {"filled_days": place.modelled.filled_days, "outliers": place.outliers}
    return frame
