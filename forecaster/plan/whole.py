"""A whole changeover from a record: the windows, the one that is planned for, its plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import pandas as pd

from forecaster.answers.decision import Decision, by_threshold
from forecaster.answers.frost import frost_dates
from forecaster.answers.record import Record
from forecaster.answers.window import Threshold, Window, WindowAnswer, known_thresholds, windows_of
from forecaster.errors import InputError, NotEnoughData
from forecaster.plan.bed import Bed, Wants
from forecaster.plan.counting import setting_out
from forecaster.plan.frost import frost_span
from forecaster.plan.make import make_plan
from forecaster.plan.tasks import FrostSpan, Plan, Season
from forecaster.plan.values import default
from forecaster.plan.water import WaterLook, water_look

if TYPE_CHECKING:
    from forecaster.plan.layout.scatter import Scatter

DIRECTIONS = {"autumn": "falling", "spring": "rising"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Changeover:
    """What a plan is asked for.

    Parameters
    ----------
    bed : Bed
    wants : Wants
    thresholds : tuple of Threshold
        Those asked about, the first of a season leading it; the other season's are added.
    season : {"autumn", "spring"}, optional
        By default the one whose window comes next.
    """

    bed: Bed
    wants: Wants
    thresholds: tuple[Threshold, ...]
    season: Season | None = None


@dataclass(frozen=True, slots=True)
class WholePlan:
    """A plan with what it was made from.

    Parameters
    ----------
    plan : Plan
    record : Record
    answer : WindowAnswer
    window : Window
        The soil of the plan's season.
    """

    plan: Plan
    record: Record
    answer: WindowAnswer
    window: Window

    @property
    def notes(self) -> tuple[str, ...]:
        """What the reader should know of the record and its windows."""
        return (*self.record.notes, *self.answer.notes)


def plan_changeover(record: Record, asked: Changeover) -> WholePlan:
    """Return the plan of a bed's changeover, worked out from the record of its place.

    Raises
    ------
    InputError
        If no threshold of the season asked for is among those given.
    """
    ways = {each.direction for each in asked.thresholds}
    other = [each for each in known_thresholds() if each.direction not in ways]
    thresholds = [*asked.thresholds, *other]
    answer = windows_of(record, thresholds)
    window, after = _choose(answer.windows, asked.season, thresholds)
    decided = by_threshold(window, record.today)
    plan = make_plan(
        decided,
        asked.bed,
        asked.wants,
        today=record.today,
        following=None if after is None else by_threshold(after, record.today),
        frost=_frost(record, decided),
        look=_look(record, decided, asked.bed, asked.wants.planted),
    )
    return WholePlan(plan, record, answer, window)


def scattered(plan: Plan, counts: Mapping[str, int], seed: int) -> Scatter:
    """Return where each plant goes in the bed of a plan."""
    from forecaster.plan.layout.scatter import lay_out  # noqa: PLC0415 - slow to load

    if plan.bed.outline is None:
        raise InputError("the bed has no outline; expected --outline, or one in the garden book")
    spacing = plan.wants.spacing_m or default("spacing_m")
    return lay_out(plan.bed.outline, counts, spacing, seed=seed)


def _choose(
    windows: Sequence[Window], season: Season | None, thresholds: Sequence[Threshold]
) -> tuple[Window, Window | None]:
    """Return the window planned for, and the changeover that follows it."""
    first: dict[str, Window] = {}
    for threshold in thresholds:
        for window in windows:
            if window.threshold.name == threshold.name:
                first.setdefault(threshold.direction, window)
    way = windows[0].threshold.direction if season is None else DIRECTIONS[season]
    if way not in first:
        raise InputError(f"no window of that season was asked for; leave out --season {season}")
    chosen = first[way]
    others = [
        window
        for direction, window in first.items()
        if direction != way and window.season_start >= chosen.season_start
    ]
    return chosen, others[0] if others else None


def _frost(record: Record, decided: Decision) -> FrostSpan | None:
    """Return the frost that matters to a season, if the record tells."""
    try:
        known = record.air.loc[: pd.Timestamp(record.today)]
        dates = frost_dates(known, today=max(record.today, decided.season_start))
    except NotEnoughData:
        return None
    return frost_span(dates, decided.season)


def _look(record: Record, decided: Decision, bed: Bed, planted: date | None) -> WaterLook | None:
    """Return when to feel the soil, if the bed is planted and the record tells."""
    likely = setting_out(decided, record.today, planted).quantile(0.5)
    if likely is None or not bed.replanted:
        return None
    return water_look(
        record.air,
        record.site.latitude_deg,
        likely,
        today=record.today,
        soil=bed.soil,
        outlook=record.ahead,
    )
