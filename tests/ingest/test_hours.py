"""Air by the hour becomes days; days that are not whole are refused and counted."""

import numpy as np
import pandas as pd
import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_air

HOURS = pd.date_range("2025-03-01", periods=24 * 6, freq="1h")
AIR = np.round(
    10 - 5 * np.cos(2 * np.pi * (HOURS.hour.to_numpy() - 4) / 24) + HOURS.day.to_numpy(), 2
)


def write(folder, table):
    path = folder / "air.csv"
    table.to_csv(path, index=False)
    return path


def table(step=1, **more):
    return pd.DataFrame({"time": HOURS, "air temp (C)": AIR, **more})[::step]


def test_extremes_and_mean_of_each_day(tmp_path):
    air = read_air(write(tmp_path, table(rain_mm=0.5)))
    days = pd.Series(AIR, HOURS).groupby(HOURS.normalize())
    np.testing.assert_allclose(air["tmax_c"], days.max())
    np.testing.assert_allclose(air["tmin_c"], days.min())
    np.testing.assert_allclose(air["tavg_c"], days.mean())
    np.testing.assert_allclose(air["precip_mm"], 12.0)
    account = account_of(air)
    assert (account.rows_read, account.rows_used) == (144, 144)
    assert account.format == "table by the hour"


def test_thin_days_are_refused_and_counted(tmp_path):
    rows = table().drop(index=range(30, 34))  # four hours of the second day
    air = read_air(write(tmp_path, rows))
    account = account_of(air)
    assert list(air.index[air["tmax_c"].isna()]) == [pd.Timestamp("2025-03-02")]
    assert account.refused_count == {"a day with too few values for its extremes": 20}
    assert account.rows_used == 120
    assert any("1 day with fewer than 22 values refused" in note for note in account.notes)


def test_an_hour_written_twice_does_not_make_a_day_whole(tmp_path):
    rows = table().drop(index=range(30, 34))
    again = rows.iloc[24:34]
    air = read_air(write(tmp_path, pd.concat([rows, again]).sort_index()))
    assert air["tmax_c"].isna().sum() == 1


def test_extremes_of_each_hour_serve_where_they_are_given(tmp_path):
    more = {"air temp max (C)": AIR + 1, "air temp min (C)": AIR - 1}
    air = read_air(write(tmp_path, table(**more)))
    assert air["tmax_c"].iloc[0] == pytest.approx(AIR[:24].max() + 1)
    assert air["tmin_c"].iloc[0] == pytest.approx(AIR[:24].min() - 1)
    assert air["tavg_c"].iloc[0] == pytest.approx(AIR[:24].mean())


def test_values_far_apart_are_refused(tmp_path):
    assert len(read_air(write(tmp_path, table(3)))) == 6
    with pytest.raises(FileError, match="values every 6 hours"):
        read_air(write(tmp_path, table(6)))


def test_no_whole_day(tmp_path):
    with pytest.raises(FileError, match="none of 1 days is whole: the fullest has 10 values"):
        read_air(write(tmp_path, table()[:10]))


def test_a_mean_that_is_none_is_left_out(tmp_path):
    days = pd.date_range("2024-01-01", periods=400)
    season = 12 - 12 * np.cos(2 * np.pi * (days.day_of_year - 20) / 365.25)
    made = {"date": days, "tmax_c": season + 5, "tmin_c": season - 5}
    for mean, kept in ((season + 1, True), (season + 20, False), (season, False)):
        table = pd.DataFrame({**made, "tavg_c": mean})
        rounded = table.round(dict.fromkeys(("tmax_c", "tmin_c", "tavg_c"), 2))
        air = read_air(write(tmp_path, rounded))
        assert ("tavg_c" in air) == kept
        assert any("was left out" in note for note in account_of(air).notes) == (not kept)
