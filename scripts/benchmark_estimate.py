#!/usr/bin/env python3
"""Score the estimate of daily soil temperature at 10 cm, without readings, on stations left out.

    scripts/benchmark_estimate.py DIR [--also DIR:COVER …] [--folds 5] [--kinds KIND …] [--seed 0]
                                  [--json FILE]
    scripts/benchmark_estimate.py DIR --map [--kinds KIND …]

DIR as for scripts/fit_model.py; the stations of --also are fitted on in every fold. The stations
are dealt into folds; stations closer than 100 km to each other always share one. For each fold
everything that fit_model.py fits (κ, L, weights, terms on the map, residual process) is fitted
again on the other folds, and the function behind `estimate_soil` answers for the stations left
out. Scored are all days with a measured soil temperature. The baselines know the same air; the
sinusoid has the fold's κ and L.

--map scores instead, in the same way but with κ and L held, a grid of ranges and nuggets of the
terms' correlation over the map; what fit_model.py holds is chosen there. These, and the swing of
the air by latitude that stands in where a record is short, have seen every station; nothing else
has.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from fit_model import (
    KINDS,
    Heat,
    Station,
    as_model,
    carry,
    fit_heat,
    fit_kind,
    fit_weights,
    forcing,
    load_places,
    load_stations,
    network,
    yearly_terms,
)

from forecaster.forecast.understand import Place, load_model, understand
from forecaster.ground.site import Site
from forecaster.soil.heat import respond_yearly
from forecaster.soil.model import FITTED_DEPTH_M, SoilModel, chord_km
from forecaster.soil.season import fit_yearly, harmonics

SAME_FOLD_KM = 100.0
RANGES_KM, NUGGETS, DEALS = (
    (300.0, 500.0, 700.0, 1000.0, 1500.0, 2500.0),
    (0.2, 0.3, 0.4, 0.5, 0.6),
    3,
)
Z_80 = 1.2815515655446004  # standard normal quantile at 0.9
SEASONS = ("winter", "spring", "summer", "autumn")  # December to February, and so on
OURS = "this model, place known"
WITHOUT_MAP = "this model, latitude only"
TARGETS = {"median_rmse_c": (0.0, 1.32), "p90_rmse_c": (0.0, 2.1), "coverage": (0.75, 0.85)}
LEFT_OUT = (
    "Not run: Kätterer & Andrén 2009 (simple model). It needs the leaf area over the season, "
    "which these records do not have."
)


@dataclass(frozen=True)
class Answer:
    """Estimates for one station left out, on days with measured soil, °C."""

    station: str
    season: np.ndarray
    measured_c: np.ndarray
    estimates_c: dict[str, np.ndarray]
    sds_c: dict[str, np.ndarray]


def deal(stations: Sequence[Station], folds: int, seed: int) -> np.ndarray:
    """The fold of each station: groups of neighbours, shuffled, each to the smallest fold."""
    north = np.array([s.latitude_deg for s in stations])
    east = np.array([s.longitude_deg for s in stations])
    near = chord_km(north, east, north, east) < SAME_FOLD_KM
    group = np.arange(len(stations))
    for _ in stations:  # the smallest label spreads through chains of neighbours
        group = np.where(near, group[None, :], len(stations)).min(axis=1)
    fold = np.zeros(len(stations), dtype=int)
    size = np.zeros(folds, dtype=int)
    for label in np.random.default_rng(seed).permutation(np.unique(group)):
        smallest = int(size.argmin())
        fold[group == label] = smallest
        size[smallest] += np.count_nonzero(group == label)
    return fold


def air_table(station: Station, kind: str) -> pd.DataFrame:
    """The station's air as `read_air` would return a file of this kind."""
    mean, extremes, rain = KINDS[kind]
    index = pd.DatetimeIndex(station.day.astype("datetime64[D]"), name="date")
    columns = {"tavg_c": station.tavg_c} if mean else {}
    columns |= {"tmin_c": station.tmin_c, "tmax_c": station.tmax_c} if extremes else {}
    columns |= {"precip_mm": station.rain_mm} if rain else {}
    return pd.DataFrame(columns, index=index)


def baselines(place: Place, heat: Heat) -> dict[str, np.ndarray]:
    """What the same air gives without this model, °C by day."""
    air = pd.Series(place.modelled.air.mean_c)
    columns = harmonics(place.day, 1)
    wave = fit_yearly(columns, air.to_numpy(), prior_sd=10.0, noise_sd=10.0)
    at_depth = respond_yearly(wave, FITTED_DEPTH_M, heat.diffusivity_m2_s, heat.exchange_length_m)
    return {
        "air of the day before": air.shift(1).bfill().to_numpy(),
        "air of 14 days": air.rolling(14, min_periods=1).mean().to_numpy(),
        "yearly sinusoid, damped": columns @ at_depth,
    }


def answer(station: Station, kind: str, model: SoilModel, heat: Heat) -> Answer:
    """All estimates for a station left out."""
    air = air_table(station, kind)
    known = understand(air, Site(station.latitude_deg, station.longitude_deg), model=model)
    if known.kind != kind:
        raise SystemExit(f"{station.name} holds {known.kind}, not {kind}; choose another --kinds")
    bare = understand(air, Site(station.latitude_deg), model=model)
    estimates = {OURS: known.soil_c, WITHOUT_MAP: bare.soil_c} | baselines(known, heat)
    sds = {OURS: known.sd_c, WITHOUT_MAP: bare.sd_c}
    soil = station.soil_c[FITTED_DEPTH_M]
    use = np.isfinite(soil)
    month = air.index.month.to_numpy()
    return Answer(
        station.name,
        (month % 12 // 3)[use],
        soil[use],
        {name: value[use] for name, value in estimates.items()},
        {name: value[use] for name, value in sds.items()},
    )


def run_fold(
    stations: Sequence[Station],
    left_out: np.ndarray,
    kinds: Sequence[str],
    also: Sequence[Station] = (),
) -> tuple[Heat, dict[str, list[Answer]]]:
    """Fit on the others, answer for those left out, by kind of record."""
    others = [*(s for s, out in zip(stations, left_out, strict=True) if not out), *also]
    heat = fit_heat(others)
    answers = {}
    for kind in kinds:
        model = as_model(fit_kind(others, kind, heat), heat, others)
        answers[kind] = [
            answer(s, kind, model, heat) for s, out in zip(stations, left_out, strict=True) if out
        ]
    return heat, answers


def score(answers: Sequence[Answer], name: str, season: int | None = None) -> dict[str, Any]:
    """RMSE and bias over stations and coverage over days, of one estimate."""
    rmse, bias, inside = [], [], []
    for a in answers:
        days = np.ones(a.season.size, dtype=bool) if season is None else a.season == season
        if not days.any():
            continue
        miss = (a.measured_c - a.estimates_c[name])[days]
        rmse.append(float(np.sqrt(np.mean(miss**2))))
        bias.append(float(-miss.mean()))
        if name in a.sds_c:
            inside.append(np.abs(miss) <= Z_80 * a.sds_c[name][days])
    found = {
        "median_rmse_c": float(np.median(rmse)),
        "p90_rmse_c": float(np.quantile(rmse, 0.9)),
        "mean_rmse_c": float(np.mean(rmse)),
        "mean_bias_c": float(np.mean(bias)),
        "median_abs_bias_c": float(np.median(np.abs(bias))),
    }
    if inside:
        share = [float(days.mean()) for days in inside]
        found |= {
            "coverage": float(np.concatenate(inside).mean()),
            "coverage_by_station": [
                round(float(q), 3) for q in np.quantile(share, (0.1, 0.5, 0.9))
            ],
        }
        width = np.concatenate([2.0 * Z_80 * a.sds_c[name] for a in answers])
        found["mean_width_c"] = float(width.mean())
    return found


def report(answers: Sequence[Answer]) -> dict[str, Any]:
    """Every score of one kind."""
    names = list(answers[0].estimates_c)
    return {
        "stations": len(answers),
        "days": int(sum(a.measured_c.size for a in answers)),
        "whole_year": {name: score(answers, name) for name in names},
        "by_season": {
            season: {name: score(answers, name, i) for name in (OURS, WITHOUT_MAP)}
            for i, season in enumerate(SEASONS)
        },
        "rmse_by_station_c": {
            a.station: round(float(np.sqrt(np.mean((a.measured_c - a.estimates_c[OURS]) ** 2))), 3)
            for a in answers
        },
    }


def print_report(kind: str, found: dict[str, Any]) -> None:
    """The table of one kind, in °C."""
    print(f"\n{kind}: {found['stations']} stations left out in turn, {found['days']} days")
    print(f"{'':30}{'RMSE over stations':>24}{'bias':>8}{'80 % interval covers':>30}")
    print(f"{'°C':30}{'median':>8}{'90th':>8}{'mean':>8}{'mean':>8}", end="")
    print(f"{'days':>9}{'stations (10, 50, 90 %)':>28}")
    for name, s in found["whole_year"].items():
        print_row(name, s)
    for season, scores in found["by_season"].items():
        for name, s in scores.items():
            print_row(f"{season}: {name.removeprefix('this model, ')}", s)
    for name, (low, high) in TARGETS.items():
        value = found["whole_year"][OURS][name]
        word = "met" if low <= value <= high else "missed"
        print(f"target {low:g} to {high:g} for {name}: {value:.3f}, {word}")


def print_row(name: str, s: dict[str, Any]) -> None:
    """One line of the table."""
    line = f"{name:30}{s['median_rmse_c']:8.2f}{s['p90_rmse_c']:8.2f}{s['mean_rmse_c']:8.2f}"
    line += f"{s['mean_bias_c']:+8.2f}"
    if "coverage" in s:
        share = " ".join(f"{q:.2f}" for q in s["coverage_by_station"])
        line += f"{s['coverage']:9.3f}{share:>28}"
    print(line)


def print_map(stations: Sequence[Station], kind: str, folds: int, seed: int) -> None:
    """RMSE on stations left out by range and nugget, mean over stations and deals."""
    packaged = load_model(kind)
    heat = Heat(packaged.diffusivity_m2_s, packaged.exchange_length_m)
    designs = [carry(s, forcing(s, kind), FITTED_DEPTH_M, heat) for s in stations]
    pairs = [(range_km, nugget) for range_km in RANGES_KM for nugget in NUGGETS]
    rmse: dict[tuple[float, float], list[float]] = {pair: [] for pair in pairs}
    for left_out in (
        deal(stations, folds, seed + i) == k for i in range(DEALS) for k in range(folds)
    ):
        others = [s for s, out in zip(stations, left_out, strict=True) if not out]
        fitted = [d for d, out in zip(designs, left_out, strict=True) if not out]
        weights = fit_weights(fitted)
        terms = np.array([yearly_terms(d, weights) for d in fitted])
        for pair, found in rmse.items():
            stations_map = network(others, terms, *pair)
            for i in np.flatnonzero(left_out):
                mean, _ = stations_map.foretell(stations[i].latitude_deg, stations[i].longitude_deg)
                miss = designs[i].residual_c(weights) - designs[i].columns @ mean
                found.append(float(np.sqrt(np.mean(miss**2))))
    print(f"\n{kind}: RMSE on stations left out, °C, mean of {DEALS} deals, by range and nugget")
    print(f"{'km':>8}" + "".join(f"{nugget:8.1f}" for nugget in NUGGETS))
    for range_km in RANGES_KM:
        cells = (f"{np.mean(rmse[range_km, nugget]):8.3f}" for nugget in NUGGETS)
        print(f"{range_km:8.0f}" + "".join(cells))


def main() -> None:
    """Fit, score, print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--also", nargs="+", default=[], help="more stations to fit on")
    parser.add_argument("--folds", type=int, default=5)
    parser.add_argument("--kinds", nargs="+", choices=list(KINDS), default=list(KINDS)[:2])
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--json", type=Path, help="write every score here")
    parser.add_argument("--map", action="store_true", help="score ranges and nuggets instead")
    options = parser.parse_args()
    began = time.monotonic()
    stations = load_stations(options.folder)
    if options.map:
        for kind in options.kinds:
            print_map(stations, kind, options.folds, options.seed)
        return
    also = load_places(options.also)
    fold = deal(stations, options.folds, options.seed)
    with ProcessPoolExecutor(max_workers=2) as pool:
        jobs = [
            pool.submit(run_fold, stations, fold == k, options.kinds, also)
            for k in range(options.folds)
        ]
        done = [job.result() for job in jobs]
    for k, (heat, _) in enumerate(done):
        print(
            f"fold {k}: {np.count_nonzero(fold == k)} stations left out; "
            f"κ {heat.diffusivity_m2_s:.3g} m²/s, L {heat.exchange_length_m:.3f} m"
        )
    found = {kind: report([a for _, by in done for a in by[kind]]) for kind in options.kinds}
    for kind, scores in found.items():
        print_report(kind, scores)
    print(f"\n{LEFT_OUT}\n{time.monotonic() - began:.0f} s")
    if options.json:
        options.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
