"""How many plants a bed takes, where they stand, and how many flats that is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError
from forecaster.packaged import load_csv
from forecaster.plan.layout.shapes import Outline
from forecaster.plan.values import check_not_negative, check_positive, whole_up

Pattern = Literal["square", "staggered"]

ROW_FACTOR = math.sqrt(3.0) / 2.0  # rows of equilateral triangles lie this much closer
MOST_PLANTS = 200_000
MOST_PLACES = 400_000
"""Of a grid over the bounds of a bed: a narrow strip around a large lawn has few plants on many."""
PHASES = 4  # ways to lay the grid on a bed without straight sides, along each axis


@dataclass(frozen=True, slots=True, kw_only=True)
class Flats:
    """Plants bought in flats of one size.

    Parameters
    ----------
    size : int
        Plants a flat.
    flats, plants, left_over : int
        Whole flats, the plants in them, those beyond what is wanted, spare ones counted.
    price : float or None
        Of one flat.
    cost, price_a_plant, cost_a_plant_set : float or None
        Of all flats; of each plant bought; of each plant that the bed takes.
    """

    size: int
    flats: int
    plants: int
    left_over: int
    price: float | None = None
    cost: float | None = None
    price_a_plant: float | None = None
    cost_a_plant_set: float | None = None


def plants_by_area(area_m2: float, spacing_m: float, pattern: Pattern = "square") -> int:
    """Return how many plants an area takes: area/s², staggered rows 0.866·s apart.

    An area alone has no edge: a bed's outline tells more (`positions`).

    >>> plants_by_area(9.290304, 0.1524), plants_by_area(9.290304, 0.1524, "staggered")
    (400, 462)
    """
    check_positive(area_m2=area_m2, spacing_m=spacing_m)
    row = _row_m(spacing_m, pattern)
    return _countable(whole_up(area_m2 / (spacing_m * row)))


def positions(
    outline: Outline, spacing_m: float, pattern: Pattern = "square", *, edge_m: float | None = None
) -> Floats:
    """Return where plants stand in an outline, edge rows included, (n, 2) array in m.

    Rows begin at the edge distance: along one side of a rectangle stand ⌊(side − 2·edge)/s⌋ + 1
    plants. On other outlines the grid is laid in the way that takes most plants.

    Parameters
    ----------
    outline : Outline
    spacing_m : float
    pattern : {"square", "staggered"}
    edge_m : float, optional
        From the bed's edge to the first plant; half the spacing if not given.
    """
    edge = spacing_m / 2.0 if edge_m is None else edge_m
    check_positive(spacing_m=spacing_m)
    check_not_negative(edge_m=edge)
    row = _row_m(spacing_m, pattern)
    _countable(int(outline.area_m2 / (spacing_m * row)))
    x0, y0, x1, y1 = outline.bounds_m
    if (x1 - x0) * (y1 - y0) > MOST_PLACES * spacing_m * row:
        raise InputError(
            f"a bed of {x1 - x0:,.0f} by {y1 - y0:,.0f} m, {spacing_m:.3g} m between plants, has "
            f"more than {MOST_PLACES:,} places to look at. Check the unit, or give its parts alone"
        )
    shares = (0.0,) if outline.kind == "rectangle" else np.arange(PHASES) / PHASES
    best = np.empty((0, 2))
    for along in shares:
        for across in shares:
            grid = _grid(
                outline, spacing_m, row, pattern, edge, along=float(along), across=float(across)
            )
            near = 1e-9 * max(1.0, spacing_m)
            apart = outline.edge_distance_m(grid)
            # On the very edge, inside and outside are a matter of rounding.
            found = grid[(apart >= edge - near) & (outline.inside(grid) | (apart <= near))]
            best = found if len(found) > len(best) else best
    return best


def _grid(
    outline: Outline,
    spacing_m: float,
    row_m: float,
    pattern: Pattern,
    edge_m: float,
    *,
    along: float,
    across: float,
) -> Floats:
    """Return the points of a grid over the outline's bounds."""
    x0, y0, x1, y1 = outline.bounds_m
    rows = np.arange(y0 + edge_m + across * row_m, y1 + 1e-9, row_m)
    places = np.arange(x0 + edge_m + along * spacing_m, x1 + 1e-9, spacing_m)
    x, y = np.meshgrid(places, rows)
    if pattern == "staggered":
        x = x + np.where(np.arange(rows.size) % 2 == 1, spacing_m / 2.0, 0.0)[:, None]
    return np.column_stack([x.ravel(), y.ravel()])


def flats_for(plants: int, size: int, price: float | None = None, *, spare: int = 0) -> Flats:
    """Return the whole flats of one size that hold at least so many plants, and spare ones.

    >>> flats_for(225, 36).flats, flats_for(225, 36).left_over, flats_for(225, 36, spare=30).flats
    (7, 27, 8)
    """
    set_out, plants = plants, plants + spare
    if plants < 0 or size < 1 or int(size) != size:
        raise InputError(f"{plants} plants in flats of {size}; expected whole numbers, 0 and 1 up")
    flats = -(-plants // size)
    if price is None:
        return Flats(size=size, flats=flats, plants=flats * size, left_over=flats * size - plants)
    check_not_negative(price=price)
    cost = flats * price
    return Flats(
        size=size,
        flats=flats,
        plants=flats * size,
        left_over=flats * size - plants,
        price=price,
        cost=cost,
        price_a_plant=price / size,
        cost_a_plant_set=cost / set_out if set_out else None,
    )


def compare_flats(
    plants: int,
    sizes: Sequence[int],
    prices: Mapping[int, float] | None = None,
    *,
    spare: int = 0,
) -> tuple[Flats, ...]:
    """Return the flats of each size, cheapest for what is wanted first, unpriced ones last."""
    known = prices or {}
    found = [
        flats_for(plants, size, known.get(size), spare=spare) for size in sorted({*sizes, *known})
    ]
    return tuple(sorted(found, key=lambda f: (f.cost is None, f.cost or 0.0, f.left_over, -f.size)))


def usual_flats() -> tuple[int, ...]:
    """Return the packaged flat sizes, plants a flat."""
    return tuple(sorted(int(row["plants"]) for row in load_csv("flats.csv")))


def plants_of_code(code: str) -> int:
    """Return the plants of a flat from its trade code: packs, then two digits of plants a pack.

    >>> plants_of_code("606"), plants_of_code("1801")
    (36, 18)
    """
    if not code.isascii() or not code.isdigit() or len(code) < 3 or int(code) > 99_999:
        raise InputError(f"flat code {code!r} not understood; expected three to five digits, 606")
    plants = int(code[:-2]) * int(code[-2:])
    if plants == 0:
        raise InputError(f"flat code {code!r} holds no plants")
    return plants


def _row_m(spacing_m: float, pattern: Pattern) -> float:
    if pattern not in get_args(Pattern):
        raise InputError(f"pattern is {pattern!r}; expected one of {', '.join(get_args(Pattern))}")
    return spacing_m * (ROW_FACTOR if pattern == "staggered" else 1.0)


def _countable(plants: int) -> int:
    if plants > MOST_PLANTS:
        raise InputError(f"{plants:,} plants; at most {MOST_PLANTS:,} are laid out. Check the unit")
    return plants
