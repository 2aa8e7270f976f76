"""Everything that a changeover needs bought, from the bed and what is wanted."""

from __future__ import annotations

from dataclasses import dataclass

from forecaster.plan.bed import Bed, Wants
from forecaster.plan.supplies.plants import (
    Flats,
    compare_flats,
    plants_by_area,
    positions,
    usual_flats,
)
from forecaster.plan.supplies.quantities import (
    Feed,
    Heap,
    Watering,
    chips,
    feed,
    nitrogen_share,
    renewal,
    water,
)
from forecaster.plan.values import default


@dataclass(frozen=True, slots=True)
class Shopping:
    """What to buy and how much.

    Parameters
    ----------
    area_m2 : float
    spacing_m : float
    pattern : str
    plants : int
        What the bed takes; 0 if it rests.
    by_outline : bool
        Whether plants were counted row by row, not from the area alone.
    flats : tuple of Flats
        Sizes compared, the cheapest first.
    heaps : tuple of Heap
        Bark fines and compost, or wood chips; empty in spring.
    renewal_depth_m : float
        Of the heaps together.
    feed : Feed or None
    fertilizer : str
    watering : Watering or None
    """

    area_m2: float
    spacing_m: float
    pattern: str
    plants: int
    by_outline: bool
    flats: tuple[Flats, ...]
    heaps: tuple[Heap, ...]
    renewal_depth_m: float
    feed: Feed | None
    fertilizer: str
    watering: Watering | None


def shopping_for(bed: Bed, wants: Wants, season: str) -> Shopping | None:
    """Return what to buy; None for a bed whose area is not told.

    Bark and compost are bought for the autumn change only.
    """
    if bed.area_m2 is None:
        return None
    area = bed.area_m2
    spacing = default("spacing_m") if wants.spacing_m is None else wants.spacing_m
    if not bed.replanted:
        rest = chips(area, load_volume_m3=wants.load_volume_m3, load_mass_kg=wants.load_mass_kg)
        depth = default("chips_depth_m")
        return Shopping(area, spacing, wants.pattern, 0, False, (), (rest,), depth, None, "", None)
    if bed.outline is None:
        plants = plants_by_area(area, spacing, wants.pattern)
    else:
        plants = len(positions(bed.outline, spacing, wants.pattern))
    sizes = wants.flat_sizes or (() if wants.prices else usual_flats())
    depth = default("renewal_depth_m") if wants.renewal_depth_m is None else wants.renewal_depth_m
    heaps: tuple[Heap, ...] = ()
    if season == "autumn":
        heaps = renewal(
            area,
            depth,
            parts=wants.parts,
            bags_m3=wants.bags_m3,
            load_volume_m3=wants.load_volume_m3,
            load_mass_kg=wants.load_mass_kg,
        )
    food = None
    if wants.fertilizer:
        food = feed(area, nitrogen_share(wants.fertilizer), wants.nitrogen_kg_m2)
    return Shopping(
        area,
        spacing,
        wants.pattern,
        plants,
        bed.outline is not None,
        compare_flats(plants, sizes, wants.prices),
        heaps,
        depth if heaps else 0.0,
        food,
        wants.fertilizer or "",
        water(area, wants.water_depth_m, wants.flow_m3_s),
    )
