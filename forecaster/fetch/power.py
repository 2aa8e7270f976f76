"""NASA POWER's daily point service: a gridded record for anywhere, a stand-in for a station.

Never reached from where this was written. Read in the service's documentation ("Daily API",
"Hourly API", power.larc.nasa.gov/docs/services/api) and in stored answers: the path, the query
(``parameters, community, longitude, latitude, start, end, format, time-standard``), JSON with
``geometry.coordinates`` (longitude, latitude, mean height of the square in m),
``properties.parameter`` (name → YYYYMMDD → value), ``header.fill_value`` −999,
``header.time_standard`` LST, ``parameters`` (name → units C or mm/day); squares of 0.5° by 0.625°
of the reanalysis MERRA-2, its last months stood in for by a faster analysis up to some days ago.
From memory: the unit's spelling ``mm/day``, that the coordinates asked come back, the first day
1981-01-01, the form of complaints.
"""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd

from forecaster.fetch.ask import (
    GRID_KEEPS,
    LARGEST_RECORD_BYTES,
    POWER_HOST,
    Answer,
    NoDays,
    Request,
    settled_until,
    spoken,
)
from forecaster.fetch.table import Fetched, air_of, combine
from forecaster.ground.errors import DataMissing, InputError
from forecaster.ground.units import METRES_PER_FOOT
from forecaster.ingest.account import GRIDDED

SERVICE = "NASA POWER"
CREDIT = (
    "Data: NASA Langley Research Center POWER Project, funded through the NASA Earth Science "
    "Directorate Applied Science Program."
)
STAND_IN = (
    "A gridded stand-in, not a station: the mean of a square of 0.5° by 0.625°, which can lie 1 to "
    "2 °C (2 to 4 °F) off any place in it, more in mountains and by the sea. Forecasts from it "
    "have a wider interval. Prefer a station near you: crossday air near."
)
COLUMNS = {
    "T2M_MIN": ("tmin_c", "C"),
    "T2M_MAX": ("tmax_c", "C"),
    "T2M": ("tavg_c", "C"),
    "PRECTOTCORR": ("precip_mm", "mm/day"),
}
FIRST_DAY = date(1981, 1, 1)
FILL = -999.0
PROVISIONAL_DAYS = 120
"""Our choice: the documentation says that MERRA-2 follows "within a few months"."""
SQUARE_DEG = 0.35
"""An answer whose coordinates lie farther off is of another square (half of 0.625°, and a bit)."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place asked about, degrees north and east, to a hundredth."""

    latitude_deg: float
    longitude_deg: float

    @property
    def station(self) -> str:
        """What stands in the file's column of stations: that it is none."""
        return f"{GRIDDED}{SERVICE} {self.latitude_deg:g} {self.longitude_deg:g}"


def spot(latitude_deg: float, longitude_deg: float) -> Spot:
    """Return a place as it is asked about.

    Raises
    ------
    InputError
        If there is no such place.
    """
    for name, value, most in (("latitude", latitude_deg, 90), ("longitude", longitude_deg, 180)):
        if not (math.isfinite(value) and abs(value) <= most):
            raise InputError(f"{name} is {value!r}; expected degrees from {-most} to {most}")
    return Spot(round(latitude_deg, 2) + 0.0, round(longitude_deg, 2) + 0.0)


def spot_named(station: str) -> Spot | None:
    """Return the place that a square's name tells; None where it is no such name.

    >>> spot_named("gridded NASA POWER -36.2 146.6").station
    'gridded NASA POWER -36.2 146.6'
    """
    if not station.startswith(GRIDDED + SERVICE):
        return None
    try:
        north, east = (float(word) for word in station.removeprefix(GRIDDED + SERVICE).split())
        return spot(north, east)
    except ValueError:
        return None


def days_request(where: Spot, first: date, last: date, today: date) -> Request:
    """Return the question for the days of a square, both included.

    Raises
    ------
    InputError
        If the days lie before the record, or the wrong way round.
    """
    if first > last:
        raise InputError(f"the first day, {first}, is after the last, {last}; swap them")
    if first < FIRST_DAY:
        raise InputError(f"the first day is {first}; the gridded record begins on {FIRST_DAY}")
    return Request(
        service=SERVICE,
        host=POWER_HOST,
        path="/api/temporal/daily/point",
        kinds=("application/json",),
        keep=None if last <= settled_until(today, PROVISIONAL_DAYS) else GRID_KEEPS,
        query=(
            ("parameters", ",".join(COLUMNS)),
            ("community", "AG"),
            ("longitude", f"{where.longitude_deg:g}"),
            ("latitude", f"{where.latitude_deg:g}"),
            ("start", f"{first:%Y%m%d}"),
            ("end", f"{last:%Y%m%d}"),
            ("format", "JSON"),
            ("time-standard", "LST"),
        ),
        largest_bytes=LARGEST_RECORD_BYTES,
        check=functools.partial(_complaint, where, first, last),
        ends=lambda body: not _complaint(where, first, last, body),
    )


def _complaint(where: Spot, first: date, last: date, body: bytes) -> str:
    """Say what is wrong with an answer: no JSON, another place, unit, clock or days."""
    try:
        parse_days(body, where, first, last)
    except DataMissing as error:
        return str(error)
    return ""


def parse_days(
    body: bytes, where: Spot, first: date, last: date
) -> tuple[pd.DataFrame, float | None]:
    """Return the days in an answer, and the mean height of the square.

    Parameters
    ----------
    body : bytes
        JSON as documented.
    where : Spot
        The place asked about.
    first, last : date
        The days asked for.

    Returns
    -------
    DataFrame
        Index ``date``; ``tmin_c``, ``tmax_c`` and ``tavg_c`` in °C, ``precip_mm``; NaN where the
        service has none. Days without any value are left out.
    float or None
        Metres above sea level.

    Raises
    ------
    DataMissing
        If it is none, or of another place, unit, clock or other days.
    """
    told = _object(body)
    height_m = _check_place(told, where)
    header = _part(told, "header")
    clock = header.get("time_standard", "LST")
    if clock != "LST":
        raise DataMissing(f"answered in days by {spoken(str(clock), 20)}; expected LST")
    values, units = _part(_part(told, "properties"), "parameter"), _part(told, "parameters")
    fill = header.get("fill_value", FILL)
    columns = {}
    for name, (ours, unit) in COLUMNS.items():
        found = _part(units, name).get("units")
        if found != unit:
            raise DataMissing(f"answered {name} in {spoken(str(found), 20)!r}; expected {unit}")
        columns[ours] = _series(name, _part(values, name), fill)
    table = pd.DataFrame(columns)
    table.index = pd.DatetimeIndex(table.index, name="date").as_unit("ns")
    table = table.sort_index()
    if len(table) and (table.index[0].date() < first or table.index[-1].date() > last):
        span = f"{table.index[0].date()} to {table.index[-1].date()}"
        raise DataMissing(f"answered for {span}; asked were {first} to {last}")
    return table.dropna(how="all"), height_m


def _object(body: bytes) -> dict[str, Any]:
    try:
        told = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise DataMissing("answered with something else than JSON") from error
    if not isinstance(told, dict):
        raise DataMissing("answered with JSON that is no object")
    return told


def _part(told: dict[str, Any], name: str) -> dict[str, Any]:
    found = told.get(name)
    if not isinstance(found, dict):
        raise DataMissing(f"answered with JSON that has no {name!r}")
    return found


def _check_place(told: dict[str, Any], where: Spot) -> float | None:
    """Refuse another place's answer; return the height of the square, m."""
    place = _part(told, "geometry").get("coordinates")
    numbers = place if isinstance(place, list) else []
    if len(numbers) < 2 or not all(_is_number(value) for value in numbers):
        raise DataMissing("answered with JSON that has no coordinates")
    off = (numbers[0] - where.longitude_deg + 180.0) % 360.0 - 180.0
    if max(abs(off), abs(numbers[1] - where.latitude_deg)) > SQUARE_DEG:
        raise DataMissing(
            f"answered for another place ({numbers[1]:g}, {numbers[0]:g}; asked was "
            f"{where.latitude_deg:g}, {where.longitude_deg:g})"
        )
    return float(numbers[2]) if len(numbers) > 2 and numbers[2] > FILL else None


def _series(name: str, days: dict[str, Any], fill: object) -> pd.Series[float]:
    index, values = [], []
    for day, value in days.items():
        try:
            index.append(_day(day))
        except ValueError as error:
            raise DataMissing(f"answered {name} for a day {spoken(day, 20)!r}") from error
        missing = value is None or value in (fill, FILL)
        if not missing and not _is_number(value):
            raise DataMissing(f"answered {name} with {spoken(str(value), 20)!r}, no number")
        values.append(np.nan if missing else float(value))
    return pd.Series(values, index=pd.DatetimeIndex(index), dtype=float)


def _day(text: str) -> datetime:
    if len(text) != 8 or not (text.isascii() and text.isdigit()):
        raise ValueError(f"{text[:20]!r} is no day")
    return datetime.fromisoformat(text)


def _is_number(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and abs(value) < 1e6
        and math.isfinite(value)
    )


def daily(
    ask: Callable[[Request], Answer], where: Spot, first: date, last: date, today: date
) -> Fetched:
    """Return the days of a square as `read_air` reads a station's.

    Parameters
    ----------
    ask : callable
        `Fetcher.ask`.
    where : Spot
    first, last : date
        Days wanted, both included; the service is some days behind.
    today : date
        Decides which days may still change.

    Raises
    ------
    NoDays
        If it has none of them yet.
    DataMissing
        If the service does not answer and nothing is kept.
    InputError
        If the days cannot be asked for.
    """
    last = min(last, today - timedelta(days=1))
    source = f"{SERVICE}, the square of {where.latitude_deg:g}, {where.longitude_deg:g}"
    if first > last:
        raise NoDays(f"{source}: the days from {first} on are not there yet")
    answer = ask(days_request(where, first, last, today))
    table, height_m = parse_days(answer.body, where, first, last)
    if table.empty:
        raise NoDays(f"{source}: no days from {first} to {last} yet; it is some days behind")
    air = air_of([table.to_csv(lineterminator="\n").encode()], source, units="C")
    notes = (STAND_IN, *_height(height_m), CREDIT)
    return combine(air, [answer], source, notes)


def _height(height_m: float | None) -> list[str]:
    if height_m is None:
        return []
    feet = round(height_m / METRES_PER_FOOT)
    said = (
        f"The square lies {height_m:,.0f} m ({feet:,} ft) above the sea on average; air is about "
        "0.65 °C (1.2 °F) cooler for each 100 m (330 ft) that your place is higher."
    )
    return [said]
