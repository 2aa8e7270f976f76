"""Make the plan of a bed's changeover from its window's distribution."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from forecaster.errors import InputError
from forecaster.plan.bed import Bed, Wants
from forecaster.plan.chances import DayChances
from forecaster.plan.pull import PullCurve, pull_curve
from forecaster.plan.shopping import shopping_for
from forecaster.plan.tasks import IN_SPRING, WORDS, FrostDates, Plan, Season, Task
from forecaster.plan.timing import Span, outer_days, sowing, span_of, timings
from forecaster.plan.water import WaterLook
from forecaster.window import Window

SEASONS: dict[str, Season] = {"falling": "autumn", "rising": "spring"}
BEFORE_PLANTING = ("read-soil", "order", "sow", "stop-feeding", "edge", "pull", "renew")
AFTER_PLANTING = ("set-out", "water-in", "first-look", "later-looks", "feed", "watch-frost")
NEXT_SEASON = ("read-soil", "order")


def make_plan(
    window: Window,
    bed: Bed,
    wants: Wants | None = None,
    *,
    today: date,
    next_window: Window | None = None,
    frost: FrostDates | None = None,
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
    frost : FrostDates, optional
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
    notes = _notes(window, bed, wants, frost, season)
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
        tasks = _tasks(window, bed, wants, today, key, curve, frost, closes)
    tasks += _next_tasks(next_window)
    if look is not None:
        tasks = [_by_bucket(task, look) for task in tasks]
    return Plan(
        key,
        season,
        today,
        bed,
        wants,
        window,
        tuple(sorted(tasks, key=lambda task: (task.likely, task.latest, task.key))),
        curve,
        shopping_for(bed, wants, season),
        look,
        notes,
    )


def hopeless(window: Window) -> bool:
    """Say whether the window opens in fewer than one in ten futures: nothing to plan on."""
    return DayChances.of(window.outlook).quantile(0.1) is None


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
    key: str,
    curve: PullCurve | None,
    frost: FrostDates | None,
    closes: date | None,
) -> list[Task]:
    """Return this season's tasks."""
    season = SEASONS[window.threshold.direction]
    opening, out = DayChances.of(window.outlook), setting_out(window, today, wants.planted)
    spans = {
        name: span_of(timing, out if timing.anchor == "set-out" else opening, window.season_end)
        for name, timing in timings(season).items()
    }
    if wants.sow_weeks is not None:
        spans["sow"] = span_of(sowing(wants.sow_weeks), opening, window.season_end)
    spans["set-out"] = _setting_out(window, today, closes, wants.planted)
    if curve is not None:
        spans["pull"] = _pulling(curve)
    if frost is not None:
        spans["watch-frost"] = _frost(frost, spans["set-out"], season)
    wanted = [*(BEFORE_PLANTING if wants.planted is None else ()), *AFTER_PLANTING]
    if not bed.replanted:
        wanted = ["edge", "pull", "rest", "rest-ready"]
    if not bed.meets_turf:
        wanted = [name for name in wanted if name != "edge"]
    shown = [name for name in wanted if name in spans]
    bases = {name: timing.basis for name, timing in timings(season).items()}
    return [_task(name, spans[name], key, shown, bases.get(name, "")) for name in shown]


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


def _setting_out(
    window: Window, today: date, closes: date | None, planted: date | None
) -> Span:
    """Return the days of setting out, none before today, or the day on which it was done."""
    if planted is not None:
        return Span(planted, planted, planted, 1.0, "")
    opening = DayChances.of(window.outlook).not_before(today)
    timing = timings(SEASONS[window.threshold.direction])["set-out"]
    days = outer_days(opening, window.season_end)
    after = (timing.first_days, timing.likely_days, timing.last_days)
    earliest, likely, latest = (
        max(day + timedelta(days=k), today) for day, k in zip(days, after, strict=True)
    )
    if closes is not None:
        latest = max(earliest, min(latest, closes))
    chance = opening.between(earliest, latest)
    return Span(earliest, likely, latest, chance, "the soil settles within it")


def _pulling(curve: PullCurve) -> Span:
    return Span(
        curve.first,
        curve.best,
        curve.last,
        1.0 - curve.late_chance,
        "the bed is ready when the window opens, pulled on the likely day",
    )


def _frost(frost: FrostDates, out: Span, season: str) -> Span:
    """Return the nights to watch: from setting out in spring, from the early frosts in autumn."""
    if season == "spring":
        latest = max(frost.late, out.earliest)
        return Span(out.earliest, max(frost.likely, out.earliest), latest, 0.9, "the last frost is over after it")
    earliest = max(frost.early, out.earliest)
    latest = max(frost.late, earliest)
    return Span(earliest, max(frost.likely, earliest), latest, 0.8, "the first frost falls in it")


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
            _task(name, span_of(timing, opening, window.season_end), key, [], timing.basis)
            for name, timing in timings(season).items()
            if name in NEXT_SEASON
        )
    ]


def _by_bucket(task: Task, look: WaterLook) -> Task:
    """Return the first look with what the bucket says of it."""
    if task.name != "first-look" or look.dry_spell is None:
        return task
    days = (look.dry_spell - look.set_out).days
    spell = f"without rain the root zone has used what is readily taken {days} day"
    return replace(task, why=f"{task.why}; {spell}{'' if days == 1 else 's'} after planting")


def _notes(
    window: Window, bed: Bed, wants: Wants, frost: FrostDates | None, season: str
) -> tuple[str, ...]:
    """Return what the reader of the plan should know."""
    notes = []
    never = window.outlook.never
    if hopeless(window):
        notes.append(f"no dates: {window.reason}")
    elif never >= 0.1:
        notes.append(
            f"in {round(100 * never)} of 100 futures the window does not open this {season}; "
            "the season's end stands in for the days that never come"
        )
    if window.verdict == "late" and wants.planted is None:
        notes.append(f"this window opened long ago: {window.reason}")
    if bed.area_m2 is None:
        notes.append("no area or outline given, so no quantities")
    elif bed.outline is None and bed.replanted:
        notes.append("plants are counted from the area alone; an outline counts the rows")
    if frost is None and bed.replanted:
        notes.append("frost dates of the place were not given; six weeks are watched instead")
    return tuple(notes)
