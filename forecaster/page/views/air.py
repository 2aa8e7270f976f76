"""Air fetched for a place: stations nearby, one chosen, its days; counted, and left when asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster import book as kept
from forecaster.ground.errors import InputError
from forecaster.page.garden import EXAMPLE
from forecaster.page.say import sentence_of
from forecaster.page.views.common import garden, show_for
from forecaster.page.work import STOPPED, Work

if TYPE_CHECKING:
    from collections.abc import Callable

    from forecaster.answers.nearby import Answer as FromService
    from forecaster.answers.nearby import Ask, Fetched, Nearby, Request
    from forecaster.answers.taken import Taken
    from forecaster.words.phrases import Show

views = Blueprint("air", __name__)
LISTED = 6
SQUARE = "square"  # in the form: no station, the gridded stand-in
Came = tuple["Taken", "Fetched"]
_works: dict[tuple[str, str], Work[Any]] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A station that may stand for the place, in words."""

    station: str
    name: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What there is of a place's air, and what is being done about it.

    Parameters
    ----------
    place : Place
    held, station : str
        What the book has, in words; the station or square that it came from, "" where a file.
    work : Work or None
        What runs, or ran last.
    running, looked : bool
        Whether it runs; whether it was over without days.
    error : str
        Why nothing came.
    choices : tuple of Choice
        Stations found.
    told, doubts : tuple of str
        What came, a sentence each; what is strange about it.
    batch : int or None
        By which it is taken back.
    """

    place: kept.Place
    held: str
    station: str
    invented: bool
    work: Work[Any] | None
    running: bool
    error: str = ""
    looked: bool = False
    choices: tuple[Choice, ...] = ()
    ranked: str = ""
    told: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    batch: int | None = None


def standing(book: kept.Book, place: kept.Place, *, look: bool) -> Standing:
    """Return what there is of a place's air; with what came last only to those who `look`."""
    from forecaster.words.book import air_span_words

    work = _works.get(_key(book, place.name))
    if work is not None and not look and (work.stop or not work.running):
        work = None
    span = kept.air_span(book, place.name)
    running = work is not None and work.running and not work.stop
    return Standing(
        place=place,
        held=air_span_words(span) if span["air_days"] else "",
        station=_station(book, place.name) if span["air_days"] else "",
        invented=place.station == EXAMPLE,
        work=work,
        running=running,  # as it stood just now: it may be over by the next line
        **({} if running else _told(work, place)),
    )


def _station(book: kept.Book, place: str) -> str:
    from forecaster.answers.nearby import station_of

    return station_of(book, place)


def _told(work: Work[Any] | None, place: kept.Place) -> dict[str, Any]:
    """Return what came of the work, in words."""
    from forecaster.answers.nearby import Nearby

    if work is None:
        return {}
    if work.found is None:
        return {"error": work.error or STOPPED, "looked": True}
    show = show_for(place)
    if isinstance(work.found, Nearby):
        return _listed(work.found, show) | {"looked": True}
    from forecaster.words.account import account_words
    from forecaster.words.book import air_words
    from forecaster.words.fetched import age_of

    taken, fetched = work.found
    age = age_of(fetched.age, stale=fetched.stale, why=fetched.why, what="The record was")
    told = [*air_words(taken.air, place.name, show), age, *fetched.notes]
    told += account_words("Air", taken.account)[1:]
    return {
        "told": tuple(sentence_of(text) for text in told),
        "doubts": taken.doubts,
        "batch": taken.batch,
    }


def _listed(near: Nearby, show: Show) -> dict[str, Any]:
    """Return stations as choices, and how they were put in order."""
    from forecaster.words.book import one_line
    from forecaster.words.fetched import far, near_words

    choices = tuple(
        Choice(
            station=one.station.station,
            name=one_line(one.station.name)[:40],
            words=f"{far(one.distance_km * 1000.0, show)} away{_higher(one.height_m, show)}, "
            f"{one.span.first_year} to {one.span.last_year}",
        )
        for one in near.found[:LISTED]
    )
    ranked = near_words(near.height_m, show, assumed=False, checked=True)[0]
    return {"choices": choices, "ranked": ranked}


def _higher(height_m: float | None, show: Show) -> str:
    from forecaster.words.fetched import tall

    if height_m is None:
        return ""
    said = tall(height_m, show)
    return f", {said[1:]} {'higher' if said.startswith('+') else 'lower'}"


def _key(book: kept.Book, place: str) -> tuple[str, str]:
    return str(book.path), place


@views.get("/air")
def air() -> Answer | str:
    """Show how far it is; once it is over, the page Begin as it stands then."""
    with garden().open() as book:
        place = kept.find_place(book, request.args.get("place") or None)
        here = standing(book, place, look=True)
    if request.headers.get("HX-Request") != "true":
        return redirect(_back(place.name), 303)
    if not here.running:
        return Response(headers={"HX-Refresh": "true"})
    return render_template("running.html", air=here)


def onward(place: str) -> str:
    """Return where one goes with air: to make a bed, or to see what it says."""
    with garden().open() as book:
        return "/" if any(one.place == place for one in kept.beds(book)) else "/begin?step=bed"


def _back(place: str) -> str:
    return f"/begin?step=air&look=1&place={quote(place, safe='')}"


@views.post("/air/near")
def near() -> Answer:
    """Look for the stations that stand for a place."""
    from forecaster.answers.nearby import stations_near

    place, here = _place(), garden()
    north, east = _position(place)
    today = here.clock_at(place).date()

    def job(work: Work[Any]) -> Nearby:
        with here.door(work.wait) as door:
            return stations_near(
                _counted(door.ask, work, 2), north, east, elevation_m=place.elevation_m, today=today
            )

    return _begin(place, "Looking through the lists of stations", job)


@views.post("/air/fetch")
def fetch() -> Answer:
    """Fetch the days of a station, or of the square around the place."""
    from forecaster.answers import nearby

    place, here = _place(), garden()
    station, today = request.form.get("station", ""), here.clock_at(place).date()
    if station == SQUARE:
        station = nearby.square_of(*_position(place))
    with here.open() as book:
        station = station or nearby.station_of(book, place.name)
        first = nearby.first_wanted(book, place.name, station)
    total = nearby.answers_needed(station, first, today, today)

    def job(work: Work[Any]) -> Came:
        with here.door(work.wait) as door:
            days = nearby.days_of(_counted(door.ask, work, total), station, first, today, today)

        def write() -> Came:
            with here.open() as book:
                return nearby.take_days(book, place.name, station, days), days

        done: Came = work.finish(write)
        return done

    return _begin(place, "Fetching daily air", job)


@views.post("/air/stop")
def stop() -> Answer:
    """Stop what runs for a place."""
    with garden().open() as book:
        place = kept.find_place(book, request.form.get("place"))
        work = _works.get(_key(book, place.name))
    if work is not None and work.running:
        work.leave()
    return redirect(_back(place.name), 303)


def _place() -> kept.Place:
    """Return the place that the form names; an invented one has no air but its own."""
    with garden().open() as book:
        place = kept.find_place(book, request.form.get("place"))
    if place.station == EXAMPLE:
        raise InputError("the invented garden has invented air; make a garden of your own")
    return place


def _begin(place: kept.Place, what: str, job: Callable[[Work[Any]], Any]) -> Answer:
    """Begin work for a place, if nothing runs for it, and show how far it is."""
    with garden().open() as book:
        key = _key(book, place.name)
    known = _works.get(key)
    if known is None or not known.running or known.stop:
        work: Work[Any] = Work(what=what)
        _works[key] = work
        work.begin(lambda: job(work))
    return redirect(_back(place.name), 303)


def _position(place: kept.Place) -> tuple[float, float]:
    if place.longitude_deg is None:
        raise InputError(f"the longitude of {place.name} is not known; make the place anew")
    return place.latitude_deg, place.longitude_deg


def _counted(ask: Ask, work: Work[Any], total: int) -> Ask:
    """Return a way to ask that counts answers, and leaves off when asked to."""
    asked = 0

    def counted(question: Request) -> FromService:
        nonlocal asked
        work.step(asked, total)
        answer = ask(question)
        asked += 1
        work.step(asked, total)
        return answer

    return counted
