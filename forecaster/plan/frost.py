"""From the place's frost dates to the nights that a plan watches."""

from __future__ import annotations

from collections.abc import Sequence

from forecaster.answers.frost import FrostDates
from forecaster.plan.tasks import FrostSpan, Season

WATCHED = "freeze"
"""Which of the dates in ``data/frost.csv``: 32 °F, at which soft plants are hurt."""


def frost_span(dates: Sequence[FrostDates], season: Season) -> FrostSpan | None:
    """Return the frost that matters: the first in autumn, the last in spring.

    In spring the 10 % date is the latest, in autumn the earliest; a span is in the order of
    the calendar. None where the record has too few winters, or a tenth of them no frost.
    """
    for each in dates:
        if each.name == WATCHED:
            chance = each.last if season == "spring" else each.first
            ten, half, ninety = chance.chance_10, chance.chance_50, chance.chance_90
            if half is None or ten is None:
                return None
            if season == "spring":
                return FrostSpan(ninety or half, half, ten)
            return FrostSpan(ten, half, ninety or half)
    return None
