"""Properties of damped waves that follow from the physics, not from our numbers."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.ground.errors import InputError
from forecaster.soil.sun import sunset_hour_angle
from forecaster.soil.wave import (
    READING_HOURS,
    DailyWave,
    annual_wave_c,
    damping_depth_m,
    diffusivity_from_amplitudes,
    diffusivity_from_lag,
    hour_correction,
    layer_mean_response,
    solar_noon_hour,
    sun_harmonics,
)

DIFFUSIVITIES = st.floats(5e-8, 2e-6)
DEPTHS = st.floats(0.0, 2.0)
TEMPERATURES = st.floats(-20.0, 40.0)
AMPLITUDES = st.floats(0.1, 30.0)
DAYS = st.floats(0.0, 365.0)
YEAR = np.arange(365.0)

WAVE = DailyWave(
    diffusivity_m2_s=3.3e-7,
    exchange_length_m=0.3,
    sun_gain_c_m2_day_mj=1.3,
    air_lag_h=3.0,
    still_c=-5.0,
    full_c=8.0,
    sd_wave=0.5,
    sd_phase_h=0.6,
    sd_day=0.3,
    source="a test",
)
JUNE = {"tmin_c": 12.0, "tmax_c": 27.0, "day_of_year": 170, "latitude_deg": 43.0, "wave": WAVE}


def one_wave(**changes):
    values = {"mean_c": 10.0, "amplitude_c": 8.0, "coldest_day": 20.0, "diffusivity_m2_s": 4e-7}
    return values | changes


@given(TEMPERATURES, AMPLITUDES, DAYS, DIFFUSIVITIES)
def test_depth_zero_is_the_surface(mean, amplitude, coldest, diffusivity):
    ours = annual_wave_c(
        YEAR,
        0.0,
        mean_c=mean,
        amplitude_c=amplitude,
        coldest_day=coldest,
        diffusivity_m2_s=diffusivity,
    )
    surface = mean - amplitude * np.cos(2.0 * np.pi * (YEAR - coldest) / 365.0)
    np.testing.assert_allclose(ours, surface, atol=1e-9)


@given(AMPLITUDES, DAYS, DIFFUSIVITIES, DEPTHS)
def test_amplitude_shrinks_and_lags_as_depth_over_damping_depth(
    amplitude, coldest, diffusivity, depth
):
    ours = annual_wave_c(
        YEAR,
        depth,
        mean_c=0.0,
        amplitude_c=amplitude,
        coldest_day=coldest,
        diffusivity_m2_s=diffusivity,
    )
    first = 2.0 / 365.0 * np.sum(ours * np.exp(-2j * np.pi * YEAR / 365.0))
    lag = depth / damping_depth_m(diffusivity)
    turn = np.exp(-1j * (lag + 2.0 * np.pi * coldest / 365.0))
    np.testing.assert_allclose(first, -amplitude * np.exp(-lag) * turn, atol=1e-9)


@given(
    st.lists(st.tuples(AMPLITUDES, DAYS), min_size=1, max_size=4),
    DIFFUSIVITIES,
    DEPTHS,
    TEMPERATURES,
)
def test_whole_cycle_mean_does_not_depend_on_depth(harmonics, diffusivity, depth, mean):
    amplitudes, coldest = zip(*harmonics, strict=True)
    ours = annual_wave_c(
        YEAR,
        depth,
        mean_c=mean,
        amplitude_c=amplitudes,
        coldest_day=coldest,
        diffusivity_m2_s=diffusivity,
    )
    assert ours.mean() == pytest.approx(mean, abs=1e-9)


@given(AMPLITUDES, AMPLITUDES, DEPTHS)
def test_harmonics_add(first, second, depth):
    both = annual_wave_c(
        YEAR, depth, **one_wave(amplitude_c=(first, second), coldest_day=(20.0, 50.0))
    )
    alone = annual_wave_c(YEAR, depth, **one_wave(amplitude_c=first))
    overtone = annual_wave_c(
        YEAR,
        depth,
        **one_wave(mean_c=0.0, amplitude_c=second, coldest_day=50.0),
        period_days=182.5,
    )
    np.testing.assert_allclose(both, alone + overtone, atol=1e-9)


@given(DAYS, DEPTHS)
def test_shifting_every_date_shifts_the_answer(shift, depth):
    moved = annual_wave_c(YEAR + shift, depth, **one_wave(coldest_day=20.0 + shift))
    np.testing.assert_allclose(moved, annual_wave_c(YEAR, depth, **one_wave()), atol=1e-9)


@given(DIFFUSIVITIES, st.floats(0.0, 0.3), st.floats(0.01, 0.3), st.sampled_from([1.0, 365.0]))
def test_two_depths_give_the_diffusivity_back(diffusivity, top, separation, period):
    d = damping_depth_m(diffusivity, period)
    amplitudes = [8.0 * np.exp(-z / d) for z in (top, top + separation)]
    lag_days = separation / d * period / (2.0 * np.pi)
    by_amplitude = diffusivity_from_amplitudes(*amplitudes, separation, period)
    assert by_amplitude == pytest.approx(diffusivity, rel=1e-6)
    assert diffusivity_from_lag(separation, lag_days, period) == pytest.approx(diffusivity)


def test_a_noise_free_year_at_two_depths_gives_mean_and_wave_back():
    made = one_wave()
    turn = 2.0 * np.pi * YEAR / 365.0
    design = np.column_stack([np.ones(365), np.cos(turn), np.sin(turn)])
    found = []
    for depth in (0.1, 0.5):
        mean, cosine, sine = np.linalg.lstsq(design, annual_wave_c(YEAR, depth, **made))[0]
        assert mean == pytest.approx(made["mean_c"])
        found.append((np.hypot(cosine, sine), np.arctan2(-sine, -cosine) * 365.0 / (2.0 * np.pi)))
    (shallow, early), (deep, late) = found
    d = made["diffusivity_m2_s"]
    assert diffusivity_from_amplitudes(shallow, deep, 0.4, 365.0) == pytest.approx(d, rel=1e-9)
    assert diffusivity_from_lag(0.4, late - early, 365.0) == pytest.approx(d, rel=1e-9)
    lag = 0.1 / damping_depth_m(d)
    assert early - lag * 365.0 / (2.0 * np.pi) == pytest.approx(made["coldest_day"])


@given(DIFFUSIVITIES, st.floats(0.05, 4.0))
def test_layer_mean_is_the_mean_of_the_layer(diffusivity, depth):
    gain, lag_days = layer_mean_response(depth, diffusivity)
    middles = (np.arange(2000) + 0.5) / 2000.0 * depth
    d = damping_depth_m(diffusivity)
    mean = np.mean(np.exp(-(1.0 + 1.0j) * middles / d))
    np.testing.assert_allclose(
        gain * np.exp(-2j * np.pi * lag_days / 365.0), mean, rtol=0.0, atol=1e-4
    )


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: damping_depth_m(0.0), "diffusivity_m2_s"),
        (lambda: damping_depth_m(4e-7, -1.0), "period_days"),
        (lambda: annual_wave_c(YEAR, -0.1, **one_wave()), "depth_m"),
        (lambda: annual_wave_c(YEAR, 0.1, **one_wave(amplitude_c=(1.0, 2.0))), "2 amplitudes"),
        (lambda: layer_mean_response(0.0, 4e-7), "depth_m"),
        (lambda: diffusivity_from_amplitudes(1.0, 2.0, 0.1, 1.0), "which depth is which"),
        (lambda: diffusivity_from_amplitudes(1.0, 0.0, 0.1, 1.0), "deep_c"),
        (lambda: diffusivity_from_lag(0.1, 0.0, 1.0), "lag_days"),
        (lambda: hour_correction(25.0, 0.1, **JUNE), "0 to 24"),
        (lambda: hour_correction(9.0, -0.1, **JUNE), "depth_m"),
        (lambda: dataclasses.replace(WAVE, still_c=9.0), "still_c"),
        (lambda: dataclasses.replace(WAVE, sd_wave=-1.0), "sd_wave"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call, word):
    with pytest.raises(InputError, match=word):
        call()


# The day's wave


@given(st.floats(0.0, 2.0), st.integers(1, 366), st.floats(-65.0, 65.0), st.floats(0.0, 25.0))
def test_departures_of_a_whole_day_sum_to_nothing(depth, day, latitude, wide):
    hours = np.arange(24.0)
    answer = hour_correction(
        hours,
        depth,
        tmin_c=10.0,
        tmax_c=10.0 + wide,
        day_of_year=day,
        latitude_deg=latitude,
        wave=WAVE,
    )
    assert answer.departure_c.sum() == pytest.approx(0.0, abs=1e-9)
    assert (answer.sd_c >= 0.0).all()


def test_morning_is_cold_and_evening_warm_at_planting_depth():
    answer = hour_correction(np.array([7.0, 19.0]), 0.10, **JUNE)
    assert answer.departure_c[0] < -1.0
    assert answer.departure_c[1] > 1.0


def test_the_wave_shrinks_and_lags_downward():
    hours = np.arange(0.0, 24.0, 0.1)
    days = [hour_correction(hours, z, **JUNE).departure_c for z in (0.0, 0.05, 0.10, 0.20)]
    spans = [np.ptp(day) for day in days]
    assert spans == sorted(spans, reverse=True)
    warmest = [hours[day.argmax()] for day in days]
    assert warmest == sorted(warmest)
    assert 13.0 < warmest[0] < 18.0


def test_no_range_no_wave_and_frozen_ground_is_still():
    flat = hour_correction(15.0, 0.05, **(JUNE | {"tmax_c": 12.0}))
    assert float(flat.departure_c) == 0.0
    winter = hour_correction(15.0, 0.05, **(JUNE | {"tmin_c": -20.0, "tmax_c": -5.0}))
    assert float(winter.departure_c) == 0.0
    assert float(winter.sd_c) > 0.0


def test_an_unknown_hour_is_the_mean_of_the_waking_hours_with_a_larger_error():
    known = hour_correction(READING_HOURS, 0.10, **JUNE)
    unknown = hour_correction(np.nan, 0.10, **JUNE)
    assert float(unknown.departure_c) == pytest.approx(known.departure_c.mean())
    assert float(unknown.sd_c) > np.std(known.departure_c)


def test_missing_air_gives_no_answer_rather_than_a_wrong_one():
    answer = hour_correction([9.0, 9.0], 0.1, **(JUNE | {"tmin_c": [12.0, np.nan]}))
    assert np.isfinite(answer.departure_c[0])
    assert np.isnan(answer.departure_c[1])
    assert np.isnan(answer.sd_c[1])


def test_arrays_of_readings_equal_readings_one_by_one():
    hours, tmin = np.array([6.0, np.nan, 13.5]), np.array([3.0, 9.0, 15.0])
    days = np.array([60, 150, 240])
    at_once = hour_correction(
        hours, 0.1, tmin_c=tmin, tmax_c=tmin + 12.0, day_of_year=days, latitude_deg=-38.0, wave=WAVE
    )
    for i in range(3):
        alone = hour_correction(
            hours[i],
            0.1,
            tmin_c=tmin[i],
            tmax_c=tmin[i] + 12.0,
            day_of_year=days[i],
            latitude_deg=-38.0,
            wave=WAVE,
        )
        assert at_once.departure_c[i] == pytest.approx(float(alone.departure_c))
        assert at_once.sd_c[i] == pytest.approx(float(alone.sd_c))


def test_later_solar_noon_moves_the_wave_by_as_much():
    here = hour_correction(10.0, 0.1, **JUNE)
    there = hour_correction(11.0, 0.1, **JUNE, solar_noon_h=13.0)
    assert float(here.departure_c) == pytest.approx(float(there.departure_c))


def test_what_all_readings_share_is_a_larger_wave_and_an_earlier_one():
    hours = np.array([7.0, 10.0, 17.0])
    answer = hour_correction(hours, 0.10, **JUNE)
    np.testing.assert_allclose(answer.shared_c[:, 0], WAVE.sd_wave * answer.departure_c)
    step = 1e-4
    earlier = hour_correction(hours + step, 0.10, **JUNE).departure_c
    slope = (earlier - answer.departure_c) / step
    np.testing.assert_allclose(answer.shared_c[:, 1], WAVE.sd_phase_h * slope, rtol=1e-3)
    whole = (answer.shared_c**2).sum(axis=-1) + answer.own_sd_c**2
    np.testing.assert_allclose(answer.sd_c**2, whole)


def test_solar_noon_may_differ_from_reading_to_reading():
    noon = np.array([12.0, 13.0])
    both = hour_correction(np.array([9.0, 9.0]), 0.1, **JUNE, solar_noon_h=noon)
    for i in range(2):
        alone = hour_correction(9.0, 0.1, **JUNE, solar_noon_h=noon[i])
        assert both.departure_c[i] == pytest.approx(float(alone.departure_c))


def test_solar_noon_from_longitude():
    assert solar_noon_hour(-105.0) == 12.0
    assert solar_noon_hour(-116.75, -7.0) == pytest.approx(12.0 + 11.75 / 15.0)
    assert all(11.5 <= solar_noon_hour(lon) <= 12.5 for lon in np.linspace(-180.0, 180.0, 97))


@given(st.integers(1, 366), st.floats(-65.0, 65.0))
def test_sun_harmonics_are_those_of_the_suns_own_course(day, latitude):
    angle = np.linspace(-np.pi, np.pi, 20_000, endpoint=False)
    course = np.maximum(np.cos(angle) - np.cos(sunset_hour_angle(day, latitude)), 0.0)
    course /= course.mean()
    numeric = [2.0 * (course * np.cos(n * angle)).mean() for n in (1, 2)]
    np.testing.assert_allclose(sun_harmonics(day, latitude), numeric, atol=1e-4)


def test_sun_harmonics_at_the_equinox_and_in_polar_night():
    # cos h over half a day: π/2 and 2/3 of its mean. Declination vanishes about day 80.75.
    np.testing.assert_allclose(sun_harmonics(80.75, 45.0), [np.pi / 2.0, 2.0 / 3.0], atol=0.002)
    np.testing.assert_array_equal(sun_harmonics(355, 80.0), [0.0, 0.0])
