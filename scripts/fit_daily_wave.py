#!/usr/bin/env python3
"""Fit the constants of the daily wave in soil and write data/daily_wave.json again.

Usage: fit_daily_wave.py PROBE_DIR [--out FILE]

PROBE_DIR holds hourly soil temperatures at 5, 10 and 20 cm from two sites of the Reynolds
Creek Experimental Watershed, Idaho (USDA Agricultural Research Service, public domain;
Hanson et al. 2001 and Seyfried et al. 2001, Water Resources Research 37) and daily air
temperatures. Fitted on days before 1995 at both sites, scored on the days since, there
and with the constants of one site on the other.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.optimize import least_squares, minimize

from forecaster.soil.wave import NUMBERS, DailyWave, hour_correction, solar_noon_hour

ROOT = Path(__file__).resolve().parents[1]
LATITUDE_DEG, LONGITUDE_DEG, UTC_OFFSET_H = 43.1, -116.75, -7.0  # from memory, to 0.1°
NOON_H = solar_noon_hour(LONGITUDE_DEG, UTC_OFFSET_H)
HOURS = np.arange(24.0)
DEPTHS_CM = (5, 10, 20)
# The valley site has no air record of its own: the nearer of the two others serves.
SITES = {
    "057x96": ("reynolds_057x96_hourly.csv.gz", "ars_reynolds_076x59_soil_at_1700.csv"),
    "176x14": ("reynolds_176x14_hourly.csv.gz", "ars_reynolds_176x14.csv"),
}
SPLIT = pd.Timestamp("1995-01-01")
START = DailyWave(
    diffusivity_m2_s=3.4e-7,
    exchange_length_m=0.31,
    sun_gain_c_m2_day_mj=1.0,
    air_lag_h=3.0,
    still_c=-3.0,
    full_c=8.0,
    sd_wave=0.4,
    sd_day=0.2,
    source="",
)
FITTED = ("diffusivity_m2_s", "sun_gain_c_m2_day_mj", "still_c", "full_c")
ABOUT = {
    "diffusivity_m2_s": ("m²/s", "fitted"),
    "exchange_length_m": ("m", "that of the annual model, held: the sun's gain takes up the rest"),
    "sun_gain_c_m2_day_mj": ("°C per MJ/m²/day", "fitted"),
    "air_lag_h": ("h", "warmest air three hours after solar noon, common practice, no source"),
    "still_c": ("°C", "fitted"),
    "full_c": ("°C", "fitted"),
    "sd_wave": ("1", "fitted to the residuals, maximum likelihood"),
    "sd_day": ("1", "fitted to the residuals, maximum likelihood"),
}


@dataclass(frozen=True)
class Profile:
    """Whole days of hourly soil at one site and depth, with that day's air."""

    site: str
    depth_m: float
    days: pd.DatetimeIndex
    soil_c: np.ndarray  # (days, 24)
    air: pd.DataFrame  # tmin_c, tmax_c

    @property
    def departure_c(self) -> np.ndarray:
        return self.soil_c - self.soil_c.mean(axis=1, keepdims=True)

    def corrected(self, wave: DailyWave) -> tuple[np.ndarray, np.ndarray]:
        """Return expected departures and their standard errors, days × hours."""
        answer = hour_correction(
            HOURS[None, :],
            self.depth_m,
            tmin_c=self.air["tmin_c"].to_numpy()[:, None],
            tmax_c=self.air["tmax_c"].to_numpy()[:, None],
            day_of_year=self.days.day_of_year.to_numpy()[:, None],
            latitude_deg=LATITUDE_DEG,
            wave=wave,
            solar_noon_h=NOON_H,
        )
        return answer.departure_c, np.broadcast_to(answer.sd_c, answer.departure_c.shape)

    def where(self, chosen: np.ndarray) -> Profile:
        return dataclasses.replace(
            self, days=self.days[chosen], soil_c=self.soil_c[chosen], air=self.air[chosen]
        )


def read_profiles(folder: Path) -> list[Profile]:
    """Return the days with all 24 hours at a depth and both air extremes."""
    profiles = []
    for site, (soil_file, air_file) in SITES.items():
        soil = pd.read_csv(folder / soil_file, parse_dates=["time"], index_col="time")
        air = pd.read_csv(folder / air_file, parse_dates=["date"], index_col="date")
        air = air.loc[air["tmax_c"] >= air["tmin_c"], ["tmin_c", "tmax_c"]]
        for depth_cm in DEPTHS_CM:
            rows = soil.assign(day=soil.index.normalize(), hour=soil.index.hour)
            column = f"soil{depth_cm}_c"
            table = rows.pivot_table(index="day", columns="hour", values=column).dropna()
            days = pd.DatetimeIndex(table.index.intersection(air.index))
            profiles.append(
                Profile(site, depth_cm / 100.0, days, table.loc[days].to_numpy(), air.loc[days])
            )
    return profiles


def fit(profiles: list[Profile]) -> DailyWave:
    """Return the constants by least squares, each depth weighted by its own spread."""
    weights = [1.0 / profile.departure_c.std() for profile in profiles]
    scale = np.array([getattr(START, name) for name in FITTED])

    def constants(factors: np.ndarray) -> DailyWave:
        return dataclasses.replace(
            START, **dict(zip(FITTED, (factors * scale).tolist(), strict=True))
        )

    def residuals(factors: np.ndarray) -> np.ndarray:
        wave = constants(factors)
        return np.concatenate(
            [
                ((p.departure_c - p.corrected(wave)[0]) * weight).ravel()
                for p, weight in zip(profiles, weights, strict=True)
            ]
        )

    return constants(least_squares(residuals, np.ones(len(FITTED))).x)


def error_shares(profiles: list[Profile], wave: DailyWave) -> dict[str, float]:
    """Return the error's two shares by maximum likelihood.

    The share of the departure is mostly one site against the other, so both sites together
    say how far a third may lie; the lines printed last check it on a strange site.
    """

    def cost(logs: np.ndarray) -> float:
        shares = {"sd_wave": float(np.exp(logs[0])), "sd_day": float(np.exp(logs[1]))}
        total = 0.0
        for profile in profiles:
            mean, sd = profile.corrected(dataclasses.replace(wave, **shares))
            z = (profile.departure_c - mean) / sd
            total += float((np.log(sd) + z**2 / 2.0).mean())
        return total

    start = np.log([START.sd_wave, START.sd_day])
    wave_share, day_share = np.exp(minimize(cost, start, method="Nelder-Mead").x)
    return {"sd_wave": float(wave_share), "sd_day": float(day_share)}


def score(profiles: list[Profile], wave: DailyWave) -> list[dict[str, object]]:
    """Return RMS departure from the day's mean before and after the correction."""
    rows: list[dict[str, object]] = []
    for profile in profiles:
        before = profile.departure_c
        mean, sd = profile.corrected(wave)
        after = before - mean
        row: dict[str, object] = {
            "site": profile.site,
            "depth_m": profile.depth_m,
            "days": len(before),
        }
        for name, hours in (("all", slice(None)), ("07", 7), ("17", 17)):
            row[f"before_{name}"] = round(float(np.sqrt((before[:, hours] ** 2).mean())), 2)
            row[f"after_{name}"] = round(float(np.sqrt((after[:, hours] ** 2).mean())), 2)
        row["within_80"] = round(float((np.abs(after) < 1.2816 * sd).mean()), 2)
        rows.append(row)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("folder", type=Path, help="folder of hourly profiles")
    parser.add_argument("--out", type=Path, default=ROOT / "data" / "daily_wave.json")
    arguments = parser.parse_args()
    profiles = read_profiles(arguments.folder)
    early = [p.where(p.days < SPLIT) for p in profiles]
    late = [p.where(p.days >= SPLIT) for p in profiles]
    wave = fit(early)
    wave = dataclasses.replace(wave, **error_shares(early, wave))
    print("fitted before 1995, both sites:", dataclasses.asdict(wave))
    print("scored from 1995 on (°C, RMS departure from the day's mean)")
    table = score(late, wave)
    print(pd.DataFrame(table).to_string(index=False))
    print("each site from 1995 on with the constants of the other before 1995")
    crossed = []
    for site, other in zip(SITES, reversed(SITES), strict=True):
        strange = fit([p for p in early if p.site == other])
        shares = {"sd_wave": wave.sd_wave, "sd_day": wave.sd_day}
        here = [p for p in late if p.site == site]
        crossed += score(here, dataclasses.replace(strange, **shares))
    print(pd.DataFrame(crossed).to_string(index=False))
    arguments.out.write_text(
        json.dumps(
            {
                "source": "hourly soil at 5, 10 and 20 cm, two sites, Reynolds Creek Experimental "
                "Watershed, Idaho, 1992-1994",
                "origin": "USDA Agricultural Research Service, public domain; made by "
                "scripts/fit_daily_wave.py",
                "citation": "Hanson et al. 2001; Seyfried et al. 2001; Water Resources Research 37",
                "constants": {
                    name: {
                        "value": float(f"{getattr(wave, name):.4g}"),
                        "unit": ABOUT[name][0],
                        "basis": ABOUT[name][1],
                    }
                    for name in NUMBERS
                },
                "left_out_years_1995_1996": table,
                "left_out_years_with_constants_of_the_other_site": crossed,
            },
            indent=2,
            ensure_ascii=False,
        )
        + "\n",
        encoding="utf-8",
    )
    print("wrote", arguments.out)


if __name__ == "__main__":
    main()
