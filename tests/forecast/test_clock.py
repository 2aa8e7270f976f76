"""The clock that readings keep: summer time, borrowed zones, and what it does to an hour."""

import numpy as np
import pytest

from forecaster.forecast.clock import solar_noon_at
from forecaster.forecast.understand import load_daily_wave
from forecaster.ground.errors import InputError
from forecaster.ground.site import Site

JANUARY, JULY = (
    np.array([np.datetime64(day, "D").astype(int)]) for day in ("2024-01-15", "2024-07-15")
)


def test_a_named_clock_keeps_summer_time():
    """Dublin is at 6.26° W: noon by the sun is 12:25 by Greenwich, 13:25 by summer time."""
    site = Site(53.35, -6.26, clock="Europe/Dublin")
    assert solar_noon_at(site, JANUARY) == pytest.approx(12.0 + 6.26 / 15.0)
    assert solar_noon_at(site, JULY) == pytest.approx(13.0 + 6.26 / 15.0)


def test_a_clock_in_hours_is_kept_all_year():
    """Western Kansas keeps Central time, 100.6° W: noon is 12:42 standard."""
    site = Site(38.5, -100.6, clock=-6.0)
    for day in (JANUARY, JULY):
        assert solar_noon_at(site, day) == pytest.approx(12.0 - 6.0 + 100.6 / 15.0)


def test_without_a_clock_the_longitude_serves_and_the_hour_is_less_sure():
    told, untold = Site(38.5, -100.6, clock=-7.0), Site(38.5, -100.6)
    assert solar_noon_at(told, JULY) == solar_noon_at(untold, JULY)
    assert load_daily_wave(told).sd_phase_h < load_daily_wave(untold).sd_phase_h
    assert solar_noon_at(Site(38.5), JULY) == 12.0


@pytest.mark.parametrize("clock", ["Mars/Olympus", "../etc", 99.0, float("nan"), ""])
def test_a_clock_that_is_none_is_refused(clock):
    with pytest.raises(InputError, match="clock"):
        solar_noon_at(Site(53.0, -6.0, clock=clock), JULY)


def test_what_covers_the_ground_changes_the_wave():
    gains = [load_daily_wave(Site(40.0, cover=cover)).sun_gain_c_m2_day_mj
             for cover in ("bare", "grass", "mulch", "straw")]  # fmt: skip
    assert gains == sorted(gains, reverse=True)
