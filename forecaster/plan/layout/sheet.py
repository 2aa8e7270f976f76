"""A layout as paper shows it: to a round scale, in squares between strings, tiled over pages.

The long side stands upright. Squares are counted from the bed's corner; those of a circle, and of
a strip around one, from its centre, where a stake stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.units import METRES_PER_FOOT
from forecaster.plan.layout.scatter import Scatter

FEET_AN_INCH = (20.0, 10.0, 5.0, 4.0, 3.0, 2.0, 1.0, 0.5, 0.25)
LEAST_GAP_IN = 0.4
"""Between neighbours on paper: room for a letter that is read at arm's length."""
FIELD_IN = (7.0, 9.0)
"""Of a page: what fits Letter and A4 alike beside the strings' numbers."""
NEAR = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """What one page shows: squares from `first` up to, not with, `last`, (column, row)."""

    first: tuple[int, int]
    last: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A layout on paper.

    Parameters
    ----------
    layout : Scatter
    points_m : (n, 2) array
        Plants from the corner, or the centre, that squares are counted from.
    rings_m : tuple of (k, 2) arrays
        The outline, likewise.
    turned, centred : bool
        Whether the bed lies a quarter turn round; whether squares are counted from its centre.
    feet_an_inch : float
        Scale: feet of bed on an inch of paper.
    square_m : float
        Side of a square between strings.
    columns_m, rows_m : arrays
        Where the strings are, from the same corner or centre.
    counts : (rows, columns, colours) array of int
        Plants of each colour in each square.
    tiles : tuple of Tile
        Pages, the lowest row of them first, each from the left.
    """

    layout: Scatter
    points_m: Floats
    rings_m: tuple[Floats, ...]
    turned: bool
    centred: bool
    feet_an_inch: float
    square_m: float
    columns_m: Floats
    rows_m: Floats
    counts: Ints
    tiles: tuple[Tile, ...]

    def on(self, tile: Tile) -> Ints:
        """Return which plants stand on a page."""
        column, row = _square_of(self.points_m, self.columns_m, self.rows_m)
        inside = (column >= tile.first[0]) & (column < tile.last[0])
        return np.flatnonzero(inside & (row >= tile.first[1]) & (row < tile.last[1]))


def turned(layout: Scatter) -> bool:
    """Return whether a bed is wider than long, so that paper shows it a quarter turn round."""
    x0, y0, x1, y1 = layout.outline.bounds_m
    return x1 - x0 > y1 - y0 + NEAR


def on_sheet(layout: Scatter, points: Floats) -> Floats:
    """Return points as paper shows them from its corner, m: a wide bed by a quarter turn.

    Turned, never mirrored: (x, y) becomes (y₁ − y, x − x₀).
    """
    x0, y0, _, y1 = layout.outline.bounds_m
    if turned(layout):
        return np.column_stack([y1 - points[:, 1], points[:, 0] - x0])
    return points - (x0, y0)


def scale_for(layout: Scatter) -> float:
    """Return the feet that an inch of paper stands for, so that letters can be read."""
    gap_ft = layout.least_m / METRES_PER_FOOT
    fits = (feet for feet in FEET_AN_INCH if gap_ft / feet >= LEAST_GAP_IN)
    return next(fits, FEET_AN_INCH[-1])


def sheet_of(layout: Scatter) -> Sheet:
    """Return a layout as paper shows it."""
    feet = scale_for(layout)
    square = (1.0 if 0.5 <= feet <= 1.0 else feet if feet > 1.0 else 0.5) * METRES_PER_FOOT
    rings = [on_sheet(layout, ring) for ring in layout.outline.rings_m]
    points = on_sheet(layout, layout.points_m)
    every = np.concatenate(rings)
    low, high = every.min(axis=0), every.max(axis=0)
    centred = all(_is_circle(ring) for ring in rings)
    origin = (low + high) / 2.0 if centred else low
    columns, rows = (
        square * np.arange(np.floor(a / square + NEAR), np.ceil(b / square - NEAR) + 1)
        for a, b in zip(low - origin, high - origin, strict=True)
    )
    points = points - origin
    column, row = _square_of(points, columns, rows)
    counts = np.zeros((len(rows) - 1, len(columns) - 1, len(layout.names)), dtype=np.int64)
    np.add.at(counts, (row, column, layout.colour), 1)
    side_in = square / METRES_PER_FOOT / feet
    return Sheet(
        layout=layout,
        points_m=points,
        rings_m=tuple(ring - origin for ring in rings),
        turned=turned(layout),
        centred=centred,
        feet_an_inch=feet,
        square_m=square,
        columns_m=columns,
        rows_m=rows,
        counts=counts,
        tiles=_tiles(len(columns) - 1, len(rows) - 1, side_in),
    )


def _tiles(columns: int, rows: int, side_in: float) -> tuple[Tile, ...]:
    """Return the pages that so many squares take, as equal as can be."""
    spans = []
    for many, room in zip((columns, rows), FIELD_IN, strict=True):
        pages = -(-many // max(1, int(room / side_in + NEAR)))
        each = -(-many // pages)
        spans.append([(k, min(k + each, many)) for k in range(0, many, each)])
    return tuple(
        Tile(first=(left, low), last=(right, high))
        for low, high in spans[1]
        for left, right in spans[0]
    )


def _square_of(points: Floats, columns: Floats, rows: Floats) -> tuple[Ints, Ints]:
    """Return column and row of the square that each point stands in."""
    found = []
    for values, lines in ((points[:, 0], columns), (points[:, 1], rows)):
        at = np.searchsorted(lines, values, side="right") - 1
        found.append(np.clip(at, 0, len(lines) - 2).astype(np.int64))
    return found[0], found[1]


def _is_circle(ring: Floats) -> bool:
    """Return whether a ring's corners lie as far from its middle as each other, and are many."""
    away = np.hypot(*(ring - ring.mean(axis=0)).T)
    return len(ring) > 20 and float(np.ptp(away)) < 1e-6 * float(away.max())
