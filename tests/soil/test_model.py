"""The fitted model as a function of air: what must hold whatever the numbers fitted."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.forecast.air_days import daily_air
from forecaster.forecast.understand import load_model
from forecaster.ground.errors import InputError
from forecaster.soil.forcing import Climate
from forecaster.soil.model import (
    MEAN_SHARE,
    Climates,
    Ground,
    Network,
    at_depth,
    chord_km,
    model_soil,
    total_forcing,
)

KINDS = ("mean+extremes+rain", "extremes+rain", "mean+extremes", "extremes", "mean")


def as_kind(air, kind):
    frame = air.assign(tavg_c=(air.tmin_c + air.tmax_c) / 2.0)
    names = {"mean": ["tavg_c"], "extremes": ["tmin_c", "tmax_c"], "rain": ["precip_mm"]}
    return frame[[name for part in kind.split("+") for name in names[part]]]


def soil(air, latitude=40.0, depth=0.1):
    record, kind = daily_air(air)
    model = load_model(kind)
    return model_soil(record, latitude, model, model.ground(depth)).soil_c


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("depth", [0.0, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0])
def test_every_depth_has_an_answer_near_the_airs(make_air, kind, depth):
    air = as_kind(make_air(), kind)
    assert daily_air(air)[1] == kind
    ours = soil(air, depth=depth)
    assert ours.shape == (len(air),)
    assert np.isfinite(ours).all()
    assert -20.0 < ours.min() < ours.max() < 45.0


def test_deeper_swings_less_and_the_mean_stays(make_air):
    air = make_air(365 * 8 + 2)
    whole = {depth: soil(air, depth=depth) for depth in (0.0, 0.1, 0.5, 2.0)}
    spread = [values.std() for values in whole.values()]
    assert spread == sorted(spread, reverse=True)
    means = [values[365:-1].mean() for values in whole.values()]
    # seven years less a day, and what the deepest still owes to the year before the record
    assert np.ptp(means) < 0.05


@pytest.mark.parametrize(
    ("start", "atol"),
    [
        ("2047-01-01", 1e-3),  # leap days on the same rows: the year's angle is 0.2 days off
        ("1931-01-01", 1e-3),
        ("2020-01-01", 0.1),  # on other rows: a day of the sun's year, 0.4 °C·(0.1 MJ a day) each
        ("2021-01-01", 0.1),
    ],
)
def test_shifting_every_date_by_whole_years_keeps_the_answer(make_air, start, atol):
    here = make_air()
    there = here.set_axis(pd.date_range(start, periods=len(here), name="date"))
    np.testing.assert_allclose(soil(there), soil(here), atol=atol)


@pytest.mark.parametrize("kind", ["extremes+rain", "mean"])
def test_the_south_has_the_norths_answer_half_a_year_on(make_air, kind):
    """The same air half a year later at the mirrored latitude.

    Approximately: the earth is nearest to the sun in January, which makes the sun of a southern
    summer 7 % stronger and of a southern winter as much weaker (FAO-56 eq. 23: ±3.3 %). At
    40°, with up to 0.4 °C for each MJ of about 24 in summer, that is 0.7 °C before damping.
    """
    north = as_kind(make_air(1461), kind)
    south = north.set_axis(north.index + pd.Timedelta(days=183))
    apart = soil(south, -40.0) - soil(north, 40.0)
    assert np.abs(apart).max() < 0.8
    assert abs(apart.mean()) < 0.2


@pytest.mark.parametrize("start", ["2019-02-17", "2020-02-29", "1960-07-04", "1899-12-31"])
@pytest.mark.parametrize("days", [60, 61, 365, 366])
def test_any_start_and_a_short_record(make_air, start, days):
    ours = soil(make_air(days, start))
    assert np.isfinite(ours).all()
    assert -20.0 < ours.min() < ours.max() < 45.0


def test_a_summer_alone_is_answered_as_in_its_whole_record(shared_data):
    """Real air: the latitude stands in for the winter that a short record has not seen."""
    frame = pd.read_csv(
        shared_data / "uscrn_daily" / "NE_Lincoln_11_SW.csv.gz", index_col="date", parse_dates=True
    ).asfreq("D")[["tmin_c", "tmax_c", "precip_mm"]]
    whole = pd.Series(soil(frame, 40.7), frame.index)
    apart = []
    for year in range(2010, 2022):
        summer = frame.loc[f"{year}-05-15" : f"{year}-08-12"]
        apart.append(np.sqrt(np.mean((soil(summer, 40.7) - whole[summer.index]) ** 2)))
    # with the year's swing drawn to none instead, the median was 1.5 °C at 11 stations
    assert np.median(apart) < 0.8


def test_forty_years(make_air):
    air = make_air(14_610, "1980-01-01")
    ours = soil(air)
    assert np.isfinite(ours).all()
    # the last years do not care what lay thirty years before, but for the yearly wave
    short = soil(air.iloc[-3653:])
    assert np.abs(ours[-3000:] - short[-3000:]).max() < 0.2


def test_warmer_air_is_warmer_soil(make_air):
    air = make_air()
    warm = air + np.array([5.0, 5.0, 0.0])
    gain = soil(warm) - soil(air)
    assert 2.5 < gain.mean() < 5.5


def test_the_same_record_at_its_own_depth_is_the_same(make_air):
    record, kind = daily_air(make_air())
    model = load_model(kind)
    ground = model.ground(0.2)
    modelled = model_soil(record, 40.0, model, ground)
    np.testing.assert_allclose(at_depth(modelled, ground), modelled.soil_c)


def test_shade_takes_the_sun_alone():
    terms = {"one": np.ones(3), "sun_yearly": np.full(3, 20.0)}
    weights = {"one": -4.0, "sun_yearly": 0.3}
    for factor in (1.0, 0.5):
        ground = Ground(4e-7, 0.3, sun_factor=factor)
        np.testing.assert_allclose(total_forcing(terms, weights, ground), -4.0 + 6.0 * factor)


def test_a_term_that_the_record_lacks_is_named():
    with pytest.raises(InputError, match="snow"):
        total_forcing({"one": np.ones(3)}, {"one": 1.0, "snow": 2.0}, Ground(4e-7, 0.3))


def some_network(nugget=0.0):
    random = np.random.default_rng(0)
    return Network(
        random.uniform(30.0, 48.0, 12),
        random.uniform(-120.0, -75.0, 12),
        random.normal(size=(12, 7)),
        range_km=800.0,
        nugget=nugget,
    )


def test_kriging_returns_a_stations_own_terms_at_its_place():
    network = some_network()
    terms, left = network.foretell(network.latitude_deg[4], network.longitude_deg[4])
    np.testing.assert_allclose(terms, network.terms_c[4], atol=1e-8)
    assert left == pytest.approx(0.0, abs=1e-8)


def test_far_off_or_without_a_longitude_the_shared_mean_is_foretold():
    network = some_network(0.3)
    terms, left = network.foretell(-35.0, 140.0)
    assert 1.0 <= left <= 1.0 + MEAN_SHARE
    assert np.abs(terms).max() < np.abs(network.terms_c).max()
    bare, left_bare = network.foretell(40.0, None)
    np.testing.assert_allclose(bare, terms, atol=1e-3)
    assert left_bare == pytest.approx(left, abs=1e-3)


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.floats(0.0, 0.9))
@settings(max_examples=40)
def test_what_is_left_is_a_share(latitude, longitude, nugget):
    _, left = some_network(nugget).foretell(latitude, longitude)
    assert nugget - 1e-9 <= left <= 1.0 + MEAN_SHARE + 1e-9


def test_a_strange_climate_is_less_sure():
    """Inside nothing changes; outside the variance grows as the squared distance."""
    random = np.random.default_rng(4)
    fitted = Climates.of(
        random.normal(size=(200, 4)) * [4.0, 2.0, 0.05, 0.1] + [11.0, 10.0, 0.5, 0.1]
    )
    usual = Climate(
        np.array([11.0, 10.0, 0.0, 0.0, 0.0]), np.array([0.5, 0.0, 0.0, 0.0, 0.0]), 1.0, 2.2
    )
    assert fitted.strangeness(usual) == 1.0
    hot, hotter = (
        fitted.strangeness(replace(usual, mean_c=np.array([mean, 10.0, 0.0, 0.0, 0.0])))
        for mean in (11.0 + 24.0, 11.0 + 48.0)
    )
    assert hot > 2.0
    assert hotter == pytest.approx(4.0 * hot, rel=0.15)
    model = load_model("extremes+rain")
    ground = model.ground(0.1)
    near = model.prior_at(40.0, -97.0, ground).yearly_covariance
    desert = replace(
        usual, mean_c=np.array([27.0, 11.0, 0.0, 0.0, 0.0]), rain_mm=0.1, evaporation_mm=6.0
    )
    far = model.prior_at(40.0, -97.0, ground, desert).yearly_covariance
    np.testing.assert_allclose(far, model.climates.strangeness(desert) * near)
    assert far[0, 0] > 1.5 * near[0, 0]


def test_chords_by_hand():
    """A quarter of the circle is √2 radii apart, half is two."""
    apart = chord_km(
        np.array([0.0]), np.array([0.0]), np.array([90.0, 0.0, 0.0]), np.array([0.0, 180.0, 0.0])
    )
    np.testing.assert_allclose(apart[0], [6371.0 * np.sqrt(2.0), 12_742.0, 0.0], atol=1e-6)


def test_an_odd_soil_is_less_sure_and_depth_is_calmer():
    model = load_model("extremes+rain")
    day = 19_000 + np.arange(365)

    def sd(ground, latitude=40.0):
        return model.prior_at(latitude, -95.0, ground).sd_c(day)

    plain = sd(model.ground(0.1))
    assert np.all(sd(Ground(4e-7, 0.3, extra_offset_sd_c=1.0)) > plain)
    assert np.all(sd(model.ground(1.0)) < plain)


def test_the_souths_residual_is_the_norths_half_a_year_on():
    model = load_model("mean")
    day = 19_000 + np.arange(365)
    north, south = (model.prior_at(latitude, None, model.ground(0.1)) for latitude in (40.0, -40.0))
    # half a mean year is 182.6 days: 0.4 of a day is left
    np.testing.assert_allclose(south.sd_c(day + 183), north.sd_c(day), atol=0.01)
