"""Future air: only the past is drawn on, each year as often; what lasts of today fades."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.chance.future_air import AirMemory, choose_past, future_air, lay_on, trust_in
from forecaster.soil.forcing import DailyAir, describe
from forecaster.soil.season import DAYS_PER_YEAR, harmonics

NOTHING_LASTS = AirMemory(
    persistence_per_day=0.0,
    season_share=0.0,
    season_days=90,
    season_fade_days=60.0,
    season_sd_c=0.0,
    warming_c_per_year=0.0,
)
YEAR = 365.2425


def record(days: int = 4000, seed: int = 0, first: int = 14_000) -> DailyAir:
    """Invented air: a yearly wave, weather with a memory of three days, showers."""
    random = np.random.default_rng(seed)
    day = np.arange(first, first + days)
    weather = np.zeros(days)
    for t in range(1, days):
        weather[t] = 0.7 * weather[t - 1] + random.normal(0.0, 2.5)
    wave = 13.0 - 11.0 * np.cos(2.0 * np.pi * (day - first) / YEAR)
    rain = random.exponential(6.0, days) * (random.random(days) < 0.3)
    doy = (day - first) % 365 + 1
    return DailyAir(day, doy, wave + weather, random.uniform(5.0, 15.0, days), rain)


def ahead(
    air: DailyAir,
    *,
    horizon: int = 60,
    members: int = 40,
    memory: AirMemory = NOTHING_LASTS,
    outlook: DailyAir | None = None,
    seed: int = 0,
) -> DailyAir:
    """Members' air after a record."""
    climate = describe(air, 40.0, harmonics(air.day))
    random = np.random.default_rng(seed)
    splice = choose_past(air.day.size, horizon, members, random)
    day = air.day[-1] + np.arange(1, horizon + 1)
    unsure = random.standard_normal(members)
    return ahead_of(air, climate, splice, memory, unsure, day, day % 365 + 1, outlook)


def ahead_of(air, climate, splice, memory, unsure, day, day_of_year, outlook=None):  # noqa: PLR0917
    """`future_air` with its options in order."""
    return future_air(
        air,
        climate,
        splice,
        memory=memory,
        unsure=unsure,
        day=day,
        day_of_year=day_of_year,
        outlook=outlook,
    )


def told(air: DailyAir, mean_c, range_c=None, rain_mm=None) -> DailyAir:
    """An outlook on the first days after a record."""
    mean_c = np.asarray(mean_c, dtype=float)
    day = air.day[-1] + np.arange(1, mean_c.size + 1)
    return DailyAir(day, day % 365 + 1, mean_c, range_c, rain_mm)


@given(
    days=st.integers(2, 6000), horizon=st.integers(1, 400), members=st.integers(2, 50),
    seed=st.integers(0, 99),
)  # fmt: skip
def test_no_day_after_the_record_is_drawn_on(days, horizon, members, seed):
    splice = choose_past(days, horizon, members, np.random.default_rng(seed))
    assert splice.source.shape == (members, horizon)
    assert splice.origin.shape == (members,)
    assert splice.source.min() >= 0
    assert splice.source.max() <= days - 1
    assert 0 <= splice.origin.min() <= splice.origin.max() <= days - 1


@pytest.mark.parametrize(("years", "members"), [(8, 210), (12, 200), (20, 57), (3, 31)])
def test_every_past_year_is_used_as_often(years, members):
    days, horizon = int(years * DAYS_PER_YEAR) + 200, 150
    splice = choose_past(days, horizon, members, np.random.default_rng(0))
    assert splice.years == years
    ago = np.round((days - 1 - splice.origin) / DAYS_PER_YEAR).astype(int)
    _, count = np.unique(ago, return_counts=True)
    assert count.size == years
    assert np.ptp(count) <= 1


def test_days_follow_one_another_and_keep_the_season():
    days = int(12 * DAYS_PER_YEAR)
    splice = choose_past(days, 150, 100, np.random.default_rng(0))
    assert (np.diff(splice.source, axis=1) == 1).all()
    off = (days - 1 - splice.origin) % DAYS_PER_YEAR
    assert np.minimum(off, DAYS_PER_YEAR - off).max() <= 21.0, "twenty days of shift and leap days"


def test_members_of_one_year_get_different_shifts():
    splice = choose_past(int(6 * DAYS_PER_YEAR), 100, 200, np.random.default_rng(0))
    assert np.unique(splice.origin).size > 60


def test_the_draw_depends_on_the_seed_alone():
    one, two, other = (choose_past(4000, 100, 50, np.random.default_rng(s)) for s in (1, 1, 2))
    np.testing.assert_array_equal(one.source, two.source)
    assert (one.source != other.source).any()


@pytest.mark.parametrize("days", [60, 200, 400, 800, 1500])
def test_short_records_still_make_futures(days):
    air = record(days)
    found = ahead(
        air,
        horizon=150,
        memory=AirMemory(
            persistence_per_day=0.7,
            season_share=0.3,
            season_days=90,
            season_fade_days=60.0,
            season_sd_c=1.2,
            warming_c_per_year=0.03,
        ),
    )
    assert found.mean_c.shape == found.range_c.shape == found.rain_mm.shape == (40, 150)
    for values in (found.mean_c, found.range_c, found.rain_mm):
        assert np.isfinite(values).all()
    assert found.range_c.min() >= 0.0
    assert found.rain_mm.min() >= 0.0
    assert found.mean_c.std(axis=0).min() > 0.3, "futures differ"


def test_without_memory_members_are_past_departures_on_the_usual():
    air = record()
    climate = describe(air, 40.0, harmonics(air.day))
    found = ahead(air)
    splice = choose_past(air.day.size, 60, 40, np.random.default_rng(0))
    usual = harmonics(air.day) @ climate.mean_c
    want = (air.mean_c - usual)[splice.source] + harmonics(found.day) @ climate.mean_c
    np.testing.assert_allclose(found.mean_c, want, atol=1e-10)
    np.testing.assert_array_equal(found.rain_mm, air.rain_mm[splice.source])


def test_todays_warmth_lasts_and_fades():
    """Ten degrees more on the last day: φ^k of it is left k days on, and nothing later."""
    air = record()
    warm = air.mean_c.copy()
    warm[-1] += 10.0
    memory = replace(NOTHING_LASTS, persistence_per_day=0.7)
    climate = describe(air, 40.0, harmonics(air.day))
    random = np.random.default_rng(0)
    splice = choose_past(air.day.size, 40, 30, random)
    day = air.day[-1] + np.arange(1, 41)
    still, moved = (
        ahead_of(one, climate, splice, memory, np.zeros(30), day, day % 365 + 1).mean_c
        for one in (air, replace(air, mean_c=warm))
    )
    lasting = moved - still
    np.testing.assert_allclose(
        lasting, np.broadcast_to(10.0 * 0.7 ** np.arange(1, 41), lasting.shape), atol=1e-9
    )
    assert abs(lasting[:, -1]).max() < 1e-4


def test_a_warm_season_lasts_and_fades():
    air = record()
    warm = air.mean_c.copy()
    warm[-90:] += 2.0
    memory = AirMemory(
        persistence_per_day=0.0,
        season_share=0.3,
        season_days=90,
        season_fade_days=60.0,
        season_sd_c=0.0,
        warming_c_per_year=0.0,
    )
    climate = describe(air, 40.0, harmonics(air.day))
    splice = choose_past(air.day.size, 300, 30, np.random.default_rng(0))
    day = air.day[-1] + np.arange(1, 301)
    still, moved = (
        ahead_of(one, climate, splice, memory, np.zeros(30), day, day % 365 + 1).mean_c
        for one in (air, replace(air, mean_c=warm))
    )
    lasting = np.median(moved - still, axis=0)
    assert lasting[0] == pytest.approx(0.3 * 2.0 * np.exp(-1.0 / 60.0), abs=1e-6)
    assert (np.diff(lasting) < 0.0).all()
    assert lasting[-1] < 0.01


def test_an_outlook_is_trusted_by_lead_and_fades():
    air = record()
    plain = ahead(air)
    spoken = told(air, np.full(14, 30.0), np.full(14, 9.0), np.full(14, 4.0))
    found = ahead(air, outlook=spoken)
    usual, blended = plain.mean_c[:, :14].mean(axis=0), found.mean_c[:, :14].mean(axis=0)
    share = (blended - usual) / (30.0 - usual)
    variance = plain.mean_c[:, :14].var(axis=0)
    error = np.hypot(1.2, 0.5 * np.arange(1, 15))
    np.testing.assert_allclose(share, variance / (variance + error**2), atol=1e-9)
    spread = found.mean_c[:, :14].var(axis=0) / variance
    np.testing.assert_allclose(spread, 1.0 - share, atol=1e-9)
    dry = (found.rain_mm[:, :14] == 4.0).mean(axis=0)
    np.testing.assert_allclose(dry, share, atol=0.03)
    gap = np.abs(found.mean_c - plain.mean_c)
    assert gap[:, 14].min() > 0.1
    assert gap[:, 40:].max() < 1e-3
    np.testing.assert_array_equal(found.rain_mm[:, 14:], plain.rain_mm[:, 14:])


def test_blending_is_the_regression_on_a_noisy_outlook():
    """Weather and outlook as normal draws: the blend is calibrated and beats either alone."""
    random = np.random.default_rng(1)
    weather_sd, error_sd, days = 4.0, 3.0, 4000
    truth = random.normal(0.0, weather_sd, days)
    outlook = truth + random.normal(0.0, error_sd, days)
    members = random.normal(0.0, weather_sd, (400, days))
    trust = np.full(days, weather_sd**2 / (weather_sd**2 + error_sd**2))
    blend = lay_on(members, outlook, trust)
    miss = np.sqrt(np.mean((blend.mean(axis=0) - truth) ** 2))
    assert miss == pytest.approx(weather_sd * error_sd / 5.0, rel=0.05)  # 1/√(1/s² + 1/e²)
    assert miss < min(weather_sd, error_sd)
    low, high = np.quantile(blend, (0.1, 0.9), axis=0)
    assert np.mean((truth >= low) & (truth <= high)) == pytest.approx(0.8, abs=0.02)


def test_an_older_outlook_is_trusted_less():
    members = np.repeat(np.random.default_rng(0).normal(0.0, 4.0, (100, 1)), 5, axis=1)
    fresh, old = trust_in(members, np.arange(1, 6)), trust_in(members, np.arange(6, 11))
    assert (np.diff(fresh) < 0.0).all()
    assert (fresh > old).all()
    assert trust_in(members, np.array([-2]))[0] == trust_in(members[:, :1], np.array([1]))[0]


def test_an_outlook_with_missing_days_is_silent_on_them():
    air = record()
    plain = ahead(air)
    spoken = told(air, [25.0, np.nan, 26.0], np.array([8.0, np.nan, 8.0]),
                  np.array([0.0, np.nan, 1.0]))  # fmt: skip
    found = ahead(air, outlook=spoken)
    assert (found.mean_c[:, [0, 2]] != plain.mean_c[:, [0, 2]]).all()
    np.testing.assert_array_equal(found.mean_c[:, 1], plain.mean_c[:, 1])
    np.testing.assert_array_equal(found.rain_mm[:, 1], plain.rain_mm[:, 1])


def test_an_outlook_that_says_nothing_changes_nothing():
    air = record()
    spoken = told(air, [np.nan, np.nan])
    np.testing.assert_array_equal(ahead(air, outlook=spoken).mean_c, ahead(air).mean_c)


def test_a_record_of_means_alone():
    air = replace(record(), range_c=None, rain_mm=None)
    found = ahead(air)
    assert found.range_c is None
    assert found.rain_mm is None


def test_four_years_later_is_the_same():
    """1,461 days are whole years to 0.03 days: the wave moves by less than 0.01 °C."""
    memory = AirMemory(
        persistence_per_day=0.7,
        season_share=0.3,
        season_days=90,
        season_fade_days=60.0,
        season_sd_c=1.2,
        warming_c_per_year=0.03,
    )
    early, late = (ahead(record(first=f), memory=memory) for f in (14_000, 15_461))
    np.testing.assert_allclose(early.mean_c, late.mean_c, atol=0.02)


def test_a_longer_record_is_surer_of_the_usual():
    """The spread that stands for it shrinks with the root of the years."""
    memory = replace(NOTHING_LASTS, season_sd_c=3.0)
    spread = {}
    for days in (1100, 5000):
        air = replace(record(days), mean_c=13.0 + np.zeros(days))
        spread[days] = ahead(air, memory=memory, members=400).mean_c.std(axis=0).mean()
    assert spread[1100] == pytest.approx(3.0 / np.sqrt(1100 / YEAR), rel=0.1)
    assert spread[5000] == pytest.approx(3.0 / np.sqrt(5000 / YEAR), rel=0.1)
