"""Make the plan of a bed's changeover from its window's distribution."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from forecaster.answers.window import Window
from forecaster.errors import InputError
from forecaster.plan.bed import Bed, Wants
from forecaster.plan.chances import DayChances
from forecaster.plan.pull import PullCurve, pull_curve
from forecaster.plan.supplies.shopping import shopping_for
from forecaster.plan.tasks import IN_SPRING, WORDS, FrostSpan, Plan, Season, Task
from forecaster.plan.timing import Span, outer_days, sowing, span_of, timings
from forecaster.plan.water import WaterLook

SEASONS: dict[str, Season] = {"falling": "autumn", "rising": "spring"}
BEFORE_PLANTING = ("read-soil", "order", "sow", "stop-feeding", "edge", "pull", "renew")
AFTER_PLANTING = ("set-out", "water-in", "first-look", "later-looks", "feed", "watch-frost")
ORDER = [*WORDS]
DONE = "done, as you told it"
NEXT_SEASON = ("read-soil", "order")


def make_plan(
    window: Window,
    bed: Bed,
    wants: Wants | None = None,
    *,
    today: date,
    next_window: Window | None = None,
    frost: FrostSpan | None = None,
    closes: date | None = None,
    look: WaterLook | None = None,
) -> Plan:
    """Return the plan of a changeover as it stands on a day.

    Every date is counted from the window's distribution, not from one date.

    Parameters
    ----------
    window : Window
        Of a falling threshold for autumn, of a rising one for spring.
    bed : Bed
    wants : Wants, optional
    today : date
    next_window : Window, optional
        The changeover after this one: its first tasks close the plan.
    frost : FrostSpan, optional
        First frost for autumn, last frost for spring; without them six weeks are watched.
    closes : date, optional
        The last sensible day of setting out, if it is known.
    look : WaterLook, optional
        From `water_look`, with the likely day of setting out.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        If the day of planting told lies after today.
    """
    wants = Wants() if wants is None else wants
    if wants.planted is not None and wants.planted > today:
        raise InputError(f"planted on {wants.planted}; expected a day up to today, {today}")
    season = SEASONS[window.threshold.direction]
    key = f"{window.season_start.year}-{season}"
    chances = DayChances.of(window.outlook)
    curve: PullCurve | None = None
    tasks: list[Task] = []
    if not hopeless(window):
        if wants.planted is None and bed.replanted:
            work = -timings(season)["pull"].likely_days
            curve = pull_curve(
                chances,
                window.season_end,
                today=today,
                work_days=work,
                late_weight=wants.pull_late_weight,
            )
        tasks = _tasks(window, bed, wants, today, key=key, curve=curve, frost=frost, closes=closes)
    tasks += _next_tasks(next_window)
    if look is not None:
        tasks = [_by_bucket(task, look, season) for task in tasks]
    return Plan(
        key,
        season,
        today,
        bed,
        wants,
        window,
        tuple(sorted(tasks, key=lambda task: (task.likely, ORDER.index(task.name)))),
        curve,
        shopping_for(bed, wants, season),
        look,
        _notes(window, bed, wants, frost, tasks),
    )


def hopeless(window: Window) -> bool:
    """Say whether there is nothing to plan on.

    The window opens in fewer than one in ten futures, or it has no beginning: the soil lies
    past the threshold from the season's first day.
    """
    closed = window.verdict == "no season"
    return closed or DayChances.of(window.outlook).quantile(0.1) is None


def setting_out(window: Window, today: date, planted: date | None = None) -> DayChances:
    """Return the chances of the day of setting out: days after opening, never before today."""
    if planted is not None:
        return DayChances((planted,), (1.0,))
    days = timings(SEASONS[window.threshold.direction])["set-out"].likely_days
    return DayChances.of(window.outlook).shifted(days).not_before(today)


def _tasks(
    window: Window,
    bed: Bed,
    wants: Wants,
    today: date,
    *,
    key: str,
    curve: PullCurve | None,
    frost: FrostSpan | None,
    closes: date | None,
) -> list[Task]:
    """Return this season's tasks."""
    season = SEASONS[window.threshold.direction]
    opening, out = DayChances.of(window.outlook), setting_out(window, today, wants.planted)
    spans = {
        name: span_of(timing, out if timing.anchor == "set-out" else opening)
        for name, timing in timings(season).items()
    }
    if wants.sow_weeks is not None:
        spans["sow"] = span_of(sowing(wants.sow_weeks), opening)
    spans["set-out"] = _setting_out(window, today, closes, wants.planted)
    if curve is not None:
        spans["pull"] = _pulling(curve)
    bases = {name: timing.basis for name, timing in timings(season).items()}
    bases["sow"] = "from the weeks given"
    if curve is not None:
        bases["pull"] = "from the window's chances and your weight"
    if frost is not None:
        bases["watch-frost"] = "from the record's frosts"
        young = timedelta(days=timings(season)["watch-frost"].last_days)
        watch = _frost(frost, spans["set-out"], season, young)
        spans = {name: span for name, span in spans.items() if name != "watch-frost"}
        spans |= {} if watch is None else {"watch-frost": watch}
    wanted = [*(BEFORE_PLANTING if wants.planted is None else ()), *AFTER_PLANTING]
    if not bed.replanted:
        wanted = ["edge", "pull", "rest", "rest-ready"]
    if not bed.meets_turf:
        wanted = [name for name in wanted if name != "edge"]
    shown = [name for name in wanted if name in spans]
    made = [_task(name, spans[name], key, shown, bases.get(name, "")) for name in shown]
    if wants.planted is not None:
        made = [replace(t, why=DONE) if t.name == "set-out" else t for t in made]
    return made


def _task(name: str, span: Span, key: str, shown: list[str], basis: str) -> Task:
    words = WORDS[name]
    title = IN_SPRING.get(name, words.title) if key.endswith("spring") else words.title
    before = [*words.depends_on]
    if name == "set-out":
        before += [other for other in ("order", "sow", "renew") if other in shown]
    return Task(
        f"{key}/{name}",
        title,
        span.earliest,
        min(max(span.likely, span.earliest), span.latest),
        span.latest,
        span.probability,
        span.sure_of,
        words.why,
        tuple(f"{key}/{other}" for other in before if other in shown),
        words.caution,
        basis,
    )


def _setting_out(window: Window, today: date, closes: date | None, planted: date | None) -> Span:
    """Return the days of setting out, none before today, or the day on which it was done."""
    if planted is not None:
        return Span(planted, planted, planted, 1.0, "")
    opening = DayChances.of(window.outlook)
    timing = timings(SEASONS[window.threshold.direction])["set-out"]
    days = outer_days(opening)
    after = (timing.first_days, timing.likely_days, timing.last_days)
    earliest, likely, latest = (
        max(day + timedelta(days=k), today) for day, k in zip(days, after, strict=True)
    )
    if closes is not None:
        latest = max(earliest, min(latest, closes))
    chance = opening.not_before(today).between(earliest, latest)
    return Span(earliest, likely, latest, chance, "the soil settles within it")


def _pulling(curve: PullCurve) -> Span:
    return Span(
        curve.first,
        curve.best,
        curve.last,
        1.0 - curve.late_chance,
        "the bed is ready when the window opens, pulled on the likely day",
    )


def _frost(frost: FrostSpan, out: Span, season: str, watched: timedelta) -> Span | None:
    """Return the nights to watch while plants are young; None if frost hardly comes then."""
    end = out.latest + watched
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
    return Span(earliest, likely, latest, sure, "the first frost of the season falls in it")


def _share_by(frost: FrostSpan, day: date) -> float:
    """Return the chance of a frost date up to a day, between 10 and 90 % by straight lines."""
    at = [float(d.toordinal()) for d in (frost.early, frost.likely, frost.late)]
    return float(np.interp(float(day.toordinal()), at, [0.1, 0.5, 0.9]))


def _next_tasks(window: Window | None) -> list[Task]:
    """Return the first tasks of the changeover after this one."""
    if window is None or hopeless(window):
        return []
    season = SEASONS[window.threshold.direction]
    key = f"{window.season_start.year}-{season}"
    opening = DayChances.of(window.outlook)
    return [
        replace(task, title=f"{task.title} (for {season})")
        for task in (
            _task(name, span_of(timing, opening), key, [], timing.basis)
            for name, timing in timings(season).items()
            if name in NEXT_SEASON
        )
    ]


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
    window: Window, bed: Bed, wants: Wants, frost: FrostSpan | None, tasks: list[Task]
) -> tuple[str, ...]:
    """Return what the reader of the plan should know."""
    notes, season = [], SEASONS[window.threshold.direction]
    never = window.outlook.never
    if hopeless(window):
        notes.append(f"no dates: {window.reason}")
    elif never >= 0.1:
        notes.append(
            f"in {round(100 * never)} of 100 futures the window does not open this {season}; "
            "the days given are those of the futures in which it does"
        )
    if window.verdict == "late" and wants.planted is None:
        notes.append(f"this window opened long ago: {window.reason}")
    if bed.area_m2 is None:
        notes.append("no area or outline given, so no quantities")
    elif bed.outline is None and bed.replanted:
        notes.append("plants are counted from the area alone; an outline counts the rows")
    if not bed.replanted or hopeless(window):
        return tuple(notes)
    if frost is None:
        notes.append("the record gives no frost dates; six weeks are watched instead")
    elif not any(task.name == "watch-frost" for task in tasks):
        when = "before plants are set out" if season == "spring" else "once plants have hardened"
        which = "last" if season == "spring" else "first"
        notes.append(f"in about nine years of ten the {which} frost falls {when}")
    return tuple(notes)
