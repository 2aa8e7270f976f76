"""Outlines of beds: rectangle, circle, strip around a lawn, polygon; their area and edge.

Everything is in metres. An outline is a set of closed rings; what lies within an odd number of
them belongs to the bed, so a strip around a lawn is two rings.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

from forecaster.ground.arrays import Bools, Floats
from forecaster.ground.errors import InputError

LONGEST_M = 10_000.0
MOST_CORNERS = 500
CIRCLE_CORNERS = 180  # to draw a circle and measure from its edge: within 0.02 % of the radius


@dataclass(frozen=True)
class Outline:
    """An outline with known area and edge; made by `rectangle`, `circle`, `strip`, `polygon`.

    Parameters
    ----------
    kind : str
        ``rectangle``, ``circle``, ``strip`` or ``polygon``.
    area_m2, perimeter_m : float
        The perimeter of a strip counts both its edges.
    corners_m : tuple of tuple of (float, float)
        Corners of each ring, in order round it.
    """

    kind: str
    area_m2: float
    perimeter_m: float
    corners_m: tuple[tuple[tuple[float, float], ...], ...]

    @cached_property
    def rings_m(self) -> tuple[Floats, ...]:
        """Corners of each ring, (n, 2) arrays."""
        return tuple(np.asarray(ring, dtype=float) for ring in self.corners_m)

    @property
    def bounds_m(self) -> tuple[float, float, float, float]:
        """Least x and y, greatest x and y."""
        every = np.concatenate(self.rings_m)
        low, high = every.min(axis=0), every.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def inside(self, points_m: ArrayLike) -> Bools:
        """Say which points lie in the bed, by the even-odd rule.

        Parameters
        ----------
        points_m : (n, 2) array

        Returns
        -------
        (n,) array of bool
        """
        x, y = np.asarray(points_m, dtype=float).reshape(-1, 2).T
        odd = np.zeros(x.size, dtype=bool)
        for (x1, y1), (x2, y2) in self._edges():
            if y1 != y2:
                left = x < x1 + (y - y1) * ((x2 - x1) / (y2 - y1))
                odd ^= ((y1 > y) != (y2 > y)) & left
        return odd

    def edge_distance_m(self, points_m: ArrayLike) -> Floats:
        """Return the distance of points to the nearest edge, (n,) array."""
        x, y = np.asarray(points_m, dtype=float).reshape(-1, 2).T
        nearest = np.full(x.size, np.inf)
        for (x1, y1), (x2, y2) in self._edges():
            dx, dy = x2 - x1, y2 - y1
            along = np.clip(((x - x1) * dx + (y - y1) * dy) / max(dx * dx + dy * dy, 1e-30), 0, 1)
            gap2 = (x - x1 - along * dx) ** 2 + (y - y1 - along * dy) ** 2
            np.minimum(nearest, gap2, out=nearest)
        return np.asarray(np.sqrt(nearest))

    def _edges(self) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
        """Yield both ends of every edge."""
        for ring in self.corners_m:
            yield from zip(ring, (*ring[1:], ring[0]), strict=True)


def rectangle(width_m: float, length_m: float) -> Outline:
    """Return a rectangle: area w·l, edge 2(w + l)."""
    _check(width_m=width_m, length_m=length_m)
    corners = _box(0.0, 0.0, width_m, length_m)
    return Outline("rectangle", width_m * length_m, 2.0 * (width_m + length_m), (corners,))


def circle(radius_m: float) -> Outline:
    """Return a circle: area πr², edge 2πr.

    >>> round(circle(1.0).area_m2, 4)
    3.1416
    """
    _check(radius_m=radius_m)
    return Outline(
        "circle", math.pi * radius_m**2, 2.0 * math.pi * radius_m, (_round(radius_m, radius_m),)
    )


def strip(lawn: Outline, width_m: float) -> Outline:
    """Return the strip of one width around a lawn, square at the corners of a rectangle.

    Parameters
    ----------
    lawn : Outline
        A rectangle or a circle.
    width_m : float

    Raises
    ------
    InputError
        If the lawn has another shape: no plain rule gives the strip around it.
    """
    _check(width_m=width_m)
    x0, y0, x1, y1 = lawn.bounds_m
    if lawn.kind == "rectangle":
        outer = _box(x0 - width_m, y0 - width_m, x1 + width_m, y1 + width_m)
        whole = (x1 - x0 + 2.0 * width_m) * (y1 - y0 + 2.0 * width_m)
        edge = lawn.perimeter_m + 8.0 * width_m
    elif lawn.kind == "circle":
        radius = (x1 - x0) / 2.0
        outer = _round(radius + width_m, radius)
        whole = math.pi * (radius + width_m) ** 2
        edge = 2.0 * math.pi * (radius + width_m)
    else:
        raise InputError(
            f"the lawn is a {lawn.kind}; expected a rectangle or a circle. "
            "Give the strip's own area instead"
        )
    return Outline(
        "strip", whole - lawn.area_m2, edge + lawn.perimeter_m, (outer, lawn.corners_m[0])
    )


def polygon(corners_m: ArrayLike) -> Outline:
    """Return a polygon from its corners in order, either way round.

    Area by the shoelace formula, |Σ(x_i·y_{i+1} − x_{i+1}·y_i)|/2 (attributed to Gauss).

    Parameters
    ----------
    corners_m : (n, 2) array
        At least three; a last corner equal to the first is dropped.

    Raises
    ------
    InputError
        If there are too few corners, no area, or edges that cross.
    """
    try:
        ring = np.asarray(corners_m, dtype=float)
    except ValueError as error:
        raise InputError("the corners of a polygon are pairs of numbers, x and y") from error
    if ring.ndim != 2 or ring.shape[1] != 2 or not np.isfinite(ring).all():
        raise InputError("the corners of a polygon are pairs of numbers, x and y")
    if len(ring) > 1 and np.array_equal(ring[0], ring[-1]):
        ring = ring[:-1]
    if len(ring) < 3:
        raise InputError(f"a polygon of {len(ring)} corners; expected at least 3")
    if len(ring) > MOST_CORNERS:
        raise InputError(
            f"a polygon of {len(ring):,} corners; expected at most {MOST_CORNERS}: every pair of "
            "edges is looked at. Leave out corners that lie close together"
        )
    if np.abs(ring).max() > LONGEST_M:
        raise InputError(f"a corner lies beyond {LONGEST_M:g} m; check the unit")
    crossing = _crossing(ring)
    if crossing is not None:
        first, second = crossing
        raise InputError(
            f"the polygon's edges after corners {first + 1} and {second + 1} cross or touch; "
            "give the corners in order round the bed"
        )
    following = np.roll(ring, -1, axis=0)
    area = abs(float((ring[:, 0] * following[:, 1] - following[:, 0] * ring[:, 1]).sum())) / 2.0
    if area <= 1e-12 * float(np.abs(ring).max()) ** 2:
        raise InputError("the polygon's corners lie on one line; it has no area")
    edge = float(np.hypot(*(following - ring).T).sum())
    return Outline("polygon", area, edge, (tuple((float(x), float(y)) for x, y in ring),))


def _crossing(ring: Floats) -> tuple[int, int] | None:
    """Return the first two edges that meet anywhere but at a shared corner."""
    n = len(ring)
    for i, j in combinations(range(n), 2):
        a, b, c, d = ring[i], ring[(i + 1) % n], ring[j], ring[(j + 1) % n]
        if (i + 1) % n == j or (j + 1) % n == i:
            shared, one, other = (b, a, d) if (i + 1) % n == j else (a, b, c)
            back = _turn(shared, one, other) == 0.0 and np.dot(one - shared, other - shared) > 0.0
            if n > 3 and back:
                return i, j
        elif _meet(a, b, c, d):
            return i, j
    return None


def _meet(a: Floats, b: Floats, c: Floats, d: Floats) -> bool:
    """Say whether two segments have a point in common."""
    turns = (_turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b))
    if turns[0] * turns[1] < 0.0 and turns[2] * turns[3] < 0.0:
        return True
    on_it = ((a, b, c), (a, b, d), (c, d, a), (c, d, b))
    return any(
        turn == 0.0
        and (np.minimum(start, end) <= point).all()
        and (point <= np.maximum(start, end)).all()
        for turn, (start, end, point) in zip(turns, on_it, strict=True)
    )


def _turn(a: Floats, b: Floats, c: Floats) -> float:
    """Return which way c lies of the line from a to b: the sign of the cross product."""
    cross = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return float(np.sign(cross))


def _box(x0: float, y0: float, x1: float, y1: float) -> tuple[tuple[float, float], ...]:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def _round(radius_m: float, centre_m: float) -> tuple[tuple[float, float], ...]:
    angles = 2.0 * math.pi * np.arange(CIRCLE_CORNERS) / CIRCLE_CORNERS
    return tuple(
        (centre_m + radius_m * math.cos(a), centre_m + radius_m * math.sin(a)) for a in angles
    )


def _check(**lengths_m: float) -> None:
    for name, value in lengths_m.items():
        if not (math.isfinite(value) and 0.0 < value <= LONGEST_M):
            raise InputError(
                f"{name} is {value!r}; expected a length above 0 and up to {LONGEST_M:g} m"
            )
