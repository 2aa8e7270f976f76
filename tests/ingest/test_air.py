"""`read_air` on tables as people keep them."""

import gzip
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.ground.errors import FileError, InputError
from forecaster.ground.units import c_to_f
from forecaster.ingest import account_of, read_air

DAYS = pd.date_range("2023-01-01", "2024-02-29")
SEASON = 12 - 12 * np.cos(2 * np.pi * (DAYS.day_of_year.to_numpy() - 20) / 365.25)
HIGH, LOW = np.round(SEASON + 6, 1), np.round(SEASON - 5, 1)


def write(folder, text, name="air.csv"):
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def table(heading, rows):
    return heading + "\n" + "\n".join(rows) + "\n"


def read(folder, text, **options):
    frame = read_air(write(folder, text), **options)
    account = account_of(frame)
    assert account.rows_used + sum(account.refused_count.values()) == account.rows_read
    return frame, account


@pytest.mark.parametrize(
    ("heading", "row"),
    [
        ("date,tmax_c,tmin_c", "{d:%Y-%m-%d},{h},{l}"),
        ("Date,High,Low", "{d:%m/%d/%Y},{h},{l}"),
        ("Date,Low (°F),High (°F)", "{d:%m/%d/%Y},{lf},{hf}"),
        ("Date;Max Temp;Min Temp", "{d:%d.%m.%Y};{hc};{lc}"),
        ("day\tTmax [K]\tTmin [K]", "{d:%Y-%m-%d}\t{hk}\t{lk}"),
        ("Year,Month,Day,T2M_MAX,T2M_MIN,RH2M", "{d.year},{d.month},{d.day},{h},{l},50"),
        ("YEAR,DOY,T2M_MAX,T2M_MIN", "{d.year},{d.day_of_year},{h},{l}"),
        ("year,month,day,tmax,tmin", "{d.year},{d:%b},{d.day},{h},{l}"),
        ("time,temperature_2m_max (°C),temperature_2m_min (°C)", "{d:%Y-%m-%d},{h},{l}"),
        ("date  tmax  tmin", "{d:%Y-%m-%d}  {h}  {l}"),
        ('"Date","Max","Min"', '"{d:%b %d, %Y}","{h} C","{l} C"'),
        ("date,soil_c,air max,air min,max soil,min soil", "{d:%Y-%m-%d},1,{h},{l},99,98"),
    ],
)
def test_headings_people_use(tmp_path, heading, row):
    rows = [
        row.format(
            d=d, h=h, l=low, hf=round(c_to_f(h), 2), lf=round(c_to_f(low), 2),
            hk=round(h + 273.15, 2), lk=round(low + 273.15, 2),
            hc=str(h).replace(".", ","), lc=str(low).replace(".", ","),
        )
        for d, h, low in zip(DAYS, HIGH, LOW, strict=True)
    ]  # fmt: skip
    frame, account = read(tmp_path, table(heading, rows))
    assert frame.index.equals(DAYS.rename("date"))
    np.testing.assert_allclose(frame["tmax_c"], HIGH, atol=0.006)
    np.testing.assert_allclose(frame["tmin_c"], LOW, atol=0.006)
    assert account.rows_read == account.rows_used == len(DAYS)
    assert account.format
    assert account.why_format
    assert account.why_units


def test_a_table_without_a_heading(tmp_path):
    rows = [f"{d:%Y-%m-%d},{low},{h}" for d, h, low in zip(DAYS, HIGH, LOW, strict=True)]
    frame, account = read(tmp_path, "\n".join(rows))
    np.testing.assert_allclose(frame["tmax_c"], HIGH)
    assert "without a heading" in account.format


def test_a_column_of_means_only(tmp_path):
    rows = [f"{d:%Y-%m-%d},{h}" for d, h in zip(DAYS, HIGH, strict=True)]
    frame, account = read(tmp_path, table("date,mean temp (°C)", rows))
    assert frame[["tmin_c", "tmax_c"]].isna().all(axis=None)
    np.testing.assert_allclose(frame["tavg_c"], HIGH)
    assert any("means" in note for note in account.notes)
    assert account.gap_days == 0


def test_rain_goes_with_the_temperatures(tmp_path):
    rows = [f"{d:%Y-%m-%d},60,40,0.5" for d in DAYS[:40]]
    frame, _ = read(tmp_path, table("date,tmax_f,tmin_f,rain", rows))
    np.testing.assert_allclose(frame["precip_mm"], 12.7)
    frame, _ = read(tmp_path, table("date,tmax_f,tmin_f,rain (mm)", rows))
    np.testing.assert_allclose(frame["precip_mm"], 0.5)
    frame, account = read(tmp_path, table("date,tmax_f,tmin_f,rain", [r + "0" for r in rows]))
    np.testing.assert_allclose(frame["precip_mm"], 12.7)
    frame, account = read(
        tmp_path, table("date,tmax_f,tmin_f,rain", [r[:-3] + "8.5" for r in rows])
    )
    np.testing.assert_allclose(frame["precip_mm"], 8.5)
    assert "no place has such rain" in account.why_units
    frame, _ = read(tmp_path, table("date,tmax_f,tmin_f,rain (in)", [r[:-3] + "T" for r in rows]))
    assert (frame["precip_mm"] == 0).all()


def test_thin_evidence_of_the_unit_asks_for_the_option(tmp_path):
    rows = [f"{d:%Y-%m-%d},{h},{low}" for d, h, low in zip(DAYS[:60], HIGH, LOW, strict=False)]
    path = write(tmp_path, table("date,high,low", rows))
    with pytest.raises(FileError, match="--units F"):
        read_air(path)
    np.testing.assert_allclose(read_air(path, units="C")["tmax_c"], HIGH[:60])
    np.testing.assert_allclose(read_air(path, units="F")["tmax_c"], (HIGH[:60] - 32) / 1.8)
    assert account_of(read_air(path, units="°F")).why_units == "as asked"
    with pytest.raises(InputError, match="expected F, C or K"):
        read_air(path, units="Q")


def test_two_files_of_two_stations_are_refused(tmp_path):
    for name in "ab":
        write(tmp_path, f"STATION,DATE,TMAX (C),TMIN (C)\n{name},2024-05-01,20,10\n", name)
    with pytest.raises(FileError, match="2 stations: a, b"):
        read_air(tmp_path)


def test_the_option_stands_above_the_heading_and_says_so(tmp_path):
    path = write(tmp_path, "date,tmax_c,tmin_c\n2024-05-01,68,50\n2024-05-02,68,50\n")
    frame = read_air(path, units="F")
    assert frame["tmax_c"].tolist() == pytest.approx([20, 20])
    assert "the heading says C" in account_of(frame).why_units


def test_missing_days_are_rows_without_values(tmp_path):
    frame, account = read(
        tmp_path, "date,tmax_c,tmin_c\n2024-05-01,20,10\n2024-05-04,21,9\n2024-05-02,,\n"
    )
    assert len(frame) == 4
    assert frame["tmax_c"].isna().tolist() == [False, True, True, False]
    assert account.gap_days == 2
    assert account.longest_gap == "2 days, 2024-05-02 to 2024-05-03"
    assert account.refused_count == {"no temperature or rain": 1}
    assert account.refused[0].line == 4


def test_impossible_dates_are_refused_with_their_lines(tmp_path):
    _, account = read(
        tmp_path,
        "date,tmax_c,tmin_c\n2024-02-29,9,1\n2023-02-29,9,1\nfoo,9,1\n,9,1\n2024-03-01,9,1\n",
    )
    assert [(r.line, r.reason) for r in account.refused] == [
        (3, "impossible date or time: '2023-02-29'"),
        (4, "not a date: 'foo'"),
        (5, "no date"),
    ]
    _, account = read(
        tmp_path, "year,month,day,tmax_c,tmin_c\n2024,2,30,9,1\n2024,3,1,9,1\n,,,9,1\n"
    )
    assert [(r.line, r.reason) for r in account.refused] == [
        (2, "impossible date or time: '2024 2 30'"),
        (4, "no date"),
    ]


def test_days_given_again(tmp_path):
    frame, account = read(
        tmp_path,
        "date,tmax_c,tmin_c\n2024-05-01,20,10\n2024-05-01,20,10\n2024-05-02,21,9\n"
        "2024-05-02,25,9\n2024-05-03,20,\n2024-05-03,,11\n",
    )
    assert account.refused_count == {
        "day given again with the same values": 1,
        "day given again with other values (the first was kept)": 1,
    }
    assert frame["tmax_c"].tolist() == [20, 21, 20]
    assert frame["tmin_c"].tolist() == [10, 9, 11]


def test_values_that_cannot_be_are_dropped_and_told(tmp_path):
    frame, account = read(
        tmp_path,
        "date,tmax_c,tmin_c,rain_mm\n2024-05-01,20,10,0\n2024-05-02,85,10,0\n"
        "2024-05-03,5,15,3\n2024-05-04,20,abc,0\n2024-05-05,-9999,-9999,-1\n2024-05-06,20,9,1\n",
    )
    assert frame["tmax_c"].isna().tolist() == [False, True, True, False, True, False]
    assert frame["tmin_c"].isna().tolist() == [False, False, True, True, True, False]
    assert frame["precip_mm"].iloc[2] == 3
    kinds = {(s.kind, s.first, s.action) for s in account.suspects}
    assert ("out of range", "2024-05-02", "dropped") in kinds
    assert ("minimum above maximum", "2024-05-03", "dropped") in kinds
    assert ("out of range", "2024-05-05", "dropped") in kinds
    assert "1 cell held no number and stayed empty." in account.notes
    assert "2 cells held a code for missing, as -9999." in account.notes
    assert account.refused_count == {"value out of range": 1}


def test_a_row_of_words_is_no_number(tmp_path):
    _, account = read(tmp_path, "date,tmax_c,tmin_c\n2024-05-01,20,10\n2024-05-02,hot,cold\n")
    assert [(r.line, r.reason) for r in account.refused] == [(3, "not a number: 'cold'")]


def test_a_morning_maximum_belongs_to_the_day_before(tmp_path):
    rows = [f"{d:%Y-%m-%d},{h},{low}" for d, h, low in zip(DAYS, HIGH, LOW, strict=True)]
    path = write(tmp_path, table("date,tmax_c,tmin_c", rows))
    plain, moved = read_air(path), read_air(path, obs_hour=7)
    assert moved.index[0] == plain.index[0] - pd.Timedelta(days=1)
    np.testing.assert_array_equal(moved["tmax_c"].iloc[:-1], plain["tmax_c"])
    np.testing.assert_array_equal(moved["tmin_c"].iloc[1:], plain["tmin_c"])
    assert "moved to the day before" in " ".join(account_of(moved).notes)
    for hour in (0, 12, 17, 23):
        pd.testing.assert_frame_equal(read_air(path, obs_hour=hour), plain)
    for hour in (24, -1, 7.5, "7"):
        with pytest.raises(InputError, match="obs_hour"):
            read_air(path, obs_hour=hour)


def test_a_column_of_observation_times_moves_the_maximum(tmp_path):
    frame, account = read(
        tmp_path,
        "date,time,tmax_c,tmin_c\n2024-05-01,07:00,20,10\n2024-05-02,07:00,21,9\n"
        "2024-05-03,17:00,22,8\n",
    )
    assert frame["tmax_c"].tolist()[:2] == [20, 21]
    assert np.isnan(frame["tmax_c"].iloc[2])
    assert frame["tmax_c"].iloc[3] == 22
    assert "07:00, by the file's own time" in " ".join(account.notes)


def test_a_changed_time_of_observation_keeps_the_first_maximum(tmp_path):
    _, account = read(
        tmp_path,
        "date,time,tmax_c,tmin_c\n2024-05-01,17:00,20,\n2024-05-02,07:00,21,\n2024-05-03,7:00,23,\n",
    )
    assert account.refused_count == {"maximum moved onto a day that has one already": 1}


def test_several_stations_are_refused(tmp_path):
    two = [f"2024-05-{d:02d},{20 + s},{10 + s}" for d in range(1, 20) for s in range(2)]
    with pytest.raises(FileError, match="one row a day of one station"):
        read_air(write(tmp_path, table("date,tmax_c,tmin_c", two)))
    named = [f"s{s}," + row for row, s in zip(two, [0, 1] * 19, strict=True)]
    with pytest.raises(FileError, match="2 stations"):
        read_air(write(tmp_path, table("station,date,tmax_c,tmin_c", named)))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("date,tmax_c\n2024-05-01,20\n", "no column understood as a daily maximum and minimum"),
        ("date,humidity\n2024-05-01,20\n", "no column understood"),
        ("tmax_c,tmin_c\n20,10\n", "no line with a date"),
        ("date,tmax_c,tmin_c\n2024-05-01,,\n", "none of 1 rows"),
        ("month,day,tmax_c,tmin_c\n5,1,20,10\n", "no line with a date"),
        ("year,tmax_c,tmin_c\n2024,20,10\n", "no column understood as a date"),
        ("2024-05-01,5\n2024-05-02,6\n", "no column understood"),
        ("2024-05-01,5,6\n2024-05-02,6,5\n", "no column understood"),
    ],
)
def test_what_cannot_be_read_says_why(tmp_path, text, said):
    path = write(tmp_path, text)
    with pytest.raises(FileError, match=said) as caught:
        read_air(path)
    assert str(path) in str(caught.value)


def test_years_in_a_folder_a_list_and_an_archive(tmp_path):
    rows = [f"{d:%Y-%m-%d},{h},{low}" for d, h, low in zip(DAYS, HIGH, LOW, strict=True)]
    whole = read_air(write(tmp_path, table("date,tmax_c,tmin_c", rows)))
    folder = tmp_path / "years"
    folder.mkdir()
    write(folder, table("date,tmax_c,tmin_c", rows[:365]), "2023.csv")
    write(folder, gzip.compress(table("date,tmax_c,tmin_c", rows[365:]).encode()), "2024.csv.gz")
    for path in (folder, sorted(folder.iterdir()), tuple(folder.iterdir())):
        found = read_air(path)
        pd.testing.assert_frame_equal(found, whole)
        assert "2 files" in account_of(found).format
        assert len(account_of(found).files) == 2
    broken = table("date,tmax_c,tmin_c", [*rows[365:], "2024-13-01,1,0"])
    write(folder, broken, "2024.csv.gz")
    (refusal,) = account_of(read_air(folder)).refused
    assert refusal.file.endswith("2024.csv.gz")
    assert refusal.line == len(rows) - 365 + 2


def test_a_day_after_a_day_decides_the_order(tmp_path):
    rows = "".join(f"{{}}/{{}}/2025,8{k},60\n" for k in range(3))
    month_first = rows.format(3, 1, 3, 2, 3, 3)
    frame, account = read(tmp_path, "Date,High,Low\n" + month_first)
    assert frame.index[-1] == pd.Timestamp("2025-03-03")
    assert "Dates read month first: only so does a day follow on a day." in account.notes
    day_first = rows.format(1, 3, 2, 3, 3, 3)
    assert read(tmp_path, "Date,High,Low\n" + day_first)[0].index[-1] == frame.index[-1]
    with pytest.raises(FileError, match="--day-first"):
        read(tmp_path, "Date,High,Low\n" + rows.format(3, 3, 4, 4, 5, 5))


def test_what_is_no_table_in_a_folder_is_passed_over_and_told(tmp_path):
    write(tmp_path, "date,tmax_c,tmin_c\n2024-05-01,20,10\n", "2024.csv")
    write(tmp_path, "Read me first.\n", "readme.txt")
    (note,) = account_of(read_air(tmp_path)).notes
    assert note.endswith("readme.txt holds no table and was passed over.")
    with pytest.raises(FileError, match="no line with a date"):
        read_air(tmp_path / "readme.txt")
    write(tmp_path, "Nor this.\n", "2024.csv")
    with pytest.raises(FileError, match="no line with a date"):
        read_air(tmp_path)


@pytest.mark.parametrize(
    ("above", "place"),
    [
        ("Location: Latitude  33.36   Longitude -81.33\n", (33.36, -81.33)),
        ("latitude,longitude,elevation\n52.52,13.41,38.0\n\n", (52.52, 13.41)),
        ("# lat: −33.9 lon: 151.2\n", (-33.9, 151.2)),
        ("Latitude: 95.0\n", (None, None)),
        ("Lat 33.4\n", (33.4, None)),
        ("Latitude and longitude on request\n", (None, None)),
        ("", (None, None)),
    ],
)
def test_coordinates_above_the_table(tmp_path, above, place):
    _, account = read(tmp_path, above + "date,tmax_c,tmin_c\n2024-05-01,20,10\n")
    assert (account.latitude_deg, account.longitude_deg) == place


def test_remarks_are_no_rows(tmp_path):
    frame, account = read(
        tmp_path,
        "date,tmax_c,tmin_c\n2024-05-01,20,10 # fine\n# a remark\n// another\n% third\n"
        "2024-05-02,21,11\n",
    )
    assert account.rows_read == len(frame) == 2


def test_the_same_account_follows_the_table(tmp_path):
    frame = read_air(write(tmp_path, "date,tmax_c,tmin_c\n2024-05-01,20,10\n"))
    assert account_of(frame.copy()) is account_of(frame)
    with pytest.raises(InputError, match="no account"):
        account_of(pd.DataFrame())


RECORD = st.lists(
    st.tuples(st.integers(0, 120), st.integers(-300, 250), st.integers(0, 200)),
    min_size=1,
    max_size=30,
    unique_by=lambda t: t[0],
)
DIALECT = st.tuples(
    st.sampled_from([",", ";", "\t", "|"]),
    st.sampled_from(["C", "F", "K"]),
    st.sampled_from(["%Y-%m-%d", "%Y%m%d", "%d %b %Y", "%Y/%m/%d", "%B %d %Y", "%Y-%j"]),
    st.booleans(),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    st.booleans(),
)


@settings(max_examples=60, deadline=None)
@given(RECORD, DIALECT)
def test_what_was_written_reads_back(tmp_path_factory, days, dialect):
    delimiter, unit, style, comma, encoding, quoted = dialect
    base = pd.Timestamp("2023-06-01")
    convert = {"C": lambda c: c, "F": c_to_f, "K": lambda c: c + 273.15}[unit]
    decimal = "," if comma and (delimiter != "," or quoted) else "."

    def cell(text):
        return f'"{text}"' if quoted else text

    def number(value):
        return cell(f"{convert(value):.2f}".replace(".", decimal))

    lines = [delimiter.join([cell("Date"), cell(f"Min (°{unit})"), cell(f"Max (°{unit})")])]
    for offset, low, spread in days:
        date = (base + pd.Timedelta(days=offset)).strftime(style)
        low_c, high_c = low / 10, (low + spread) / 10
        lines.append(delimiter.join([cell(date), number(low_c), number(high_c)]))
    path = write(tmp_path_factory.mktemp("air"), ("\n".join(lines) + "\n").encode(encoding))
    frame = read_air(path)
    account = account_of(frame)
    assert account.rows_read == account.rows_used + sum(account.refused_count.values())
    assert account.rows_read == len(days)
    dropped = {s.first for s in account.suspects if s.action == "dropped"}
    for offset, low, spread in days:
        row = frame.loc[base + pd.Timedelta(days=offset)] if not dropped else None
        if row is not None:
            assert row["tmin_c"] == pytest.approx(low / 10, abs=0.006)
            assert row["tmax_c"] == pytest.approx((low + spread) / 10, abs=0.006)


def test_importing_the_readers_is_light():
    code = (
        "import sys, forecaster.ingest;"
        "bad = {'matplotlib', 'scipy', 'rich', 'requests', 'click'} & set(sys.modules);"
        "sys.exit(str(bad) if bad else 0)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
