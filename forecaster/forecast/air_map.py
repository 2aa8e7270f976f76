"""What the air of a place should be by the stations around it: its yearly mean and daily range.

A plane is laid through the stations near, the nearer counting more, at one height; the heights at
which people live around the place (its airfields) then say between which means it must lie. Far
from the stations of the table, or without a longitude, nothing is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from forecaster.ground.arrays import Floats
from forecaster.packaged import load_csv

REACH_KM = 250.0  # e-folding distance of a station's say
NEAR_KM = 450.0  # mean distance of the three nearest; beyond it nothing is said
LAPSE_C_PER_M = -0.006  # of yearly means with height; 0.0065 in the standard atmosphere [ISO 2533]
SLOPE_RIDGE = (0.0, 0.02, 0.005)  # draws the plane's slopes to none where stations are few
KM_PER_DEG = 111.2


@dataclass(frozen=True, slots=True)
class Expected:
    """What a place's air should be.

    Parameters
    ----------
    low_c, high_c : float
        Yearly means at the highest and the lowest height around, °C.
    sd_c : float
        How far stations lie from the plane, °C.
    range_c : float
        The usual daily range, °C.
    range_sd : float
        Spread of its logarithm.
    """

    low_c: float
    high_c: float
    sd_c: float
    range_c: float
    range_sd: float


@cache
def _tables() -> tuple[dict[str, Floats], dict[tuple[int, int], tuple[float, float]]]:
    rows = load_csv("air_map.csv")
    names = ("latitude_deg", "longitude_deg", "height_m", "mean_c", "range_c")
    stations = {name: np.array([float(row[name]) for row in rows]) for name in names}
    relief = {
        (int(row["south_deg"]), int(row["west_deg"])): (float(row["low_m"]), float(row["high_m"]))
        for row in load_csv("relief.csv")
    }
    return stations, relief


def expected_air(
    latitude_deg: float, longitude_deg: float | None, without: int | None = None
) -> Expected | None:
    """Return what the air of a place should be, or None where the table cannot tell.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        The place; degrees north and east.
    without : int, optional
        Row of a station to leave out, as a test of the map does.
    """
    if longitude_deg is None:
        return None
    stations, relief = _tables()
    heights = relief.get((int(np.floor(latitude_deg)), int(np.floor(longitude_deg))))
    if heights is None:
        return None
    north = stations["latitude_deg"] - latitude_deg
    east = stations["longitude_deg"] - longitude_deg
    middle = np.radians(stations["latitude_deg"] + latitude_deg) / 2.0
    far_km = KM_PER_DEG * np.hypot(north, east * np.cos(middle))
    weight = np.exp(-far_km / REACH_KM)
    if without is not None:
        weight[without], far_km[without] = 0.0, np.inf
    if float(np.sort(far_km)[:3].mean()) > NEAR_KM:
        return None
    weight = weight / weight.max()
    columns = np.column_stack([np.ones(north.size), north, east])
    level_c = stations["mean_c"] - LAPSE_C_PER_M * stations["height_m"]
    mean_c, sd_c = _plane(columns, level_c, weight)
    log, range_sd = _plane(columns, np.log(stations["range_c"]), weight)
    low_m, high_m = heights
    return Expected(
        mean_c + LAPSE_C_PER_M * high_m,
        mean_c + LAPSE_C_PER_M * low_m,
        sd_c,
        float(np.exp(log)),
        range_sd,
    )


def _plane(columns: Floats, values: Floats, weight: Floats) -> tuple[float, float]:
    """Return a weighted plane's value at the origin, and the spread about it."""
    weighed = columns.T * weight
    fit = np.linalg.solve(weighed @ columns + np.diag(SLOPE_RIDGE), weighed @ values)
    left = values - columns @ fit
    return float(fit[0]), float(np.sqrt(np.average(left**2, weights=weight)))
