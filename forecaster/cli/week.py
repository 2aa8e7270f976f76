"""`crossday week` and `crossday done`: what is due in every bed, and what of it is done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from forecaster.cli.book_shared import BOOK, JSON, ON, tell, today_here
from forecaster.cli.command import command
from forecaster.cli.kinds import DATE
from forecaster.cli.options import BEDS, declare
from forecaster.cli.output import FORCE, calendar_target
from forecaster.cli.place import opened
from forecaster.cli.several import WIDTH, planned, say_table, write_calendar

if TYPE_CHECKING:
    from forecaster.book import Book
    from forecaster.plan.week import Week

TODAY = click.option(
    "--today", type=DATE, metavar="YYYY-MM-DD", help="As of another day; later air is ignored."
)
OUTLOOK = click.option(
    "--outlook", metavar="FILE", help="Weather forecast of the beds' place: date, extremes, rain."
)


@command()
@declare(
    BEDS,
    click.option(
        "--weeks", type=click.IntRange(1, 80), default=4, show_default=True,
        help="How far ahead tasks are listed.",
    ),
    click.option("--csv", "as_csv", is_flag=True, help="Every task as a table."),
    click.option("--ics", metavar="OUT", help="Write the tasks as a calendar file too."),
    click.option(
        "--own-hours", is_flag=True,
        help="Write the table of hours per task beside the book, for you to change.",
    ),
    TODAY, OUTLOOK, BOOK, JSON, FORCE,
)  # fmt: skip
def week(
    *,
    beds: tuple[str, ...],
    weeks: int,
    as_csv: bool,
    ics: str | None,
    own_hours: bool,
    today: Any,
    outlook: str | None,
    path: str | None,
    as_json: bool,
    force: bool,
) -> None:
    """List what is due in all beds of the garden book, day by day.

    Each task stands on one day, its span behind it; what is done is gone. Hours of work are
    assumptions that you can change; soil too wet to work is said where the rain is known.
    """
    if own_hours:
        _write_hours(path)
        return
    if as_json and as_csv:
        raise click.UsageError("--json and --csv are two answers; ask for one of them.")
    calendar = None if ics is None else calendar_target(ics, force=force)
    found = planned(beds, path, None, today, outlook).week
    end = None if calendar is None else write_calendar(found.dues, found.today, calendar)
    _say(found, weeks, as_json=as_json, as_csv=as_csv)
    if end is not None:
        click.echo(end, err=as_json or as_csv)


def _say(found: Week, weeks: int, *, as_json: bool, as_csv: bool) -> None:
    if as_json:
        from forecaster.words.as_json import json_text
        from forecaster.words.week_forms import week_json

        click.echo(json_text(week_json(found)))
    elif as_csv:
        say_table(found)
    else:
        import shutil

        from forecaster.words.week import week_text

        width = min(shutil.get_terminal_size().columns, WIDTH)
        click.echo(week_text(found, width, weeks), nl=False)


def _write_hours(path: str | None) -> None:
    """Write the packaged hours beside the book; a table that is there stays."""
    from forecaster.ground.files import WORDS, Target, write
    from forecaster.packaged import data_path
    from forecaster.plan.hours import TABLE, own_hours

    with opened(path) as book:
        place = own_hours(book.path)
    if place.exists():
        raise click.UsageError(f"there is a table of your own already: {place}; change it there.")
    table = data_path(TABLE).read_bytes() + b"# Written by Crossday.\n"
    write([(Target(place, WORDS, f"the hours {str(place)!r}"), table)])
    click.echo(f"Hours per task: {place}\nChange the numbers; crossday week reads them from there.")


@command()
@declare(
    click.argument("task", metavar="TASK"),
    BEDS,
    click.option("--all", "every", is_flag=True, help="In every bed where it is open."),
    click.option("--undo", is_flag=True, help="Take the last tick of the task back."),
    ON, BOOK, JSON,
)  # fmt: skip
def done(
    task: str,
    *,
    beds: tuple[str, ...],
    every: bool,
    undo: bool,
    on: str | None,
    path: str | None,
    as_json: bool,
) -> None:
    """Tick a task off, by the name that `crossday week` gives: order, set-out.

    The tick stands in the garden book; --undo takes it back.
    """
    from forecaster.book.moments import day_of
    from forecaster.plan.ticking import tick, untick
    from forecaster.words.week import tick_words

    if undo and (on is not None or every):
        raise click.UsageError("--undo takes back what was ticked; leave out --on and --all.")
    with opened(path) as book:
        if undo:
            ticks, batch = untick(book, task, beds)
        else:
            day = day_of(on, today_here())
            ticks, batch = tick(book, _open(book, beds), task, beds, day, every=every)
    words = tick_words(ticks, today_here(), undone=undo)
    tell(words, {"undone": undo, "batch": batch, "ticks": ticks}, as_json=as_json)


def _open(book: Book, beds: Sequence[str]) -> list[Any]:
    """Return the tasks of beds, of those too whose air is too old to be told what to do."""
    from forecaster.answers.several import Beds
    from forecaster.book import done_tasks
    from forecaster.plan.several import plan_beds
    from forecaster.plan.week import dues, order

    shared = Beds(today_here())
    plans = plan_beds(shared, book, beds)
    errors = [one.error for one in plans if one.error is not None]
    if errors and len(errors) == len(plans):
        raise errors[0]
    found = [
        due
        for one in plans
        if one.whole is not None
        for due in dues(
            one.whole.plan,
            now=one.whole.plan.today,
            bed=one.bed.name,
            place=one.bed.place,
            ticked=done_tasks(book, one.bed.name),
        )
    ]
    return sorted(found, key=order)
