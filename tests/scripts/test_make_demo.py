"""The demo garden: made again byte for byte, and a garden one could believe in."""

import csv
import importlib.util
import io
import json
import sys
from datetime import date
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data" / "demo"
FALLING_C = (65.0 - 32.0) / 1.8


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_demo", ROOT / "scripts" / "make_demo.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_demo"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def world(maker):
    return maker.make_world()


def settled(days, soil_c, threshold_c):
    """Argmax of Σ(T − θ), as DESIGN §3 words it, in plain Python."""
    total, best, best_day = 0.0, -np.inf, None
    for day, value in zip(days, soil_c, strict=True):
        total += value - threshold_c
        if total > best:
            best, best_day = total, day
    return best_day


def test_recipe_and_seed_make_the_same_bytes(maker, tmp_path):
    maker.write_demo(tmp_path)
    made, kept = (
        {str(path.relative_to(at)): path.read_bytes() for path in at.rglob("*") if path.is_file()}
        for at in (tmp_path, DEMO)
    )
    assert made == kept
    assert len(kept) == 6
    assert sum(map(len, kept.values())) < 300_000


def test_another_seed_makes_another_garden(maker, world):
    other = maker.make_world(seed=maker.SEED + 7)
    assert maker.air_text(other) != maker.air_text(world)


def test_air_record_is_twelve_years_with_its_gaps(maker):
    rows = list(csv.DictReader(io.StringIO((DEMO / "air.csv").read_text(encoding="utf-8"))))
    days = [date.fromisoformat(row["Date"]) for row in rows]
    assert days == sorted(set(days))
    assert days[-1] == maker.TODAY
    span = (days[-1] - days[0]).days + 1
    assert span == pytest.approx(12 * 365.25, abs=1)
    assert span - len(days) == sum(length for _, length in maker.MISSING_DAYS)
    blanks = sum(cell == "" for row in rows for cell in row.values())
    assert blanks == len(maker.MISSING_CELLS)
    both = [r for r in rows if r["Min temp (°C)"] and r["Max temp (°C)"]]
    assert all(float(r["Min temp (°C)"]) < float(r["Max temp (°C)"]) for r in both)


def test_weather_behaves_like_weather(maker, world):
    """Lag-1 correlation, spread and wet spells; the bounds are common practice, no source."""
    mean = (world.tmin_c + world.tmax_c) / 2.0
    phase = maker._season(world.days)
    waves = np.column_stack(
        [np.ones(mean.size)] + [f(k * phase) for k in (1, 2) for f in (np.cos, np.sin)]
    )
    left = mean - waves @ np.linalg.lstsq(waves, mean, rcond=None)[0]
    assert 2.2 < left.std() < 3.8
    assert 0.6 < np.corrcoef(left[1:], left[:-1])[0, 1] < 0.85
    wet = world.rain_mm > 0
    assert wet[1:][wet[:-1]].mean() > 1.5 * wet[1:][~wet[:-1]].mean()
    spread = world.tmax_c - world.tmin_c
    assert spread[wet].mean() < 0.8 * spread[~wet].mean()


def test_the_northern_garden_is_half_a_year_away(maker, world):
    north = maker.make_world(where=maker.NORTH)
    mean = (north.tmin_c + north.tmax_c) / 2.0
    months = np.array([day.month for day in north.days])
    assert mean[months == 7].mean() > mean[months == 1].mean() + 15
    season = [i for i, d in enumerate(north.days) if date(2026, 7, 25) <= d < date(2027, 1, 20)]
    fall = settled([north.days[i] for i in season], north.soil_c[season], FALLING_C)
    assert 14 <= (fall - maker.NORTH.today).days <= 42
    assert np.corrcoef(north.rain_mm, world.rain_mm)[0, 1] < 0.2


def test_today_is_three_to_four_weeks_before_the_autumn_crossing(maker, world):
    falls = []
    for year in range(2015, 2027):
        season = [i for i, d in enumerate(world.days) if date(year, 1, 25) <= d < date(year, 7, 20)]
        falls.append(settled([world.days[i] for i in season], world.soil_c[season], FALLING_C))
    assert 21 <= (falls[-1] - maker.TODAY).days <= 28
    assert len({(day.month, day.day) for day in falls}) > 6, "every year should differ"


def test_soil_response_is_damped_and_late(maker):
    """The demo's own H: below 1 and lagging, more so at higher frequency."""
    omega = 2 * np.pi / (86_400.0 * np.array([365.0, 30.0, 7.0, 1.0]))
    response = maker._response(omega, 0.28)
    assert np.all(np.diff(np.abs(response)) < 0)
    assert np.all(np.diff(np.angle(response)) < 0)
    assert maker._response(np.array([0.0]), 0.28)[0] == pytest.approx(1.0)


def test_daily_wave_averages_to_nothing_and_peaks_in_the_evening(maker):
    hours = np.arange(0, 24, 0.25)
    wave = np.array([maker.day_wave_c(15.0, hour) for hour in hours])
    assert wave.mean() == pytest.approx(0.0, abs=1e-12)
    assert 16 < hours[wave.argmax()] < 21


def test_readings_are_near_the_soil_they_were_drawn_from(maker, world):
    """The log's °F less the hour's wave is the soil within thermometer error and rounding."""
    lines = (DEMO / "readings.csv").read_text(encoding="utf-8").splitlines()[4:]
    assert len(lines) == len(maker.READINGS) == 21
    off = []
    for line, (back, written) in zip(lines, maker.READINGS, strict=True):
        day, _, dial, _ = line.split(",")
        i = world.days.index(date.fromisoformat(day))
        assert (maker.TODAY - world.days[i]).days == back
        wave = maker.day_wave_c(
            world.tmax_c[i] - world.tmin_c[i], maker._hour(written or "8:00 am")
        )
        off.append((float(dial) - 32.0) / 1.8 - wave - world.soil_c[i])
    # 21 draws of sd 0.4 and rounding of ±0.14: four sd for the worst, three standard errors.
    assert np.abs(off).max() < 1.75
    assert abs(np.mean(off)) < 0.3


def test_story_has_three_sentences_and_the_place_says_it_is_invented():
    garden = json.loads((DEMO / "garden.json").read_text(encoding="utf-8"))
    assert garden["invented"] is True
    assert garden["story"].count(". ") + 1 == 3
    assert (DEMO / garden["air"]).is_file()
    assert (DEMO / garden["readings"]).is_file()
