#!/usr/bin/env python3
"""Score the estimate without readings where the map is thin, on stations left out.

    scripts/benchmark_abroad.py DIR IRELAND [--kind extremes+rain]

Folders as for scripts/fit_model.py: the US network, grassed, and Irish synoptic stations, bare.
Four tasks, each answered with everything fitted on the stations that are left, but κ, L and the
residual process, which are those of data/soil_model.json:

- Ireland, one half of its stations from the other half and the US;
- Ireland from the US alone, as a new country is;
- the US dealt into five folds, the Irish stations always known;
- every third US station from those farther than 1,000 and 1,800 km.

Irish stations are asked about twice: as grass, which is what a site says that says nothing, and
as bare ground.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from benchmark_estimate import air_table, deal
from fit_model import (
    DATA,
    KINDS,
    RANGE_KM,
    Heat,
    Station,
    as_model,
    carry,
    fit_climates,
    fit_weights,
    forcing,
    kriging_excess,
    load_stations,
    network,
    yearly_terms,
)

from forecaster.forecast.understand import understand
from forecaster.ground.site import Cover, Site
from forecaster.soil.model import FITTED_DEPTH_M, SoilModel, distance_km

Z_80 = 1.2815515655446004
SUMMER = (6, 7, 8)
FAR_KM, LEAST_STATIONS = (1000.0, 1800.0), 25
KNOWN_SHARE, STEP_DAYS, LEAD_DAYS = 0.72, 200, 120


def fitted_on(others: Sequence[Station], kind: str) -> SoilModel:
    """Weights, terms on the map, their covariance and the climates of these stations."""
    packaged = json.loads((DATA / "soil_model.json").read_text(encoding="utf-8"))
    heat = Heat(packaged["diffusivity_m2_s"], packaged["exchange_length_m"])
    own = packaged["kinds"][kind]
    designs = [carry(s, forcing(s, kind), FITTED_DEPTH_M, heat) for s in others]
    weights = fit_weights(designs)
    terms = np.array([yearly_terms(d, weights) for d in designs])
    covariance = terms.T @ terms / len(terms)
    covariance *= kriging_excess(network(others, terms, RANGE_KM, own["nugget"]), covariance)
    found = {
        "weights": dict(zip(designs[0].names, weights.tolist(), strict=True)),
        "yearly_covariance_c2": covariance,
        "terms": {s.name: t for s, t in zip(others, terms, strict=True)},
        "climates": fit_climates(others, kind),
    }
    return as_model(own | found, heat, others)


def score(
    station: Station, kind: str, model: SoilModel, cover: Cover = "grass"
) -> tuple[float, float, float]:
    """RMSE, share that the 80 % interval holds, and bias in summer, °C, from known air on."""
    both = np.flatnonzero(np.isfinite(station.soil_c[FITTED_DEPTH_M] + station.tmin_c))
    first, last = max(int(both[0]) - LEAD_DAYS, 0), int(both[-1]) + 1
    while np.isfinite(station.tmin_c[first:last]).mean() < KNOWN_SHARE:
        first += STEP_DAYS
    air = air_table(station, kind).iloc[first:last]
    site = Site(station.latitude_deg, station.longitude_deg, cover=cover)
    place = understand(air, site, model=model)
    miss = station.soil_c[FITTED_DEPTH_M][first:last] - place.soil_c
    known = np.isfinite(miss)
    summer = known & np.isin(air.index.month, SUMMER)
    return (
        float(np.sqrt(np.mean(miss[known] ** 2))),
        float(np.mean(np.abs(miss[known]) <= Z_80 * place.sd_c[known])),
        float(-miss[summer].mean()),
    )


def say(name: str, scores: Iterable[tuple[float, float, float]]) -> None:
    """One line over stations."""
    rmse, holds, summer = np.array(list(scores)).T
    print(
        f"{name:44} median {np.median(rmse):.2f}  90th {np.quantile(rmse, 0.9):.2f}  all "
        f"{np.sqrt(np.mean(rmse**2)):.2f}  holds {holds.mean():.2f}  summer {summer.mean():+.2f}",
        flush=True,
    )


def ireland(usual: list[Station], irish: list[Station], kind: str) -> None:
    """Half of the Irish stations from the other half, and all from the US alone."""
    half = np.random.default_rng(0).permutation(np.arange(len(irish)) % 2)
    models = [
        fitted_on(usual + [s for s, h in zip(irish, half, strict=True) if h != out], kind)
        for out in (0, 1)
    ]
    alone = fitted_on(usual, kind)
    covers: tuple[Cover, ...] = ("grass", "bare")
    for cover in covers:
        halves = zip(irish, half, strict=True)
        say(
            f"Ireland, half known, told {cover}",
            (score(s, kind, models[h], cover) for s, h in halves),
        )
        say(f"Ireland, none known, told {cover}", (score(s, kind, alone, cover) for s in irish))


def far_from_all(usual: list[Station], irish: list[Station], kind: str) -> None:
    """Every third US station from those beyond a distance."""
    every = usual + irish
    north = np.array([s.latitude_deg for s in every])
    east = np.array([s.longitude_deg for s in every])
    apart = distance_km(north, east, north, east)
    for least_km in FAR_KM:
        scores = []
        for i in range(0, len(usual), 3):
            others = [s for s, km in zip(every, apart[i], strict=True) if km > least_km]
            if len(others) >= LEAST_STATIONS:
                scores.append(score(every[i], kind, fitted_on(others, kind)))
        say(f"US, {len(scores)} stations, others beyond {least_km:,.0f} km", scores)


def main() -> None:
    """Score and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("ireland", type=Path)
    parser.add_argument("--kind", choices=list(KINDS), default="extremes+rain")
    options = parser.parse_args()
    usual, irish = load_stations(options.folder), load_stations(options.ireland, "bare")
    ireland(usual, irish, "extremes+rain")
    fold = deal(usual, 5, 0)
    scores = []
    for k in range(5):
        model = fitted_on(
            [s for s, f in zip(usual, fold, strict=True) if f != k] + irish, options.kind
        )
        scores += [
            score(s, options.kind, model) for s, f in zip(usual, fold, strict=True) if f == k
        ]
    say(f"US in five folds, {options.kind}", scores)
    far_from_all(usual, irish, options.kind)


if __name__ == "__main__":
    main()
