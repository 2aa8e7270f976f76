"""What goes into a bed as lines of an order: plants by crop and colour, and flats for each.

The plants of a line are those that the layout draws; what is ordered beyond them is said apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from forecaster.ground.errors import InputError
from forecaster.plan.bed import Bed, Goes, Wants
from forecaster.plan.layout.shapes import Outline
from forecaster.plan.supplies.plants import (
    Flats,
    Pattern,
    compare_flats,
    plants_by_area,
    positions,
    usual_flats,
)
from forecaster.plan.values import default, whole_up
from forecaster.rules.crops import Crop, Use

BROADCAST = ("lawn", "cover crop")
"""Kinds of crops that are sown over an area by the rate on their seed's label, not counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing to order.

    Parameters
    ----------
    what, variety, colour : str
        The last two may be empty.
    use : str
        How it is begun: only transplants come in flats.
    plants, spare : int
        Set out in the bed, and ordered beyond them; none of what is sown over an area.
    flats : tuple of Flats
        Alternatives, the cheapest first; empty for what does not come in flats.
    currency : str
        Of their prices.
    weeks : tuple of float, optional
        Least and most weeks that the grower needs.
    """

    what: str
    variety: str = ""
    colour: str = ""
    use: Use = "transplant"
    plants: int
    spare: int = 0
    flats: tuple[Flats, ...] = ()
    currency: str = ""
    weeks: tuple[float, float] | None = None

    @property
    def wanted(self) -> int:
        """Plants to order, spare ones counted."""
        return self.plants + self.spare


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The part of a bed that one thing takes.

    Parameters
    ----------
    what : str
    area_m2, spacing_m : float
    room : int
        Plants that stand there at the spacing.
    by_outline : bool
        Whether the room was counted row by row, not from the area alone.
    lines : tuple of Line
        One, or one a colour.
    """

    what: str
    area_m2: float
    spacing_m: float
    room: int
    by_outline: bool
    lines: tuple[Line, ...]

    @property
    def plants(self) -> int:
        """Plants set out there."""
        return sum(line.plants for line in self.lines)


def parts_of(bed: Bed, wants: Wants, crops: Sequence[Crop] = ()) -> tuple[Part, ...]:
    """Return what takes which part of a bed: of several things each an equal part of its area.

    What is said in `wants.goes` stands; without it the crops decided, or plants in general.
    """
    if bed.area_m2 is None:
        return ()
    goes = wants.goes or tuple(Goes(what=crop.label, crop=crop) for crop in crops)
    goes = goes or (Goes(what="Plants"),)
    if wants.colours and len(goes) > 1:
        raise InputError("colours are of one thing; several go into this bed")
    return tuple(_part(bed, wants, each, len(goes)) for each in goes)


def spacing_of(wants: Wants, crop: Crop | None) -> float:
    """Return the distance between plants, m: as wanted, else the crop's middle one, else usual."""
    if wants.spacing_m is not None:
        return wants.spacing_m
    if crop is None or not crop.spacing_m:
        return default("spacing_m")
    middle = sorted(figure.middle for figure in crop.spacing_m)
    return middle[len(middle) // 2]


def weeks_under_cover(crop: Crop | None) -> tuple[float, float] | None:
    """Return the least and the most weeks from sowing a crop to setting it out, if known."""
    if crop is None or not crop.weeks_to_set_out:
        return None
    return min(f.low for f in crop.weeks_to_set_out), max(f.high for f in crop.weeks_to_set_out)


def split(plants: int, colours: Sequence[tuple[str, int | None]]) -> dict[str, int]:
    """Return plants by colour: as told, the others sharing evenly what is left.

    >>> split(100, [("yellow", 50), ("white", None), ("blue", None)])
    {'yellow': 50, 'white': 25, 'blue': 25}
    """
    open_ = [name for name, many in colours if many is None]
    left = plants - sum(many or 0 for _, many in colours)
    if open_ and left < len(open_):
        raise InputError(
            f"{plants} plants are too few for {len(colours)} colours as told; "
            "say fewer of those with a number"
        )
    each, more = divmod(left, len(open_)) if open_ else (0, 0)
    shares = {name: each + (at < more) for at, name in enumerate(open_)}
    return {name: shares[name] if many is None else many for name, many in colours}


@lru_cache(maxsize=64)
def _rows(outline: Outline, spacing_m: float, pattern: Pattern) -> int:
    return len(positions(outline, spacing_m, pattern))


def _part(bed: Bed, wants: Wants, goes: Goes, many: int) -> Part:
    assert bed.area_m2 is not None  # noqa: S101 - for the type checker; looked at before
    spacing = goes.spacing_m if goes.spacing_m is not None else spacing_of(wants, goes.crop)
    area_m2 = bed.area_m2 / many
    if goes.crop is not None and goes.crop.kind in BROADCAST:
        room = 0
    elif bed.outline is None:
        room = plants_by_area(area_m2, spacing, wants.pattern)
    else:
        room = _rows(bed.outline, spacing, wants.pattern) // many
    plants = room if goes.plants is None else goes.plants
    colours = goes.colours or wants.colours
    counts = split(plants, colours) if colours else {"": plants}
    return Part(
        what=goes.what,
        area_m2=area_m2,
        spacing_m=spacing,
        room=room,
        by_outline=bed.outline is not None,
        lines=tuple(_line(wants, goes, colour, count) for colour, count in counts.items()),
    )


def _line(wants: Wants, goes: Goes, colour: str, plants: int) -> Line:
    share = wants.spare_share if goes.spare_share is None else goes.spare_share
    spare = whole_up(plants * share)
    use = goes.use or ("transplant" if goes.crop is None else goes.crop.usual_use)
    prices = goes.prices or wants.prices
    sizes = goes.flat_sizes or wants.flat_sizes or (() if prices else usual_flats())
    flats = compare_flats(plants, sizes, prices, spare=spare) if use == "transplant" else ()
    return Line(
        what=goes.what,
        variety=goes.variety,
        colour=colour,
        use=use,
        plants=plants,
        spare=spare,
        flats=flats,
        currency=goes.currency or wants.currency,
        weeks=goes.weeks or wants.sow_weeks or weeks_under_cover(goes.crop),
    )
