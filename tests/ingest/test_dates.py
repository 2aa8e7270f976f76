"""Columns of dates and times, read by their shape."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_readings
from forecaster.ingest.text.dates import Where, civil_days, read_clock, read_stamps
from forecaster.ingest.text.shapes import as_bytes, layout_of

HERE = Where("log.csv", 1, "date")


def stamps(*cells, **options):
    return read_stamps(np.array(cells, dtype=object), HERE, **options)


def one(cell, **options):
    """Return a cell's date and time in ISO, or how it is bad."""
    found = stamps(cell, **options)
    if found.bad[0]:
        return int(found.bad[0])
    day = str(found.day[0])
    if found.nanosecond[0] < 0:
        return day
    return day + " " + str(np.timedelta64(int(found.nanosecond[0]) // 10**9, "s").astype(int))


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("2025-03-14", "2025-03-14"),
        ("2025/3/4", "2025-03-04"),
        ("2025.03.14", "2025-03-14"),
        ("20250314", "2025-03-14"),
        ("2025-073", "2025-03-14"),
        ("14 Mar 2025", "2025-03-14"),
        ("14-MAR-25", "2025-03-14"),
        ("March 14th, 2025", "2025-03-14"),
        ("Fri, 14 March 2025", "2025-03-14"),
        ("Friday 14 Sept. 1999", "1999-09-14"),
        ("2025 Mar 14", "2025-03-14"),
        ("2025-03-14T07:40:30Z", "2025-03-14 27630"),
        ("2025-03-14 07:40", "2025-03-14 27600"),
        ("2025-03-14 7:40 PM", "2025-03-14 70800"),
        ("2025-03-14 12:05 a.m.", "2025-03-14 300"),
        ("2025-03-14 12:00:00 PM", "2025-03-14 43200"),
        ("2025-03-14, 7.40 am", "2025-03-14 27600"),
        ("14.03.2025 um 7", 1),
        ("20250314T074030", "2025-03-14 27630"),
        ("202503140740", "2025-03-14 27600"),
        ("2025-03-14 24:00", "2025-03-15 0"),
        ("2025-03-14 07:40:30.250", "2025-03-14 27630"),
        ("2025-03-14 7 am", "2025-03-14 25200"),
        ("2025-03-14 07h40", "2025-03-14 27600"),
        ("1741938030", "2025-03-14 27630"),
        ("1741938030000", "2025-03-14 27630"),
        ("45730", "2025-03-14"),
        ("45730.5", "2025-03-14 43200"),
        ("2025-02-30", 2),
        ("2025-02-29", 2),
        ("2025-13-01", 2),
        ("2025-00-01", 2),
        ("2025-366", 2),
        ("2025-03-14 25:00", 2),
        ("2025-03-14 07:61", 2),
        ("2025-03-14 13:05 PM", 2),
        ("0001-01-01", 2),
        ("9999999999", 2),
        ("14 Foo 2025", 1),
        ("spring", 1),
        ("2025-03", 1),
        ("x" * 99, 1),
        ("2025-03-14" + " " * 80, 1),
        ("", 1),
    ],
)
def test_one_date(cell, expected):
    assert one(cell) == expected


def test_spreadsheet_and_epoch_days_agree_with_pandas():
    days = pd.to_datetime([45730, 36526, 20000], unit="D", origin="1899-12-30")
    assert [one(s) for s in ("45730", "36526", "20000")] == [str(d.date()) for d in days]
    assert pd.Timestamp(1741938030, unit="s") == pd.Timestamp("2025-03-14 07:40:30")


@pytest.mark.parametrize(
    ("cells", "expected", "why"),
    [
        (["13/2/2025", "1/3/2025"], ["2025-02-13", "2025-03-01"], "day first"),
        (["2/13/2025", "3/1/2025"], ["2025-02-13", "2025-03-01"], "month first"),
        (["1.3.2025", "2.3.25"], ["2025-03-01", "2025-03-02"], "dots"),
        (["25-03-14", "25-03-31"], ["2025-03-14", "2025-03-31"], "year first"),
        (["99-03-14"], ["1999-03-14"], "year first"),
        (["14-03-25", "31-03-25"], ["2025-03-14", "2025-03-31"], "day first"),
        (
            ["5/2/2025", "12/2/2025", "1/3/2025", "8/3/2025"],
            ["2025-02-05", "2025-02-12", "2025-03-01", "2025-03-08"],
            "run forward",
        ),
        (
            ["2/5/2025", "2/12/2025", "3/1/2025", "3/8/2025"],
            ["2025-02-05", "2025-02-12", "2025-03-01", "2025-03-08"],
            "month first: only so",
        ),
    ],
)
def test_the_order_of_day_and_month_comes_from_the_whole_column(cells, expected, why):
    found = stamps(*cells)
    assert [str(d) for d in found.day] == expected
    assert why in found.why_order


def test_an_order_that_nothing_decides_is_asked_for():
    with pytest.raises(FileError, match="--day-first or --month-first") as caught:
        stamps("3/4/2025", "3/5/2025")
    assert caught.value.column == 1
    assert [str(d) for d in stamps("3/4/2025", day_first=True).day] == ["2025-04-03"]
    assert [str(d) for d in stamps("3/4/2025", day_first=False).day] == ["2025-03-04"]


def test_an_order_that_the_column_contradicts_is_asked_for():
    with pytest.raises(FileError, match="only make sense"):
        stamps("13/2/2025", "2/13/2025")
    found = stamps("13/2/2025", "2/13/2025", day_first=True)
    assert list(found.bad) == [0, 2]


def test_one_slip_among_many_does_not_turn_the_order():
    found = stamps(*(f"{d}/2/2025" for d in range(13, 28)), "2/13/2025")
    assert "day first" in found.why_order
    assert list(found.bad) == [0] * 15 + [2]


def test_dates_without_a_year_need_one_and_wrap_at_new_year():
    with pytest.raises(FileError, match="--year"):
        stamps("3/14")
    found = stamps("12/20", "12/27", "1/3", year=2024)
    assert [str(d) for d in found.day] == ["2024-12-20", "2024-12-27", "2025-01-03"]
    assert "2024 to 2025" in found.notes[0]
    assert [str(d) for d in stamps("Mar 14", "15 Apr", "16.5.", year=2025).day] == [
        "2025-03-14",
        "2025-04-15",
        "2025-05-16",
    ]


def test_two_digit_years_turn_at_69():
    assert [str(d)[:4] for d in stamps("1.1.68", "1.1.69").day] == ["2068", "1969"]


def test_offsets_are_read_beside_the_time():
    found = stamps("2025-03-14T07:40-05:00", "2025-03-14T07:40Z", "2025-03-14T07:40 +0530")
    assert list(found.offset_min) == [-300, 0, 330]
    assert set(found.nanosecond) == {27600 * 10**9}


@given(st.dates(dt.date(1700, 1, 1), dt.date(2199, 12, 31)), st.times())
def test_every_date_reads_back_in_every_spelling(date, time):
    seconds = (time.hour * 60 + time.minute) * 60 + time.second
    for spelled in (
        f"{date} {time:%H:%M:%S}",
        f"{date:%Y%m%d}T{time:%H%M%S}",
        f"{date.day} {date:%b} {date.year} {time:%I:%M:%S %p}",
        f"{date:%B} {date.day}, {date.year} {time:%H:%M:%S}",
    ):
        assert one(spelled.replace(f"{date:%Y%m%d}", str(date).replace("-", ""))) == (
            f"{date} {seconds}"
        )
    slash = f"{date.month}/{date.day}/{date.year}"
    assert one(slash, day_first=False) == str(date)
    assert one(f"{date.day}.{date.month}.{date.year}") == str(date)


@given(st.integers(1600, 2300), st.integers(-1, 14), st.integers(-1, 33))
def test_civil_days_agree_with_the_standard_library(year, month, day):
    found = civil_days(*(np.array([k]) for k in (year, month, day)))[0]
    try:
        expected = dt.date(year, month, day)
    except ValueError:
        assert np.isnat(found)
    else:
        assert np.isnat(found) if not 1700 <= year <= 2200 else str(found) == str(expected)


@given(st.lists(st.text(max_size=60), max_size=20))
def test_any_text_is_a_date_or_bad(cells):
    try:
        found = read_stamps(np.array(cells, dtype=object), HERE, day_first=True, year=2025)
    except FileError:
        return
    assert len(found.day) == len(cells)
    assert (np.isnat(found.day) == (found.bad > 0)).all()


@pytest.mark.parametrize(
    ("cell", "seconds", "bad"),
    [
        ("7:40", 27600, 0),
        ("07:40:10", 27610, 0),
        ("7.40 pm", 70800, 0),
        ("7pm", 68400, 0),
        ("0740", 27600, 0),
        ("740", 27600, 0),
        ("7", 25200, 0),
        ("7.0", 25200, 0),
        ("24:00", 86400, 0),
        ("25", None, 2),
        ("7:99", None, 2),
        ("morning", None, 1),
        ("", None, 1),
    ],
)
def test_times_of_day(cell, seconds, bad):
    nanosecond, _, found = read_clock(np.array([cell], dtype=object))
    assert found[0] == bad
    if seconds is not None:
        assert nanosecond[0] == seconds * 10**9


def test_a_column_of_very_many_shapes():
    cells = [f"{'x' * (k % 40)}{'y' * (k // 40)}" for k in range(400)] + ["2025-03-14"]
    found = stamps(*cells)
    assert str(found.day[-1]) == "2025-03-14"
    assert (found.bad[:-1] == 1).all()


def test_cells_as_bytes_and_layouts():
    assert as_bytes(np.array(["ü1"], dtype=object))[0] == b"?1"
    assert as_bytes(np.array(["z" * 90], dtype=object))[0] == b"?"
    assert layout_of("nonsense") is None
    assert layout_of(" 00/00/0000 ").separator == "/"
    assert len(stamps().day) == 0


def log_times(tmp_path, text):
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    frame = read_readings(path)
    return frame["time"], account_of(frame)


def test_the_step_of_a_log_decides_day_and_month(tmp_path):
    steps = pd.date_range("2021-04-08 22:00", periods=20, freq="15min")
    for style, first in (("%m.%d.%y %H:%M", "2021-04-08"), ("%d.%m.%y %H:%M", "2021-04-08")):
        rows = "\n".join(f"{t:{style}},5.{k}" for k, t in enumerate(steps))
        times, account = log_times(tmp_path, "time,soil_c\n" + rows)
        assert str(times.iloc[0].date()) == first
        assert any("leap over weeks" in note for note in account.notes)
        apart = "\n".join(f"{t:{style}},5.{k}".replace(" ", ",") for k, t in enumerate(steps))
        times, _ = log_times(tmp_path, "date,time,soil_c\n" + apart)
        assert str(times.iloc[0]) == f"{first} 22:00:00"


def test_halves_of_the_day_in_other_languages(tmp_path):
    for before, after in (("dop.", "odp."), ("vorm.", "nachm."), ("fm", "em"), ("a. m.", "p. m.")):
        rows = f"2025-03-14,07:40 {before},5\n2025-03-14,07:40 {after},9\n"
        times, _ = log_times(tmp_path, "date,time,soil_c\n" + rows)
        assert [t.hour for t in times] == [7, 19]


def test_words_for_the_time_of_day(tmp_path):
    rows = "2025-03-14,morning,5\n2025-03-14,Noon,7\n2025-03-14,evening,9\n2025-03-14,late,9\n"
    times, account = log_times(tmp_path, "date,when,soil_c\n" + rows)
    assert [t.hour for t in times] == [8, 12, 18]
    assert account.refused_count == {"not a time of day": 1}
    assert any("morning as 8:00, noon as 12:00" in note for note in account.notes)


def test_hours_as_numbers(tmp_path):
    times, _ = log_times(tmp_path, "Year,DoY,Hour,Tsoil (C)\n2025,1,0.5,5\n2025,1,24,6\n")
    assert [str(t) for t in times] == ["2025-01-01 00:30:00", "2025-01-02 00:00:00"]
    for heading, cells in (("HHMM", (30, 730, 2400)), ("Time", ("0030", "0730", "2400"))):
        rows = "".join(f"2025-03-14,{cell},5\n" for cell in cells)
        times, _ = log_times(tmp_path, f"date,{heading},soil_c\n{rows}")
        assert [f"{t:%d %H:%M}" for t in times] == ["14 00:30", "14 07:30", "15 00:00"]
    times, _ = log_times(tmp_path, "date,hh,Minute,soil_c\n2025-03-14,7,40,5\n2025-03-14,8,5,6\n")
    assert [f"{t:%H:%M}" for t in times] == ["07:40", "08:05"]


def test_a_clock_that_falls_back_is_said(tmp_path):
    rows = "2019-06-01 07:00,15\n2019-06-01 08:00,15.5\n2000-01-01 00:00,16\n"
    times, account = log_times(tmp_path, "time,soil_c\n" + rows)
    assert len(times) == 2
    assert account.refused_count == {"a clock that fell back to 2000": 1}
    assert any("From line 4 on the clock says 2000-01-01" in note for note in account.notes)
    times, _ = log_times(tmp_path, "time,soil_c\n1999-06-01 07:00,15\n2000-01-01 00:00,16\n")
    assert len(times) == 2


def test_a_year_far_ahead_is_refused(tmp_path):
    rows = "2019-06-01 07:00,15\n2165-06-01 08:00,15.5\n"
    times, account = log_times(tmp_path, "time,soil_c\n" + rows)
    assert len(times) == 1
    assert account.refused_count == {"a date years ahead": 1}


def test_the_best_of_several_dates_is_taken(tmp_path):
    rows = "43101.5,2018-01-01 12:00,1,5\n43101.6,2018-01-01 13:00,1,6\n"
    times, account = log_times(tmp_path, "date,TIMESTAMP,DOY,soil_c\n" + rows)
    assert [t.hour for t in times] == [12, 13]
    assert account.columns[0].why == "another date"
