"""US National Weather Service: the gridpoint forecast → an outlook of the coming days.

Sources: "API Web Service" documentation and "Gridpoint Frequently Asked Questions", National
Weather Service: ``/points/{latitude},{longitude}`` leads to a grid square; each layer is a series
of ``validTime`` (ISO 8601 start/duration) and ``value``, in the layer's ``uom``.
"""

from __future__ import annotations

import functools
import json
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from forecaster.fetch.ask import (
    FORECAST_KEEPS,
    GRID_KEEPS,
    NWS_HOST,
    Answer,
    Request,
    spoken,
)
from forecaster.fetch.table import Fetched, combine
from forecaster.ground.errors import DataMissing, InputError
from forecaster.ground.units import f_to_c

SERVICE = "US National Weather Service"
KINDS = ("application/geo+json", "application/json", "application/ld+json")
LARGEST_JSON_BYTES = 20_000_000
WARMEST, COLDEST = time(15), time(5)
"""Usual hours of a day's extremes: they say which day a longer interval belongs to."""
OUTSIDE = (
    "The service covers the United States and its territories only. Elsewhere ask the world's "
    "(--service world), or give a forecast of your national weather service as a file with date, "
    "minimum and maximum (--outlook FILE)"
)
COVERED_DEG = (
    (24.0, 50.0, -125.5, -66.0),  # the states that touch, with bits of Canada and Mexico
    (51.0, 72.0, -180.0, -129.0), (51.0, 54.0, 172.0, 180.0),  # Alaska
    (18.0, 23.0, -161.0, -154.0), (17.0, 19.0, -68.0, -64.0),  # Hawaii; Puerto Rico, Virgin Islands
    (13.0, 21.0, 144.0, 147.0), (-15.0, -10.0, -172.0, -168.0),  # Guam, Marianas; Samoa
)  # fmt: skip
"""Where it is worth asking: south, north, west, east; from memory, wide."""
MOST_DAYS = 62
"""The service looks about a week ahead; dates further apart are no forecast."""
_PLAUSIBLE_C = (-90.0, 65.0)


@dataclass(frozen=True, slots=True)
class Square:
    """A square of the forecast grid: forecast office, column, row and time zone."""

    office: str
    x: int
    y: int
    zone: str


def may_cover(latitude_deg: float, longitude_deg: float) -> bool:
    """Whether a place may be in the United States or its territories; the service knows."""
    return any(
        south <= latitude_deg <= north and west <= longitude_deg <= east
        for south, north, west, east in COVERED_DEG
    )


class NotCovered(DataMissing):
    """A place outside what the service covers."""


def point_request(latitude_deg: float, longitude_deg: float) -> Request:
    """Return the question for the grid square of a place.

    The service redirects coordinates with more than four decimals, or with zeros at the end.

    Raises
    ------
    InputError
        If there is no such place.
    """
    for name, value, most in (("latitude", latitude_deg, 90), ("longitude", longitude_deg, 180)):
        if not (math.isfinite(value) and abs(value) <= most):
            raise InputError(f"{name} is {value!r}; expected degrees from {-most} to {most}")
    place = ",".join(_short(value) for value in (latitude_deg, longitude_deg))
    return Request(
        service=SERVICE, host=NWS_HOST, path=f"/points/{place}", kinds=KINDS, keep=GRID_KEEPS,
        largest_bytes=LARGEST_JSON_BYTES, check=_check, ends=_is_json, absent_ok=True,
    )  # fmt: skip


def _short(degrees: float) -> str:
    text = f"{degrees:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def grid_request(square: Square) -> Request:
    """Return the question for the forecast of a square."""
    return Request(
        service=SERVICE,
        host=NWS_HOST,
        path=f"/gridpoints/{square.office}/{square.x},{square.y}",
        kinds=KINDS,
        keep=FORECAST_KEEPS,
        largest_bytes=LARGEST_JSON_BYTES,
        check=functools.partial(_check_square, square),
        ends=_is_json,
        absent_ok=True,
    )


def _check(body: bytes) -> str:
    """Say what is wrong with an answer: it is a JSON object with properties."""
    try:
        _properties(body)
    except DataMissing as error:
        return str(error)
    return ""


def _is_json(body: bytes) -> bool:
    return not _check(body)


def _check_square(square: Square, body: bytes) -> str:
    """Say what is wrong with a forecast: it is none, or of another square than was asked."""
    if complaint := _check(body):
        return complaint
    found = _properties(body)
    asked = {"gridId": square.office, "gridX": square.x, "gridY": square.y}
    other = {key: found[key] for key in asked if found.get(key, asked[key]) != asked[key]}
    return f"answered for another square ({spoken(str(other), 60)})" if other else ""


def _properties(body: bytes) -> dict[str, Any]:
    try:
        told = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise DataMissing("answered with something else than JSON") from error
    found = told.get("properties") if isinstance(told, dict) else None
    if not isinstance(found, dict):
        raise DataMissing("answered with JSON that has no properties")
    return found


def parse_point(body: bytes) -> Square:
    """Return the grid square in an answer; its links are not followed, only its numbers used.

    Raises
    ------
    DataMissing
        If they are not what the documentation says.
    """
    found = _properties(body)
    office, zone = found.get("gridId"), found.get("timeZone")
    places = [found.get(key) for key in ("gridX", "gridY")]
    if (
        not isinstance(office, str)
        or not re.fullmatch(r"[A-Z]{3}", office, re.ASCII)
        or not all(type(p) is int and 0 <= p <= 9999 for p in places)
        or not isinstance(zone, str)
        or not re.fullmatch(r"[A-Za-z_]+(?:/[A-Za-z0-9_+\-]+){1,2}", zone, re.ASCII)
    ):
        raise DataMissing(f"{SERVICE}: no grid square in its answer ({spoken(str(found), 60)})")
    return Square(office, int(places[0] or 0), int(places[1] or 0), zone)


def parse_grid(body: bytes, zone: str) -> pd.DataFrame:
    """Return the coming days in a grid forecast.

    Parameters
    ----------
    body : bytes
        JSON with the layers ``maxTemperature``, ``minTemperature`` and
        ``quantitativePrecipitation``.
    zone : str
        The place's time zone: days are the calendar's there.

    Returns
    -------
    DataFrame
        Daily index ``date``, ``tmin_c`` and ``tmax_c`` in °C (NaN where the forecast has none),
        ``precip_mm`` for days that it covers from midnight to midnight.

    Raises
    ------
    DataMissing
        If there are no extremes, or their unit is unknown.
    """
    found = _properties(body)
    try:
        here = ZoneInfo(zone)
    except (KeyError, ValueError, OSError) as error:
        raise DataMissing(f"{SERVICE}: time zone {zone[:40]!r} is not known here") from error
    highest = _extremes(found, "maxTemperature", here, WARMEST, max)
    lowest = _extremes(found, "minTemperature", here, COLDEST, min)
    if not highest or not lowest:
        raise DataMissing(f"{SERVICE}: the forecast holds no daily maximum and minimum just now")
    days = sorted({*highest, *lowest})
    if (days[-1] - days[0]).days > MOST_DAYS:
        raise DataMissing(f"{SERVICE}: a forecast from {days[0]} to {days[-1]} cannot be one")
    index = pd.date_range(days[0], days[-1], name="date").as_unit("ns")
    rain = _rain(found, here)
    columns = {"tmin_c": lowest, "tmax_c": highest} | ({"precip_mm": rain} if rain else {})
    return pd.DataFrame(
        {name: [of.get(day.date(), np.nan) for day in index] for name, of in columns.items()},
        index=index,
    )


def _values(
    properties: dict[str, Any], layer: str
) -> Iterator[tuple[datetime, timedelta, float, str]]:
    """Yield (start, duration, value, unit) of a layer; what is empty or unreadable is passed."""
    found = properties.get(layer)
    rows = found.get("values") if isinstance(found, dict) else None
    if not isinstance(found, dict) or not isinstance(rows, list):
        return
    unit = str(found.get("uom") or "").rsplit(":", 1)[-1]
    for row in rows:
        value = row.get("value") if isinstance(row, dict) else None
        if not isinstance(value, int | float) or isinstance(value, bool):
            continue
        try:
            start, lasts = interval(str(row.get("validTime")))
            number = float(value)
        except (ValueError, OverflowError):
            continue
        if math.isfinite(number):
            yield start, lasts, number, unit


def interval(text: str) -> tuple[datetime, timedelta]:
    """Return start and duration of an ISO 8601 interval such as ``2019-07-04T18:00:00+00:00/PT3H``.

    Raises
    ------
    ValueError
        If it is none, has no zone, lies centuries away, or lasts longer than a month.

    >>> interval("2019-07-04T18:00:00+00:00/P1DT6H")[1]
    datetime.timedelta(days=1, seconds=21600)
    """
    start, _, length = text.partition("/")
    parts = re.fullmatch(r"P(?:(\d{1,2})D)?(?:T(?:(\d{1,3})H)?(?:(\d{1,3})M)?)?", length, re.ASCII)
    when = datetime.fromisoformat(start)
    if parts is None or when.tzinfo is None or not 1900 < when.year < 2200:
        raise ValueError(f"{text[:60]!r} is no interval with a zone")
    days, hours, minutes = (int(p or 0) for p in parts.groups())
    lasts = timedelta(days=days, hours=hours, minutes=minutes)
    if not timedelta(0) < lasts <= timedelta(days=31):
        raise ValueError(f"{text[:60]!r} lasts {lasts}")
    return when.astimezone(UTC), lasts


def _extremes(
    properties: dict[str, Any],
    layer: str,
    here: ZoneInfo,
    usual: time,
    pick: Callable[[float, float], float],
) -> dict[date, float]:
    """Return an extreme by day: the days whose usual hour the interval holds, else its middle."""
    found: dict[date, float] = {}
    for start, lasts, value, unit in _values(properties, layer):
        if unit not in ("degC", "degF"):
            raise DataMissing(f"{SERVICE}: {layer} in unit {spoken(unit, 20)!r}; expected degC")
        temp_c = f_to_c(value) if unit == "degF" else value
        if not _PLAUSIBLE_C[0] <= temp_c <= _PLAUSIBLE_C[1]:
            continue
        for day in _days_of(start, start + lasts, here, usual):
            found[day] = pick(found.get(day, temp_c), temp_c)
    return found


def _days_of(start: datetime, end: datetime, here: ZoneInfo, usual: time) -> list[date]:
    first, last = start.astimezone(here).date(), end.astimezone(here).date()
    days = [first + timedelta(days=k) for k in range((last - first).days + 1)]
    held = [d for d in days if start <= datetime.combine(d, usual, here) < end]
    return held or [(start + (end - start) / 2).astimezone(here).date()]


def _rain(properties: dict[str, Any], here: ZoneInfo) -> dict[date, float]:
    """Return rain by day, mm, an interval's total shared out evenly over its hours."""
    total: dict[date, float] = {}
    covered: dict[date, timedelta] = {}
    for start, lasts, value, unit in _values(properties, "quantitativePrecipitation"):
        if unit != "mm" or value < 0:
            continue
        at, end = start, start + lasts
        while at < end:
            day = at.astimezone(here).date()
            until = min(_midnight(day + timedelta(days=1), here), end)
            total[day] = total.get(day, 0.0) + value * ((until - at) / lasts)
            covered[day] = covered.get(day, timedelta(0)) + (until - at)
            at = until
    return {
        day: round(mm, 2)
        for day, mm in total.items()
        if covered[day] >= _midnight(day + timedelta(days=1), here) - _midnight(day, here)
    }


def _midnight(day: date, here: ZoneInfo) -> datetime:
    return datetime.combine(day, time(0), here).astimezone(UTC)


def outlook(ask: Callable[[Request], Answer], latitude_deg: float, longitude_deg: float) -> Fetched:
    """Return the forecast of the coming days at a place, as `forecast_soil` takes it.

    Parameters
    ----------
    ask : callable
        `Fetcher.ask`.
    latitude_deg, longitude_deg : float
        Degrees north and east.

    Raises
    ------
    NotCovered
        If the service has no such place.
    DataMissing
        If the service does not answer and none is kept.
    InputError
        If there is no such place.
    """
    point = ask(point_request(latitude_deg, longitude_deg))
    if point.absent:
        raise NotCovered(
            f"{SERVICE}: no forecast for {_short(latitude_deg)}, {_short(longitude_deg)}. {OUTSIDE}"
        )
    square = parse_point(point.body)
    answer = ask(grid_request(square))
    if answer.absent:
        raise DataMissing(f"{SERVICE}: no forecast for this grid square just now; try again later")
    table = parse_grid(answer.body, square.zone)
    source = f"{SERVICE}, gridpoint {square.office} {square.x},{square.y}"
    return combine(table, [answer], source)
