"""Tasks counted from a window's chances: order, sureness, stability, and the cost of pulling."""

import math
from dataclasses import FrozenInstanceError, replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.answers.frost import FrostChance, FrostDates
from forecaster.ground.errors import InputError
from forecaster.plan import (
    Bed,
    DayChances,
    FrostSpan,
    Wants,
    changes,
    frost_span,
    make_plan,
    pull_curve,
)

TODAY = date(2026, 9, 1)
SHARES = st.lists(st.integers(0, 9), min_size=3, max_size=40).filter(lambda s: sum(s) > 0)


def chances_of(weights, first=date(2026, 10, 1), never=0.0):
    share = (1 - never) * np.array(weights) / sum(weights)
    days = tuple(first + timedelta(days=k) for k in range(len(weights)))
    return DayChances(days, tuple(share.tolist()), never)


# --- chances ---


@given(SHARES, st.floats(0.01, 0.99))
def test_a_quantile_is_the_first_day_that_reaches_it(weights, q):
    chances = chances_of(weights)
    day = chances.quantile(q)
    assert chances.by(day) >= q - 1e-6
    assert chances.by(day - timedelta(days=1)) < q + 1e-6


@given(SHARES, st.integers(-300, 300))
def test_shifting_moves_every_quantile(weights, days):
    chances = chances_of(weights)
    for q in (0.1, 0.5, 0.9):
        assert chances.shifted(days).quantile(q) == chances.quantile(q) + timedelta(days=days)


@given(SHARES, st.integers(-5, 45))
def test_what_is_past_is_now(weights, days):
    chances, now = chances_of(weights), date(2026, 10, 1) + timedelta(days=days)
    moved = chances.not_before(now)
    assert sum(moved.share) == pytest.approx(1.0)
    for q in (0.1, 0.5, 0.9):
        assert moved.quantile(q) == max(chances.quantile(q), now)


def test_never_takes_its_share():
    assert chances_of([1, 1], never=0.4).quantile(0.61) is None


@pytest.mark.parametrize(
    ("days", "share", "never"),
    [((TODAY,), (0.5,), 0.0), ((TODAY, TODAY), (0.5, 0.5), 0.0), ((TODAY,), (1.5,), -0.5),
     ((TODAY,), (0.5, 0.5), 0.0)],
)  # fmt: skip
def test_what_is_no_distribution_is_refused(days, share, never):
    with pytest.raises(InputError, match="ascending days"):
        DayChances(days, share, never)


# --- pulling ---


@settings(deadline=None)
@given(SHARES, st.integers(0, 20), st.floats(0.2, 8.0))
def test_the_best_day_is_the_critical_fractile(weights, work, weight):
    """Newsvendor: the bed is ready at the 1/(1 + w) quantile of the opening."""
    chances = chances_of(weights)
    curve = pull_curve(
        chances, date(2027, 1, 31), today=date(2026, 7, 1), work_days=work, late_weight=weight
    )
    ready = curve.best + timedelta(days=work)
    assert chances.by(ready) >= 1 / (1 + weight) - 1e-6
    assert chances.by(ready - timedelta(days=1)) <= 1 / (1 + weight) + 1e-6


def test_expected_cost_by_hand():
    """Opens on the 10th or the 20th, evenly; 2 days of work, a late day worth 3 of bloom.

    Pulled on the 8th: 10 days of bloom half the time, never late: 5. On the 12th: 6 days half
    the time, 4 days late half the time: 3 + 3·2 = 9.
    """
    chances = DayChances((date(2026, 10, 10), date(2026, 10, 20)), (0.5, 0.5))
    curve = pull_curve(
        chances, date(2027, 1, 1), today=date(2026, 9, 1), work_days=2, late_weight=3.0
    )
    assert curve.best == date(2026, 10, 8)
    assert curve.at(date(2026, 10, 8)) == pytest.approx((5.0, 0.0))
    assert curve.at(date(2026, 10, 12)) == pytest.approx((3.0, 2.0))
    assert curve.cost[curve.day.index(date(2026, 10, 12))] == pytest.approx(9.0)
    assert curve.late_chance == 0.0


def test_a_window_already_open_is_pulled_for_today():
    now = date(2026, 12, 1)
    curve = pull_curve(chances_of([1, 2, 1]), date(2027, 1, 31), today=now, work_days=7)
    assert curve.best == curve.first == now


def test_what_never_opens_has_no_day_of_pulling():
    assert pull_curve(DayChances((), (), 1.0), TODAY, today=TODAY, work_days=7) is None


def test_a_greater_risk_of_lateness_pulls_earlier():
    days = [
        pull_curve(
            chances_of([1] * 20), date(2027, 1, 31), today=TODAY, work_days=7, late_weight=w
        ).best
        for w in (0.5, 1.0, 2.0, 8.0)
    ]
    assert days == sorted(days, reverse=True)
    assert days[0] > days[-1]


# --- the plan ---


def test_every_task_has_its_days_in_order(plan, later):
    for task in (*plan.tasks, *later.tasks):
        assert task.earliest <= task.likely <= task.latest, task.key
        assert 0.0 <= task.probability <= 1.0
        assert task.why
        assert task.basis


def test_keys_are_unique_and_dependencies_exist(plan):
    keys = [task.key for task in plan.tasks]
    assert len(keys) == len(set(keys))
    assert {before for task in plan.tasks for before in task.depends_on} <= set(keys)


def test_a_task_is_most_likely_done_after_what_it_depends_on(plan):
    likely = {task.key: task.likely for task in plan.tasks}
    for task in plan.tasks:
        assert all(likely[before] <= task.likely for before in task.depends_on), task.key


def test_all_that_a_changeover_needs_is_there(plan):
    assert {task.name for task in plan.tasks if task.key.startswith("2026-autumn/")} == {
        "read-soil", "order", "sow", "stop-feeding", "edge", "pull", "renew", "set-out",
        "water-in", "first-look", "later-looks", "feed", "watch-frost",
    }  # fmt: skip
    assert {task.key for task in plan.tasks if "spring" in task.key} == {
        "2027-spring/order", "2027-spring/read-soil",
    }  # fmt: skip


def test_days_by_hand(plan):
    """A window evenly over 1 to 20 October: 10 % by the 2nd, half by the 10th, 90 % by the 18th."""
    out, order, sow = (plan.task(name) for name in ("set-out", "order", "sow"))
    assert (out.earliest, out.likely, out.latest) == (
        date(2026, 10, 2), date(2026, 10, 10), date(2026, 10, 25),
    )  # fmt: skip
    assert out.probability == pytest.approx(0.95)  # all but the 1st
    # Flats by four weeks before the early day, so that an early window is met too.
    assert order.latest == date(2026, 9, 4)
    assert order.probability == pytest.approx(0.95)
    # 8 to 9 weeks under cover: from 9 weeks before the 2nd to 8 weeks before the 18th.
    assert (sow.earliest, sow.latest) == (date(2026, 7, 31), date(2026, 8, 23))
    first = plan.task("first-look")
    assert (first.likely - out.likely).days == 5


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 200))
def test_shifting_the_window_shifts_every_task(window, days):
    start, now = date(2026, 10, 1), date(2026, 1, 1)
    one, two = (
        make_plan(window(first), Bed(), today=now)
        for first in (start, start + timedelta(days=days))
    )
    # The season, and with it the key, belongs to the year of the window made up here.
    moved = {task.name: task for task in two.tasks}
    for task in one.tasks:
        other = moved[task.name]
        assert (other.earliest - task.earliest).days == days
        assert (other.likely - task.likely).days == days
        assert (other.latest - task.latest).days == days


def test_the_bed_is_renewed_in_autumn_only(plan, spring):
    made = make_plan(spring, Bed(), today=date(2027, 2, 1))
    assert made.key == "2027-spring"
    assert made.task("renew") is None
    assert plan.task("renew") is not None


def test_a_bed_at_rest_is_covered_and_comes_back(window):
    made = make_plan(window(), Bed(replanted=False, meets_turf=False), today=TODAY)
    assert [task.name for task in made.tasks] == ["pull", "rest", "rest-ready"]
    rest, ready = made.task("rest"), made.task("rest-ready")
    assert (ready.likely - rest.likely).days >= 150
    assert made.pull is None


def test_once_planted_only_what_follows_is_left(window):
    made = make_plan(window(), Bed(), Wants(planted=date(2026, 10, 12)), today=date(2026, 10, 14))
    assert {task.name for task in made.tasks} == {
        "set-out", "water-in", "first-look", "later-looks", "feed", "watch-frost",
    }  # fmt: skip
    first = made.task("first-look")
    assert (first.earliest, first.latest) == (date(2026, 10, 16), date(2026, 10, 17))
    assert "as you told" in made.task("set-out").why
    assert first.sure_of == "", "the day of planting is known, so nothing is left to chance"


def test_planted_in_the_future_is_refused(window):
    with pytest.raises(InputError, match="up to today"):
        make_plan(window(), Bed(), Wants(planted=date(2026, 9, 2)), today=TODAY)


def test_nothing_to_set_out_before_today(window):
    now = date(2026, 10, 15)
    made = make_plan(window(), Bed(), today=now)
    out = made.task("set-out")
    assert out.earliest == now


def test_a_window_long_open_is_planted_now(window):
    now = date(2026, 12, 20)
    out = make_plan(window(), Bed(), today=now).task("set-out")
    assert (out.earliest, out.likely, out.latest) == (now, now, now)


def test_closing_ends_the_days_of_setting_out(window):
    made = make_plan(replace(window(), best_until=date(2026, 10, 12)), Bed(), today=TODAY)
    assert made.task("set-out").latest == date(2026, 10, 12)


def test_a_window_that_hardly_opens_gives_no_dates(window):
    never = window(share=(0.01,) * 5)
    assert never.hopeless
    made = make_plan(never, Bed(), today=TODAY)
    assert made.tasks == ()
    assert any("no dates" in note for note in made.notes)


def test_a_window_without_a_beginning_gives_no_dates(window):
    made = make_plan(replace(window(), verdict="no season"), Bed(), today=TODAY)
    assert made.tasks == ()
    assert made.pull is None


def test_a_window_that_may_not_open_says_so(window):
    made = make_plan(window(share=(0.06,) * 10), Bed(), today=TODAY)
    # Of the futures in which it opens, nine in ten do by the 9th, and a week is left to plant.
    out = made.task("set-out")
    assert out.latest == date(2026, 10, 16)
    assert out.probability == pytest.approx(0.6)
    assert any("40 of 100 futures" in note for note in made.notes)


def test_tasks_and_plans_are_frozen(plan):
    with pytest.raises(FrozenInstanceError):
        plan.tasks[0].title = "x"


def test_cautions_stand_where_they_apply(plan):
    assert "utilities" in plan.task("renew").caution
    assert "dust" in plan.task("renew").caution
    assert "vehicle" in plan.task("renew").caution
    assert "utilities" in plan.task("edge").caution
    assert "label" in plan.task("feed").caution
    assert "water rules" in plan.task("water-in").caution
    assert "extension" in plan.task("set-out").caution
    assert "too wet" in plan.task("set-out").caution
    assert "weedkiller" in plan.task("renew").caution
    assert len(plan.cautions) == 11


# --- frost ---


def test_autumn_frost_is_watched_from_its_early_day(plan):
    watch = plan.task("watch-frost")
    assert watch.earliest == date(2026, 10, 15)
    assert watch.latest == date(2026, 11, 20)
    assert watch.probability == pytest.approx(0.9)  # 90 % by the last, nothing set off before


def test_spring_frost_is_watched_until_its_late_day(spring):
    frost = FrostSpan(date(2027, 3, 20), date(2027, 4, 10), date(2027, 5, 1))
    watch = make_plan(spring, Bed(), today=date(2027, 2, 1), frost=frost).task("watch-frost")
    assert (watch.earliest, watch.latest) == (date(2027, 4, 10), date(2027, 5, 1))


@pytest.mark.parametrize("late", [date(2027, 4, 1), date(2027, 4, 10)])
def test_frost_over_before_planting_is_not_watched_but_told(spring, late):
    frost = FrostSpan(date(2027, 3, 1), date(2027, 3, 15), late)
    made = make_plan(spring, Bed(), today=date(2027, 2, 1), frost=frost)
    assert made.task("watch-frost") is None
    assert any("nine years of ten" in note for note in made.notes)


def test_ten_percent_is_late_in_spring_and_early_in_autumn():
    """US normals: the 10 % date is the later in spring, the earlier in autumn (NOAA NCEI)."""
    last = FrostChance(date(2027, 5, 11), date(2027, 4, 27), date(2027, 4, 16), 0.0, 20)
    first = FrostChance(date(2026, 10, 3), date(2026, 10, 15), date(2026, 11, 1), 0.0, 20)
    dates = (
        FrostDates(
            name="freeze",
            label="Freeze",
            threshold_c=0.0,
            last=last,
            first=first,
            offset_c=0.0,
            source="made up",
        ),
    )
    assert frost_span(dates, "spring") == FrostSpan(
        date(2027, 4, 16), date(2027, 4, 27), date(2027, 5, 11)
    )
    assert frost_span(dates, "autumn") == FrostSpan(
        date(2026, 10, 3), date(2026, 10, 15), date(2026, 11, 1)
    )
    none = FrostChance(None, None, None, math.nan, 0)
    assert frost_span((replace(dates[0], first=none),), "autumn") is None
    assert frost_span((), "autumn") is None


# --- what moved ---


def test_the_same_plan_has_not_moved(plan):
    assert changes(plan, plan) == ()


def test_what_moved_is_said_with_its_days(plan, later):
    moved = {change.key: change for change in changes(plan, later)}
    assert moved["2026-autumn/set-out"].likely_days == 3
    assert moved["2026-autumn/set-out"].what == "moved"
    assert "2027-spring/order" not in moved


def test_new_and_gone_tasks_are_told(plan):
    fewer = replace(plan, tasks=plan.tasks[1:])
    (gone,), (new,) = changes(plan, fewer), changes(fewer, plan)
    assert (gone.what, gone.key) == ("gone", plan.tasks[0].key)
    assert (new.what, new.key) == ("new", plan.tasks[0].key)


def test_there_and_back_is_no_move(plan, later):
    there, back = changes(plan, later), changes(later, plan)
    assert {c.key: -c.likely_days for c in there if c.what == "moved"} == {
        c.key: c.likely_days for c in back if c.what == "moved"
    }
