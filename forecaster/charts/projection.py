"""The Earth on paper: equal areas about the middle of what is shown, and the outlines.

Formulas of a sphere: Lambert's azimuthal projection (Snyder 1987, Map Projections – A Working
Manual, eq. 24-2 to 24-4), and for more than a third of the way round the Equal Earth projection
(Šavrič, Patterson & Jenny 2018, Int. J. Geographical Information Science 33:454; coefficients
from memory). Both keep areas as they are.
"""

from __future__ import annotations

import csv
import gzip
from dataclasses import dataclass
from functools import cache

import numpy as np

from forecaster.ground.arrays import Floats
from forecaster.packaged import data_path

EARTH_KM = 6371.0
WIDE_DEG = 60.0
"""From its middle; a region that reaches further is drawn with the whole Earth about it."""
STEP_DEG = 0.01  # of the outlines' table
EQUAL_EARTH = (1.340264, -0.081106, 0.000893, 0.003796)


@dataclass(frozen=True, slots=True)
class Projection:
    """A way from degrees to kilometres on paper, about a middle.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        The middle.
    reach_deg : float
        How far from it the furthest place lies, along the Earth.
    """

    latitude_deg: float
    longitude_deg: float
    reach_deg: float

    @property
    def whole_earth(self) -> bool:
        """Whether the region is so wide that the whole Earth is the better paper."""
        return self.reach_deg > WIDE_DEG

    def __call__(self, latitude_deg: Floats, longitude_deg: Floats) -> tuple[Floats, Floats]:
        """Return eastward and northward kilometres; NaN for what lies behind the paper."""
        lat = np.radians(np.asarray(latitude_deg, dtype=float))
        turn = np.asarray(longitude_deg, dtype=float) - self.longitude_deg
        lon = np.radians((turn + 180.0) % 360.0 - 180.0)
        if self.whole_earth:
            return _equal_earth(lat, lon)
        middle = np.radians(self.latitude_deg)
        cosine = np.sin(middle) * np.sin(lat) + np.cos(middle) * np.cos(lat) * np.cos(lon)
        seen = cosine > np.cos(np.radians(min(2.5 * self.reach_deg + 10.0, 150.0)))
        k = np.sqrt(2.0 / np.where(seen, 1.0 + cosine, np.nan))
        x = k * np.cos(lat) * np.sin(lon)
        y = k * (np.cos(middle) * np.sin(lat) - np.sin(middle) * np.cos(lat) * np.cos(lon))
        return EARTH_KM * x, EARTH_KM * y


def _equal_earth(lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
    a1, a2, a3, a4 = EQUAL_EARTH
    t = np.arcsin(np.sqrt(3.0) / 2.0 * np.sin(lat))
    slope = 9.0 * a4 * t**8 + 7.0 * a3 * t**6 + 3.0 * a2 * t**2 + a1
    x = 2.0 * np.sqrt(3.0) * lon * np.cos(t) / (3.0 * slope)
    return EARTH_KM * x, EARTH_KM * (a4 * t**9 + a3 * t**7 + a2 * t**3 + a1 * t)


def about(latitude_deg: Floats, longitude_deg: Floats) -> Projection:
    """Return the projection for some places: about the middle of them."""
    lat, lon = np.radians(latitude_deg), np.radians(longitude_deg)
    vectors = np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
    middle = vectors.mean(axis=1)
    size = float(np.linalg.norm(middle))
    if size < 0.05:  # all round the Earth: no side of it is the middle
        return Projection(0.0, 0.0, 180.0)
    middle = middle / size
    reach = float(np.degrees(np.arccos(np.clip(middle @ vectors, -1.0, 1.0)).max()))
    return Projection(
        float(np.degrees(np.arcsin(middle[2]))),
        float(np.degrees(np.arctan2(middle[1], middle[0]))),
        reach,
    )


@cache
def outlines() -> tuple[tuple[str, Floats], ...]:
    """Return coasts and borders, each its kind and its points in degrees, (n, 2) east and north."""
    with gzip.open(data_path("outlines.csv.gz"), "rt", encoding="utf-8", newline="") as file:
        csv.field_size_limit(1 << 24)
        rows = list(csv.DictReader(file))
    return tuple(
        (
            row["kind"],
            np.cumsum(np.array(row["points"].split(), dtype=int).reshape(-1, 2), axis=0) * STEP_DEG,
        )
        for row in rows
    )
