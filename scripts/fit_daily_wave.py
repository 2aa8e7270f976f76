#!/usr/bin/env python3
"""Fit the constants of the daily wave in soil and write data/daily_wave.json again.

Usage: fit_daily_wave.py FOLDER [--out FILE]

FOLDER/probe holds hourly soil temperatures at 5, 10 and 20 cm from two sites of the Reynolds
Creek Experimental Watershed, Idaho (USDA Agricultural Research Service, public domain;
Hanson et al. 2001 and Seyfried et al. 2001, Water Resources Research 37) and daily air
temperatures: sparse shrubs on dry ground, which stands for bare soil. FOLDER/hourly holds hourly
air and soil at two grassed places in Kansas (its README names the public repositories). Fitted on
days before a split at both sites of a cover, scored on the days since, there and with the
constants of one site on the other.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.optimize import least_squares

from forecaster.soil.wave import (
    NUMBERS,
    DailyWave,
    HourCorrection,
    hour_correction,
    solar_noon_hour,
)

ROOT = Path(__file__).resolve().parents[1]
HOURS = np.arange(24.0)
DEPTHS_CM = (5, 10, 20)


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where hourly soil was measured, and the daily air that goes with it."""

    name: str
    cover: str
    latitude_deg: float
    longitude_deg: float
    utc_offset_h: float
    soil: str
    air: str | None  # None: the same file's hourly air
    split: str
    stamp_h: float = 0.0  # from the stamp to the middle of what it stands for

    @property
    def noon_h(self) -> float:
        return solar_noon_hour(self.longitude_deg, self.utc_offset_h)


# Reynolds Creek's position from memory, to 0.1°. The valley site has no air record of its own: the
# nearer of the two others serves.
PLACES = (
    Place(name="057x96", cover="bare", latitude_deg=43.1, longitude_deg=-116.75,
          utc_offset_h=-7.0, soil="probe/reynolds_057x96_hourly.csv.gz",
          air="probe/ars_reynolds_076x59_soil_at_1700.csv", split="1995-01-01"),
    Place(name="176x14", cover="bare", latitude_deg=43.1, longitude_deg=-116.75,
          utc_offset_h=-7.0, soil="probe/reynolds_176x14_hourly.csv.gz",
          air="probe/ars_reynolds_176x14.csv", split="1995-01-01"),
    Place(name="lane", cover="grass", latitude_deg=38.5088, longitude_deg=-100.6147,
          utc_offset_h=-6.0, soil="hourly/lane_county.csv.gz", air=None, split="2020-01-01",
          stamp_h=-0.5),
    Place(name="kings", cover="grass", latitude_deg=39.10, longitude_deg=-96.58,
          utc_offset_h=-6.0, soil="hourly/kings_creek.csv.gz", air=None, split="2023-01-01"),
)  # fmt: skip
SOURCES = {
    "grass": "hourly soil at 5, 10 and 20 cm, two grassed places in Kansas, 2017-2019 and 2022; "
    "public repositories samzipper/PlayaModels and soilwater/pynotes-agriscience",
    "bare": "hourly soil at 5, 10 and 20 cm, two sites of sparse shrubs, Reynolds Creek "
    "Experimental Watershed, Idaho, 1992-1994; USDA Agricultural Research Service, public domain; "
    "Hanson et al. 2001; Seyfried et al. 2001; Water Resources Research 37",
}
LEAST_SD_WAVE = 0.2  # common sense, no source; 0.4 let a season of one hour swallow the offset
START = DailyWave(
    diffusivity_m2_s=3.4e-7,
    exchange_length_m=json.loads((ROOT / "data/soil_model.json").read_text())["exchange_length_m"],
    sun_gain_c_m2_day_mj=1.0,
    air_lag_h=3.0,
    still_c=-3.0,
    full_c=8.0,
    sd_wave=0.4,
    sd_phase_h=0.6,
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
    "sd_wave": ("1", "how far the profiles' sizes lie off, root mean square; 0.2 at least"),
    "sd_phase_h": ("h", "how far the profiles' hours lie off, root mean square"),
    "sd_day": ("1", "what is left of days and hours, widened for what weeks share"),
}


@dataclass(frozen=True)
class Profile:
    """Whole days of hourly soil at one site and depth, with that day's air."""

    place: Place
    depth_m: float
    days: pd.DatetimeIndex
    soil_c: np.ndarray  # (days, 24)
    air: pd.DataFrame  # tmin_c, tmax_c

    @property
    def site(self) -> str:
        return self.place.name

    @property
    def departure_c(self) -> np.ndarray:
        return self.soil_c - self.soil_c.mean(axis=1, keepdims=True)

    def answer(self, wave: DailyWave) -> HourCorrection:
        """Return the correction at every hour, days × hours."""
        return hour_correction(
            (HOURS[None, :] + self.place.stamp_h) % 24.0,
            self.depth_m,
            tmin_c=self.air["tmin_c"].to_numpy()[:, None],
            tmax_c=self.air["tmax_c"].to_numpy()[:, None],
            day_of_year=self.days.day_of_year.to_numpy()[:, None],
            latitude_deg=self.place.latitude_deg,
            wave=wave,
            solar_noon_h=self.place.noon_h,
        )

    def corrected(self, wave: DailyWave) -> tuple[np.ndarray, np.ndarray]:
        """Return expected departures and their standard errors, days × hours."""
        answer = self.answer(wave)
        return answer.departure_c, np.broadcast_to(answer.sd_c, answer.departure_c.shape)

    def early(self) -> Profile:
        return self.where(self.days < pd.Timestamp(self.place.split))

    def late(self) -> Profile:
        return self.where(self.days >= pd.Timestamp(self.place.split))

    def where(self, chosen: np.ndarray) -> Profile:
        return dataclasses.replace(
            self, days=self.days[chosen], soil_c=self.soil_c[chosen], air=self.air[chosen]
        )


def read_profiles(folder: Path, cover: str) -> list[Profile]:
    """Return the days with all 24 hours at a depth and both air extremes."""
    profiles = []
    for place in (each for each in PLACES if each.cover == cover):
        soil = pd.read_csv(folder / place.soil, parse_dates=["time"], index_col="time")
        rows = soil.assign(day=soil.index.normalize(), hour=soil.index.hour)
        if place.air is None:
            by_day = rows.groupby("day")["air_c"].agg(["min", "max", "count"])
            air = by_day[by_day["count"] == HOURS.size].set_axis(["tmin_c", "tmax_c", "n"], axis=1)
        else:
            air = pd.read_csv(folder / place.air, parse_dates=["date"], index_col="date")
        air = air.loc[air["tmax_c"] >= air["tmin_c"], ["tmin_c", "tmax_c"]]
        for depth_cm in (each for each in DEPTHS_CM if f"soil{each}_c" in soil):
            column = f"soil{depth_cm}_c"
            table = rows.pivot_table(index="day", columns="hour", values=column).dropna()
            days = pd.DatetimeIndex(table.index.intersection(air.index))
            profiles.append(
                Profile(place, depth_cm / 100.0, days, table.loc[days].to_numpy(), air.loc[days])
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
    """Return the error's shares: how far profiles lie off in size and hour, and days in each.

    Size and hour of every profile's wave are fitted by least squares; what is then left of an
    hour's departure, over the wave's amplitude, gives the share of days, by the quantile that
    holds four in five (a normal's; the rest is heavy-tailed). Two sites that happen to agree are
    no proof: the amplitude of a third is taken to lie a fifth off at least. What a day's hour owes
    lasts for weeks (leaves, water in the soil), and readings a week apart share some of it: with a
    correlation ρ from week to week the error of each counts √((1 + ρ)/(1 − ρ)) times.
    """
    unit = dataclasses.replace(wave, sd_wave=1.0, sd_phase_h=1.0, sd_day=1.0)
    off, left, lasts = [], [], []
    for profile in profiles:
        answer = profile.answer(unit)
        basis = answer.shared_c.reshape(-1, 2)
        miss = (profile.departure_c - answer.departure_c).ravel()
        found = np.linalg.lstsq(basis, miss)[0]
        off.append(found)
        rest = (miss - basis @ found) / np.maximum(answer.own_sd_c.ravel(), 1e-6)
        left.append(np.abs(rest))
        by_day = pd.DataFrame(rest.reshape(profile.departure_c.shape), profile.days).asfreq("D")
        lasts += [by_day[hour].autocorr(7) for hour in (8, 17)]
    size, hours = np.sqrt(np.mean(np.square(off), axis=0))
    week = float(np.mean(lasts))
    quantile = np.mean([np.quantile(each, 0.8) for each in left])
    return {
        "sd_wave": max(float(size), LEAST_SD_WAVE),
        "sd_phase_h": float(hours),
        "sd_day": float(quantile / 1.2815515655446004 * np.sqrt((1.0 + week) / (1.0 - week))),
    }


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


def fit_cover(folder: Path, cover: str) -> dict[str, object]:
    """Return what data/daily_wave.json holds of a cover; print how it scores."""
    profiles = read_profiles(folder, cover)
    sites = [place.name for place in PLACES if place.cover == cover]
    early, late = [p.early() for p in profiles], [p.late() for p in profiles]
    wave = fit(early)
    shares = error_shares(early, wave)
    wave = dataclasses.replace(wave, **shares)
    print(f"{cover}: fitted before the split, both sites:", dataclasses.asdict(wave))
    print("scored since (°C, RMS departure from the day's mean)")
    table = score(late, wave)
    print(pd.DataFrame(table).to_string(index=False))
    print("each site since with the constants of the other")
    crossed = []
    for site, other in zip(sites, reversed(sites), strict=True):
        strange = dataclasses.replace(fit([p for p in early if p.site == other]), **shares)
        crossed += score([p for p in late if p.site == site], strange)
    print(pd.DataFrame(crossed).to_string(index=False))
    return {
        "source": SOURCES[cover],
        "constants": {
            name: {
                "value": float(f"{getattr(wave, name):.4g}"),
                "unit": ABOUT[name][0],
                "basis": ABOUT[name][1],
            }
            for name in NUMBERS
        },
        "left_out_days": table,
        "left_out_days_with_constants_of_the_other_site": crossed,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("folder", type=Path, help="folder of probe/ and hourly/")
    parser.add_argument("--out", type=Path, default=ROOT / "data" / "daily_wave.json")
    arguments = parser.parse_args()
    covers = {cover: fit_cover(arguments.folder, cover) for cover in SOURCES}
    table = {"made_by": "scripts/fit_daily_wave.py", "covers": covers}
    text = json.dumps(table, indent=1, ensure_ascii=False)
    arguments.out.write_text(text + "\n", encoding="utf-8")
    print("wrote", arguments.out)


if __name__ == "__main__":
    main()
