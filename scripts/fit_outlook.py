#!/usr/bin/env python3
"""Fit what of today's air lasts into the days to come, and write data/outlook.json.

    scripts/fit_outlook.py DIR

DIR as for scripts/fit_model.py. Every 30 days of every record, from its sixth year on, counts as
a day of issue; departures are from the yearly wave fitted to the record up to that day, so nothing
later is seen. By least squares over all of them:

- persistence_per_day: a day's departure on the day before's;
- season_share and warming_c_per_year: the mean departure of the 60 days to come on that of the 90
  days past and on half the record's length;
- season_sd_c: the standard deviation of a 90-day mean of the departures.

The window of 90 days and the fading over 60 are held: the score of forecasts hardly changed between
45 and 150, or 45 and 200 (scripts/benchmark_forecast.py).
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
from fit_model import load_stations

from forecaster.soil.season import DAYS_PER_YEAR, fit_yearly, harmonics

FIRST_ISSUE_DAYS = 1826
STEP_DAYS = 30
PAST_DAYS, AHEAD_DAYS = 90, 60
MOST_MISSING = 0.2


def samples(day: np.ndarray, mean_c: np.ndarray) -> tuple[list[list[float]], list[float]]:
    """Past mean, half length and mean to come at each issue; and the pairs' lag-one slopes."""
    rows, slopes = [], []
    columns = harmonics(day)
    for issue in range(FIRST_ISSUE_DAYS, day.size - AHEAD_DAYS, STEP_DAYS):
        wave = fit_yearly(columns[:issue], mean_c[:issue], prior_sd=10.0, noise_sd=10.0)
        rest = mean_c[: issue + AHEAD_DAYS] - columns[: issue + AHEAD_DAYS] @ wave
        past, ahead = rest[issue - PAST_DAYS : issue], rest[issue:]
        if max(np.isnan(past).mean(), np.isnan(ahead).mean()) > MOST_MISSING:
            continue
        half_years = issue / DAYS_PER_YEAR / 2.0
        rows.append([float(np.nanmean(past)), half_years, float(np.nanmean(ahead))])
        x, y = rest[:-1], rest[1:]
        known = np.isfinite(x) & np.isfinite(y)
        slopes.append(float(x[known] @ y[known] / (x[known] @ x[known])))
    return rows, slopes


def main(folder: Path) -> None:
    """Fit and write."""
    rows: list[list[float]] = []
    slopes: list[float] = []
    stations = load_stations(folder)
    for station in stations:
        found, slope = samples(station.day, (station.tmin_c + station.tmax_c) / 2.0)
        rows += found
        slopes += slope
    past, half_years, ahead = np.array(rows).T
    share, warming = np.linalg.lstsq(np.column_stack([past, half_years]), ahead, rcond=None)[0]
    fitted = {
        "persistence_per_day": (round(float(np.mean(slopes)), 2), "1", "fitted"),
        "season_share": (round(float(share), 2), "1", "fitted"),
        "season_days": (PAST_DAYS, "day", "held"),
        "season_fade_days": (float(AHEAD_DAYS), "day", "held"),
        "season_sd_c": (round(float(past.std()), 2), "°C", "fitted"),
        "warming_c_per_year": (round(float(warming), 3), "°C/year", "fitted"),
    }
    for name, (value, unit, basis) in fitted.items():
        print(f"{name:20s} {value:8} {unit} ({basis})")
    table = {
        "what": "what of today's air departure lasts into the days to come",
        "fitted_on": f"{len(stations)} stations of the US Climate Reference Network, "
        f"{len(rows)} days of issue; written by scripts/fit_outlook.py",
    } | {
        name: {"value": value, "unit": unit, "basis": basis}
        for name, (value, unit, basis) in fitted.items()
    }
    path = Path(__file__).resolve().parent.parent / "data" / "outlook.json"
    path.write_text(json.dumps(table, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
