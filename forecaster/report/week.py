"""What is to be done: this week in two lines, its tasks to tick off, and those after it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from forecaster.plan import Plan, Task
from forecaster.plan.tasks import late_words
from forecaster.plan.week import Due
from forecaster.report.contents import Report
from forecaster.report.markup import (
    Piece,
    bullets,
    closed,
    el,
    folded,
    joined,
    paragraphs,
    section,
    table,
)
from forecaster.words.crops import NO_DATE
from forecaster.words.phrases import count, odds, say_day, sentence, short_day
from forecaster.words.plan import look_words, pull_words


def week_lines(report: Report) -> Piece:
    """Return this week in two lines: what is due first, and what comes then."""
    late, now, later = sorted_dues(report)
    first, *rest = [_line(due) for due in now] or ["nothing is due in seven days"]
    more = f" (and {len(rest) - 1} more)" if len(rest) > 1 else ""
    after = [f"then {rest[0]}{more}"] if rest else [f"next {_line(due)}" for due in later[:1]]
    said = [*([f"{len(late)} late"] if late else []), *after] or ["nothing comes after it"]
    lines = (joined((el("b", "This week: "), first)), sentence("; ".join(said)))
    return el("p", *(el("a", line, href="#week") for line in lines), class_="soon")


def _line(due: Due) -> str:
    title = due.task.title.partition(",")[0]
    return f"{short_day(due.day)}, {title[0].lower()}{title[1:]}"


def sorted_dues(report: Report) -> tuple[list[Due], list[Due], list[Due]]:
    """Return what is late, what is due in the next seven days, and what comes later."""
    late, now, later = (
        [due for due in report.dues if due.when == when] for when in ("late", "week", "ahead")
    )
    return late, now, later


def week_section(report: Report) -> Piece:
    """Return what is to be done this week, to be ticked off."""
    plan = report.plan
    late, now, _ = sorted_dues(report)
    soon = bullets((_to_do(due, plan) for due in now), "boxes")
    if not now:
        soon = el("p", "Nothing is due in the next seven days.")
    behind = bullets((_missed(due.task, plan) for due in late), "boxes")
    return section(
        "week",
        "This week",
        soon,
        el("h3", "The day for this has passed") if late else None,
        behind,
    )


def _to_do(due: Due, plan: Plan) -> Piece:
    task = due.task
    when = f"on {say_day(due.day, plan.today)}"
    if task.latest > due.day:
        when += f", by {say_day(task.latest, plan.today)} at the latest"
    return joined(
        (
            el("strong", task.title),
            f", {when}. {sentence(task.why)}",
            el("span", task.caution, class_="note care") if task.caution else None,
        )
    )


def _missed(task: Task, plan: Plan) -> Piece:
    over = f", by {say_day(task.latest, plan.today)}: {late_words(task, plan)}."
    return joined((el("strong", task.title), over))


def later_section(report: Report) -> Piece:
    """Return what comes after this week, in order."""
    plan = report.plan
    later = [due.task for due in sorted_dues(report)[2]]
    if not later:
        return Piece("")
    usual = Counter(task.sure_of for task in later if task.sure_of).most_common(1)
    most = usual[0][0] if usual else ""
    rows = [_task_row(task, plan.today, most) for task in later]
    heads = ("Task", "From", "Likely", "Until", "Sure")
    note = f"Sure: the chance that {most}, where nothing else is said." if most else ""
    why = [
        joined((el("strong", task.title), f": {_why(task)}. {task.caution}".rstrip()))
        for task in later
    ]
    pull = _part("When to pull", pull_words(plan)) if plan.task("pull") in later else ()
    water = _part("Water after planting", look_words(plan.look, plan.today))
    behind = el("div", *(el("div", *part) for part in (pull, water) if part), class_="two")
    return section(
        "later",
        "And then",
        closed(
            "later",
            f"{count(len(later), 'task')}, to {say_day(later[-1].latest, plan.today)}",
            table("Tasks after this week", heads, rows, "dates"),
            paragraphs((note,), "note"),
            folded("Why, and with what care", bullets(why)),
            behind if pull or water else None,
        ),
    )


def _why(task: Task) -> str:
    return f"{task.why} ({task.basis})" if task.basis else task.why


def _task_row(task: Task, today: date, most: str) -> tuple[str | Piece, ...]:
    title: str | Piece = task.title
    if task.sure_of and task.sure_of != most:
        title = joined((task.title, el("span", f"sure: that {task.sure_of}", class_="note")))
    days = (task.earliest, task.likely, task.latest)
    sure = odds(task.probability).replace(" ", "\u00a0") if task.sure_of else NO_DATE
    return (title, *(_day(day, today) for day in days), sure)


def _day(day: date, today: date) -> str:
    """Return a date whose day and month stay together; a year may go below."""
    words = short_day(day).replace(" ", "\u00a0")
    return words if day.year == today.year else f"{words} {day.year}"


def _part(heading: str, lines: Sequence[str]) -> tuple[Piece, ...]:
    return (el("h3", heading), paragraphs(lines)) if lines else ()
