"""The week: the tasks of all beds in one list, each on its due day, with hours and loads.

One engine for `crossday week`, the page's Week and its cards, and the calendar file: all take
their days from `dues`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from forecaster import book as kept
from forecaster.answers.record import Record
from forecaster.ground.errors import ForecasterError
from forecaster.plan.counting import slug_of
from forecaster.plan.hours import Hours, task_hours
from forecaster.plan.several import BedPlan
from forecaster.plan.supplies.quantities import Heap, loads_together
from forecaster.plan.tasks import WORDS, Plan, Task, late_words
from forecaster.plan.wet import WetSoil, wet_soil
from forecaster.plan.whole import WholePlan

WEEK = timedelta(days=7)
ORDER = [*WORDS]
OVER = timedelta(days=45)
"""A task whose last day passed longer ago is of another season, and is not listed as late."""
WORKS_SOIL = ("edge", "pull", "renew", "set-out")
"""Tasks that tread or turn the soil, which must not be too wet for it."""
CARRIES = ("renew", "rest")
"""Tasks for which the heaps of the shopping list are fetched."""
When = Literal["late", "week", "ahead", "done"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A task of one bed on the day on which it is due.

    Parameters
    ----------
    bed, place : str
    plan : Plan
    task : Task
    day : date
        The day most likely right; once that is past, today, and once its span is, its last day.
        That to which it was moved, where it was.
    when : {"late", "week", "ahead", "done"}
        ``week``: due within seven days, today the first.
    why : str
    done : date or None
        The day on which it was ticked, or planted.
    hours : float
        Of one person; an assumption. None for sowing that is too late to do.
    heaps : tuple of Heap
        What must be fetched for it.
    workable : date or None
        Where the soil is too wet to work on the due day, the first day on which it is not.
    too_wet : bool
    """

    bed: str
    place: str
    plan: Plan
    task: Task
    day: date
    when: When
    why: str
    done: date | None = None
    hours: float = 0.0
    heaps: tuple[Heap, ...] = ()
    workable: date | None = None
    too_wet: bool = False
    moved: date | None = None

    @property
    def too_far(self) -> bool:
        """Whether it was moved out of the days that are right for it."""
        return self.moved is not None and not self.task.earliest <= self.moved <= self.task.latest


def dues(
    plan: Plan,
    *,
    now: date,
    bed: str = "",
    place: str = "",
    ticked: Mapping[str, date] | None = None,
    moved: Mapping[str, date] | None = None,
    last_read: date | None = None,
    hours: Mapping[str, Hours] | None = None,
    wet: WetSoil | None = None,
) -> list[Due]:
    """Return the tasks of a bed's plan in the order of their due days.

    Parameters
    ----------
    plan : Plan
    now : date
    bed, place : str
        Names; by default the plan's bed, and none.
    ticked : mapping of str to date, optional
        Tasks that were done, by key, as `done_tasks` returns them.
    moved : mapping of str to date, optional
        Tasks that the user moved to another day, as `moved_tasks` returns them.
    last_read : date, optional
        Day of the soil's last reading.
    hours : mapping of str to Hours, optional
        As `task_hours` returns them; the packaged ones by default.
    wet : WetSoil, optional
        As `bed_wet` returns it.
    """
    table = task_hours() if hours is None else hours
    ticked, moved = ticked or {}, moved or {}
    found = []
    for task in plan.tasks:
        ours = task.key.startswith(f"{plan.key}/")
        done = ticked.get(task.key)
        if done is None and ours and task.name == "set-out":
            done = plan.wants.planted
        to = moved.get(task.key)
        coming = to is not None and to >= now
        if done is None and now - task.latest > OVER and not coming:
            continue
        day = to if to is not None and coming else due_day(task, now, last_read)
        when = _when(task, day, now, done, moved=coming)
        one = Due(
            bed=bed or plan.bed.name,
            place=place,
            plan=plan,
            task=task,
            day=day,
            when=when,
            why=late_words(task, plan) or task.why,
            done=done,
            moved=to,
            hours=0.0 if when == "late" and task.name == "sow" else _hours(task, plan, table),
            heaps=plan.shopping.heaps if plan.shopping and ours and task.name in CARRIES else (),
        )
        if wet is not None and task.name in WORKS_SOIL and done is None and wet.too_wet(day):
            one = replace(one, too_wet=True, workable=wet.workable(day))
        found.append(one)
    return sorted(found, key=order)


def order(due: Due) -> tuple[date, int, date, str, str]:
    """Return what a list of tasks is sorted by: the day, then what comes first in a bed."""
    return due.day, ORDER.index(due.task.name), due.task.latest, due.task.key, due.bed


def due_day(task: Task, now: date, last_read: date | None = None) -> date:
    """Return the one day on which a task is due.

    A reading of the soil is due a week after the last one, where there is one.
    """
    likely = task.likely
    if task.name == "read-soil" and last_read is not None:
        likely = max(last_read + WEEK, task.earliest)
    return min(max(likely, now), task.latest)


def _hours(task: Task, plan: Plan, table: Mapping[str, Hours]) -> float:
    """Return the hours of a task: of one of several crops those of its part of the bed."""
    if task.name not in table:
        return 0.0
    size = plan.shopping if task.key.startswith(f"{plan.key}/") else None
    if size is None:
        return table[task.name].of(0.0, 0)
    _, _, *what = task.key.split("/")
    parts = [part for part in size.parts if slug_of(part.what) in what]
    if not parts:
        return table[task.name].of(size.area_m2, size.plants)
    plants = sum(line.plants for part in parts for line in part.lines)
    return table[task.name].of(sum(part.area_m2 for part in parts), plants)


def _when(task: Task, day: date, now: date, done: date | None, *, moved: bool) -> When:
    if done is not None:
        return "done"
    if task.standing(now) == "overdue" and not moved:
        return "late"
    return "week" if day < now + WEEK else "ahead"


def last_read(record: Record) -> date | None:
    """Return the day of the soil's last reading up to the day of the answer; None without one."""
    log = record.known()[2]
    if log is None or log.empty:
        return None
    day: date = log["time"].max().date()
    return day


def bed_wet(whole: WholePlan) -> WetSoil | None:
    """Return how wet the soil of a planned bed is to work; None where its rain is not known."""
    record = whole.record
    return wet_soil(
        record.air,
        record.site.latitude_deg,
        today=record.today,
        soil=record.site.soil,
        outlook=record.ahead,
    )


@dataclass(frozen=True, slots=True)
class Silent:
    """A bed that says nothing now, and why.

    Parameters
    ----------
    bed : str
    error : ForecasterError or None
        Why it cannot be planned; None where its air is too old to tell anyone what to do.
    last_day : date or None
    stale_days : int
        The air's last day, and how long before the day asked about that is.
    """

    bed: str
    error: ForecasterError | None = None
    last_day: date | None = None
    stale_days: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """What several beds ask, from a day on.

    Parameters
    ----------
    today : date
    beds : tuple of str
        All that were asked.
    dues : tuple of Due
        Of beds that can be planned and whose air is not too old, by day, done ones too.
    silent : tuple of Silent
    wet : tuple of (str, WetSoil)
        Beds whose soil is too wet to work on the first day.
    """

    today: date
    beds: tuple[str, ...]
    dues: tuple[Due, ...]
    silent: tuple[Silent, ...] = ()
    wet: tuple[tuple[str, WetSoil], ...] = ()

    def of(self, *when: When) -> list[Due]:
        """Return the tasks that stand so, by day."""
        return [due for due in self.dues if due.when in when]


def hours_of(some: Sequence[Due]) -> float:
    """Return the hours of one person that tasks take together."""
    return sum(due.hours for due in some)


def loads_of(some: Sequence[Due]) -> int:
    """Return the loads to be fetched for tasks: those of one place are carried together."""
    by_place: dict[str, list[Heap]] = {}
    for due in some:
        by_place.setdefault(due.place, []).extend(due.heaps)
    return sum(loads_together(heaps) for heaps in by_place.values())


def week_of(book: kept.Book, plans: Sequence[BedPlan], *, now: date) -> Week:
    """Return the week of beds that were planned.

    Parameters
    ----------
    book : Book
        Asked for what was ticked, and for the user's own hours beside it.
    plans : sequence of BedPlan
    now : date
    """
    table = task_hours(book.path)
    found: list[Due] = []
    silent, wet = [], []
    for one in plans:
        if one.whole is None:
            silent.append(Silent(one.bed.name, one.error))
            continue
        so_far = one.whole.window.so_far
        if so_far.stale_days:
            silent.append(Silent(one.bed.name, None, so_far.last_day, so_far.stale_days))
            continue
        soil = bed_wet(one.whole)
        if soil is not None and soil.too_wet(now):
            wet.append((one.bed.name, soil))
        ticked, moved = (ask(book, one.bed.name) for ask in (kept.done_tasks, kept.moved_tasks))
        found += dues(
            one.whole.plan, bed=one.bed.name, place=one.bed.place, now=now, ticked=ticked,
            moved=moved,
            last_read=last_read(one.whole.record), hours=table, wet=soil,
        )  # fmt: skip
    return Week(
        today=now,
        beds=tuple(one.bed.name for one in plans),
        dues=tuple(sorted(found, key=order)),
        silent=tuple(silent),
        wet=tuple(wet),
    )
