"""`read_readings` on logs as people and loggers keep them."""

import gzip

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.ground.errors import FileError, InputError
from forecaster.ground.units import METRES_PER_INCH, c_to_f
from forecaster.ingest import account_of, read_readings


def write(folder, text, encoding="utf-8"):
    path = folder / "log.txt"
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def read(folder, text, encoding="utf-8", **options):
    frame = read_readings(write(folder, text, encoding), **options)
    account = account_of(frame)
    assert account.rows_used + sum(account.refused_count.values()) == account.rows_read
    assert list(frame.columns) == ["time", "temp_c", "depth_m", "span", "hour_known"]
    assert frame["hour_known"].dtype == bool
    assert frame["time"].is_monotonic_increasing
    return frame, account


def f(*values):
    return pytest.approx([(v - 32) / 1.8 for v in values])


def times(frame):
    return [f"{t:%Y-%m-%d %H:%M}" for t in frame["time"]]


def test_a_preamble_a_battery_and_twelve_hours(tmp_path):
    text = (
        "Serial: 12345\nInterval: 6 h\n\nNo.,Date/Time,Temp (°F),Battery (V)\n"
        "1,03/14/2025 07:40:00 AM,61.5,3.1\n2,03/14/2025 01:40:00 PM,70.5,3.1\n"
        "3,03/14/2025 12:10:00 AM,58.0,3.1\n4,03/15/2025 07:40:00 AM,---,3.1\n"
    )
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"):
        frame, account = read(tmp_path, text, encoding)
        assert times(frame) == ["2025-03-14 00:10", "2025-03-14 07:40", "2025-03-14 13:40"]
        assert frame["temp_c"].tolist() == f(58, 61.5, 70.5)
        assert frame["hour_known"].all()
        assert set(frame["span"]) == {"instant"}
        assert account.refused_count == {"no temperature": 1}
        assert account.refused[0].line == 8
        assert "heading on line 4" in account.why_format


def test_decimal_commas_semicolons_and_time_apart(tmp_path):
    frame, account = read(
        tmp_path, "Datum;Zeit;Temp °C\n14.03.2025;07:40;16,5\n15.03.2025;7:45;-0,5\n", "cp1252"
    )
    assert times(frame) == ["2025-03-14 07:40", "2025-03-15 07:45"]
    assert frame["temp_c"].tolist() == [16.5, -0.5]
    assert "decimal commas" in account.why_format
    assert frame["depth_m"].isna().all()
    assert any("depth_m" in note for note in account.notes)


def test_depths_in_columns(tmp_path):
    frame, account = read(
        tmp_path,
        "Date\tTime\tSoil 2 in (°F)\tSoil 4 in (°F)\tAir (°F)\n"
        "2025-03-04\t7:40\t50.1\t51.2\t40\n2025-03-05\t7:40\t\t52.2\t41\n",
    )
    assert frame["depth_m"].tolist() == pytest.approx([k * METRES_PER_INCH for k in (2, 4, 4)])
    assert frame["temp_c"].tolist() == f(50.1, 51.2, 52.2)
    assert account.rows_used == 2
    frame, account = read(tmp_path, "time,soil5_c,soil10_c\n2025-03-04 07:00,5.1,6.1\n")
    assert frame["depth_m"].tolist() == pytest.approx([0.05, 0.10])
    assert any("taken as cm" in note for note in account.notes)
    frame, account = read(tmp_path, "time,soil 2 F,soil 4 F\n2025-03-04 07:00,54,55\n")
    assert frame["depth_m"].tolist() == pytest.approx([0.0508, 0.1016])
    frame, account = read(tmp_path, "time,soil 2 F\n2025-03-04 07:00,54\n")
    assert frame["depth_m"].isna().all()  # the second sensor, or two inches?
    frame, account = read(
        tmp_path, "Date;T1 [°C];T2 [°C]\n;10cm;20cm\n14.03.25;12,5;11,5\n15.03.25;12,5;11,5\n"
    )
    assert frame["depth_m"].tolist() == [0.1, 0.2, 0.1, 0.2]
    frame, account = read(tmp_path, "time,soil 4 F\n2025-03-04 07:00,55\n")
    assert frame["depth_m"].tolist() == pytest.approx([4 * METRES_PER_INCH])
    assert any("taken as in" in note for note in account.notes)


@pytest.mark.parametrize(
    ("heading", "cells", "expected"),
    [
        ("depth", ["4in", '2"', "10 cm", "", "deep"], [0.1016, 0.0508, 0.1, None, None]),
        ("depth (in)", ["4", "2", "6", "", "x"], [0.1016, 0.0508, 0.1524, None, None]),
        ("depth_cm", ["4", "-10", "6,5", "", "900"], [0.04, 0.1, 0.065, None, None]),
        ("depth", ["0.05", "0.1", "0.2", "", "."], [0.05, 0.1, 0.2, None, None]),
        ("depth", ["2", "4", "6", "", "."], [0.0508, 0.1016, 0.1524, None, None]),
    ],
)
def test_a_depth_column(tmp_path, heading, cells, expected):
    rows = [f"2025-03-1{k};{cell};52" for k, cell in enumerate(cells)]
    frame, _ = read(tmp_path, f"date;{heading};temp (F)\n" + "\n".join(rows))
    assert frame["depth_m"].tolist() == pytest.approx(
        [np.nan if e is None else e for e in expected], nan_ok=True
    )
    frame, _ = read(tmp_path, f"date;{heading};temp (F)\n" + "\n".join(rows), depth_m=0.3)
    assert frame["depth_m"].tolist() == pytest.approx([0.3 if e is None else e for e in expected])


def test_a_depth_given_fills_only_what_is_unknown(tmp_path):
    frame, _ = read(tmp_path, "date,temp_f\n2025-03-14,52\n", depth_m=0.1)
    assert frame["depth_m"].tolist() == [0.1]
    frame, account = read(tmp_path, "date,soil 4 in (F)\n2025-03-14,52\n", depth_m=0.1)
    assert frame["depth_m"].tolist() == pytest.approx([0.1016])
    assert any("depth_m was not used" in note for note in account.notes)
    for depth in (-1, 6, np.nan, "4in"):
        with pytest.raises(InputError, match="depth_m"):
            read(tmp_path, "date,temp_f\n2025-03-14,52\n", depth_m=depth)


@pytest.mark.parametrize(
    ("cells", "unit"),
    [
        (["52F", "55 F", "61.5°F", "60 deg F"], "F"),
        (["16,5 °C", "12 C", "9.5C", "8"], "C"),
        (["52F", "12C", "55F", "13 °C"], "both"),
    ],
)
def test_units_written_in_the_cells(tmp_path, cells, unit):
    rows = "\n".join(f"2025-03-1{k};{c}" for k, c in enumerate(cells))
    frame, account = read(tmp_path, "date;temp\n" + rows)
    expected = {
        "F": [(x - 32) / 1.8 for x in (52, 55, 61.5, 60)],
        "C": [16.5, 12, 9.5, 8],
        "both": [(52 - 32) / 1.8, 12, (55 - 32) / 1.8, 13],
    }[unit]
    assert frame["temp_c"].tolist() == pytest.approx(expected)
    assert account.why_units


@pytest.mark.parametrize(
    ("values", "unit"),
    [
        ((52, 55, 61, 58), "°F"),
        ((10, 12, 15, 14), "°C"),
        ((288, 290, 291, 289), "K"),
        ((22, 33, 41, 40), None),
        ((33, 34, 36, 35), None),
    ],
)
def test_units_by_evidence_or_asked_for(tmp_path, values, unit):
    text = "date,temp\n" + "\n".join(f"2025-03-1{k},{v}" for k, v in enumerate(values))
    if unit is None:
        with pytest.raises(FileError, match="--units F"):
            read(tmp_path, text)
        frame, _ = read(tmp_path, text, units="F")
        assert frame["temp_c"].tolist() == f(*values)
    else:
        _, account = read(tmp_path, text)
        assert account.units == unit


def test_a_unit_in_one_heading_serves_the_other(tmp_path):
    _, account = read(tmp_path, "date,soil 5cm (F),soil 10cm\n2025-03-14,40,41\n")
    assert "another column" in account.why_units
    _, account = read(tmp_path, "date,temp (C)\n2025-03-14,61\n2025-03-15,62\n", units="F")
    assert "the heading says C" in account.why_units


def test_a_column_of_units(tmp_path):
    frame, account = read(
        tmp_path, "Date,Temp,Unit\n2025-03-14,52,F\n2025-03-15,12,°C\n2025-03-16,50,fahrenheit\n"
    )
    assert frame["temp_c"].tolist() == pytest.approx([20 / 1.8, 12, 10])
    assert account.why_units == "written in the cells"
    assert account.units == "°C and °F"
    frame, _ = read(tmp_path, "Date,Depth,Temp\n2025-03-14,4,52F\n2025-03-15,4,53F\n")
    assert frame["depth_m"].tolist() == pytest.approx([0.1016, 0.1016])


def test_words_under_soil_are_no_temperatures(tmp_path):
    frame, _ = read(tmp_path, "Date,Soil,Bed,Temp\n2025-03-14,loam,A,52\n2025-03-15,loam,A,53\n")
    assert frame["temp_c"].tolist() == f(52, 53)


def test_the_same_in_two_units_is_taken_once(tmp_path):
    frame, _ = read(tmp_path, "date,temp (F),temp (C)\n2025-03-14,50,10\n2025-03-15,59,15\n")
    assert frame["temp_c"].tolist() == pytest.approx([10, 15])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("date,temp a (F),temp b (F)\n2025-03-14,50,60\n", "2 columns may be the soil"),
        ("date,temp a (F),temp b (C)\n2025-03-14,50,60\n", "2 columns may be the soil"),
        ("date,air (F)\n2025-03-14,50\n", "no column understood as a soil temperature"),
        ("date,tmax,tmin\n2025-03-14,50,40\n", "no column understood as a soil temperature"),
        ("date,temp_f\n", "no line with a date"),
        ("date,temp_f\n2025-03-14,\n", "none of 1 rows could be used .1 × no temperature"),
        ("date,temp_f\n3/4/2025,52\n3/5/2025,52\n", "--day-first or --month-first"),
        ("2025-03-14 50 60\n2025-03-15 51 61\n", "several numbers without a unit"),
    ],
)
def test_what_cannot_be_read_says_why(tmp_path, text, said):
    with pytest.raises(FileError, match=said) as caught:
        read(tmp_path, text)
    assert "log.txt" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_year_that_is_none_is_refused(tmp_path):
    for year in (12, np.inf, "2025"):
        with pytest.raises(InputError, match="year"):
            read(tmp_path, "3/14 a 52F\n", year=year)


def test_nothing_but_missing_marks(tmp_path):
    with pytest.raises(FileError, match="none of 2 rows"):
        read(tmp_path, "date,soil_c\n2025-03-14,---\n2025-03-15,M\n")


def test_day_first_as_asked(tmp_path):
    text = "date,temp_f\n3/4/2025,52\n3/5/2025,52\n"
    assert times(read(tmp_path, text, day_first=True)[0])[0] == "2025-04-03 00:00"
    assert times(read(tmp_path, text, day_first=False)[0])[0] == "2025-03-04 00:00"


def test_offsets_that_differ_come_to_standard_time(tmp_path):
    frame, account = read(
        tmp_path,
        "timestamp,soil_c\n2025-01-14T07:40:00-06:00,2.5\n2025-07-14T07:40:00-05:00,22.5\n",
    )
    assert times(frame) == ["2025-01-14 07:40", "2025-07-14 06:40"]
    assert any("UTC−06:00" in note for note in account.notes)
    frame, account = read(tmp_path, "timestamp,soil_c\n2025-01-14T07:40:00Z,2.5\n")
    assert times(frame) == ["2025-01-14 07:40"]
    assert any("UTC" in note for note in account.notes)
    frame, account = read(tmp_path, "timestamp,soil_c\n2025-01-14T07:40:00+05:30,2.5\n")
    assert times(frame) == ["2025-01-14 07:40"]
    assert account.notes[0].startswith("The depth")


def test_instants_without_an_hour_and_means_of_days(tmp_path):
    frame, account = read(tmp_path, "date,temp_f\n2025-03-14,52\n2025-03-14,55\n2025-03-17,53\n")
    assert set(frame["span"]) == {"instant"}
    assert not frame["hour_known"].any()
    assert len(frame) == 3  # two readings of unknown hour on one day may differ
    assert "Without an hour: 3 readings." in account.notes
    for heading in ("avg soil temp (F)", "daily soil temp (F)", "soil_mean_f"):
        frame, account = read(tmp_path, f"date,{heading}\n2025-03-14,52\n2025-03-17,53\n")
        assert set(frame["span"]) == {"day"}
        assert not any("Without an hour" in note for note in account.notes)
    frame, _ = read(tmp_path, "date,tmax_c,tmin_c,soil10_c\n2025-03-14,9,1,7\n2025-03-15,9,1,7\n")
    assert set(frame["span"]) == {"day"}


def test_a_value_a_day_with_decimals_is_a_loggers_daily_mean(tmp_path):
    days = pd.date_range("2024-01-01", periods=120)
    values = 10 + 3 * np.sin(np.arange(120) / 20)
    rows = [f"{d:%Y-%m-%d},{v:.2f}" for d, v in zip(days, values, strict=True)]
    frame, account = read(tmp_path, "date,soil_c\n" + "\n".join(rows))
    assert set(frame["span"]) == {"day"}
    assert any("daily means of a logger" in note for note in account.notes)
    midnight = "time,soil_c\n" + "\n".join(r.replace(",", " 00:00,") for r in rows)
    assert set(read(tmp_path, midnight)[0]["span"]) == {"day"}
    whole = "date,soil_c\n" + "\n".join(f"{r.split('.')[0]}" for r in rows)
    assert set(read(tmp_path, whole)[0]["span"]) == {"instant"}
    weekly = "date,soil_c\n" + "\n".join(rows[::7])
    assert set(read(tmp_path, weekly)[0]["span"]) == {"instant"}


def test_an_hour_in_the_heading(tmp_path):
    frame, _ = read(tmp_path, "date,soil10_1700mst_c\n2025-03-14,9.5\n2025-03-15,9.6\n")
    assert times(frame) == ["2025-03-14 17:00", "2025-03-15 17:00"]
    assert frame["hour_known"].all()
    assert set(frame["span"]) == {"instant"}


def test_an_hour_column_and_midnight_as_24(tmp_path):
    frame, _ = read(tmp_path, "date,hour,soil_c\n2025-03-14,7,9.5\n2025-03-14,24,8.5\n")
    assert times(frame) == ["2025-03-14 07:00", "2025-03-15 00:00"]
    frame, account = read(
        tmp_path, "date,time,soil_c\n2025-03-14,7:40,9.5\n2025-03-14,,8.5\n2025-03-14,late,8\n"
        "2025-03-14,26:00,8\n"
    )  # fmt: skip
    assert frame["hour_known"].tolist() == [False, True]
    assert [(r.line, r.reason) for r in account.refused] == [
        (4, "not a time of day: 'late'"),
        (5, "impossible date or time: '26:00'"),
    ]


def test_repeats_and_conflicts_are_counted(tmp_path):
    frame, account = read(
        tmp_path,
        "time,soil_c\n2025-03-14 07:00,9.5\n2025-03-14 07:00,9.5\n2025-03-14 08:00,9.6\n"
        "2025-03-14 08:00,9.9\n",
    )
    assert frame["temp_c"].tolist() == [9.5, 9.6]
    assert account.refused_count == {
        "reading given again with the same value": 1,
        "reading given again with another value (the first was kept)": 1,
    }
    two = "\n".join(f"2025-03-14 {h:02d}:00,{9 + s}" for h in range(10) for s in (0, 1))
    with pytest.raises(FileError, match="one thermometer a file"):
        read(tmp_path, "time,soil_c\n" + two)


def test_missing_codes_words_and_impossible_values(tmp_path):
    frame, account = read(
        tmp_path,
        "time,soil_c\n2025-03-14 07:00,9.5\n2025-03-14 08:00,-9999\n2025-03-14 09:00,M\n"
        "2025-03-14 10:00,cold\n2025-03-14 11:00,-127\n2025-03-14 12:00,NaN\n",
    )
    assert len(frame) == 1
    assert account.refused_count == {
        "a code for missing": 1,
        "no temperature": 2,
        "not a number": 1,
        "value out of range": 1,
    }
    assert [s.kind for s in account.suspects] == ["out of range"]


def test_gaps_are_counted_in_days(tmp_path):
    _, account = read(
        tmp_path, "time,soil_c\n2025-03-14 07:00,9\n2025-03-15 07:00,9\n2025-03-20 07:00,8\n"
    )
    assert (account.gap_days, account.longest_gap) == (4, "4 days, 2025-03-16 to 2025-03-19")


def test_several_files_join(tmp_path):
    for year in (2024, 2025):
        packed = gzip.compress(f"date,soil 4 in (F)\n{year}-03-14,52\n".encode())
        (tmp_path / str(year)).write_bytes(packed)
    frame = read_readings(tmp_path)
    assert times(frame) == ["2024-03-14 00:00", "2025-03-14 00:00"]
    assert account_of(read_readings(sorted(tmp_path.iterdir()))).rows_read == 2


LOG = st.lists(
    st.tuples(st.integers(0, 500_000), st.integers(-50, 380)),
    min_size=1,
    max_size=25,
    unique_by=lambda t: t[0],
)
STYLES = (
    "%Y-%m-%d %H:%M",
    "%Y-%m-%dT%H:%M:00",
    "%d %b %Y %I:%M %p",
    "%Y%m%d%H%M",
    "%Y/%m/%d %H:%M",
)
DIALECT = st.tuples(
    st.sampled_from([",", ";", "\t", "|"]),
    st.sampled_from(["C", "F"]),
    st.sampled_from(STYLES),
    st.booleans(),
    st.sampled_from(["", "Logger 7\nstart,ok\n\n", "# made by hand\n"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    st.sampled_from(["\n", "\r\n"]),
)


@settings(max_examples=60, deadline=None)
@given(LOG, DIALECT)
def test_what_was_written_reads_back(tmp_path_factory, rows, dialect):
    delimiter, unit, style, comma, preamble, encoding, end = dialect
    base = pd.Timestamp("2023-06-01")
    decimal = "," if comma and delimiter != "," else "."
    lines = [*preamble.split("\n"), delimiter.join(["Date Time", f"Soil 10 cm (°{unit})", "Note"])]
    for minutes, tenths in rows:
        time = base + pd.Timedelta(minutes=minutes)
        value = tenths / 10 if unit == "C" else c_to_f(tenths / 10)
        text = f"{value:.2f}".replace(".", decimal)
        lines.append(delimiter.join([time.strftime(style), text, "fine day"]))
    path = write(tmp_path_factory.mktemp("log"), end.join(lines) + end, encoding)
    frame = read_readings(path)
    account = account_of(frame)
    assert account.rows_read == len(rows)
    assert account.rows_read == account.rows_used + sum(account.refused_count.values())
    found = dict(zip(frame["time"], frame["temp_c"], strict=True))
    dropped = account.rows_read - account.rows_used
    assert dropped == account.refused_count.get("stuck sensor", 0)
    for minutes, tenths in rows:
        value = found.get(base + pd.Timedelta(minutes=minutes))
        assert value == pytest.approx(tenths / 10, abs=0.006) or dropped
    assert frame["depth_m"].eq(0.10).all()


def test_real_probe_files(shared_data):
    hourly = read_readings(shared_data / "probe" / "reynolds_176x14_hourly.csv.gz")
    raw = pd.read_csv(shared_data / "probe" / "reynolds_176x14_hourly.csv.gz", parse_dates=["time"])
    for depth in (5, 10, 20):
        mine = hourly[hourly["depth_m"] == depth / 100].set_index("time")["temp_c"]
        theirs = raw.set_index("time")[f"soil{depth}_c"].dropna()
        theirs.index = theirs.index.as_unit("ns")
        pd.testing.assert_series_equal(mine, theirs, check_names=False)
    assert hourly["hour_known"].all()
    evening = read_readings(shared_data / "probe" / "ars_reynolds_127x07_soil_at_1700.csv")
    assert set(evening["time"].dt.hour) == {17}
    days = read_readings(shared_data / "uscrn_daily" / "SC_Blackville_3_W.csv.gz")
    assert set(days["span"]) == {"day"}
    assert sorted(set(days["depth_m"])) == [0.05, 0.10, 0.20]
