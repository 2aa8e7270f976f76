"""Many scored forecasts together: skill with its uncertainty, and reliability."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError

BIN_EDGES = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
BOOTSTRAP_DRAWS = 1000


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Forecast probabilities of one range, and how often the thing then happened.

    Parameters
    ----------
    low, high : float
        The range, 0 to 1; the upper end belongs to the next one, 1 to the last.
    forecast : float
        Mean of the probabilities given.
    frequency : float
        Share of them that came true.
    n : int
        How many there are, at least 1.
    """

    low: float
    high: float
    forecast: float
    frequency: float
    n: int


def skill(score: ArrayLike, reference: ArrayLike) -> float:
    """Return 1 − mean score over mean reference score: 1 perfect, 0 no better, below 0 worse.

    NaN if the reference is perfect.
    """
    ours, theirs = (float(np.asarray(value, dtype=float).mean()) for value in (score, reference))
    return 1.0 - ours / theirs if theirs > 0.0 else float("nan")


def skill_interval(
    score: ArrayLike,
    reference: ArrayLike,
    group: ArrayLike,
    random: np.random.Generator,
    *,
    inside: float = 0.8,
) -> tuple[float, float]:
    """Return the central interval of the skill, from a bootstrap that keeps groups whole.

    Efron & Tibshirani 1993, An Introduction to the Bootstrap, §13.3, percentile interval
    (section from memory). With few groups it is too narrow; the count belongs beside it.

    Parameters
    ----------
    score, reference : (n,) array
    group : (n,) array
        What was drawn together, such as the year.
    random : Generator
    inside : float
        Share of the draws within the interval.
    """
    ours, theirs = np.asarray(score, dtype=float), np.asarray(reference, dtype=float)
    names, at = np.unique(np.asarray(group), return_inverse=True)
    drawn = random.multinomial(
        names.size, np.full(names.size, 1.0 / names.size), size=BOOTSTRAP_DRAWS
    )
    totals = [drawn @ np.bincount(at, value, names.size) for value in (ours, theirs)]
    known = totals[1] > 0.0
    if not known.any():
        return float("nan"), float("nan")
    found = 1.0 - totals[0][known] / totals[1][known]
    low, high = np.quantile(found, [(1.0 - inside) / 2.0, (1.0 + inside) / 2.0])
    return float(low), float(high)


def reliability(
    probability: ArrayLike, happened: ArrayLike, edges: Sequence[float] = BIN_EDGES
) -> tuple[ReliabilityBin, ...]:
    """Return how often things happened that were given a probability; empty ranges left out.

    Raises
    ------
    InputError
        If a probability lies outside the edges.
    """
    given = np.asarray(probability, dtype=float)
    came: Floats = np.asarray(happened, dtype=float)
    if given.size and (given.min() < edges[0] or given.max() > edges[-1]):
        raise InputError(f"probabilities from {given.min()} to {given.max()}; expected 0 to 1")
    at = np.clip(np.searchsorted(edges, given, side="right") - 1, 0, len(edges) - 2)
    return tuple(
        ReliabilityBin(
            edges[i],
            edges[i + 1],
            float(given[at == i].mean()),
            float(came[at == i].mean()),
            int(np.count_nonzero(at == i)),
        )
        for i in np.unique(at).tolist()
    )
