"""A window read off the chances: hand-worked, and in order whatever the chances are."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from forecaster.rules import planting as p
from forecaster.rules.planting import Outcome
from forecaster.rules.planting_window import (
    Chances,
    PlantingDays,
    Reading,
    chances,
    planting_window,
)

READING = Reading(risk=0.2)


def chance_of(well, *, possible=None, safe=None, why=None) -> Chances:
    well = np.asarray(well, float)
    return Chances(
        well=well,
        possible=well if possible is None else np.asarray(possible, float),
        frost=np.zeros(well.size),
        safe=np.ones(well.size, bool) if safe is None else np.asarray(safe, bool),
        why=np.full((4, well.size), p.HEAT, np.int8) if why is None else why,
    )


def season(count: int, *, last: int | None = None, best_to: int | None = None) -> PlantingDays:
    end = count - 1
    return PlantingDays(
        last=end if last is None else last, until=end, best_to=end if best_to is None else best_to
    )


def test_a_window_by_hand():
    well = [0.0, 0.3, 0.5, 0.8, 0.97, 1.0, 1.0, 0.85, 0.5, 0.4, 0.1]
    found = planting_window(chance_of(well), season(11), READING)
    assert (found.opens, found.best, found.closes) == (2, 4, 8)  # 0.97 is within a twentieth
    assert (found.opens_early, found.opens_late) == (1, 3)
    assert (found.closes_early, found.closes_late) == (7, 9)
    assert found.chance == 0.97
    assert found.opens_because == found.closes_because == p.HEAT
    assert not found.open_ended


def test_possible_goes_on_where_it_is_no_longer_worth_it():
    well, may = [0.9, 0.9, 0.2, 0.0, 0.0], [1.0, 1.0, 0.9, 0.6, 0.3]
    found = planting_window(chance_of(well, possible=may), season(5), READING)
    assert (found.closes, found.possible_until) == (1, 3)


def test_where_even_odds_are_out_of_reach_near_the_most_is_taken_and_below_never():
    found = planting_window(chance_of([0.1, 0.37, 0.4, 0.3]), season(4), READING)
    assert (found.opens, found.closes) == (1, 2)
    assert planting_window(chance_of([0.1, 0.24, 0.2]), season(3), READING) is None


def test_frost_beyond_the_accepted_risk_is_no_day_of_it():
    safe = [False, False, True, True]
    found = planting_window(chance_of([1.0, 1.0, 1.0, 1.0], safe=safe), season(4), READING)
    assert (found.opens, found.opens_because) == (2, p.YOUNG_FROST)


def test_a_window_that_nothing_ends_needs_no_closing_day():
    found = planting_window(chance_of([0.2, 0.9, 0.9, 0.9]), season(4, last=2), READING)
    assert found.open_ended
    short = planting_window(chance_of([0.2, 0.9, 0.9, 0.9]), season(4, last=2, best_to=2), READING)
    assert (short.closes, short.closes_because, short.open_ended) == (2, p.WELL, False)
    assert short.possible_until == 3


def test_the_best_day_is_none_that_is_past():
    well = [1.0, 1.0, 1.0, 0.9, 0.6]
    assert planting_window(chance_of(well), season(5), READING, from_day=3).best == 3
    assert planting_window(chance_of(well), season(5), READING, from_day=9).best == 4  # it is over


@given(
    st.lists(st.floats(0.0, 1.0), min_size=3, max_size=80), st.integers(0, 80), st.integers(0, 80)
)
def test_the_days_are_always_in_order(well, last, today):
    days = season(len(well), last=min(last, len(well) - 1))
    found = planting_window(chance_of(well), days, READING, from_day=today)
    top = max(well[: days.last + 1])
    if found is None:
        assert top < READING.never_below
        return
    assert found.opens <= found.best <= found.closes <= found.possible_until < len(well)
    assert found.opens <= days.last
    assert min(well[found.opens : found.closes + 1]) >= min(0.5, 0.9 * top) - 1e-12
    for early, late in ((found.opens_early, found.opens), (found.closes, found.closes_late)):
        assert early <= late


def outcome_of(why, *, bears=None, ripe=None) -> Outcome:
    why = np.asarray(why, np.int8)
    return Outcome(
        planted=np.arange(why.shape[1]) * 6,
        why=why,
        ripe=np.full(why.shape, 50) if ripe is None else np.asarray(ripe),
        bears_days=np.full(why.shape, 30) if bears is None else np.asarray(bears),
        young_frost=why == p.YOUNG_FROST,
    )


def test_chances_count_members_and_where_frost_is_too_likely():
    why = [[p.WELL, p.WELL, p.HEAT], [p.YOUNG_FROST, p.WELL, p.STANDS_LONG],
           [p.WELL, p.YOUNG_FROST, p.WELL], [p.YOUNG_FROST, p.WELL, p.WELL]]  # fmt: skip
    found = chances(outcome_of(why), season(3), Reading(risk=0.3), step=6)
    np.testing.assert_allclose(found.well, [0.5, 0.75, 0.5])
    np.testing.assert_allclose(found.possible, [0.5, 0.75, 0.75])
    np.testing.assert_allclose(found.frost, [0.5, 0.25, 0.0])
    assert found.safe.tolist() == [False, True, True]
    assert found.reason(2) in (p.HEAT, p.STANDS_LONG)
    # Where no day is as safe, the safest are taken, to 1.15 times the least.
    bold = chances(outcome_of([row[:2] for row in why]), season(2), Reading(risk=0.01), step=6)
    assert bold.safe.tolist() == [False, True]


def test_a_harvest_in_summer_is_another_season_s():
    days = PlantingDays(last=2, until=2, best_to=2, ripe_from=60)
    found = chances(outcome_of([[p.WELL] * 3], ripe=[[40, 59, 60]]), days, READING, step=6)
    np.testing.assert_array_equal(found.why[0], [p.OTHER_SEASON, p.OTHER_SEASON, p.WELL])
    np.testing.assert_allclose(found.possible, [0.0, 0.0, 1.0])


def test_what_bears_to_frost_is_worth_it_while_it_bears_most_of_the_longest():
    days = PlantingDays(last=3, until=3, best_to=3, keeps_bearing=True)
    found = chances(outcome_of([[p.WELL] * 4], bears=[[90, 100, 80, 79]]), days, READING, step=6)
    np.testing.assert_array_equal(found.why[0], [p.WELL, p.WELL, p.WELL, p.LESS_HARVEST])
    np.testing.assert_allclose(found.possible, [1.0, 1.0, 1.0, 1.0])
