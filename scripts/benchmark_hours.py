#!/usr/bin/env python3
"""Score readings taken as hands take them, where soil was measured every hour.

    scripts/benchmark_hours.py FOLDER [--cover told|grass] [--years 2] [--json FILE]

FOLDER as for scripts/fit_daily_wave.py, whose places these are. Two tables, °C:

- the distance of soil at every hour from its day's mean, raw and corrected for the hour;
- the daily mean over so many years as `estimate_soil` has it, given one reading a week: the day's
  mean, an instant near 08:00, one near 17:00, or one at any hour from 7 to 19. Instants are taken
  up to 20 minutes early or late by the clock that is written down, and read with an error of
  0.5 °C; the day's mean has that error too.

The constants of the day's wave have seen the first days of every place; the soil model none.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from fit_daily_wave import HOURS, PLACES, Place, Profile, read_profiles

from forecaster.forecast.soil import estimate_soil
from forecaster.forecast.understand import load_daily_wave
from forecaster.ground.site import Site

Z_80 = 1.2815515655446004
HAND_ERROR_C, CLOCK_ERROR_H = 0.5, 20.0 / 60.0
DRAWS = 3
USERS = ("day's mean", "08:00", "17:00", "mixed hours")


def site_of(place: Place, depth_m: float, cover: str) -> Site:
    """The place as its user tells it."""
    kept = place.cover if cover == "told" else cover
    return Site(
        place.latitude_deg, place.longitude_deg, depth_m, cover=kept, clock=place.utc_offset_h
    )


def every_hour(profile: Profile, cover: str) -> dict[str, Any]:
    """RMS distance from the day's mean, raw and corrected, and what the 80 % interval holds."""
    answer = profile.answer(load_daily_wave(site_of(profile.place, profile.depth_m, cover)))
    raw = profile.departure_c
    left = raw - answer.departure_c
    return {
        "place": profile.site,
        "depth_m": profile.depth_m,
        "days": len(raw),
        "raw": float(np.sqrt(np.mean(raw**2))),
        "corrected": float(np.sqrt(np.mean(left**2))),
        "holds": float(np.mean(np.abs(left) <= Z_80 * answer.sd_c)),
    }


def readings_of(profile: Profile, days: np.ndarray, user: str, seed: int) -> pd.DataFrame:
    """One reading on each of the days, as a log."""
    random = np.random.default_rng(seed)
    error = random.normal(0.0, HAND_ERROR_C, days.size)
    slip = random.uniform(-CLOCK_ERROR_H, CLOCK_ERROR_H, days.size)
    soil, stamp = profile.soil_c[days], HOURS + profile.place.stamp_h
    if user == "day's mean":
        hour, temp_c = np.full(days.size, 12.0), soil.mean(axis=1)
    else:
        at = {"08:00": 8.0, "17:00": 17.0}.get(user)
        hour = (
            random.integers(7, 20, days.size).astype(float)
            if at is None
            else np.full(days.size, at)
        )
        true = hour + slip
        temp_c = np.array([np.interp(h, stamp, row) for h, row in zip(true, soil, strict=True)])
    return pd.DataFrame(
        {
            "time": profile.days[days] + pd.to_timedelta(hour, unit="h"),
            "temp_c": temp_c + error,
            "depth_m": profile.depth_m,
            "span": "day" if user == "day's mean" else "instant",
        }
    )


def weekly(profile: Profile, user: str, cover: str, years: int) -> dict[str, Any]:
    """RMSE of the daily mean and what its 80 % interval holds, over all runs of so many years."""
    air = profile.air.asfreq("D")
    site = site_of(profile.place, profile.depth_m, cover)
    truth = pd.Series(profile.soil_c.mean(axis=1), profile.days)
    miss, inside = [], []
    for first in range(0, max(len(air) - 365 * years, 0) + 1, 365):
        span = air.index[first : first + 365 * years]
        days = np.flatnonzero(profile.days.isin(span[::7]))
        for draw in range(DRAWS):
            taken = readings_of(profile, days, user, 1000 * first + draw)
            found = estimate_soil(air, site, taken)
            both = truth.index.intersection(span)
            left = truth.loc[both] - found.loc[both, "soil_c"]
            miss.append(left)
            inside.append(left.abs() <= Z_80 * found.loc[both, "sd_c"])
    return {
        "place": profile.site,
        "depth_m": profile.depth_m,
        "user": user,
        "rmse": float(np.sqrt(np.mean(np.concatenate(miss) ** 2))),
        "holds": float(np.mean(np.concatenate(inside))),
    }


def main() -> None:
    """Score and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--cover", choices=("told", "grass", "bare"), default="told")
    parser.add_argument("--years", type=int, default=2)
    parser.add_argument("--json", type=Path, help="write every score here")
    options = parser.parse_args()
    covers = sorted({place.cover for place in PLACES})
    profiles = [p for cover in covers for p in read_profiles(options.folder, cover)]
    hours = pd.DataFrame([every_hour(p, options.cover) for p in profiles])
    hours["ratio"] = hours["corrected"] / hours["raw"]
    print(f"cover {options.cover}: every hour against the day's mean, °C")
    print(hours.round(2).to_string(index=False))
    nearest = [
        min((p for p in profiles if p.site == place.name), key=lambda p: abs(p.depth_m - 0.10))
        for place in PLACES
    ]
    rows = [weekly(p, user, options.cover, options.years) for user in USERS for p in nearest]
    table = pd.DataFrame(rows)
    print(f"\none reading a week for {options.years} years: the daily mean, °C")
    print(table.pivot_table("rmse", "user", "place").loc[list(USERS)].round(2))
    print("\nits 80 % interval holds")
    print(table.pivot_table("holds", "user", "place").loc[list(USERS)].round(2))
    means = table.groupby("user")[["rmse", "holds"]].mean().loc[list(USERS)]
    print("\nmean over places\n" + means.round(2).to_string())
    if options.json:
        found = {"hours": hours.to_dict("records"), "weekly": rows}
        options.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
