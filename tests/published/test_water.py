"""The root zone's water against FAO-56 chapter 8 and against pyet.

Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56. The worked examples are
from memory, unverified: each check says so. Tolerances are half the last printed digit.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecaster.plan import water

# What pyet 1.5.0 answers; made by scripts/make_fao_reference.py in an environment of its own.
PYET = pd.read_csv(Path(__file__).with_name("pyet_1_5_0.csv"), parse_dates=["date"])

SOILS = {"loamy sand": (0.15, 0.06), "silt": (0.32, 0.15), "silty clay": (0.35, 0.23)}
CROPS = {"onion": (0.4, 0.30), "tomato": (0.8, 0.40), "winter wheat": (1.5, 0.55)}


@pytest.mark.parametrize(
    ("soil", "crop", "total", "readily"),
    [
        ("loamy sand", "onion", 36, 11),
        ("loamy sand", "tomato", 72, 29),
        ("loamy sand", "winter wheat", 135, 74),
        ("silt", "onion", 68, 20),
        ("silt", "tomato", 136, 54),
        ("silt", "winter wheat", 255, 140),
        ("silty clay", "onion", 48, 14),
        ("silty clay", "tomato", 96, 38),
        ("silty clay", "winter wheat", 180, 99),
    ],
)
def test_example_36_total_and_readily_available_water(soil, crop, total, readily):
    """Example 36, eq. 82 and 83: TAW and RAW of three crops on three soils, mm (from memory)."""
    (capacity, wilting), (depth, share) = SOILS[soil], CROPS[crop]
    found = water.total_available_mm(capacity, wilting, depth)
    assert float(found) == pytest.approx(total, abs=0.5)
    # 140.25 is printed 140, half-up of the rest: half a digit and float noise.
    assert float(water.readily_available_mm(found, share)) == pytest.approx(readily, abs=0.500001)


def test_example_37_tomato_on_silt():
    """Example 37: θ 0.32 and 0.12, roots 0.8 m, p 0.40: TAW 160, RAW 64 mm (from memory)."""
    total = float(water.total_available_mm(0.32, 0.12, 0.8))
    assert total == pytest.approx(160.0, abs=0.5)
    assert float(water.readily_available_mm(total, 0.40)) == pytest.approx(64.0, abs=0.5)
    # Eq. 84 by hand: 55 mm depleted is within RAW; at 112 mm, half of what lies beyond it.
    assert float(water.stress_coefficient(55.0, total, 0.40)) == 1.0
    assert float(water.stress_coefficient(112.0, total, 0.40)) == pytest.approx(0.5)


def test_table_22_note_on_the_depletion_share():
    """p + 0.04(5 − ETc): at 3 mm a day 0.30 becomes 0.38, at 10 mm 0.10 (by hand)."""
    shares = water.adjusted_share(0.30, [5.0, 3.0, 10.0, 20.0])
    np.testing.assert_allclose(shares, [0.30, 0.38, 0.10, 0.10])


def test_pyet_agrees_on_the_bucket_s_demand():
    theirs = PYET[PYET["latitude_deg"] == 33.4]
    ours = water.reference_mm(
        theirs["tmin_c"].to_numpy(), theirs["tmax_c"].to_numpy(),
        theirs["date"].dt.day_of_year.to_numpy(), 33.4,
    )  # fmt: skip
    # pyet lets the latent heat of evaporation fall with temperature: at most 1.5 % apart.
    np.testing.assert_allclose(ours, theirs["hargreaves_mm"], rtol=0.015)


def test_first_look_in_a_dry_spell_is_four_to_five_days_after_planting():
    """Common practice, no source: loam, a mild dry autumn of 3 mm a day."""
    zone = water.young_roots("loam")
    dry = water.first_dry_day(*water.daily_bucket(zone, np.full(42, 3.0), np.zeros(42)))
    assert 3 <= int(dry) <= 5
