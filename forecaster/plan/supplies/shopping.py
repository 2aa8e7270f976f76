"""Everything that a changeover needs bought, from the bed and what is wanted."""

from __future__ import annotations

from collections.abc import Sequence
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
from forecaster.rules.crops import Crop


@dataclass(frozen=True, slots=True)
class Part:
    """The part of a bed that one of several crops takes.

    Parameters
    ----------
    what : str
    area_m2, spacing_m : float
    plants : int
    """

    what: str
    area_m2: float
    spacing_m: float
    plants: int


@dataclass(frozen=True, slots=True, kw_only=True)
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
    parts : tuple of Part
        Where several crops share the bed: what each takes, in equal parts of its area.
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
    parts: tuple[Part, ...] = ()


def shopping_for(
    bed: Bed, wants: Wants, season: str, crops: Sequence[Crop] = ()
) -> Shopping | None:
    """Return what to buy; None for a bed whose area is not told.

    Bark and compost are bought for the autumn change only.
    """
    if bed.area_m2 is None:
        return None
    area = bed.area_m2
    spacing = spacing_of(wants, crops[0] if len(crops) == 1 else None)
    if not bed.replanted:
        rest = chips(area, load_volume_m3=wants.load_volume_m3, load_mass_kg=wants.load_mass_kg)
        depth = default("chips_depth_m")
        return Shopping(
            area_m2=area,
            spacing_m=spacing,
            pattern=wants.pattern,
            plants=0,
            by_outline=False,
            flats=(),
            heaps=(rest,),
            renewal_depth_m=depth,
            feed=None,
            fertilizer="",
            watering=None,
        )
    parts = _parts(area, wants, crops) if len(crops) > 1 else ()
    if parts:
        plants = sum(part.plants for part in parts)
    elif bed.outline is None:
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
        area_m2=area,
        spacing_m=spacing,
        pattern=wants.pattern,
        plants=plants,
        by_outline=bed.outline is not None and not parts,
        flats=compare_flats(plants, sizes, wants.prices),
        heaps=heaps,
        renewal_depth_m=depth if heaps else 0.0,
        feed=food,
        fertilizer=wants.fertilizer or "",
        watering=water(area, wants.water_depth_m, wants.flow_m3_s),
        parts=parts,
    )


def spacing_of(wants: Wants, crop: Crop | None) -> float:
    """Return the distance between plants, m: as wanted, else the crop's middle one, else usual."""
    if wants.spacing_m is not None:
        return wants.spacing_m
    if crop is None or not crop.spacing_m:
        return default("spacing_m")
    middle = sorted(figure.middle for figure in crop.spacing_m)
    return middle[len(middle) // 2]


def _parts(area_m2: float, wants: Wants, crops: Sequence[Crop]) -> tuple[Part, ...]:
    """Return what each of several crops takes of a bed, in equal parts."""
    share = area_m2 / len(crops)
    spacings = [spacing_of(wants, crop) for crop in crops]
    return tuple(
        Part(crop.label, share, spacing, plants_by_area(share, spacing, wants.pattern))
        for crop, spacing in zip(crops, spacings, strict=True)
    )
