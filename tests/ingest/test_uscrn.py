"""USCRN daily01 text. Field numbers as in the network's daily01 readme (NOAA NCEI), from memory."""

import gzip

import numpy as np
import pandas as pd
import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_air, read_readings

LINE = (
    "94996 {date}  2.422  -96.85   40.70 {high:7.1f} {low:7.1f} {middle:7.1f} {mean:7.1f}     0.0"
    "    10.02 C     1.1   -12.0    -5.6    78.3    50.3    66.1 -99.000   0.315   0.327   0.274"
    "   0.317 {s5:7.1f}     0.6     1.4     3.1     5.6\n"
)


def line(date, high=2.2, low=-9.3, mean=-3.3, s5=0.1):
    return LINE.format(date=date, high=high, low=low, middle=(high + low) / 2, mean=mean, s5=s5)


def write(folder, text, name="crn.txt"):
    path = folder / name
    path.write_text(text)
    return path


def test_fields_missing_codes_and_place(tmp_path):
    path = write(tmp_path, line(20160101) + line(20160102, high=-9999.0, mean=-9999.0, s5=-9999.0))
    frame = read_air(path)
    assert frame["tmax_c"].iloc[0] == 2.2
    assert frame["tavg_c"].iloc[0] == -3.3
    assert np.isnan(frame["tmax_c"].iloc[1])
    account = account_of(frame)
    assert (account.latitude_deg, account.longitude_deg, account.station) == (
        40.70,
        -96.85,
        "94996",
    )
    soil = read_readings(path)
    assert set(soil["span"]) == {"day"}
    assert soil["depth_m"].tolist() == [0.05, 0.1, 0.2, 0.5, 1.0, 0.1, 0.2, 0.5, 1.0]
    assert soil["temp_c"].tolist()[:5] == [0.1, 0.6, 1.4, 3.1, 5.6]


def test_broken_lines_are_refused_with_their_numbers(tmp_path):
    text = line(20160101) + "\n" + line(20160102)[:80] + "\n" + line(20160230) + line(20160103)
    frame = read_air(write(tmp_path, text))
    account = account_of(frame)
    assert account.rows_read == 4
    assert account.rows_used == 2
    assert [r.line for r in account.refused] == [3, 4]
    assert "not 28 fields of numbers" in account.refused[0].reason
    assert account.refused[1].reason == "impossible date or time: '20160230'"


def test_the_fast_way_and_the_slow_way_agree(tmp_path):
    whole = line(20160101) + line(20160102, high=5.0)
    fast = read_air(write(tmp_path, whole))
    slow = read_air(write(tmp_path, whole + "junk line\n"))
    pd.testing.assert_frame_equal(fast, slow)
    assert account_of(slow).rows_read == 3


def test_only_broken_lines_after_the_first(tmp_path):
    path = write(tmp_path, "\n\n" + line(20160101).replace("2.2", "x.y", 1))
    with pytest.raises(FileError, match="1 × not 28 fields"):
        read_air(path)


def test_two_stations_are_refused(tmp_path):
    text = line(20160101)
    write(tmp_path, text, "a")
    write(tmp_path, text.replace("94996", "94995"), "b")
    with pytest.raises(FileError, match="2 stations: 94995, 94996"):
        read_air(tmp_path)


def test_a_field_8_that_is_no_middle_is_noted(tmp_path):
    text = line(20160101, high=4.0, low=-10.0).replace("   -3.0", "    9.0")
    assert any("field 8" in n for n in account_of(read_air(write(tmp_path, text))).notes)


def test_an_hour_of_observation_does_not_apply(tmp_path):
    path = write(tmp_path, line(20160101) + line(20160102))
    frame = read_air(path, obs_hour=7)
    pd.testing.assert_frame_equal(frame, read_air(path))
    assert any("obs_hour was not used" in n for n in account_of(frame).notes)


def test_coordinates_that_are_none_are_not_taken(tmp_path):
    frame = read_air(write(tmp_path, line(20160101).replace("40.70", "99.90")))
    assert account_of(frame).latitude_deg is None


def test_folder_list_and_gzip_of_real_years(shared_data, tmp_path):
    folder = shared_data / "uscrn_raw" / "NE_Lincoln_11_SW"
    whole = read_air(folder)
    account = account_of(whole)
    assert account.rows_read == account.rows_used + sum(account.refused_count.values())
    assert account.latitude_deg == 40.70
    pd.testing.assert_frame_equal(whole, read_air(sorted(folder.iterdir(), reverse=True)))
    one = next(folder.glob("*2016*"))
    packed = tmp_path / "x"
    packed.write_bytes(gzip.compress(one.read_bytes()))
    pd.testing.assert_frame_equal(read_air(one), read_air(packed))


@pytest.mark.parametrize("year", [2016, 2018])
def test_real_values_against_a_plain_reading(shared_data, year):
    path = next((shared_data / "uscrn_raw" / "NE_Lincoln_11_SW").glob(f"*{year}*"))
    rows = [
        row.replace(" C ", " 0 ").replace(" R ", " 0 ").replace(" U ", " 0 ").split()
        for row in path.read_text().splitlines()
    ]
    raw = np.array(rows, dtype=float)
    raw[raw <= -99] = np.nan
    frame = read_air(path)
    for field, column in ((6, "tmax_c"), (7, "tmin_c"), (9, "tavg_c"), (10, "precip_mm")):
        np.testing.assert_array_equal(frame[column], raw[:, field - 1])
    # field 8 is (maximum + minimum)/2, each rounded to 0.1 °C
    middle = (raw[:, 5] + raw[:, 6]) / 2
    assert np.nanmax(np.abs(middle - raw[:, 7])) <= 0.1001
    assert np.nanmedian(np.abs(raw[:, 8] - raw[:, 7])) > 0.1
    soil = read_readings(path)
    at_10 = soil[soil["depth_m"] == 0.10]
    np.testing.assert_array_equal(at_10["temp_c"], raw[:, 24][~np.isnan(raw[:, 24])])


def test_the_prepared_tables_agree_with_the_published_files(shared_data):
    name = "NE_Lincoln_11_SW"
    raw = read_air(shared_data / "uscrn_raw" / name)
    made = read_air(shared_data / "uscrn_daily" / f"{name}.csv.gz").reindex(raw.index)
    for column in ("tmax_c", "tmin_c", "tavg_c"):
        np.testing.assert_allclose(raw[column], made[column], atol=1e-9)
    table = pd.read_csv(shared_data / "uscrn_daily" / f"{name}.csv.gz", index_col="date")
    table.index = pd.to_datetime(table.index)
    soil = read_readings(shared_data / "uscrn_raw" / name)
    for depth in (5, 10, 20):
        mine = soil[soil["depth_m"] == depth / 100].set_index("time")["temp_c"]
        theirs = table[f"soil{depth}_c"].loc[mine.index[0] :].dropna()
        np.testing.assert_allclose(mine, theirs, atol=1e-9)
