"""The bucket of the upper soil against soil moisture measured at 5 and 10 cm.

US Climate Reference Network, product daily01 (NOAA NCEI; Diamond et al. 2013, Bull. American
Meteorological Society, doi 10.1175/BAMS-D-12-00170.1): four stations, 2015 to 2024. The bucket
knows rain, extremes and latitude alone; the texture is taken as loam everywhere.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import spearmanr

from forecaster.plan.water import reference_mm
from forecaster.plan.wet import depletion_mm, upper_layer

STATIONS = ("IN_Bedford_5_WNW", "KS_Manhattan_6_SSW", "NE_Lincoln_11_SW", "SC_Blackville_3_W")
COLUMNS = {1: "day", 4: "latitude", 5: "most", 6: "least", 9: "rain", 18: "moist5", 19: "moist10",
           23: "soil5"}  # fmt: skip
NO_VALUE = -90.0  # -99 and -9999 stand for missing


def read(folder: Path) -> pd.DataFrame:
    files = sorted(folder.glob("*.txt"))
    parts = [
        pd.read_csv(file, sep=r"\s+", header=None, usecols=list(COLUMNS), dtype={1: str})
        for file in files
    ]
    table = pd.concat(parts).rename(columns=COLUMNS)
    table.index = pd.to_datetime(table.pop("day"))
    table = table.where(table > NO_VALUE)
    table["rain"] = table["rain"].fillna(0.0)
    return table.assign(**table[["most", "least"]].interpolate())


@pytest.mark.parametrize("station", STATIONS)
def test_the_bucket_follows_measured_moisture(records, station):
    """Measured when written: rank correlation 0.77, 0.62, 0.71 and 0.80 on unfrozen days."""
    table = read(records("uscrn_raw") / station)
    days = pd.DatetimeIndex(table.index)
    day = np.minimum(days.day_of_year.to_numpy(), 365)
    demand = reference_mm(table["least"], table["most"], day, table["latitude"].iloc[0])
    layer = upper_layer("loam")
    depletion = depletion_mm(layer, table["rain"].to_numpy(), demand)
    moist = table[["moist5", "moist10"]].mean(axis=1).to_numpy()
    known = np.isfinite(moist) & (moist > 0.0) & (table["soil5"] > 5.0).to_numpy()
    assert known.sum() > 1500
    assert spearmanr(-depletion[known], moist[known]).statistic > 0.6
    wet = depletion < layer.dried_mm
    assert np.median(moist[known & wet]) > np.quantile(moist[known & ~wet], 0.75)
