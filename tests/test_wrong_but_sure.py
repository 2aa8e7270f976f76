"""Input that is wrong though it can be reckoned with: refused, or said beside the answer.

Each case was tried because a date from it would look as good as any other. Where the answer
stands, the sentence that goes with it is checked; where not, that the line says what to mend.
"""

import csv
import json
from datetime import date

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from forecaster.cli import main
from forecaster.forecast.air_days import daily_air
from forecaster.forecast.doubts import HOTTEST_YEAR_C, doubt_air, doubt_readings
from forecaster.forecast.soil import estimate_soil
from forecaster.ground.errors import InputError
from forecaster.ground.site import Site
from forecaster.ingest import read_air, read_readings
from forecaster.packaged import data_path, load_csv

AIR = str(data_path("demo/air.csv"))
AT = ("--lat", "-36.2", "--lon", "146.6")
DAY = ("--today", "2026-03-16")
READ = [(f"2026-02-{day:02d} 14:00", 78.0 + day / 10) for day in range(1, 28, 3)]  # °F


@pytest.fixture(scope="module")
def rows():
    with data_path("demo/air.csv").open(encoding="utf-8", newline="") as handle:
        whole = list(csv.reader(handle))[1:]
    return [(day, float(low), float(high), rain) for day, low, high, rain in whole if low and high]


@pytest.fixture
def written(tmp_path):
    def write(table, heading="date,tmin_c,tmax_c,rain_mm", name="mine.csv"):
        path = tmp_path / name
        lines = [heading, *(",".join(map(str, row)) for row in table)]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return str(path)

    return write


def turned(rows, how):
    return [(day, round(how(low), 2), round(how(high), 2), rain) for day, low, high, rain in rows]


def refused(*words):
    found = CliRunner().invoke(main, words)
    assert found.exit_code == 2, found.output
    assert found.stdout == ""
    assert found.stderr.count("\n") == 1
    return found.stderr


def notes(*words):
    found = CliRunner().invoke(main, [*words, "--json"])
    assert found.exit_code == 0, found.output
    return " ".join(json.loads(found.stdout)["notes"])


# --- air -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("how", "heading", "said"),
    [
        (lambda c: c + 273.15, "date,tmin_c,tmax_c", "say --units K"),
        (lambda c: c + 273.15, "date,tmin_f,tmax_f", "say --units K"),
        (lambda c: c * 1.8 + 32, "date,tmin_c,tmax_c", "say --units F"),
        (lambda _: 15.0, "date,tmin_c,tmax_c", "same number for weeks"),
        (lambda c: 10 * c, "date,tmin_c,tmax_c", "temperatures, as they were understood"),
    ],
)
def test_air_in_another_unit_or_none_is_refused(rows, written, how, heading, said):
    path = written([row[:3] for row in turned(rows, how)], heading)
    assert said in refused("when", path, *AT)


def test_one_half_in_another_unit_is_refused(rows, written):
    """Dropping the impossible half of those values would leave a cool, wrong summer."""
    half = len(rows) // 2
    path = written([*rows[:half], *turned(rows[half:], lambda c: c * 1.8 + 32)])
    assert "say --units F" in refused("when", path, *AT)


def test_the_remedy_works(rows, written):
    path = written(turned(rows, lambda c: c + 273.15))
    kelvin = CliRunner().invoke(main, ["when", path, *AT, *DAY, "--units", "K", "--json"])
    right = CliRunner().invoke(main, ["when", AIR, *AT, *DAY, "--json"])
    medians = [
        [one["outlook"]["settled_median"] for one in json.loads(found.stdout)["windows"]]
        for found in (kelvin, right)
    ]
    assert medians[0] == medians[1]


def test_a_few_impossible_values_are_a_sensors(rows, written):
    some = [(d, 999.9, 999.9, r) if k % 30 == 0 else (d, a, b, r) for k, (d, a, b, r) in
            enumerate(rows)]  # fmt: skip
    assert len(read_air(written(some)).dropna(subset=["tmin_c"])) < len(rows)
    some = [(d, a, 70.0 + k % 7, r) if k % 99 == 0 else (d, a, b, r) for k, (d, a, b, r) in
            enumerate(rows)]  # fmt: skip
    read_air(written(some))


def test_extremes_the_wrong_way_round_are_refused(rows, written):
    path = written([(day, high, low, rain) for day, low, high, rain in rows])
    assert "wrong way round" in refused("when", path, *AT)


def test_one_extreme_twice_is_said(rows, written):
    path = written([(day, low, low, rain) for day, low, _, rain in rows])
    assert "Minimum and maximum are the same" in notes("when", path, *AT, *DAY)


@pytest.mark.parametrize("days", [200, 430, 4000])
def test_the_other_half_of_the_earth_is_refused(rows, written, days):
    path = written(rows[-days:])
    said = refused("when", path, "--lat", "36.2")
    assert "expected --lat 36.2S" in said
    assert "36.2S" in refused("plan", path, "--lat", "36.2")
    assert "36.2S" in refused("when", path, "--lat", "36.2", "--crop", "tomato")
    assert "nothing to check" not in refused("check", path, "--lat", "36.2")


def test_celsius_read_as_fahrenheit_is_said(rows, written):
    said = notes("when", written(rows, "date,tmin_f,tmax_f,rain_mm"), *AT, *DAY)
    assert "colder than any place with gardens" in said


@pytest.mark.parametrize(("latitude", "said"), [("-2", "swings"), ("-81", "warmer than any")])
def test_another_latitude_is_said(latitude, said):
    assert said in notes("when", AIR, "--lat", latitude, *DAY)


def test_a_right_record_is_not_doubted():
    said = notes("when", AIR, *AT, *DAY, "--readings", str(data_path("demo/readings.csv")))
    assert "right?" not in said


def test_no_place_of_the_public_records_is_doubted(shared_data):
    """Also their soil, read at each depth by itself, is believed."""
    places = {row["station"]: float(row["lat"]) for row in load_csv("stations.csv")}
    tried = 0
    for path in sorted((shared_data / "uscrn_daily").glob("*.csv.gz"))[::4]:
        latitude = places.get(path.name.removesuffix(".csv.gz"))
        if latitude is None:
            continue
        air, log = read_air(path), read_readings(path)
        assert doubt_air(daily_air(air)[0], latitude) == (), path
        here = log[np.abs(log["depth_m"] - 0.10) < 0.01]
        estimate_soil(air, Site(latitude), here)
        tried += 1
    assert tried >= 10


def test_the_limits_hold_what_is_known():
    """Every limit has its source, and the table bends one way as it must."""
    table = load_csv("air_limits.csv")
    assert all(row["basis"] and row["source"] for row in table)
    latitudes = [float(row["latitude_deg"]) for row in table]
    assert latitudes == sorted(latitudes)
    assert (latitudes[0], latitudes[-1]) == (0.0, 90.0)
    assert all(float(row["coldest_c"]) < float(row["warmest_c"]) for row in table)
    assert max(float(row["warmest_c"]) for row in table) < HOTTEST_YEAR_C


# --- days ------------------------------------------------------------------------------------


@pytest.mark.parametrize("words", [("when",), ("when", "--crop", "pansy"), ("plan",), ("chart",)])
@pytest.mark.parametrize("day", ["1800-01-01", "2200-12-31", "9999-12-31"])
def test_a_day_far_from_the_record_is_refused(words, day, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert day in refused(words[0], AIR, *AT, *words[1:], "--today", day)


def test_a_record_of_days_to_come_is_said(rows, written):
    years = date.today().year - int(rows[-1][0][:4]) + 1
    for more, said in ((years, "days to come are no record"), (80, "a date years ahead")):
        later = [
            (f"{int(day[:4]) + more}{day[4:]}", *rest) for day, *rest in rows if day[5:] != "02-29"
        ]
        ask = notes if more == years else refused
        assert said in ask("when", written(later), *AT)


# --- readings and outlook --------------------------------------------------------------------


def logged(written, how, unit):
    return written([(time, round(how(f), 1), "4in") for time, f in READ],
                   f"time,soil_{unit},depth", "log.csv")  # fmt: skip


@pytest.mark.parametrize(
    ("how", "unit", "said"),
    [
        (lambda f: f, "c", "say --readings-units F"),
        (lambda f: (f - 32) / 1.8, "f", "say --readings-units C"),
        (lambda _: 0.0, "c", "Check unit, depth and thermometer"),
    ],
)
def test_readings_of_something_else_are_refused(written, how, unit, said):
    log = logged(written, how, unit)
    assert said in refused("when", AIR, *AT, *DAY, "--readings", log)
    assert said in refused("when", AIR, *AT, *DAY, "--readings", log, "--crop", "tomato")
    with pytest.raises(InputError, match="no bed does"):
        estimate_soil(read_air(AIR), Site(-36.2, 146.6), read_readings(log))


def test_odd_readings_are_said(written):
    log = logged(written, lambda f: f - 18, "f")
    assert "and the dates follow" in notes("when", AIR, *AT, *DAY, "--readings", log)
    log = logged(written, lambda f: f, "f")
    assert "and the dates follow" not in notes("when", AIR, *AT, *DAY, "--readings", log)


def test_readings_of_years_to_come_are_refused(written):
    log = written([(time.replace("2026", "2200"), f, "4in") for time, f in READ],
                  "time,soil_f,depth", "log.csv")  # fmt: skip
    assert "9 × a date years ahead" in refused("when", AIR, *AT, *DAY, "--readings", log)


@pytest.mark.parametrize("year", ["1800", "2008", "2027"])
def test_readings_that_teach_nothing_are_said(written, year):
    log = written([(time.replace("2026", year), f, "4in") for time, f in READ],
                  "time,soil_f,depth", "log.csv")  # fmt: skip
    assert "All 9 readings are from outside" in notes("when", AIR, *AT, *DAY, "--readings", log)


def test_some_readings_before_the_record_are_said(written):
    times = [("2009-02-01 14:00", 78.0), *READ]
    log = written([(time, f, "4in") for time, f in times], "time,soil_f,depth", "log.csv")
    assert "1 of 10 readings" in notes("when", AIR, *AT, *DAY, "--readings", log)


@pytest.mark.parametrize("off", [21.0, -21.0])
def test_an_outlook_of_another_place_or_unit_is_refused(written, off):
    days = [(f"2026-03-{d}", 12.0 + off, 27.0 + off) for d in range(17, 27)]
    ahead = written(days, "date,tmin_c,tmax_c", "ahead.csv")
    said = refused("when", AIR, *AT, *DAY, "--outlook", ahead, "--units", "C")
    assert "the outlook lies" in said


def test_depth_beyond_the_fit_is_said():
    assert "heat equation alone" in notes("when", AIR, *AT, *DAY, "--depth", "2m")
    assert "heat equation alone" not in notes("when", AIR, *AT, *DAY)


def test_one_wild_reading_among_good_ones_is_no_matter():
    off = np.array([0.5, -0.3, 25.0, 0.1])
    assert doubt_readings(off, np.full(4, 2.0), np.full(4, 20.0)) == ()


@pytest.mark.parametrize("mean_c", [50.0, -80.0])
def test_air_of_no_place_is_refused(mean_c):
    index = pd.date_range("2025-01-01", periods=70, name="date")
    wave = np.sin(np.arange(70.0))
    air = pd.DataFrame({"tmin_c": mean_c + wave - 4, "tmax_c": mean_c + wave + 4}, index=index)
    with pytest.raises(InputError, match="no place on Earth"):
        estimate_soil(air, Site(10.0))
