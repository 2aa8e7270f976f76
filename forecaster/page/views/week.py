"""Week: the tasks of every bed in one list by day, and what of them is done.

The days come from `forecaster.plan.week`, as those of `crossday week` and the calendar file do.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster import book as kept
from forecaster.ground.errors import ForecasterError, InputError
from forecaster.page.say import day_asked, sentence_of
from forecaster.page.views.common import Here, bed_named, garden

if TYPE_CHECKING:
    from forecaster.plan import WholePlan
    from forecaster.plan.several import BedPlan
    from forecaster.plan.week import Due, Silent, Week

views = Blueprint("week", __name__)
FARTHEST = timedelta(days=365)


def lines_of(book: kept.Book, whole: WholePlan, here: Here) -> list[Due]:
    """Return the tasks of a bed's plan, by the day on which they are due."""
    from forecaster.plan.several import BedPlan
    from forecaster.plan.week import week_of

    return list(week_of(book, [BedPlan(here.bed, whole)], now=here.now.date()).dues)


def plan_of(book: kept.Book, here: Here) -> BedPlan:
    """Return a bed with its plan, or why it has none."""
    from forecaster.plan.several import BedPlan

    try:
        return BedPlan(here.bed, garden().whole(book, here.bed.name))
    except ForecasterError as error:
        return BedPlan(here.bed, error=error)


def weeks_of(book: kept.Book, heres: list[Here]) -> list[Week]:
    """Return the week of the beds: one, or more where a place's clock stands on another day."""
    from forecaster.plan.week import week_of

    plans: dict[date, list[BedPlan]] = {}
    for here in heres:
        plans.setdefault(here.now.date(), []).append(plan_of(book, here))
    return [week_of(book, some, now=now) for now, some in plans.items()]


@views.get("/week")
def week() -> str:
    """Show the tasks of all beds: late, this week, the season ahead."""
    from forecaster.plan.week import order
    from forecaster.words.week import week_lead, wet_words

    with garden().open() as book:
        heres = [bed_named(book, bed.name) for bed in kept.beds(book)]
        weeks = weeks_of(book, heres)
    dues = sorted((due for one in weeks for due in one.dues), key=order)
    groups = {name: [due for due in dues if due.when == name] for name in ("late", "week", "ahead")}
    groups["done"] = sorted(
        (due for due in dues if due.done), key=lambda due: (due.done, due.bed), reverse=True
    )
    return render_template(
        "week.html",
        groups=groups,
        errors=[(one.bed, silent_words(one)) for each in weeks for one in each.silent],
        leads=[week_lead(one) for one in weeks if one.dues],
        remarks=[words for one in weeks for words in wet_words(one)],
        today=weeks[0].today if weeks else garden().now().date(),
        beds=heres,
        here="week",
    )


def silent_words(silent: Silent) -> str:
    """Say why a bed has nothing on the list."""
    from forecaster.words.window import stale_words

    if silent.error is not None:
        return sentence_of(silent.error)
    return stale_words(silent.last_day, silent.stale_days)


@views.post("/week/done")
def done() -> Answer | str:
    """Tick a task, or take the tick back."""
    key, name = request.form.get("key", ""), request.form.get("bed", "")
    with garden().open() as book:
        here = bed_named(book, name)
        lines = {due.task.key: due for due in lines_of(book, garden().whole(book, name), here)}
        if key not in lines:
            raise InputError("that task is no longer on the list; load the page again")
        title = lines[key].task.title
        if lines[key].done is None:
            with book.batch("done", title) as batch:
                kept.add_done(batch, here.bed.name, key, title, here.now.date())
        else:
            kept.undo(book, kept.done_batch(book, here.bed.name, key))
        if request.headers.get("HX-Request") == "true":
            lines = {due.task.key: due for due in lines_of(book, garden().whole(book, name), here)}
            return render_template(
                "task.html",
                line=lines[key],
                today=here.now.date(),
                here="today" if request.form.get("back") == "today" else "week",
            )
    return redirect("/" if request.form.get("back") == "today" else "/week", 303)


@views.post("/week/move")
def move() -> Answer:
    """Move a task to another day, or back to its own."""
    key, name = request.form.get("key", ""), request.form.get("bed", "")
    with garden().open() as book:
        here = bed_named(book, name)
        if request.form.get("back") == "yes":
            for number in kept.moved_batches(book, here.bed.name, key):
                kept.undo(book, number)
            return redirect("/week", 303)
        day = day_asked(request.form.get("to", ""), "the day")
        due = {due.task.key: due for due in lines_of(book, garden().whole(book, name), here)}.get(
            key
        )
        if due is None:
            raise InputError("that task is no longer on the list; load the page again")
        if day is None or not here.now.date() <= day <= here.now.date() + FARTHEST:
            raise InputError("a task is moved to a day from today on, within a year")
        with book.batch("moved", due.task.title) as batch:
            kept.add_moved(batch, here.bed.name, key, due.task.title, day)
    return redirect("/week", 303)


@views.get("/week/garden.ics")
def calendar() -> Response:
    """Give the tasks of all beds, or of those named, as one calendar file."""
    from forecaster.words.plan_calendar import garden_calendar

    with garden().open() as book:
        names = request.args.getlist("bed") or [bed.name for bed in kept.beds(book)]
        heres = [bed_named(book, name) for name in names]
        weeks = weeks_of(book, heres)
        now = weeks[0].today if weeks else garden().now().date()
        made = garden_calendar([due for one in weeks for due in one.dues], now)
    named = {"Content-Disposition": 'attachment; filename="crossday.ics"'}
    return Response(made, mimetype="text/calendar", headers=named)
