"""Everything that a changeover needs bought, from the bed and what is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from forecaster.plan.bed import Bed, Wants
from forecaster.plan.supplies.lines import Line, Part, parts_of, spacing_of
from forecaster.plan.supplies.plants import Flats, Pattern
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Shopping:
    """What to buy and how much.

    Parameters
    ----------
    area_m2 : float
    spacing_m : float
    pattern : str
    parts : tuple of Part
        What takes which part of the bed; empty if it rests.
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
    pattern: Pattern
    parts: tuple[Part, ...]
    heaps: tuple[Heap, ...]
    renewal_depth_m: float
    feed: Feed | None
    fertilizer: str
    watering: Watering | None

    @property
    def lines(self) -> tuple[Line, ...]:
        """What to order, a line each."""
        return tuple(line for part in self.parts for line in part.lines)

    @property
    def plants(self) -> int:
        """Plants set out, as the layout draws them; 0 if the bed rests."""
        return sum(line.plants for line in self.lines)

    @property
    def coloured(self) -> bool:
        """Whether one thing goes in, in colours that are told: what a planting sheet needs."""
        return len(self.parts) == 1 and all(line.colour for line in self.lines)

    @property
    def by_outline(self) -> bool:
        """Whether plants were counted row by row, not from the area alone."""
        return any(part.by_outline for part in self.parts)

    @property
    def flats(self) -> tuple[Flats, ...]:
        """Alternatives where one thing alone is ordered, the cheapest first."""
        return self.lines[0].flats if len(self.lines) == 1 else ()


def shopping_for(
    bed: Bed, wants: Wants, season: str, crops: Sequence[Crop] = ()
) -> Shopping | None:
    """Return what to buy; None for a bed whose area is not told.

    Bark and compost are bought for the autumn change only.
    """
    if bed.area_m2 is None:
        return None
    area = bed.area_m2
    if not bed.replanted:
        rest = chips(area, load_volume_m3=wants.load_volume_m3, load_mass_kg=wants.load_mass_kg)
        depth = default("chips_depth_m")
        return Shopping(
            area_m2=area,
            spacing_m=spacing_of(wants, None),
            pattern=wants.pattern,
            parts=(),
            heaps=(rest,),
            renewal_depth_m=depth,
            feed=None,
            fertilizer="",
            watering=None,
        )
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
    parts = parts_of(bed, wants, crops)
    food = None
    if wants.fertilizer:
        food = feed(area, nitrogen_share(wants.fertilizer), wants.nitrogen_kg_m2)
    return Shopping(
        area_m2=area,
        spacing_m=parts[0].spacing_m if len(parts) == 1 else spacing_of(wants, None),
        pattern=wants.pattern,
        parts=parts,
        heaps=heaps,
        renewal_depth_m=depth if heaps else 0.0,
        feed=food,
        fertilizer=wants.fertilizer or "",
        watering=water(area, wants.water_depth_m, wants.flow_m3_s),
    )
