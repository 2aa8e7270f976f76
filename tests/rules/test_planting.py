"""If planted on a day, does it go well? Hand-worked cases, and what must hold in any weather."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.rules import planting as p
from forecaster.rules.emergence import HeatSum
from forecaster.rules.growing_days import GrowingDays

COUNT = 200
CHOICES = p.Choices(young_days=10, up_within_days=20, heat_share=0.5, worth_share=0.5, longest=2.0)
NEEDS = p.Needs(
    goal="bear",
    soil_least_c=10.0,
    young_c=-2.0,
    grown_c=-5.0,
    harvest_frost_c=0.0,
    growth=p.Growth(base_c=5.0, best_c=15.0),
    days=40.0,
    harvest_days=20.0,
    heat_c=25.0,
    roots_least_c=7.0,
    roots_days=20,
)


def weather(*, soil=15.0, least=8.0, most=22.0, air=15.0, light=14.0) -> GrowingDays:
    def row(values):
        return np.broadcast_to(np.asarray(values, float), (1, COUNT)).copy()

    return GrowingDays(
        soil_c=row(soil), seedbed_c=row(soil), least_c=row(least), most_c=row(most),
        air_c=row(air), light_h=np.broadcast_to(np.asarray(light, float), (COUNT,)).copy(),
    )  # fmt: skip


def on(day: int, days: GrowingDays, needs: p.Needs = NEEDS) -> tuple[int, int]:
    found = p.outcome(days, np.array([day]), needs, CHOICES)
    return int(found.why[0, 0]), int(found.ripe[0, 0])


def where(first: int, last: int, inside: float, outside: float) -> np.ndarray:
    values = np.full(COUNT, outside)
    values[first : last + 1] = inside
    return values


def test_good_weather_ripens_in_the_days_of_the_best_weather():
    assert on(0, weather()) == (p.WELL, 39)  # days 0 to 39 are forty


def test_half_the_growth_takes_twice_the_days_and_is_hardly_worth_it_beyond():
    assert on(0, weather(air=10.0)) == (p.WELL, 79)  # twice forty is not more than twice
    assert on(0, weather(air=9.9))[0] == p.STANDS_LONG
    assert on(0, weather(light=9.5)) == (p.WELL, 79)  # half way from 8 to 11 hours


def test_each_reason_by_hand():
    assert on(0, weather(soil=9.9))[0] == p.COLD_SOIL
    hot = replace(NEEDS, soil_most_c=20.0)
    assert on(0, weather(soil=21.0), hot)[0] == p.HOT_SOIL
    assert on(50, weather(least=where(59, 59, -3.0, 8.0)))[0] == p.YOUNG_FROST
    assert on(50, weather(least=where(60, 60, -3.0, 8.0)))[0] == p.WELL  # rooted by then
    assert on(50, weather(least=where(60, 60, -6.0, 8.0)))[0] == p.FROST
    assert on(50, weather(least=where(90, 90, -6.0, 8.0)))[0] == p.SHORT_HARVEST
    assert on(50, weather(least=where(98, 98, -1.0, 8.0)))[0] == p.SHORT_HARVEST
    assert on(50, weather(least=where(99, 99, -1.0, 8.0)))[0] == p.WELL  # ten days of harvest
    assert on(170, weather())[0] == p.NO_TIME
    assert on(0, weather(air=where(20, 60, 26.0, 15.0)))[0] == p.HEAT
    assert on(0, weather(air=where(0, 19, 26.0, 15.0)))[0] == p.WELL  # hot while it was young
    sets = replace(NEEDS, heat_c=None, heat_most_c=30.0)
    assert on(0, weather(most=31.0), sets)[0] == p.HEAT


def test_seed_under_ground_is_not_harmed_and_must_come_up_in_time():
    needs = replace(NEEDS, emerging=HeatSum(5.0, 100.0, 25.0, "", ""))
    frost = weather(least=where(0, 9, -9.0, 8.0))
    assert on(0, frost, needs)[0] == p.WELL  # up on day 10
    assert on(0, frost)[0] == p.YOUNG_FROST
    slow = weather(soil=9.9)
    assert on(0, slow, replace(needs, soil_least_c=None))[0] == p.SLOW_UP  # 21 days
    assert on(0, slow, replace(needs, soil_least_c=None, keeps=True))[0] == p.WELL


def test_bloom_is_ended_by_heat_not_spoilt_by_it():
    needs = replace(NEEDS, heat_ends=True)
    assert on(0, weather(air=where(0, 20, 27.0, 15.0)), needs)[0] == p.WELL
    found = p.outcome(weather(air=where(60, 199, 27.0, 15.0)), np.array([0]), needs, CHOICES)
    # From day 60 it is 27 °C: the fortnight from day 58 on has twelve such days, 25.3 on average.
    assert found.bears_days[0, 0] == 58 - 39
    assert found.why[0, 0] == p.WELL


def test_roots_are_made_before_the_soil_is_too_cold_and_mostly_in_cool_soil():
    needs = replace(NEEDS, goal="root", soil_least_c=None, soil_most_c=18.0)
    soil = np.linspace(25.0, 5.1, COUNT)  # a tenth of a degree a day
    found = p.outcome(weather(soil=soil), np.arange(COUNT), needs, CHOICES)
    why = found.why[0]
    # The mean of twenty days lies below 18 °C once its middle, 9.5 days on, does: from day 61.
    assert why[60] == p.HOT_ROOTS
    assert why[61] == p.WELL
    # Soil at 7 °C or more to day 180: twenty days from day 161 on are the last.
    assert why[161] == p.WELL
    assert why[162] == p.COLD_ROOTS


# --- in any weather -------------------------------------------------------------------------


@st.composite
def any_weather(draw) -> GrowingDays:
    seed = draw(st.integers(0, 10_000))
    random = np.random.default_rng(seed)
    wave = 12.0 - 14.0 * np.cos(2.0 * np.pi * (np.arange(COUNT) + draw(st.integers(0, 365))) / 365)
    air = wave + random.normal(0.0, 4.0, (4, COUNT))
    return GrowingDays(
        soil_c=wave + random.normal(0.0, 1.0, (4, COUNT)),
        seedbed_c=wave + random.normal(0.0, 1.0, (4, COUNT)),
        least_c=air - 6.0, most_c=air + 6.0, air_c=air, light_h=np.full(COUNT, 12.0),
    )  # fmt: skip


EVERY = np.arange(0, COUNT, 3)


@given(any_weather(), st.floats(0.0, 10.0), st.booleans())
def test_a_crop_that_stands_more_cold_goes_well_wherever_the_other_does(days, more, seed):
    tender = replace(NEEDS, emerging=HeatSum(5.0, 100.0, 25.0, "", "") if seed else None)
    hardy = replace(
        tender,
        young_c=tender.young_c - more,
        grown_c=tender.grown_c - more,
        harvest_frost_c=tender.harvest_frost_c - more,
    )
    one, other = (p.outcome(days, EVERY, needs, CHOICES) for needs in (tender, hardy))
    assert (other.well | ~one.well).all()
    assert (other.possible | ~one.possible).all()


@given(any_weather(), st.integers(1, 40))
def test_shifting_the_days_shifts_the_answer(days, shift):
    later = GrowingDays(
        **{
            name: np.concatenate([getattr(days, name)[..., :shift], getattr(days, name)], axis=-1)
            for name in ("soil_c", "seedbed_c", "least_c", "most_c", "air_c", "light_h")
        }
    )
    inner = EVERY[(EVERY >= 5) & (EVERY < COUNT - 60)]  # away from the ends of the means
    one = p.outcome(days, inner, NEEDS, CHOICES)
    other = p.outcome(later, inner + shift, NEEDS, CHOICES)
    np.testing.assert_array_equal(one.why, other.why)
    there = one.ripe < COUNT
    np.testing.assert_array_equal(one.ripe[there] + shift, other.ripe[there])


@given(any_weather())
def test_well_is_possible_and_company_changes_nothing(days):
    fresh = replace(days)
    object.__setattr__(fresh, "_kept", {})
    for needs in (replace(NEEDS, young_c=-4.0), replace(NEEDS, goal="root")):
        p.outcome(days, EVERY, needs, CHOICES)
    one, other = (p.outcome(d, EVERY, NEEDS, CHOICES) for d in (days, fresh))
    np.testing.assert_array_equal(one.why, other.why)
    assert (one.possible | ~one.well).all()


@pytest.mark.parametrize("air", [-10.0, 5.0])
def test_no_growth_never_ripens(air):
    assert on(0, weather(air=air))[1] == COUNT
