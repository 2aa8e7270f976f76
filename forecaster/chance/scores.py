"""Scores of a forecast against what came true; lower is better for all of them.

Gneiting & Raftery 2007, Strictly Proper Scoring Rules, Prediction, and Estimation, Journal of
the American Statistical Association 102:359–378.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from forecaster.ground.arrays import Floats


def crps_ensemble(members: ArrayLike, observed: ArrayLike) -> Floats:
    """Return the continuous ranked probability score of equally likely members.

    Parameters
    ----------
    members : (..., m) array
    observed : (...) array

    Returns
    -------
    (...) array
        E|X − y| − ½·E|X − X′| over the members as they are (not the "fair" estimator), in
        the members' unit.
    """
    x = np.sort(np.asarray(members, dtype=float), axis=-1)
    y = np.asarray(observed, dtype=float)
    count = x.shape[-1]
    rank = 2.0 * np.arange(1, count + 1) - count - 1.0
    spread = (x * rank).sum(axis=-1) / count**2
    return np.asarray(np.abs(x - y[..., None]).mean(axis=-1) - spread)


def crps_normal(mean: ArrayLike, sd: ArrayLike, observed: ArrayLike) -> Floats:
    """Return the continuous ranked probability score of a normal distribution.

    σ·[z·(2Φ(z) − 1) + 2φ(z) − 1/√π], z = (y − μ)/σ, in the unit of σ (> 0).
    """
    from scipy.special import ndtr  # noqa: PLC0415 - only this function needs it

    sigma = np.asarray(sd, dtype=float)
    z = (np.asarray(observed, dtype=float) - np.asarray(mean, dtype=float)) / sigma
    density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    return np.asarray(sigma * (z * (2.0 * ndtr(z) - 1.0) + 2.0 * density - 1.0 / np.sqrt(np.pi)))


def interval_score(lower: ArrayLike, upper: ArrayLike, observed: ArrayLike, alpha: float) -> Floats:
    """Return the score of a central interval that should hold 1 − α of outcomes.

    Its width, plus 2/α times the distance by which the outcome lies outside.
    """
    low, high, y = (np.asarray(value, dtype=float) for value in (lower, upper, observed))
    outside = np.maximum(low - y, 0.0) + np.maximum(y - high, 0.0)
    return np.asarray(high - low + 2.0 / alpha * outside)


def brier(probability: ArrayLike, happened: ArrayLike) -> Floats:
    """Return the squared difference of a probability and what happened (0 or 1)."""
    return np.asarray(
        (np.asarray(probability, dtype=float) - np.asarray(happened, dtype=float)) ** 2
    )


def pinball(quantile: ArrayLike, observed: ArrayLike, level: float) -> Floats:
    """Return the loss of a forecast quantile: (y − q)·τ if y ≥ q, else (q − y)·(1 − τ)."""
    miss = np.asarray(observed, dtype=float) - np.asarray(quantile, dtype=float)
    return np.asarray(np.maximum(level * miss, (level - 1.0) * miss))
