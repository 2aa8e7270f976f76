"""National Centers for Environmental Information: daily records and the lists of stations.

Sources: "NCEI Data Service API User Documentation" (the query of `daily_request`);
"GHCN-Daily readme.txt", sections IV (``ghcnd-stations.txt``) and VII (``ghcnd-inventory.txt``),
NOAA NCEI; the numbers of the sections from memory.
"""

from __future__ import annotations

import csv
import functools
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import pandas as pd

from forecaster.fetch.ask import (
    LARGEST_RECORD_BYTES,
    LISTS_KEEP,
    NCEI_HOST,
    Answer,
    NoDays,
    Request,
    keep_days,
    settled_until,
    spoken,
)
from forecaster.fetch.table import Fetched, air_of, between, combine
from forecaster.ground.errors import InputError

SERVICE = "NCEI Access Data Service"
LISTS = "GHCN-Daily station lists"
TEXT_KINDS = ("text/plain", "application/octet-stream", "binary/octet-stream")
BLOCK_YEARS = 5
EARLIEST = date(1763, 1, 1)
"""GHCN-Daily's first year (as the service's own documentation gives the dataset's start)."""

Ask = Callable[[Request], Answer]


def check_station(station: str) -> str:
    """Return a GHCN-Daily station id, if it can be one.

    Raises
    ------
    InputError
        Otherwise: eleven letters and figures, the first two a country.
    """
    if not re.fullmatch(r"[A-Z]{2}[A-Z0-9_\-][A-Z0-9_\-]{8}", station, re.ASCII):
        raise InputError(
            f"station {station[:40]!r} is no GHCN-Daily id; expected eleven capital letters and "
            "figures as USC00317994; crossday air near lists those around you"
        )
    return station


def spans(first: date, last: date, today: date) -> list[tuple[date, date]]:
    """Return the stretches to ask for: five whole settled years at a time, others one by one.

    The stretches do not depend on the first and last day within them, so that an answer kept from
    before serves again.

    >>> [f"{a} {b}" for a, b in spans(date(2019, 6, 1), date(2021, 2, 1), date(2021, 2, 3))]
    ['2015-01-01 2019-12-31', '2020-01-01 2020-12-31', '2021-01-01 2021-12-31']
    """
    settled = settled_until(today)
    found, year = [], first.year
    while year <= last.year:
        block = year - year % BLOCK_YEARS
        end = date(block + BLOCK_YEARS - 1, 12, 31)
        if end <= settled:
            found.append((date(block, 1, 1), end))
            year = block + BLOCK_YEARS
        else:
            found.append((date(year, 1, 1), date(year, 12, 31)))
            year += 1
    return found


def check_span(first: date, last: date) -> None:
    """Refuse dates in the wrong order or before any record.

    Raises
    ------
    InputError
        If so.
    """
    if first > last:
        raise InputError(f"the first day {first} is after the last day {last}; swap them")
    if first < EARLIEST:
        raise InputError(
            f"the first day {first} is before any record; expected {EARLIEST} or later"
        )


def daily_request(station: str, first: date, last: date, today: date) -> Request:
    """Return the question for a stretch of days of one station.

    Attributes are asked for because they hold quality flags and the time of observation.
    """
    return Request(
        service=SERVICE,
        host=NCEI_HOST,
        path="/access/services/data/v1",
        kinds=("text/csv", *TEXT_KINDS),
        keep=keep_days(last, today),
        query=(
            ("dataset", "daily-summaries"),
            ("stations", check_station(station)),
            ("startDate", first.isoformat()),
            ("endDate", last.isoformat()),
            ("dataTypes", "TMAX,TMIN,PRCP"),
            ("format", "csv"),
            ("units", "metric"),
            ("includeAttributes", "true"),
            ("includeStationName", "true"),
            ("includeStationLocation", "1"),
        ),
        largest_bytes=LARGEST_RECORD_BYTES,
        check=functools.partial(_check_daily, station, first, last),
        ends=functools.partial(_reaches, last),
        trim=_without_bare_heading,
    )


_CELLS_C = {"TMAX": (-95.0, 65.0), "TMIN": (-95.0, 65.0), "PRCP": (0.0, 2500.0)}
"""What no day on Earth goes beyond, °C and mm; values from memory (WMO Archive of Extremes)."""


def _check_daily(station: str, first: date, last: date, body: bytes) -> str:
    """Say what is wrong with an answer: it is empty, or the days asked of the station asked."""
    try:
        if re.search(rb"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", body):
            raise ValueError("a control character")  # noqa: TRY301 - said below
        rows = csv.reader(body.decode("utf-8-sig").strip().splitlines(), strict=True)
        head = [name.strip().upper() for name in next(rows, [])]
        if head and not {"STATION", "DATE"} <= set(head):
            return "answered with a text without the headings STATION and DATE"
        days: set[date] = set()
        for row in rows:
            if len(row) != len(head):
                return f"answered with a line of {len(row)} cells, not {len(head)}: cut short?"
            told = dict(zip(head, (cell.strip() for cell in row), strict=True))
            day = date.fromisoformat(told["DATE"])
            if not first <= day <= last or day in days:
                return f"answered with the day {day}, which was not asked for, or twice"
            days.add(day)
            if complaint := _check_cells(station, told):
                return complaint
    except (ValueError, csv.Error) as error:
        return f"answered with a line that cannot be read ({spoken(str(error), 60)})"
    return ""


def _check_cells(station: str, told: dict[str, str]) -> str:
    if told["STATION"] != station:
        return f"answered with days of {spoken(told['STATION'], 20)!r}, not {station}"
    for name, (low, high) in _CELLS_C.items():
        cell = told.get(name)
        if cell and not low <= float(cell) <= high:
            return f"answered with {name} of {spoken(cell, 20)}, which is not in °C or mm"
    return ""


def _reaches(last: date, body: bytes) -> bool:
    """Whether the last line is that of the last day asked for, with its end."""
    lines = body.rstrip(b"\r\n").rsplit(b"\n", 1)
    return body.endswith(b"\n") and last.isoformat().encode() in lines[-1]


def _without_bare_heading(body: bytes) -> bytes:
    """Return nothing for a heading without rows, so that it is not kept for ever."""
    return body if body.strip().count(b"\n") else b""


def parse_daily(source: str, bodies: list[bytes]) -> pd.DataFrame:
    """Return the daily table (°C, mm) in answers of the service.

    Raises
    ------
    DataMissing
        If they hold no usable day.
    """
    return air_of(bodies, source, units="C")


def daily_summaries(ask: Ask, station: str, first: date, last: date, today: date) -> Fetched:
    """Return a station's daily extremes and rain from the Access Data Service.

    Parameters
    ----------
    ask : callable
        `Fetcher.ask`.
    station : str
        GHCN-Daily id, eleven characters.
    first, last : date
        Days wanted, both included.
    today : date
        The calendar's day; decides what is settled.

    Raises
    ------
    DataMissing
        If the service has no such days, or does not answer and none are kept.
    InputError
        If the station or the days cannot be right.
    """
    check_station(station)
    check_span(first, last)
    answers = [
        ask(daily_request(station, start, end, today)) for start, end in spans(first, last, today)
    ]
    source = f"{SERVICE}, daily-summaries of {station}"
    table = between(parse_daily(source, [a.body for a in answers]), first, last)
    if table.empty:
        raise NoDays(f"{source}: no days from {first} to {last}; ask for other years")
    return combine(table, answers, source)


@dataclass(frozen=True, slots=True)
class Station:
    """One station of the list.

    Parameters
    ----------
    station : str
        GHCN-Daily id.
    latitude_deg, longitude_deg : float
        Degrees north and east.
    elevation_m : float, optional
        Height above sea level, m; None where the list has none.
    name : str
        Name, with the state's letters where there are any.
    """

    station: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None
    name: str


@dataclass(frozen=True, slots=True)
class Span:
    """First and last year with both daily extremes."""

    first_year: int
    last_year: int


def stations_request() -> Request:
    """Return the question for the list of stations."""
    return _list_request("ghcnd-stations.txt", _check_stations, lambda body: body)


def inventory_request() -> Request:
    """Return the question for the inventory; only its lines on daily extremes are kept."""
    return _list_request("ghcnd-inventory.txt", _check_inventory, _extremes_only)


def _list_request(
    name: str, check: Callable[[bytes], str], trim: Callable[[bytes], bytes]
) -> Request:
    return Request(
        service=LISTS,
        host=NCEI_HOST,
        path=f"/pub/data/ghcn/daily/{name}",
        kinds=TEXT_KINDS,
        keep=LISTS_KEEP,
        check=lambda body: check(body) or _check_end(body),
        trim=trim,
    )


_SHORTEST_LINE = 40
_STATION_START = re.compile(rb"[A-Z0-9_\-]{11} [ \-\d.]{8} [ \-\d.]{9} ")
_INVENTORY = re.compile(
    rb"^([A-Z0-9_\-]{11}) [ \-\d.]{8} [ \-\d.]{9} (TMAX|TMIN) (\d{4}) (\d{4})[ \r]*$", re.MULTILINE
)


def _check_end(body: bytes) -> str:
    """Say whether the last line of a list is one like the first, whole."""
    lines = body.rstrip(b"\r\n").rsplit(b"\n", 1)
    whole = _STATION_START.match(lines[-1]) and len(lines[-1].rstrip()) >= _SHORTEST_LINE
    return "" if whole else "answered with a list whose last line is cut short"


def _check_stations(body: bytes) -> str:
    return "" if _STATION_START.match(body) else "answered with something else than its list"


def _check_inventory(body: bytes) -> str:
    if re.match(rb"[A-Z0-9_\-]{11} [ \-\d.]{8} [ \-\d.]{9} [A-Z0-9]{4} \d{4} \d{4}", body):
        return ""
    return "answered with something else than its inventory"


def _extremes_only(body: bytes) -> bytes:
    return b"\n".join(line for line in body.splitlines() if line[31:35] in (b"TMAX", b"TMIN"))


def parse_stations(body: bytes) -> list[Station]:
    """Return the stations of ``ghcnd-stations.txt``; lines that are none are passed over.

    Columns, counted from 1: id 1–11, latitude 13–20, longitude 22–30, elevation 32–37 (−999.9
    where missing), state 39–40, name 42–71.
    """
    found = []
    for line in body.decode("utf-8", "replace").splitlines():
        try:
            latitude, longitude = float(line[12:20]), float(line[21:30])
            elevation = float(line[31:37])
        except ValueError:
            continue
        if abs(latitude) <= 90 and abs(longitude) <= 180:
            name = " ".join(f"{line[41:71].strip()} {line[38:40].strip()}".split())
            height = elevation if -500 < elevation < 9000 else None
            found.append(Station(line[:11], latitude, longitude, height, name))
    return found


def parse_inventory(body: bytes) -> dict[str, Span]:
    """Return the years with both extremes by station from ``ghcnd-inventory.txt``.

    Columns, counted from 1: id 1–11, latitude 13–20, longitude 22–30, element 32–35, first year
    37–40, last year 42–45. A station without both extremes, or without years in common, is left
    out. The inventory gives first and last years only, not how many days lie between.
    """
    years: dict[str, dict[str, tuple[int, int]]] = {}
    for station, element, first, last in _INVENTORY.findall(body):
        years.setdefault(station.decode(), {})[element.decode()] = (int(first), int(last))
    found = {}
    for name, elements in years.items():
        if len(elements) == 2:
            span = Span(max(f for f, _ in elements.values()), min(e for _, e in elements.values()))
            if span.first_year <= span.last_year:
                found[name] = span
    return found
