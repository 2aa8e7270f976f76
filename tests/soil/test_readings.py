"""Readings before they are held against the model."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.forecast.understand import load_daily_wave
from forecaster.ground.site import Site
from forecaster.soil.readings import LOGGER_SD_C, Readings, daily_means, departures
from forecaster.soil.wave import hour_correction


def readings(day, hour, temp, depth=0.1, *, whole=False, error=0.5):
    count = len(day)
    return Readings(
        day=np.asarray(day, dtype=np.int64),
        hour=np.asarray(hour, dtype=float),
        temp_c=np.asarray(temp, dtype=float),
        depth_m=np.broadcast_to(np.asarray(depth, dtype=float), count).copy(),
        whole_day=np.full(count, whole),
        error_c=np.full(count, error),
    )


def full_day(day, step_h=2.0, depth=0.1):
    hour = np.arange(0.0, 24.0, step_h)
    temp = 15.0 + 3.0 * np.cos(2.0 * np.pi * (hour - 17.0) / 24.0)
    return readings(np.full(hour.size, day), hour, temp, depth)


def joined(*parts):
    return Readings(
        **{name: np.concatenate([getattr(p, name) for p in parts]) for name in Readings.__slots__}
    )


def test_a_day_read_in_full_becomes_its_mean():
    ours = daily_means(full_day(100))
    assert ours.day.tolist() == [100]
    assert ours.whole_day.all()
    assert ours.temp_c[0] == pytest.approx(15.0)
    assert np.isnan(ours.hour[0])
    assert ours.error_c[0] == LOGGER_SD_C


@pytest.mark.parametrize(
    ("hours", "why"),
    [
        ([7, 9, 11, 13, 15, 17, 19], "seven readings"),
        ([0, 1, 2, 3, 4, 5, 6, 12], "six hours without"),
        ([7, 8, 9, 10, 11, 12, 13, 14], "no night"),
    ],
)
def test_a_day_read_in_part_stays_as_it_is(hours, why):
    given_readings = readings(np.full(len(hours), 100), hours, np.arange(len(hours)) * 1.0)
    ours = daily_means(given_readings)
    assert not ours.whole_day.any(), why
    assert ours.temp_c.tolist() == given_readings.temp_c.tolist()


def test_depths_and_days_are_kept_apart_and_the_rest_is_kept():
    hand = readings([102, 103], [7.5, np.nan], [11.0, 12.0])
    means = readings([99], [np.nan], [9.0], whole=True)
    ours = daily_means(joined(full_day(101, 3.0), hand, full_day(100, 1.0, 0.2), means))
    found = {
        (int(d), float(z), bool(w)): t
        for d, z, w, t in zip(ours.day, ours.depth_m, ours.whole_day, ours.temp_c, strict=True)
    }
    assert set(found) == {
        (101, 0.1, True),
        (100, 0.2, True),
        (102, 0.1, False),
        (103, 0.1, False),
        (99, 0.1, True),
    }
    assert found[100, 0.2, True] == pytest.approx(15.0)
    assert found[99, 0.1, True] == 9.0


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.integers(0, 120))
def test_as_a_plain_loop_puts_days_in_one(seed, count):
    random = np.random.default_rng(seed)
    many = readings(
        random.integers(0, 4, count),
        np.round(random.uniform(0.0, 24.0, count), 2),
        random.normal(size=count),
        random.choice([0.05, 0.1], count),
    )
    ours = daily_means(many)
    expected, left = {}, 0
    for day, depth in {(int(d), float(z)) for d, z in zip(many.day, many.depth_m, strict=True)}:
        here = (many.day == day) & (many.depth_m == depth)
        hours = np.sort(many.hour[here])
        gaps = [*np.diff(hours), 24.0 - (hours[-1] - hours[0])]
        if hours.size >= 8 and max(gaps) <= 4.0:
            expected[day, depth] = many.temp_c[here].mean()
        else:
            left += hours.size
    whole = ours.whole_day
    assert np.count_nonzero(~whole) == left
    found = zip(ours.day[whole], ours.depth_m[whole], ours.temp_c[whole], strict=True)
    assert {(int(d), float(z)): t for d, z, t in found} == pytest.approx(expected)


def test_means_of_days_owe_nothing_to_the_hour():
    some = joined(
        readings([100], [np.nan], [9.0], whole=True),
        readings([100, 100], [7.0, 17.0], [8.0, 12.0], 0.05),
    )
    wave = load_daily_wave(Site(40.0, -97.0))
    air = {"day_of_year": np.full(3, 150), "latitude_deg": 40.0, "wave": wave}
    noon = np.full(3, 12.2)
    ours = departures(
        some, tmin_c=np.full(3, 8.0), tmax_c=np.full(3, 22.0), solar_noon_h=noon, **air
    )
    assert ours.departure_c[0] == 0.0
    assert ours.sd_c[0] == 0.0
    one = air | {"day_of_year": 150, "solar_noon_h": 12.2}
    alone = hour_correction(7.0, 0.05, tmin_c=8.0, tmax_c=22.0, **one)
    assert ours.departure_c[1] == pytest.approx(float(alone.departure_c))
    assert ours.departure_c[1] < 0.0 < ours.departure_c[2]
