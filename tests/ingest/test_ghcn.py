"""GHCN-Daily: station tables and long tables.

The layout of the long table is the field list of the files by year in "GHCN-Daily readme.txt"
(NOAA NCEI): ID, YEAR/MONTH/DAY, ELEMENT, DATA VALUE, M-FLAG, Q-FLAG, S-FLAG, "OBS-TIME =
4-character time of observation in hour-minute format (i.e. 0700 =7:00 am)"; a blank Q-FLAG "did
not fail any quality assurance check"; TMAX and TMIN are in tenths of °C, PRCP in tenths of mm.
"""

import numpy as np
import pandas as pd
import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_air
from forecaster.ingest.air.ghcn import attributes, hours_of, shifts

LONG = """\
USC00042319,20180101,TMAX,183,,,7,0800
USC00042319,20180101,TMIN,11,,,7,0800
USC00042319,20180101,PRCP,0,T,,7,0800
USC00042319,20180102,TMAX,999,,X,7,0800
USC00042319,20180102,TMIN,33,,,7,0800
USC00042319,20180102,SNOW,0,,,7,
USC00042319,20180103,TMAX,206,,,7,0800
USC00042319,20180103,TMIN,-9999,,,7,0800
USC00042319,20180103,PRCP,25,,,7,0800
USC00042319,20180103,TMIN,12,,M,7,0800
"""
HEADING = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n"


def read(folder, text, **options):
    path = folder / "air.csv"
    path.write_text(text)
    frame = read_air(path, **options)
    account = account_of(frame)
    assert account.rows_used + sum(account.refused_count.values()) == account.rows_read
    return frame, account


@pytest.mark.parametrize("heading", ["", HEADING])
def test_the_long_table(tmp_path, heading):
    frame, account = read(tmp_path, heading + LONG)
    assert account.format == "GHCN-Daily long table"
    assert account.station == "USC00042319"
    assert account.rows_read == 10
    assert account.refused_count == {
        "quality flag 'X'": 1,
        "quality flag 'M'": 1,
        "element 'SNOW' is not needed": 1,
        "no temperature or rain": 1,
    }
    assert account.refused[0].line == 4 + bool(heading)
    # read at 08:00: maxima belong to the day before
    assert frame["tmax_c"].dropna().to_dict() == {
        pd.Timestamp("2017-12-31"): 18.3,
        pd.Timestamp("2018-01-02"): 20.6,
    }
    assert frame["tmin_c"].dropna().tolist() == [1.1, 3.3]
    assert frame["precip_mm"].dropna().tolist() == [0.0, 2.5]
    assert "08:00" in " ".join(account.notes)


def test_an_evening_hour_given_leaves_the_maximum(tmp_path):
    frame, _ = read(tmp_path, LONG, obs_hour=17)
    assert frame["tmax_c"].dropna().index.tolist() == [
        pd.Timestamp("2018-01-01"),
        pd.Timestamp("2018-01-03"),
    ]


def test_two_stations_and_bad_cells_in_the_long_table(tmp_path):
    with pytest.raises(FileError, match="2 stations"):
        read(tmp_path, LONG + LONG.replace("USC00042319", "USW00025333"))
    bad = "USC00042319,20180230,TMAX,1,,,7,\nUSC00042319,20180104,TMAX,abc,,,7,\n"
    _, account = read(tmp_path, LONG + bad)
    assert account.refused_count["impossible date"] == 1
    assert account.refused_count["not a number"] == 1
    assert [r.line for r in account.refused][-2:] == [11, 12]


def station_table(rows, extra=""):
    heading = (
        '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES",'
        '"TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"'
    )
    cells = [
        f'"USC1","{date}","36.4622","-116.8669","-59.1","DEATH VALLEY, CA US","   0",",,7,{extra}",'
        f'"{high}",",{flag},7,{extra}","{low}",",,7,{extra}"'
        for date, high, low, flag in rows
    ]
    return "\n".join([heading, *cells]) + "\n"


def test_the_table_with_attributes_and_tenths(tmp_path):
    rows = [
        ("2018-01-01", "  183", "   11", ""),
        ("2018-01-02", "  999", "   33", "X"),
        ("2018-01-03", "  206", "   39", ""),
        ("2018-01-04", "  211", "  -99", ""),
    ]
    frame, account = read(tmp_path, station_table(rows))
    assert account.units.startswith("tenths of °C")
    assert "whole numbers as large as 999" in account.why_units
    assert (account.latitude_deg, account.longitude_deg) == (36.4622, -116.8669)
    assert account.station == "DEATH VALLEY, CA US"
    np.testing.assert_allclose(frame["tmax_c"], [18.3, np.nan, 20.6, 21.1])
    np.testing.assert_allclose(frame["tmin_c"], [1.1, 3.3, 3.9, -9.9])
    assert any("1 value failed a quality check" in n for n in account.notes)


def test_attributes_with_a_morning_hour_move_the_maximum(tmp_path):
    rows = [(f"2018-01-{d:02d}", 180 + d, 30, "") for d in range(1, 6)]
    frame, _ = read(tmp_path, station_table(rows, "0700"))
    assert frame["tmax_c"].first_valid_index() == pd.Timestamp("2017-12-31")
    frame, _ = read(tmp_path, station_table(rows, "1700"))
    assert frame["tmax_c"].first_valid_index() == pd.Timestamp("2018-01-01")


def test_small_whole_numbers_beside_attributes_are_asked_about(tmp_path):
    rows = [(f"2018-01-{d:02d}", 40 + d, 30, "") for d in range(1, 6)]
    with pytest.raises(FileError, match="not clear"):
        read(tmp_path, station_table(rows))
    frame, _ = read(tmp_path, station_table(rows), units="tenths")
    assert frame["tmax_c"].iloc[0] == pytest.approx(4.1)
    rows = [(f"2018-01-{d:02d}", 40.5 + d, 30, "") for d in range(1, 6)]
    frame, _ = read(tmp_path, station_table(rows), units="F")
    assert frame["tmax_c"].iloc[0] == pytest.approx((41.5 - 32) / 1.8)


def test_a_row_with_only_flagged_values_is_refused(tmp_path):
    text = (
        "STATION,DATE,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n"
        'X,2018-07-01,300,",,7",150,",,7"\nX,2018-07-02,300,",I,7",150,",I,7"\n'
        'X,2018-07-03,310,",,7",150,",,7"\n'
    )
    _, account = read(tmp_path, text)
    assert account.refused_count == {"quality flag": 1}


def test_attributes_and_hours():
    flag, hour = attributes(np.array([",,7,0700", ",I,7,1730", "T,,W", ""], dtype=object))
    assert flag.tolist() == ["", "I", "", ""]
    np.testing.assert_array_equal(hour, [7, 17.5, np.nan, np.nan])
    np.testing.assert_array_equal(
        hours_of(np.array(["0700", "2400", "9999", "x"], dtype=object), 4), [7, 24, np.nan, np.nan]
    )
    assert np.isnan(hours_of(None, 2)).all()


def test_midnight_moves_nothing():
    moved, _ = shifts(np.array([0.0, 24.0, 7.0, 12.0, np.nan]), None)
    assert moved.tolist() == [0, 0, -1, 0, 0]


@pytest.mark.parametrize(
    ("name", "rows", "days"),
    [
        ("death_valley_2018_simple.csv", 364, 365),
        ("death_valley_2018_full.csv", 364, 365),
        ("sitka_weather_2018_simple.csv", 363, 365),
    ],
)
def test_real_station_exports(shared_data, name, rows, days):
    frame = read_air(shared_data / "ghcn_csv" / name)
    account = account_of(frame)
    assert (account.rows_read, len(frame)) == (rows, days)
    assert account.units == "°F, rain in inches"
    raw = pd.read_csv(shared_data / "ghcn_csv" / name, index_col="DATE", parse_dates=True)
    both = frame.reindex(raw.index)
    np.testing.assert_allclose(both["tmax_c"], (raw["TMAX"] - 32) / 1.8)
    np.testing.assert_allclose(both["precip_mm"], raw["PRCP"] * 25.4)


def test_a_morning_observer_is_suspected_from_tobs(shared_data):
    account = account_of(read_air(shared_data / "ghcn_csv" / "death_valley_2018_full.csv"))
    assert any("--obs-hour 7" in note for note in account.notes)
    moved = read_air(shared_data / "ghcn_csv" / "death_valley_2018_full.csv", obs_hour=7)
    assert not any("--obs-hour 7" in note for note in account_of(moved).notes)
