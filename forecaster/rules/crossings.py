"""When a season's soil crosses a threshold: first touch, settled, last touch.

All three are defined on daily means in one season, for a soil that falls through the
threshold or rises through it. They differ by weeks, so each keeps its name (Forcella &
Weyers 2007, Agronomy Journal 99:862–866, distinguish the first and the last in the same way).
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.errors import InputError

Direction = Literal["falling", "rising"]
Kind = Literal["first", "settled", "last"]

TOUCH_MEAN_DAYS = 5
NEVER = -1


def crossing_index(
    soil_c: Floats, threshold_c: float, direction: Direction, kind: Kind = "settled"
) -> Ints:
    """Return the day of the season on which each row crosses, or −1 for never.

    Parameters
    ----------
    soil_c : (..., n) array
        Daily means of one season, °C; n ≥ 1. NaN days count as on the threshold.
    threshold_c : float
        °C.
    direction : {"falling", "rising"}
    kind : {"first", "settled", "last"}
        *first*: the first day whose 5-day mean (that day and the four after) is past the
        threshold; the settled day where that comes sooner.
        *settled*: the day that divides the season best, argmax over d of Σ_{t≤d} (T(t) − θ),
        signs swapped for rising: the last day that belongs to the near side.
        *last*: the last day whose 5-day mean (that day and the four before) is still short
        of the threshold; the settled day where that comes later.

        So first ≤ settled ≤ last: after the settled day no run of days is short of the
        threshold in the mean, and up to it none is past.

    Returns
    -------
    (...) array of int
        0 if the season lies past the threshold from its first day (already), −1 if it never
        gets there.

    Raises
    ------
    InputError
        If the direction or kind is unknown.
    """
    if direction not in ("falling", "rising") or kind not in ("first", "settled", "last"):
        raise InputError(
            f"crossing {kind!r} {direction!r}; "
            "expected first, settled or last and falling or rising"
        )
    short = soil_c - threshold_c if direction == "falling" else threshold_c - soil_c
    if np.isnan(short.sum()):
        short = np.where(np.isnan(short), 0.0, short)
    days = short.shape[-1]
    day = np.cumsum(short, axis=-1).argmax(axis=-1)
    day = np.where((day == days - 1) & (short[..., -1] > 0.0), days, day)
    if kind == "first":
        past = _touch_mean(short[..., ::-1])[..., ::-1] < 0.0
        day = np.minimum(day, np.where(past.any(axis=-1), past.argmax(axis=-1), days))
    elif kind == "last":
        still = _touch_mean(short) > 0.0
        touch = np.where(still.any(axis=-1), days - 1 - still[..., ::-1].argmax(axis=-1), 0)
        day = np.maximum(day, np.where(still[..., -1], days, touch))
    return np.where(day == days, NEVER, day)


def _touch_mean(short: Floats) -> Floats:
    """Return the mean of each day and up to four days before it."""
    total = np.cumsum(short, axis=-1)
    mean = total / np.minimum(np.arange(1, short.shape[-1] + 1), TOUCH_MEAN_DAYS)
    mean[..., TOUCH_MEAN_DAYS:] -= total[..., :-TOUCH_MEAN_DAYS] / TOUCH_MEAN_DAYS
    return np.asarray(mean)
