"""When to pull what is there: days of bloom given up against the risk of planting late."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from forecaster.chance.days import DayChances
from forecaster.plan.values import check_not_negative, default

NEAR_BEST = 1.0
"""Days of bloom by which a day of the span may cost more than the best."""
SHOWN_BEYOND_DAYS = 21


@dataclass(frozen=True, slots=True, kw_only=True)
class PullCurve:
    """What pulling on each day is expected to cost, in days of bloom.

    Parameters
    ----------
    day : tuple of date
    cost, bloom_days, late_days : tuple of float
        Expected cost, its two parts: days of bloom given up, and days of planting late before
        they are weighted.
    best, first, last : date
        The least cost, and the span of days that cost at most one day of bloom more.
    work_days : int
        From pulling to setting out.
    late_weight : float
        Days of bloom that one day of planting late is worth.
    late_chance : float
        Chance that the bed is not ready when the window opens, pulled on the best day.
    """

    day: tuple[date, ...]
    cost: tuple[float, ...]
    bloom_days: tuple[float, ...]
    late_days: tuple[float, ...]
    best: date
    first: date
    last: date
    work_days: int
    late_weight: float
    late_chance: float

    def at(self, day: date) -> tuple[float, float]:
        """Return the days of bloom and of planting late that pulling on a day costs."""
        index = min(max((day - self.day[0]).days, 0), len(self.day) - 1)
        return self.bloom_days[index], self.late_days[index]


def pull_curve(
    chances: DayChances,
    season_end: date,
    *,
    today: date,
    work_days: int,
    late_weight: float | None = None,
) -> PullCurve | None:
    """Return the expected cost of pulling by day.

    With S the day the window opens, k the days of work and w the weight, pulling on day p costs
    E[(S − k − p)⁺] + w·E[(p + k − S)⁺] days of bloom. It is least where p + k reaches the
    1/(1 + w) quantile of S: the critical fractile of the newsvendor problem (Arrow, Harris &
    Marschak 1951, Optimal inventory policy, Econometrica 19:250–272; from memory). Where the
    window never opens, bloom lasts to the season's end and nothing is late.

    Parameters
    ----------
    chances : DayChances
        Of the window's opening.
    season_end : date
    today : date
        No earlier day is offered.
    work_days : int
    late_weight : float, optional

    Returns
    -------
    PullCurve or None
        None if the window never opens.
    """
    weight = default("pull_late_weight") if late_weight is None else late_weight
    check_not_negative(pull_late_weight=weight, work_days=work_days)
    low, high = chances.quantile(0.01), chances.day[-1] if chances.day else None
    if low is None or high is None:
        return None
    first = max(today, low - timedelta(days=work_days + SHOWN_BEYOND_DAYS))
    last = max(first, high)
    days = np.arange((last - first).days + 1)
    opens = np.array([(d - first).days for d in chances.day], dtype=float)
    share = np.array(chances.share)
    gap = opens[None, :] - work_days - days[:, None]
    end = max((season_end - first).days, 0) - work_days - days
    bloom = np.maximum(gap, 0.0) @ share + np.maximum(end, 0.0) * chances.never
    late = np.maximum(-gap, 0.0) @ share
    cost = bloom + weight * late
    best = int(cost.argmin())
    near = np.flatnonzero(cost <= cost[best] + NEAR_BEST)
    at = [first + timedelta(days=int(k)) for k in days]
    return PullCurve(
        day=tuple(at),
        cost=tuple(cost.tolist()),
        bloom_days=tuple(bloom.tolist()),
        late_days=tuple(late.tolist()),
        best=at[best],
        first=at[int(near[0])],
        last=at[int(near[-1])],
        work_days=work_days,
        late_weight=weight,
        late_chance=chances.by(at[best] + timedelta(days=work_days - 1)),
    )
