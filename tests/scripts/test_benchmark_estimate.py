"""The benchmark's own arithmetic, and the fit on invented stations whose truth is known."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecaster.forecast.understand import load_model, understand
from forecaster.ground.site import Site
from forecaster.soil.model import chord_km

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
try:
    import benchmark_estimate as bench
    import fit_model
finally:
    sys.path.remove(str(ROOT / "scripts"))

HEAT = fit_model.Heat(4.5e-7, 0.28)


def station(air, name="A", latitude=40.0, longitude=-95.0, soil_c=None):
    day = air.index.to_numpy().astype("datetime64[D]").astype(np.int64)
    columns = [air[n].to_numpy() for n in ("tmin_c", "tmax_c")]
    measured = np.full(day.size, np.nan) if soil_c is None else soil_c
    return fit_model.Station(
        name,
        latitude,
        longitude,
        day,
        air.index.day_of_year.to_numpy(),
        *columns,
        sum(columns) / 2.0,
        air.precip_mm.to_numpy(),
        dict.fromkeys(fit_model.DEPTHS_M, measured),
    )


@pytest.fixture(scope="module")
def scattered(make_air):
    """60 stations, every third one 50 km north of its neighbour."""
    random, air = np.random.default_rng(0), make_air(100)
    stations = []
    for i in range(60):
        if i % 3 == 2:
            north, east = stations[-1].latitude_deg + 50.0 / 111.2, stations[-1].longitude_deg
        else:
            north, east = random.uniform(28.0, 48.0), random.uniform(-120.0, -75.0)
        stations.append(station(air, f"S{i}", north, east))
    return stations


def test_neighbours_share_a_fold_and_folds_are_of_a_size(scattered):
    fold = bench.deal(scattered, 5, seed=0)
    north = np.array([s.latitude_deg for s in scattered])
    east = np.array([s.longitude_deg for s in scattered])
    apart = chord_km(north, east, north, east)
    near = apart < bench.SAME_FOLD_KM
    assert np.all((fold[:, None] == fold[None, :])[near])
    assert near.sum() > len(scattered)  # there are neighbours
    sizes = np.bincount(fold, minlength=5)
    assert sizes.sum() == 60
    assert np.ptp(sizes) <= 4


def test_the_deal_is_repeatable_and_the_seed_matters(scattered):
    np.testing.assert_array_equal(bench.deal(scattered, 5, 3), bench.deal(scattered, 5, 3))
    assert np.any(bench.deal(scattered, 5, 3) != bench.deal(scattered, 5, 4))


def test_scores_by_hand():
    """Station one misses by +1 and −1 (sd 1), station two by 3 and 3 (sd 2).

    RMSE 1 and 3; bias (estimate less measured) 0 and −3; within 1.2816 sd: both, then neither.
    """
    answers = [
        bench.Answer(
            name,
            np.array([0, 2]),
            np.array(measured),
            {bench.OURS: np.zeros(2)},
            {bench.OURS: np.full(2, sd)},
        )
        for name, measured, sd in (("one", [1.0, -1.0], 1.0), ("two", [3.0, 3.0], 2.0))
    ]
    found = bench.score(answers, bench.OURS)
    assert found["median_rmse_c"] == pytest.approx(2.0)
    assert found["mean_bias_c"] == pytest.approx(-1.5)
    assert found["coverage"] == pytest.approx(0.5)
    assert found["coverage_by_station"] == [0.1, 0.5, 0.9]
    winter = bench.score(answers, bench.OURS, 0)
    assert winter["mean_bias_c"] == pytest.approx(-2.0)


def test_the_fit_prepares_air_as_the_package_does(make_air):
    """The benchmark's table through the package equals the fit's own forcing, carried down."""
    air = make_air()
    kind = "extremes+rain"
    model = load_model(kind)
    there = station(air, soil_c=np.zeros(len(air)))
    heat = fit_model.Heat(model.diffusivity_m2_s, model.exchange_length_m)
    design = fit_model.carry(there, fit_model.forcing(there, kind), 0.10, heat)
    fitted = design.terms_c @ np.array([model.weights[name] for name in design.names])
    place = understand(bench.air_table(there, kind), Site(40.0, -95.0), model=model)
    ours = pd.Series(place.modelled.soil_c, place.day)[design.day]
    # the yearly wave goes down in closed form there from each term's wave, here from the sum's
    np.testing.assert_allclose(ours, fitted, atol=0.05)


def test_weights_of_invented_soil_are_found_again(make_air):
    truth = dict(load_model("extremes+rain").weights)
    random = np.random.default_rng(1)
    designs = []
    for i in range(12):
        air = make_air(1461, seed=i, mean_c=6.0 + i, swing_c=16.0 - 0.8 * i)
        blank = station(air, latitude=47.0 - 1.5 * i, soil_c=np.zeros(len(air)))
        design = fit_model.carry(blank, fit_model.forcing(blank, "extremes+rain"), 0.10, HEAT)
        soil = design.terms_c @ np.array([truth[name] for name in design.names])
        own = design.columns @ (random.normal(size=7) * 0.1)
        designs.append(
            fit_model.Design(design.names, design.terms_c, soil + own, design.columns, design.day)
        )
    weights = dict(zip(designs[0].names, fit_model.fit_weights(designs), strict=True))
    miss = [d.terms_c @ np.array([weights[n] - truth[n] for n in d.names]) for d in designs]
    # single weights trade against each other; what they say of the soil does not. The
    # stations' own terms have a spread of 0.1 °C and twelve stations share it.
    assert np.sqrt(np.mean(np.concatenate(miss) ** 2)) < 0.25
    assert weights["air_departure"] == pytest.approx(truth["air_departure"], abs=0.02)
