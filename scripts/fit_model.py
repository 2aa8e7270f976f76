#!/usr/bin/env python3
"""Fit the soil model on a folder of stations and write data/soil_model.json, site_terms.csv.

    scripts/fit_model.py DIR [DIR:COVER …]

DIR holds stations.csv (station, lat, lon) and STATION.csv.gz as scripts/download_stations.py
writes them: daily tmax_c, tmin_c, tavg_c, soil5_c, soil10_c, soil20_c, precip_mm; what a file
lacks is unknown, and the middle of the extremes stands in for the mean. COVER names what lies on
the ground there, a row of data/covers.csv; grass without it. data/ was written with the US
network and Irish synoptic stations under `bare`.

1. κ and L: least de-seasoned residual at 5, 10 and 20 cm together (Nelder–Mead).
2. Weights of the forcing terms, by kind of record: generalised least squares with each
   station's own yearly terms as random effects, stations with extreme terms weighing less
   (Student t, 4 degrees of freedom). The two products of sun and wetness are drawn to zero: on
   new stations they hold less than at those fitted.
3. Yearly residual terms of every station, for kriging with a range and nugget chosen by
   scripts/benchmark_estimate.py --map; their covariance widened until stations left out one by
   one lie about what the others foretell as wide as stated.
4. Slow and fast memory and their season: the likeliest at the median station.
"""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.optimize import minimize

from forecaster.soil.forcing import DailyAir, bridge, describe, forcing_terms
from forecaster.soil.heat import respond, respond_yearly
from forecaster.soil.model import FITTED_DEPTH_M, Climates, Network, SoilModel, climate_of
from forecaster.soil.residual import YEARLY_HARMONICS, Evidence, Posterior, ResidualPrior
from forecaster.soil.season import fit_yearly, harmonics

DATA = Path(__file__).resolve().parent.parent / "data"
DEPTHS_M = (0.05, 0.10, 0.20)
KINDS = {
    # name: (true mean known, ranges known, rain known)
    "mean+extremes+rain": (True, True, True),
    "extremes+rain": (False, True, True),
    "mean+extremes": (True, True, False),
    "extremes": (False, True, False),
    "mean": (True, False, False),
}
COLUMNS = ("tavg_c", "precip_mm", "soil5_c", "soil10_c", "soil20_c")  # NaN where a file has none
TERM_NAMES = ("offset_c", "cos1_c", "sin1_c", "cos2_c", "sin2_c", "cos3_c", "sin3_c")
FIRST_GUESS = np.diag([1.0, 1.25, 0.4, 0.3, 0.3, 0.2, 0.2]) ** 2  # °C², before it is estimated
MEMORY_VARIANCE = 56.0  # variance × correlation time of the residual, °C²·days: what a day is worth
LOGGER_ERROR_C = 0.1
RANGE_KM = 1000.0  # this and the nuggets: benchmark_estimate.py --map
NUGGET_WITH_RAIN, NUGGET_WITHOUT_RAIN = 0.4, 0.3
SPIN_UP_DAYS = 60
RIDGE, RIDGES = 1e-3, {"dry_sun": 0.3, "wet_sun": 0.1}  # shares of what the stations say of it
YEAR_OF_DAYS = 365
ROBUST_DEGREES = 4.0


@dataclass(frozen=True)
class Heat:
    """κ (m²/s) and L (m)."""

    diffusivity_m2_s: float
    exchange_length_m: float


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
    sun_factor: float = 1.0
    exchange_factor: float = 1.0

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


@dataclass(frozen=True)
class Forcing:
    """Terms of one station's forcing, (terms, days); known where the air is not bridged."""

    names: tuple[str, ...]
    above_c: np.ndarray
    known: np.ndarray


@dataclass(frozen=True)
class Design:
    """Terms of one station carried to a depth, on days with a soil value."""

    names: tuple[str, ...]
    terms_c: np.ndarray
    soil_c: np.ndarray
    columns: np.ndarray
    day: np.ndarray

    def residual_c(self, weights: np.ndarray) -> np.ndarray:
        """Soil less model, by day."""
        return self.soil_c - self.terms_c @ weights


def load_stations(folder: Path, cover: str = "grass") -> list[Station]:
    """Every station that stations.csv names, on the ground that data/covers.csv describes."""
    table = pd.read_csv(folder / "stations.csv")
    ground = pd.read_csv(DATA / "covers.csv", comment="#", index_col="cover").loc[cover]
    factors = {name: float(ground[name]) for name in ("sun_factor", "exchange_factor")}
    stations = [load_station(folder, row.station, row.lat, row.lon) for row in table.itertuples()]
    return [replace(station, **factors) for station in stations]


def load_places(places: Sequence[str]) -> list[Station]:
    """The stations of every DIR or DIR:COVER."""
    stations = []
    for place in places:
        folder, _, cover = place.partition(":")
        stations += load_stations(Path(folder), cover or "grass")
    return stations


def load_station(folder: Path, name: str, latitude_deg: float, longitude_deg: float) -> Station:
    """One station's file."""
    frame = pd.read_csv(folder / f"{name}.csv.gz", index_col="date", parse_dates=True).asfreq("D")
    unknown = np.full(len(frame), np.nan)
    column = {name: frame[name].to_numpy(dtype=float) for name in frame.columns}
    column |= {name: unknown for name in COLUMNS if name not in column}
    return Station(
        name=name,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        day=frame.index.to_numpy().astype("datetime64[D]").astype(np.int64),
        day_of_year=frame.index.day_of_year.to_numpy().astype(np.int64),
        tmin_c=column["tmin_c"],
        tmax_c=column["tmax_c"],
        tavg_c=column["tavg_c"],
        rain_mm=column["precip_mm"],
        soil_c={depth: column[f"soil{depth * 100:.0f}_c"] for depth in DEPTHS_M},
    )


def forcing(station: Station, kind: str) -> Forcing:
    """The terms of a station's forcing."""
    record, latitude = station.air(kind), station.latitude_deg
    columns = harmonics(record.day)
    climate = describe(record, latitude, columns)
    whole, _ = bridge(record, climate, columns)
    terms = forcing_terms(whole, climate, latitude, columns)
    values = np.stack(
        [
            np.broadcast_to(value, record.day.shape) * (station.sun_factor if "sun" in name else 1)
            for name, value in terms.items()
        ]
    )
    return Forcing(tuple(terms), values, np.isfinite(record.mean_c))


def carry(station: Station, driven: Forcing, depth_m: float, heat: Heat) -> Design:
    """The terms at a depth."""
    length_m = heat.exchange_length_m * station.exchange_factor
    ground = (depth_m, heat.diffusivity_m2_s, length_m)
    columns = harmonics(station.day)
    yearly = fit_yearly(columns, driven.above_c.T.copy(), prior_sd=10.0, noise_sd=10.0)
    down = np.stack([respond_yearly(wave, *ground) for wave in yearly.T], axis=1)
    departure = driven.above_c - (columns @ yearly).T
    terms = respond(departure, *ground) + (columns @ down).T
    soil = station.soil_c[depth_m]
    use = np.isfinite(soil) & driven.known
    use[:SPIN_UP_DAYS] = False
    yearly_columns = harmonics(station.day[use], YEARLY_HARMONICS)
    return Design(driven.names, terms.T[use], soil[use], yearly_columns, station.day[use])


def yearly_terms(design: Design, weights: np.ndarray) -> np.ndarray:
    """A station's own offset and harmonics given the weights, (7,)."""
    z, rest = design.columns, design.residual_c(weights)
    precision = np.linalg.inv(FIRST_GUESS) + z.T @ z / MEMORY_VARIANCE
    return np.linalg.solve(precision, z.T @ rest / MEMORY_VARIANCE)


def fit_weights(designs: Sequence[Design], *, robust: bool = True) -> np.ndarray:
    """Weights of the terms over stations, their yearly terms being random effects."""
    normal, right = [], []
    for d in designs:
        precision = np.linalg.inv(FIRST_GUESS) + d.columns.T @ d.columns / MEMORY_VARIANCE
        zx, zy = d.columns.T @ d.terms_c, d.columns.T @ d.soil_c
        solved = np.linalg.solve(precision, np.column_stack([zx, zy])) / MEMORY_VARIANCE
        normal.append((d.terms_c.T @ d.terms_c - zx.T @ solved[:, :-1]) / MEMORY_VARIANCE)
        right.append((d.terms_c.T @ d.soil_c - zx.T @ solved[:, -1]) / MEMORY_VARIANCE)
    ridge = np.array([RIDGES.get(name, RIDGE) for name in designs[0].names])
    say = np.ones(len(designs))
    for _ in range(6 if robust else 1):
        a, b = np.tensordot(say, normal, 1), np.tensordot(say, right, 1)
        weights = np.linalg.solve(a + np.diag(ridge * np.diag(a)), b)
        terms = np.array([yearly_terms(d, weights)[:3] for d in designs])
        distance = (terms**2 / np.diag(FIRST_GUESS)[:3]).sum(axis=1)
        say = (ROBUST_DEGREES + 3) / (ROBUST_DEGREES + distance)
    return weights


def deseasoned(design: Design, weights: np.ndarray) -> np.ndarray:
    """Soil less model less the yearly terms that fit it best, by day."""
    rest = design.residual_c(weights)
    return rest - design.columns @ np.linalg.lstsq(design.columns, rest)[0]


def fit_heat(stations: Sequence[Station], kind: str = "extremes+rain") -> Heat:
    """κ and L: least variance about each station's own yearly terms, three depths together."""
    driven = [(station, forcing(station, kind)) for station in stations]

    def loss(log_constants: np.ndarray) -> float:
        heat = Heat(*np.exp(log_constants))
        designs = [
            carry(station, terms, depth, heat)
            for station, terms in driven
            for depth in DEPTHS_M
            if np.isfinite(station.soil_c[depth]).sum() > YEAR_OF_DAYS
        ]
        weights = fit_weights(designs, robust=False)
        return float(np.mean([np.mean(deseasoned(d, weights) ** 2) for d in designs]))

    start = np.log([4.2e-7, 0.31])
    options = {"xatol": 0.03, "fatol": 2e-4, "maxfev": 40}
    kappa, length = np.exp(minimize(loss, start, method="Nelder-Mead", options=options).x)
    return Heat(float(f"{kappa:.3g}"), round(float(length), 3))


def network(
    stations: Sequence[Station],
    terms_c: np.ndarray,
    range_km: float,
    nugget: float,
) -> Network:
    """The stations' terms on the map."""
    north = np.array([s.latitude_deg for s in stations])
    east = np.array([s.longitude_deg for s in stations])
    return Network(north, east, terms_c, range_km, nugget)


def kriging_excess(known: Network, covariance: np.ndarray) -> float:
    """How much wider the terms of a station lie about what the others foretell than stated.

    The mean squared Mahalanobis distance over stations left out one by one, for each term: 1
    where the stated variance is right.
    """
    excess = []
    for out in range(known.latitude_deg.size):
        keep = np.arange(known.latitude_deg.size) != out
        others = replace(
            known,
            latitude_deg=known.latitude_deg[keep],
            longitude_deg=known.longitude_deg[keep],
            terms_c=known.terms_c[keep],
        )
        mean, left = others.foretell(known.latitude_deg[out], known.longitude_deg[out])
        miss = known.terms_c[out] - mean
        excess.append(miss @ np.linalg.solve(left * covariance, miss) / miss.size)
    return float(np.mean(excess))


def fit_residual(
    designs: Sequence[Design], weights: np.ndarray, covariance: np.ndarray
) -> ResidualPrior:
    """Slow and fast parts and their season: those likeliest at the median station.

    The mean over stations would be drawn wide by the few where the model fits badly.
    """
    evidence = [
        Evidence(d.day, d.residual_c(weights), np.full(n, LOGGER_ERROR_C), np.zeros(n))
        for d in designs
        for n in [d.day.size]
    ]

    def prior(free: np.ndarray) -> ResidualPrior:
        season = np.array([0.0, *free[4:]])
        slow_sd, slow_days, fast_sd, fast_days = np.exp(free[:4])
        return ResidualPrior(
            yearly_mean_c=np.zeros(7),
            yearly_covariance=covariance,
            slow_sd_c=slow_sd,
            slow_memory_days=slow_days,
            fast_sd_c=fast_sd,
            fast_memory_days=fast_days,
            season_gain=season,
        )

    def loss(free: np.ndarray) -> float:
        process = prior(free)
        score = [
            Posterior(process, e, int(e.day[0]), int(e.day[-1])).log_evidence() / e.day.size
            for e in evidence
        ]
        return -float(np.median(score))

    start = np.array([*np.log([0.75, 55.0, 0.72, 2.7]), 0.1, 0.15])
    simplex = start + np.vstack([np.zeros(6), 0.15 * np.eye(6)])
    options = {"xatol": 0.02, "fatol": 1e-5, "maxfev": 110, "initial_simplex": simplex}
    return prior(minimize(loss, start, method="Nelder-Mead", options=options).x)


def fit_depths(
    stations: Sequence[Station], kind: str, heat: Heat, weights: np.ndarray
) -> tuple[float, float]:
    """e-folding depth of the wandering part, and the error of carrying a residual in depth."""
    ratio, mismatch = [], []
    for station in stations:
        driven = forcing(station, kind)
        shallow, deep = (carry(station, driven, depth, heat) for depth in (0.05, 0.20))
        if min(shallow.day.size, deep.day.size) <= YEAR_OF_DAYS:
            continue
        ratio.append(deseasoned(deep, weights).std() / deseasoned(shallow, weights).std())
        above = pd.Series(shallow.residual_c(weights), shallow.day)
        apart = (pd.Series(deep.residual_c(weights), deep.day) - above).dropna()
        mismatch.append(np.sqrt((apart**2).mean() / 0.15))
    return float(0.15 / -np.log(np.median(ratio))), float(np.median(mismatch))


def fit_kind(stations: Sequence[Station], kind: str, heat: Heat) -> dict[str, Any]:
    """Everything fitted for one kind of record: as data/soil_model.json holds it, and terms."""
    designs = [carry(s, forcing(s, kind), FITTED_DEPTH_M, heat) for s in stations]
    weights = fit_weights(designs)
    terms = np.array([yearly_terms(d, weights) for d in designs])
    nugget = NUGGET_WITH_RAIN if KINDS[kind][2] else NUGGET_WITHOUT_RAIN
    covariance = terms.T @ terms / len(terms)
    covariance *= kriging_excess(network(stations, terms, RANGE_KM, nugget), covariance)
    prior = fit_residual(designs, weights, covariance)
    wandering, mismatch = fit_depths(stations, kind, heat, weights)
    named = zip(designs[0].names, weights, strict=True)
    return {
        "weights": {name: round(float(weight), 4) for name, weight in named},
        "yearly_covariance_c2": np.round(covariance, 4).tolist(),
        "slow_sd_c": round(prior.slow_sd_c, 3),
        "slow_memory_days": round(prior.slow_memory_days, 1),
        "fast_sd_c": round(prior.fast_sd_c, 3),
        "fast_memory_days": round(prior.fast_memory_days, 2),
        "season_gain": np.round(prior.season_gain, 3).tolist(),
        "range_km": RANGE_KM,
        "nugget": nugget,
        "wandering_depth_m": round(wandering, 3),
        "apart_c_per_root_m": round(mismatch, 2),
        "climates": fit_climates(stations, kind),
        "terms": {s.name: np.round(t, 3).tolist() for s, t in zip(stations, terms, strict=True)},
    }


def fit_climates(stations: Sequence[Station], kind: str) -> dict[str, Any]:
    """The climates that the stations have, of what this kind of record tells."""
    told = 2 + sum(KINDS[kind][1:])
    rows = []
    for station in stations:
        record = station.air(kind)
        climate = describe(record, station.latitude_deg, harmonics(record.day))
        rows.append(climate_of(climate)[:told])
    found = Climates.of(np.array(rows))
    return {
        "mean": np.round(found.mean, 4).tolist(),
        "precision": np.round(found.precision, 6).tolist(),
        "usual": round(found.usual, 2),
    }


def as_model(fitted: dict[str, Any], heat: Heat, stations: Sequence[Station]) -> SoilModel:
    """A fitted kind as the package uses it."""
    terms = np.array([fitted["terms"][station.name] for station in stations])
    return SoilModel(
        weights=fitted["weights"],
        diffusivity_m2_s=heat.diffusivity_m2_s,
        exchange_length_m=heat.exchange_length_m,
        residual=ResidualPrior(
            yearly_mean_c=np.zeros(7),
            yearly_covariance=np.array(fitted["yearly_covariance_c2"]),
            slow_sd_c=fitted["slow_sd_c"],
            slow_memory_days=fitted["slow_memory_days"],
            fast_sd_c=fitted["fast_sd_c"],
            fast_memory_days=fitted["fast_memory_days"],
            season_gain=np.array(fitted["season_gain"]),
        ),
        network=network(stations, terms, fitted["range_km"], fitted["nugget"]),
        wandering_depth_m=fitted["wandering_depth_m"],
        apart_c_per_root_m=fitted["apart_c_per_root_m"],
        climates=Climates(
            *(np.array(fitted["climates"][name]) for name in ("mean", "precision", "usual"))
        ),
    )


def write(kinds: dict[str, dict[str, Any]], heat: Heat, stations: Sequence[Station]) -> None:
    """Write the two files in data/."""
    model = {
        "what": "surface forcing, soil response and residual process; written by "
        "scripts/fit_model.py",
        "fitted_on": f"{len(stations)} stations at {FITTED_DEPTH_M} m: the US Climate Reference "
        "Network, grassed ground; Irish synoptic stations, taken as bare ground",
        "source": "Diamond et al. 2013, doi 10.1175/BAMS-D-12-00170.1; "
        "Bell et al. 2013, doi 10.1175/JHM-D-12-0146.1; "
        "Ireland: Copyright Met Éireann, source www.met.ie, CC BY 4.0",
        "diffusivity_m2_s": heat.diffusivity_m2_s,
        "exchange_length_m": heat.exchange_length_m,
        "kinds": {
            kind: {name: value for name, value in fitted.items() if name != "terms"}
            for kind, fitted in kinds.items()
        },
    }
    (DATA / "soil_model.json").write_text(json.dumps(model, indent=1) + "\n", encoding="utf-8")
    with (DATA / "site_terms.csv").open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(["station", "latitude_deg", "longitude_deg", "kind", *TERM_NAMES])
        for kind, fitted in kinds.items():
            for s in stations:
                place = [s.name, s.latitude_deg, s.longitude_deg]
                writer.writerow([*place, kind, *fitted["terms"][s.name]])


def main(places: Sequence[str]) -> None:
    """Fit and write."""
    stations = load_places(places)
    print(f"{len(stations)} stations read")
    heat = fit_heat(stations)
    print(heat)
    kinds = {}
    for kind in KINDS:
        kinds[kind] = fit_kind(stations, kind, heat)
        print(kind, json.dumps(kinds[kind]["weights"]))
    write(kinds, heat, stations)


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    main(sys.argv[1:])
