"""The season of a crossing, from the yearly wave alone."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.ground.errors import NotEnoughData
from forecaster.rules.season import Season, season_of

NORTH = np.array([15.0, -10.0, -4.0])  # coldest about 23 January, warmest about 24 July
SOUTH = np.array([15.0, 10.0, 4.0])


def test_seasons_of_the_north_by_hand():
    """15 − 10·cos − 4·sin has its minimum at atan(4/10) = 0.3805 rad = 22 days into the year."""
    falling, rising = (season_of(NORTH, direction) for direction in ("falling", "rising"))
    assert (rising.start_month, rising.start_day) == (1, 23)
    # half a mean year later: 22.1 + 182.6 = 204.7 days; 205 days after 1 January 2000
    assert (falling.start_month, falling.start_day) == (7, 24)
    assert falling.days + rising.days == 366
    assert abs(falling.days - 183) <= 1


def test_the_south_falls_when_the_north_rises():
    for one, other in (("falling", "rising"), ("rising", "falling")):
        north, south = season_of(NORTH, one), season_of(SOUTH, other)
        assert (north.start_month, north.start_day) == (south.start_month, south.start_day)
        assert north.days == south.days
        assert south.direction == other


@given(st.floats(1.0, 20.0), st.floats(0.0, 6.28), st.floats(0.0, 0.2), st.floats(0.0, 6.28))
def test_soil_falls_over_a_falling_season_and_rises_over_a_rising_one(size, phase, second, turn):
    from forecaster.soil.season import harmonics  # noqa: PLC0415

    wave = np.array(
        [
            12.0,
            size * np.cos(phase),
            size * np.sin(phase),
            second * size * np.cos(turn),
            second * size * np.sin(turn),
        ]
    )
    for direction, sign in (("falling", -1.0), ("rising", 1.0)):
        season = season_of(wave, direction)
        begin = season.start(2000).astype(int)
        soil = harmonics(begin + np.arange(season.days + 1), 2) @ wave
        # extremes are found to the day: a day before one, nothing has moved 1 % of the swing
        assert sign * (soil[-1] - soil[0]) >= 0.99 * np.ptp(soil)


def test_a_year_without_a_swing_has_no_season():
    with pytest.raises(NotEnoughData, match="no season"):
        season_of(np.array([26.0, 0.3, 0.1]), "falling")


def test_the_season_that_runs_or_the_next():
    season = Season("falling", 7, 23, 183)  # to 21 January
    day = np.datetime64
    assert season.containing_or_next(day("2024-07-23")) == day("2024-07-23")
    assert season.containing_or_next(day("2025-01-21")) == day("2024-07-23")
    assert season.containing_or_next(day("2025-01-22")) == day("2025-07-23")
    assert season.containing_or_next(day("2025-07-22")) == day("2025-07-23")


@given(st.integers(-20_000, 40_000), st.integers(1, 366), st.integers(0, 365))
def test_the_season_found_has_not_ended(today, length, start):
    first = (np.datetime64("2000-01-01") + start).item()
    season = Season("rising", first.month, first.day, length)
    today = np.datetime64(today, "D")
    found = season.containing_or_next(today)
    assert found + length > today
    before = season.start(found.item().year - 1)
    assert before + length <= today


def test_a_season_that_starts_on_a_leap_day_starts_a_day_early_in_common_years():
    season = Season("rising", 2, 29, 180)
    assert season.start(2023) == np.datetime64("2023-02-28")
    assert season.start(2024) in (np.datetime64("2024-02-28"), np.datetime64("2024-02-29"))
