"""Frost dates: what counts as a winter, what the chances mean, and the joint frost-safe day."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.answers.frost import frost_dates
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.rules.frost import FrostSample, frost_index, frost_sample
from forecaster.rules.season import Season

NORTH = Season("falling", 7, 20, 184)
SOUTH = Season("falling", 1, 20, 181)


def days(first: str, last: str) -> np.ndarray:
    return np.arange(np.datetime64(first), np.datetime64(last) + 1).astype(np.int64)


def winter(cold: dict[str, float], first: str, last: str) -> tuple[np.ndarray, np.ndarray]:
    """Minima of 10 °C but on the days named."""
    day = days(first, last)
    least = np.full(day.size, 10.0)
    for when, value in cold.items():
        least[np.datetime64(when).astype(int) - day[0]] = value
    return day, least


def test_last_and_first_frost_by_hand():
    day, least = winter(
        {"2020-11-02": -1.0, "2020-12-24": -9.0, "2021-04-11": 0.0, "2021-04-20": 0.1},
        "2020-07-20",
        "2021-07-19",
    )
    start = np.datetime64("2020-07-20")
    for side, when in (("first", "2020-11-02"), ("last", "2021-04-11")):
        sample = frost_sample(day, least, NORTH, 0.0, side)
        assert sample.years == (2020,)
        assert start + sample.index[0] == np.datetime64(when)  # at the threshold counts


def test_southern_winter_is_whole_in_one_year():
    day, least = winter({"2021-05-30": -1.0, "2021-09-14": -1.0}, "2021-01-20", "2022-01-19")
    start = np.datetime64("2021-01-20")
    assert start + frost_sample(day, least, SOUTH, 0.0, "first").index[0] == np.datetime64(
        "2021-05-30"
    )
    assert start + frost_sample(day, least, SOUTH, 0.0, "last").index[0] == np.datetime64(
        "2021-09-14"
    )


@pytest.mark.parametrize(("missing", "winters"), [(10, 1), (11, 0)])
def test_a_winter_with_more_than_ten_days_missing_is_left_out(missing, winters):
    """The '10 Missing Day' standard: Utah Climate Center, climate.usu.edu/help/freezeTable.php."""
    day, least = winter({"2021-01-03": -3.0}, "2020-07-20", "2021-07-19")
    least[:missing] = np.nan
    assert len(frost_sample(day, least, NORTH, 0.0, "last").years) == winters


def test_an_unfinished_winter_is_left_out():
    day, least = winter({"2021-01-03": -3.0}, "2020-07-20", "2021-07-18")
    assert frost_sample(day, least, NORTH, 0.0, "last").years == ()


def test_a_winter_without_frost_counts():
    day, least = winter({"2021-01-03": -3.0}, "2020-07-20", "2022-07-19")
    sample = frost_sample(day, least, NORTH, 0.0, "last")
    assert sample.years == (2020, 2021)
    assert sample.index[1] == -1
    assert sample.share_none == 0.5


def test_a_colder_bed_has_frost_longer():
    random = np.random.default_rng(0)
    day = days("2001-07-20", "2011-07-19")
    least = 8.0 + 10.0 * np.cos((day - day[0]) / 365.25 * 6.2832) + random.normal(size=day.size) * 3
    here, hollow = (
        frost_sample(day, least, NORTH, 0.0, "last", offset_c=offset).index for offset in (0, -2)
    )
    assert (hollow >= here).all()
    assert (hollow > here).any()


def test_mixed_distribution_by_hand():
    """Ten winters, of which nine have a last frost on days 1 to 9 and one has none.

    With p = 9/10, a chance of 9/20 of a later one asks for half of the frosty winters: their
    middle, day 5. A chance of 18/100 leaves a fifth: position 0.8·(9 + 1) = 8. Beyond 9/10 no
    day will do.
    """
    last = FrostSample("last", tuple(range(10)), np.array([-1, *range(1, 10)]))
    assert last.day_at(0.45) == 5
    assert last.day_at(0.18) == 8
    assert last.day_at(0.9) is None
    first = FrostSample("first", tuple(range(10)), np.array([-1, *range(1, 10)]))
    assert first.day_at(0.45) == 5
    assert first.day_at(0.18) == 2


def test_few_winters_say_nothing_and_a_chance_is_one():
    few = FrostSample("last", (1, 2, 3, 4), np.array([100, 110, 120, 130]))
    assert few.day_at(0.5) is None
    with pytest.raises(InputError, match="chance of a frost"):
        few.day_at(1.0)


@given(
    st.lists(st.integers(-1, 364), min_size=5, max_size=40),
    st.floats(0.02, 0.98),
    st.floats(0.02, 0.98),
)
def test_rarer_frosts_lie_further_out(index, one, other):
    low, high = sorted((one, other))
    for side, sign in (("last", -1), ("first", 1)):
        sample = FrostSample(side, tuple(range(len(index))), np.array(index))
        rare, often = sample.day_at(low), sample.day_at(high)
        if often is not None:
            assert sign * (often - rare) >= 0


@given(st.floats(-10.0, 10.0), st.floats(0.0, 5.0), st.integers(0, 99))
def test_a_colder_threshold_is_met_later_in_autumn_and_earlier_in_spring(threshold, less, seed):
    least = np.random.default_rng(seed).normal(3.0, 6.0, 200)
    first = [int(frost_index(least, t, "first")) for t in (threshold, threshold - less)]
    last = [int(frost_index(least, t, "last")) for t in (threshold, threshold - less)]
    assert first[1] == -1 or first[0] <= first[1]
    assert last[1] <= last[0]


def test_frost_dates_of_a_record(make_air):
    air = make_air(days=12 * 365)
    found = {level.name: level for level in frost_dates(air)}
    assert [round(level.threshold_c * 1.8 + 32) for level in found.values()] == [36, 32, 28]
    for level in found.values():
        assert level.last.winters == level.first.winters == 11
        assert level.last.chance_10 > level.last.chance_50 > level.last.chance_90
        assert level.first.chance_10 < level.first.chance_50 < level.first.chance_90
    assert found["frost"].last.chance_50 > found["hard-freeze"].last.chance_50
    assert found["frost"].first.chance_50 < found["hard-freeze"].first.chance_50


def test_half_a_year_later_the_frosts_are_half_a_year_later(make_air):
    north = frost_dates(make_air(days=12 * 365))[1]
    south = frost_dates(make_air(days=12 * 365, warmest=200.0 - 182.6))[1]
    apart = (south.last.chance_50 - north.last.chance_50).days % 365
    assert abs(apart - 183) < 20  # other weather, the same climate


def test_means_only_give_no_frost_dates(make_air):
    air = make_air()
    with pytest.raises(NotEnoughData, match="minimum of each day"):
        frost_dates(air.assign(tavg_c=air["tmin_c"]).drop(columns=["tmin_c", "tmax_c"]))
