"""The bed that a plan is for, and what its owner wants there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from forecaster.ground.errors import InputError
from forecaster.plan.layout.shapes import Outline
from forecaster.plan.supplies.plants import Pattern
from forecaster.plan.values import check_positive

LONGEST_WEEKS = 52.0


@dataclass(frozen=True, kw_only=True)
class Bed:
    """A bed as its owner tells it.

    Parameters
    ----------
    name : str
    area_m2 : float, optional
        Taken from the outline if there is one.
    outline : Outline, optional
    soil : str
        A name in ``data/soil_water.csv``.
    meets_turf : bool
        Whether a lawn lies along its edge.
    replanted : bool
        False if it is left to rest under wood chips this time.
    """

    name: str = "Bed"
    area_m2: float | None = None
    outline: Outline | None = None
    soil: str = "loam"
    meets_turf: bool = True
    replanted: bool = True

    def __post_init__(self) -> None:
        """Take the area from the outline; refuse one that is not above zero."""
        if self.outline is not None and self.area_m2 is None:
            object.__setattr__(self, "area_m2", self.outline.area_m2)
        if self.area_m2 is not None:
            check_positive(area_m2=self.area_m2)


@dataclass(frozen=True, kw_only=True)
class Wants:
    """How the bed is to be planted, fed and watered; what is None takes the packaged value.

    Parameters
    ----------
    spacing_m : float, optional
    pattern : {"square", "staggered"}
    flat_sizes : tuple of int
        Plants a flat; empty for the usual ones.
    prices : mapping of int to float
        Price of a flat by its size.
    renewal_depth_m : float, optional
    parts : tuple of float, optional
        Bark fines and compost, by volume.
    bags_m3 : tuple of float, optional
        Size of a bag of each.
    load_volume_m3, load_mass_kg : float, optional
        Of the vehicle.
    fertilizer : str, optional
        Its label's analysis or a packaged name; nothing is bought without one.
    nitrogen_kg_m2 : float, optional
    water_depth_m, flow_m3_s : float, optional
    sow_weeks : tuple of float, optional
        Least and most weeks from sowing under cover to setting out; None if flats are bought.
    pull_late_weight : float, optional
        Days of bloom that a day's delay of planting is worth.
    planted : date, optional
        The day on which this changeover was planted, once it is.
    """

    spacing_m: float | None = None
    pattern: Pattern = "square"
    flat_sizes: tuple[int, ...] = ()
    prices: Mapping[int, float] = field(default_factory=dict)
    renewal_depth_m: float | None = None
    parts: tuple[float, float] | None = None
    bags_m3: tuple[float, float] | None = None
    load_volume_m3: float | None = None
    load_mass_kg: float | None = None
    fertilizer: str | None = None
    nitrogen_kg_m2: float | None = None
    water_depth_m: float | None = None
    flow_m3_s: float | None = None
    sow_weeks: tuple[float, float] | None = None
    pull_late_weight: float | None = None
    planted: date | None = None

    def __post_init__(self) -> None:
        """Refuse weeks that are not a range."""
        if self.sow_weeks is not None:
            least, most = self.sow_weeks
            if not 0.0 < least <= most <= LONGEST_WEEKS:
                raise InputError(
                    f"sow_weeks is {least:g} to {most:g}; expected a range above 0 and up to "
                    f"{LONGEST_WEEKS:g} weeks"
                )
