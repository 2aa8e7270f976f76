"""Sums, next frosts and thermal time against plain loops."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from forecaster.rules.growing_days import GrowingDays, at, mean_between, reached


def days_of(soil=None, least=None, most=None, air=None, *, members=1, count=40) -> GrowingDays:
    def whole(values, usual):
        return np.broadcast_to(usual if values is None else np.asarray(values, float),
                               (members, count)).copy()  # fmt: skip

    ground = whole(soil, 15.0)
    return GrowingDays(
        soil_c=ground,
        seedbed_c=ground,
        least_c=whole(least, 10.0),
        most_c=whole(most, 25.0),
        air_c=whole(air, 18.0),
        light_h=np.full(count, 14.0),
    )


def test_the_soil_of_a_day_is_the_mean_of_the_five_around_it():
    soil = np.arange(40.0)
    soil[20] = 120.0
    bed = days_of(soil=soil).bed_c()[0]
    assert bed[10] == 10.0
    assert bed[20] == 40.0  # 20 more a day in five
    assert bed[0] == 1.0  # of days 0 to 2


def test_the_next_frost_and_the_next_heat_by_hand():
    least, air = np.full(40, 5.0), np.full(40, 20.0)
    least[[7, 30]] = -1.0
    air[20:] = 30.0
    days = days_of(least=least, air=air)
    frost = days.next_frost(0.0)[0]
    assert (frost[0], frost[7], frost[8], frost[31], frost[40]) == (7, 7, 30, 40, 40)
    # the fortnight from day 13 on holds seven days of 20 and seven of 30: 25
    assert days.next_heat(25.5)[0, 0] == 14
    assert days.next_heat(24.5)[0, 0] == 13


@given(st.lists(st.floats(0.0, 3.0), min_size=2, max_size=60), st.floats(0.1, 20.0), st.data())
def test_reached_is_what_a_loop_finds(daily, needed, data):
    start = data.draw(st.integers(0, len(daily)))
    way = np.concatenate([[0.0], np.cumsum(daily)])[None, :]
    total, found = 0.0, len(daily)
    for day in range(start, len(daily)):
        total += daily[day]
        if way[0, day + 1] - way[0, start] >= needed - 1e-9:
            found = day
            break
    assert reached(way, np.array([start]), needed)[0, 0] == found


def test_each_member_is_read_on_its_own_days():
    table = np.arange(12.0).reshape(2, 6)
    np.testing.assert_array_equal(at(table, np.array([[0, 5], [1, 2]])), [[0, 5], [7, 8]])
    sums = np.array([[0.0, 1.0, 3.0, 6.0]])  # of 1, 2, 3
    first, last = np.array([[0, 1]]), np.array([[2, 1]])
    np.testing.assert_array_equal(mean_between(sums, first, last), [[2.0, 2.0]])
