"""Air from public services for a place: the stations that stand for it, and their days.

Whoever asks brings `ask` (`Fetcher.ask`, or something around it that counts and stops).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from forecaster import book as kept
from forecaster.answers.at_once import doubt_place_air
from forecaster.answers.taken import Taken
from forecaster.fetch import ncei, power, uscrn
from forecaster.fetch.ask import PROVISIONAL_DAYS, Answer, Request, settled_until
from forecaster.fetch.near import Candidate, rank, usual_height_m
from forecaster.fetch.table import Fetched
from forecaster.ground.errors import InputError
from forecaster.ingest import account_of
from forecaster.ingest.account import is_gridded

__all__ = [
    "Answer", "Fetched", "Nearby", "Request", "answers_needed", "days_of", "first_wanted",
    "last_year_listed", "open_door", "square_of", "station_of", "stations_near", "take_days",
]  # fmt: skip
Ask = Callable[[Request], Answer]
FIRST_DAY = date(2005, 1, 1)
YEARS = 15  # of both daily extremes, that a station should have
_STATION = re.compile(r" \(([^()]+)\)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearby:
    """The stations that stand for a place, best first.

    Parameters
    ----------
    found : tuple of Candidate
    height_m : float or None
        The place's height as it was taken, m.
    assumed : bool
        Whether that is the middle of the nearest stations'.
    list_ : Answer
        The older of the two lists they come from.
    """

    found: tuple[Candidate, ...]
    height_m: float | None
    assumed: bool
    list_: Answer


def open_door(sleep: Callable[[float], None]) -> AbstractContextManager[Any]:
    """Return the way to the services, as a context; `sleep` waits between tries."""
    from forecaster.fetch.session import Fetcher  # noqa: PLC0415 - requests loads slowly

    return Fetcher(sleep=sleep)


def stations_near(
    ask: Ask,
    latitude_deg: float,
    longitude_deg: float,
    *,
    elevation_m: float | None,
    today: date,
    years: int = YEARS,
) -> Nearby:
    """Return the stations that stand for a place.

    Raises
    ------
    DataMissing
        If the lists cannot be had.
    """
    answers = [ask(request) for request in (ncei.stations_request(), ncei.inventory_request())]
    stations = ncei.parse_stations(answers[0].body)
    height_m = elevation_m
    if height_m is None:
        height_m = usual_height_m(stations, latitude_deg, longitude_deg)
    found = rank(
        stations, ncei.parse_inventory(answers[1].body), latitude_deg, longitude_deg,
        elevation_m=height_m, years=years, this_year=last_year_listed(today),
    )  # fmt: skip
    return Nearby(
        found=tuple(found), height_m=height_m, assumed=elevation_m is None,
        list_=max(answers, key=lambda one: one.age),
    )  # fmt: skip


def last_year_listed(today: date) -> int:
    """Return the year to which a living record must reach.

    The first weeks of a year may not have reached the inventory yet.
    """
    return today.year if today.month > 2 else today.year - 1


def square_of(latitude_deg: float, longitude_deg: float) -> str:
    """Return the name of the gridded stand-in for a place, where no station is near."""
    return power.spot(latitude_deg, longitude_deg).station


def days_of(ask: Ask, station: str, first: date, last: date, today: date) -> Fetched:
    """Return the days of a station, or of a square, from the service that its name belongs to.

    Raises
    ------
    NoDays
        If it has none of them.
    DataMissing
        If the service does not answer and nothing is kept.
    InputError
        If there can be no such station.
    """
    if (square := power.spot_named(station)) is not None:
        return power.daily(ask, square, first, last, today)
    service = uscrn.daily if uscrn.is_name(station) else ncei.daily_summaries
    return service(ask, station, first, last, today)


def answers_needed(station: str, first: date, last: date, today: date) -> int:
    """Return how many answers `days_of` asks for."""
    if is_gridded(station):
        return 1
    if uscrn.is_name(station):
        return last.year - first.year + 1
    return len(ncei.spans(first, last, today))


def station_of(book: kept.Book, place: str) -> str:
    """Return the station or square from which a place's latest days came, "" where from a file."""
    here = kept.find_place(book, place)
    named = _STATION.search(kept.last_air_source(book, here.name))
    for station in (named[1] if named else "", here.station):
        if power.spot_named(station) is not None or uscrn.is_name(station):
            return station
        try:
            return ncei.check_station(station)
        except InputError:
            continue
    return ""


def first_wanted(book: kept.Book, place: str, station: str) -> date:
    """Return the first day to ask for: of a station whose days the book has, what may change."""
    last = kept.air_span(book, place)["air_last"]
    if last is None or station_of(book, place) != station:
        return FIRST_DAY
    return date.fromisoformat(str(last)) - timedelta(days=_revised(station))


def _revised(station: str) -> int:
    return power.PROVISIONAL_DAYS if is_gridded(station) else PROVISIONAL_DAYS


def take_days(book: kept.Book, place: str, station: str, fetched: Fetched) -> Taken:
    """Write the days of a station into the book of a place, as one batch.

    Raises
    ------
    InputError
        If they cannot be of this place.
    """
    table = fetched.table
    settled = settled_until(fetched.fetched.astimezone().date(), _revised(station))
    marks = table.index.to_numpy().astype("datetime64[D]").astype(object) > settled
    service = "gridded" if is_gridded(station) else "daily record"
    with book.batch("fetch", station) as batch:
        air = kept.add_air(
            batch, place, table, source=f"{service} ({station})", corrects=True, provisional=marks
        )
        doubts = doubt_place_air(book, place)
    return Taken(
        account=account_of(table), where=place, air=air, doubts=doubts,
        batch=batch.number if batch.rows else None,
    )  # fmt: skip
