"""The forecast benchmark's own arithmetic, and one invented station from end to end."""

import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecaster.forecast.understand import load_model, understand
from forecaster.ground.site import Site
from forecaster.rules.past import PastSeason

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
try:
    import benchmark_forecast as bench
    import fit_model
    import station_fits
finally:
    sys.path.remove(str(ROOT / "scripts"))

COOL = bench.THRESHOLDS[0]


def invented(air: pd.DataFrame, name: str = "A") -> fit_model.Station:
    """A station whose soil is the model's, half a degree off, with a slow wander."""
    random = np.random.default_rng(1)
    site = Site(40.0, -95.0)
    soil = understand(air, site, None, load_model("mean+extremes+rain")).soil_c
    wander = np.zeros(soil.size)
    for t in range(1, soil.size):
        wander[t] = 0.98 * wander[t - 1] + random.normal(0.0, 0.1)
    return fit_model.Station(
        name=name, latitude_deg=40.0, longitude_deg=-95.0,
        day=air.index.to_numpy().astype("datetime64[D]").astype(np.int64),
        day_of_year=air.index.day_of_year.to_numpy().astype(np.int64),
        tmin_c=air["tmin_c"].to_numpy(), tmax_c=air["tmax_c"].to_numpy(),
        tavg_c=air[["tmin_c", "tmax_c"]].mean(axis=1).to_numpy(),
        rain_mm=air["precip_mm"].to_numpy(),
        soil_c=dict.fromkeys(fit_model.DEPTHS_M, soil + 0.5 + wander),
    )  # fmt: skip


@pytest.fixture(scope="module")
def case(make_air):
    station = invented(make_air(365 * 9 + 100, "2012-01-01", mean_c=15.0))
    seasons = bench.seasons_of(station)
    return bench.Case(
        station.name, Site(40.0, -95.0), bench.air_table(station, bench.KIND),
        bench.readings_of(station), seasons, load_model(bench.KIND),
        bench.fixed_dates([seasons], np.array([True])),
    )  # fmt: skip


def test_scores_of_one_forecast_by_hand():
    """Members 1 to 10, truth 3: the tenth and ninetieth are 1 and 9, the median 5."""
    row = bench.score_row(np.arange(1.0, 11.0), 3.0)
    assert (row["miss"], row["inside"], row["width"]) == (2.0, 1.0, 8.0)
    assert row["pit"] == pytest.approx(0.25)
    # E|X − y| = (2+1+0+1+2+3+4+5+6+7)/10 = 3.1; ½E|X − X'| = ½ · 3.3
    assert row["crps"] == pytest.approx(3.1 - 1.65)
    assert row["split"] == 1.0


@pytest.mark.parametrize(
    ("below", "at", "share"),
    [(0.5, 0.0, 1.0), (0.95, 0.0, 0.0), (0.0, 0.4, 0.75), (0.8, 0.2, 0.5), (0.0, 0.05, 0.0)],
)
def test_a_pile_of_members_is_split_at_the_windows_end(below, at, share):
    assert bench.split_inside(below, at) == pytest.approx(share)


def test_a_right_forecast_covers_eighty_percent_once_piles_are_split():
    """Members and truth from one lumpy distribution: half of it on one day."""
    random, inside, split = np.random.default_rng(0), [], []
    for _ in range(400):
        draw = np.where(random.random(201) < 0.5, 5.0, np.round(random.normal(20.0, 8.0, 201)))
        row = bench.score_row(draw[:200], draw[200])
        inside.append(row["inside"])
        split.append(row["split"])
    assert np.mean(inside) > 0.85
    assert np.mean(split) == pytest.approx(0.8, abs=0.05)


def test_calendar_days_count_from_july_or_january():
    autumn = PastSeason(2020, np.datetime64("2020-07-20"), 180, 92)
    spring = PastSeason(2020, np.datetime64("2020-12-28"), 190, 100)
    assert bench.calendar_day(autumn, "falling") == 19 + 92
    assert bench.calendar_day(spring, "rising") == 100 - 4


def test_weekly_readings_end_on_the_day_and_carry_their_error(case):
    last = pd.Timestamp("2018-09-20")
    one, two = (bench.weekly(case.soil, last, seed) for seed in (1, 2))
    assert list(one["time"]) == list(pd.date_range(end=last, periods=8, freq="7D"))
    true = case.soil.set_index("time")["temp_c"].loc[one["time"]].to_numpy()
    assert 0.1 < np.abs(one["temp_c"] - true).mean() < 1.0
    assert (one["temp_c"].to_numpy() != two["temp_c"].to_numpy()).any()
    gap = case.soil[~case.soil["time"].isin(one["time"].iloc[:3])]
    assert bench.weekly(gap, last, 1) is None, "five of eight are too few"


def test_no_user_has_a_reading_from_after_the_day(case):
    last = pd.Timestamp("2018-09-20")
    for user in bench.USERS:
        able, readings = bench.readings_for(user, case.soil, last, 0)
        assert able
        if readings is not None:
            assert readings["time"].max() <= last
            assert readings["time"].min() > last - pd.DateOffset(years=3)


def test_air_members_are_the_record_and_then_the_forecasts_own(case):
    one = case.seasons[COOL[0]][-1]
    issued = pd.Timestamp(one.start + 60)
    place = understand(case.air.loc[:issued], case.site, None, case.model)
    air = bench.air_members(place, one, 12, 5)
    assert air.shape == (12, int((one.end - np.datetime64(int(place.day[0]), "D")).astype(int)) + 1)
    np.testing.assert_array_equal(air[0, : place.day.size], place.modelled.air.mean_c)
    assert air[:, place.day.size :].std(axis=0).min() > 0.5


def test_ridge_finds_a_soil_that_is_a_sum_of_lagged_air(case):
    place = understand(case.air, case.site, None, case.model)
    weights = np.exp(-np.arange(bench.LAGS)[::-1] / 6.0)
    weights /= weights.sum()
    soil = 2.0 + bench.lagged(place.modelled.air.mean_c) @ weights
    day = place.day[bench.LAGS - 1 :]
    log = pd.DataFrame(
        {"time": day.astype("datetime64[D]").astype("datetime64[ns]"), "temp_c": soil}
    )
    level, found = bench.fit_ridge(place, log)
    assert level == pytest.approx(2.0, abs=0.05)
    np.testing.assert_allclose(found, weights, atol=2e-3)


def test_dates_of_series_that_end_with_the_season():
    one = PastSeason(2020, np.datetime64("2020-07-20"), 100, 40)
    values = np.where(np.arange(131) <= 30 + 40, 25.0, 10.0)[None]  # 30 days lead in
    assert bench.season_dates(values, one, COOL) == 40.0
    assert bench.season_dates(values[:, 50:], one, COOL) == 40.0, "a record from within the season"
    assert bench.season_dates(np.full((1, 131), 25.0), one, COOL) == 100.0, "never"


def test_a_station_from_end_to_end(case):
    """Users know more and more, so they miss by less; every baseline stands in the report."""
    short = bench.Case(**{
        name: getattr(case, name) for name in ("name", "site", "air", "soil", "model", "fixed")
    }, seasons={COOL[0]: case.seasons[COOL[0]]})  # fmt: skip
    rows, daily = bench.run_case(short, 40)
    found = bench.report(pd.DataFrame(rows), [daily])
    cells = found["cells"]
    assert set(cells) == {*bench.USERS, bench.WITH_OUTLOOK, *bench.BASELINES}
    assert cells["years"]["0"]["crps_days"] < cells["none"]["0"]["crps_days"]
    told, untold = (
        np.mean([cells[who][str(lead)]["crps_days"] for lead in bench.LEADS_DAYS])
        for who in (bench.WITH_OUTLOOK, "weekly")
    )
    assert told < untold
    assert daily["rmse_c"] < 1.2
    bench.print_report(found)


def test_fits_are_kept_and_told_apart(tmp_path, monkeypatch, make_air):
    """A fit is used again for the same stations and code, and made anew for others."""
    calls = []

    def fake(others, kind):
        calls.append(sorted(s.name for s in others))
        return {"heat": [4e-7, 0.3]}

    monkeypatch.setattr(station_fits, "fit_without", fake)
    monkeypatch.setattr(station_fits, "as_model", lambda _, heat, others: (heat, len(others)))
    air = make_air(400)
    stations = [invented(air, name) for name in "ABC"]
    kept = tmp_path / "fits.json"
    with ThreadPoolExecutor(1) as pool:
        for _ in range(2):
            models = station_fits.models_left_out(
                stations, np.array([0, 1, 1]), bench.KIND, kept=kept, pool=pool
            )
        assert [n for _, n in models] == [2, 1]
        assert calls == [["B", "C"], ["A"]]
        station_fits.models_left_out(
            stations, np.array([0, 0, 1]), bench.KIND, kept=kept, pool=pool
        )
    assert calls[2:] == [["C"], ["A", "B"]]


def test_a_told_outlook_errs_the_more_the_farther_ahead(make_air):
    """Root mean square over many draws: the law that the forecast takes for granted."""
    air = make_air(60)
    issued = air.index[30]
    true = air.iloc[31 : 31 + bench.OUTLOOK_DAYS][["tmin_c", "tmax_c"]].mean(axis=1)
    miss = [bench.outlook_of(air, issued, seed).mean(axis=1) - true for seed in range(400)]
    sd = np.sqrt(np.mean(np.square(miss), axis=0))
    lead = np.arange(1, bench.OUTLOOK_DAYS + 1)
    law = np.sqrt(1.2**2 + (0.5 * lead) ** 2 + bench.EXTREMES_ERROR_C**2 / 2.0)
    np.testing.assert_allclose(sd, law, rtol=0.15)
    assert bench.outlook_of(air, air.index[-5], 0) is None
