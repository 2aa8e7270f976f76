"""Notes by hand, without a heading."""

import numpy as np
import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_readings
from forecaster.ingest.log import hand as hand_log


def read(folder, text, **options):
    path = folder / "notes.txt"
    path.write_text(text, encoding="utf-8")
    frame = read_readings(path, **options)
    account = account_of(frame)
    assert account.rows_used + sum(account.refused_count.values()) == account.rows_read
    return frame, account


def rows(frame):
    return [
        (
            f"{t:%Y-%m-%d %H:%M}",
            round(c * 1.8 + 32, 1),
            None if np.isnan(d) else round(d / 0.0254, 1),
        )
        for t, c, d in zip(frame["time"], frame["temp_c"], frame["depth_m"], strict=True)
    ]


def test_three_lines(tmp_path):
    frame, account = read(
        tmp_path,
        "2025-03-14 7:40 61.5F 4in # note\n2025-03-15 8:10 60F 4in\n2025-03-17 62.1F 4in rain\n",
    )
    assert rows(frame) == [
        ("2025-03-14 07:40", 61.5, 4.0),
        ("2025-03-15 08:10", 60.0, 4.0),
        ("2025-03-17 00:00", 62.1, 4.0),
    ]
    assert frame["hour_known"].tolist() == [True, True, False]
    assert account.units == "°F"
    assert account.format == "notes by hand"


def test_no_year_is_asked_for_or_found_above(tmp_path):
    text = "3/14 before breakfast, 52F\n3/15, 53F\n3/21 cold, 49F\n"
    with pytest.raises(FileError, match="--year 2025"):
        read(tmp_path, text)
    frame, account = read(tmp_path, text, year=2025)
    assert rows(frame)[0] == ("2025-03-14 00:00", 52.0, None)
    assert any("month first" in note for note in account.notes)
    frame, account = read(tmp_path, "Bed by the wall, spring 2024\n\n" + text)
    assert rows(frame)[0][0] == "2024-03-14 00:00"
    assert any("stand above" in note for note in account.notes)
    (tmp_path / "soil_2023.txt").write_text(text)
    assert read_readings(tmp_path / "soil_2023.txt")["time"].dt.year.tolist() == [2023] * 3


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Mar 14 2025: 52 F", ("2025-03-14 00:00", 52.0, None)),
        ("14 March 2025 - 52F at 4 in", ("2025-03-14 00:00", 52.0, 4.0)),
        ("14.3.2025 7:05 pm 10,5 °C 10 cm", ("2025-03-14 19:05", 50.9, 3.9)),
        ("2025-03-14 7am 52 deg F 4-inch", ("2025-03-14 07:00", 52.0, 4.0)),
        ("3/14/25 at 7:40 read 52F", ("2025-03-14 07:40", 52.0, None)),
        ("2025-03-14: 52F (after 2 frosts)", ("2025-03-14 00:00", 52.0, None)),
        ("3/14/2025 bed 2 52F", ("2025-03-14 00:00", 52.0, None)),
    ],
)
def test_ways_to_write_a_line(tmp_path, line, expected):
    frame, _ = read(tmp_path, line + "\n")
    assert rows(frame) == [expected]


def test_what_is_not_understood_is_counted_with_its_line(tmp_path):
    frame, account = read(
        tmp_path,
        "2025-03-14 52F\n\nrained all day\n2025-03-15 forgot\n2025-03-16 52 55\n"
        "2025-02-30 52F\n2025-03-17 25:10 53F\n# aside\n2025-03-18 54F\n",
    )
    assert len(frame) == account.rows_used
    assert {r.line: r.reason.split(":")[0] for r in account.refused} == {
        3: "no date",
        4: "no temperature",
        5: "several numbers without a unit",
        6: "impossible date or time",
        7: "impossible date or time",
    }


def test_bare_numbers_need_evidence_or_the_option(tmp_path):
    _, account = read(tmp_path, "2025-03-14 a 52\n2025-03-15 b 53\n")
    assert "no soil temperature in °C" in account.why_units
    with pytest.raises(FileError, match="--units F"):
        read(tmp_path, "2025-03-14 a 35\n2025-03-15 b 36\n")
    frame, _ = read(tmp_path, "2025-03-14 a 35\n2025-03-15 b 36\n", units="F")
    assert rows(frame)[0][1] == 35.0
    _, account = read(tmp_path, "2025-03-14 a 35F\n2025-03-15 b 36\n")
    assert "beside other readings" in account.why_units


def test_day_and_month_are_asked_for(tmp_path):
    with pytest.raises(FileError, match="--day-first"):
        read(tmp_path, "3/4/2025 mild 52F\n")


def test_a_long_file_without_a_heading_is_no_hand_log(tmp_path, monkeypatch):
    monkeypatch.setattr(hand_log, "LONGEST", 3)
    with pytest.raises(FileError, match="heading"):
        read(tmp_path, "2025-03-14 a 52\n" * 5)


def test_a_clean_log_without_a_heading_goes_by_columns(tmp_path):
    frame, account = read(tmp_path, "2025-03-14 07:40,52.5\n2025-03-15 07:40,53.5\n")
    assert "no heading" in account.why_format
    assert account.format == "thermometer log in columns"
    assert frame["hour_known"].all()
