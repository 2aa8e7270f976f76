"""Week: the tasks of every bed in one list by day, and what of them is done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster import book as kept
from forecaster.ground.errors import ForecasterError, InputError
from forecaster.page.say import sentence_of
from forecaster.page.views.common import Here, bed_named, garden

if TYPE_CHECKING:
    from forecaster.plan import WholePlan

views = Blueprint("week", __name__)
AHEAD = timedelta(days=7)
OVER = timedelta(days=45)  # a task that passed longer ago is of another season


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A task on a list.

    Parameters
    ----------
    bed, key, title : str
    first, likely, last : date
    standing : {"overdue", "now", "ahead"}
    why, care : str
    done : date or None
        The day on which it was ticked.
    """

    bed: str
    key: str
    title: str
    first: date
    likely: date
    last: date
    standing: str
    why: str
    care: str
    done: date | None = None


def lines_of(book: kept.Book, whole: WholePlan, here: Here) -> list[Line]:
    """Return the tasks of a bed's plan, by the day on which they are due."""
    from forecaster.words.plan import late_words

    now = here.now.date()
    ticked = kept.done_tasks(book, here.bed.name)
    found = []
    for task in whole.plan.tasks:
        late = late_words(task, whole.plan)
        found.append(
            Line(
                bed=here.bed.name,
                key=task.key,
                title=task.title,
                first=task.earliest,
                likely=task.likely,
                last=task.latest,
                standing=task.standing(now),
                why=late or task.why,
                care=task.caution,
                done=ticked.get(task.key),
            )
        )
    return sorted(found, key=lambda line: (line.last, line.bed, line.key))


@views.get("/week")
def week() -> str:
    """Show the tasks of all beds: late, this week, the season ahead."""
    groups: dict[str, list[Line]] = {name: [] for name in ("late", "now", "ahead", "done")}
    errors, heres = [], []
    with garden().open() as book:
        for bed in kept.beds(book):
            here = bed_named(book, bed.name)
            heres.append(here)
            try:
                whole = garden().whole(book, bed.name)
            except ForecasterError as error:
                errors.append((bed.name, sentence_of(error)))
                continue
            if why := stale_of(whole):
                errors.append((bed.name, why))
                continue
            for line in lines_of(book, whole, here):
                groups[_group(line, here.now.date())].append(line)
    for lines in groups.values():
        lines.sort(key=lambda line: (line.last, line.bed))
    groups["done"].sort(key=lambda line: line.done or line.last, reverse=True)
    today = heres[0].now.date() if heres else garden().now().date()
    return render_template(
        "week.html", groups=groups, errors=errors, today=today, beds=heres, here="week"
    )


def stale_of(whole: WholePlan) -> str:
    """Say why a plan tells no one what to do this week: its air ends too long ago; else nothing."""
    from forecaster.words.window import stale_words

    so_far = whole.window.so_far
    return stale_words(so_far.last_day, so_far.stale_days)


def _group(line: Line, now: date) -> str:
    if line.done is not None:
        return "done"
    if line.standing == "overdue":
        return "late"
    return "now" if line.first <= now + AHEAD else "ahead"


@views.post("/week/done")
def done() -> Answer | str:
    """Tick a task, or take the tick back."""
    key, name = request.form.get("key", ""), request.form.get("bed", "")
    with garden().open() as book:
        here = bed_named(book, name)
        lines = {line.key: line for line in lines_of(book, garden().whole(book, name), here)}
        if key not in lines:
            raise InputError("that task is no longer on the list; load the page again")
        if lines[key].done is None:
            with book.batch("done", lines[key].title) as batch:
                kept.add_done(batch, here.bed.name, key, lines[key].title, here.now.date())
        else:
            kept.undo(book, kept.done_batch(book, here.bed.name, key))
        if request.headers.get("HX-Request") == "true":
            lines = {line.key: line for line in lines_of(book, garden().whole(book, name), here)}
            return render_template("task.html", line=lines[key], today=here.now.date())
    return redirect("/" if request.form.get("back") == "today" else "/week", 303)


@views.get("/week/<season>.ics")
def calendar(season: str) -> Response:
    """Give the tasks of a bed as a calendar file."""
    from forecaster.words.plan_calendar import plan_calendar

    del season
    with garden().open() as book:
        here = bed_named(book, request.args.get("bed"))
        whole = garden().whole(book, here.bed.name)
    made = plan_calendar(whole.plan, place=here.place.name)
    named = {"Content-Disposition": 'attachment; filename="crossday.ics"'}
    return Response(made, mimetype="text/calendar", headers=named)
