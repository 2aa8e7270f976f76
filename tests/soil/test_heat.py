"""Heat conduction: properties that follow from the equation, not from our numbers."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.soil.heat import (
    SECONDS_PER_DAY,
    respond,
    respond_yearly,
    running_mean,
    transfer,
)
from forecaster.soil.season import YEARLY_OMEGA_PER_DAY

DEPTHS = st.floats(0.0, 2.0)
DIFFUSIVITIES = st.floats(1e-7, 1e-6)
LENGTHS = st.floats(0.0, 1.0)
SEEDS = st.integers(0, 2**32 - 1)


def test_at_the_surface_without_a_film_the_forcing_comes_through():
    random = np.random.default_rng(0)
    departure, wave = random.normal(size=1000), random.normal(size=5)
    np.testing.assert_allclose(respond(departure, 0.0, 4e-7, 0.0), departure, atol=1e-10)
    np.testing.assert_allclose(respond_yearly(wave, 0.0, 4e-7, 0.0), wave, atol=1e-12)


@given(DEPTHS, DIFFUSIVITIES, LENGTHS, st.integers(0, 4))
def test_yearly_harmonics_keep_the_closed_form_amplitude_and_lag(depth, kappa, length, which):
    wave = np.zeros(5)
    wave[which] = 3.0
    order = (which + 1) // 2
    ours = respond_yearly(wave, depth, kappa, length)
    if order == 0:
        np.testing.assert_allclose(ours, wave)
        return
    # 1/d + i/d with d = √(2κ/ω): Carslaw & Jaeger §2.6 (section from memory); written out in
    # real numbers, amplitude e^(−z/d)/√((1 + L/d)² + (L/d)²), lag z/d + atan((L/d)/(1 + L/d))
    d = np.sqrt(2.0 * kappa / (order * YEARLY_OMEGA_PER_DAY / SECONDS_PER_DAY))
    film = length / d
    amplitude = 3.0 * np.exp(-depth / d) / np.hypot(1.0 + film, film)
    lag = depth / d + np.arctan2(film, 1.0 + film)
    cosine, sine = ours[2 * order - 1], ours[2 * order]
    assert np.hypot(cosine, sine) == pytest.approx(amplitude)
    start = 0.0 if which % 2 else np.pi / 2.0  # cos starts at angle 0, sin a quarter later
    assert np.cos(np.arctan2(sine, cosine) - start - lag) == pytest.approx(1.0)


@pytest.mark.parametrize("period_days", [8.0, 30.0, 120.0])
@pytest.mark.parametrize(("depth", "length"), [(0.1, 0.0), (0.1, 0.3), (0.5, 0.1)])
def test_a_long_wave_keeps_the_closed_form_amplitude_and_lag(period_days, depth, length):
    kappa, days = 4.5e-7, np.arange(4000.0)
    omega = 2.0 * np.pi / period_days
    ours = respond(np.cos(omega * days), depth, kappa, length)
    d = np.sqrt(2.0 * kappa * SECONDS_PER_DAY / omega)
    film = length / d
    amplitude = np.exp(-depth / d) / np.hypot(1.0 + film, film)
    lag = depth / d + np.arctan2(film, 1.0 + film)
    # the wave's start is a step whose mark fades as t^(−3/2): a thousandth is left after 5 years
    late = slice(2000, 3900)
    np.testing.assert_allclose(ours[late], amplitude * np.cos(omega * days[late] - lag), atol=1e-3)


@settings(max_examples=25)
@given(SEEDS, DEPTHS, DIFFUSIVITIES, LENGTHS, st.floats(-5.0, 5.0))
def test_superposition(seed, depth, kappa, length, factor):
    a, b = np.random.default_rng(seed).normal(size=(2, 300))
    ground = (depth, kappa, length)
    np.testing.assert_allclose(
        respond(a + factor * b, *ground),
        respond(a, *ground) + factor * respond(b, *ground),
        atol=1e-9,
    )
    np.testing.assert_allclose(
        respond_yearly((a + factor * b)[:7], *ground),
        respond_yearly(a[:7], *ground) + factor * respond_yearly(b[:7], *ground),
        atol=1e-9,
    )


@given(st.lists(st.floats(-20.0, 30.0), min_size=7, max_size=7), DEPTHS, DIFFUSIVITIES, LENGTHS)
def test_the_mean_of_a_whole_year_does_not_depend_on_depth(wave, depth, kappa, length):
    assert respond_yearly(np.array(wave), depth, kappa, length)[0] == wave[0]


@given(DEPTHS, DEPTHS, DIFFUSIVITIES, LENGTHS)
def test_deeper_is_never_livelier(one, other, kappa, length):
    omega = 2.0 * np.pi / SECONDS_PER_DAY / np.array([365.0, 30.0, 5.0, 1.0])
    shallow, deep = (
        np.abs(transfer(omega, depth, kappa, length)) for depth in sorted((one, other))
    )
    assert np.all(deep <= shallow + 1e-15)
    assert np.all(shallow <= 1.0)


def test_the_end_of_a_record_does_not_reach_its_start():
    departure = np.zeros(500)
    departure[-30:] = 10.0
    ours = respond(departure, 0.1, 4.5e-7, 0.3)
    # half a hundredth of the 10 °C: the tail 400 days on, which the padding lets round
    assert np.abs(ours[:400]).max() < 0.05
    assert ours[-1] > 3.0


def test_the_future_does_not_change_the_past():
    random = np.random.default_rng(3)
    long = random.normal(size=900) * 5.0
    ours = respond(long[:600], 0.1, 4.5e-7, 0.3)
    theirs = respond(long, 0.1, 4.5e-7, 0.3)[:600]
    # Days are samples of a smooth curve that white noise of 5 °C is not: the break at the end
    # rings for some days, 2 % of that noise at the most, and a fainter tail goes round.
    np.testing.assert_allclose(ours, theirs, atol=0.15)
    np.testing.assert_allclose(ours[:550], theirs[:550], atol=0.03)


def test_members_are_answered_one_by_one():
    random = np.random.default_rng(4)
    many = random.normal(size=(3, 200))
    together = respond(many, 0.1, 4.5e-7, 0.3)
    for row, alone in zip(many, together, strict=True):
        np.testing.assert_allclose(respond(row, 0.1, 4.5e-7, 0.3), alone, atol=1e-12)


@settings(max_examples=25)
@given(SEEDS, st.integers(1, 800), st.floats(1.0, 40.0), st.floats(-10.0, 10.0))
def test_running_mean_is_the_ewm_of_pandas(seed, days, memory, before):
    values = np.random.default_rng(seed).normal(size=days)
    theirs = (
        pd.Series([before, *values])
        .ewm(alpha=1.0 - np.exp(-1.0 / memory), adjust=False)
        .mean()
        .to_numpy()[1:]
    )
    # e^(−20) of what is let round by the padding, times the largest value
    np.testing.assert_allclose(running_mean(values, memory, before), theirs, atol=1e-6)
