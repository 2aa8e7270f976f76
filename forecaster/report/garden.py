"""The page of several beds: the week of all, the days of each, and what stands behind them."""

from __future__ import annotations

from collections.abc import Sequence

from forecaster.plan import Plan, WholePlan
from forecaster.plan.order import order_for
from forecaster.plan.several import BedPlan
from forecaster.plan.tasks import CAUTIONS
from forecaster.plan.week import Due, Week
from forecaster.report.behind import BEFORE
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
from forecaster.report.page import footer, head
from forecaster.report.picture import chart
from forecaster.words import tell
from forecaster.words.crops import NO_DATE
from forecaster.words.orders import entry_words, left_out_words, order_lead
from forecaster.words.phrases import Show, count, degrees, percent, say_day, sentence, short_day
from forecaster.words.plan import heap_words, look_words, plan_lead, pull_words, shopping_words
from forecaster.words.season import before_words
from forecaster.words.week import (
    ASSUMED,
    behind_words,
    day_words,
    same_tasks,
    silent_words,
    week_lead,
    wet_words,
)


def garden_html(plans: Sequence[BedPlan], week: Week, show: Show = "F") -> str:
    """Return the page of several beds as one HTML document.

    Parameters
    ----------
    plans : sequence of BedPlan
        Beds that could not be planned are named among what is not listed.
    week : Week
        Of the same beds.
    show : {"F", "C"}

    Returns
    -------
    str
        Valid by the HTML standard; no script, nothing fetched.
    """
    wholes = [one.whole for one in plans if one.whole is not None]
    heading = f"{count(len(week.beds), 'bed')}, {say_day(week.today, week.today)} {week.today.year}"
    links = {
        "week": "This week", "beds": "Beds", "later": "Later", "buy": "To buy",
        "each": "Bed by bed", "cautions": "Cautions",
    }  # fmt: skip
    items = [el("li", el("a", words, href=f"#{to}")) for to, words in links.items()]
    top = el(
        "header",
        el("h1", heading),
        el("div", el("p", week_lead(week), class_="lead"), id="answer", tabindex="-1"),
        el("nav", el("ul", *items), aria_label="On this page"),
    )
    each = [_bed(one, n, show) for n, one in enumerate(wholes)]
    main = el(
        "main",
        _week(week),
        _beds(plans, show),
        _later(week),
        _buy(plans, week),
        section("each", "Bed by bed", closed("each", count(len(wholes), "bed"), *each)),
        section("cautions", "Cautions", closed("cautions", BEFORE, bullets(CAUTIONS))),
        id="main",
    )
    skip = el("a", "Skip to the answer", href="#answer", class_="skip")
    body = el("body", skip, top, main, footer())
    return f"<!DOCTYPE html>\n{el('html', head(f'{heading}: the week'), body, lang='en')}\n"


def _week(week: Week) -> Piece:
    """Return what is due this week and what is late, to be ticked off, and what speaks against."""
    now, late, said = week.of("week"), week.of("late"), set[str]()
    soon = _boxes(now, week, said) if now else el("p", "Nothing is due in the next seven days.")
    return section(
        "week",
        "This week",
        paragraphs([*wet_words(week), *silent_words(week)]),
        soon,
        el("h3", "The day for this has passed") if late else None,
        closed("late", count(len(late), "task"), _boxes(late, week, said)) if late else None,
        paragraphs((ASSUMED,), "note"),
    )


def _boxes(dues: Sequence[Due], week: Week, said: set[str]) -> Piece:
    return bullets((_box(same, week, said) for same in same_tasks(dues)), "boxes")


def _box(same: Sequence[Due], week: Week, said: set[str]) -> Piece:
    """Return one task with its day and its beds; each caution stands where it is needed first."""
    due = same[0]
    day = "" if due.when == "late" else f", {day_words(due.day, week.today)}"
    care = [text for text in CAUTIONS if text in due.task.caution and text not in said]
    said.update(care)
    behind = el("span", " ".join(care), class_="note care") if care else None
    return joined((el("strong", due.task.title), f"{day}: {behind_words(same, week)}", behind))


def _beds(plans: Sequence[BedPlan], show: Show) -> Piece:
    """Return a row a bed: when what goes in, how sure, and the soil now."""
    rows = [_row(one.bed.name, one.bed.place, one.whole, show) for one in plans if one.whole]
    heads = ("Bed", "Place", "About", "From", "Until", "Sure", "Soil now")
    days = table("When each bed is planted", heads, rows, "dates")
    return section("beds", "Beds", closed("beds", "When each bed is planted", days))


def _row(bed: str, place: str, whole: WholePlan, show: Show) -> tuple[str, ...]:
    plan, soil = whole.plan, whole.window.so_far.soil_c
    now = NO_DATE if soil is None else degrees(soil, show)
    if plan.wants.planted is not None:
        return bed, place, f"planted {short_day(plan.wants.planted)}", *[NO_DATE] * 3, now
    task = plan.task("set-out")
    if task is None or plan.lead.hopeless:
        return bed, place, *[NO_DATE] * 4, now
    days = (short_day(day) for day in (task.likely, task.earliest, task.latest))
    sure = percent(task.probability) if task.sure_of else NO_DATE
    return bed, place, *days, "check first" if plan.lead.check_first else sure, now


def _later(week: Week) -> Piece:
    """Return what comes after this week, day by day."""
    later = week.of("ahead")
    if not later:
        return Piece("")
    rows = [
        (day_words(same[0].day, week.today), same[0].task.title, behind_words(same, week))
        for same in same_tasks(later)
    ]
    heads = ("Day", "Task", "Beds, span, work")
    tasks = folded(count(len(rows), "task"), table("Tasks after this week", heads, rows))
    return section("later", "And then", tasks, class_="screen")


def _buy(plans: Sequence[BedPlan], week: Week) -> Piece:
    """Return one order for all beds, to be ticked off."""
    order = order_for(plans)
    lines = [
        joined((el("strong", head), el("span", ". ".join(behind), class_="note")))
        for head, *behind in (entry_words(entry, week.today) for entry in order.entries)
    ]
    bulk = [heap_words(heap) for heap in order.heaps]
    if order.loads:
        bulk.append(f"{count(order.loads, 'load')} at the volume and weight set for the vehicle")
    out = left_out_words(order)
    return section(
        "buy",
        "To buy for all beds",
        el("p", order_lead(order)),
        closed(
            "buy",
            count(len(lines) + len(bulk), "line"),
            bullets([*lines, *(sentence(words) for words in bulk)], "boxes"),
        ),
        folded("Not in this order", bullets(out)) if out else None,
    )


def _bed(whole: WholePlan, number: int, show: Show) -> Piece:
    """Return one bed: its sentence, and folded its picture, what it takes, and what is known."""
    plan = whole.plan
    told = tell(whole.answer, whole.record)
    drawn, words = chart(
        Report(plan=plan, window=whole.window, told=told, answer=whole.answer, show=show),
        f"bed{number}",
    )
    return el(
        "div",
        el("h3", plan.bed.name),
        el("p", sentence(plan_lead(plan))),
        folded("The soil and the date", el("figure", drawn), el("p", words)),
        _fold("To buy", shopping_words(plan.shopping)),
        _fold(
            "When to pull, when to water", [*pull_words(plan), *look_words(plan.look, plan.today)]
        ),
        _fold("This bed before", before_words(plan, show=show)),
        _fold("Good to know", _notes(plan, whole)),
    )


def _notes(plan: Plan, whole: WholePlan) -> list[str]:
    return [sentence(note) for note in (*plan.notes, *whole.notes)]


def _fold(summary: str, lines: Sequence[str]) -> Piece:
    if not lines:
        return Piece("")
    return folded(summary, bullets(sentence(line.removeprefix("· ")) for line in lines))
