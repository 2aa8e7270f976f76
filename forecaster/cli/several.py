"""Several beds of the garden book asked at once: what `week`, `plan` and `report` share."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from forecaster.cli.book_shared import today_here
from forecaster.cli.place import opened

if TYPE_CHECKING:
    from datetime import date, datetime

    from forecaster.answers.record import Record
    from forecaster.answers.several import Beds
    from forecaster.ground.files import Target
    from forecaster.plan import Changeover
    from forecaster.plan.several import BedPlan
    from forecaster.plan.week import Due, Week

OF_ONE_BED = (
    "name", "area", "outline", "planted", "depth", "soil", "cover", "since", "colours", "layout",
)  # fmt: skip
OF_FILE = (
    "lat", "lon", "readings", "clock", "columns", "probe", "units", "readings_units", "obs_hour",
    "day_first",
)  # fmt: skip
WIDTH = 80


@dataclass(frozen=True, slots=True)
class Planned:
    """Several beds planned, the week they make together, and what they share."""

    plans: Sequence[BedPlan]
    week: Week
    shared: Beds


def planned(
    beds: Sequence[str],
    path: str | None,
    asked: Callable[[Record], Changeover] | None = None,
    today: datetime | None = None,
    outlook: str | None = None,
) -> Planned:
    """Return the beds named, or all, planned as of today or another day.

    One bed that was named and cannot be planned is an error, as is a book in which none can.
    """
    from forecaster.answers.several import Beds
    from forecaster.book import find_bed
    from forecaster.ingest import read_air
    from forecaster.plan.several import plan_beds
    from forecaster.plan.week import week_of

    ahead = None if outlook is None else read_air(outlook)
    shared = Beds(today_here(), None if today is None else today.date(), ahead)
    with opened(path) as book:
        plans = plan_beds(shared, book, beds, asked)
        if not plans:
            find_bed(book)  # says how to make one
        errors = [one.error for one in plans if one.error is not None]
        if errors and (beds or len(errors) == len(plans)):
            raise errors[0]
        return Planned(plans, week_of(book, plans, now=shared.now), shared)


def refuse_for_several(files: Sequence[str], options: Mapping[str, Any]) -> None:
    """Refuse what can be said of one bed only, or of a file."""
    if files:
        raise click.UsageError("give FILE, or beds of the garden book; not both.")
    for names, why in (
        (OF_ONE_BED, "is said of one bed; ask for one, or put it into the book."),
        (OF_FILE, "belongs to FILE; the book has the beds' own."),
    ):
        for name in names:
            if options.get(name) not in (None, "", (), False):
                option = {"columns": "column"}.get(name, name).replace("_", "-")
                raise click.UsageError(f"--{option} {why}")


def write_calendar(dues: Sequence[Due], now: date, calendar: Target) -> str:
    """Write tasks as a calendar and say where."""
    from forecaster.ground.files import write
    from forecaster.words.plan_calendar import garden_calendar

    write([(calendar, garden_calendar(dues, now))])
    return f"Calendar: {calendar.path}"


def say_plans(found: Planned, calendar: Target | None, *, as_json: bool, as_csv: bool) -> None:
    """Print the plans of several beds in the form asked for."""
    end = None
    if calendar is not None:
        end = write_calendar(found.week.dues, found.week.today, calendar)
    if as_json:
        from forecaster.words.as_json import json_text
        from forecaster.words.week_forms import plans_json

        click.echo(json_text(plans_json(found.plans, found.week)))
    elif as_csv:
        say_table(found.week)
    else:
        import shutil

        from forecaster.words.week import plans_text

        width = min(shutil.get_terminal_size().columns, WIDTH)
        click.echo(plans_text(found.plans, found.week, width), nl=False)
    if end is not None:
        click.echo(end, err=as_json or as_csv)


def say_table(week: Week) -> None:
    """Print tasks as a table; beds that have none in it are said beside it."""
    from forecaster.words.week import silent_words
    from forecaster.words.week_forms import tasks_csv

    click.echo(tasks_csv(week.dues), nl=False)
    for words in silent_words(week):
        click.echo(words, err=True)
