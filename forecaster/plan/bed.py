"""The bed that a plan is for, and what its owner wants there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from forecaster.ground.errors import InputError
from forecaster.plan.layout.shapes import Outline
from forecaster.plan.supplies.plants import Pattern
from forecaster.plan.values import check_positive
from forecaster.rules.crops import Crop, Use

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
class Goes:
    """One thing that goes into a bed; what is None is the crop's own, or the bed's.

    Parameters
    ----------
    what : str
        Its name, as ``Pansy``.
    crop : Crop, optional
        None where the name is not known.
    use : str, optional
        How it is begun; by default the crop's usual way.
    variety : str
    colours : tuple of (str, int or None)
        Plants of each colour; None for all to share what the bed takes.
    plants : int, optional
        By default what the bed, or its equal part, takes.
    spacing_m : float, optional
    flat_sizes : tuple of int
    prices : mapping of int to float
    currency : str
    spare_share : float, optional
        Plants ordered beyond those set out, as a share of them.
    weeks : tuple of float, optional
        Least and most weeks that the grower needs.
    """

    what: str
    crop: Crop | None = None
    use: Use | None = None
    variety: str = ""
    colours: tuple[tuple[str, int | None], ...] = ()
    plants: int | None = None
    spacing_m: float | None = None
    flat_sizes: tuple[int, ...] = ()
    prices: Mapping[int, float] = field(default_factory=dict)
    currency: str = ""
    spare_share: float | None = None
    weeks: tuple[float, float] | None = None


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
    colours : tuple of (str, int or None)
        Of the one thing planted; as `Goes` has them.
    spare_share : float
        Plants ordered beyond those set out, as a share of them.
    currency : str
        Of the prices.
    goes : tuple of Goes
        What goes in, each as it is wanted; empty for the crops decided, all as said above.
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
    colours: tuple[tuple[str, int | None], ...] = ()
    spare_share: float = 0.0
    currency: str = ""
    goes: tuple[Goes, ...] = ()

    def __post_init__(self) -> None:
        """Refuse weeks that are not a range, and a spare share that is none."""
        if not 0.0 <= self.spare_share <= 1.0:
            raise InputError(f"spare_share is {self.spare_share!r}; expected 0 to 1")
        if self.sow_weeks is not None:
            least, most = self.sow_weeks
            if not 0.0 < least <= most <= LONGEST_WEEKS:
                raise InputError(
                    f"sow_weeks is {least:g} to {most:g}; expected a range above 0 and up to "
                    f"{LONGEST_WEEKS:g} weeks"
                )
