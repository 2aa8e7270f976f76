"""Terms of the forcing against plain loops and published values."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.soil.forcing import (
    AIR_WAVE_C,
    AIR_WAVE_SD_C,
    SNOW_FALLS_BELOW_C,
    SNOW_MELT_MM_PER_C,
    Climate,
    DailyAir,
    GroundMemory,
    bridge,
    describe,
    evaporation,
    forcing_terms,
    memory_after,
    snow_water,
    usual_year,
    wetness,
)
from forecaster.soil.season import fit_yearly, harmonics
from forecaster.soil.sun import extraterrestrial_radiation, radiation_from_range

SEEDS = st.integers(0, 2**32 - 1)
NO_SNOW = GroundMemory(2.0, 3.0)


def some_air(random, days=900, start=18_000, *, ranges=True, rain=True, members=()):
    day = start + np.arange(days)
    doy = np.array([d.timetuple().tm_yday for d in day.astype("datetime64[D]").tolist()])
    shape = (*members, days)
    mean = 9.0 - 12.0 * np.cos(2.0 * np.pi * doy / 365.25) + random.normal(size=shape) * 4.0
    return DailyAir(
        day,
        doy,
        mean,
        random.uniform(2.0, 18.0, shape) if ranges else None,
        random.exponential(6.0, shape) * (random.random(shape) < 0.3) if rain else None,
    )


@settings(max_examples=30)
@given(SEEDS, st.integers(1, 400), st.floats(0.0, 200.0))
def test_snow_is_the_store_of_a_plain_loop(seed, days, before):
    random = np.random.default_rng(seed)
    mean, rain = random.normal(size=days) * 8.0, random.exponential(5.0, days)
    ours = snow_water(mean, rain, GroundMemory(1.0, 1.0, before))
    store = before
    for t in range(days):
        if mean[t] < SNOW_FALLS_BELOW_C:
            store += rain[t]
        else:
            store = max(store - SNOW_MELT_MM_PER_C * (mean[t] - SNOW_FALLS_BELOW_C), 0.0)
        assert ours[t] == pytest.approx(store, abs=1e-9)


def test_evaporation_meets_example_20_of_fao_56():
    """Lyon, mid-July (day 196, 45°43' N), 26.6 and 14.8 °C: printed 5.0 mm/day (Hargreaves).

    Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, example 20.
    """
    above = extraterrestrial_radiation(196, 45.0 + 43.0 / 60.0)
    sun = radiation_from_range(above, 14.8, 26.6)
    assert float(evaporation(np.array((14.8 + 26.6) / 2.0), sun)) == pytest.approx(5.0, abs=0.05)


@given(st.floats(-60.0, 50.0), st.floats(0.0, 40.0))
def test_evaporation_is_never_negative(mean, sun):
    assert evaporation(np.array(mean), np.array(sun)) >= 0.0


@settings(max_examples=30)
@given(SEEDS, st.integers(1, 500))
def test_wetness_lies_between_dry_and_wet(seed, days):
    random = np.random.default_rng(seed)
    rain = random.exponential(30.0, days) * (random.random(days) < random.random())
    drawn = random.uniform(0.0, 9.0, days) * (random.random() < 0.8)
    ours = wetness(rain, drawn, GroundMemory(random.uniform(0, 9), random.uniform(0, 9)))
    assert np.all((ours >= 0.0) & (ours <= 1.0))


def test_rain_makes_it_wetter_and_drought_drier():
    drawn = np.full(120, 4.0)
    wet = wetness(np.full(120, 12.0), drawn, NO_SNOW)
    dry = wetness(np.zeros(120), drawn, NO_SNOW)
    assert np.all(np.diff(wet) > 0.0)
    assert np.all(np.diff(dry) < 0.0)
    # after twelve memories, the plain ratio: 12/(12 + 4 + 0.2)
    assert wet[-1] == pytest.approx(12.0 / 16.2, abs=1e-4)


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.integers(-20_000, 40_000), st.floats(-66.0, 66.0))
def test_air_is_its_yearly_wave_and_its_departure(seed, start, latitude):
    random = np.random.default_rng(seed)
    air = some_air(random, 500, start)
    columns = harmonics(air.day)
    climate = describe(air, latitude, columns)
    terms = forcing_terms(air, climate, latitude, columns)
    np.testing.assert_allclose(terms["air_yearly"] + terms["air_departure"], air.mean_c)
    np.testing.assert_allclose(
        terms["sun_yearly"] + terms["sun_departure"],
        radiation_from_range(
            extraterrestrial_radiation(air.day_of_year, latitude),
            air.mean_c - air.range_c / 2.0,
            air.mean_c + air.range_c / 2.0,
            climate.k_rs,
        ),
    )
    assert np.all((terms["snow"] >= 0.0) & (terms["snow"] < 1.0))
    assert np.all(terms["frost"] <= 0.0)
    assert all(np.isfinite(np.broadcast_to(value, 500)).all() for value in terms.values())


def test_a_record_gives_only_the_terms_it_holds():
    random = np.random.default_rng(0)
    names = {}
    for ranges, rain in ((True, True), (True, False), (False, False)):
        air = some_air(random, ranges=ranges, rain=rain)
        columns = harmonics(air.day)
        climate = describe(air, 40.0, columns)
        names[ranges, rain] = set(forcing_terms(air, climate, 40.0, columns))
    assert names[False, False] < names[True, False] < names[True, True]
    assert "sun_departure" not in names[False, False]
    assert "snow" not in names[True, False]


def test_members_get_the_terms_of_each_alone():
    random = np.random.default_rng(1)
    air = some_air(random, 400, members=(3,))
    one = DailyAir(air.day, air.day_of_year, air.mean_c[1], air.range_c[1], air.rain_mm[1])
    columns = harmonics(air.day)
    climate = describe(one, 40.0, columns)
    together, alone = (forcing_terms(a, climate, 40.0, columns) for a in (air, one))
    for name, value in alone.items():
        row = np.broadcast_to(together[name], (3, 400))[1]
        np.testing.assert_allclose(row, value, atol=1e-9, err_msg=name)


def test_a_record_cut_in_two_goes_on_from_what_the_ground_remembers():
    random = np.random.default_rng(2)
    air = some_air(random, 1100)
    columns = harmonics(air.day)
    climate = describe(air, 45.0, columns)
    whole = forcing_terms(air, climate, 45.0, columns)
    cut = 700
    first, second = (
        DailyAir(air.day[s], air.day_of_year[s], air.mean_c[s], air.range_c[s], air.rain_mm[s])
        for s in (slice(0, cut), slice(cut, None))
    )
    memory = memory_after(first, climate, 45.0)
    ours = forcing_terms(second, climate, 45.0, columns[cut:], memory)
    for name in ("snow", "wet", "wet_sun", "snow_air"):
        np.testing.assert_allclose(ours[name], whole[name][cut:], atol=1e-6, err_msg=name)


def test_gaps_are_bridged_and_counted_and_the_argument_kept():
    random = np.random.default_rng(3)
    air = some_air(random)
    for values in (air.mean_c, air.range_c, air.rain_mm):
        values[100:130] = np.nan
    air.rain_mm[5] = np.nan
    columns = harmonics(air.day)
    climate = describe(air, 40.0, columns)
    whole, filled = bridge(air, climate, columns)
    assert filled == 30
    assert np.isnan(air.mean_c[100:130]).all()
    for ours in (whole.mean_c, whole.range_c, whole.rain_mm):
        assert np.isfinite(ours).all()
    assert np.all(whole.range_c >= 0.0)
    assert whole.rain_mm[5] == pytest.approx(np.nanmean(air.rain_mm))


def test_dryness_runs_from_rain_to_none():
    wave = np.zeros(5)
    assert Climate(wave, wave, 0.0, 4.0).dryness == 1.0
    assert Climate(wave, wave, 4.0, 4.0).dryness < 0.01
    assert Climate(wave, wave).dryness == 0.0


def test_the_swing_of_the_air_is_that_of_the_stations(shared_data):
    """Our own constants, from the 70 stations: cos and sin of the year over sin(latitude)."""
    folder = shared_data / "uscrn_daily"
    table = pd.read_csv(folder / "stations.csv")
    waves = []
    for name in table.station:
        frame = pd.read_csv(folder / f"{name}.csv.gz", index_col="date", parse_dates=True)
        day = frame.index.to_numpy().astype("datetime64[D]").astype(np.int64)
        middle = ((frame.tmin_c + frame.tmax_c) / 2.0).to_numpy()
        waves.append(fit_yearly(harmonics(day), middle, 10.0, 10.0)[1:3])
    sine = np.sin(np.radians(table.lat.to_numpy()))
    slope = sine @ np.array(waves) / (sine @ sine)
    np.testing.assert_allclose(slope, AIR_WAVE_C, atol=0.05)
    left = np.std(waves - np.outer(sine, slope), axis=0)
    assert np.all(left < AIR_WAVE_SD_C[:2])


def test_a_usual_year_holds_what_the_record_holds():
    random = np.random.default_rng(7)
    for ranges, rain in ((True, True), (True, False), (False, False)):
        air = some_air(random, ranges=ranges, rain=rain)
        climate = describe(air, 40.0, harmonics(air.day))
        year, columns = usual_year(climate, air)
        assert (year.range_c is not None, year.rain_mm is not None) == (ranges, rain)
        assert year.mean_c.mean() == pytest.approx(climate.mean_c[0], abs=0.02)
        assert columns.shape == (365, 5)
        assert year.day[0] == np.datetime64("2001-01-01").astype(int)
