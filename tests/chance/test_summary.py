"""Skill with its bootstrap, and reliability."""

import math

import numpy as np
import pytest

from forecaster.chance.summary import reliability, skill, skill_interval
from forecaster.ground.errors import InputError


def test_skill_by_hand():
    assert skill([1.0, 2.0], [2.0, 4.0]) == pytest.approx(0.5)
    assert skill([3.0], [2.0]) == pytest.approx(-0.5)
    assert math.isnan(skill([1.0], [0.0]))


def test_equal_years_leave_no_doubt():
    ones = np.ones(8)
    low, high = skill_interval(ones, 2.0 * ones, np.arange(8), np.random.default_rng(0))
    assert (low, high) == pytest.approx((0.5, 0.5))


def test_interval_holds_the_skill_and_narrows_with_years():
    random = np.random.default_rng(1)
    score, reference = random.gamma(2.0, 2.0, 400), random.gamma(2.0, 3.0, 400)
    widths = []
    for n in (10, 400):
        low, high = skill_interval(score[:n], reference[:n], np.arange(n), np.random.default_rng(2))
        assert low < skill(score[:n], reference[:n]) < high
        widths.append(high - low)
    assert widths[1] < widths[0] / 3.0


def test_rows_of_one_year_are_drawn_together():
    """Doubling every row adds no year, so the interval stays."""
    random = np.random.default_rng(3)
    score, reference = random.gamma(2.0, 2.0, 12), random.gamma(2.0, 3.0, 12)
    once = skill_interval(score, reference, np.arange(12), np.random.default_rng(4))
    twice = skill_interval(
        np.tile(score, 2), np.tile(reference, 2), np.tile(np.arange(12), 2),
        np.random.default_rng(4),
    )  # fmt: skip
    assert twice == pytest.approx(once)


def test_interval_is_honest_about_its_share():
    """Of 300 worlds with 25 years each, the 80 % interval holds the true skill in about 80 %.

    The percentile bootstrap is known to be a little narrow; 70 to 87 % allows for that and for
    a standard error of 2.3 %.
    """
    random, held = np.random.default_rng(5), 0
    for _ in range(300):
        score, reference = random.gamma(2.0, 2.0, 25), random.gamma(2.0, 3.0, 25)
        low, high = skill_interval(score, reference, np.arange(25), random)
        held += low <= 1.0 - 4.0 / 6.0 <= high
    assert 0.70 <= held / 300 <= 0.87


def test_reliability_by_hand():
    bins = reliability([0.0, 0.05, 0.6, 0.6, 1.0], [0, 1, 1, 0, 1])
    assert [(b.low, b.high, b.n) for b in bins] == [(0.0, 0.1, 2), (0.5, 0.7, 2), (0.9, 1.0, 1)]
    assert [b.forecast for b in bins] == pytest.approx([0.025, 0.6, 1.0])
    assert [b.frequency for b in bins] == pytest.approx([0.5, 0.5, 1.0])


def test_every_probability_is_in_one_bin():
    given = np.linspace(0.0, 1.0, 1001)
    assert sum(b.n for b in reliability(given, given > 0.5)) == given.size


def test_reliability_of_nothing_is_nothing():
    assert reliability([], []) == ()


def test_what_is_no_probability_is_refused():
    with pytest.raises(InputError, match="expected 0 to 1"):
        reliability([1.2], [1])
