"""The parts of the page that answer: the sentence, the picture, crops, tasks, shopping, layout."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta

from forecaster.answers.crops import CropWindow
from forecaster.answers.window import Window
from forecaster.plan import Plan, Task
from forecaster.plan.tasks import late_words
from forecaster.report.bars import crop_bars
from forecaster.report.contents import Report
from forecaster.report.markup import (
    Piece,
    bullets,
    el,
    folded,
    joined,
    paragraphs,
    section,
    table,
)
from forecaster.report.picture import chart, planting_sheet
from forecaster.words import lead, window_words
from forecaster.words.crops import BEGUN, NO_DATE, READ, STATES, crop_lead
from forecaster.words.phrases import (
    between,
    degrees,
    known,
    odds,
    percent,
    say_day,
    sentence,
    short_day,
)
from forecaster.words.plan import (
    look_words,
    plan_lead,
    pull_words,
    shopping_words,
)
from forecaster.words.window import weeks_shown

WEEK_DAYS = 7
OTHER_SEASON_DAYS = 120
STILL_RUNS = "Crops whose season still runs are shown in that season, not yet in the plan's."
ENDLESS = 10**6
"""Columns: a page folds its lines by itself."""


def the_sentence(report: Report) -> Piece:
    """Return what answers the question, first of all."""
    words = plan_lead(report.plan)
    head, _, rest = words.partition(": ")
    said = rest if head == report.heading and rest else words
    return el("p", sentence(said), class_="lead")


def soil_section(report: Report) -> Piece:
    """Return the windows in words, the picture, and the chances by week."""
    plan, told = report.plan, report.told
    window = report.window
    drawn, words = chart(report)
    behind = [
        text for text in window_words(window, plan.today, report.show, ENDLESS) if "\n" not in text
    ]
    verdict, rest = behind[:1], behind[1:]
    others = [lead(one, plan.today, report.show) for one in told.windows if one is not window]
    first = lead(window, plan.today, report.show)
    picture = el(
        "figure",
        drawn,
        el(
            "figcaption",
            "Above: the soil so far and its spread ahead. Below: chances of the date.",
            class_="screen",
        ),
        folded("The picture in words", el("p", words)),
    )
    beside = el(
        "div",
        el("p", el("strong", first)),
        paragraphs(verdict),
        _weeks(window),
        paragraphs(rest),
        el("div", el("h3", "The other thresholds"), bullets(others), class_="screen")
        if others
        else None,
        class_="words",
    )
    return section("soil", "The soil and the date", el("div", picture, beside, class_="two"))


def _weeks(window: Window) -> Piece:
    """Return the chance of having settled, week by week."""
    pairs = [(f"by {short_day(day)}", percent(chance)) for day, chance in weeks_shown(window)]
    if not pairs:
        return Piece("")
    never = window.outlook.never
    if known(never) and never >= 0.01:
        pairs.append(("never", percent(never)))
    side = "below" if window.threshold.direction == "falling" else "above"
    cells = [el("div", el("dt", when), el("dd", chance)) for when, chance in pairs]
    said = f"Chance that the soil has settled {side} the threshold:"
    return joined((el("p", said), el("dl", *cells, class_="weeks")))


def crops_section(report: Report) -> Piece:
    """Return the crops' windows as bars, with the numbers behind them and the frosts."""
    if report.crops is None or not report.crops.answer.windows:
        return Piece("")
    windows, today = report.crops.answer.windows, report.plan.today
    rows = [_crop_row(window, report) for window in windows]
    heads = (
        "Crop",
        "Begun",
        "Opens",
        "Best",
        "Sure",
        "Closes",
        "Now",
        "Soil threshold, its source",
    )
    numbers = table("Windows of the crops in numbers", heads, rows)
    marks = "* not from a published figure: from memory, common practice or an assumption."
    fold = folded(
        "The same in numbers, with sources", numbers, el("p", marks, class_="note"),
        bullets(crop_lead(window, today) for window in windows) if len(windows) <= 3 else None,
    )  # fmt: skip
    start = report.window.season_start - timedelta(days=OTHER_SEASON_DAYS)
    earlier = any(window.season_start < start for window in windows)
    return section(
        "crops",
        "When crops can go in",
        el("p", STILL_RUNS) if earlier else None,
        crop_bars(windows, today),
        fold,
    )


def _crop_row(window: CropWindow, report: Report) -> tuple[str, ...]:
    used = window.threshold.used
    read = f", {READ[used.measured]}" if READ[used.measured] else ""
    mark = "" if used.basis in ("published", "quoted", "yours") else "*"
    return (
        window.crop.label,
        BEGUN[window.use],
        *(
            NO_DATE if day is None else short_day(day)
            for day in (window.opens.median, window.best.median)
        ),
        percent(window.best.probability),
        NO_DATE if window.closes.median is None else short_day(window.closes.median),
        STATES[window.state],
        f"{degrees(used.value_c, report.show)}{mark}{read} ({used.basis}: {used.source})",
    )


def week_section(report: Report) -> Piece:
    """Return what is to be done this week, to be ticked off."""
    plan = report.plan
    late, now, _ = sorted_tasks(plan)
    soon = bullets((_to_do(task, plan) for task in now), "boxes")
    if not now:
        soon = el("p", "Nothing is to be done in the next seven days.")
    behind = bullets((_missed(task, plan) for task in late), "boxes")
    return section(
        "week",
        "This week",
        soon,
        el("h3", "The day for this has passed") if late else None,
        behind,
    )


def sorted_tasks(plan: Plan) -> tuple[list[Task], list[Task], list[Task]]:
    """Return the tasks whose days are over, those of the next seven days, and the later ones."""
    week = plan.today + timedelta(days=WEEK_DAYS - 1)
    late = [task for task in plan.tasks if task.standing(plan.today) == "overdue"]
    now = [t for t in plan.tasks if t not in late and t.earliest <= week]
    return late, now, [t for t in plan.tasks if t not in late and t not in now]


def _to_do(task: Task, plan: Plan) -> Piece:
    when = f"by {say_day(task.latest, plan.today)}"
    if task.earliest > plan.today:
        when = _span(task, plan.today)
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


def _span(task: Task, today: date) -> str:
    return between(task.earliest, task.latest, today)


def later_section(report: Report) -> Piece:
    """Return what comes after this week, in order."""
    plan = report.plan
    _, _, later = sorted_tasks(plan)
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
    return section(
        "later",
        "And then",
        table("Tasks after this week", heads, rows, "dates"),
        paragraphs((note,), "note"),
        folded("Why, and with what care", bullets(why)),
        el("div", *(el("div", *part) for part in (pull, water) if part), class_="two")
        if pull or water
        else None,
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


def buy_section(report: Report) -> Piece:
    """Return the shopping list, to be ticked off."""
    lines = [line.removeprefix("· ") for line in shopping_words(report.plan.shopping)]
    if not lines:
        return section("buy", "To buy", el("p", "Tell the bed's area or outline to have a list."))
    head, items = lines[0], lines[1:]
    return section("buy", f"To buy {head}", bullets((sentence(i) for i in items), "boxes"))


def layout_section(report: Report) -> Piece:
    """Return where each plant goes, if it was asked for."""
    if report.layout is None:
        return Piece("")
    drawn, words = planting_sheet(report.layout)
    return section(
        "layout",
        "Where each plant goes",
        el("figure", drawn, el("figcaption", words)),
        class_="sheet",
    )
