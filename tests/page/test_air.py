"""Air fetched on the page, from a server on this computer that answers as the services do."""

import importlib.util
import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from time import sleep
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from forecaster import book as kept
from forecaster.answers import nearby
from forecaster.fetch.session import Fetcher
from forecaster.page.garden import Garden

from .conftest import NOW, Visitor

TODAY = NOW.date()
HERE = {"north": "39.95N", "east": "75.16W", "name": "yard"}
STATION = "USC00310002"


@pytest.fixture(scope="module")
def service() -> Any:
    """The stand-in of tests/fetch."""
    path = Path(__file__).parents[1] / "fetch" / "service.py"
    spec = importlib.util.spec_from_file_location("stand_in", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def server(service) -> Iterator[Any]:
    with service.Service() as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        service.put_lists(running, TODAY.year)
        yield running
        running.done.set()
        running.shutdown()
        thread.join()


def put_seasons(server: Any, make_air: Callable[..., Any], last: date) -> None:
    """Twelve years with their seasons until yesterday, of which the service has those to `last`."""
    days = 12 * 365
    air = make_air(days, (TODAY - timedelta(days=days)).isoformat())
    rows = zip(air.index, air["tmax_c"], air["tmin_c"], strict=True)
    server.stations[STATION] = {
        day.date(): (f"{high:.1f}", f"{low:.1f}", "0.0", ",,W,2400")
        for day, high, low in rows
        if day.date() <= last
    }


@pytest.fixture
def yard(visitor, server, tmp_path) -> Visitor:
    """A garden whose way out leads to the stand-in, with no air yet."""
    visitor.garden.door = lambda wait: Fetcher(
        tmp_path / "kept.sqlite", base=server.base, sleep=wait, silence_s=3.0
    )
    visitor.post("/begin/place", **HERE)
    return visitor


def shown(visitor: Visitor) -> str:
    """The part of the page about the air, once nothing runs."""
    for _ in range(400):
        part = visitor.get("/begin?step=air&look=1&place=yard").text
        if "<progress" not in part:
            return part
        sleep(0.05)
    raise AssertionError("it did not come to an end")


def held(visitor: Visitor) -> dict[str, Any]:
    with visitor.garden.open() as book:
        return kept.air_span(book, "yard")


def test_a_station_is_chosen_and_its_days_are_fetched(yard, server, make_air):
    """From a position to a window; what came is one entry, taken back as any other."""
    put_seasons(server, make_air, TODAY - timedelta(days=1))
    assert yard.post("/air/near", place="yard").status_code == 303
    offered = re.findall(r'name="station" value="(\w+)"', shown(yard))
    assert STATION in offered
    assert not {"USC00310004", "USC00310005", "USC00310006"} & set(offered), (
        "too few years, ended, and without a daily minimum"
    )
    yard.post("/air/fetch", place="yard", station=STATION)
    said = shown(yard)
    assert "4,380 new days of air" in said
    assert held(yard)["air_days"] == 4380
    yard.post("/begin/bed", name="bed", soil="loam", cover="bare", depth="4")
    assert 'class="dates"' in yard.get("/").text
    yard.post("/undo", batch=re.search(r'name="batch" value="(\d+)"', said)[1])
    assert held(yard)["air_days"] == 0


def test_stale_air_is_mended_from_the_card(yard, server, make_air, tmp_path):
    """Two months old: the card says so, and fetches what is new and what may have changed."""
    put_seasons(server, make_air, TODAY - timedelta(days=60))
    yard.post("/air/fetch", place="yard", station=STATION)
    shown(yard)
    yard.post("/begin/bed", name="bed", soil="loam", cover="bare", depth="4")
    card = yard.get("/").text
    assert "The air record ends on" in card
    assert "Fetch newer air" in card
    put_seasons(server, make_air, TODAY - timedelta(days=1))
    (tmp_path / "kept.sqlite").unlink()  # hours have passed
    server.asked.clear()
    yard.post("/air/fetch", place="yard")
    said = shown(yard)
    assert "59 new days of air" in said, re.findall(r"role=.alert.*", said)
    years = {parse_qs(urlsplit(path).query)["startDate"][0][:4] for path in server.asked}
    assert years == {"2025", "2026"}, "settled years are not asked for again"
    card = yard.get("/").text
    assert "The air record ends on" not in card
    assert 'class="dates"' in card


def test_it_is_left_when_asked_and_nothing_is_written(yard, server, service, make_air):
    """A service that says nothing: stopped at once, and what comes too late is not taken."""
    put_seasons(server, make_air, TODAY - timedelta(days=1))
    server.misdeeds = [service.status(503)] * 3
    yard.post("/air/fetch", place="yard", station=STATION)
    yard.post("/air/stop", place="yard")
    assert "Stopped; nothing was written" in shown(yard)
    sleep(0.5)
    assert held(yard)["air_days"] == 0
    server.misdeeds = []
    yard.post("/air/fetch", place="yard", station=STATION)
    assert "4,380 new days" in shown(yard), "it can be begun again"


def test_a_service_that_fails_is_said(yard, server, service):
    yard.garden.door = partial(_impatient, server, yard.garden.path.parent / "kept.sqlite")
    server.always = service.status(500)
    yard.post("/air/near", place="yard")
    said = shown(yard)
    assert "answered 500" in said
    assert "--" not in said
    assert "Fetch the stand-in" in said


def _impatient(server: Any, path: Path, _wait: Callable[[float], None]) -> Fetcher:
    """A way out that waits for nobody."""
    return Fetcher(path, base=server.base, sleep=lambda _: None, silence_s=3.0)


def test_where_no_station_is_the_square_is_said_to_be_none(yard, server):
    server.behind = TODAY - timedelta(days=4)
    yard.post("/air/fetch", place="yard", station="square")
    assert "no station" in shown(yard).lower() or "not a station" in shown(yard)
    yard.post("/begin/bed", name="bed", soil="loam", cover="bare", depth="4")
    assert "The air is a gridded stand-in" in yard.get("/").text


@pytest.mark.parametrize("station", ["../../etc/passwd", "USC0031", "gridded NASA POWER 99 999"])
def test_only_a_station_is_asked_for(yard, server, station):
    answer = yard.post("/air/fetch", place="yard", station=station)
    assert answer.status_code == 422 or "no GHCN-Daily id" in shown(yard)
    assert server.asked == []


def test_the_invented_garden_fetches_nothing(example, server):
    assert "Look for stations" not in example.get("/begin?step=air").text
    assert example.post("/air/near", place="Eddermarl Terrace").status_code == 422
    assert server.asked == []


def test_recent_days_may_still_change(yard, server, make_air):
    """An answer of this morning: the days of the last 45 are provisional (our rule)."""
    put_seasons(server, make_air, TODAY - timedelta(days=1))
    last = TODAY - timedelta(days=1)
    with yard.garden.door(lambda _: None) as door:
        days = nearby.days_of(door.ask, STATION, date(2024, 1, 1), last, TODAY)
    days = replace(days, fetched=NOW.astimezone())
    with yard.garden.open() as book:
        nearby.take_days(book, "yard", STATION, days)
    assert held(yard)["air_provisional"] == 44


@pytest.mark.slow
def test_it_is_fetched_in_a_browser(browser, server, service, make_air, tmp_path):
    """Stations to choose from, how far it is, the days, and on to a bed; nothing from outside."""
    from forecaster.page.serve import open_page  # noqa: PLC0415

    from .test_browser import visit  # noqa: PLC0415 - a browser may be absent

    put_seasons(server, make_air, TODAY - timedelta(days=1))
    garden = Garden(path=tmp_path / "garden.db", now=lambda: NOW)
    garden.door = partial(_impatient, server, tmp_path / "kept.sqlite")
    page = open_page(garden)
    threading.Thread(target=page.run, daemon=True).start()
    try:
        with visit(browser, page.address) as (view, _, seen):
            for field, value in HERE.items():
                view.fill(f"#{field}", value)
            view.click("text=Use this position")
            server.misdeeds = [lambda handler: (sleep(1.5), handler.answer())]
            view.click("text=Look for stations nearby")
            view.wait_for_selector("progress")
            view.click(f'input[value="{STATION}"]')
            view.click("text=Fetch its days")
            view.wait_for_selector("text=4,380 new days of air")
            view.click("text=Go on")
            view.fill("#bedname", "bed")
            view.click("text=Make the bed")
            view.wait_for_selector(".dates")
            seen.nothing()
    finally:
        page.stop()
