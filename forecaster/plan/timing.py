"""When each task falls, counted from a window's chances."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

from forecaster.chance.days import DayChances
from forecaster.ground.errors import NotEnoughData
from forecaster.packaged import load_csv

EARLY, MIDDLE, LATE = 0.1, 0.5, 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """Days of a task from its anchor, as in ``data/plan_timing.csv``.

    Parameters
    ----------
    anchor : str
        ``window`` or ``set-out``.
    kind : str
        ``by``: a deadline that holds even for an early window; ``span``: as the window moves.
    first_days, likely_days, last_days : int
    basis : str
    """

    anchor: str
    kind: str
    first_days: int
    likely_days: int
    last_days: int
    basis: str


@dataclass(frozen=True, slots=True)
class Span:
    """Days of a task and how sure they are."""

    earliest: date
    likely: date
    latest: date
    probability: float
    sure_of: str


@cache
def timings(season: str) -> dict[str, Timing]:
    """Return the timings of one season's tasks by name."""
    return {
        row["task"]: Timing(
            anchor=row["anchor"],
            kind=row["kind"],
            first_days=int(row["first_days"]),
            likely_days=int(row["likely_days"]),
            last_days=int(row["last_days"]),
            basis=row["basis"],
        )
        for row in load_csv("plan_timing.csv")
        if row["season"] in (season, "both")
    }


def outer_days(chances: DayChances) -> tuple[date, date, date]:
    """Return the 10, 50 and 90 % days of the futures in which the day comes at all.

    Raises
    ------
    NotEnoughData
        If it never comes.
    """
    found = [chances.if_ever().quantile(q) for q in (EARLY, MIDDLE, LATE)]
    early, middle, late = found
    if early is None or middle is None or late is None:
        raise NotEnoughData("the window opens in no future; no day can be counted from it")
    return early, middle, late


def span_of(timing: Timing, chances: DayChances) -> Span:
    """Return a task's days, counted from the chances of its anchor.

    A deadline is counted from the day before which only one chance in ten lies, so that nine
    times in ten it is early enough. A span reaches from the early day's first to the late
    day's last.
    """
    early, middle, late = outer_days(chances)
    first, likely, last = (
        timedelta(days=d) for d in (timing.first_days, timing.likely_days, timing.last_days)
    )
    if timing.kind == "by":
        enough = 1.0 - chances.by(early - timedelta(days=1))
        return Span(early + first, early + likely, early + last, enough, "this is early enough")
    return Span(
        early + first,
        middle + likely,
        late + last,
        chances.between(early, late),
        "" if early == late else "it is one of these days",
    )


def after(timing: Timing, out: Span) -> Span:
    """Return the days of a task that follows setting out, counted from that task's own days."""
    first, likely, last = (
        timedelta(days=d) for d in (timing.first_days, timing.likely_days, timing.last_days)
    )
    sure_of = "" if out.earliest == out.latest else "it is one of these days"
    return Span(
        out.earliest + first, out.likely + likely, out.latest + last, out.probability, sure_of
    )


def sowing(weeks: tuple[float, float]) -> Timing:
    """Return the timing of sowing so many weeks before setting out, the least and the most."""
    return _weeks_before(weeks, "span", "from the crop")


def ordering(weeks: tuple[float, float]) -> Timing:
    """Return the timing of an order where the grower says how many weeks it takes."""
    return _weeks_before(weeks, "by", "from the grower's weeks, as told")


def _weeks_before(weeks: tuple[float, float], kind: str, basis: str) -> Timing:
    least, most = (round(7.0 * week) for week in weeks)
    return Timing(
        anchor="window",
        kind=kind,
        first_days=-most,
        likely_days=-round((least + most) / 2.0),
        last_days=-least,
        basis=basis,
    )
