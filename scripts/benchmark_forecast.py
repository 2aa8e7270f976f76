#!/usr/bin/env python3
"""Score the forecast of the settled day on stations that the constants have not seen.

    scripts/benchmark_forecast.py DIR [--also DIR:COVER …] [--stations N] [--members 200] [--jobs 2]
                                  [--fits FILE] [--json FILE]

DIR as for scripts/fit_model.py. The stations are dealt into folds as in benchmark_estimate.py;
for each fold κ, L, weights, terms on the map and residual process are fitted on the others.
--fits keeps those fits for the next run. Numbers that have seen every station: range and nugget
of the map's correlation, and the five of data/outlook.json.

Truth: the settled day of measured daily soil temperature at 10 cm, in seasons of which nine days
in ten are known and no gap is longer than five days. A forecast is issued so many days before
the station's usual date, the median of its other seasons, and knows air and readings up to that
day. Seasons that cross are scored in the main table; a season that never crosses, or begins past
the threshold, counts at its last or first day in the line "all seasons". A threshold needs five
seasons that cross at a station.

Users: none (air alone); weekly (the daily means of every seventh day of the last eight weeks,
with a normal error of 0.5 °C: no error of the hour is in them); years (up to three years of daily
readings, 300 at least).

Baselines, in the same run, on the same seasons:
- own past dates: the station's other seasons as equally likely members;
- fixed date: the median over the stations of the other folds of their median calendar dates;
- air of 7 days: the settled day of the trailing 7-day mean of the air, past air as observed and
  then the same future members of air as the forecast has;
- ridge: daily soil on the air of that day and 29 before, fitted on the third user's readings,
  driven by the same future members; penalty by generalised cross-validation, no error added.

In the detail, "split" is the coverage with a pile of members on one day split at the window's
ends; PIT shares are of seasons whose truth lay at the outer tenths of the forecast.

Two more lines: the second user with an outlook of 14 days, which is the true air and an error that
grows with the lead (CROSSDAY_OUTLOOK_ERROR times what the forecast takes it to be), and the RMSE
of the daily soil temperature in the 30 days after the last of eight weekly readings, given the
true air, from four starts a year.
"""

from __future__ import annotations

import argparse
import json
import os
import time
import zlib
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from benchmark_estimate import air_table, deal
from fit_model import Station, load_places, load_stations
from station_fits import models_left_out

from forecaster.chance.future_air import (
    OUTLOOK_ERROR_C,
    OUTLOOK_ERROR_GROWTH_C,
    choose_past,
    future_air,
)
from forecaster.chance.scores import crps_ensemble
from forecaster.forecast.air_ahead import load_air_memory
from forecaster.forecast.soil import forecast_from
from forecaster.forecast.understand import Place, understand
from forecaster.ground.errors import NotEnoughData
from forecaster.ground.site import Site
from forecaster.ground.units import f_to_c
from forecaster.rules.crossings import NEVER, crossing_index
from forecaster.rules.past import PastSeason, past_seasons
from forecaster.rules.season import season_of
from forecaster.soil.model import FITTED_DEPTH_M, SoilModel
from forecaster.soil.season import fit_yearly, harmonics

KIND = "mean+extremes+rain"
THRESHOLDS = (("cool 65 °F", 65.0, "falling"), ("warm 65 °F", 65.0, "rising"),
              ("warm 68 °F", 68.0, "rising"))  # fmt: skip
LEADS_DAYS = (0, 7, 14, 28)
USERS = ("none", "weekly", "years")
BASELINES = ("own past dates", "fixed date", "air of 7 days", "ridge")
WITH_OUTLOOK = "weekly, outlook"
LEAST_SEASONS = 5
WEEKS, HAND_ERROR_C, LEAST_WEEKS = 8, 0.5, 6
YEARS_OF_READINGS, LEAST_READINGS = 3, 300
LAGS, PENALTIES = 30, 10.0 ** np.arange(-2.0, 5.0)
AFTER_DAYS, STARTS_APART_DAYS = 30, 91
TARGETS = {  # mean CRPS, days
    "none": (5.4, 5.9, 6.3, 6.5),
    "weekly": (2.95, 3.95, 4.85, 5.4),
    "years": (2.4, 3.6, 4.55, 5.0),
}
COVERAGE_TARGET = (0.76, 0.86)
OUTLOOK_TARGET, RMSE_TARGET_C = 1.0, 1.05
OUTLOOK_DAYS, EXTREMES_ERROR_C = 14, 1.0  # of each extreme beside the day's mean
ERROR_SCALE = float(os.environ.get("CROSSDAY_OUTLOOK_ERROR", "1"))  # for workers too


@dataclass(frozen=True)
class Case:
    """One station as its users see it, and what is known of the others."""

    name: str
    site: Site
    air: pd.DataFrame
    soil: pd.DataFrame
    seasons: dict[str, list[PastSeason]]
    model: SoilModel
    fixed: dict[str, float]


def seasons_of(station: Station) -> dict[str, list[PastSeason]]:
    """The station's past seasons by threshold, where five or more cross."""
    soil = station.soil_c[FITTED_DEPTH_M]
    yearly = fit_yearly(harmonics(station.day), soil, prior_sd=20.0, noise_sd=5.0)
    found = {}
    for name, temp_f, direction in THRESHOLDS:
        season = season_of(yearly, direction)
        past = past_seasons(station.day, soil, season, f_to_c(temp_f), direction)
        if sum(one.crossed for one in past) >= LEAST_SEASONS:
            found[name] = past
    return found


def calendar_day(one: PastSeason, direction: str) -> float:
    """The settled day counted from 1 July for a falling soil, 1 January for a rising one."""
    year = str(one.start + 60)[:4]
    begin = np.datetime64(f"{year}-07-01" if direction == "falling" else f"{year}-01-01", "D")
    return float((one.start + one.index - begin).astype(int))


def fixed_dates(
    seasons: Sequence[dict[str, list[PastSeason]]], use: np.ndarray
) -> dict[str, float]:
    """The median over stations of their median calendar dates, by threshold."""
    found = {}
    for name, _, direction in THRESHOLDS:
        medians = [
            np.median([calendar_day(one, direction) for one in by[name] if one.crossed])
            for by, used in zip(seasons, use, strict=True)
            if used and name in by
        ]
        found[name] = float(np.median(medians))
    return found


def readings_of(station: Station) -> pd.DataFrame:
    """Measured daily means as a log."""
    soil = station.soil_c[FITTED_DEPTH_M]
    table = pd.DataFrame(
        {
            "time": station.day.astype("datetime64[D]").astype("datetime64[ns]"),
            "temp_c": soil,
            "depth_m": FITTED_DEPTH_M,
            "span": "day",
        }
    )
    return table[np.isfinite(soil)].reset_index(drop=True)


def weekly(soil: pd.DataFrame, last: pd.Timestamp, seed: int) -> pd.DataFrame | None:
    """Eight weekly hand readings that end on a day; None if fewer than six could be taken."""
    days = last - pd.to_timedelta(7 * np.arange(WEEKS), unit="D")
    taken = soil[soil["time"].isin(days)]
    if len(taken) < LEAST_WEEKS:
        return None
    error = np.random.default_rng(seed).normal(0.0, HAND_ERROR_C, len(taken))
    return taken.assign(temp_c=taken["temp_c"] + error)


def readings_for(
    user: str, soil: pd.DataFrame, last: pd.Timestamp, seed: int
) -> tuple[bool, pd.DataFrame | None]:
    """Whether such a user has enough, and the readings."""
    if user == "none":
        return True, None
    if user == "weekly":
        taken = weekly(soil, last, seed)
        return taken is not None, taken
    since = last - pd.DateOffset(years=YEARS_OF_READINGS)
    taken = soil[(soil["time"] <= last) & (soil["time"] > since)]
    return len(taken) >= LEAST_READINGS, taken


def outlook_of(air: pd.DataFrame, issued: pd.Timestamp, seed: int) -> pd.DataFrame | None:
    """The true air of the next days with a service's error; None if a day of it is unknown.

    The error of the mean grows with the lead as `trust_in` has it, times ERROR_SCALE, and lasts
    from day to day as the weather does; each extreme errs by 1 °C more. Rain is not told.
    """
    ahead = air.loc[issued + pd.Timedelta(days=1) : issued + pd.Timedelta(days=OUTLOOK_DAYS)]
    true = ahead[["tmin_c", "tmax_c"]]
    if len(true) < OUTLOOK_DAYS or true.isna().any().any():
        return None
    random, lasts = np.random.default_rng(seed + 1), load_air_memory().persistence_per_day
    error = random.normal(size=OUTLOOK_DAYS)
    for k in range(1, OUTLOOK_DAYS):
        error[k] = lasts * error[k - 1] + np.sqrt(1.0 - lasts**2) * error[k]
    sd = np.hypot(OUTLOOK_ERROR_C, OUTLOOK_ERROR_GROWTH_C * np.arange(1.0, OUTLOOK_DAYS + 1.0))
    apart = random.normal(0.0, EXTREMES_ERROR_C, true.shape)
    return true + ERROR_SCALE * (sd * error)[:, None] + apart


def score_row(members: np.ndarray, observed: float) -> dict[str, float]:
    """Scores of one forecast of the settled day, days from the season's first."""
    x = np.sort(np.asarray(members, dtype=float))
    low, middle, high = (x[max(int(np.ceil(q * x.size)), 1) - 1] for q in (0.1, 0.5, 0.9))
    return {
        "crps": float(crps_ensemble(x, np.array(observed))),
        "miss": float(middle - observed),
        "inside": float(low <= observed <= high),
        "width": float(high - low),
        "pit": float((x < observed).mean() + 0.5 * (x == observed).mean()),
        "split": split_inside(float((x < observed).mean()), float((x == observed).mean())),
    }


def split_inside(below: float, at: float) -> float:
    """How much of the outcome's own probability lies between 10 and 90 %.

    Members pile up on a day, such as the last warm one so far; then a window that includes both
    its ends holds more than its share however good the forecast. Splitting the pile does not.
    """
    if at == 0.0:
        return float(0.1 <= below <= 0.9)
    return min(1.0, max(0.0, min(below + at, 0.9) - max(below, 0.1)) / at)


def members_of(crossed: np.ndarray, one: PastSeason) -> np.ndarray:
    """Members' dates as days from the season's first; never at its last."""
    dates = np.where(np.isnat(crossed), one.end, crossed)
    return (dates - one.start).astype(float)


def air_members(place: Place, one: PastSeason, members: int, seed: int) -> np.ndarray:
    """The forecast's own members of daily air, from the record's first day to the season's end."""
    horizon = int((one.end - np.datetime64(int(place.day[-1]), "D")).astype(int))
    day = place.day[-1] + np.arange(1, horizon + 1)
    doy = pd.DatetimeIndex(day.astype("datetime64[D]")).day_of_year.to_numpy().astype(np.int64)
    random = np.random.default_rng(seed)
    splice = choose_past(place.day.size, horizon, members, random)
    modelled, unsure = place.modelled, random.standard_normal(members)
    ahead = future_air(
        modelled.air,
        modelled.climate,
        splice,
        memory=load_air_memory(),
        unsure=unsure,
        day=day,
        day_of_year=doy,
    )
    past = np.broadcast_to(modelled.air.mean_c, (members, place.day.size))
    return np.concatenate([past, ahead.mean_c], axis=1)


def lagged(air_c: np.ndarray) -> np.ndarray:
    """The air of each day and the 29 before, (..., days − 29, 30)."""
    return np.lib.stride_tricks.sliding_window_view(air_c, LAGS, axis=-1)


def fit_ridge(place: Place, readings: pd.DataFrame) -> tuple[float, np.ndarray]:
    """Intercept and weights of the lags, the penalty by generalised cross-validation."""
    day = readings["time"].to_numpy().astype("datetime64[D]").astype(np.int64) - place.day[0]
    use = (day >= LAGS - 1) & (day < place.day.size)
    x = lagged(place.modelled.air.mean_c)[day[use] - LAGS + 1]
    y = readings["temp_c"].to_numpy()[use]
    middle, level = x.mean(axis=0), y.mean()
    u, s, vt = np.linalg.svd(x - middle, full_matrices=False)
    uy = u.T @ (y - level)
    best = min(PENALTIES, key=lambda penalty: _validation(s, uy, y - level, penalty))
    weights = vt.T @ (s / (s**2 + best) * uy)
    return float(level - middle @ weights), weights


def _validation(s: np.ndarray, uy: np.ndarray, y: np.ndarray, penalty: float) -> float:
    """Generalised cross-validation: squared misfit over the squared share of freedom left."""
    shrink = s**2 / (s**2 + penalty)
    misfit = y @ y - (uy**2 * (2.0 * shrink - shrink**2)).sum()
    return float(misfit / (1.0 - shrink.sum() / y.size) ** 2)


def season_dates(values: np.ndarray, one: PastSeason, asked: Any) -> np.ndarray:
    """Settled days of series that end with the season, days from its first; never at its last."""
    inside = values[:, -(one.days + 1) :]  # fewer where the record begins within the season
    index = crossing_index(inside, f_to_c(asked[1]), asked[2])
    shift = one.days + 1 - inside.shape[1]
    return np.where(index == NEVER, one.days, index + shift).astype(float)


def run_station(case: Case, members: int) -> list[dict[str, Any]]:
    """Every row of one station."""
    rows: list[dict[str, Any]] = []
    for asked in THRESHOLDS:
        for one in case.seasons.get(asked[0], []):
            rows += [
                {"station": case.name, "threshold": asked[0], "year": one.year,
                 "crossed": one.crossed} | row
                for row in run_season(case, asked, one, members)
            ]  # fmt: skip
    return rows


def run_season(case: Case, asked: Any, one: PastSeason, members: int) -> Iterator[dict[str, Any]]:
    """Every row of one season: users and baselines by lead."""
    others = [o.index for o in case.seasons[asked[0]] if o.year != one.year and o.crossed]
    usual = int(np.median(others))
    truth = float(one.censored)
    own = score_row(np.array(others), truth)
    shifted = calendar_day(one, asked[2]) - one.index
    fixed = score_row(np.array([case.fixed[asked[0]] - shifted]), truth)
    for lead in LEADS_DAYS:
        issued = pd.Timestamp(one.start + usual - lead)
        seed = zlib.crc32(f"{case.name} {asked[0]} {one.year} {lead}".encode())
        yield {"who": "own past dates", "lead": lead} | own
        yield {"who": "fixed date", "lead": lead} | fixed
        for user in USERS:
            able, readings = readings_for(user, case.soil, issued, seed)
            if not able:
                continue
            try:
                yield from run_user(
                    case, asked, one, lead=lead, issued=issued, user=user, readings=readings,
                    members=members, seed=seed,
                )  # fmt: skip
            except NotEnoughData:
                continue


def run_user(
    case: Case,
    asked: Any,
    one: PastSeason,
    *,
    lead: int,
    issued: pd.Timestamp,
    user: str,
    readings: pd.DataFrame | None,
    members: int,
    seed: int,
) -> Iterator[dict[str, Any]]:
    """One user's row, and the rows of the baselines that know as much."""
    truth, threshold_c, direction = float(one.censored), f_to_c(asked[1]), asked[2]
    place = understand(case.air.loc[:issued], case.site, readings, case.model)
    start = max(one.start, np.datetime64(case.air.index[0], "D"))
    horizon = max(1, int((one.end - np.datetime64(issued, "D")).astype(int)))

    def forecast(outlook: pd.DataFrame | None = None) -> dict[str, float]:
        soil = forecast_from(
            place, issued=issued, start=start, horizon_days=horizon,
            members=members, outlook=outlook, seed=seed,
        )  # fmt: skip
        crossing = soil.crossing(threshold_c, direction, first=start, last=one.end)
        return score_row(members_of(crossing.dates, one), truth)

    yield {"who": user, "lead": lead} | forecast()
    if user == "weekly":
        told = outlook_of(case.air, issued, seed)
        if told is not None:
            yield {"who": WITH_OUTLOOK, "lead": lead} | forecast(told)
        return
    air_c = air_members(place, one, members, seed)
    if user == "none":
        mean = np.lib.stride_tricks.sliding_window_view(air_c[:, -(one.days + 7) :], 7, axis=-1)
        found = season_dates(mean.mean(axis=-1), one, asked)
        yield {"who": "air of 7 days", "lead": lead} | score_row(found, truth)
    elif readings is not None:
        level, weights = fit_ridge(place, readings)
        soil = level + lagged(air_c[:, -(one.days + LAGS) :]) @ weights
        found = season_dates(soil, one, asked)
        yield {"who": "ridge", "lead": lead} | score_row(found, truth)


def daily_rmse(case: Case) -> dict[str, Any]:
    """RMSE of daily soil in the 30 days after eight weekly readings, given the true air, °C."""
    truth = case.soil.set_index("time")["temp_c"]
    misses, spreads = [], []
    first, last = truth.index[0] + pd.Timedelta(days=7 * WEEKS), truth.index[-1]
    for i, day in enumerate(pd.date_range(first, last, freq=f"{STARTS_APART_DAYS}D")):
        until = day + pd.Timedelta(days=AFTER_DAYS)
        taken = weekly(case.soil, day, zlib.crc32(f"{case.name} {i}".encode()))
        after = truth.loc[day + pd.Timedelta(days=1) : until]
        if taken is None or after.empty:
            continue
        place = understand(case.air.loc[:until], case.site, taken, case.model)
        at = after.index.to_numpy().astype("datetime64[D]").astype(np.int64) - place.day[0]
        at = at[at < place.day.size]
        misses.append(after.to_numpy()[: at.size] - place.soil_c[at])
        spreads.append(place.sd_c[at])
    miss, spread = np.concatenate(misses), np.concatenate(spreads)
    return {
        "station": case.name,
        "rmse_c": float(np.sqrt(np.mean(miss**2))),
        "inside": float(np.mean(np.abs(miss) <= 1.2816 * spread)),
        "days": int(miss.size),
    }


def run_case(case: Case, members: int) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Everything of one station."""
    return run_station(case, members), daily_rmse(case)


def cell(rows: pd.DataFrame) -> dict[str, float]:
    """Scores of the rows of one cell."""
    return {
        "n": len(rows),
        "crps_days": rows["crps"].mean(),
        "mae_days": rows["miss"].abs().mean(),
        "bias_days": rows["miss"].mean(),
        "coverage": rows["inside"].mean(),
        "coverage_ties_split": rows["split"].mean(),
        "width_days": rows["width"].mean(),
        "below_10": (rows["pit"] < 0.1).mean(),
        "above_90": (rows["pit"] > 0.9).mean(),
    }


def against(rows: pd.DataFrame, user: str, baseline: str, lead: int) -> dict[str, float]:
    """A user's mean CRPS against a baseline's on the seasons that both answer."""
    key = ["station", "threshold", "year"]
    at_lead = rows[rows["lead"] == lead]
    ours, theirs = (
        at_lead[at_lead["who"] == who].set_index(key)["crps"] for who in (user, baseline)
    )
    both = ours.index.intersection(theirs.index)
    mine, other = float(ours.loc[both].mean()), float(theirs.loc[both].mean())
    return {"n": len(both), "ours": mine, "theirs": other, "skill": 1.0 - mine / other}


def report(rows: pd.DataFrame, daily: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Every score."""
    crossed = rows[rows["crossed"]]
    who = [*USERS, WITH_OUTLOOK, *BASELINES]

    def table(some: pd.DataFrame) -> dict[str, Any]:
        return {
            name: {str(lead): cell(group) for lead, group in mine.groupby("lead")}
            for name, mine in ((name, some[some["who"] == name]) for name in who)
        }

    return {
        "stations": int(rows["station"].nunique()),
        "seasons": len(crossed.drop_duplicates(["station", "threshold", "year"])),
        "seasons_not_crossed": len(
            rows[~rows["crossed"]].drop_duplicates(["station", "threshold", "year"])
        ),
        "cells": table(crossed),
        "all_seasons": table(rows),
        "by_threshold": {name: table(some) for name, some in crossed.groupby("threshold")},
        "against": {
            f"{user} : {base}": {
                str(lead): against(crossed, user, base, lead) for lead in LEADS_DAYS
            }
            for user in USERS
            for base in BASELINES
        },
        "outlook": {
            str(lead): against(rows, WITH_OUTLOOK, "weekly", lead) for lead in LEADS_DAYS
        },
        "daily_rmse_c": {
            "median": float(np.median([d["rmse_c"] for d in daily])),
            "p90": float(np.quantile([d["rmse_c"] for d in daily], 0.9)),
            "coverage": float(np.average([d["inside"] for d in daily],
                                         weights=[d["days"] for d in daily])),
            "by_station": {d["station"]: round(d["rmse_c"], 3) for d in daily},
        },
    }  # fmt: skip


def print_report(found: dict[str, Any]) -> None:
    """The tables."""
    print(
        f"\n{found['stations']} stations left out in turn, {found['seasons']} seasons that cross"
        f" ({found['seasons_not_crossed']} that do not: in the lines 'all seasons')"
    )
    print("\nMean CRPS in days of the settled date, issued so many days before the usual date")
    print(f"{'':26}" + "".join(f"{lead:>8}" for lead in LEADS_DAYS) + "   target")
    for name, by_lead in found["cells"].items():
        cells = [by_lead.get(str(lead)) for lead in LEADS_DAYS]
        line = "".join(f"{c['crps_days']:8.2f}" if c else f"{'':8}" for c in cells)
        goal = TARGETS.get(name, ())
        met = [bool(c) and c["crps_days"] <= g for c, g in zip(cells, goal, strict=False)]
        words = " / ".join(f"{g:g}" for g in goal) + f"  met {sum(met)} of 4" if goal else ""
        print(f"{name:26}{line}   {words}")
        if name in USERS:
            every = found["all_seasons"][name]
            line = "".join(f"{every[str(lead)]['crps_days']:8.2f}" for lead in LEADS_DAYS)
            print(f"{'  all seasons':26}{line}")
    for title, some in (("Crossing seasons", found["cells"]), *found["by_threshold"].items()):
        print_detail(title, some)
    print("\nSkill against the baselines, 1 − CRPS ratio on the seasons that both answer")
    print(f"{'':30}" + "".join(f"{lead:>8}" for lead in LEADS_DAYS) + "       n")
    for name, by_lead in found["against"].items():
        line = "".join(f"{by_lead[str(lead)]['skill']:+8.2f}" for lead in LEADS_DAYS)
        print(f"{name:30}{line}{by_lead['0']['n']:8d}")
    for lead, s in found["outlook"].items():
        word = "met" if s["skill"] >= 1.0 - OUTLOOK_TARGET else "missed"
        print(
            f"outlook of {OUTLOOK_DAYS} days, {lead} days before: {s['ours']:.2f} against"
            f" {s['theirs']:.2f}, ratio {1.0 - s['skill']:.3f} (≤ {OUTLOOK_TARGET}: {word})"
        )
    daily = found["daily_rmse_c"]
    word = "met" if daily["median"] <= RMSE_TARGET_C else "missed"
    print(
        f"daily soil in the 30 days after eight weekly readings, true air: median RMSE"
        f" {daily['median']:.3f} °C (≤ {RMSE_TARGET_C}: {word}), 90th percentile"
        f" {daily['p90']:.3f}, 80 % interval covers {daily['coverage']:.3f}"
    )


def print_detail(title: str, some: dict[str, Any]) -> None:
    """Coverage, width and misses of the users in one group of seasons."""
    print(f"\n{title}")
    heads = ("CRPS", "MAE", "bias", "80 %", "split", "width", "PIT<.1", ">.9")
    print(f"{'user':24}{'lead':>5}{'n':>6}" + "".join(f"{head:>7}" for head in heads))
    low, high = COVERAGE_TARGET
    for name in (*USERS, WITH_OUTLOOK):
        for lead, c in some[name].items():
            right = low <= c["coverage"] <= high
            flag = "" if right else "  outside 76–86 %"
            print(
                f"{name:24}{lead:>5}{c['n']:6.0f}{c['crps_days']:7.2f}{c['mae_days']:7.2f}"
                f"{c['bias_days']:+7.2f}{c['coverage']:7.3f}{c['coverage_ties_split']:7.3f}"
                f"{c['width_days']:7.1f}{c['below_10']:7.2f}{c['above_90']:7.2f}{flag}"
            )


def cases_of(stations: Sequence[Station], options: argparse.Namespace) -> list[Case]:
    """Every station to score, with a model that has not seen it."""
    fold = deal(stations, options.folds, options.seed)
    with ProcessPoolExecutor(max_workers=options.jobs) as pool:
        also = load_places(options.also)
        models = models_left_out(stations, fold, KIND, kept=options.fits, pool=pool, also=also)
    seasons = [seasons_of(station) for station in stations]
    fixed = [fixed_dates(seasons, fold != k) for k in range(options.folds)]
    step = len(stations) / (options.stations or len(stations))
    chosen = sorted({int(i * step) for i in range(options.stations or len(stations))})
    return [
        Case(
            (s := stations[i]).name,
            Site(s.latitude_deg, s.longitude_deg),
            air_table(s, KIND),
            readings_of(s),
            seasons[i],
            models[fold[i]],
            fixed[fold[i]],
        )
        for i in chosen
    ]


def main() -> None:
    """Fit, forecast, score, print; what is done is printed even if stopped."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--also", nargs="+", default=[], help="DIR:COVER, more to fit on")
    parser.add_argument("--stations", type=int, help="score so many only, spread over the list")
    parser.add_argument("--members", type=int, default=200)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--folds", type=int, default=5)
    parser.add_argument("--seed", type=int, default=0, help="of the deal into folds")
    parser.add_argument("--fits", type=Path, help="file that keeps the fits")
    parser.add_argument("--json", type=Path, help="write every score here")
    parser.add_argument("--rows", type=Path, help="write every forecast's scores here, CSV")
    options = parser.parse_args()
    began = time.monotonic()
    cases = cases_of(load_stations(options.folder), options)
    print(f"{time.monotonic() - began:.0f} s: models of {options.folds} folds", flush=True)
    rows: list[dict[str, Any]] = []
    daily: list[dict[str, Any]] = []
    with ProcessPoolExecutor(max_workers=options.jobs) as pool:
        jobs: list[Future[Any]] = [pool.submit(run_case, case, options.members) for case in cases]
        try:
            for count, job in enumerate(as_completed(jobs), 1):
                found, rmse = job.result()
                rows += found
                daily.append(rmse)
                if count % 10 == 0:
                    print(f"{time.monotonic() - began:.0f} s: {count} stations", flush=True)
        except KeyboardInterrupt:
            for job in jobs:
                job.cancel()
            print(f"stopped: {len(daily)} of {len(jobs)} stations are done")
    if not rows:
        raise SystemExit("no season is known well enough")
    table = pd.DataFrame(rows)
    found = report(table, daily)
    print_report(found)
    print(f"\n{time.monotonic() - began:.0f} s")
    if options.json:
        options.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    if options.rows:
        table.to_csv(options.rows, index=False, float_format="%.3f")


if __name__ == "__main__":
    main()
