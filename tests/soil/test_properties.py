"""Soils that could be dug, and every named constant within what nature offers."""

import inspect

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster import packaged as reference
from forecaster.ground.errors import InputError
from forecaster.soil import properties as soil
from forecaster.soil import sun, wave
from forecaster.soil.wave import NUMBERS, DailyWave, hour_correction

SHARES = st.floats(0.0, 1.0)
SOILS = reference.load_csv("soils.csv")
COVERS = {row["cover"]: row for row in reference.load_csv("covers.csv")}
BASES = {"published", "from memory", "common practice", "assumption"}

PLAUSIBLE = {
    "MINERAL_KG_M3": (2500.0, 2800.0),
    "ORGANIC_KG_M3": (1000.0, 1600.0),
    "SAND_MJ_M3_K": (1.8, 2.6),
    "CLAY_MJ_M3_K": (1.8, 2.6),
    "ORGANIC_MJ_M3_K": (2.3, 2.8),
    "WATER_MJ_M3_K": (4.1, 4.25),
    "QUARTZ_W_M_K": (6.0, 9.0),
    "WATER_W_M_K": (0.55, 0.61),
    "ORGANIC_W_M_K": (0.2, 0.3),
    "SHAPE_SAND": (1.9, 4.6),
    "SHAPE_FINE": (0.6, 3.55),
    "SHAPE_ORGANIC": (0.3, 1.0),
    "CHI_MINERAL": (0.3, 1.7),
    "ETA_MINERAL": (0.87, 1.8),
    "CHI_PEAT": (0.1, 0.75),
    "ETA_PEAT": (0.5, 1.2),
    "COARSE_SAND_SHARE": (0.4, 0.9),
    "SOLAR_CONSTANT_MJ_M2_MIN": (0.0810, 0.0826),  # 1350 to 1377 W/m²
    "DAYS_PER_YEAR": (365.0, 365.25),
    "MJ_PER_MM_EVAPORATED": (2.4, 2.5),
    "KRS_INLAND": (0.15, 0.17),
    "KRS_COASTAL": (0.18, 0.20),
    "OCEANIC": (0.0, 10.0),
    "CONTINENTAL": (20.0, 40.0),
}


@pytest.mark.parametrize("name", PLAUSIBLE)
def test_constant_is_plausible(name):
    homes = [module for module in (soil, sun, wave) if hasattr(module, name)]
    low, high = PLAUSIBLE[name]
    assert homes
    assert all(low <= getattr(module, name) <= high for module in homes)


def test_no_constant_escapes_the_check():
    numbers = {
        name
        for module in (soil, sun, wave)
        for name, value in inspect.getmembers(module)
        if name.isupper() and isinstance(value, float)
    }
    assert numbers - {"SECONDS_PER_DAY"} == set(PLAUSIBLE)


def mix(row, column="saturation"):
    values = {name: float(row[name]) for name in soil.MIX_COLUMNS}
    return soil.SoilMix(**values | {"saturation": float(row[column])})


@pytest.mark.parametrize("row", SOILS, ids=lambda row: row["soil"])
def test_row_of_soils_is_plausible(row):
    assert row["basis"] in BASES
    assert row["source"].strip()
    assert 0.0 <= float(row["offset_sd_c"]) <= 2.0
    states = [float(row[f"saturation{end}"]) for end in ("_dry", "", "_wet")]
    assert states == sorted(states)
    here = mix(row)
    assert 0.3 < here.porosity < 0.95
    assert 0.02 < here.water < 0.6
    found = soil.thermal(here)
    assert 0.05 < found.conductivity_w_m_k < 2.5
    assert 0.8e6 < found.heat_capacity_j_m3_k < 4.0e6
    # Tables of de Vries: from dry peat (4e-8) to moist sand (1e-6 m²/s).
    assert 4e-8 < found.diffusivity_m2_s < 1.1e-6
    drier, wetter = (soil.thermal(mix(row, f"saturation{end}")) for end in ("_dry", "_wet"))
    assert drier.conductivity_w_m_k < found.conductivity_w_m_k < wetter.conductivity_w_m_k


def test_soils_stand_in_the_order_that_gardeners_know():
    loam, sand, clay, peat = (
        soil.thermal(mix(next(row for row in SOILS if row["soil"] == name)))
        for name in ("loam", "sand", "clay", "peat")
    )
    assert sand.diffusivity_m2_s > loam.diffusivity_m2_s > clay.diffusivity_m2_s
    assert clay.diffusivity_m2_s > peat.diffusivity_m2_s
    # The reference is near the diffusivity of loam in the tables, 4 to 5e-7 m²/s.
    assert 4e-7 < loam.diffusivity_m2_s < 5e-7


def test_the_reference_shifts_nothing():
    loam = mix(SOILS[0])
    assert SOILS[0]["soil"] == "loam"
    assert soil.shift(loam, loam) == soil.Shift(1.0, 1.0)


def test_rows_of_covers_are_plausible_and_grass_shifts_nothing():
    for row in COVERS.values():
        assert row["basis"] in BASES
        assert row["source"].strip()
        assert 0.5 <= float(row["exchange_factor"]) <= 3.0
        assert 0.5 <= float(row["sun_factor"]) <= 1.5
        assert abs(float(row["offset_c"])) <= 3.0
        assert 0.0 <= float(row["offset_sd_c"]) <= 3.0
    numbers = ("exchange_factor", "sun_factor", "offset_c", "offset_sd_c")
    assert [float(COVERS["grass"][name]) for name in numbers] == [1.0, 1.0, 0.0, 0.0]


def test_straw_cools_as_much_as_was_measured_under_straw():
    # McCalla & Duley 1946 (abstract): 2 to 3 tons of straw an acre, 2 to 4 °C below ploughed
    # soil at 4 in, Nebraska in summer. There 22 MJ/m²/day is usual (FAO-56 eq. 50 at 41° N,
    # range 13 °C: 23), and each warms grassed ground by 0.40 °C in the annual model.
    bare, straw = (float(COVERS[name]["sun_factor"]) for name in ("bare", "straw"))
    assert 2.0 <= (bare - straw) * 0.40 * 22.0 <= 4.0


@pytest.mark.parametrize("cover", ["grass", "bare"])
def test_shipped_daily_wave_is_plausible(cover):
    table = reference.load_json("daily_wave.json")
    constants = table["covers"][cover]["constants"]
    shipped = DailyWave.from_table(table, cover)
    assert 1e-7 < shipped.diffusivity_m2_s < 1e-6
    assert 0.0 < shipped.exchange_length_m < 1.0
    assert 0.1 < shipped.sun_gain_c_m2_day_mj < 3.0
    assert 1.0 < shipped.air_lag_h < 5.0
    assert -15.0 < shipped.still_c < 5.0 < shipped.full_c < 15.0
    assert 0.1 < shipped.sd_wave < 1.0
    assert 0.2 < shipped.sd_phase_h < 1.5
    assert 0.1 < shipped.sd_day < 1.0
    assert all(constants[name]["unit"] and constants[name]["basis"] for name in NUMBERS)


def test_grass_shades_the_daily_wave():
    """Issue 11: under grass the observed wave is 0.2 to 0.6 of that of bare, dry rangeland."""
    table = reference.load_json("daily_wave.json")
    june = {"tmin_c": 12.0, "tmax_c": 27.0, "day_of_year": 170, "latitude_deg": 40.0}
    grass, bare = (
        hour_correction(8.0, 0.10, wave=DailyWave.from_table(table, cover), **june).departure_c
        for cover in ("grass", "bare")
    )
    assert 0.2 < grass / bare < 0.7


@given(SHARES, SHARES, st.floats(800.0, 1700.0), SHARES)
def test_wetter_soil_conducts_better_and_holds_more(sand, clay, density, saturation):
    clay *= 1.0 - sand
    drier = soil.thermal(soil.SoilMix(sand, clay, density, saturation=0.9 * saturation))
    wetter = soil.thermal(soil.SoilMix(sand, clay, density, saturation=saturation))
    assert wetter.conductivity_w_m_k >= drier.conductivity_w_m_k
    assert wetter.heat_capacity_j_m3_k >= drier.heat_capacity_j_m3_k
    assert 0.05 < drier.conductivity_w_m_k <= wetter.conductivity_w_m_k < 7.7


@given(SHARES, st.floats(0.05, 0.95))
def test_conductivity_runs_from_dry_to_saturated(quartz, porosity):
    density = 2650.0 * (1.0 - porosity)
    values = soil.conductivity_johansen(
        [0.0, 1.0], bulk_density_kg_m3=density, porosity=porosity, quartz=quartz, coarse=True
    )
    assert values[0] == pytest.approx(soil.dry_johansen(density))
    assert values[1] == pytest.approx(soil.saturated(soil.solids_johansen(quartz), porosity))
    assert soil.kersten_cote_konrad([0.0, 1.0], 1.9).tolist() == [0.0, 1.0]


@given(st.floats(0.25, 1.0), st.floats(1000.0, 1600.0), st.floats(0.1, 0.9))
def test_formulas_agree_within_what_their_authors_claim(saturation, density, clay):
    # Johansen and Côté-Konrad describe the same mineral soil; in the range of moist garden
    # soil they stay within a third of each other (the comparison in Lu et al. 2007 finds 0.07
    # to 0.20 W/m/K between model and measurement).
    porosity = 1.0 - density / 2650.0
    first = soil.conductivity_johansen(
        saturation, bulk_density_kg_m3=density, porosity=porosity, quartz=0.4, coarse=False
    )
    dry = soil.dry_cote_konrad(porosity)
    wet = soil.saturated(soil.solids_johansen(0.4), porosity)
    second = dry + soil.kersten_cote_konrad(saturation, 1.9) * (wet - dry)
    assert float(first) == pytest.approx(float(second), rel=0.33)
    third = soil.conductivity_campbell(saturation * porosity, bulk_density_kg_m3=density, clay=clay)
    assert 0.05 < float(third) < 2.5


def test_organic_matter_lowers_both_conductivity_and_diffusivity():
    plain, rich = (
        soil.thermal(soil.SoilMix(0.43, 0.18, density, organic, saturation=0.5))
        for density, organic in ((1400.0, 0.0), (1000.0, 0.15))
    )
    assert rich.conductivity_w_m_k < plain.conductivity_w_m_k
    assert rich.diffusivity_m2_s < plain.diffusivity_m2_s


def test_porosity_follows_from_density():
    assert soil.SoilMix(0.4, 0.2, 1325.0).porosity == pytest.approx(0.5)
    assert soil.SoilMix(0.4, 0.2, 260.0, organic=1.0).porosity == pytest.approx(0.8)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: soil.SoilMix(1.1, 0.0, 1400.0), "sand"),
        (lambda: soil.SoilMix(0.7, 0.4, 1400.0), "together"),
        (lambda: soil.SoilMix(0.4, 0.2, 1400.0, saturation=2.0), "saturation"),
        (lambda: soil.SoilMix(0.4, 0.2, 1.4), "bulk_density_kg_m3"),
        (lambda: soil.SoilMix(0.4, 0.2, 2000.0, organic=0.9), "porosity"),
        (lambda: soil.conductivity_campbell(0.2, bulk_density_kg_m3=1300.0, clay=0.0), "clay"),
        (lambda: soil.solids_johansen(1.5), "quartz"),
        (lambda: soil.dry_cote_konrad(-0.1), "porosity"),
        (lambda: soil.SoilMix(float("nan"), 0.2, 1400.0), "sand"),
    ],
)
def test_what_no_soil_has_is_refused_by_name(call, word):
    with pytest.raises(InputError, match=word):
        call()


def test_arrays_keep_their_shape():
    water = np.linspace(0.05, 0.45, 9).reshape(3, 3)
    assert soil.heat_capacity(sand=0.5, water=water).shape == (3, 3)
    assert soil.conductivity_campbell(water, bulk_density_kg_m3=1300.0, clay=0.2).shape == (3, 3)
