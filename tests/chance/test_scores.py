"""Scores agree with the package scoringrules and with cases worked by hand."""

import itertools
import math

import numpy as np
import pytest
import scoringrules
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from forecaster.chance.scores import brier, crps_ensemble, crps_normal, interval_score, pinball

number = st.floats(-50.0, 50.0)
members = hnp.arrays(float, st.integers(2, 40), elements=number)


def crps_by_definition(x, y: float) -> float:
    """∫ (F(t) − 1{t ≥ y})² dt over the steps of the empirical distribution."""
    edges = np.sort(np.append(x, y))
    total = 0.0
    for a, b in itertools.pairwise(edges):
        share = np.mean(np.asarray(x) <= a)
        total += (b - a) * (share - (a >= y)) ** 2
    return total


def test_normal_at_its_middle():
    """σ·(2φ(0) − 1/√π) = √(2/π) − 1/√π: Gneiting & Raftery 2007, p. 367, at z = 0."""
    exact = math.sqrt(2.0 / math.pi) - 1.0 / math.sqrt(math.pi)
    assert crps_normal(0.0, 1.0, 0.0) == pytest.approx(exact, rel=1e-14)
    assert exact == pytest.approx(0.23369497725510913, abs=1e-16)


@pytest.mark.parametrize(
    ("mean", "sd", "observed", "score"),
    [
        # Both as scoringrules prints them.
        (0.0, 1.0, 0.0, 0.23369497725510913),
        (100.0, 5.0, 103.0, 1.865779404678774),
    ],
)
def test_normal(mean, sd, observed, score):
    assert crps_normal(mean, sd, observed) == pytest.approx(score, rel=1e-14)
    assert scoringrules.crps_normal(observed, mean, sd) == pytest.approx(score, rel=1e-14)


def test_ensemble_as_it_is_not_the_fair_one():
    """{1, 2, 3, 4}, y 2.5, by hand: mean |x − y| = 1; ½ · mean |x − x'| = ½ · 20/16 = 0.625."""
    assert crps_ensemble([1.0, 2.0, 3.0, 4.0], 2.5) == pytest.approx(1.0 - 0.625, rel=1e-14)
    assert crps_ensemble([1.0, 2.0, 3.0, 4.0], 2.5) == pytest.approx(0.375, rel=1e-14)


def test_ensemble_of_one_is_the_absolute_error():
    assert crps_ensemble([3.0], 7.5) == pytest.approx(4.5)


@given(x=members, y=number)
def test_ensemble_by_its_definition(x, y):
    assert float(crps_ensemble(x, y)) == pytest.approx(crps_by_definition(x, y), abs=1e-9)


@given(x=members, y=number)
def test_ensemble_agrees_with_scoringrules(x, y):
    theirs = float(scoringrules.crps_ensemble(y, x, estimator="nrg"))
    assert float(crps_ensemble(x, y)) == pytest.approx(theirs, abs=1e-9)


@given(x=members, y=number, shift=number)
def test_ensemble_does_not_care_where_zero_is(x, y, shift):
    moved = float(crps_ensemble(x + shift, y + shift))
    assert moved == pytest.approx(float(crps_ensemble(x, y)), abs=1e-8)


def test_many_forecasts_at_once():
    x, y = np.array([[1.0, 2.0, 3.0, 4.0], [0.0, 0.0, 0.0, 0.0]]), np.array([2.5, 3.0])
    assert crps_ensemble(x, y) == pytest.approx([0.375, 3.0])


def test_ensemble_of_a_normal_comes_near_its_formula():
    """4,000 evenly spaced quantiles stand for the distribution; the rest is their spacing."""
    from scipy.special import ndtri  # noqa: PLC0415

    x = ndtri((np.arange(4000) + 0.5) / 4000)
    assert float(crps_ensemble(x, 0.7)) == pytest.approx(float(crps_normal(0, 1, 0.7)), abs=2e-4)


def test_interval_score():
    """[1, 4], y 5, α 0.1, by hand: width 3 and (2/0.1)·(5 − 4) = 20."""
    assert interval_score(1.0, 4.0, 5.0, 0.1) == pytest.approx(23.0)
    assert interval_score(1.0, 4.0, 2.0, 0.1) == pytest.approx(3.0)
    assert scoringrules.interval_score(5.0, 1.0, 4.0, 0.1) == pytest.approx(23.0)


def test_brier():
    """(0.7 − 1)² by hand."""
    assert brier(0.7, 1) == pytest.approx(0.09)
    assert scoringrules.brier_score(1.0, 0.7) == pytest.approx(0.09)


def test_pinball_and_its_direction():
    """A 90 % quantile of 4 that came out 5 costs 0.9·1; one of 5 that came out 4 costs 0.1·1."""
    assert pinball(4.0, 5.0, 0.9) == pytest.approx(0.9)
    assert pinball(5.0, 4.0, 0.9) == pytest.approx(0.1)
    assert scoringrules.quantile_score(5.0, 4.0, 0.9) == pytest.approx(0.9)


@given(q=number, y=number, level=st.floats(0.01, 0.99))
def test_pinball_agrees_with_scoringrules(q, y, level):
    theirs = float(scoringrules.quantile_score(y, q, level))
    assert float(pinball(q, y, level)) == pytest.approx(theirs, abs=1e-12)
