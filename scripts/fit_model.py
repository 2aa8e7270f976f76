#!/usr/bin/env python3
"""Fit the soil model on a folder of stations and write data/soil_model.json, site_terms.csv.

    scripts/fit_model.py DIR

DIR holds stations.csv (station, lat, lon) and STATION.csv.gz as scripts/download_stations.py
writes them: daily tmax_c, tmin_c, tavg_c, soil5_c, soil10_c, soil20_c, precip_mm.

1. κ and L: least de-seasoned residual at 5, 10 and 20 cm together (Nelder–Mead).
2. Weights of the forcing terms, by kind of record: generalised least squares with each
   station's own yearly terms as random effects, stations with extreme terms weighing less
   (Student t, 4 degrees of freedom).
3. Yearly residual terms of every station; range and nugget of their correlation over the map
   by maximum likelihood.
4. Slow and fast memory and their season: maximum likelihood over all stations.
"""

from __future__ import annotations

import csv
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import minimize

from forecaster.soil.forcing import DailyAir, bridge, describe, forcing_terms
from forecaster.soil.heat import respond, respond_yearly
from forecaster.soil.model import FITTED_DEPTH_M, Network, SoilModel
from forecaster.soil.residual import YEARLY_HARMONICS, Evidence, Posterior, ResidualPrior
from forecaster.soil.season import fit_yearly, harmonics

DEPTHS_M = (0.05, 0.10, 0.20)
KINDS = {
    # name: (true mean known, ranges known, rain known)
    "mean+extremes+rain": (True, True, True),
    "extremes+rain": (False, True, True),
    "mean+extremes": (True, True, False),
    "extremes": (False, True, False),
    "mean": (True, False, False),
}
FIRST_GUESS = np.diag([1.0, 1.25, 0.4, 0.3, 0.3, 0.2, 0.2]) ** 2  # °C², before it is estimated
MEMORY_VARIANCE = 56.0  # variance × correlation time of the residual, °C²·days: what a day is worth
LOGGER_ERROR_C = 0.1
SPIN_UP_DAYS = 60
ROBUST_DEGREES = 4.0


@dataclass(frozen=True)
class Station:
    """One station's record as arrays."""

    name: str
    latitude_deg: float
    longitude_deg: float
    day: np.ndarray
    day_of_year: np.ndarray
    tmin_c: np.ndarray
    tmax_c: np.ndarray
    tavg_c: np.ndarray
    rain_mm: np.ndarray
    soil_c: dict[float, np.ndarray]

    def air(self, kind: str) -> DailyAir:
        """The record as a user with this kind of file has it."""
        mean, extremes, rain = KINDS[kind]
        middle = (self.tmin_c + self.tmax_c) / 2.0
        mean_c = np.where(np.isfinite(self.tavg_c), self.tavg_c, middle) if mean else middle
        return DailyAir(
            self.day,
            self.day_of_year,
            mean_c,
            self.tmax_c - self.tmin_c if extremes else None,
            self.rain_mm if rain else None,
        )


def load_stations(folder: Path) -> list[Station]:
    """Every station that stations.csv names."""
    stations = []
    for row in pd.read_csv(folder / "stations.csv").itertuples():
        frame = pd.read_csv(folder / f"{row.station}.csv.gz", index_col="date", parse_dates=True)
        frame = frame.asfreq("D")
        day = frame.index.to_numpy().astype("datetime64[D]").astype(np.int64)
        columns = {name: frame[name].to_numpy(dtype=float) for name in frame.columns}
        stations.append(
            Station(
                row.station, row.lat, row.lon, day, frame.index.dayofyear.to_numpy().astype(np.int64),
                columns["tmin_c"], columns["tmax_c"], columns["tavg_c"], columns["precip_mm"],
                {depth: columns[f"soil{depth * 100:.0f}_c"] for depth in DEPTHS_M},
            )
        )  # fmt: skip
    return stations


@dataclass(frozen=True)
class Design:
    """Terms of one station carried to a depth, on days with a soil value."""

    names: tuple[str, ...]
    terms_c: np.ndarray
    soil_c: np.ndarray
    columns: np.ndarray
    day: np.ndarray


def forcing(station: Station, kind: str) -> tuple[tuple[str, ...], np.ndarray, np.ndarray]:
    """Names, (terms, days) values, and which days have air of their own."""
    record = station.air(kind)
    columns = harmonics(record.day)
    climate = describe(record, station.latitude_deg, columns)
    terms = forcing_terms(bridge(record, climate, columns)[0], climate, station.latitude_deg, columns)
    stacked = np.stack([np.broadcast_to(value, record.day.shape) for value in terms.values()])
    return tuple(terms), stacked, np.isfinite(record.mean_c)


def carry(station: Station, driven: tuple[Any, ...], depth_m: float, kappa: float, length: float) -> Design:
    """The terms at a depth."""
    names, values, known = driven
    columns = harmonics(station.day)
    yearly = fit_yearly(columns, values.T.copy(), 10.0, 10.0)
    down = np.stack([respond_yearly(wave, depth_m, kappa, length) for wave in yearly.T], axis=1)
    at_depth = respond(values - (columns @ yearly).T, depth_m, kappa, length) + (columns @ down).T
    soil = station.soil_c[depth_m]
    use = np.isfinite(soil) & known
    use[:SPIN_UP_DAYS] = False
    return Design(
        names, at_depth.T[use], soil[use],
        harmonics(station.day[use], YEARLY_HARMONICS), station.day[use],
    )  # fmt: skip


def yearly_terms(design: Design, weights: np.ndarray) -> np.ndarray:
    """A station's own offset and harmonics given the weights, (7,)."""
    z, rest = design.columns, design.soil_c - design.terms_c @ weights
    precision = np.linalg.inv(FIRST_GUESS) + z.T @ z / MEMORY_VARIANCE
    return np.linalg.solve(precision, z.T @ rest / MEMORY_VARIANCE)


def fit_weights(designs: list[Design], robust: bool = True) -> np.ndarray:
    """Weights of the terms over stations, their yearly terms being random effects."""
    normal, right = [], []
    for d in designs:
        precision = np.linalg.inv(FIRST_GUESS) + d.columns.T @ d.columns / MEMORY_VARIANCE
        zx, zy = d.columns.T @ d.terms_c, d.columns.T @ d.soil_c
        solved = np.linalg.solve(precision, np.column_stack([zx, zy])) / MEMORY_VARIANCE
        normal.append((d.terms_c.T @ d.terms_c - zx.T @ solved[:, :-1]) / MEMORY_VARIANCE)
        right.append((d.terms_c.T @ d.soil_c - zx.T @ solved[:, -1]) / MEMORY_VARIANCE)
    say = np.ones(len(designs))
    for _ in range(6 if robust else 1):
        a, b = np.tensordot(say, normal, 1), np.tensordot(say, right, 1)
        weights = np.linalg.solve(a + 1e-3 * np.diag(np.diag(a)), b)
        terms = np.array([yearly_terms(d, weights)[:3] for d in designs])
        distance = (terms**2 / np.diag(FIRST_GUESS)[:3]).sum(axis=1)
        say = (ROBUST_DEGREES + 3) / (ROBUST_DEGREES + distance)
    return weights


def fit_heat(stations: list[Station], kind: str = "extremes+rain") -> tuple[float, float]:
    """κ and L: least variance about each station's own yearly terms, three depths together."""
    driven = [forcing(station, kind) for station in stations]

    def loss(log_constants: np.ndarray) -> float:
        kappa, length = np.exp(log_constants)
        designs = [
            carry(station, terms, depth, kappa, length)
            for station, terms in zip(stations, driven, strict=True)
            for depth in DEPTHS_M
            if np.isfinite(station.soil_c[depth]).sum() > 365
        ]
        weights = fit_weights(designs, robust=False)
        total = 0.0
        for d in designs:
            rest = d.soil_c - d.terms_c @ weights
            total += float(np.mean((rest - d.columns @ np.linalg.lstsq(d.columns, rest)[0]) ** 2))
        return total / len(designs)

    start = np.log([4.2e-7, 0.31])
    found = minimize(loss, start, method="Nelder-Mead", options={"xatol": 0.03, "fatol": 2e-4, "maxfev": 40})
    return float(np.exp(found.x[0])), float(np.exp(found.x[1]))


def fit_map(stations: list[Station], terms: np.ndarray) -> tuple[float, float]:
    """Range (km) and nugget of the terms' correlation over the map, by maximum likelihood."""
    north = np.array([s.latitude_deg for s in stations])
    east = np.array([s.longitude_deg for s in stations])
    scaled = terms[:, :3] / terms[:, :3].std(axis=0)

    def loss(free: np.ndarray) -> float:
        range_km, nugget = 1000.0 * np.exp(free[0]), 1.0 / (1.0 + np.exp(-free[1]))
        network = Network(north, east, terms, range_km, nugget)
        from forecaster.soil.model import _on_sphere  # noqa: PLC0415

        there = _on_sphere(north, east)
        k = network._correlation(there, there)
        np.fill_diagonal(k, 1.0)
        factor = np.linalg.cholesky(k)
        white = np.linalg.solve(factor, scaled)
        spread = (white**2).mean(axis=0)
        return float(
            3 * np.log(np.diag(factor)).sum() + 0.5 * len(k) * np.log(spread).sum()
            + 0.5 * (free[0] / 0.7) ** 2 + 0.5 * free[1] ** 2
        )  # fmt: skip

    found = minimize(loss, np.zeros(2), method="Nelder-Mead").x
    return float(1000.0 * np.exp(found[0])), float(1.0 / (1.0 + np.exp(-found[1])))


def fit_residual(designs: list[Design], weights: np.ndarray, covariance: np.ndarray) -> ResidualPrior:
    """Slow and fast parts and their season, by maximum likelihood over stations."""
    evidence = [
        Evidence(d.day, d.soil_c - d.terms_c @ weights, np.full(d.day.size, LOGGER_ERROR_C), np.zeros(d.day.size))
        for d in designs
    ]

    def prior(free: np.ndarray) -> ResidualPrior:
        slow, slow_days, fast, fast_days = np.exp(free[:4])
        return ResidualPrior(
            np.zeros(7), covariance, slow, slow_days, fast, fast_days, np.array([0.0, *free[4:]])
        )

    def loss(free: np.ndarray) -> float:
        process = prior(free)
        total = 0.0
        for e in evidence:
            total -= Posterior(process, e, int(e.day[0]), int(e.day[-1])).log_evidence() / e.day.size
        return total / len(evidence)

    start = np.array([*np.log([0.74, 45.0, 0.73, 2.8]), 0.1, 0.15])
    found = minimize(
        loss, start, method="Nelder-Mead",
        options={"xatol": 0.02, "fatol": 1e-5, "maxfev": 160, "initial_simplex": start + np.vstack([np.zeros(6), 0.15 * np.eye(6)])},
    )  # fmt: skip
    return prior(found.x)


def fit_depths(stations: list[Station], kind: str, kappa: float, length: float, weights: np.ndarray) -> tuple[float, float]:
    """e-folding depth of the wandering part, and the error of carrying a residual in depth."""
    ratio, mismatch = [], []
    for station in stations:
        driven = forcing(station, kind)
        rest = {}
        for depth in DEPTHS_M:
            d = carry(station, driven, depth, kappa, length)
            if d.day.size > 365:
                gap = d.soil_c - d.terms_c @ weights
                own = gap - d.columns @ np.linalg.lstsq(d.columns, gap)[0]
                rest[depth] = (pd.Series(gap, d.day), pd.Series(own, d.day))
        if 0.05 in rest and 0.20 in rest:
            ratio.append(rest[0.20][1].std() / rest[0.05][1].std())
            apart = (rest[0.20][0] - rest[0.05][0]).dropna()
            mismatch.append(np.sqrt((apart**2).mean()) / 0.15)
    return float(0.15 / -np.log(np.median(ratio))), float(np.median(mismatch))


def fit_kind(stations: list[Station], kind: str, kappa: float, length: float, residual: bool = True) -> dict[str, Any]:
    """Everything fitted for one kind of record, as data/soil_model.json holds it."""
    designs = [
        carry(station, forcing(station, kind), FITTED_DEPTH_M, kappa, length) for station in stations
    ]
    weights = fit_weights(designs)
    terms = np.array([yearly_terms(d, weights) for d in designs])
    covariance = terms.T @ terms / len(terms)
    range_km, nugget = fit_map(stations, terms)
    prior = fit_residual(designs, weights, covariance)
    wandering, mismatch = fit_depths(stations, kind, kappa, length, weights)
    return {
        "weights": {name: round(float(w), 4) for name, w in zip(designs[0].names, weights, strict=True)},
        "yearly_covariance_c2": np.round(covariance, 4).tolist(),
        "slow_sd_c": round(prior.slow_sd_c, 3),
        "slow_memory_days": round(prior.slow_memory_days, 1),
        "fast_sd_c": round(prior.fast_sd_c, 3),
        "fast_memory_days": round(prior.fast_memory_days, 2),
        "season_gain": np.round(prior.season_gain, 3).tolist(),
        "range_km": round(range_km),
        "nugget": round(nugget, 3),
        "wandering_depth_m": round(wandering, 3),
        "depth_mismatch_c_per_m": round(mismatch, 2),
        "terms": {s.name: np.round(t, 3).tolist() for s, t in zip(stations, terms, strict=True)},
    }


def as_model(fitted: dict[str, Any], kappa: float, length: float, stations: list[Station]) -> SoilModel:
    """A fitted kind as the package uses it."""
    return SoilModel(
        fitted["weights"], kappa, length,
        ResidualPrior(
            np.zeros(7), np.array(fitted["yearly_covariance_c2"]), fitted["slow_sd_c"],
            fitted["slow_memory_days"], fitted["fast_sd_c"], fitted["fast_memory_days"],
            np.array(fitted["season_gain"]),
        ),
        Network(
            np.array([s.latitude_deg for s in stations]), np.array([s.longitude_deg for s in stations]),
            np.array([fitted["terms"][s.name] for s in stations]), fitted["range_km"], fitted["nugget"],
        ),
        fitted["wandering_depth_m"], fitted["depth_mismatch_c_per_m"],
    )  # fmt: skip


def main(folder: Path) -> None:
    """Fit and write."""
    stations = load_stations(folder)
    print(f"{len(stations)} stations read")
    kappa, length = fit_heat(stations)
    print(f"diffusivity {kappa:.3g} m2/s, exchange length {length:.3f} m")
    kappa, length = float(f"{kappa:.3g}"), round(length, 3)
    kinds, rows = {}, []
    for kind in KINDS:
        fitted = fit_kind(stations, kind, kappa, length)
        for station in stations:
            rows.append([station.name, station.latitude_deg, station.longitude_deg, kind, *fitted["terms"][station.name]])
        del fitted["terms"]
        kinds[kind] = fitted
        print(kind, json.dumps(fitted))
    data = Path(__file__).resolve().parent.parent / "data"
    model = {
        "what": "surface forcing, soil response and residual process; written by scripts/fit_model.py",
        "fitted_on": f"{len(stations)} stations of the US Climate Reference Network, {FITTED_DEPTH_M} m, grassed ground",
        "source": "Diamond et al. 2013, doi 10.1175/BAMS-D-12-00170.1; Bell et al. 2013, doi 10.1175/JHM-D-12-0146.1",
        "diffusivity_m2_s": kappa,
        "exchange_length_m": length,
        "kinds": kinds,
    }
    (data / "soil_model.json").write_text(json.dumps(model, indent=1) + "\n", encoding="utf-8")
    heading = "station,latitude_deg,longitude_deg,kind,offset_c,cos1_c,sin1_c,cos2_c,sin2_c,cos3_c,sin3_c"
    with (data / "site_terms.csv").open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(heading.split(","))
        writer.writerows(rows)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
