"""forecast_soil and its crossings: nothing of the future, the same from the same seed, in order."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster import Crossing, InputError, Site, forecast_soil
from forecaster.ground.errors import NotEnoughData

SITE = Site(40.0, -95.0)
ISSUED = "2023-09-20"
NEVER = np.datetime64("NaT", "D")


def log(air: pd.DataFrame, every: int = 7, last: str | None = None) -> pd.DataFrame:
    """Readings at nine in the morning, every so many days."""
    days = air.index[::every] if last is None else air.loc[:last].index[::every]
    season = 14.0 + 9.0 * np.cos(2.0 * np.pi * (days.day_of_year.to_numpy() - 205.0) / 365.25)
    time = days + pd.Timedelta(hours=9)
    return pd.DataFrame({"time": time, "temp_c": season, "depth_m": 0.10, "span": "instant"})


def week(first: str, days: int = 7, warm: float = 22.0) -> pd.DataFrame:
    """A weather outlook."""
    index = pd.date_range(first, periods=days, name="date")
    return pd.DataFrame({"tmin_c": warm - 6.0, "tmax_c": warm + 6.0}, index=index)


def same(one, two) -> None:
    np.testing.assert_array_equal(one.soil_c, two.soil_c)
    assert one.dates.equals(two.dates)


@pytest.fixture(scope="module")
def air(make_air):
    return make_air(2400, "2018-01-01")


@pytest.fixture(scope="module")
def autumn(air):
    return forecast_soil(air, SITE, log(air), issued=ISSUED, start="2023-07-20", members=60)


def test_no_row_after_the_day_of_issue_is_looked_at(air):
    """Every later row of air, readings and outlook is changed, made absurd, or taken away."""
    random = np.random.default_rng(0)
    readings, ahead = log(air, 3), week("2023-09-10", 20)
    base = forecast_soil(
        air, SITE, readings, issued=ISSUED, members=30, outlook=ahead.loc["2023-09-21":]
    )
    later = air.index > ISSUED
    for make in (
        lambda n: random.normal(0.0, 20.0, n),
        lambda n: np.full(n, np.nan),
        lambda n: np.full(n, 1e6),
    ):
        spoiled = air.copy()
        for column in spoiled:
            spoiled.loc[later, column] = make(int(later.sum()))
        after = readings["time"] >= pd.Timestamp(ISSUED) + pd.Timedelta(days=1)
        wrong = readings.assign(
            temp_c=np.where(after, make(len(readings)), readings["temp_c"]),
            depth_m=np.where(after, 1.5, readings["depth_m"]),
        )
        earlier = ahead.copy()
        earlier.loc[:ISSUED] = make(2 * int((ahead.index <= ISSUED).sum())).reshape(-1, 2)
        same(base, forecast_soil(spoiled, SITE, wrong, issued=ISSUED, members=30, outlook=earlier))
    same(
        base,
        forecast_soil(
            air.loc[:ISSUED], SITE, readings[~after], issued=ISSUED, members=30, outlook=ahead
        ),
    )


def test_the_day_of_issue_itself_is_known(air):
    other = air.copy()
    other.loc[ISSUED, ["tmin_c", "tmax_c"]] += 8.0
    one, two = (forecast_soil(a, SITE, issued=ISSUED, members=20) for a in (air, other))
    assert (one.soil_c != two.soil_c).any()
    late = pd.DataFrame({"time": [pd.Timestamp(f"{ISSUED} 23:00")], "temp_c": [12.0]})
    three = forecast_soil(air, SITE, late, issued=ISSUED, members=20)
    assert (one.soil_c != three.soil_c).any()


def test_arguments_are_left_as_they_were(air):
    readings, ahead = log(air), week("2023-09-21")
    before = air.copy(), readings.copy(), ahead.copy()
    forecast_soil(air, SITE, readings, issued=ISSUED, members=5, outlook=ahead)
    for now, then in zip((air, readings, ahead), before, strict=True):
        pd.testing.assert_frame_equal(now, then)


def test_same_seed_same_answer_and_another_seed_another(air):
    one, two, three = (
        forecast_soil(air, SITE, log(air), issued=ISSUED, members=20, seed=s) for s in (4, 4, 5)
    )
    same(one, two)
    assert (one.soil_c != three.soil_c).any()


@pytest.mark.parametrize("issued", ["2023-09-20", np.datetime64("2023-09-20"),
                                    pd.Timestamp("2023-09-20")])  # fmt: skip
def test_shapes_and_dates(air, issued):
    found = forecast_soil(air, SITE, issued=issued, horizon_days=90, members=7)
    assert found.soil_c.shape == found.residual_c.shape == (7, 180 + 90 + 1)
    assert found.dates[0] == pd.Timestamp("2023-03-24")
    assert found.dates[-1] == pd.Timestamp("2023-12-19")
    assert found.dates.tz is None
    assert (np.diff(found.dates) == np.timedelta64(1, "D")).all()
    assert np.isfinite(found.soil_c).all()


@pytest.mark.parametrize(
    ("start", "horizon", "days"),
    [
        ("2018-01-01", 1, 2090),
        ("2023-09-20", 30, 31),
        ("2023-09-21", 30, 30),
        ("2023-10-05", 30, 16),
    ],
)
def test_start_and_horizon(air, start, horizon, days):
    found = forecast_soil(air, SITE, issued=ISSUED, start=start, horizon_days=horizon, members=4)
    assert found.soil_c.shape == (4, days)
    assert found.dates[0] == pd.Timestamp(start)


def test_a_later_start_is_a_part_of_the_same_answer_in_distribution(air):
    """What is asked of the past does not move the future: medians agree within their noise."""
    readings = log(air)
    long, short = (
        forecast_soil(air, SITE, readings, issued=ISSUED, start=start, members=400)
        for start in ("2023-03-01", "2023-09-21")
    )
    tail = long.soil_c[:, -short.soil_c.shape[1] :]
    gap = np.abs(np.median(tail, axis=0) - np.median(short.soil_c, axis=0))
    noise = 1.2533 * np.sqrt(2.0 / 400.0) * short.soil_c.std(axis=0)
    assert (gap / noise).max() < 5.0
    assert tail.std(axis=0) == pytest.approx(short.soil_c.std(axis=0), rel=0.25)


@pytest.mark.parametrize(
    "wrong",
    [
        {"horizon_days": 0},
        {"horizon_days": 731},
        {"members": 1},
        {"start": "2017-12-31"},
        {"start": "2024-12-31"},
        {"issued": "soon"},
        {"issued": pd.NaT},
    ],
)
def test_what_cannot_be_asked_is_refused(air, wrong):
    with pytest.raises(InputError):
        forecast_soil(air, SITE, **({"issued": ISSUED} | wrong))


def test_too_little_before_the_day_of_issue(air):
    with pytest.raises(NotEnoughData):
        forecast_soil(air, SITE, issued="2018-01-30", start="2018-01-05")


def test_the_past_is_known_better_than_the_future(autumn):
    sd = autumn.soil_c.std(axis=0)
    now = int(np.flatnonzero(autumn.dates == pd.Timestamp(ISSUED))[0])
    assert sd[now - 40 : now].mean() < 0.6 * sd[now + 20 :].mean()


def test_a_record_that_ends_weeks_before(air):
    """The days between are forecast too, less surely than if they were known."""
    whole = forecast_soil(air, SITE, issued=ISSUED, start="2023-08-01", members=200)
    old = forecast_soil(
        air.loc[:"2023-08-30"], SITE, issued=ISSUED, start="2023-08-01", members=200
    )
    assert old.dates.equals(whole.dates)
    assert np.isfinite(old.soil_c).all()
    between = slice(35, 51)
    assert old.soil_c[:, between].std(axis=0).mean() > whole.soil_c[:, between].std(axis=0).mean()
    cut = forecast_soil(air.loc[:"2023-08-30"], SITE, issued=ISSUED, start="2023-09-25", members=50)
    assert np.isfinite(cut.soil_c).all()


@pytest.mark.parametrize("years", [1, 2, 4])
def test_records_of_few_years(make_air, years):
    few = make_air(365 * years + 120, "2020-06-01")
    found = forecast_soil(few, SITE, issued=few.index[-1], members=60)
    assert np.isfinite(found.soil_c).all()
    assert found.years <= years
    assert found.soil_c[:, -1].std() > 0.5
    assert -25.0 < found.soil_c.min() <= found.soil_c.max() < 45.0


def test_gaps_in_the_record(air):
    holes = air.copy()
    holes.iloc[700:740] = np.nan
    holes.iloc[2000:2012, 0] = np.nan
    holes.loc["2023-09-15":ISSUED] = np.nan
    found = forecast_soil(holes, SITE, issued=ISSUED, members=60)
    assert np.isfinite(found.soil_c).all()
    whole = forecast_soil(air, SITE, issued=ISSUED, members=60)
    assert abs(np.median(found.soil_c) - np.median(whole.soil_c)) < 1.0


def test_a_warm_outlook_warms_the_soil_for_a_while(air):
    cold, warm = (
        forecast_soil(air, SITE, issued=ISSUED, start=ISSUED, members=60,
                      outlook=week("2023-09-21", 7, t))
        for t in (10.0, 28.0)
    )  # fmt: skip
    gap = np.median(warm.soil_c, axis=0) - np.median(cold.soil_c, axis=0)
    assert gap[7] > 5.0
    assert gap[60] < 0.3
    spread = forecast_soil(air, SITE, issued=ISSUED, start=ISSUED, members=60).soil_c.std(axis=0)
    assert warm.soil_c.std(axis=0)[3] < spread[3]


def test_an_outlook_with_missing_days(air):
    ahead = week("2023-09-21")
    ahead.iloc[[2, 3]] = np.nan
    ahead = ahead.drop(ahead.index[5])
    found = forecast_soil(air, SITE, issued=ISSUED, members=20, outlook=ahead)
    assert np.isfinite(found.soil_c).all()


def test_an_outlook_of_yesterday_or_without_columns_is_refused(air):
    with pytest.raises(NotEnoughData):
        forecast_soil(air, SITE, issued=ISSUED, outlook=week("2023-09-01"))
    with pytest.raises(InputError, match="tmax_c"):
        forecast_soil(air, SITE, issued=ISSUED, outlook=week("2023-09-21")[["tmin_c"]])


@given(low=st.floats(2.0, 24.0), step=st.floats(0.0, 6.0),
       direction=st.sampled_from(["falling", "rising"]))  # fmt: skip
@settings(max_examples=60)
def test_a_threshold_further_on_is_never_reached_earlier(autumn, low, step, direction):
    """Member by member: colder on the way down, warmer on the way up; never is last of all."""
    near, far = (low + step, low) if direction == "falling" else (low, low + step)
    for kind in ("settled", "first", "last"):
        one, two = (autumn.crossing(t, direction, kind=kind).dates for t in (near, far))
        late = np.datetime64("9999-01-01")
        assert (np.where(np.isnat(two), late, two) >= np.where(np.isnat(one), late, one)).all()


@given(threshold=st.floats(0.0, 28.0), direction=st.sampled_from(["falling", "rising"]))
@settings(max_examples=40)
def test_probability_by_a_date_does_not_fall(autumn, threshold, direction):
    crossing = autumn.crossing(threshold, direction)
    chance = [crossing.probability_by(day) for day in autumn.dates]
    assert (np.diff(chance) >= 0.0).all()
    assert chance[-1] == pytest.approx(1.0 - crossing.probability_never)


@given(q=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=6))
@settings(max_examples=40)
def test_quantiles_are_in_order_and_agree_with_the_probability(autumn, q):
    crossing = autumn.crossing(15.0, "falling")
    dates = [crossing.quantile(one) for one in sorted(q)]
    known = [d for d in dates if not np.isnat(d)]
    assert known == sorted(known)
    assert all(np.isnat(d) for d in dates[len(known) :]), "never comes after every date"
    for one, day in zip(sorted(q), dates, strict=True):
        if not np.isnat(day):
            assert crossing.probability_by(day) >= one - 1e-12


def test_quantiles_with_never_by_hand():
    """Of four members two cross: the middle one is the second, three quarters never."""
    days = np.array(["2023-10-05", "NaT", "2023-10-01", "NaT"], dtype="datetime64[D]")
    crossing = Crossing(days)
    assert crossing.quantile(0.25) == np.datetime64("2023-10-01")
    assert crossing.quantile(0.5) == np.datetime64("2023-10-05")
    assert np.isnat(crossing.quantile(0.75))
    assert crossing.probability_never == 0.5
    assert crossing.probability_by("2023-10-01") == 0.25
    assert crossing.probability_by("2023-12-31") == 0.5
    with pytest.raises(InputError, match="0 to 1"):
        crossing.quantile(1.2)


def test_thresholds_out_of_reach_are_never_or_already(autumn):
    never = autumn.crossing(-30.0, "falling")
    assert never.probability_never == 1.0
    assert np.isnat(never.quantile(0.5))
    already = autumn.crossing(50.0, "falling", first="2023-08-01")
    assert (already.dates == np.datetime64("2023-08-01")).all()


def test_a_season_outside_the_forecast_is_refused(autumn):
    with pytest.raises(InputError, match="no day of the forecast"):
        autumn.crossing(15.0, "falling", first="2025-01-01", last="2025-03-01")


def test_readings_make_today_and_the_next_days_surer(air):
    none, weekly = (
        forecast_soil(air, SITE, r, issued=ISSUED, start=ISSUED, members=300).soil_c.std(axis=0)
        for r in (None, log(air, 7, ISSUED))
    )
    assert weekly[0] < 0.75 * none[0]
    assert weekly[7] < none[7]
