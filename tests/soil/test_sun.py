"""What the sun must do whatever the numbers are."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.ground.errors import InputError
from forecaster.soil import sun

YEAR = np.arange(1, 367)
LATITUDES = st.floats(-90.0, 90.0)


@given(LATITUDES)
def test_radiation_and_daylight_stay_within_what_a_planet_gets(latitude):
    radiation = sun.extraterrestrial_radiation(YEAR, latitude)
    hours = sun.daylight_hours(YEAR, latitude)
    assert (radiation >= 0.0).all()
    assert radiation.max() < 50.0  # a day at the summer pole gets 45
    assert (hours >= 0.0).all()
    assert (hours <= 24.0 + 1e-9).all()


@given(LATITUDES, st.integers(1, 366))
def test_day_here_is_night_at_the_antipodes(latitude, day):
    both = sun.daylight_hours(day, latitude) + sun.daylight_hours(day, -latitude)
    assert float(both) == pytest.approx(24.0)


@given(LATITUDES)
def test_the_table_of_a_calendar_equals_the_equation(latitude):
    days = np.tile(YEAR, 3)
    assert np.array_equal(
        sun.extraterrestrial_radiation(days, latitude),
        sun.extraterrestrial_radiation(days.astype(float), latitude),
    )


def test_polar_night_and_midnight_sun():
    assert float(sun.extraterrestrial_radiation(355, 80.0)) == 0.0
    assert float(sun.daylight_hours(355, 80.0)) == 0.0
    assert float(sun.daylight_hours(172, 80.0)) == pytest.approx(24.0)


def test_seasons_are_opposite_in_the_hemispheres():
    assert 165 < sun.extraterrestrial_radiation(YEAR, 45.0).argmax() < 180
    south = sun.extraterrestrial_radiation(YEAR, -45.0).argmax()
    assert south > 350 or south < 10


@given(st.floats(0.0, 45.0), st.floats(-20.0, 25.0), st.floats(0.0, 30.0))
def test_wider_range_means_more_sun(ra, tmin, wide):
    narrow = sun.radiation_from_range(ra, tmin, tmin + wide)
    wider = sun.radiation_from_range(ra, tmin, tmin + wide + 1.0)
    assert wider >= narrow >= 0.0
    assert sun.radiation_from_range(ra, tmin, tmin + wide, k_rs=sun.KRS_COASTAL) >= narrow


def test_a_reversed_range_counts_as_none_and_a_gap_stays_a_gap():
    values = sun.radiation_from_range([30.0, 30.0], [10.0, np.nan], [9.0, 20.0])
    assert values[0] == 0.0
    assert np.isnan(values[1])


def test_evaporation_is_never_negative_and_grows_with_warmth():
    cold, mild, warm = (
        float(sun.reference_evapotranspiration(30.0, t - 6.0, t + 6.0)) for t in (-40.0, 10.0, 25.0)
    )
    assert cold == 0.0 < mild < warm


def test_clear_sky_lets_three_quarters_through_at_the_sea():
    assert float(sun.clear_sky_radiation(40.0)) == pytest.approx(30.0)
    assert float(sun.clear_sky_radiation(40.0, 2500.0)) == pytest.approx(32.0)


@pytest.mark.parametrize("latitude", [-90.5, 91.0, float("nan")])
def test_a_latitude_off_the_earth_is_refused(latitude):
    with pytest.raises(InputError, match="latitude_deg"):
        sun.extraterrestrial_radiation(YEAR, latitude)


def test_continentality_of_known_places():
    """Conrad made 0 the Faroes and 100 Verkhoyansk; their yearly ranges from memory."""
    assert sun.continentality(7.9, 62.0) == pytest.approx(0.0, abs=3.0)
    assert sun.continentality(63.0, 67.5) == pytest.approx(96.0, abs=6.0)
    assert sun.continentality(10.0, -45.0) == sun.continentality(10.0, 45.0)


def test_krs_lies_between_the_two_of_fao_56():
    assert sun.krs_of(9.0, 53.0) == pytest.approx(sun.KRS_COASTAL, abs=1e-3)  # Ireland
    assert sun.krs_of(28.0, 40.0) == sun.KRS_INLAND  # the Great Plains
    some = [sun.krs_of(range_c, 45.0) for range_c in np.arange(0.0, 60.0)]
    assert sun.KRS_INLAND <= min(some) <= max(some) <= sun.KRS_COASTAL
    assert (np.diff(some) <= 0.0).all()
