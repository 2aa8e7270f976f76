"""The chances of a day: a distribution over days, counted back and forward from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from forecaster.ground.errors import InputError


@dataclass(frozen=True, slots=True)
class DayChances:
    """A distribution over days, part of which may be never.

    Parameters
    ----------
    day : tuple of date
        Ascending.
    share : tuple of float
        Probability of each day; with `never` they sum to 1.
    never : float
    """

    day: tuple[date, ...]
    share: tuple[float, ...]
    never: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no distribution."""
        total = sum(self.share) + self.never
        if (
            len(self.day) != len(self.share)
            or abs(total - 1.0) > 1e-6
            or min((*self.share, self.never)) < 0.0
            or any(a >= b for a, b in zip(self.day, self.day[1:], strict=False))
        ):
            raise InputError(
                f"{len(self.day)} days with shares of {total:.6g} in all; expected ascending days "
                "whose shares and the share of never sum to 1"
            )

    def quantile(self, q: float) -> date | None:
        """Return the day by which the chance reaches `q`; None if it never does."""
        reached = np.flatnonzero(np.cumsum(self.share) >= q - 1e-9)
        return self.day[int(reached[0])] if reached.size else None

    def by(self, day: date) -> float:
        """Return the chance that it has happened by the end of a day."""
        return float(sum(s for d, s in zip(self.day, self.share, strict=True) if d <= day))

    def between(self, first: date, last: date) -> float:
        """Return the chance that it happens on a day from `first` to `last`."""
        return max(0.0, self.by(last) - self.by(first - timedelta(days=1)))

    def shifted(self, days: int) -> DayChances:
        """Return the same chances so many days later."""
        return DayChances(tuple(d + timedelta(days=days) for d in self.day), self.share, self.never)

    def if_ever(self) -> DayChances:
        """Return the chances of the days, given that it happens at all."""
        total = sum(self.share)
        if total <= 0.0 or self.never <= 0.0:
            return self
        return DayChances(self.day, tuple(s / total for s in self.share))

    def not_before(self, day: date) -> DayChances:
        """Return the chances with all earlier days moved to this one: what is past is now."""
        early = self.by(day)
        if not self.day or early <= 0.0:
            return self
        rest = [(d, s) for d, s in zip(self.day, self.share, strict=True) if d > day]
        return DayChances((day, *(d for d, _ in rest)), (early, *(s for _, s in rest)), self.never)
