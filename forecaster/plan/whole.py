"""A whole changeover from a record: what was decided, the season's soil, the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

import pandas as pd

from forecaster.answers.crops import CropWindow, Wish, crop_windows_in
from forecaster.answers.crops.find import bed_offset_c
from forecaster.answers.decision import SEASONS, Decision, by_crop, by_threshold
from forecaster.answers.frost import frost_dates
from forecaster.answers.place_today import PlaceToday, of_record
from forecaster.answers.record import Record
from forecaster.answers.window import Threshold, Window, WindowAnswer, known_thresholds, windows_in
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.plan.bed import Bed, Wants
from forecaster.plan.frost import frost_span
from forecaster.plan.history import past_of, returning
from forecaster.plan.make import in_order, make_plan
from forecaster.plan.supplies.shopping import Shopping
from forecaster.plan.tasks import FrostSpan, Plan, Season
from forecaster.plan.wanted import crops_of, known_crop, with_goes
from forecaster.plan.water import WaterLook, water_look
from forecaster.rules.crops import Crop

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
    crops : tuple of Crop
        What goes in; empty for flats and plants in general, which a threshold decides.
    wish : Wish
        What is wanted of the crops.
    season : {"autumn", "spring"}, optional
        By default the one whose window comes next.
    """

    bed: Bed
    wants: Wants
    thresholds: tuple[Threshold, ...]
    crops: tuple[Crop, ...] = ()
    wish: Wish = field(default_factory=Wish)
    season: Season | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WholePlan:
    """A plan with what it was made from.

    Parameters
    ----------
    plan : Plan
    record : Record
    here : PlaceToday
        The place on its day: what is asked of it besides comes from the same futures.
    answer : WindowAnswer
    window : Window
        The soil of the plan's season.
    """

    plan: Plan
    record: Record
    here: PlaceToday
    answer: WindowAnswer
    window: Window

    @property
    def notes(self) -> tuple[str, ...]:
        """What the reader should know of the record and its windows."""
        return (*self.record.notes, *self.answer.notes)


def plan_changeover(record: Record, asked: Changeover, here: PlaceToday | None = None) -> WholePlan:
    """Return the plan of a bed's changeover, worked out from the record of its place.

    Parameters
    ----------
    record : Record
    asked : Changeover
    here : PlaceToday, optional
        The record's place on its day, where it was made already.

    Raises
    ------
    InputError
        If no threshold of the season asked for is among those given.
    """
    here = here or of_record(record, offset_c=bed_offset_c(asked.wish))
    ways = {each.direction for each in asked.thresholds}
    other = [each for each in known_thresholds() if each.direction not in ways]
    thresholds = [*asked.thresholds, *other]
    answer = windows_in(here, thresholds)
    asked = _by_the_book(record, asked, answer.windows)
    decided = _of_crops(here, record, asked)
    season = decided[0].season if decided else asked.season
    window, after = _choose(answer.windows, season, thresholds)
    decided = decided or [by_threshold(window, record.today, here.unsure)]
    wants = asked.wants
    if wants.planted is None:
        wants = replace(wants, planted=_planted(record, decided))
    plan = make_plan(
        decided,
        asked.bed,
        wants,
        today=record.today,
        following=None if after is None else by_threshold(after, record.today),
        frost=_frost(record, decided[0]),
        look=_look(record, in_order(decided)[0], asked.bed, wants.planted),
    )
    plan = _with_history(plan, record, here)
    return WholePlan(plan=plan, record=record, here=here, answer=answer, window=window)


def _with_history(plan: Plan, record: Record, here: PlaceToday) -> Plan:
    """Return a plan of a bed of the book with what was planted there before."""
    if record.held is None:
        return plan
    lead = plan.lead
    past = past_of(record.held.plantings, record.held.outcomes, before=lead.season_start, here=here)
    crops = [each.crop for each in plan.decisions if each.crop is not None]
    on = plan.wants.planted or lead.best or lead.season_start
    return replace(plan, history=past, returns=returning(crops, past, on))


def _by_the_book(record: Record, asked: Changeover, windows: Sequence[Window]) -> Changeover:
    """Return what is asked, with what the book says goes in where nothing else was named.

    Crops that it names decide the dates too, unless a soil temperature of one's own was asked for.
    """
    if record.held is None or asked.crops or not record.held.wants:
        return asked
    season = asked.season or SEASONS[windows[0].threshold.direction]
    wants = with_goes(asked.wants, record.held.wants, season)
    own = asked.thresholds != tuple(known_thresholds())
    crops = () if own else crops_of(wants.goes)
    return replace(asked, wants=wants, crops=crops, season=season if crops else asked.season)


def _of_crops(here: PlaceToday, record: Record, asked: Changeover) -> list[Decision]:
    """Return what is decided of each crop, all in one season: that of the one that is next."""
    if not asked.crops:
        return []
    wish = asked.wish if asked.season is None else replace(asked.wish, season=asked.season)
    lawns = any(crop.kind == "lawn" for crop in asked.crops)
    lawn = of_record(record, offset_c=here.offset_c, lawn=True) if lawns else None
    found = crop_windows_in(here, asked.crops, wish, air=record.air, lawn=lawn).windows
    season = min(found, key=_soonness).season
    if any(each.season != season for each in found):
        wish = replace(wish, season=season)
        found = crop_windows_in(here, asked.crops, wish, air=record.air, lawn=lawn).windows
    return [by_crop(each, unsure=here.unsure, stale_days=here.stale_days) for each in found]


def _soonness(window: CropWindow) -> tuple[bool, date]:
    return window.opens.median is None, window.opens.median or window.season_end


def _planted(record: Record, decided: Sequence[Decision]) -> date | None:
    """Return the day on which the garden book says that this changeover was planted.

    It is the last planting since the season began that nothing was pulled after; one of a crop
    that the plan is not about is another's.
    """
    if record.held is None:
        return None
    names = {each.crop.name for each in decided if each.crop is not None}
    start = min(each.season_start for each in decided)
    for entry in reversed(record.held.plantings):
        if not start <= entry.day <= record.today:
            continue
        if entry.action == "pulled":
            return None
        known = known_crop(entry.what)
        if entry.action == "planted" and (not names or known is None or known.name in names):
            return entry.day
    return None


def scattered(bed: Bed, shopping: Shopping | None, seed: int) -> Scatter:
    """Return where each plant goes: those that the shopping list counts, at its spacing."""
    from forecaster.plan.layout.scatter import lay_out  # noqa: PLC0415 - slow to load

    if bed.outline is None or shopping is None:
        raise InputError("the bed has no outline; expected --outline, or one in the garden book")
    if not shopping.coloured:
        raise InputError(
            "where each plant goes is drawn of one crop in colours that are told; "
            "expected --colours yellow=72,white=72"
        )
    counts = {line.colour: line.plants for line in shopping.lines}
    return lay_out(bed.outline, counts, shopping.spacing_m, pattern=shopping.pattern, seed=seed)


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
    likely = planted or (None if decided.best is None else max(decided.best, record.today))
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
