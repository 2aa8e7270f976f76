"""Past seasons: only those known well enough, short gaps bridged, long ones not."""

import numpy as np
import pytest

from forecaster.rules.past import PastSeason, bridge_short, past_seasons
from forecaster.rules.season import Season

AUTUMN = Season("falling", 7, 20, 180)
FIRST = np.datetime64("2018-01-01", "D")
DAYS = 365 * 5 + 1
DAY = FIRST.astype(np.int64) + np.arange(DAYS)


def soil() -> np.ndarray:
    """A wave that passes 15 °C on about 20 October: 5 °C + 20 °C·(1 + cos)/2."""
    return 15.0 + 10.0 * np.cos(2.0 * np.pi * (np.arange(DAYS) - 201.0) / 365.25)


def found(values: np.ndarray, threshold: float = 15.0) -> list[PastSeason]:
    return past_seasons(DAY, values, AUTUMN, threshold, "falling")


def test_whole_seasons_with_their_dates():
    seasons = found(soil())
    assert [one.year for one in seasons] == [2018, 2019, 2020, 2021]
    for one in seasons:
        assert one.start == np.datetime64(f"{one.year}-07-20")
        assert one.end - one.start == np.timedelta64(180, "D")
        # A quarter of a year, 91.3 days, after the top on 21 July: one day after the first.
        assert one.index == pytest.approx(92, abs=1)
        assert one.crossed
        assert one.censored == one.index


@pytest.mark.parametrize(("threshold", "index"), [(30.0, 0), (0.0, -1)])
def test_already_and_never(threshold, index):
    for one in found(soil(), threshold):
        assert one.index == index
        assert not one.crossed
        assert one.censored == (0 if index == 0 else 180)


def test_five_days_are_bridged_and_six_are_not():
    day = int((np.datetime64("2019-09-01") - FIRST).astype(int))
    for gap, years in ((5, [2018, 2019, 2020, 2021]), (6, [2018, 2020, 2021])):
        values = soil()
        values[day : day + gap] = np.nan
        assert [one.year for one in found(values)] == years


def test_nine_days_in_ten_must_be_read():
    """Gaps of one day in eight are short, but leave too little that was measured."""
    values = soil()
    begin = int((np.datetime64("2019-07-20") - FIRST).astype(int))
    values[begin : begin + 180 : 8] = np.nan
    assert [one.year for one in found(values)] == [2018, 2020, 2021]


def test_bridging_is_linear_between_neighbours_only():
    values = np.array([np.nan, 1.0, np.nan, np.nan, 4.0, np.nan])
    np.testing.assert_allclose(bridge_short(values, 2), [np.nan, 1.0, 2.0, 3.0, 4.0, np.nan])
    np.testing.assert_array_equal(bridge_short(values, 1), values)
    np.testing.assert_array_equal(bridge_short(np.full(3, np.nan), 5), np.full(3, np.nan))


def test_the_record_is_left_as_it_was():
    values = soil()
    values[600:603] = np.nan
    before = values.copy()
    found(values)
    np.testing.assert_array_equal(values, before)
