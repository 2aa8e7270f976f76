"""US Climate Reference Network, daily01: one text file a station and year.

Source: "USCRN/USRCRN daily files" readme.txt, NOAA NCEI, sections 3 and 4 (folders and names).
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from datetime import date

import pandas as pd

from forecaster.fetch.ask import (
    LARGEST_RECORD_BYTES,
    NCEI_HOST,
    Answer,
    NoDays,
    Request,
    keep_days,
    spoken,
)
from forecaster.fetch.ncei import TEXT_KINDS, check_span
from forecaster.fetch.table import Fetched, air_of, between, combine
from forecaster.ground.errors import InputError

SERVICE = "US Climate Reference Network"
FIRST_YEAR = 2000
_NAME = re.compile(r"[A-Z]{2}(?:_(?!\.)[A-Za-z0-9.'\-]+){2,8}", re.ASCII)


def is_name(station: str) -> bool:
    """Whether a text has the form of the network's names, as ``NE_Lincoln_11_SW``."""
    return len(station) <= 60 and ".." not in station and bool(_NAME.fullmatch(station))


def year_request(station: str, year: int, today: date) -> Request:
    """Return the question for one year of one station.

    Raises
    ------
    InputError
        If the name cannot be one of the network's.
    """
    if not is_name(station):
        raise InputError(
            f"station {station[:60]!r} is no name of the US Climate Reference Network; "
            "expected one as NE_Lincoln_11_SW"
        )
    return Request(
        service=SERVICE,
        host=NCEI_HOST,
        path=f"/pub/data/uscrn/products/daily01/{year:04d}/CRND0103-{year:04d}-{station}.txt",
        kinds=TEXT_KINDS,
        keep=keep_days(date(year, 12, 31), today),
        largest_bytes=LARGEST_RECORD_BYTES,
        check=functools.partial(_check, year),
        ends=functools.partial(_reaches, year),
        absent_ok=True,
    )


def _check(year: int, body: bytes) -> str:
    """Say what is wrong with a file: it is empty, or days of one year of one station."""
    stations = set()
    for line in body.splitlines():
        fields = line.split()
        if not fields:
            continue
        if len(fields) != 28:
            return f"answered with a line of {len(fields)} fields, not 28"
        if not re.fullmatch(rb"%d[0-9]{4}" % year, fields[1]):
            return f"answered with the day {spoken(fields[1].decode('latin-1'), 20)}, not of {year}"
        stations.add(fields[0])
    return "answered with days of several stations" if len(stations) > 1 else ""


def _reaches(year: int, body: bytes) -> bool:
    """Whether the last line is that of the year's last day, with its end."""
    lines = body.rstrip(b"\r\n").rsplit(b"\n", 1)
    return body.endswith(b"\n") and b" %d1231 " % year in lines[-1]


def parse_years(source: str, bodies: list[bytes]) -> pd.DataFrame:
    """Return the daily table (°C, mm) in the files of some years.

    Raises
    ------
    DataMissing
        If they hold no usable day.
    """
    return air_of(bodies, source)


def daily(
    ask: Callable[[Request], Answer], station: str, first: date, last: date, today: date
) -> Fetched:
    """Return a station's daily air from the network's yearly files.

    Parameters
    ----------
    ask : callable
        `Fetcher.ask`.
    station : str
        Name as the network writes it.
    first, last : date
        Days wanted, both included; a year the station did not run is passed over.
    today : date
        The calendar's day; decides what is settled.

    Raises
    ------
    DataMissing
        If the network has no such days, or does not answer and none are kept.
    InputError
        If the station or the days cannot be right.
    """
    check_span(first, last)
    years = range(max(first.year, FIRST_YEAR), last.year + 1)
    answers = [ask(year_request(station, year, today)) for year in years]
    source = f"{SERVICE}, daily01 of {station}"
    found = [answer for answer in answers if not answer.absent]
    if not found:
        raise NoDays(f"{source}: no files from {first.year} to {last.year}; check the name")
    table = between(parse_years(source, [a.body for a in found]), first, last)
    if table.empty:
        raise NoDays(f"{source}: no days from {first} to {last}; ask for other years")
    missing = [str(y) for y, a in zip(years, answers, strict=True) if a.absent]
    notes = [f"The network has no file for {', '.join(missing)}."] if missing else []
    return combine(table, found, source, notes)
