"""Crossings against plain loops that follow the definitions word for word."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.ground.errors import InputError
from forecaster.rules.crossings import NEVER, crossing_index

KINDS = ("first", "settled", "last")
DIRECTIONS = ("falling", "rising")
# quarters of a degree: sums are exact in binary, so that ties are ties
QUARTERS = st.integers(-80, 160).map(lambda n: n / 4.0)
SEASONS = st.lists(QUARTERS, min_size=1, max_size=60).map(np.array)


def five_day_mean(values, day):
    window = values[max(day - 4, 0) : day + 1]
    return sum(window) / len(window)


def five_days_from(values, day):
    window = values[day : day + 5]
    return sum(window) / len(window)


def by_loop(soil_c, threshold_c, direction, kind):
    """The definition, a day at a time; −1 for never."""
    short = [t - threshold_c if direction == "falling" else threshold_c - t for t in soil_c]
    days = len(short)
    if kind == "first":
        settled = by_loop(soil_c, threshold_c, direction, "settled")
        for day in range(days):
            if five_days_from(short, day) < 0.0:
                return day if settled == NEVER else min(day, settled)
        return settled
    if kind == "last":
        last = 0
        for day in range(days):
            if five_day_mean(short, day) > 0.0:
                last = day
        settled = by_loop(soil_c, threshold_c, direction, "settled")
        if settled == NEVER or five_day_mean(short, days - 1) > 0.0:
            return NEVER
        return max(last, settled)
    best, total, day_of_best = -np.inf, 0.0, 0
    for day in range(days):
        total += short[day]
        if total > best:
            best, day_of_best = total, day
    return NEVER if day_of_best == days - 1 and short[-1] > 0.0 else day_of_best


def order(day):
    """Never comes after every day."""
    return np.inf if day == NEVER else day


@settings(max_examples=150)
@given(SEASONS, QUARTERS, st.sampled_from(DIRECTIONS), st.sampled_from(KINDS))
def test_as_defined(soil, threshold, direction, kind):
    assert crossing_index(soil, threshold, direction, kind) == by_loop(
        soil, threshold, direction, kind
    )


@settings(max_examples=150)
@given(SEASONS, QUARTERS, st.integers(0, 40), st.sampled_from(KINDS))
def test_a_colder_threshold_is_never_crossed_earlier_on_the_way_down(soil, warm, gap, kind):
    early = crossing_index(soil, warm, "falling", kind)
    late = crossing_index(soil, warm - gap / 4.0, "falling", kind)
    assert order(early) <= order(late)


@settings(max_examples=100)
@given(SEASONS, QUARTERS, st.sampled_from(KINDS))
def test_rising_is_falling_mirrored(soil, threshold, kind):
    assert crossing_index(soil, threshold, "rising", kind) == crossing_index(
        -soil, -threshold, "falling", kind
    )


@settings(max_examples=100)
@given(SEASONS, QUARTERS, QUARTERS, st.sampled_from(DIRECTIONS), st.sampled_from(KINDS))
def test_warming_soil_and_threshold_alike_changes_nothing(soil, threshold, by, direction, kind):
    assert crossing_index(soil + by, threshold + by, direction, kind) == crossing_index(
        soil, threshold, direction, kind
    )


@settings(max_examples=60)
@given(SEASONS, QUARTERS, st.integers(1, 30))
def test_a_season_begun_earlier_on_the_near_side_settles_on_the_same_date(soil, threshold, more):
    """As long as any day of the season is worth counting to the near side."""
    longer = np.concatenate([np.full(more, threshold + 1.0), soil])
    ours, theirs = (crossing_index(s, threshold, "falling") for s in (longer, soil))
    if np.cumsum(soil - threshold).max() > 0.0:
        assert ours == (NEVER if theirs == NEVER else theirs + more)
    else:
        assert ours == more - 1


def test_first_touch_and_settled_and_last_touch_differ_by_hand():
    """30 days at +2, five at −3, ten at +1, thirty at −2 about the threshold, falling.

    First: the five days from day 27 on have a mean of (3·2−2·3)/5 = 0, those from day 28 on
    (2·2−3·3)/5 = −1: day 28.
    Settled: sums 60 after day 29, 45 after day 34, 55 after day 44: day 29.
    Last: the mean of days 41 to 45 is (4·1−2)/5 = 0.4, of 42 to 46 (3−4)/5 < 0: day 45.
    """
    soil = 18.0 + np.repeat([2.0, -3.0, 1.0, -2.0], [30, 5, 10, 30])
    found = {kind: int(crossing_index(soil, 18.0, "falling", kind)) for kind in KINDS}
    assert found == {"first": 28, "settled": 29, "last": 45}


def test_one_cold_day_moves_first_touch_but_not_the_settled_day():
    soil = np.repeat([19.0, 17.0], [60, 60])
    cold = soil.copy()
    cold[20] -= 12.0
    assert crossing_index(soil, 18.0, "falling", "first") == 58  # (2·1−3·1)/5 < 0
    assert crossing_index(cold, 18.0, "falling", "first") == 16
    assert crossing_index(soil, 18.0, "falling") == crossing_index(cold, 18.0, "falling") == 59


@settings(max_examples=300)
@given(SEASONS, QUARTERS, st.sampled_from(DIRECTIONS))
def test_first_touch_settled_and_last_touch_come_in_this_order(soil, threshold, direction):
    first, settled, last = (crossing_index(soil, threshold, direction, kind) for kind in KINDS)
    assert order(first) <= order(settled) <= order(last)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("direction", DIRECTIONS)
def test_never_and_already(kind, direction):
    sign = 1.0 if direction == "falling" else -1.0
    short, past = np.full(90, sign * 2.0), np.full(90, -sign * 2.0)
    assert crossing_index(short, 0.0, direction, kind) == NEVER
    assert crossing_index(past, 0.0, direction, kind) == 0


def test_a_mean_still_short_on_the_last_day_has_not_made_its_last_touch():
    soil = np.repeat([5.0, -1.0], [40, 2])  # the last 5-day mean is (3·5 − 2)/5 > 0
    assert crossing_index(soil, 0.0, "falling", "last") == NEVER
    assert crossing_index(soil, 0.0, "falling", "first") == 39
    assert crossing_index(soil, 0.0, "falling") == 39


@pytest.mark.parametrize("kind", KINDS)
def test_members_are_answered_one_by_one(kind):
    many = np.random.default_rng(0).normal(size=(2, 3, 50)).cumsum(axis=-1)
    together = crossing_index(many, 0.5, "rising", kind)
    assert together.shape == (2, 3)
    for i in np.ndindex(2, 3):
        assert together[i] == crossing_index(many[i], 0.5, "rising", kind)


def test_unknown_days_count_as_on_the_threshold():
    soil = np.repeat([2.0, np.nan, -2.0], [10, 6, 10])
    assert crossing_index(soil, 0.0, "falling") == 9
    assert crossing_index(soil, 0.0, "falling", "first") == 9


@pytest.mark.parametrize(("direction", "kind"), [("down", "settled"), ("falling", "middle")])
def test_an_unknown_word_is_refused(direction, kind):
    with pytest.raises(InputError, match="expected first, settled or last"):
        crossing_index(np.zeros(9), 1.0, direction, kind)
