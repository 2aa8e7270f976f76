"""Which stations stand for a place: those whose air differs least from its air.

Height counts before distance. Air cools by about 0.65 °C per 100 m of height (the 6.5 K/km of the
ICAO Standard Atmosphere, Doc 7488). Over the ground, mean air temperature at the 70 stations of the
US Climate Reference Network named in ``data/stations.csv`` differs by about 0.8 °C per 100 km
(median of the 59 pairs less than 300 km apart, heights not taken out, so rather less). So
100 m of height count as much as 80 km: an assumption, stated wherever the ranking is shown.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from forecaster.fetch.ncei import Span, Station
from forecaster.ground.site import EARTH_RADIUS_KM

KM_PER_100_M = 80.0
FARTHEST_KM = 300.0
"""Mean radius; great circles on the sphere are right to 0.5 %."""
UNKNOWN_HEIGHT_M = 100.0
"""A station without a height counts as if it stood so far above or below."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A station with what it is ranked by.

    Parameters
    ----------
    station : Station
        Who.
    span : Span
        Years with both extremes.
    distance_km : float
        Along the ground.
    height_m : float, optional
        Its elevation less that of the place, m; None where one is unknown.
    counts_km : float
        Distance with height counted in, km: the order of the ranking.
    """

    station: Station
    span: Span
    distance_km: float
    height_m: float | None
    counts_km: float


def distance_km(a_lat: float, a_lon: float, b_lat: float, b_lon: float) -> float:
    """Return the distance along a great circle, km, between places in degrees (haversine)."""
    lat, other = math.radians(a_lat), math.radians(b_lat)
    half = math.sin((other - lat) / 2) ** 2
    half += math.cos(lat) * math.cos(other) * math.sin(math.radians(b_lon - a_lon) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * math.asin(min(math.sqrt(half), 1.0))


def usual_height_m(
    stations: Sequence[Station], latitude_deg: float, longitude_deg: float, count: int = 5
) -> float | None:
    """Return the middle height of the nearest stations that have one, m: a stand-in for yours."""
    nearest = sorted(
        (distance_km(latitude_deg, longitude_deg, s.latitude_deg, s.longitude_deg), s.elevation_m)
        for s in _around(stations, latitude_deg, 1.0)
        if s.elevation_m is not None
    )[:count]
    heights = sorted(height for _, height in nearest)
    return heights[len(heights) // 2] if heights else None


def rank(
    stations: Sequence[Station],
    spans: dict[str, Span],
    latitude_deg: float,
    longitude_deg: float,
    *,
    elevation_m: float | None,
    years: int,
    this_year: int,
    farthest_km: float = FARTHEST_KM,
) -> list[Candidate]:
    """Return the stations with so many years of both extremes to this year, best first.

    Parameters
    ----------
    stations, spans : sequence of Station, dict of station to Span
        As `parse_stations` and `parse_inventory` give them.
    latitude_deg, longitude_deg : float
        The place, degrees.
    elevation_m : float, optional
        Its height above sea level, m; without it stations are ranked by distance alone.
    years : int
        Years wanted, this one included.
    this_year : int
        The last year of a record that still goes on.
    farthest_km : float
        Stations farther away are left out.
    """
    found = []
    for station in _around(stations, latitude_deg, math.degrees(farthest_km / EARTH_RADIUS_KM)):
        span = spans.get(station.station)
        if span is None or span.last_year < this_year:
            continue
        if span.last_year - span.first_year + 1 < years:
            continue
        away = distance_km(latitude_deg, longitude_deg, station.latitude_deg, station.longitude_deg)
        if away <= farthest_km:
            height = None
            if elevation_m is not None and station.elevation_m is not None:
                height = station.elevation_m - elevation_m
            counts = 0.0 if elevation_m is None else abs(
                UNKNOWN_HEIGHT_M if height is None else height
            )  # fmt: skip
            found.append(
                Candidate(station, span, away, height, away + counts / 100.0 * KM_PER_100_M)
            )
    return sorted(found, key=lambda c: (c.counts_km, c.station.station))


def _around(stations: Sequence[Station], latitude_deg: float, degrees: float) -> list[Station]:
    """Return the stations within a band of latitude: a quick first sieve."""
    return [s for s in stations if abs(s.latitude_deg - latitude_deg) <= degrees]
