"""Stuck sensors and jumps; the zero curtain is neither."""

import numpy as np
import pandas as pd
import pytest

from forecaster.ingest import account_of, read_air, read_readings
from forecaster.ingest.checks.suspects import (
    LONE_SOIL_LEAP_C,
    LONG_SOIL_DAYS,
    is_coarse,
    spikes,
    stretches,
    stuck_runs,
)

DAY = np.arange(3 * 365, dtype=float)
SOIL = 11 - 13 * np.cos(2 * np.pi * (DAY - 20) / 365.25) + 0.7 * np.sin(DAY * 1.7)
WINTER = np.round(np.where(SOIL < 0.3, 0.0, SOIL), 1)


def runs(value, time=DAY):
    there = np.isfinite(value)
    return stuck_runs(time[there], value[there], LONG_SOIL_DAYS, LONE_SOIL_LEAP_C)


def with_stretch(first, last, level):
    value = np.round(SOIL, 1)
    value[first : last + 1] = level
    return value


def test_a_zero_curtain_of_weeks_is_no_fault():
    zeros = np.flatnonzero(WINTER == 0.0)
    assert max(b - a for a, b in stretches(zeros)) > 20
    assert runs(WINTER) == []


def test_19_days_of_exactly_zero_in_summer_are_a_stuck_sensor():
    (found,) = runs(with_stretch(200, 218, 0.0))
    assert (found.first, found.last, found.sure) == (200, 218, True)
    assert found.note.startswith("19 days of exactly 0.0 °C")


def test_zero_fahrenheit_counts_as_zero():
    (found,) = runs(with_stretch(200, 218, -32 / 1.8))
    assert found.sure


def test_between_gaps_the_season_tells():
    value = with_stretch(200, 218, 0.0)
    value[190:200] = value[219:230] = np.nan
    (found,) = runs(value)
    assert found.sure
    assert "usual for the season" in found.note
    winter = WINTER.copy()
    zeros = np.flatnonzero(winter == 0.0)
    winter[zeros.min() - 10 : zeros.min()] = np.nan
    assert runs(winter) == []


def test_one_zero_with_leaps_on_both_sides():
    (found,) = runs(with_stretch(200, 200, 0.0))
    assert found.sure
    assert runs(with_stretch(330, 330, 0.0)) == []  # 8 °C away from nothing in November


def test_weekly_readings_of_zero_in_winter_are_no_fault():
    time = DAY[::7]
    assert runs(WINTER[::7], time) == []
    assert runs(np.array([5.0, 0.0, 0.0, 0.0, 6.0]), np.array([0.0, 7, 14, 21, 28])) == []


def test_freezing_point_in_whole_fahrenheit_is_nothing_strange():
    value = np.array([41, 45, 32, 32, 32, 43, 47, 39, 38, 45, 52, 41.0])
    celsius = np.round((value - 32) / 1.8, 1)
    assert is_coarse(celsius)
    assert is_coarse(np.round(celsius))
    assert not is_coarse(np.round(SOIL, 1))
    assert runs(celsius, np.arange(12.0)) == []
    summer = np.round((np.round(SOIL * 1.8 + 32) - 32) / 1.8, 1)
    summer[200:219] = 0.0
    (found,) = runs(summer)
    assert found.sure
    beside = np.round(SOIL, 1)
    beside[315:321] = 0.0  # in mid-November, 6 °C is usual
    assert [run.sure for run in runs(beside)] == [True]
    beside[305:315] = np.nan
    assert [run.sure for run in runs(beside)] == [False]


def test_weeks_of_one_value_are_suspect_and_months_are_sure():
    (found,) = runs(with_stretch(200, 230, 21.3))
    assert not found.sure
    (found,) = runs(with_stretch(200, 280, 21.3))
    assert found.sure
    assert runs(with_stretch(200, 210, 21.3)) == []


def test_spikes_stand_out_from_both_neighbours():
    value = np.array([10.0, 11, 25, 12, 13, 30, 30, 12])
    time = np.arange(8.0)
    assert spikes(time, value, 8.0, 1.0).tolist() == [2]
    assert spikes(time * 3, value, 8.0, 1.0).tolist() == []
    assert spikes(time[:2], value[:2], 8.0, 1.0).tolist() == []


def test_stretches_of_days():
    assert stretches(np.array([1, 2, 3, 7, 9, 10])) == [(0, 2), (3, 3), (4, 5)]
    assert stretches(np.array([], dtype=int)) == []


def log(folder, value, step="D", heading="date,soil 10 cm (°C)"):
    times = pd.date_range("2021-01-01", periods=len(value), freq=step)
    style = "%Y-%m-%d" if step == "D" else "%Y-%m-%d %H:%M"
    rows = [f"{t:{style}},{v:.1f}" for t, v in zip(times, value, strict=True)]
    path = folder / "log.csv"
    path.write_text(heading + "\n" + "\n".join(rows) + "\n")
    return path


def test_stuck_days_are_dropped_counted_and_told(tmp_path):
    frame = read_readings(log(tmp_path, with_stretch(200, 218, 0.0)))
    account = account_of(frame)
    assert account.refused_count == {"stuck sensor": 19}
    (suspect,) = [s for s in account.suspects if s.kind == "stuck"]
    assert suspect.action == "dropped"
    assert suspect.values == 19  # noqa: PD011
    assert suspect.column == "temp_c at 0.1 m"
    assert suspect.first.startswith("2021-07-20")
    assert len(frame) == len(DAY) - 19


def test_stuck_hours_are_dropped_too(tmp_path):
    hours = np.arange(60 * 24)
    value = np.round(18 + 5 * np.sin(2 * np.pi * hours / 24), 1)
    value[500:620] = 0.0
    account = account_of(read_readings(log(tmp_path, value, "h")))
    assert account.refused_count == {"stuck sensor": 120}
    value[500:620] = value[499]
    assert account_of(read_readings(log(tmp_path, value, "h"))).suspects == ()


def test_a_jump_is_kept_and_told(tmp_path):
    frame = read_readings(log(tmp_path, with_stretch(200, 200, 45.0)))
    (suspect,) = account_of(frame).suspects
    before, after = np.round(SOIL[[199, 201]], 1)
    assert (suspect.kind, suspect.action, suspect.note) == (
        "jump",
        "kept",
        f"45.0 °C between {before} and {after} °C",
    )
    assert len(frame) == len(DAY)


def test_many_suspects_are_summed_up(tmp_path):
    value = np.round(SOIL, 1)
    value[150:250:3] += 25.0
    found = account_of(read_readings(log(tmp_path, value))).suspects
    assert len(found) == 21
    assert found[-1].note == "14 more"


def test_stuck_air_takes_the_other_columns_of_the_day_with_it(tmp_path):
    days = pd.date_range("2021-01-01", periods=len(DAY))
    high, low = np.round(SOIL + 6, 1), np.round(SOIL - 6, 1)
    high[270:276] = 0.0
    low[268:276] = 0.0
    rows = [f"{d:%Y-%m-%d},{h},{x}" for d, h, x in zip(days, high, low, strict=True)]
    path = tmp_path / "air.csv"
    path.write_text("date,tmax_c,tmin_c\n" + "\n".join(rows))
    frame = read_air(path)
    assert frame["tmax_c"].iloc[270:276].isna().all()
    assert frame["tmin_c"].iloc[270:276].isna().all()
    assert account_of(frame).refused_count == {"stuck sensor": 6}


@pytest.mark.parametrize(
    ("station", "column", "days"),
    [("CO_Boulder_14_W", "tmax_c", 6), ("LA_Lafayette_13_SE", "tmin_c", 9)],
)
def test_real_stations_that_wrote_zeros(shared_data, station, column, days):
    frame = read_air(shared_data / "uscrn_daily" / f"{station}.csv.gz")
    found = [s for s in account_of(frame).suspects if s.kind == "stuck" and s.column == column]
    assert sum(s.values for s in found) == days  # noqa: PD011
    assert {s.action for s in found} == {"dropped"}


def test_real_probes_that_stuck_for_years(shared_data):
    frame = read_readings(shared_data / "probe" / "ars_reynolds_076x59_soil_at_1700.csv")
    found = {s.note: s.action for s in account_of(frame).suspects if s.kind == "stuck"}
    assert found == {
        "848 days of exactly 26.4 °C": "dropped",
        "379 days of exactly 22.4 °C": "dropped",
    }


def test_real_soil_under_snow_is_left_alone(shared_data):
    stuck = []
    for path in sorted((shared_data / "uscrn_daily").glob("M*.csv.gz")):
        stuck += [s for s in account_of(read_readings(path)).suspects if s.kind == "stuck"]
    assert stuck == []
