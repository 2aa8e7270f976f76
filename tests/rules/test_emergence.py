"""Emergence: the rate at its nodes, between them, beyond them, and summed."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.answers.crops import known_crops
from forecaster.ground.errors import InputError
from forecaster.rules.emergence import Emergence, HeatSum, emergence_index

NONE, UNTRIED = math.inf, math.nan
TABLE = Emergence((0.0, 10.0, 20.0, 30.0, 40.0), (NONE, 20.0, 10.0, 5.0, UNTRIED), 0.01, "", "")


def test_rate_by_hand():
    soil = np.array([-5.0, 0.0, 5.0, 10.0, 15.0, 25.0, 30.0, 30.1, 39.0])
    # half of 1/20; then 1/20, the mean of 1/20 and 1/10, of 1/10 and 1/5; beyond 30, where it
    # was not tried, down to 0 over ten degrees: 0.2 · 0.99, 0.2 · 0.1
    expected = [0.0, 0.0, 0.025, 0.05, 0.075, 0.15, 0.2, 0.198, 0.02]
    np.testing.assert_allclose(TABLE.rate(soil), expected, atol=1e-15)


@given(st.integers(0, 30), st.sampled_from([(10.0, 20), (20.0, 10), (30.0, 5)]))
def test_steady_soil_takes_the_printed_days(sown, node):
    temp, days = node
    assert emergence_index(np.full(60, temp), sown, TABLE) == sown + days


def test_soil_where_nothing_comes_up_gives_never():
    assert emergence_index(np.full((3, 90), 0.0), 5, TABLE).tolist() == [-1, -1, -1]
    assert emergence_index(np.full((3, 6), 20.0), 5, TABLE).tolist() == [-1, -1, -1]


@given(st.floats(0.0, 30.0), st.floats(0.0, 5.0))
def test_warmer_soil_never_comes_up_later_where_the_rate_rises(temp, warmer):
    soil = np.minimum(np.array([[temp], [temp + warmer]]), 30.0) * np.ones(2000)
    slow, fast = emergence_index(soil, 0, TABLE)
    assert slow == -1 or 0 < fast <= slow


def test_halves_add_up():
    """Ten days at 1/20 and five at 1/10 make one."""
    soil = np.r_[[10.0] * 11, [20.0] * 20]  # the day of sowing does not count
    assert emergence_index(soil, 0, TABLE) == 15


@pytest.mark.parametrize(
    ("temps", "days"), [((0.0, 1.0), (1.0,)), ((1.0, 0.0), (1.0, 2.0)), ((0.0, 1.0), (1.0, 0.0))]
)
def test_a_table_that_is_none_is_refused(temps, days):
    with pytest.raises(InputError):
        Emergence(temps, days, 0.01, "", "")


def test_below_the_coldest_trial_the_line_of_the_last_two_goes_on_to_nothing():
    """1/40 at 5 °C and 1/20 at 10 °C: nothing at 0 °C, 1/80 at 2.5 °C."""
    table = Emergence((5.0, 10.0, 20.0), (40.0, 20.0, 10.0), 0.01, "", "")
    np.testing.assert_allclose(table.rate(np.array([-1.0, 0.0, 2.5])), [0.0, 0.0, 1.0 / 80.0])


def tables() -> list[Emergence]:
    return [TABLE, *(crop.emergence for crop in known_crops().values() if crop.emergence)]


@given(st.sampled_from(tables()), st.floats(-10.0, 50.0))
def test_no_rate_jumps_between_or_beyond_the_tabulated_temperatures(table, temp):
    """A hundredth of a degree moves the rate by a hundredth of the steepest slope at most."""
    known = 1.0 / np.array([d for d in table.days if not math.isnan(d)])
    steepest = 2.0 * known.max() / np.diff(table.temp_c).min()
    here, there = table.rate(np.array([temp, temp + 0.01]))
    assert abs(there - here) <= steepest * 0.01 + 1e-12


def test_a_heat_sum_by_hand():
    """100 °C·d above 5 °C: 1/10 a day at 15 °C, no faster above 25, half of that at 30."""
    way = HeatSum(5.0, 100.0, 25.0, "", "")
    found = way.rate(np.array([0.0, 5.0, 15.0, 25.0, 30.0, 35.0]))
    np.testing.assert_allclose(found, [0.0, 0.0, 0.1, 0.2, 0.1, 0.0])
    assert emergence_index(np.full(60, 15.0), 3, way) == 13
    with pytest.raises(InputError, match="no heat sum"):
        HeatSum(5.0, 100.0, 4.0, "", "")
