"""The yearly wave and the bridging of gaps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.soil.season import DAYS_PER_YEAR, fill_gaps, fit_yearly, harmonics, year_angle

SEEDS = st.integers(0, 2**32 - 1)
COUNTS = st.integers(1, 4)


@given(st.integers(-40_000, 40_000), COUNTS)
def test_columns_are_cosines_and_sines_of_the_year(start, count):
    day = start + np.arange(50)
    ours = harmonics(day, count)
    assert ours.shape == (50, 1 + 2 * count)
    for k in range(1, count + 1):
        np.testing.assert_allclose(ours[:, 2 * k - 1], np.cos(k * year_angle(day)), atol=1e-9)
        np.testing.assert_allclose(ours[:, 2 * k], np.sin(k * year_angle(day)), atol=1e-9)


def test_the_year_returns_after_four_hundred_years():
    """146,097 days are 400 Gregorian years with their 97 leap days."""
    day = np.arange(1000)
    np.testing.assert_allclose(harmonics(day), harmonics(day + 146_097), atol=1e-8)
    assert abs(400 * DAYS_PER_YEAR - 146_097) < 1e-6


@settings(max_examples=30)
@given(SEEDS, st.integers(-10_000, 30_000), COUNTS)
def test_a_noise_free_wave_is_found(seed, start, count):
    columns = harmonics(start + np.arange(4000), count)
    wave = np.random.default_rng(seed).normal(size=1 + 2 * count) * 8.0
    # atol: the prior draws harmonics to zero by one part in 2,000
    found = fit_yearly(columns, columns @ wave, prior_sd=10.0, noise_sd=10.0)
    np.testing.assert_allclose(found, wave, atol=0.05)


def test_a_leap_day_more_or_less_moves_nothing_lasting():
    """Ten calendar years later, the record's wave is the same to the leap day's hours."""
    early = np.arange("1999-01-01", "2003-01-01", dtype="datetime64[D]").astype(np.int64)
    late = np.arange("2009-01-01", "2013-01-01", dtype="datetime64[D]").astype(np.int64)
    values = 10.0 - 9.0 * np.cos(2.0 * np.pi * np.arange(early.size) / 365.25)
    waves = [fit_yearly(harmonics(day), values, 10.0, 10.0) for day in (early, late)]
    # one day of phase is 9·2π/365 = 0.155 °C
    np.testing.assert_allclose(waves[0], waves[1], atol=0.155)


def test_unknown_days_are_left_out():
    columns = harmonics(np.arange(800))
    values = columns @ np.array([5.0, 3.0, -2.0, 0.5, 0.1])
    holed = values.copy()
    holed[100:300] = np.nan
    np.testing.assert_allclose(
        fit_yearly(columns, holed, 10.0, 10.0), fit_yearly(columns, values, 10.0, 10.0), atol=0.05
    )


def test_several_columns_are_fitted_as_each_alone():
    columns = harmonics(np.arange(500))
    values = np.random.default_rng(0).normal(size=(500, 3))
    together = fit_yearly(columns, values, 10.0, 10.0)
    for i in range(3):
        np.testing.assert_allclose(together[:, i], fit_yearly(columns, values[:, i], 10.0, 10.0))


def test_a_short_record_keeps_what_was_expected_and_a_long_one_outweighs_it():
    wave = np.array([12.0, -10.0, -4.0, 0.5, -0.5])
    expected = np.array([0.0, -8.0, -3.0, 0.0, 0.0])
    week = harmonics(18_800 + np.arange(7))
    found = fit_yearly(week, week @ wave, 2.0, 10.0, expected)
    np.testing.assert_allclose(found[1:], expected[1:], atol=0.5)
    decade = harmonics(18_800 + np.arange(3653))
    np.testing.assert_allclose(
        fit_yearly(decade, decade @ wave, 2.0, 10.0, expected), wave, atol=0.05
    )


def test_a_harmonic_may_have_a_prior_of_its_own():
    """One number for all is the same number for each."""
    columns = harmonics(np.arange(80))
    values = np.random.default_rng(1).normal(size=80)
    np.testing.assert_allclose(
        fit_yearly(columns, values, 2.0, 5.0), fit_yearly(columns, values, np.full(4, 2.0), 5.0)
    )
    stiff = fit_yearly(columns, values, np.array([1e-6, 9.0, 9.0, 9.0]), 5.0)
    assert abs(stiff[1]) < 1e-6


def test_nothing_known_is_a_wave_of_zeros():
    np.testing.assert_array_equal(
        fit_yearly(harmonics(np.arange(90)), np.full(90, np.nan), 10.0, 10.0), np.zeros(5)
    )


@settings(max_examples=60)
@given(SEEDS, st.integers(2, 60), st.floats(0.5, 30.0))
def test_gaps_get_the_conditional_expectation_of_an_autoregression(seed, days, memory):
    """Against the dense formula: E[gap | known] = K_gk·K_kk⁻¹·known, K = e^(−|i−j|/memory)."""
    random = np.random.default_rng(seed)
    usual, values = random.normal(size=days) * 5.0, random.normal(size=days) * 8.0
    gap = random.random(days) < random.random()
    holed = np.where(gap, np.nan, values)
    ours, filled = fill_gaps(holed, usual, memory)
    assert filled == gap.sum()
    if gap.all():
        np.testing.assert_array_equal(ours, usual)
        return
    index = np.arange(days)
    kernel = np.exp(-np.abs(index[:, None] - index[None, :]) / memory)
    weights = np.linalg.solve(kernel[np.ix_(~gap, ~gap)], (values - usual)[~gap])
    expected = usual + kernel[:, ~gap] @ weights
    np.testing.assert_array_equal(ours[~gap], values[~gap])
    np.testing.assert_allclose(ours[gap], expected[gap], atol=1e-6)


def test_far_from_any_known_day_the_usual_stands():
    values = np.full(400, np.nan)
    values[0] = 30.0
    ours, filled = fill_gaps(values, np.full(400, 10.0), 3.0)
    assert filled == 399
    assert ours[1] == pytest.approx(10.0 + 20.0 * np.exp(-1.0 / 3.0))
    assert ours[100] == pytest.approx(10.0, abs=1e-9)
    assert ours[-1] == 10.0
    assert np.isnan(values[1])  # the argument is as it was
