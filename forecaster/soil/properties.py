"""Thermal properties of a described soil, from published formulas.

Heat capacity: de Vries's sum over the parts, with the values of Campbell & Norman 1998, An
Introduction to Environmental Biophysics, Table 8.2, as the Common Land Model uses them.
Conductivity: Johansen 1975, Thermal conductivity of soils (thesis, Trondheim); Côté &
Konrad 2005, Canadian Geotechnical Journal 42:443-458 (pages from memory); Campbell 1985,
Soil Physics with BASIC. The three disagree by a tenth to a third: `tests/published` says
where. All are for unfrozen soil.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError

MINERAL_KG_M3 = 2650.0  # quartz; density of soil minerals in common use
ORGANIC_KG_M3 = 1300.0  # de Vries 1963, from memory
# MJ/m³/K, Common Land Model after Campbell & Norman 1998, Table 8.2
SAND_MJ_M3_K, CLAY_MJ_M3_K, ORGANIC_MJ_M3_K, WATER_MJ_M3_K = 2.128, 2.385, 2.51, 4.18
# W/m/K
QUARTZ_W_M_K, WATER_W_M_K = 7.7, 0.57  # Johansen 1975
ORGANIC_W_M_K = 0.25  # Moene & van Dam, Table 2.2 (quoted)
# Côté & Konrad 2005: κ of eq. for the Kersten number, from memory; χ and η of the dry soil
SHAPE_SAND, SHAPE_FINE, SHAPE_ORGANIC = 3.55, 1.90, 0.60
CHI_MINERAL, ETA_MINERAL = 0.75, 1.20
CHI_PEAT, ETA_PEAT = 0.30, 0.87
COARSE_SAND_SHARE = 0.5  # sand share from which a soil counts as coarse; common practice


@dataclass(frozen=True, slots=True)
class SoilMix:
    """What a soil is made of, validated when made.

    Parameters
    ----------
    sand, clay : float
        Shares of the mineral part by mass, 0 to 1, together at most 1; the rest is silt.
    bulk_density_kg_m3 : float
        Dry mass in a volume of soil as it lies, kg/m³: about 1,400 for loam, 200 for peat.
    organic : float
        Organic share of the dry mass, 0 to 1.
    saturation : float
        Share of the pores filled with water, 0 to 1.

    Raises
    ------
    InputError
        If a share lies outside 0 to 1, or the bulk density leaves no pores.
    """

    sand: float
    clay: float
    bulk_density_kg_m3: float
    organic: float = 0.0
    saturation: float = 0.5

    def __post_init__(self) -> None:
        """Refuse what no soil has."""
        for name in ("sand", "clay", "organic", "saturation"):
            _between(name, getattr(self, name), 0.0, 1.0)
        if self.sand + self.clay > 1.0 + 1e-9:
            raise InputError(f"sand {self.sand:g} and clay {self.clay:g} exceed 1 together")
        _between("bulk_density_kg_m3", self.bulk_density_kg_m3, 20.0, 2600.0)
        _between("porosity", self.porosity, 0.0, 1.0)

    @property
    def porosity(self) -> float:
        """Return the share of the volume that is pores.

        What minerals of 2,650 kg/m³ and organic matter of 1,300 kg/m³ leave.
        """
        solids = self.organic / ORGANIC_KG_M3 + (1.0 - self.organic) / MINERAL_KG_M3
        return 1.0 - self.bulk_density_kg_m3 * solids

    @property
    def water(self) -> float:
        """Return the water content by volume, θ, m³/m³."""
        return self.porosity * self.saturation

    @property
    def organic_share_of_solids(self) -> float:
        """Return the organic share of the solids by volume."""
        organic = self.organic / ORGANIC_KG_M3
        return organic / (organic + (1.0 - self.organic) / MINERAL_KG_M3)


@dataclass(frozen=True, slots=True)
class Thermal:
    """Conductivity (W/m/K), heat capacity (J/m³/K) and diffusivity (m²/s) of a soil."""

    conductivity_w_m_k: float
    heat_capacity_j_m3_k: float

    @property
    def diffusivity_m2_s(self) -> float:
        """Return κ = λ/C, m²/s."""
        return self.conductivity_w_m_k / self.heat_capacity_j_m3_k


@dataclass(frozen=True, slots=True)
class Shift:
    """Factors on diffusivity and on exchange length, against a reference soil."""

    diffusivity: float
    exchange_length: float


def thermal(soil: SoilMix) -> Thermal:
    """Return the thermal properties of a described soil (Côté & Konrad 2005).

    That formula is taken because it holds from dry to saturated and covers peat. Between
    mineral soil and peat the logarithms of dry and saturated conductivity and the shape
    parameter run linearly with the organic share of the solids: an assumption, no source.
    The quartz share is taken to be the sand share (an assumption in common use).
    """
    organic = soil.organic_share_of_solids
    mineral_shape = SHAPE_SAND if soil.sand >= COARSE_SAND_SHARE else SHAPE_FINE
    dry = dry_cote_konrad(soil.porosity) ** (1.0 - organic) * (
        dry_cote_konrad(soil.porosity, chi=CHI_PEAT, eta=ETA_PEAT) ** organic
    )
    solids = solids_johansen(soil.sand) ** (1.0 - organic) * ORGANIC_W_M_K**organic
    kersten = kersten_cote_konrad(
        soil.saturation, mineral_shape + organic * (SHAPE_ORGANIC - mineral_shape)
    )
    conductivity = dry + kersten * (saturated(solids, soil.porosity) - dry)
    return Thermal(float(conductivity), 1e6 * _heat_capacity_of(soil))


def shift(soil: SoilMix, reference: SoilMix) -> Shift:
    """Return how a soil's diffusivity and exchange length compare with a reference's.

    The exchange length is conductivity over the surface's exchange coefficient, which the
    soil beneath does not change: it goes with the conductivity.
    """
    here, there = thermal(soil), thermal(reference)
    return Shift(
        diffusivity=here.diffusivity_m2_s / there.diffusivity_m2_s,
        exchange_length=here.conductivity_w_m_k / there.conductivity_w_m_k,
    )


def heat_capacity(
    *, sand: ArrayLike = 0.0, clay: ArrayLike = 0.0, organic: ArrayLike = 0.0, water: ArrayLike
) -> Floats:
    """Return the volumetric heat capacity, MJ/m³/K, from volume parts of the soil.

    2.128·sand + 2.385·clay + 2.51·organic + 4.18·θ; air counts for nothing.
    """
    parts = [np.asarray(part, dtype=float) for part in (sand, clay, organic, water)]
    values = (SAND_MJ_M3_K, CLAY_MJ_M3_K, ORGANIC_MJ_M3_K, WATER_MJ_M3_K)
    return np.asarray(sum(part * value for part, value in zip(parts, values, strict=True)))


def solids_johansen(quartz: float) -> float:
    """Return the conductivity of mineral solids, W/m/K: 7.7^q·λo^(1−q) (Johansen 1975).

    λo is 2.0 where the quartz share q is above 0.2 and 3.0 elsewhere.
    """
    _between("quartz", quartz, 0.0, 1.0)
    others = 2.0 if quartz > 0.2 else 3.0
    return float(QUARTZ_W_M_K**quartz * others ** (1.0 - quartz))


def saturated(solids_w_m_k: float, porosity: float) -> float:
    """Return the conductivity of saturated soil, W/m/K: λs^(1−n)·0.57^n (Johansen 1975)."""
    _between("porosity", porosity, 0.0, 1.0)
    return float(solids_w_m_k ** (1.0 - porosity) * WATER_W_M_K**porosity)


def dry_johansen(bulk_density_kg_m3: float) -> float:
    """Return the conductivity of dry soil, W/m/K: (0.135ρ + 64.7)/(2700 − 0.947ρ).

    Johansen 1975, for natural mineral soils; ρ is the dry bulk density in kg/m³.
    """
    _between("bulk_density_kg_m3", bulk_density_kg_m3, 20.0, 2600.0)
    return (0.135 * bulk_density_kg_m3 + 64.7) / (2700.0 - 0.947 * bulk_density_kg_m3)


def dry_cote_konrad(porosity: float, chi: float = CHI_MINERAL, eta: float = ETA_MINERAL) -> float:
    """Return the conductivity of dry soil, W/m/K: χ·10^(−ηn) (Côté & Konrad 2005).

    χ and η are 0.75 and 1.20 for natural mineral soils, 0.30 and 0.87 for peat, 1.70 and
    1.80 for crushed rock.
    """
    _between("porosity", porosity, 0.0, 1.0)
    return float(chi * 10.0 ** (-eta * porosity))


def kersten_johansen(saturation: ArrayLike, *, coarse: bool) -> Floats:
    """Return Johansen's Kersten number: 0.7·log10 Sr + 1 coarse, log10 Sr + 1 fine.

    Never below 0, where the logarithm loses its meaning.
    """
    slope = 0.7 if coarse else 1.0
    with np.errstate(divide="ignore"):
        value = slope * np.log10(np.asarray(saturation, dtype=float)) + 1.0
    return np.asarray(np.maximum(value, 0.0))


def kersten_cote_konrad(saturation: ArrayLike, shape: float) -> Floats:
    """Return Côté & Konrad's normalised conductivity: κSr/(1 + (κ − 1)Sr).

    The shape κ is 4.60 for gravel and coarse sand, 3.55 fine sand, 1.90 silt and clay, 0.60
    organic fibrous soil, unfrozen (from memory).
    """
    wet = np.asarray(saturation, dtype=float)
    return np.asarray(shape * wet / (1.0 + (shape - 1.0) * wet))


def conductivity_johansen(
    saturation: ArrayLike,
    *,
    bulk_density_kg_m3: float,
    porosity: float,
    quartz: float,
    coarse: bool,
) -> Floats:
    """Return Johansen's conductivity of moist mineral soil, W/m/K: dry + Ke·(sat − dry)."""
    dry = dry_johansen(bulk_density_kg_m3)
    wet = saturated(solids_johansen(quartz), porosity)
    return np.asarray(dry + kersten_johansen(saturation, coarse=coarse) * (wet - dry))


def conductivity_campbell(water: ArrayLike, *, bulk_density_kg_m3: float, clay: float) -> Floats:
    """Return Campbell's conductivity of moist mineral soil, W/m/K.

    λ = A + Bθ − (A − D)·exp(−(Cθ)⁴) with A = 0.65 − 0.78ρ + 0.60ρ², B = 1.06ρ, C = 1 +
    2.6/√clay, D = 0.03 + 0.1ρ², ρ in Mg/m³ (Campbell 1985). Copies that multiply by √clay,
    square θ or root ρ are in circulation, and wrong.

    Parameters
    ----------
    water : array
        θ, m³/m³.
    bulk_density_kg_m3 : float
        Dry bulk density, kg/m³.
    clay : float
        Clay share, above 0 to 1.

    Raises
    ------
    InputError
        If the clay share is 0 or less, or above 1.
    """
    if not 0.0 < clay <= 1.0:
        raise InputError(f"clay is {clay!r}; expected a share above 0, up to 1")
    theta, rho = np.asarray(water, dtype=float), bulk_density_kg_m3 / 1000.0
    a = 0.65 - 0.78 * rho + 0.60 * rho**2
    b, c, d = 1.06 * rho, 1.0 + 2.6 / np.sqrt(clay), 0.03 + 0.1 * rho**2
    return np.asarray(a + b * theta - (a - d) * np.exp(-((c * theta) ** 4)))


def _heat_capacity_of(soil: SoilMix) -> float:
    """Return a described soil's heat capacity, MJ/m³/K.

    Silt is shared between the sand's and the clay's value in the ratio of the two, as the
    Common Land Model does.
    """
    solids = 1.0 - soil.porosity
    organic = solids * soil.organic_share_of_solids
    grains = soil.sand + soil.clay
    sand = (solids - organic) * (soil.sand / grains if grains > 0.0 else 0.5)
    return float(
        heat_capacity(sand=sand, clay=solids - organic - sand, organic=organic, water=soil.water)
    )


def _between(name: str, value: float, low: float, high: float) -> None:
    """Refuse a number outside its range, naming it."""
    if not low <= value <= high:
        raise InputError(f"{name} is {value!r}; expected a number from {low:g} to {high:g}")


MIX_COLUMNS = tuple(field.name for field in fields(SoilMix))
