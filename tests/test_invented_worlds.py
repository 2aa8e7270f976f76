"""Hand readings bring the estimate nearer to a soil that is known because it was made.

The worlds come from the demo garden's recipe with other seeds: weather, soil and readings are
made apart from the package, so what the readings ought to teach is known. Not a measurement.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecaster import Site, estimate_soil, read_air, read_readings

SCRIPTS = str(Path(__file__).resolve().parents[1] / "scripts")
sys.path.insert(0, SCRIPTS)
try:
    import make_demo
finally:
    sys.path.remove(SCRIPTS)

SEEDS = range(100, 108)
YEARS = 4


def errors(seed: int, folder: Path) -> tuple[float, float, float]:
    """Season's RMSE without and with readings, and bias with readings, °C."""
    world = make_demo.make_world(years=YEARS, after_days=0, seed=seed)
    (folder / "air.csv").write_text(make_demo.air_text(world), encoding="utf-8")
    (folder / "log.csv").write_text(make_demo.readings_text(world, seed=seed), encoding="utf-8")
    air, log = read_air(folder / "air.csv"), read_readings(folder / "log.csv")
    truth = pd.Series(world.soil_c, pd.DatetimeIndex(world.days))[log["time"].min().normalize() :]
    site = Site(make_demo.GARDEN["latitude_deg"], make_demo.GARDEN["longitude_deg"])
    alone = estimate_soil(air, site)["soil_c"] - truth
    taught = estimate_soil(air, site, log)["soil_c"] - truth
    rmse = [float(np.sqrt((off.dropna() ** 2).mean())) for off in (alone, taught)]
    return rmse[0], rmse[1], float(taught.mean())


@pytest.fixture(scope="module")
def worlds(tmp_path_factory) -> np.ndarray:
    return np.array([errors(seed, tmp_path_factory.mktemp("world")) for seed in SEEDS])


def test_readings_help_in_nearly_every_world(worlds):
    """A correction for the hour that is wrong for mornings would make most worlds worse."""
    assert np.mean(worlds[:, 1] < worlds[:, 0]) >= 0.85
    assert np.median(worlds[:, 1]) < 0.85 * np.median(worlds[:, 0])


def test_readings_at_mixed_hours_leave_no_bias(worlds):
    """Mostly mornings, some evenings: twenty-one readings of 0.4 °C error pin the level."""
    assert abs(worlds[:, 2].mean()) < 0.3
