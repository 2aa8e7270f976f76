"""One answer a grower would give: the same day everywhere, in any company, never on old air.

The climates are invented (a yearly wave with weather on it); what is checked is not how right a
date is but that no two answers contradict each other.
"""

import json
from dataclasses import replace
from datetime import date, timedelta
from itertools import product

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster import Site, Wish, find_crop, known_thresholds
from forecaster.answers.crops import crop_windows_in, crop_windows_of
from forecaster.answers.place_today import of_record
from forecaster.answers.record import Record
from forecaster.answers.window import windows_in
from forecaster.cli import main
from forecaster.packaged import data_path
from forecaster.plan import Bed, Changeover, Wants, plan_changeover

CLIMATES = tuple(  # latitude, yearly mean, half the yearly swing, day of the year of the top
    (lat, mean, swing, 200 if lat > 0 else 17)
    for lat, mean, swing in (
        (26, 24, 4.5), (32, 19, 9), (34, 20, 12), (36, 15, 12), (39, 13, 14), (42, 9, 14),
        (46, 6, 15), (49, 10, 6), (61, 2, 13), (-34, 16, 7), (-37, 14, 8), (-43, 11, 6),
    )
)  # fmt: skip
CROPS = (
    "pansy", "snapdragon", "petunia", "zinnia", "lettuce", "pea", "broccoli", "garlic", "tomato",
    "snap bean",
)  # fmt: skip
MONTHS = tuple(date(2024, month, 10) for month in range(1, 13))
STALE_DAYS = 75


def record_of(make_air, climate, today: date, **how) -> Record:
    """Ten years of invented air to the day before."""
    latitude, mean, swing, top = climate
    start = today - timedelta(days=3650)
    air = make_air(3650, start.isoformat(), seed=7, warmest=top, mean_c=mean, swing_c=swing)
    asked = {"today": today, "asked_on": today} | how
    return Record(air=air, site=Site(latitude, None, 0.10, "loam", "bare"), **asked)


def check_place_day(record: Record) -> None:
    """Ask everything of a place on a day, and compare."""
    here, today = of_record(record), record.today
    windows = windows_in(here, known_thresholds()).windows
    crops = [find_crop(name) for name in CROPS]
    found = crop_windows_in(here, crops, Wish(), air=record.air)
    for window in windows:
        out = window.outlook
        if None not in (out.first_touch, out.median):
            assert out.first_touch <= out.median
        if None not in (out.median, out.last_touch):
            assert out.median <= out.last_touch
    for window in found.windows:
        check_crop(window, here, today)
    flats, pansy = windows_in(here, known_thresholds("cool")).windows[0], found.windows[0]
    settled = flats.outlook.median
    if pansy.season == "autumn" and pansy.state in ("open", "ahead") and settled is not None:
        closes = pansy.closes.median or settled
        if flats.season_start <= pansy.opens.median <= settled <= closes:
            assert pansy.best.median == max(settled, today)
    for crop, window in zip(crops, found.windows, strict=True):
        plan = plan_changeover(record, asked(crops=(crop,)), here).plan
        decided = plan.lead
        assert (decided.opens, decided.best, decided.best_until) == (
            window.opens.median, window.best.median, window.closes.median,
        )  # fmt: skip
        out = plan.task("set-out")
        if out is not None:
            assert out.likely == max(window.best.median, today)
            assert window.closes.median is None or out.latest <= max(window.closes.median, today)
        elif window.state in ("open", "ahead"):
            pytest.fail(f"{crop.name} can be planted, and the plan has no day for it")
    for season, way in (("autumn", "falling"), ("spring", "rising")):
        whole = plan_changeover(record, asked(season=season), here)
        settled = next(w for w in whole.answer.windows if w.threshold.direction == way).outlook
        out = whole.plan.task("set-out")
        if out is not None:
            assert settled.median is None or out.likely == max(settled.median, today)


def check_crop(window, here, today: date) -> None:
    dates = [
        day
        for day in (window.opens.median, window.closes.median, window.possible_until)
        if day is not None
    ]
    assert dates == sorted(dates)
    if window.best.median is not None:
        assert window.opens.median <= window.best.median
        assert window.closes.median is None or window.best.median <= window.closes.median
        assert window.best.median >= today or window.state in ("late", "closed")
    if window.state == "open":
        assert window.opens.median <= today
    if window.frost_after is not None and window.best.median is not None:
        assert window.frost_after <= max(window.accepted_risk, least_frost(window, here))


def least_frost(window, here) -> float:
    """The least share of futures in which frost kills young plants, on days worth planting on.

    Where no such day is as safe as is accepted, the safest are taken, within a seventh or so.
    """
    cold = here.days.least_c < window.damaging_c
    shares = []
    own = window.by_day.day <= np.datetime64(window.season_end, "D")
    for day in window.by_day.day[own & (window.by_day.well >= 0.25)]:
        at = here.index(day)
        if 0 <= at < cold.shape[1] - 60:
            shares.append(cold[:, at : at + 21].any(axis=1).mean())
    return 1.2 * min(shares) + 0.05 if shares else 1.0


def asked(**how) -> Changeover:
    return Changeover(bed=Bed(), wants=Wants(), thresholds=tuple(known_thresholds()), **how)


def test_no_two_answers_differ(make_air):
    for today in (MONTHS[1], MONTHS[8]):
        check_place_day(record_of(make_air, CLIMATES[4], today))


@pytest.mark.slow
@pytest.mark.parametrize(("climate", "today"), list(product(CLIMATES, MONTHS)), ids=str)
def test_no_two_answers_differ_anywhere_in_any_month(make_air, climate, today):
    check_place_day(record_of(make_air, climate, today))


@pytest.mark.parametrize(
    "climate", [CLIMATES[2], pytest.param(CLIMATES[6], marks=pytest.mark.slow)], ids=str
)
def test_no_one_is_told_to_go_on_stale_air(make_air, climate):
    for today in (MONTHS[3], MONTHS[4], MONTHS[8], MONTHS[9]):
        record = record_of(make_air, climate, today)
        old = replace(record, asked_on=today + timedelta(days=STALE_DAYS))
        here = of_record(old)
        assert here.unsure
        assert all(w.verdict in ("unsure", "no season") for w in
                   windows_in(here, known_thresholds()).windows)  # fmt: skip
        for name in CROPS[:4]:
            decided = plan_changeover(old, asked(crops=(find_crop(name),)), here).plan.lead
            assert decided.verdict in ("unsure", "no season")
            assert decided.stale_days >= STALE_DAYS


@pytest.fixture(scope="module")
def kept(make_air):
    """A place on a day, and each crop asked alone."""
    record = record_of(make_air, CLIMATES[4], date(2024, 8, 20))
    alone = {name: crop_windows_of(record, [find_crop(name)], Wish()).windows[0] for name in CROPS}
    return record, alone


@settings(max_examples=8, deadline=None)
@given(st.permutations(CROPS), st.integers(1, len(CROPS)))
def test_order_and_company_change_nothing(kept, order, many):
    record, alone = kept
    names = order[:many]
    together = crop_windows_of(record, [find_crop(name) for name in names], Wish()).windows
    for name, window in zip(names, together, strict=True):
        one = alone[name]
        assert (window.season, window.state) == (one.season, one.state)
        assert (window.opens, window.best, window.closes) == (one.opens, one.best, one.closes)


def test_every_command_says_the_same_day(tmp_path):
    """The invented garden in March: flats, and pansies, by each command that says a date."""
    air = str(data_path("demo/air.csv"))
    place = (air, "--lat", "36.2S", "--lon", "146.6E", "--today", "2026-03-16")

    def told(*words: str) -> str:
        found = CliRunner(env={"COLUMNS": "200"}).invoke(main, list(words))
        assert found.exit_code == 0, found.output
        return " ".join(found.stdout.split())

    settled = json.loads(told("when", *place, "--crop-class", "cool", "--json"))["windows"][0]
    day = settled["outlook"]["settled_median"]
    plan = json.loads(told("plan", *place, "--season", "autumn", "--json"))
    likely = {task["key"].split("/")[1]: task["likely"] for task in plan["tasks"]}
    assert likely["set-out"] == likely["water-in"] == day
    (pansy,) = json.loads(told("when", *place, "--crop", "pansy", "--json"))["crops"]
    plan = json.loads(told("plan", *place, "--crop", "pansy", "--json"))
    likely = {task["key"].split("/")[1]: task["likely"] for task in plan["tasks"]}
    best = date.fromisoformat(pansy["best"]["median"])
    assert likely["set-out"] == best.isoformat()
    words = f"{best.day} {best:%B}"
    assert best.isoformat() == day  # of pansies as of flats in general
    assert f"set out about {words}" in told("when", *place, "--crop", "pansy")
    assert f"set out about {words}" in told("plan", *place, "--crop", "pansy")
    page = tmp_path / "page.html"
    told("report", *place, "--crop", "pansy", "--no-check", "--out", str(page))
    assert f"et out about {words}" in page.read_text(encoding="utf-8")
