"""A season's tasks, counted back and forward from what was decided of each thing planted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from forecaster.answers.decision import Decision
from forecaster.plan.bed import Bed, Wants
from forecaster.plan.pull import PullCurve
from forecaster.plan.supplies.lines import weeks_under_cover
from forecaster.plan.tasks import IN_SPRING, TITLES, WORDS, FrostSpan, Task
from forecaster.plan.timing import Span, after, ordering, outer_days, sowing, span_of, timings

OF_THE_BED = ("read-soil", "stop-feeding", "edge", "pull", "renew", "rest", "rest-ready")
BEFORE_PLANTING = ("read-soil", "order", "sow", "stop-feeding", "edge", "pull", "renew")
AFTER_PLANTING = ("set-out", "water-in", "first-look", "later-looks", "feed", "watch-frost")
ONCE = (*OF_THE_BED, "later-looks", "watch-frost")
"""Tasks that are done once, however many crops go in."""
NEXT_SEASON = ("read-soil", "order")
DONE = "done, as you told it"


def key_of(decision: Decision) -> str:
    """Return the key of a changeover, as ``2026-autumn``."""
    return f"{decision.year}-{decision.season}"


def season_tasks(
    decided: Sequence[Decision],
    bed: Bed,
    wants: Wants,
    *,
    today: date,
    curve: PullCurve | None,
    frost: FrostSpan | None,
) -> list[Task]:
    """Return the tasks of a season: the bed's from the first decision, each crop's from its own.

    Parameters
    ----------
    decided : sequence of Decision
        At least one, the one that leads first.
    bed : Bed
    wants : Wants
    today : date
    curve : PullCurve or None
        When to pull what is there, if anything is.
    frost : FrostSpan or None
    """
    lead, several = decided[0], len(decided) > 1
    tasks: list[Task] = []
    for decision in decided:
        spans, bases = _spans(decision, wants, today)
        if decision is lead:
            if curve is not None:
                spans["pull"] = _pulling(curve)
                bases["pull"] = "from the window's chances and your weight"
            if frost is not None:
                spans["watch-frost"] = _watched(frost, spans["set-out"], decision.season)
                bases["watch-frost"] = "from the record's frosts"
        names = _wanted(bed, wants, decision)
        if decision is not lead:
            names = [name for name in names if name not in ONCE]
        shown = [name for name in names if spans.get(name) is not None]
        tasks += _made(decision, spans, bases, shown, lead=lead, several=several)
    if wants.planted is not None:
        tasks = [replace(task, why=DONE) if task.name == "set-out" else task for task in tasks]
    return tasks


def next_tasks(following: Decision | None) -> list[Task]:
    """Return the first tasks of the changeover after this one."""
    if following is None or following.hopeless:
        return []
    spans = {
        name: (span_of(timing, following.setting), timing.basis)
        for name, timing in timings(following.season).items()
        if name in NEXT_SEASON
    }
    return [
        replace(task, title=f"{task.title} (for {following.season})")
        for task in (
            _task(name, span, following, key_of(following), basis=basis)
            for name, (span, basis) in spans.items()
        )
    ]


def _spans(
    decision: Decision, wants: Wants, today: date
) -> tuple[dict[str, Span | None], dict[str, str]]:
    """Return the days of every task by name, and how each is known."""
    known = timings(decision.season)
    out = _setting_out(decision, today, wants.planted)
    spans: dict[str, Span | None] = {}
    for name, timing in known.items():
        planted = timing.anchor == "set-out"
        spans[name] = after(timing, out) if planted else span_of(timing, decision.setting)
    spans["set-out"] = out
    bases = {name: timing.basis for name, timing in known.items()}
    told = _grower_weeks(decision, wants)
    if told is not None:
        ordered = ordering(told)
        spans["order"], bases["order"] = span_of(ordered, decision.setting), ordered.basis
    weeks = wants.sow_weeks or weeks_under_cover(decision.crop)
    if weeks is not None:
        spans["sow"] = span_of(sowing(weeks), decision.setting)
        bases["sow"] = "from the weeks given" if wants.sow_weeks else "from the crop's figures"
    else:
        spans.pop("sow", None)
    return spans, bases


def _grower_weeks(decision: Decision, wants: Wants) -> tuple[float, float] | None:
    """Return the longest weeks that growers of what goes in were said to need."""
    told = [
        each.weeks
        for each in wants.goes
        if each.weeks is not None and decision.crop in (None, each.crop)
    ]
    return max(told, key=lambda weeks: weeks[1], default=None)


def _wanted(bed: Bed, wants: Wants, decision: Decision) -> list[str]:
    """Return the names of the tasks that there are to do."""
    if not bed.replanted:
        names = ["edge", "pull", "rest", "rest-ready"]
    else:
        names = [*(BEFORE_PLANTING if wants.planted is None else ()), *AFTER_PLANTING]
    if not bed.meets_turf:
        names = [name for name in names if name != "edge"]
    if decision.use != "transplant":
        names = [name for name in names if name != "sow"]
    return names


def _made(
    decision: Decision,
    spans: Mapping[str, Span | None],
    bases: Mapping[str, str],
    shown: Sequence[str],
    *,
    lead: Decision,
    several: bool,
) -> list[Task]:
    """Return the tasks of one decision, with the keys of those that come before each."""
    key, part = key_of(lead), f"/{slug_of(decision.what)}" if several else ""

    def keyed(name: str) -> str:
        return f"{key}/{name}" if name in ONCE or not several else f"{key}/{name}{part}"

    made = []
    for name in shown:
        span = spans[name]
        if span is None:
            continue
        before = [*WORDS[name].depends_on]
        if name == "set-out":
            before += [other for other in ("order", "sow", "renew") if other in shown]
        there = tuple(keyed(other) for other in before if other in shown or several)
        task = _task(name, span, decision, key, before=there, basis=bases.get(name, ""))
        if several and name not in ONCE:
            task = replace(task, key=keyed(name), title=f"{task.title}: {_small(decision.what)}")
        made.append(task)
    return made


def _task(
    name: str,
    span: Span,
    decision: Decision,
    key: str,
    *,
    before: tuple[str, ...] = (),
    basis: str = "",
) -> Task:
    words = WORDS[name]
    title = TITLES.get((name, decision.use), words.title)
    if decision.season == "spring":
        title = IN_SPRING.get(name, title)
    why = words.why
    if name == "set-out" and decision.crop is not None:
        why = decision.reason
    return Task(
        key=f"{key}/{name}",
        title=title,
        earliest=span.earliest,
        likely=min(max(span.likely, span.earliest), span.latest),
        latest=span.latest,
        probability=span.probability,
        sure_of=span.sure_of,
        why=why,
        depends_on=before,
        caution=words.caution,
        basis=basis,
    )


def _setting_out(decision: Decision, today: date, planted: date | None) -> Span:
    """Return the days of setting out, none before today, or the day on which it was done."""
    if planted is not None:
        return Span(planted, planted, planted, 1.0, "")
    opening, timing = decision.setting, timings(decision.season)["set-out"]
    early, middle, late = outer_days(opening)
    likely = decision.best or middle + timedelta(days=timing.likely_days)
    latest = late + timedelta(days=timing.last_days)
    if decision.best_until is not None:
        latest = min(latest, decision.best_until)
    earliest, likely = max(early + timedelta(days=timing.first_days), today), max(likely, today)
    latest = max(earliest, latest, today)
    chance = opening.not_before(today).between(earliest, latest)
    opens = "the soil settles" if decision.crop is None else "its best day comes"
    return Span(earliest, min(likely, latest), latest, chance, f"{opens} on one of these days")


def _pulling(curve: PullCurve) -> Span:
    return Span(
        curve.first,
        curve.best,
        curve.last,
        1.0 - curve.late_chance,
        "the bed is ready when the window opens, pulled on the likely day",
    )


def _watched(frost: FrostSpan, out: Span | None, season: str) -> Span | None:
    """Return the nights to watch while plants are young; None if frost hardly comes then."""
    if out is None:
        return None
    end = out.latest + timedelta(days=timings(season)["watch-frost"].last_days)
    if season == "spring":
        latest = min(frost.late, end)
        if latest <= out.earliest:
            return None
        sure = _share_by(frost, latest)
        likely = min(max(frost.likely, out.earliest), latest)
        return Span(out.earliest, likely, latest, sure, "the last frost is over after it")
    earliest, latest = max(frost.early, out.earliest), min(frost.late, end)
    if latest < earliest:
        return None
    sure = _share_by(frost, latest) - (
        0.0 if earliest <= frost.early else _share_by(frost, earliest)
    )
    likely = min(max(frost.likely, earliest), latest)
    return Span(earliest, likely, latest, sure, "the first frost comes on one of these days")


def _share_by(frost: FrostSpan, day: date) -> float:
    """Return the chance of a frost date up to a day, between 10 and 90 % by straight lines."""
    at = [float(d.toordinal()) for d in (frost.early, frost.likely, frost.late)]
    return float(np.interp(float(day.toordinal()), at, [0.1, 0.5, 0.9]))


def slug_of(what: str) -> str:
    """Return what stands in a task's key for one of several things that go in."""
    return what.casefold().replace(" ", "-")


def _small(text: str) -> str:
    return text[0].lower() + text[1:]
