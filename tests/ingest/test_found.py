"""The first lines of sixteen public files, one a family, by both readers.

What each should give was read off the files by eye: which columns are air at two metres, which
are soil and how deep, and which files have none. The project ships none of them.
"""

import numpy as np
import pandas as pd
import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_air, read_readings

AIR = {
    "field_sheet.csv": 29,
    "half_hourly_a.csv": 2,
    "half_hourly_c.txt": 8,
    "micro_station.csv": 16,
    "network_daily_a.csv": 364,
    "network_daily_b.csv": 795,
    "network_hourly.csv": 29,
    "port_logger.txt": 32,
    "service_daily_es.csv": 797,
    "service_daily_ko.csv": 365,
}
"""Days with a mean or both extremes; the others have no air, or no whole day."""
DEPTHS = {
    "deep_hourly.csv": [5, 10, 20, 30, 40, 50, 60, 80, 100, 125, 150, 175, 200, 225],
    "field_sheet.csv": [5],
    "half_hourly_a.csv": [None],
    "half_hourly_b.csv": [None],
    "half_hourly_c.txt": [None],
    "logger_cest.csv": [None],
    "logger_comma.csv": [None],
    "logger_f.csv": [None],
    "logger_plain.csv": [6],
    "micro_station.csv": [3],
    "network_daily_a.csv": [5, 10, 20, 50],
    "network_hourly.csv": [5, 10, 20, 50],
    "port_logger.txt": [None],
}
"""Depths in centimetres; the others have no soil temperature."""
NAMES = sorted({*AIR, *DEPTHS})


@pytest.fixture(params=NAMES)
def found(request, shared_data):
    path = shared_data / "found" / request.param
    if not path.is_file():
        pytest.skip(f"no file {path.name} beside the public records")
    return path


def cells(path, heading, **how):
    """One column by its heading, read by pandas alone."""
    return pd.read_csv(path, **how)[heading].to_numpy(dtype=float)


def test_air(found):
    if found.name not in AIR:
        with pytest.raises(FileError, match="maximum and minimum"):
            read_air(found)
        return
    frame = read_air(found)
    means = frame["tavg_c"].notna() if "tavg_c" in frame else False
    assert int((frame[["tmin_c", "tmax_c"]].notna().all(axis=1) | means).sum()) == AIR[found.name]
    assert any(column.taken.startswith("daily") for column in account_of(frame).columns)
    if "tavg_c" in frame and frame["tmin_c"].notna().any():
        rows = frame.dropna()
        assert (rows["tmin_c"] <= rows["tavg_c"]).all()
        assert (rows["tavg_c"] <= rows["tmax_c"]).all()


def test_soil(found):
    if found.name not in DEPTHS:
        with pytest.raises(FileError):
            read_readings(found)
        return
    frame = read_readings(found)
    depths = sorted({None if np.isnan(d) else round(100 * d) for d in frame["depth_m"]},
                    key=lambda d: -1 if d is None else d)  # fmt: skip
    assert depths == DEPTHS[found.name]
    account = account_of(frame)
    assert account.rows_used + sum(account.refused_count.values()) == account.rows_read


def test_pressure_and_wind_are_no_temperatures(shared_data):
    folder = shared_data / "found"
    air = read_air(folder / "network_daily_a.csv")
    np.testing.assert_array_equal(
        air["tavg_c"].dropna(), cells(folder / "network_daily_a.csv", "TEMP2MAVG")[:365][
            np.isfinite(cells(folder / "network_daily_a.csv", "TEMP2MAVG"))]
    )  # fmt: skip
    assert "tavg_c" not in read_air(folder / "network_daily_b.csv")


def test_probes_of_one_file(shared_data):
    folder = shared_data / "found"
    ports = read_readings(folder / "port_logger.txt")
    assert list(dict.fromkeys(ports["probe"])) == ["Port 2", "Port 3", "Port 4"]
    both = read_readings(folder / "half_hourly_a.csv")
    assert list(dict.fromkeys(both["probe"])) == ["TS_1_1_1", "TS_2_1_1"]
    for name in ("TS_1_1_1", "TS_2_1_1"):
        one = read_readings(folder / "half_hourly_a.csv", probe=name)
        np.testing.assert_allclose(one["temp_c"], cells(folder / "half_hourly_a.csv", name,
                                                        skiprows=2))  # fmt: skip


def test_months_first_in_a_log_of_quarter_hours(shared_data):
    for name, start in (("logger_f.csv", "2021-04-08 21:00"), ("logger_cest.csv",
                                                               "2021-04-08 23:00")):  # fmt: skip
        log = read_readings(shared_data / "found" / name)
        assert log["time"].iloc[0] == pd.Timestamp(start)
        assert (log["time"].diff().dropna() == pd.Timedelta(minutes=15)).all()
