"""The bucket: bounds, order, and a look that knows nothing after today."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from forecaster.ground.errors import InputError
from forecaster.packaged import load_csv
from forecaster.plan.water import (
    RootZone,
    daily_bucket,
    first_dry_day,
    stress_coefficient,
    total_available_mm,
    water_look,
    young_roots,
)

ZONE = RootZone(field_capacity=0.25, wilting_point=0.12, first_depth_m=0.15, final_depth_m=0.30)
DAYS = 30
WEATHER = arrays(float, DAYS, elements=st.floats(0.0, 12.0))


@given(WEATHER, WEATHER)
def test_depletion_stays_within_the_bucket(eto, rain):
    depletion, readily = daily_bucket(ZONE, eto, rain)
    total = total_available_mm(0.25, 0.12, ZONE.depth_m(np.arange(DAYS)))
    assert (depletion >= 0).all()
    assert (depletion <= total + 1e-9).all()
    assert (readily > 0).all()
    assert (readily < total).all()


@given(WEATHER, WEATHER)
def test_more_rain_never_dries(eto, rain):
    some, more = (daily_bucket(ZONE, eto, r)[0] for r in (rain, rain + 1.0 + eto))
    assert (more <= some + 1e-9).all()


@given(WEATHER, WEATHER)
def test_the_balance_closes_day_by_day(eto, rain):
    """Eq. 85 by a plain loop written for this test."""
    depletion, _ = daily_bucket(ZONE, eto, rain)
    before = 0.0
    for k in range(DAYS):
        grown = min(k / 45.0, 1.0)
        taw = 1000.0 * 0.13 * (0.15 + 0.15 * grown)
        etc = (0.7 + 0.35 * grown) * eto[k]
        p = min(max(0.3 + 0.04 * (5.0 - etc), 0.1), 0.8)
        ks = 1.0 if before <= p * taw else (taw - before) / ((1 - p) * taw)
        wet = rain[k] if rain[k] >= 0.2 * eto[k] else 0.0
        before = min(max(before - wet + max(ks, 0.0) * etc, 0.0), taw)
        assert depletion[k] == pytest.approx(before, abs=1e-9)


@given(st.floats(0.0, 200.0), st.floats(1.0, 200.0), st.floats(0.1, 0.8))
def test_stress_lies_between_none_and_all(depletion, total, share):
    found = float(stress_coefficient(depletion, total, share))
    assert 0.0 <= found <= 1.0
    assert (found == 1.0) == (depletion <= share * total + 1e-9) or abs(found - 1.0) < 1e-9


def test_sand_dries_before_loam():
    eto, rain = np.full(DAYS, 4.0), np.zeros(DAYS)
    sand, loam = (
        int(first_dry_day(*daily_bucket(young_roots(s), eto, rain))) for s in ("sand", "loam")
    )
    assert 0 <= sand < loam


def test_every_soil_of_the_package_holds_water():
    for row in load_csv("soils.csv"):
        assert young_roots(row["soil"]).field_capacity > young_roots(row["soil"]).wilting_point


def test_a_year_that_never_dries_is_minus_one():
    assert int(first_dry_day(*daily_bucket(ZONE, np.zeros(DAYS), np.zeros(DAYS)))) == -1


@pytest.fixture(scope="module")
def air() -> pd.DataFrame:
    days = pd.date_range("2014-01-01", "2025-12-31", freq="D")
    rng = np.random.default_rng(5)
    mean = 12.0 - 10.0 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 20) / 365.25)
    rain = np.where(rng.random(days.size) < 0.2, rng.gamma(1.0, 8.0, days.size), 0.0)
    return pd.DataFrame({"tmin_c": mean - 6.0, "tmax_c": mean + 6.0, "precip_mm": rain}, index=days)


def test_a_look_has_its_days_in_order(air):
    look = water_look(air, 39.0, date(2025, 10, 10), today=date(2025, 9, 1))
    assert look.set_out < look.dry_spell
    assert look.early <= look.likely
    assert look.dry_spell <= look.likely
    assert 0.0 <= look.stays_moist <= 1.0
    assert look.years == 11


def test_nothing_after_today_is_looked_at(air):
    spoilt = air.copy()
    spoilt.loc["2025-09-02":] = 99.0
    ask = {"today": date(2025, 9, 1)}
    assert water_look(air, 39.0, date(2025, 10, 10), **ask) == water_look(
        spoilt, 39.0, date(2025, 10, 10), **ask
    )


def test_an_outlook_of_rain_puts_the_look_off(air):
    days = pd.date_range("2025-10-10", periods=10, freq="D")
    ahead = pd.DataFrame({"tmin_c": 5.0, "tmax_c": 15.0, "precip_mm": 12.0}, index=days)
    ask = {"today": date(2025, 10, 9)}
    dry = water_look(air, 39.0, date(2025, 10, 10), **ask)
    wet = water_look(air, 39.0, date(2025, 10, 10), outlook=ahead, **ask)
    assert wet.likely > dry.likely
    assert wet.early > date(2025, 10, 20)


def test_a_record_without_rain_tells_the_dry_spell_only(air):
    look = water_look(
        air.drop(columns="precip_mm"), 39.0, date(2025, 10, 10), today=date(2025, 9, 1)
    )
    assert look.likely is None
    assert look.dry_spell is not None
    assert not look.rain_known


def test_too_short_a_record_tells_nothing(air):
    assert water_look(air.iloc[-700:], 39.0, date(2026, 3, 1), today=date(2025, 12, 31)) is None
    means = pd.DataFrame({"tavg_c": air["tmin_c"]})
    assert water_look(means, 39.0, date(2025, 10, 10), today=date(2025, 9, 1)) is None


@pytest.mark.parametrize(
    "bad",
    [(0.1, 0.2, 0.1, 0.3), (0.3, 0.1, 0.0, 0.3), (0.3, 0.1, 0.4, 0.3), (1.3, 0.1, 0.1, 0.3)],
)
def test_a_root_zone_that_is_none_is_refused(bad):
    with pytest.raises(InputError):
        RootZone(**dict(zip(RootZone.__slots__, bad, strict=False)))


def test_unknown_soil_is_named():
    with pytest.raises(InputError, match="'moss' is not known; expected one of amended"):
        young_roots("moss")
