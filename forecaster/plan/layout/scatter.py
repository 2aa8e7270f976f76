"""A scatter of mixed flats: places at random but even, colours without clumps that stand out.

Places are a Poisson-disc sample (Bridson 2007, Fast Poisson disk sampling in arbitrary
dimensions, SIGGRAPH sketches), as `scipy.stats.qmc.PoissonDisk` draws it: no two nearer than
a least distance, no large hole. Such a sample holds about 0.7 plants per square of the least
distance where a square grid holds one. More than it holds stand in rows, as they were counted or
wider, and only their colours are scattered; more than rows hold are drawn closer, then pushed apart
toward the spacing. The answer says how close the nearest stand.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import Delaunay, QhullError, cKDTree
from scipy.stats import qmc

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.errors import InputError
from forecaster.plan.layout.shapes import Outline
from forecaster.plan.supplies.plants import Pattern, positions
from forecaster.plan.values import check_not_negative, check_positive

MOST_PLANTS = 5000
NEIGHBOUR_REACH = 1.6  # times the middle distance to the nearest plant: who stands beside whom
REFERENCE_DRAWS = 100
SMALL_CLUMP = 0.1  # share of the draws whose largest patch is smaller than the one allowed
MOST_SWAPS = 4000
SHRINK = 0.97  # of the least distance, when too few places are found
LEAST_SHARE_OF_SPACING = 0.4
LOOSENING_STEPS = 30
WIDEST_ROWS, ROW_STEPS = 1.5, 5  # times the spacing; halvings, to within 2 % of it


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Where each plant of each colour goes.

    Parameters
    ----------
    points_m : (n, 2) array
        From the outline's own origin.
    colour : (n,) array of int
        Position in `names`.
    names : tuple of str
        Colours, in the order given.
    outline : Outline
    spacing_m, least_m : float
        Spacing asked for, and the least distance that the count allowed.
    same_share, chance_share : float
        Share of neighbouring pairs of one colour, and what chance alone would give,
        Σ n_c(n_c − 1)/(n(n − 1)).
    clump, chance_clump : int
        Plants in the largest patch of one colour, and in that of the middle random draw.
    swaps : int
        Exchanges made to get there.
    even : bool
        Whether the criterion of `lay_out` is met.
    in_rows : bool
        Whether plants stand in rows, since so many at random would stand closer than asked.
    seed : int
    """

    points_m: Floats
    colour: Ints
    names: tuple[str, ...]
    outline: Outline
    spacing_m: float
    least_m: float
    same_share: float
    chance_share: float
    clump: int
    chance_clump: int
    swaps: int
    even: bool
    seed: int
    in_rows: bool = False

    def count(self, name: str) -> int:
        """Return how many plants of a colour were laid out."""
        return int((self.colour == self.names.index(name)).sum())


def lay_out(
    outline: Outline,
    counts: Mapping[str, int],
    spacing_m: float,
    *,
    pattern: Pattern = "square",
    edge_m: float | None = None,
    seed: int = 0,
) -> Scatter:
    """Return the flats' colours laid out in a bed by the counts bought.

    Colours are drawn at random, then plants of the largest patches change places until the
    largest patch of one colour is as small as only a tenth of 100 random draws have it, and no
    more neighbours share a colour than chance would have. It stops there: a chessboard is no
    scatter.

    Parameters
    ----------
    outline : Outline
    counts : mapping of str to int
        Plants of each colour.
    spacing_m : float
        Distance wanted between plants; lowered only where rows at it do not hold the counts,
        down to 0.4 of it.
    pattern : {"square", "staggered"}
        How rows stand, where plants stand in rows.
    edge_m : float, optional
        From the edge to the nearest plant; half the spacing if not given.
    seed : int
        Same seed, same scatter.

    Raises
    ------
    InputError
        If there is nothing to lay out, or so many plants cannot stand in this bed.
    """
    edge = spacing_m / 2.0 if edge_m is None else edge_m
    check_positive(spacing_m=spacing_m)
    check_not_negative(edge_m=edge)
    total = _check_counts(counts)
    random = np.random.default_rng(seed)
    rows = partial(positions, outline, pattern=pattern, edge_m=edge)
    points, least, in_rows = _places(outline, total, spacing_m, edge, rows=rows, random=random)
    names = tuple(counts)
    deal = np.repeat(np.arange(len(names)), [counts[name] for name in names])
    pairs = neighbours(points)
    colour, swaps, allowed, middle = _spread(deal, pairs, random)
    same, chance = same_share(colour, pairs), chance_share(deal)
    clump = largest_clump(colour, pairs)
    alone = len(set(deal.tolist())) < 2
    even = alone or (clump <= allowed and same <= chance + 1e-12)
    return Scatter(
        points_m=points,
        colour=colour,
        names=names,
        outline=outline,
        spacing_m=spacing_m,
        least_m=least,
        same_share=same,
        chance_share=chance,
        clump=clump,
        chance_clump=middle,
        swaps=swaps,
        even=even,
        seed=seed,
        in_rows=in_rows,
    )


def neighbours(points_m: Floats) -> Ints:
    """Return which plants stand beside each other, (pairs, 2) array.

    Delaunay edges no longer than 1.6 times the middle distance to the nearest plant.
    """
    n = len(points_m)
    if n < 2:
        return np.empty((0, 2), dtype=np.int64)
    try:
        corners = Delaunay(points_m).simplices if n > 3 else np.arange(n)[None, :]
    except QhullError:  # all in one line
        order = np.lexsort(points_m.T)
        corners = np.column_stack([order[:-1], order[1:]])
    both = [(i, j) for i in range(corners.shape[1]) for j in range(i)]
    pairs = np.unique(np.sort(np.vstack([corners[:, list(p)] for p in both]), axis=1), axis=0)
    apart = np.hypot(*(points_m[pairs[:, 0]] - points_m[pairs[:, 1]]).T)
    nearest = np.asarray(cKDTree(points_m).query(points_m, k=2)[0])[:, 1]
    return np.asarray(pairs[apart <= NEIGHBOUR_REACH * np.median(nearest)], dtype=np.int64)


def same_share(colour: Ints, pairs: Ints) -> float:
    """Return the share of neighbouring pairs that have one colour; 0 without pairs."""
    return float(np.mean(colour[pairs[:, 0]] == colour[pairs[:, 1]])) if len(pairs) else 0.0


def chance_share(colour: Ints) -> float:
    """Return that share as expected of colours dealt at random: Σ n_c(n_c − 1)/(n(n − 1)).

    >>> round(chance_share(np.array([0, 0, 1, 1])), 4)
    0.3333
    """
    n, counts = colour.size, np.bincount(colour)
    return float((counts * (counts - 1)).sum() / (n * (n - 1))) if n > 1 else 0.0


def largest_clump(colour: Ints, pairs: Ints) -> int:
    """Return how many plants the largest patch of one colour has."""
    return int(_patches(colour, pairs)[1].max())


def _patches(colour: Ints, pairs: Ints) -> tuple[Ints, Ints]:
    """Return the patch that each plant belongs to, and the size of each patch."""
    same = pairs[colour[pairs[:, 0]] == colour[pairs[:, 1]]]
    n = colour.size
    graph = coo_array((np.ones(len(same), dtype=bool), (same[:, 0], same[:, 1])), shape=(n, n))
    label = connected_components(graph, directed=False)[1]
    return np.asarray(label, dtype=np.int64), np.bincount(label)


def _spread(deal: Ints, pairs: Ints, random: np.random.Generator) -> tuple[Ints, int, int, int]:
    """Return colours without clumps, the exchanges made, the clump allowed, and the middle one."""
    draws = [largest_clump(random.permutation(deal), pairs) for _ in range(REFERENCE_DRAWS)]
    allowed, middle = (int(np.sort(draws)[int(q * len(draws))]) for q in (SMALL_CLUMP, 0.5))
    expected = chance_share(deal)
    colour = random.permutation(deal)
    if len(set(deal.tolist())) < 2:
        return colour, 0, allowed, middle
    swaps, now = 0, _trouble(colour, pairs, allowed, expected)
    for _ in range(MOST_SWAPS):
        if now == (0, 0.0):
            break
        i = _one_to_move(colour, pairs, allowed, random)
        j = int(random.choice(np.flatnonzero(colour != colour[i])))
        colour[[i, j]] = colour[[j, i]]
        then = _trouble(colour, pairs, allowed, expected)
        if then <= now:
            swaps, now = swaps + 1, then
        else:
            colour[[i, j]] = colour[[j, i]]
    return colour, swaps, allowed, middle


def _trouble(colour: Ints, pairs: Ints, allowed: int, expected: float) -> tuple[int, float]:
    """Return plants beyond the allowed patch, and same-coloured pairs beyond chance."""
    sizes = _patches(colour, pairs)[1]
    over = max(0.0, same_share(colour, pairs) - expected)
    return int(np.maximum(sizes - allowed, 0).sum()), over


def _one_to_move(colour: Ints, pairs: Ints, allowed: int, random: np.random.Generator) -> int:
    """Return a plant of a patch that is too large, else one beside another of its colour."""
    label, sizes = _patches(colour, pairs)
    crowded = np.flatnonzero(sizes[label] > allowed)
    if crowded.size == 0:
        crowded = np.unique(pairs[colour[pairs[:, 0]] == colour[pairs[:, 1]]])
    return int(random.choice(crowded))


def _places(
    outline: Outline,
    total: int,
    spacing_m: float,
    edge_m: float,
    *,
    rows: Callable[[float], Floats],
    random: np.random.Generator,
) -> tuple[Floats, float, bool]:
    """Return as many places as there are plants, the least distance kept, whether in rows."""
    least = min(spacing_m, 0.95 * np.sqrt(outline.area_m2 / total))
    while least >= LEAST_SHARE_OF_SPACING * spacing_m:
        if least < spacing_m and len(counted := rows(spacing_m)) >= total:
            if len(counted) == total:
                return counted, spacing_m, True
            return (*_in_rows(rows, total, spacing_m), True)
        found = _discs(outline, float(least), edge_m, random)
        if len(found) >= total:
            return (*_loosen(_thin_out(found, total), outline, spacing_m, edge_m), False)
        # Near the goal the luck of the draw decides: small steps.
        least *= max(SHRINK * np.sqrt(max(len(found), 1) / total), 0.5) ** (
            1.0 if len(found) < 0.9 * total else 0.25
        )
    raise InputError(
        f"{total} plants do not fit: even at {LEAST_SHARE_OF_SPACING:g} of the spacing of "
        f"{spacing_m:.3g} m they would stand too close. Buy fewer, or plant closer"
    )


def _in_rows(rows: Callable[[float], Floats], total: int, spacing_m: float) -> tuple[Floats, float]:
    """Return places in rows as wide apart as the plants allow, and how wide that is.

    What the widest rows hold beyond the plants is left out evenly along them.
    """
    low, high = spacing_m, WIDEST_ROWS * spacing_m
    for _ in range(ROW_STEPS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if len(rows(middle)) >= total else (low, middle)
    found = rows(low)
    gaps = np.linspace(0, len(found) - 1, len(found) - total + 2)[1:-1]
    return np.delete(found, np.round(gaps).astype(int), axis=0), low


def _discs(outline: Outline, least_m: float, edge_m: float, random: np.random.Generator) -> Floats:
    """Return a Poisson-disc sample of the outline, kept away from its edge."""
    x0, y0, x1, y1 = outline.bounds_m
    if (x1 - x0) * (y1 - y0) > 40 * MOST_PLANTS * least_m**2:
        raise InputError("the bed is too long for its width to be scattered whole; lay out a part")
    sampler = qmc.PoissonDisk(2, radius=least_m, rng=random, l_bounds=[x0, y0], u_bounds=[x1, y1])
    found = np.asarray(sampler.fill_space(), dtype=float).reshape(-1, 2)
    return found[outline.inside(found) & (outline.edge_distance_m(found) >= edge_m)]


def _loosen(
    points: Floats, outline: Outline, spacing_m: float, edge_m: float
) -> tuple[Floats, float]:
    """Return places pushed apart toward the spacing, and the least distance reached.

    Each plant gives way to those nearer than the spacing; a step out of the bed is not taken,
    and the best of the steps is kept.
    """
    best, best_gap = points, _least_gap(points, spacing_m)
    now = points
    for _ in range(LOOSENING_STEPS):
        if best_gap >= spacing_m:
            break
        pairs = cKDTree(now).query_pairs(spacing_m, output_type="ndarray")
        apart = now[pairs[:, 0]] - now[pairs[:, 1]]
        gap = np.maximum(np.hypot(*apart.T), 1e-12)
        push = 0.25 * (spacing_m - gap)[:, None] * apart / gap[:, None]
        step = np.zeros_like(now)
        np.add.at(step, pairs[:, 0], push)
        np.add.at(step, pairs[:, 1], -push)
        then = now + step
        out = ~outline.inside(then) | (outline.edge_distance_m(then) < edge_m)
        now = np.where(out[:, None], now, then)
        reached = _least_gap(now, spacing_m)
        if reached > best_gap:
            best, best_gap = now, reached
    return best, best_gap


def _least_gap(points: Floats, most: float) -> float:
    """Return the least distance between two places, no more than `most`."""
    if len(points) < 2:
        return most
    return float(min(np.asarray(cKDTree(points).query(points, k=2)[0])[:, 1].min(), most))


def _thin_out(points: Floats, total: int) -> Floats:
    """Return fewer points, taking away the most crowded one at a time."""
    kept = points
    while len(kept) > total:
        near = np.asarray(cKDTree(kept).query(kept, k=min(4, len(kept)))[0])[:, 1:].mean(axis=1)
        kept = np.delete(kept, int(near.argmin()), axis=0)
    return kept


def _check_counts(counts: Mapping[str, int]) -> int:
    for name, count in counts.items():
        if count < 1 or int(count) != count:
            raise InputError(f"{count!r} plants of {name!r}; expected a whole number, 1 or more")
    total = sum(counts.values())
    if not 1 <= total <= MOST_PLANTS:
        raise InputError(f"{total} plants to scatter; expected 1 to {MOST_PLANTS}")
    return total
