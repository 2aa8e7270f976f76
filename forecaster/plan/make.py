"""Make the plan of a bed's changeover from what was decided of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import cast

from forecaster.answers.decision import Decision
from forecaster.ground.errors import InputError
from forecaster.plan.bed import Bed, Goes, Wants
from forecaster.plan.counting import key_of, next_tasks, season_tasks
from forecaster.plan.pull import PullCurve, pull_curve
from forecaster.plan.supplies.shopping import shopping_for
from forecaster.plan.tasks import WORDS, FrostSpan, Plan, Task
from forecaster.plan.timing import timings
from forecaster.plan.water import WaterLook
from forecaster.rules.crops import Use

ORDER = [*WORDS]


def make_plan(
    decided: Decision | Sequence[Decision],
    bed: Bed,
    wants: Wants | None = None,
    *,
    today: date,
    following: Decision | None = None,
    frost: FrostSpan | None = None,
    look: WaterLook | None = None,
) -> Plan:
    """Return the plan of a changeover as it stands on a day.

    Every date is counted from the chances of the opening, not from one date.

    Parameters
    ----------
    decided : Decision or sequence of Decision
        What goes in, all of one season: flats in general, a crop, or several crops.
    bed : Bed
    wants : Wants, optional
    today : date
    following : Decision, optional
        The changeover after this one: its first tasks close the plan.
    frost : FrostSpan, optional
        First frost for autumn, last frost for spring; without them six weeks are watched.
    look : WaterLook, optional
        From `water_look`, with the likely day of setting out.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        If nothing was decided, or the day of planting told lies after today.
    """
    wants = Wants() if wants is None else wants
    if wants.planted is not None and wants.planted > today:
        raise InputError(f"planted on {wants.planted}; expected a day up to today, {today}")
    decisions = in_order([decided] if isinstance(decided, Decision) else decided)
    lead = decisions[0]
    curve: PullCurve | None = None
    tasks: list[Task] = []
    hopeful = [each for each in decisions if not each.hopeless]
    if hopeful:
        if wants.planted is None and bed.replanted:
            curve = pull_curve(
                lead.setting,
                lead.season_end,
                today=today,
                work_days=-timings(lead.season)["pull"].likely_days,
                late_weight=wants.pull_late_weight,
            )
        tasks = season_tasks(hopeful, bed, wants, today=today, curve=curve, frost=frost)
    tasks += next_tasks(following)
    if look is not None:
        tasks = [_by_bucket(task, look, lead.season) for task in tasks]
    return Plan(
        key=key_of(lead),
        season=lead.season,
        today=today,
        bed=bed,
        wants=wants,
        decisions=tuple(decisions),
        tasks=tuple(sorted(tasks, key=lambda task: (task.likely, ORDER.index(task.name)))),
        pull=curve,
        shopping=shopping_for(bed, replace(wants, goes=_goes(wants, decisions)), lead.season),
        look=look,
        notes=_notes(decisions, bed, wants, frost, tasks),
    )


def in_order(decided: Sequence[Decision]) -> list[Decision]:
    """Return decisions with what opens first in front, what never opens last.

    Raises
    ------
    InputError
        If there is none, or they are of several seasons.
    """
    if not decided:
        raise InputError("nothing was decided; expected at least one decision")
    if len({each.season for each in decided}) > 1:
        raise InputError("a plan is of one season; expected decisions of that season alone")
    return sorted(
        decided, key=lambda each: (each.hopeless, each.opens or each.season_end, each.what)
    )


def _goes(wants: Wants, decisions: Sequence[Decision]) -> tuple[Goes, ...]:
    """Return what goes in: as it is wanted, else the crops decided, begun as was decided."""
    return wants.goes or tuple(
        Goes(what=each.crop.label, crop=each.crop, use=cast("Use", each.use))
        for each in decisions
        if each.crop is not None
    )


def _by_bucket(task: Task, look: WaterLook, season: str) -> Task:
    """Return the first look with what the bucket says of it, sooner where that is sooner."""
    if task.name != "first-look" or look.dry_spell is None:
        return task
    days = (look.dry_spell - look.set_out).days
    sooner = timedelta(days=min(0, days - timings(season)["first-look"].first_days))
    spell = f"without rain the root zone has used what is readily taken {days} day"
    return replace(
        task,
        earliest=task.earliest + sooner,
        likely=task.likely + sooner,
        latest=task.latest + sooner,
        why=f"{task.why}; {spell}{'' if days == 1 else 's'} after planting",
    )


def _notes(
    decisions: Sequence[Decision],
    bed: Bed,
    wants: Wants,
    frost: FrostSpan | None,
    tasks: list[Task],
) -> tuple[str, ...]:
    """Return what the reader of the plan should know."""
    notes, lead = [], decisions[0]
    season = lead.season
    for each in decisions:
        name = "" if len(decisions) == 1 else f"{each.what}: "
        if each.hopeless:
            notes.append(f"{name}no dates: {each.reason}")
        elif each.never >= 0.1:
            notes.append(
                f"{name}in {round(100 * each.never)} of 100 futures the window does not open "
                f"this {season}; the days given are those of the futures in which it does"
            )
        if each.verdict == "late" and wants.planted is None:
            notes.append(f"{name}this window opened long ago: {each.reason}")
    if bed.area_m2 is None:
        notes.append("no area or outline given, so no quantities")
    elif bed.outline is None and bed.replanted:
        notes.append("plants are counted from the area alone; an outline counts the rows")
    if not bed.replanted or lead.hopeless:
        return tuple(notes)
    if frost is None:
        notes.append("the record gives no frost dates; six weeks are watched instead")
    elif not any(task.name == "watch-frost" for task in tasks):
        when = "before plants are set out" if season == "spring" else "once plants have hardened"
        which = "last" if season == "spring" else "first"
        notes.append(f"in about nine years of ten the {which} frost falls {when}")
    return tuple(notes)
