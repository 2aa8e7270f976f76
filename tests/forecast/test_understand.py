"""What a place makes of its record and its readings."""

import numpy as np
import pandas as pd
import pytest

from forecaster.forecast.air_days import daily_air
from forecaster.forecast.doubts import GRIDDED_AIR
from forecaster.forecast.understand import (
    GRIDDED_AIR_SD_C,
    doubts_of,
    learn_error,
    load_model,
    understand,
)
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.ground.site import Site
from forecaster.ingest.account import Account
from forecaster.soil.residual import NO_EVIDENCE, Evidence, Posterior

SITE = Site(40.0, -95.0)


def means(days, temp_c, depth_m=0.1):
    return pd.DataFrame(
        {"time": pd.DatetimeIndex(days), "temp_c": temp_c, "depth_m": depth_m, "span": "day"}
    )


def test_the_record_names_its_model(make_air):
    air = make_air()
    true_mean = air.assign(tavg_c=(air.tmin_c + air.tmax_c) / 2.0 - 0.3)
    kinds = {
        "extremes+rain": air,
        "extremes": air[["tmin_c", "tmax_c"]],
        "mean+extremes+rain": true_mean,
        "mean+extremes": true_mean[["tavg_c", "tmin_c", "tmax_c"]],
        "mean": true_mean[["tavg_c", "precip_mm"]],
    }
    for kind, frame in kinds.items():
        assert daily_air(frame)[1] == kind
        assert understand(frame, SITE).kind == kind


def test_a_column_known_on_few_days_is_not_used(make_air):
    air = make_air()
    air.loc[air.index[: len(air) // 2], "precip_mm"] = np.nan
    assert understand(air, SITE).kind == "extremes"


def test_the_true_mean_is_used_where_it_is_known(make_air):
    air = make_air().assign(tavg_c=11.0)
    air.loc[air.index[5], "tavg_c"] = np.nan
    record, _ = daily_air(air)
    assert record.mean_c[4] == 11.0
    assert record.mean_c[5] == pytest.approx((air.tmin_c.iloc[5] + air.tmax_c.iloc[5]) / 2.0)


def test_another_model_may_be_given(make_air):
    air = make_air()
    packaged = understand(air, SITE)
    same = understand(air, SITE, model=load_model("extremes+rain"))
    np.testing.assert_array_equal(packaged.soil_c, same.soil_c)
    poorer = understand(air, SITE, model=load_model("extremes"))
    assert np.abs(packaged.soil_c - poorer.soil_c).max() > 0.1


@pytest.mark.parametrize(
    ("spoil", "error", "word"),
    [
        (lambda air: air.iloc[:59], NotEnoughData, "at least 60"),
        (lambda air: air.drop(index=air.index[100]), InputError, "asfreq"),
        (lambda air: air[::-1], InputError, "one row a day"),
        (lambda air: pd.concat([air, air.iloc[-1:]]), InputError, "one row a day"),
        (lambda air: air.tz_localize("UTC"), InputError, "time zone"),
        (lambda air: air.reset_index(drop=True), InputError, "index is not dates"),
        (lambda air: air[["precip_mm"]], InputError, "tmin_c and tmax_c"),
        (lambda air: air[["tmin_c", "precip_mm"]], InputError, "tmin_c and tmax_c"),
        (lambda air: air * np.nan, InputError, "tmin_c and tmax_c"),
        (lambda air: air.iloc[:59].reindex(air.index[:80]), NotEnoughData, "59 days"),
    ],
    ids=[
        "short",
        "day missing",
        "backward",
        "day twice",
        "zone",
        "no dates",
        "rain alone",
        "no maximum",
        "nothing known",
        "few known",
    ],
)
def test_air_that_cannot_serve_is_refused_with_a_reason(make_air, spoil, error, word):
    with pytest.raises(error, match=word):
        understand(spoil(make_air()), SITE)


def test_readings_teach_the_days_about_them_and_the_place(make_air):
    air = make_air()
    bare = understand(air, SITE)
    days = air.index[700:760:7]
    told = understand(air, SITE, means(days, bare.soil_c[700:760:7] + 3.0))
    moved = told.soil_c - bare.soil_c
    assert told.evidence.day.size == len(days)
    assert 2.3 < moved[700:757].mean() < 3.0
    assert 0.2 < moved[-100:].mean() < moved[700:757].mean()  # the place's own offset stays
    assert np.all(told.sd_c <= bare.sd_c + 1e-9)
    assert told.sd_c[700:757].mean() < 0.7 * bare.sd_c[700:757].mean()


def test_days_near_and_far_from_readings_join_without_a_step(make_air):
    """Past the slow part's reach the yearly terms speak alone; the seam must not show."""
    air = make_air(4000)
    bare = understand(air, SITE)
    told = understand(air, SITE, means(air.index[2000:2050], bare.soil_c[2000:2050] + 4.0))
    step = np.abs(np.diff(told.soil_c - bare.soil_c))
    outside = np.r_[step[:1995], step[2055:]]
    assert outside.max() < 0.2
    assert np.abs(np.diff(told.sd_c / bare.sd_c))[np.r_[0:1900, 2150:3999]].max() < 0.01


def test_a_reading_at_another_depth_teaches_this_one_less(make_air):
    air = make_air()
    widths = []
    for depth in (0.1, 0.2, 0.5):
        here = understand(air, Site(40.0, -95.0, depth_m=depth)).soil_c
        told = understand(air, SITE, means(air.index[700:701], here[700:701], depth))
        widths.append(told.sd_c[700])
        # what agrees with the model at its own depth moves nothing here
        assert abs(told.soil_c[700] - understand(air, SITE).soil_c[700]) < 0.5
    assert widths == sorted(widths)
    assert widths[0] < widths[1] < widths[2]


def test_the_thermometers_error_is_learned_from_many_readings():
    prior = load_model("extremes+rain").prior_at(40.0, None, load_model("mean").ground(0.1))
    random = np.random.default_rng(5)
    truth = Posterior(prior, NO_EVIDENCE, 19_000, 19_399).draw(1, random)[0]
    day = 19_000 + np.arange(400)
    for error in (0.1, 0.5):
        noisy = truth + random.normal(size=400) * error
        told = learn_error(prior, Evidence(day, noisy, np.full(400, 0.5), np.zeros(400)))
        assert told.error_c[0] == pytest.approx(error, abs=0.16)
    few = Evidence(day[:20], truth[:20], np.full(20, 0.5), np.zeros(20))
    assert learn_error(prior, few) is few


def test_a_gridded_stand_in_widens_the_interval_and_says_so(make_air):
    """The offset of its air adds to the variance of every day; readings narrow it again."""
    air = make_air()
    at_station = understand(air, SITE)
    air.attrs["account"] = Account(
        path="air.csv", format="", why_format="", units="", why_units="", rows_read=0, rows_used=0,
        station="gridded NASA POWER 40 -95",
    )  # fmt: skip
    gridded = understand(air, SITE)
    added = np.sqrt(gridded.sd_c**2 - at_station.sd_c**2)
    np.testing.assert_allclose(added, GRIDDED_AIR_SD_C, rtol=1e-6)
    np.testing.assert_array_equal(gridded.soil_c, at_station.soil_c)
    assert GRIDDED_AIR in doubts_of(gridded)
    assert GRIDDED_AIR not in doubts_of(at_station)
    read = means(air.index[-60:], gridded.soil_c[-60:])
    assert understand(air, SITE, read).sd_c[-1] < 0.6 * gridded.sd_c[-1]
