"""Conduction and the hour of a reading against hourly soil measured in Idaho.

Reynolds Creek Experimental Watershed (USDA Agricultural Research Service, public domain):
Hanson et al. 2001 and Seyfried et al. 2001, Water Resources Research 37. Hourly soil at 5, 10
and 20 cm at two sites, 1992 to 1996; daily air and one soil reading at 17:00 Mountain
Standard Time at two others, 1984 to 1996. Natural rangeland, probes at nominal depths.
"""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecaster import packaged as reference
from forecaster.soil.wave import (
    DailyWave,
    damping_depth_m,
    diffusivity_from_amplitudes,
    diffusivity_from_lag,
    hour_correction,
)

ROOT = Path(__file__).resolve().parents[2]
SUMMER = (6, 7, 8)
SITES = ("057x96", "176x14")

_spec = importlib.util.spec_from_file_location(
    "fit_daily_wave", ROOT / "scripts" / "fit_daily_wave.py"
)
script = importlib.util.module_from_spec(_spec)
sys.modules[_spec.name] = script  # its dataclasses look their module up
_spec.loader.exec_module(script)
HERE = script.PLACES[0]  # both sites share its position and clock


@pytest.fixture(scope="module")
def folder(records):
    return records("probe")


@pytest.fixture(scope="module")
def profiles(folder):
    return script.read_profiles(folder.parent, "bare")


@pytest.fixture(scope="module")
def wave():
    return DailyWave.from_table(reference.load_json("daily_wave.json"), "bare")


def summer_wave(profiles, site, depth_m):
    """Return the complex amplitude at one cycle a day of the mean summer day."""
    (profile,) = (p for p in profiles if p.site == site and p.depth_m == depth_m)
    mean_day = profile.departure_c[profile.days.month.isin(SUMMER)].mean(axis=0)
    return 2.0 / 24.0 * np.sum(mean_day * np.exp(-2j * np.pi * script.HOURS / 24.0))


@pytest.mark.parametrize("site", SITES)
def test_daily_wave_shrinks_and_lags_by_one_diffusivity(profiles, site):
    shallow, deep = (summer_wave(profiles, site, z) for z in (0.05, 0.20))
    lag_days = (np.angle(shallow) - np.angle(deep)) % (2.0 * np.pi) / (2.0 * np.pi)
    by_amplitude = diffusivity_from_amplitudes(abs(shallow), abs(deep), 0.15, 1.0)
    by_lag = diffusivity_from_lag(0.15, lag_days, 1.0)
    # In a uniform soil the two are one number. Layers, and probes a centimetre from where
    # they are said to be, part them: a centimetre in 15 moves each by 14 %.
    assert by_amplitude == pytest.approx(by_lag, rel=0.20)
    # So the amplitude ratio is e^(−Δz/d) with the d of the lag, and the lag Δz/d with the d
    # of the amplitudes.
    d = damping_depth_m(by_lag, 1.0)
    assert np.log(abs(deep) / abs(shallow)) == pytest.approx(-0.15 / d, rel=0.10)
    d = damping_depth_m(by_amplitude, 1.0)
    assert 2.0 * np.pi * lag_days == pytest.approx(0.15 / d, rel=0.10)
    # Dry summer soil, between dry and moist in the tables of de Vries.
    assert 1.5e-7 < by_amplitude < 6e-7
    assert 1.5e-7 < by_lag < 6e-7


@pytest.mark.parametrize("site", SITES)
def test_correction_brings_a_planting_depth_reading_to_the_days_mean(profiles, wave, site):
    # The constants were fitted on both sites before 1995; these are the days since. At 10 cm
    # the root mean square distance of a reading from its day's mean falls from 1.78 to 0.67 °C
    # at the valley site and from 1.78 to 0.84 at the ridge; at 17:00 from 2.29 to 0.75 and
    # from 2.20 to 0.96. Asked for: at least halved.
    (profile,) = (p for p in profiles if p.site == site and p.depth_m == 0.10)
    late = profile.late()
    (row,) = script.score([late], wave)
    assert row["days"] > 500
    assert row["after_all"] < 0.5 * row["before_all"]
    assert row["after_17"] < 0.5 * row["before_17"]
    assert row["after_07"] < 0.5 * row["before_07"]


@pytest.mark.parametrize("site", SITES)
def test_correction_helps_with_the_constants_of_the_other_site(profiles, site):
    # A gardener's soil is a third one. With constants from one site only, readings at 10 cm
    # at the other go from 1.78 to 1.21 °C (valley) and from 1.78 to 0.95 (ridge): less good
    # than with both, and still a third nearer.
    others = [p.early() for p in profiles if p.site != site]
    (profile,) = (p for p in profiles if p.site == site and p.depth_m == 0.10)
    late = profile.late()
    (row,) = script.score([late], script.fit(others))
    assert row["after_all"] < 0.70 * row["before_all"]


def test_standard_error_of_the_correction_is_honest_at_planting_depth(profiles, wave):
    inside = []
    for profile in profiles:
        if profile.depth_m == 0.10:
            late = profile.late()
            inside.append(script.score([late], wave)[0]["within_80"])
    # 80 % of readings should lie within 1.28 standard errors; 0.93 and 0.87 do. The error has
    # to hold for soils unlike both, so it may be wide, but neither useless nor too sure.
    assert all(0.75 < share < 0.97 for share in inside)


def test_an_unknown_hour_costs_what_it_costs(profiles, wave):
    # Readings taken at any of the waking hours, nobody having written which.
    hours = np.arange(7, 21)
    for site in SITES:
        (profile,) = (p for p in profiles if p.site == site and p.depth_m == 0.10)
        late = profile.late()
        air = {name: late.air[name].to_numpy() for name in ("tmin_c", "tmax_c")}
        days = {
            "day_of_year": late.days.day_of_year.to_numpy(),
            "latitude_deg": HERE.latitude_deg,
            "wave": wave,
        }
        answer = hour_correction(np.full(len(late.days), np.nan), 0.10, **air, **days)
        error = late.departure_c[:, hours] - answer.departure_c[:, None]
        share = (np.abs(error) < 1.2816 * answer.sd_c[:, None]).mean()
        assert 0.70 < share < 0.95
        # It is a larger error than that of a known hour, day by day, as the data say too.
        known = hour_correction(17.0, 0.10, **air, **days, solar_noon_h=HERE.noon_h)
        known_error = late.departure_c[:, 17] - known.departure_c
        assert np.sqrt((error**2).mean()) > np.sqrt((known_error**2).mean())
        warm = late.air["tmin_c"].to_numpy() > 5.0
        assert (answer.sd_c[warm] > hour_correction(10.0, 0.10, **air, **days).sd_c[warm]).all()


@pytest.mark.parametrize("site", ["076x59", "127x07"])
def test_correction_quiets_the_five_o_clock_readings(folder, wave, site):
    """There is no daily mean at these sites; the gap between 10 and 20 cm stands for it.

    In the daily means that gap moves slowly with the season. At 17:00 the daily wave adds
    to it, more on a day of wide range. So after the correction the gap's departures from
    its own running month must be smaller, and must go less with the air's range.
    """
    table = pd.read_csv(
        folder / f"ars_reynolds_{site}_soil_at_1700.csv", parse_dates=["date"], index_col="date"
    )
    table = table[table["tmax_c"] >= table["tmin_c"]]
    owed = [
        hour_correction(
            17.0,
            depth_m,
            tmin_c=table["tmin_c"].to_numpy(),
            tmax_c=table["tmax_c"].to_numpy(),
            day_of_year=table.index.day_of_year.to_numpy(),
            latitude_deg=HERE.latitude_deg,
            wave=wave,
            solar_noon_h=HERE.noon_h,
        ).departure_c
        for depth_m in (0.10, 0.20)
    ]
    gap = table["soil10_1700mst_c"] - table["soil20_1700mst_c"]
    series = pd.DataFrame(
        {
            "before": gap,
            "after": gap - (owed[0] - owed[1]),
            "range": table["tmax_c"] - table["tmin_c"],
        }
    ).dropna()
    departures = series - series.rolling(31, center=True, min_periods=15).mean()
    warm = departures[departures.index.month.isin(range(4, 11))].dropna()
    assert len(warm) > 1000
    spread, goes_with_range = warm.std(), warm.corr()["range"]
    # Measured: 1.30 to 1.12 °C and correlation 0.50 to 0.20 (076x59); 0.72 to 0.58 °C and
    # 0.36 to −0.07 (127x07).
    assert spread["after"] < 0.9 * spread["before"]
    assert goes_with_range["before"] > 0.3
    assert abs(goes_with_range["after"]) < 0.5 * goes_with_range["before"]


def test_shipped_constants_are_what_the_script_fits(profiles, wave):
    early = [p.early() for p in profiles]
    fitted = script.fit(early)
    for name in script.FITTED:
        # Least squares ends within a thousandth from one machine to another.
        assert getattr(fitted, name) == pytest.approx(getattr(wave, name), rel=2e-3)
