"""MET Norway's Locationforecast 2.0: an outlook of the coming days for anywhere.

Never reached from where this was written. Read in the service's documentation (api.met.no/doc:
"Terms of Service", "Locationforecast HOWTO", "General point forecast JSON format", "FAQ") and in
stored answers: the address; at most four decimals; a User-Agent with the application's name and an
e-mail or web address of who asks, without which calls are blocked; answers kept by ``Expires`` and
asked for again with ``If-Modified-Since``; CC BY 4.0 with credit; JSON with
``geometry.coordinates`` (longitude, latitude, height), ``properties.meta.units``, and
``properties.timeseries``, each ``time`` with ``data.instant.details.air_temperature`` and
``data.next_1_hours`` and ``next_6_hours`` ``.details``. In stored answers the ``compact`` form has
rain alone in ``next_6_hours``; the ``complete`` form, the same with more in it, has
``air_temperature_min`` and ``_max`` too, so that is asked for: without them the days past the
hourly ones (two or three) have no extremes. From memory: that steps are of 6 hours after those.
"""

from __future__ import annotations

import functools
import json
import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from forecaster.fetch.ask import FORECAST_KEEPS, MET_HOST, Answer, Request, spoken
from forecaster.fetch.table import Fetched, combine
from forecaster.ground.errors import DataMissing, InputError

SERVICE = "MET Norway"
CREDIT = "Data: MET Norway (api.met.no), Locationforecast 2.0, CC BY 4.0"
NEEDS_CONTACT = (
    f"{SERVICE} asks everyone who calls for an e-mail or web address where they can be reached; "
    "give yours with --contact you@example.org, or set CROSSDAY_CONTACT. It is sent to them alone"
)
LARGEST_JSON_BYTES = 5_000_000
MOST_DAYS = 30
"""The service looks nine days ahead; times further apart are no forecast."""
SAME_PLACE_DEG = 0.02
LOWEST_M, HIGHEST_M = -450.0, 9000.0
HOUR, SIX_HOURS = timedelta(hours=1), timedelta(hours=6)
_PLAUSIBLE_C = (-90.0, 65.0)
_CONTACT = re.compile(
    r"[\w.+\-]+@[\w\-]+(?:\.[\w\-]+)+|(?:https?://)?[\w\-]+(?:\.[\w\-]+)+(?:/[\w.~/\-]*)?", re.ASCII
)


def check_contact(contact: str | None) -> str:
    """Return an e-mail or web address as it may be sent along.

    Raises
    ------
    InputError
        If there is none, or it is no such thing.
    """
    words = (contact or "").strip()
    if not words:
        raise InputError(NEEDS_CONTACT)
    if len(words) > 100 or not _CONTACT.fullmatch(words):
        raise InputError(
            f"the contact is {spoken(words, 60)!r}; expected an e-mail or web address, as "
            "you@example.org"
        )
    return words


def outlook_request(
    latitude_deg: float,
    longitude_deg: float,
    contact: str | None,
    elevation_m: float | None = None,
) -> Request:
    """Return the question for the forecast of a place.

    The service moves the temperature to a height that is told, in whole metres; else to that of
    its own coarse map ("Locationforecast FAQ").

    Raises
    ------
    InputError
        If there is no such place, or no contact.
    """
    if elevation_m is not None and not LOWEST_M <= elevation_m <= HIGHEST_M:
        raise InputError(
            f"the height is {elevation_m:g} m; expected {LOWEST_M:g} to {HIGHEST_M:g} m"
        )
    height = () if elevation_m is None else (("altitude", str(round(elevation_m))),)
    for name, value, most in (("latitude", latitude_deg, 90), ("longitude", longitude_deg, 180)):
        if not (math.isfinite(value) and abs(value) <= most):
            raise InputError(f"{name} is {value!r}; expected degrees from {-most} to {most}")
    here = (round(latitude_deg, 4) + 0.0, round(longitude_deg, 4) + 0.0)
    return Request(
        service=SERVICE,
        host=MET_HOST,
        path="/weatherapi/locationforecast/2.0/complete",
        kinds=("application/json", "application/geo+json"),
        keep=FORECAST_KEEPS,
        query=(("lat", _short(here[0])), ("lon", _short(here[1])), *height),
        largest_bytes=LARGEST_JSON_BYTES,
        check=functools.partial(_complaint, here),
        ends=lambda body: not _complaint(here, body),
        heeds_expires=True,
        contact=check_contact(contact),
    )


def _short(degrees: float) -> str:
    return f"{degrees:.4f}".rstrip("0").rstrip(".")


def zone_at(longitude_deg: float) -> tzinfo:
    """Return the nearest zone of 15°, for a place whose clock nobody told."""
    return timezone(timedelta(hours=round(longitude_deg / 15.0)))


def zone_of(clock: str | float) -> tzinfo:
    """Return a clock's zone: by its name, or by its hours ahead of universal time.

    Raises
    ------
    InputError
        If there is none of that name, or none so far ahead.
    """
    try:
        if isinstance(clock, str):
            return ZoneInfo(clock)
        return timezone(timedelta(hours=clock))
    except (KeyError, ValueError, OSError):
        raise InputError(
            f"clock is {clock!r}; expected a time zone's name such as 'Europe/Dublin', or hours "
            "ahead of universal time"
        ) from None


def _complaint(here: tuple[float, float], body: bytes) -> str:
    """Say what is wrong with an answer: no forecast, or another place's."""
    try:
        told = _object(body)
        _check_place(told, here)
        _check_units(told)
        _spans(told)
    except DataMissing as error:
        return str(error)
    return ""


def _object(body: bytes) -> dict[str, Any]:
    try:
        told = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise DataMissing("answered with something else than JSON") from error
    properties = told.get("properties") if isinstance(told, dict) else None
    if not isinstance(properties, dict) or not isinstance(properties.get("timeseries"), list):
        raise DataMissing("answered with JSON that has no timeseries")
    return dict(told)


def _check_place(told: dict[str, Any], here: tuple[float, float]) -> None:
    place = _inside(told, "geometry").get("coordinates")
    pair = [_number(v) for v in place[:2]] if isinstance(place, list) else []
    if len(pair) < 2 or pair[0] is None or pair[1] is None:
        raise DataMissing("answered with JSON that has no coordinates")
    east = (pair[0] - here[1] + 180.0) % 360.0 - 180.0
    if max(abs(east), abs(pair[1] - here[0])) > SAME_PLACE_DEG:
        raise DataMissing(
            f"answered for another place ({pair[1]:g}, {pair[0]:g}; asked was "
            f"{here[0]:g}, {here[1]:g})"
        )


def _check_units(told: dict[str, Any]) -> None:
    units = _inside(told, "properties", "meta", "units")
    expected = {"air_temperature": "celsius", "air_temperature_min": "celsius",
                "air_temperature_max": "celsius", "precipitation_amount": "mm"}  # fmt: skip
    for name, unit in expected.items():
        found = units.get(name, None if name == "air_temperature" else unit)
        if found != unit:
            raise DataMissing(f"answered {name} in {spoken(str(found), 20)!r}; expected {unit}")


def _inside(told: Any, *names: str) -> dict[str, Any]:
    """Return the object at the end of a path of names, empty where there is none."""
    for name in names:
        told = told.get(name) if isinstance(told, dict) else None
    return told if isinstance(told, dict) else {}


def _number(value: object) -> float | None:
    fine = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e6
    return float(value) if fine and math.isfinite(value) else None  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Span:
    """Some hours of a forecast: extremes (°C) and rain (mm; None where untold)."""

    start: datetime
    end: datetime
    least_c: float
    most_c: float
    rain_mm: float | None


def _spans(told: dict[str, Any]) -> list[Span]:
    """Return the hours that a forecast covers, in order.

    An hourly step has the temperature at its start; a longer one needs its six hours' extremes.
    """
    steps = sorted(_steps(told["properties"]["timeseries"]), key=lambda step: step[0])
    if not steps:
        raise DataMissing("answered with a forecast without any time")
    if steps[-1][0] - steps[0][0] > timedelta(days=MOST_DAYS):
        raise DataMissing(f"answered for {steps[0][0]:%F} to {steps[-1][0]:%F}: no forecast")
    after = [*(b[0] - a[0] for a, b in pairwise(steps)), SIX_HOURS]
    spans = [
        _hour(start, data) if lasts <= HOUR else _six_hours(start, data)
        for (start, data), lasts in zip(steps, after, strict=True)
    ]
    return [span for span in spans if span is not None]


def _steps(rows: Iterable[Any]) -> Iterable[tuple[datetime, dict[str, Any]]]:
    for row in rows:
        try:
            start = datetime.fromisoformat(str(row.get("time")))
        except (AttributeError, ValueError):
            continue
        if start.tzinfo is not None and 1900 < start.year < 2200:
            yield start.astimezone(UTC), _inside(row, "data")


def _hour(start: datetime, data: dict[str, Any]) -> Span | None:
    now_c = _number(_inside(data, "instant", "details").get("air_temperature"))
    return _span(start, HOUR, now_c, now_c, _inside(data, "next_1_hours", "details"))


def _six_hours(start: datetime, data: dict[str, Any]) -> Span | None:
    ahead = _inside(data, "next_6_hours", "details")
    least, most = (_number(ahead.get(f"air_temperature_{which}")) for which in ("min", "max"))
    return _span(start, SIX_HOURS, least, most, ahead)


def _span(
    start: datetime,
    lasts: timedelta,
    least_c: float | None,
    most_c: float | None,
    details: dict[str, Any],
) -> Span | None:
    if least_c is None or most_c is None:
        return None
    if not _PLAUSIBLE_C[0] <= least_c <= most_c <= _PLAUSIBLE_C[1]:
        return None
    rain = _number(details.get("precipitation_amount"))
    return Span(start, start + lasts, least_c, most_c, rain if rain is None or rain >= 0 else None)


def parse_outlook(body: bytes, here: tuple[float, float], zone: tzinfo) -> pd.DataFrame:
    """Return the coming days in a forecast.

    A day's extremes are those of the hours whose middle lies in it, so that six hours across
    midnight belong to one day: a morning's minimum and an afternoon's maximum stand elsewhere.

    Parameters
    ----------
    body : bytes
        JSON as documented.
    here : (latitude, longitude)
        The place asked about, degrees.
    zone : tzinfo
        The place's clock.

    Returns
    -------
    DataFrame
        Index ``date``, ``tmin_c`` and ``tmax_c`` in °C, and ``precip_mm`` where it is told (NaN
        elsewhere), on the days that the forecast covers from midnight to midnight.

    Raises
    ------
    DataMissing
        If it is none, is of another place or unit, or covers no whole day.
    """
    told = _object(body)
    _check_place(told, here)
    _check_units(told)
    spans = _spans(told)
    by_day: dict[date, list[Span]] = {}
    for span in spans:
        middle = span.start + (span.end - span.start) / 2
        by_day.setdefault(middle.astimezone(zone).date(), []).append(span)
    whole = _whole_days(spans, zone)
    days = [day for day in whole if day in by_day]
    if not days:
        raise DataMissing(f"{SERVICE}: the forecast covers no whole day just now")
    rain = _rain(spans, zone)
    index = pd.DatetimeIndex(pd.to_datetime(days), name="date").as_unit("ns")
    return pd.DataFrame(
        {
            "tmin_c": [min(span.least_c for span in by_day[day]) for day in days],
            "tmax_c": [max(span.most_c for span in by_day[day]) for day in days],
            "precip_mm": [rain.get(day, np.nan) for day in days],
        },
        index=index,
    ).asfreq("D")


def _pieces(
    start: datetime, end: datetime, zone: tzinfo
) -> Iterable[tuple[date, datetime, datetime]]:
    """Cut a stretch of time at the clock's midnights."""
    while start < end:
        day = start.astimezone(zone).date()
        until = min(_midnight(day + timedelta(days=1), zone), end)
        yield day, start, until
        start = until


def _midnight(day: date, zone: tzinfo) -> datetime:
    return datetime.combine(day, time(0), zone).astimezone(UTC)


def _whole_days(spans: Sequence[Span], zone: tzinfo) -> list[date]:
    """Return the days covered without a hole."""
    covered: dict[date, timedelta] = {}
    reached = datetime.min.replace(tzinfo=UTC)
    for span in spans:
        for day, start, end in _pieces(max(span.start, reached), span.end, zone):
            covered[day] = covered.get(day, timedelta(0)) + (end - start)
        reached = max(reached, span.end)
    return [
        day
        for day, length in sorted(covered.items())
        if length >= _midnight(day + timedelta(days=1), zone) - _midnight(day, zone)
    ]


def _rain(spans: Sequence[Span], zone: tzinfo) -> dict[date, float]:
    """Return rain by day, mm, shared out evenly over a span's hours; no day with a part untold."""
    total: dict[date, float] = {}
    untold = set()
    for span, after in zip(spans, [*spans[1:], None], strict=True):
        end = span.end if after is None else min(span.end, after.start)
        for day, start, until in _pieces(span.start, end, zone):
            if span.rain_mm is None:
                untold.add(day)
                continue
            share = (until - start) / (span.end - span.start)
            total[day] = total.get(day, 0.0) + span.rain_mm * share
    return {day: round(mm, 2) for day, mm in total.items() if day not in untold}


def outlook(
    ask: Callable[[Request], Answer],
    latitude_deg: float,
    longitude_deg: float,
    *,
    contact: str | None,
    clock: str | float | None = None,
    elevation_m: float | None = None,
) -> Fetched:
    """Return the forecast of the coming days at a place, as `forecast_soil` takes it.

    Parameters
    ----------
    ask : callable
        `Fetcher.ask`.
    latitude_deg, longitude_deg : float
        Degrees north and east.
    contact : str or None
        E-mail or web address of who asks; the service's terms want one.
    clock : str or float, optional
        The place's clock: a zone's name or hours ahead of universal time; by default the nearest
        zone of 15°.
    elevation_m : float, optional
        The place's height above the sea, m.

    Raises
    ------
    DataMissing
        If the service does not answer and nothing is kept, or the forecast covers no whole day.
    InputError
        If there is no such place or clock, or no contact.
    """
    request = outlook_request(latitude_deg, longitude_deg, contact, elevation_m)
    here = (latitude_deg, longitude_deg)
    zone = zone_at(longitude_deg) if clock is None else zone_of(clock)
    answer = ask(request)
    table = parse_outlook(answer.body, here, zone)
    place = ", ".join(value for _, value in request.query[:2])
    by = f"by the clock {clock}" if clock is not None else f"by {zone}, the nearest zone of 15°"
    days = f"Days run from midnight to midnight {by}; days not covered whole are left out."
    return combine(table, [answer], f"{SERVICE}, Locationforecast 2.0 at {place}", [days, CREDIT])
