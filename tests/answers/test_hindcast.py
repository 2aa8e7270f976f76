"""The hindcast: fixed days of issue, nothing of the future, honest truth, Ctrl-C keeps the rest."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from forecaster import Site, estimate_soil, forecast_soil, hindcast
from forecaster.answers.check import what_came_true
from forecaster.answers.window import Threshold
from forecaster.chance.scores import crps_ensemble
from forecaster.ground.errors import InputError, NotEnoughData

SITE = Site(40.0, -95.0)
COOL = Threshold(name="cool", label="Cool flats", threshold_c=15.0, direction="falling")
WARM = Threshold(name="warm", label="Warm plants", threshold_c=17.0, direction="rising")
LEADS = (0, 14)


def daily_log(air: pd.DataFrame, seed: int = 0) -> pd.DataFrame:
    """A soil that follows the model closely, with a site of its own: 1 °C off, slow weather."""
    random = np.random.default_rng(seed)
    soil = estimate_soil(air, SITE)["soil_c"].to_numpy()
    slow = np.zeros(soil.size)
    for t in range(1, soil.size):
        slow[t] = 0.98 * slow[t - 1] + random.normal(0.0, 0.12)
    return pd.DataFrame(
        {"time": air.index, "temp_c": soil + 1.0 + slow, "depth_m": 0.10, "span": "day"}
    )


@pytest.fixture(scope="module")
def air(make_air):
    return make_air(365 * 9 + 200, "2014-01-01")


@pytest.fixture(scope="module")
def readings(air):
    return daily_log(air)


@pytest.fixture(scope="module")
def measured(air, readings):
    return hindcast(air, SITE, readings, thresholds=[COOL, WARM], leads_days=LEADS, members=60)


@pytest.fixture(scope="module")
def modelled(air):
    return hindcast(air, SITE, thresholds=[COOL], leads_days=LEADS, members=60)


def test_a_row_for_every_threshold_season_and_lead(measured):
    assert measured.truth == "readings"
    assert measured.complete
    keys = {(r.threshold, r.year, r.lead_days) for r in measured.rows}
    assert len(keys) == len(measured.rows)
    for name, seasons in (("cool", 7), ("warm", 8)):
        for lead in LEADS:
            years = [y for n, y, k in keys if (n, k) == (name, lead)]
            assert abs(len(years) - seasons) <= 1, (name, lead, sorted(years))


def test_truth_is_the_users_own_soil(air, readings, measured):
    """Each true date divides its season best, computed here in the plainest way."""
    soil = readings.set_index("time")["temp_c"]
    truth = what_came_true(air, SITE, readings, [COOL])
    for one in truth.seasons["cool"]:
        season = soil.loc[str(one.start) : str(one.end)].to_numpy()
        assert one.index == int(np.argmax(np.cumsum(season - 15.0)))
    years = {row.year: row.settled for row in measured.rows if row.threshold == "cool"}
    for one in truth.seasons["cool"]:
        if one.year in years:
            assert years[one.year] == (one.start + one.index).item()


def test_the_day_of_issue_is_fixed_by_the_other_seasons(air, readings, measured):
    truth = what_came_true(air, SITE, readings, [COOL, WARM])
    for row in measured.rows:
        seasons = truth.seasons[row.threshold]
        own = next(one for one in seasons if one.year == row.year)
        others = [one.censored for one in seasons if one.year != row.year]
        usual = own.start + int(np.median(others))
        assert row.usual == usual.item()
        assert (row.usual - row.issued).days == row.lead_days


def test_each_row_is_the_public_forecast_scored(air, readings, measured):
    """Repeated by hand from the public parts, for one row of each threshold."""
    truth = what_came_true(air, SITE, readings, [COOL, WARM])
    for threshold in (COOL, WARM):
        row = [r for r in measured.rows if r.threshold == threshold.name][-1]
        one = next(s for s in truth.seasons[threshold.name] if s.year == row.year)
        horizon = int((one.end - np.datetime64(row.issued)).astype(int))
        forecast = forecast_soil(
            air, SITE, readings, issued=row.issued, start=one.start, horizon_days=horizon,
            members=60,
        )  # fmt: skip
        crossing = forecast.crossing(
            threshold.threshold_c, threshold.direction, first=one.start, last=one.end
        )
        days = np.where(np.isnat(crossing.dates), one.end, crossing.dates) - one.start
        assert row.crps_days == pytest.approx(float(crps_ensemble(days.astype(int), one.index)))
        assert row.median == crossing.quantile(0.5).item()
        assert row.width_days == (row.late - row.early).days
        assert row.inside == (row.early <= row.settled <= row.late)
        assert row.miss_days == (row.median - row.settled).days
        for day, chance, came in row.checks:
            assert chance == crossing.probability_by(day)
            assert came == (row.settled <= day)


def test_no_forecast_sees_the_future(air, readings):
    """A last season that is changed after its day of issue moves its truth, not its forecast.

    The other seasons, and with them the days of issue, stay as they were; so does the calendar
    of the season, which is part of the question and comes from the whole record.
    """
    kept = hindcast(air, SITE, readings, thresholds=[COOL], leads_days=[14], members=20)
    last = kept.rows[-1]
    after = (readings["time"] - pd.Timestamp(last.issued)).dt.days
    colder = np.where((after > 0) & (after <= 35), 4.0, 0.0)
    moved = readings.assign(temp_c=readings["temp_c"] - colder)
    other = hindcast(air, SITE, moved, thresholds=[COOL], leads_days=[14], members=20)
    found = next(row for row in other.rows if row.year == last.year)
    assert found.settled != last.settled
    assert (found.issued, found.early, found.median, found.late) == (
        last.issued, last.early, last.median, last.late,
    )  # fmt: skip
    assert found.never == last.never


def test_cells_are_means_of_their_rows(measured):
    for cell in measured.cells:
        rows = [
            r for r in measured.rows
            if (r.threshold, r.lead_days) == (cell.threshold, cell.lead_days)
        ]  # fmt: skip
        assert cell.n == len(rows)
        assert cell.inside == sum(row.inside for row in rows)
        assert cell.coverage == cell.inside / cell.n
        ours = np.mean([row.crps_days for row in rows])
        theirs = np.mean([row.climatology_crps_days for row in rows])
        assert cell.crps_days == pytest.approx(ours)
        assert cell.skill == pytest.approx(1.0 - ours / theirs)
        assert cell.skill_low <= cell.skill <= cell.skill_high
        assert cell.mae_days == pytest.approx(np.mean([abs(row.miss_days) for row in rows]))
        chances = [(p - came) ** 2 for row in rows for _, p, came in row.checks]
        assert cell.brier == pytest.approx(np.mean(chances))


def test_nearer_forecasts_are_better_on_average(measured):
    for name in ("cool", "warm"):
        near, far = (
            next(c for c in measured.cells if (c.threshold, c.lead_days) == (name, lead))
            for lead in LEADS
        )
        assert near.crps_days < far.crps_days
        assert near.width_days < far.width_days


def test_reliability_counts_every_check(measured):
    total = sum(len(row.checks) for row in measured.rows)
    assert sum(one.n for one in measured.reliability()) == total
    by_lead = sum(one.n for lead in LEADS for one in measured.reliability(lead))
    assert by_lead == total


def test_without_a_soil_record_the_model_is_the_truth_and_it_is_said(modelled):
    assert modelled.truth == "model"
    assert "weather part of the forecast only" in modelled.notes[0]


def test_where_the_model_is_the_truth_the_ground_is_no_part_of_the_error(air, modelled):
    """With the past known, on the usual day most members that have settled agree with it."""
    row = [r for r in modelled.rows if r.lead_days == 0][-1]
    full = forecast_soil(
        air, SITE, issued=row.issued, start=pd.Timestamp(row.issued) - pd.Timedelta(days=60),
        members=200,
    ).crossing(15.0, "falling")  # fmt: skip
    ground = (full.quantile(0.9) - full.quantile(0.1)).astype(int)
    assert row.width_days < ground


def test_sparse_readings_are_no_truth(air, readings):
    found = what_came_true(air, SITE, readings.iloc[::7], [COOL])
    assert found.kind == "model"


def test_a_thermometer_at_another_depth_is_no_truth(air, readings):
    found = what_came_true(air, SITE, readings.assign(depth_m=0.2), [COOL])
    assert found.kind == "model"


def test_an_hourly_log_is_put_into_days(air):
    few = air.iloc[: 365 * 6 + 250]
    daily = daily_log(few)
    hours = np.arange(0.0, 24.0, 3.0)
    swing = 1.5 * np.cos(2.0 * np.pi * (hours - 18.0) / 24.0)
    hourly = pd.DataFrame(
        {
            "time": np.repeat(daily["time"].to_numpy(), 8)
            + np.tile((hours * 3600).astype("timedelta64[s]"), len(daily)),
            "temp_c": np.repeat(daily["temp_c"].to_numpy(), 8) + np.tile(swing, len(daily)),
            "depth_m": 0.1,
            "span": "instant",
        }
    )
    one, two = (what_came_true(few, SITE, log, [COOL]) for log in (daily, hourly))
    assert one.kind == two.kind == "readings"
    assert [s.index for s in one.seasons["cool"]] == [s.index for s in two.seasons["cool"]]


def test_ctrl_c_keeps_what_is_done(air):
    def stop(done: int, total: int) -> None:
        assert total > 5
        if done == 3:
            raise KeyboardInterrupt

    found = hindcast(air, SITE, thresholds=[COOL], leads_days=LEADS, members=20, progress=stop)
    assert not found.complete
    assert 1 <= len(found.rows) <= 3
    assert found.cells


def test_ctrl_c_before_the_first_forecast(air, monkeypatch):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("forecaster.answers.check.run.forecast_from", stop)
    found = hindcast(air, SITE, thresholds=[COOL], leads_days=[0], members=20)
    assert not found.complete
    assert found.rows == found.cells == found.reliability() == ()


def test_progress_counts_to_the_end(air):
    seen = []
    hindcast(
        air, SITE, thresholds=[COOL], leads_days=[0], members=10,
        progress=lambda done, total: seen.append((done, total)),
    )  # fmt: skip
    assert [done for done, _ in seen] == list(range(1, seen[-1][1] + 1))


def test_same_seed_same_answer(air, modelled):
    again = hindcast(air, SITE, thresholds=[COOL], leads_days=LEADS, members=60)
    assert again == modelled
    other = hindcast(air, SITE, thresholds=[COOL], leads_days=LEADS, members=60, seed=1)
    assert other.rows != modelled.rows


def test_the_latest_seasons_only(air, modelled):
    found = hindcast(air, SITE, thresholds=[COOL], leads_days=[0], members=20, seasons=3)
    years = sorted({row.year for row in modelled.rows})
    assert sorted({row.year for row in found.rows}) == years[-3:]


def test_too_few_seasons(make_air):
    with pytest.raises(NotEnoughData, match="5 are needed"):
        hindcast(make_air(365 * 4), SITE, thresholds=[COOL], members=10)


def test_a_threshold_out_of_reach_is_left_out_and_named(air):
    hot = Threshold(name="hot", label="Cacti", threshold_c=45.0, direction="rising")
    found = hindcast(air, SITE, thresholds=[hot, COOL], leads_days=[0], members=10)
    assert [t.name for t in found.thresholds] == ["cool"]
    assert any("Cacti cannot be checked: the soil usually never" in note for note in found.notes)
    with pytest.raises(NotEnoughData, match="usually never gets there"):
        hindcast(air, SITE, thresholds=[hot], members=10)


@pytest.mark.parametrize(
    "wrong", [{"leads_days": ()}, {"leads_days": (-1,)}, {"leads_days": (999,)}, {"seasons": 0}]
)
def test_what_cannot_be_asked_is_refused(air, wrong):
    with pytest.raises(InputError):
        hindcast(air, SITE, thresholds=[COOL], **wrong)


def test_the_table_has_a_row_a_forecast(measured):
    table = measured.to_frame()
    assert len(table) == len(measured.rows)
    assert {"threshold", "year", "lead_days", "crps_days", "inside"} <= set(table.columns)


def test_results_are_frozen(measured):
    with pytest.raises(dataclasses.FrozenInstanceError):
        measured.rows[0].year = 1900


def test_a_season_that_never_settles_counts_at_its_end(air, readings):
    """One autumn is kept 15 °C warmer to the end: never, scored as the last day."""
    year = pd.DatetimeIndex(readings["time"]).year
    hot = readings.assign(
        temp_c=readings["temp_c"]
        + np.where((year == 2019) & (readings["time"].dt.month > 6), 25.0, 0.0)
        + np.where((year == 2020) & (readings["time"].dt.month < 5), 25.0, 0.0)
    )
    found = hindcast(air, SITE, hot, thresholds=[COOL], leads_days=[0], members=20)
    row = next(row for row in found.rows if row.year == 2019)
    assert row.settled is None
    assert all(not came for _, _, came in row.checks)
    assert np.isfinite(row.crps_days)
