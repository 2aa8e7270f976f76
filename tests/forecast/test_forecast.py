"""`estimate_soil` as its users meet it."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster import Site, estimate_soil
from forecaster.ground.errors import ForecasterError, InputError

SITE = Site(40.0, -95.0)


def log(times, temp_c, **columns):
    """Hand readings as `read_readings` returns them."""
    return pd.DataFrame(
        {"time": pd.DatetimeIndex(times), "temp_c": temp_c, "depth_m": 0.1, "span": "instant"}
        | columns
    )


def test_a_row_for_every_day_and_the_accounts(make_air):
    air = make_air()
    air.iloc[40:50, :2] = np.nan
    ours = estimate_soil(air, SITE)
    assert ours.columns.tolist() == ["soil_c", "sd_c"]
    pd.testing.assert_index_equal(ours.index, air.index)
    assert np.isfinite(ours.to_numpy()).all()
    assert (ours.sd_c > 0.0).all()
    assert ours.attrs["filled_days"] == 10
    assert ours.attrs["outliers"] == ()


def test_the_arguments_are_left_as_they_were(make_air):
    air = make_air()
    air.iloc[40:50] = np.nan
    readings = log(air.index[700:720] + pd.Timedelta(hours=8), 12.0)
    before = air.copy(deep=True), readings.copy(deep=True)
    estimate_soil(air, SITE, readings)
    pd.testing.assert_frame_equal(air, before[0])
    pd.testing.assert_frame_equal(readings, before[1])


def test_no_readings_and_an_empty_log_are_the_same(make_air):
    air = make_air()
    empty = log([], []).astype({"temp_c": float})
    pd.testing.assert_frame_equal(estimate_soil(air, SITE), estimate_soil(air, SITE, empty))


def test_readings_pull_the_estimate_and_narrow_it(make_air):
    air = make_air()
    bare = estimate_soil(air, SITE)
    days = air.index[1000:1060:7]
    readings = log(days, bare.soil_c[days].to_numpy() - 2.5, span="day")
    told = estimate_soil(air, SITE, readings)
    moved = (told.soil_c - bare.soil_c)[days]
    assert np.all((moved < -1.5) & (moved > -2.5))
    assert np.all(told.sd_c[days] < 0.7 * bare.sd_c[days])


def test_the_hour_of_a_reading_counts_and_an_unknown_hour_counts_less(make_air):
    """Soil at planting depth is colder than its day in the morning, warmer in the evening.

    So the same figure says more warmth of the day if it was read in the morning.
    """
    air = make_air()
    day = air.index[930]  # July
    figure = estimate_soil(air, SITE).soil_c.iloc[930]

    def told(**when):
        ours = estimate_soil(
            air, SITE, log([day + pd.Timedelta(hours=when.pop("hour"))], figure, **when)
        )
        return ours.iloc[930]

    morning, evening = told(hour=7), told(hour=18)
    unknown = told(hour=0, hour_known=False)
    whole = told(hour=0, span="day")
    assert morning.soil_c > whole.soil_c > evening.soil_c
    assert evening.soil_c < unknown.soil_c < morning.soil_c
    assert unknown.sd_c > max(morning.sd_c, evening.sd_c) > whole.sd_c


def test_missing_depths_are_the_sites(make_air):
    air = make_air()
    deep = Site(40.0, -95.0, depth_m=0.2)
    readings = log(air.index[700:720], 11.0, depth_m=np.nan)
    told = estimate_soil(air, deep, readings)
    pd.testing.assert_frame_equal(told, estimate_soil(air, deep, readings.assign(depth_m=0.2)))
    pd.testing.assert_frame_equal(told, estimate_soil(air, deep, readings.drop(columns="depth_m")))


def test_readings_outside_the_record_or_without_a_value_say_nothing(make_air):
    air = make_air()
    readings = log(air.index[700:720:5], [11.0, 12.0, 11.5, 12.5], span="day")
    stray = log(["1999-01-01", "2035-01-01", air.index[705]], [30.0, 30.0, np.nan], span="day")
    both = pd.concat([readings, stray], ignore_index=True)
    pd.testing.assert_frame_equal(
        estimate_soil(air, SITE, both), estimate_soil(air, SITE, readings)
    )
    pd.testing.assert_frame_equal(estimate_soil(air, SITE, stray), estimate_soil(air, SITE))


def test_the_order_of_readings_does_not_matter(make_air):
    air = make_air()
    days = air.index[700:760:3]
    readings = log(days + pd.Timedelta(hours=9), np.linspace(10.0, 16.0, len(days)))
    shuffled = readings.sample(frac=1.0, random_state=1)
    pd.testing.assert_frame_equal(
        estimate_soil(air, SITE, readings), estimate_soil(air, SITE, shuffled)
    )


def test_a_figure_in_the_wrong_unit_is_named_and_hardly_moves_the_answer(make_air):
    air = make_air()
    days = air.index[850:930:7]
    honest = estimate_soil(air, SITE).soil_c[days].to_numpy() + 1.0
    spoiled = honest.copy()
    spoiled[5] = honest[5] * 1.8 + 32.0  # °F among °C
    hour = pd.Timedelta(hours=10)
    good = estimate_soil(air, SITE, log(days + hour, honest))
    bad = estimate_soil(air, SITE, log(days + hour, spoiled))
    assert good.attrs["outliers"] == ()
    assert len(bad.attrs["outliers"]) == 1
    assert str(days[5].date()) in bad.attrs["outliers"][0]
    assert np.abs(good.soil_c - bad.soil_c).max() < 0.6
    without = log(days.delete(5) + hour, np.delete(honest, 5))
    assert np.abs(estimate_soil(air, SITE, without).soil_c - bad.soil_c).max() < 0.3


def test_many_readings_a_day_do_not_count_as_many_days(make_air):
    """A hundred logger rows of two days leave next month less sure than eight weekly readings."""
    air = make_air()
    hours = pd.date_range(air.index[700], periods=96, freq="30min")
    logger = estimate_soil(air, SITE, log(hours, 12.0))
    weekly = estimate_soil(air, SITE, log(air.index[650:706:7], 12.0, span="day"))
    assert logger.sd_c.iloc[1000] > weekly.sd_c.iloc[1000]
    assert logger.sd_c.iloc[700] < 0.5


@pytest.mark.parametrize("column", ["time", "temp_c"])
def test_a_missing_column_is_named(make_air, column):
    air = make_air()
    with pytest.raises(InputError, match=column):
        estimate_soil(air, SITE, log(air.index[:3], 9.0).drop(columns=column))


def test_a_record_of_means_alone_and_one_without_rain(make_air):
    air = make_air()
    whole = estimate_soil(air, SITE).soil_c
    dry = estimate_soil(air[["tmin_c", "tmax_c"]], SITE).soil_c
    bare = estimate_soil(pd.DataFrame({"tavg_c": (air.tmin_c + air.tmax_c) / 2.0}), SITE).soil_c
    for poorer in (dry, bare):
        # other models of the same soil: within two of their standard deviations
        assert np.sqrt(np.mean((poorer - whole) ** 2)) < 2.0


def test_a_known_place_is_surer_than_a_latitude(make_air):
    air = make_air()
    known, bare = estimate_soil(air, SITE), estimate_soil(air, Site(40.0))
    assert np.all(known.sd_c < bare.sd_c)


def test_another_soil_or_cover_is_less_sure(make_air):
    air = make_air()
    plain = estimate_soil(air, SITE)
    for other in (Site(40.0, -95.0, soil="sand"), Site(40.0, -95.0, cover="mulch")):
        ours = estimate_soil(air, other)
        assert np.all(ours.sd_c > plain.sd_c)
        assert np.abs(ours.soil_c - plain.soil_c).max() > 0.1
    mulched = estimate_soil(air, Site(40.0, -95.0, cover="mulch")).soil_c
    assert mulched.std() < plain.soil_c.std()


@settings(max_examples=40)
@given(
    depth=st.floats(0.0, 2.0),
    latitude=st.floats(-66.0, 66.0),
    longitude=st.none() | st.floats(-180.0, 180.0),
    days=st.integers(60, 500),
    holes=st.floats(0.0, 0.6),
    seed=st.integers(0, 1000),
)
def test_any_site_and_record_gets_an_answer_or_a_reason(
    make_air, depth, latitude, longitude, *, days, holes, seed
):
    random = np.random.default_rng(seed)
    air = make_air(days, seed=seed, warmest=200.0 if latitude > 0.0 else 20.0)
    at = random.integers(0, days, 5)
    when = air.index[at] + pd.to_timedelta(random.uniform(0.0, 23.9, 5), unit="h")
    # Twelve degrees all year would be refused as no bed's.
    readings = log(
        when,
        air[["tmin_c", "tmax_c"]]
        .rolling(30, min_periods=1)
        .mean()
        .mean(axis=1)
        .iloc[at]
        .to_numpy(),
    )
    air = air.where(random.random(air.shape) >= holes)
    try:
        ours = estimate_soil(air, Site(latitude, longitude, depth_m=depth), readings)
    except ForecasterError:
        assert days * (1.0 - holes) < 80 or holes > 0.2
        return
    assert np.isfinite(ours.to_numpy()).all()
    assert (ours.sd_c > 0.0).all()
