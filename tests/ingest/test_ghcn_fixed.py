"""GHCN-Daily in fixed columns, as section III of "GHCN-Daily readme.txt" (NOAA NCEI) says."""

import numpy as np
import pandas as pd
import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_air


def line(element, values, *, month=2, station="USC00042319", flags=None):
    flags = flags or {}
    cells = [f"{v:5d} {flags.get(d, ' ')}7" for d, v in enumerate(values, 1)]
    return f"{station}2018{month:02d}{element}" + "".join(cells) + "\n"


def month(start, days=28):
    return [start + d for d in range(days)] + [-9999] * (31 - days)


def read(folder, text, **options):
    path = folder / "x.dly"
    path.write_text(text)
    frame = read_air(path, **options)
    account = account_of(frame)
    assert account.rows_used + sum(account.refused_count.values()) == account.rows_read
    return frame, account


def test_the_columns_stand_where_the_readme_says():
    text = line("TMAX", month(100))
    assert text[21:26] == "  100"
    assert text[261:266] == "-9999"
    assert len(text.rstrip("\n")) == 269


def test_months_become_days(tmp_path):
    text = (
        line("TMAX", month(100), flags={3: "X"}) + line("TMIN", month(20)) + line("SNOW", month(0))
    )
    text += line("PRCP", month(1)) + "junk\n" + line("TMAX", [-9999] * 31, month=3)
    frame, account = read(tmp_path, text)
    assert account.format == "GHCN-Daily fixed columns"
    assert account.station == "USC00042319"
    assert frame.index.equals(pd.date_range("2018-02-01", "2018-02-28", name="date"))
    expected = 10 + np.arange(28) / 10
    expected[2] = np.nan
    np.testing.assert_allclose(frame["tmax_c"], expected)
    np.testing.assert_allclose(frame["tmin_c"], 2 + np.arange(28) / 10)
    np.testing.assert_allclose(frame["precip_mm"], 0.1 + np.arange(28) / 10)
    assert account.refused_count == {
        "not a station, a month and an element": 1,
        "element 'SNOW' is not needed": 1,
        "no temperature or rain": 1,
    }
    assert [r.line for r in account.refused] == [3, 5, 6]
    assert any("1 value failed a quality check" in note for note in account.notes)


def test_a_morning_hour_moves_the_maximum(tmp_path):
    frame, _ = read(tmp_path, line("TMAX", month(100)) + line("TMIN", month(20)), obs_hour=7)
    assert frame["tmax_c"].first_valid_index() == pd.Timestamp("2018-01-31")


def test_a_value_on_a_day_that_is_none_is_left_out(tmp_path):
    frame, _ = read(tmp_path, line("TMAX", month(100, 31)) + line("TMIN", month(20)))
    assert len(frame) == 28


def test_two_stations_are_refused(tmp_path):
    with pytest.raises(FileError, match="2 stations"):
        read(tmp_path, line("TMAX", month(1)) + line("TMIN", month(0), station="USW00025333"))
