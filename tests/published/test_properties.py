"""Thermal properties against printed tables and against values worked by hand.

Table 1: van Wijk & de Vries 1963, as reprinted in Hillel, Introduction to Soil Physics; from
memory, unverified. Table 2: Moene & van Dam, Transport in the Atmosphere-Vegetation-Soil
Continuum, Table 2.2, quoted by a page that cites it.
"""

import numpy as np
import pytest

from forecaster.soil import properties as soil
from forecaster.soil.wave import damping_depth_m

POROSITY_1300 = 1.0 - 1300.0 / 2650.0  # printed n .5094
SATURATIONS = np.array([0.25, 0.5, 1.0])
CAL_CM_S_K = 418.4  # W/m/K in one thermochemical cal/cm/s/K
CAL_CM3_K = 4.184  # MJ/m³/K in one cal/cm³/K

# porosity; per row θ, λ (10⁻³ cal/cm/s/K), C (cal/cm³/K), daily damping depth (cm)
TABLE_1 = {
    "sand": (0.4, [(0.0, 0.7, 0.3, 8.0), (0.2, 4.2, 0.5, 15.2), (0.4, 5.2, 0.7, 14.3)]),
    "clay": (0.4, [(0.0, 0.6, 0.3, 7.4), (0.2, 2.8, 0.5, 12.4), (0.4, 3.8, 0.7, 12.2)]),
    "peat": (0.8, [(0.0, 0.14, 0.35, 3.3), (0.4, 0.7, 0.75, 5.1), (0.8, 1.2, 1.15, 5.4)]),
    "snow": (0.9, [(0.0, 0.15, 0.05, 9.1), (0.0, 0.32, 0.2, 6.6), (0.0, 1.7, 0.5, 9.7)]),
}
# porosity; per row θ, C (MJ/m³/K), λ (W/m/K), D (10⁻⁶ m²/s)
TABLE_2 = {
    "sand": (0.4, [(0.0, 1.28, 0.24, 0.19), (0.2, 2.12, 2.1, 0.99), (0.4, 2.96, 2.5, 0.85)]),
    "clay": (0.4, [(0.0, 1.43, 0.15, 0.10), (0.2, 2.27, 0.9, 0.4), (0.4, 3.10, 1.4, 0.45)]),
    "peat": (0.9, [(0.0, 0.25, 0.04, 0.16), (0.45, 2.13, 0.27, 0.13), (0.9, 4.01, 0.50, 0.12)]),
}


def cote_konrad(kind: str, porosity: float, saturation: float) -> float:
    """Conductivity by the formula's parts, with the published constants of a kind of soil."""
    chi, eta, shape, solids = {
        "sand": (0.75, 1.20, 3.55, soil.solids_johansen(1.0)),
        "clay": (0.75, 1.20, 1.90, soil.solids_johansen(0.0)),
        "peat": (0.30, 0.87, 0.60, 0.25),
    }[kind]
    dry = soil.dry_cote_konrad(porosity, chi, eta)
    wet = soil.saturated(solids, porosity)
    return float(dry + soil.kersten_cote_konrad(saturation, shape) * (wet - dry))


@pytest.mark.parametrize("row", [row for _, rows in TABLE_1.values() for row in rows], ids=str)
def test_damping_depths_of_table_1(row):
    _, conductivity, capacity, depth_cm = row
    diffusivity = conductivity * 1e-3 * CAL_CM_S_K / (capacity * CAL_CM3_K * 1e6)
    # Printed to 0.1 cm from conductivities of two digits, which alone move it by up to 3.6 %;
    # all rows nevertheless agree to 0.1 cm.
    assert 100.0 * damping_depth_m(diffusivity, 1.0) == pytest.approx(depth_cm, abs=0.1)


@pytest.mark.parametrize("kind", TABLE_2)
def test_heat_capacity_of_table_2(kind):
    porosity, rows = TABLE_2[kind]
    part = {"peat": "organic"}.get(kind, kind)
    for water, capacity, _, _ in rows:
        ours = soil.heat_capacity(**{part: 1.0 - porosity}, water=water)
        # The table adds rounded parts (1.28 + 0.84 = 2.12, + 0.84 = 2.96), and takes quartz at
        # 2.13 where ours is 2.128: 0.012 at the most.
        assert float(ours) == pytest.approx(capacity, abs=0.012)


def test_table_2_divides_to_its_own_diffusivities():
    for _, rows in TABLE_2.values():
        for _, capacity, conductivity, printed in rows:
            # λ of one or two digits (0.04 dry peat) allows 13 % in the quotient.
            ours = soil.Thermal(conductivity, capacity * 1e6).diffusivity_m2_s
            assert ours * 1e6 == pytest.approx(printed, rel=0.13)


def test_johansen_fine_soil():
    # ρb 1300, n .5094, q .4, Sr .25/.5/1: worked from the equations of Johansen 1975.
    ours = soil.conductivity_johansen(
        SATURATIONS, bulk_density_kg_m3=1300.0, porosity=POROSITY_1300, quartz=0.4, coarse=False
    )
    np.testing.assert_allclose(ours, [0.6455, 1.0101, 1.3747], atol=0.00005)


def test_cote_konrad_silt():
    # Same soil, κ 1.9 (from memory): worked from the equations of Côté & Konrad 2005.
    dry = soil.dry_cote_konrad(POROSITY_1300)
    wet = soil.saturated(soil.solids_johansen(0.4), POROSITY_1300)
    ours = dry + soil.kersten_cote_konrad(SATURATIONS, 1.9) * (wet - dry)
    np.testing.assert_allclose(ours, [0.6454, 0.9639, 1.3747], atol=0.00005)


def test_campbell():
    # ρb 1.3 Mg/m³, clay .2: worked from Campbell 1985. The diffusivities divide by 2.39
    # MJ/m³/K for the solids (the clay mineral of Table 2) and 4.18 for water.
    water = np.array([0.1, 0.2, 0.3, 0.4])
    ours = soil.conductivity_campbell(water, bulk_density_kg_m3=1300.0, clay=0.2)
    np.testing.assert_allclose(ours, [0.4243, 0.9113, 1.0634, 1.2012], atol=0.00005)
    capacity = 1e6 * (2.39 * (1.0 - POROSITY_1300) + 4.18 * water)
    np.testing.assert_allclose(
        ours / capacity, [2.667e-7, 4.537e-7, 4.383e-7, 4.223e-7], atol=0.0005e-7
    )


@pytest.mark.parametrize(
    "wrong",
    [
        lambda t, r, c: campbell_with(t, r, 1.0 + 2.6 * c**0.5, t),
        lambda t, r, c: campbell_with(t, r, 1.0 + 2.6 / c**0.5, t * t),
        lambda t, r, c: campbell_with(t, r**0.5, 1.0 + 2.6 / c**0.5, t),
    ],
    ids=["multiplied by root clay", "theta squared", "root of density"],
)
def test_wrong_copies_of_campbell_are_told_apart(wrong):
    right = soil.conductivity_campbell(0.2, bulk_density_kg_m3=1300.0, clay=0.2)
    assert abs(float(wrong(0.2, 1.3, 0.2)) - float(right)) > 0.05


def campbell_with(theta, rho, c, linear):
    a, b, d = 0.65 - 0.78 * rho + 0.60 * rho**2, 1.06 * rho, 0.03 + 0.1 * rho**2
    return a + b * linear - (a - d) * np.exp(-((c * theta) ** 4))


@pytest.mark.parametrize(
    ("kind", "within"),
    [
        # The solids of "sand" are all quartz here, of "clay" none; the tables do not say.
        ("sand", 0.10),
        ("clay", 0.25),
        ("peat", 0.17),
    ],
)
def test_moist_conductivity_meets_table_2(kind, within):
    porosity, rows = TABLE_2[kind]
    for water, _, printed, _ in rows[1:]:
        assert cote_konrad(kind, porosity, water / porosity) == pytest.approx(printed, rel=within)


@pytest.mark.parametrize(
    ("kind", "within"),
    [("sand", 0.26), ("clay", 0.07), ("peat", 0.26)],
)
def test_moist_conductivity_meets_table_1(kind, within):
    porosity, rows = TABLE_1[kind]
    for water, printed, _, _ in rows[1:]:
        ours = cote_konrad(kind, porosity, water / porosity)
        assert ours == pytest.approx(printed * 1e-3 * CAL_CM_S_K, rel=within)


@pytest.mark.parametrize(
    ("kind", "table_1", "table_2"),
    # Dry soil, W/m/K. Table 1 gives clay 0.25 where Table 2 gives 0.15.
    [("sand", 0.293, 0.24), ("clay", 0.251, 0.15)],
)
def test_dry_mineral_soil_lies_between_the_tables_or_near(kind, table_1, table_2):
    for ours in (soil.dry_johansen(0.6 * 2650.0), soil.dry_cote_konrad(0.4)):
        assert 0.97 * min(table_1, table_2) < ours < 1.03 * max(table_1, table_2)


def test_the_tables_disagree_on_dry_peat_and_ours_stands_between():
    # Table 1 gives dry peat (n .8) 4e-8 m²/s; Table 2 (n .9) 1.6e-7: four times as much.
    _, (dry_1, *_) = TABLE_1["peat"]
    first = dry_1[1] * 1e-3 * CAL_CM_S_K / (dry_1[2] * CAL_CM3_K * 1e6)
    assert first == pytest.approx(4e-8, rel=0.01)
    second = TABLE_2["peat"][1][0][3] * 1e-6
    assert second / first == pytest.approx(4.0, rel=0.01)
    for porosity in (0.8, 0.9):
        peat = soil.SoilMix(0.4, 0.2, 1300.0 * (1.0 - porosity), organic=1.0, saturation=0.0)
        assert first < soil.thermal(peat).diffusivity_m2_s < 1.3 * second


@pytest.mark.parametrize(
    ("kind", "sand", "clay", "organic", "density"),
    [
        ("sand", 1.0, 0.0, 0.0, 1590.0),
        ("clay", 0.0, 1.0, 0.0, 1590.0),
        ("peat", 0.0, 0.0, 1.0, 260.0),
    ],
)
def test_described_soil_is_the_formula_of_its_kind(kind, sand, clay, organic, density):
    for saturation in (0.0, 0.3, 1.0):
        described = soil.SoilMix(sand, clay, density, organic, saturation)
        expected = cote_konrad(kind, described.porosity, saturation)
        assert soil.thermal(described).conductivity_w_m_k == pytest.approx(expected)


def test_described_loam_holds_heat_as_in_the_common_land_model():
    # Its mineral part: (2.128·sand + 2.385·clay)/(sand + clay), with sand and clay in percent.
    described = soil.SoilMix(0.43, 0.18, 1325.0, saturation=0.4)
    mineral = (2.128 * 43.0 + 2.385 * 18.0) / (43.0 + 18.0)
    expected = 1e6 * (mineral * 0.5 + 4.18 * 0.5 * 0.4)
    assert soil.thermal(described).heat_capacity_j_m3_k == pytest.approx(expected)
