"""The week: one due day a task, what is done, hours and loads, and soil too wet to work."""

import csv
import io
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.answers.crops import find_crop
from forecaster.answers.decision import Decision
from forecaster.chance.days import DayChances
from forecaster.ground.errors import FileError
from forecaster.plan import Bed, Wants, make_plan
from forecaster.plan.hours import TABLE, task_hours
from forecaster.plan.supplies.quantities import loads_together
from forecaster.plan.tasks import WORDS, Task
from forecaster.plan.week import OVER, Week, due_day, dues, hours_of, loads_of, order
from forecaster.plan.wet import LONGEST_WET_DAYS, upper_layer, wet_soil
from forecaster.words.week import load_words, week_lead, week_text, wet_words
from forecaster.words.week_forms import tasks_csv

TODAY = date(2026, 9, 1)
DAYS = st.dates(date(2026, 1, 1), date(2026, 12, 31))


def task_of(first: date, likely: date, last: date, name: str = "edge") -> Task:
    return Task(
        key=f"2026-autumn/{name}", title="Edge", earliest=first, likely=likely, latest=last,
        probability=0.9, sure_of="", why="it is so",
    )  # fmt: skip


@given(st.tuples(DAYS, DAYS, DAYS).map(sorted), DAYS)
def test_a_due_day_is_one_day_of_the_span_and_not_past_while_it_lasts(three, now):
    task = task_of(*three)
    day = due_day(task, now)
    assert task.earliest <= day <= task.latest
    if task.latest >= now:
        assert day >= now
    if now <= task.likely:
        assert day == task.likely


def test_a_reading_is_due_a_week_after_the_last(plan):
    first, last = TODAY - timedelta(days=10), TODAY + timedelta(days=40)
    task = task_of(first, TODAY + timedelta(days=20), last, "read-soil")
    assert due_day(task, TODAY, TODAY - timedelta(days=3)) == TODAY + timedelta(days=4)
    assert due_day(task, TODAY, TODAY - timedelta(days=30)) == TODAY
    assert due_day(task, TODAY) == task.likely


def test_what_is_done_is_gone_and_what_is_of_another_season_is_not_late(plan):
    key = plan.tasks[3].key
    found = {due.task.key: due for due in dues(plan, now=TODAY, ticked={key: TODAY})}
    assert found[key].when == "done"
    assert found[key].done == TODAY
    long_ago = max(task.latest for task in plan.tasks) + OVER + timedelta(days=1)
    assert dues(plan, now=long_ago) == []


def test_a_planting_of_the_book_is_a_task_done(window):
    planted = make_plan(window(), Bed(), Wants(planted=date(2026, 10, 9)), today=date(2026, 10, 12))
    found = {due.task.name: due for due in dues(planted, now=planted.today)}
    assert found["set-out"].when == "done"
    assert found["set-out"].done == date(2026, 10, 9)


def test_hours_and_loads_are_the_sums_of_their_parts(plan):
    """What the table says of a bed, its area and its plants; loads of one place go together."""
    found = dues(plan, now=TODAY, place="A")
    table, size = task_hours(), plan.shopping
    ours = [due for due in found if due.task.key.startswith(plan.key)]
    for due in ours:
        row = table[due.task.name]
        whole = row.a_bed + row.a_m2 * size.area_m2 + row.a_plant * size.plants
        assert due.hours == (0.0 if due.when == "late" and due.task.name == "sow" else whole)
    assert hours_of(found) == pytest.approx(sum(due.hours for due in found))
    (renew,) = [due for due in found if due.task.name == "renew"]
    assert loads_of(found) == loads_together(size.heaps) == loads_of([renew])
    here, there = replace(renew, bed="b"), replace(renew, bed="c", place="B")
    assert loads_of([renew, here]) <= 2 * loads_of([renew])
    assert loads_of([renew, there]) == 2 * loads_of([renew])
    share = max(
        sum(h.loads_by_volume for h in size.heaps), sum(h.loads_by_weight for h in size.heaps)
    )
    assert loads_of([renew, *[here] * 4]) == int(np.ceil(5 * share - 1e-9))


def test_several_crops_share_the_hours_of_their_bed():
    """Each sets out its own plants: no plant is counted for two crops."""
    goes = tuple(find_crop(name) for name in ("pansy", "viola"))
    days = tuple(TODAY + timedelta(days=k) for k in (30, 33))
    decided = [
        Decision(
            what=crop.label, crop=crop, season="autumn", setting=DayChances(days, (0.5, 0.5)),
            season_start=TODAY, season_end=TODAY + timedelta(days=150), opens=days[0],
            best=days[0], verdict="wait", reason="it is too warm",
        )
        for crop in goes
    ]  # fmt: skip
    made = make_plan(decided, Bed(area_m2=8.0), today=TODAY)
    row = task_hours()["set-out"]
    both = [due.hours for due in dues(made, now=TODAY) if due.task.name == "set-out"]
    assert len(both) == 2
    assert sum(both) == pytest.approx(2 * row.a_bed + row.a_plant * made.shopping.plants)


def test_every_task_has_its_hours():
    assert set(task_hours()) == set(WORDS)


def test_own_hours_lie_beside_the_book_and_go_before(tmp_path):
    own = tmp_path / TABLE
    own.write_text("task,a_bed,a_m2,a_plant\nedge,2,0,0\n", encoding="utf-8")
    table = task_hours(tmp_path / "garden.db")
    assert table["edge"].of(9.0, 100) == 2.0
    assert table["renew"] == task_hours()["renew"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("task,a_bed,a_m2,a_plant\nedge,two,0,0\n", "a_bed of edge is 'two'"),
        ("task,a_bed,a_m2,a_plant\nedge,-1,0,0\n", "expected hours"),
        ("task,a_bed,a_m2,a_plant\ndig,1,0,0\n", "'dig' is no task"),
        ("task,a_bed\nedge,1\n", "a_m2 of edge is ''"),
        ("task,a_bed,a_m2,a_plant\nedge,1\n", "expected 4"),
        ("\x00\x81", "expected"),
    ],
)
def test_hours_that_cannot_be_are_refused(tmp_path, text, why):
    (tmp_path / TABLE).write_bytes(text.encode("latin-1"))
    with pytest.raises(FileError) as said:
        task_hours(tmp_path / "garden.db")
    assert TABLE in str(said.value) or why == "expected"
    assert why in str(said.value)


def week(found, **more) -> Week:
    return Week(today=TODAY, beds=("North bed",), dues=tuple(sorted(found, key=order)), **more)


def test_the_list_is_by_day_and_says_where_the_rest_is(plan):
    made = week(dues(plan, now=TODAY))
    text = week_text(made, 80, weeks=2)
    assert text.startswith("1 Sep to 7 Sep 2026: ")
    assert "This week" in text
    more = [line for line in text.splitlines() if "--weeks" in line]
    assert len(more) == 1
    weeks = int(more[0].split("--weeks ")[1])
    assert "more task" not in week_text(made, 80, weeks=weeks)
    days = [due.day for due in made.dues]
    assert days == sorted(days)


def test_beds_with_the_same_task_on_the_same_day_are_said_once(plan):
    north = dues(plan, now=TODAY)
    south = dues(plan, now=TODAY, bed="South bed")
    text = week_text(week([*north, *south]), 80, weeks=60)
    assert text.count("Renew the bed") == 1
    assert "North bed and South bed" in text


def test_nothing_due_says_what_is_next(window):
    early = make_plan(window(date(2027, 3, 1)), Bed(), today=TODAY)
    made = week(dues(early, now=TODAY))
    assert "nothing is due in 1 bed. Next: " in week_lead(made)
    assert load_words(made) == []


# --- soil too wet to work ---


def air(rain_mm: list[float], *, dry_days: int = 90) -> pd.DataFrame:
    """Mild spring days without rain, then days with it."""
    rain = [0.0] * dry_days + rain_mm
    index = pd.date_range("2026-02-01", periods=len(rain), name="date")
    return pd.DataFrame({"tmin_c": 6.0, "tmax_c": 17.0, "precip_mm": rain}, index=index)


def wet(rain_mm: list[float], soil: str = "loam", **how):
    table = air(rain_mm)
    return wet_soil(table, 45.0, today=table.index[-1].date(), soil=soil, **how)


def test_dry_soil_can_be_worked_and_soaked_soil_cannot():
    assert wet([0.0]).wet_days == ()
    soaked = wet([40.0])
    assert soaked.too_wet(soaked.as_of)
    free = soaked.workable(soaked.as_of)
    assert free is not None
    assert not soaked.too_wet(free)
    assert soaked.rain_mm == 40.0


def test_clay_stays_wet_longer_than_sand():
    """Sands drain to field capacity in a day, clays in days (common practice, no source)."""
    waits = []
    for soil in ("sand", "loam", "clay"):
        found = wet([40.0], soil)
        free = found.workable(found.as_of)
        waits.append((free - found.as_of).days if free else LONGEST_WET_DAYS)
    assert waits[0] < waits[1] < waits[2]


@given(st.lists(st.floats(0.0, 60.0), min_size=1, max_size=6), st.floats(1.0, 40.0))
def test_more_rain_never_dries(rain, more):
    less, wetter = wet(rain), wet([*rain[:-1], rain[-1] + more])
    assert set(less.wet_days) <= set(wetter.wet_days)


def test_rain_ahead_is_reckoned_with_and_rain_after_today_is_not():
    table = air([0.0] * 5 + [50.0] * 3)
    today = table.index[-4].date()
    plain = wet_soil(table, 45.0, today=today)
    assert plain.wet_days == ()
    told = wet_soil(table, 45.0, today=today, outlook=table.iloc[-3:])
    assert told.ahead_mm == 150.0
    assert not told.too_wet(today)
    assert told.too_wet(today + timedelta(days=2))


def test_without_rain_or_with_gaps_nothing_is_said():
    table = air([30.0])
    today = table.index[-1].date()
    assert wet_soil(table.drop(columns="precip_mm"), 45.0, today=today) is None
    assert wet_soil(table.iloc[-30:], 45.0, today=today) is None
    holes = table.copy()
    holes.iloc[-20:-10, 2] = np.nan
    assert wet_soil(holes, 45.0, today=today) is None


def test_the_evaporation_layer_is_that_of_the_paper():
    """TEW = 1000·(θFC − 0.5·θWP)·Ze (FAO-56 eq. 73): of loam, 0.25 and 0.12, at 0.15 m."""
    layer = upper_layer("loam")
    assert layer.evaporable_mm == pytest.approx(1000.0 * (0.25 - 0.06) * 0.15)
    full = layer.step(-layer.above_mm, 100.0, 0.0)
    assert full == pytest.approx(-layer.above_mm * (1.0 - layer.drains))
    assert layer.step(layer.evaporable_mm, 0.0, 5.0) == layer.evaporable_mm


def test_a_wet_bed_is_said_with_its_tasks(plan):
    soaked = replace(wet([40.0] * 4, "clay"), as_of=TODAY, wet_days=(TODAY,))
    task = task_of(TODAY - timedelta(days=2), TODAY, TODAY + timedelta(days=9))
    (due,) = dues(replace(plan, tasks=(task,)), now=TODAY, wet=soaked)
    assert due.too_wet
    assert due.workable == TODAY + timedelta(days=1)
    made = week([due], wet=(("North bed", soaked),))
    first = wet_words(made)[0]
    assert first.startswith("Too wet to work: North bed (clay)")
    assert "about right from Wed 2 Sep" in first
    assert "too wet to work then" in week_text(made, 80)


def test_a_table_never_names_two_tasks_alike(plan):
    both = [*dues(plan, now=TODAY), *dues(plan, now=TODAY, bed="South bed")]
    rows = list(csv.DictReader(io.StringIO(tasks_csv(both))))
    assert len({(row["bed"], row["key"]) for row in rows}) == len(rows) == len(both)
