"""`crossday check`: the forecast repeated for past seasons of a place, and how far it missed."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Self, TextIO, TypeVar

import click

from forecaster.cli.command import command
from forecaster.cli.door import ANSWERED, INTERRUPTED
from forecaster.cli.options import LEVEL, PLACE, declare, level_of, takes
from forecaster.cli.output import FORCE, check_picture, drawn, inputs
from forecaster.cli.place import read_place, thresholds_asked
from forecaster.cli.screen import uncleaned

if TYPE_CHECKING:
    from forecaster.words import Checked
    from forecaster.words.phrases import Level

Command = TypeVar("Command", bound=Callable[..., Any])

FURTHEST_DAYS = 180  # before the usual date


def _leads(_: click.Context, __: click.Parameter, value: str) -> tuple[int, ...]:
    """Return days before the usual date, as 0,7,14."""
    if not re.fullmatch(r"\d{1,3}(,\d{1,3})*", value.replace(" ", "")):
        raise click.BadParameter(f"{value!r} is not understood; write days, as 0,7,14,28.")
    days = tuple(sorted({int(part) for part in value.split(",")}))
    if days[-1] > FURTHEST_DAYS:
        raise click.BadParameter(f"{days[-1]} days is too far; expected 0 to {FURTHEST_DAYS}.")
    return days


LEADS = click.option(
    "--leads", "leads_days", default="0,7,14,28,42", show_default=True, callback=_leads,
    metavar="DAYS", help="How many days before the usual date a forecast of the check is issued.",
)  # fmt: skip


@command()
@takes(PLACE, without=("outlook",))
@click.option(
    "--seasons",
    type=click.IntRange(min=1),
    metavar="N",
    help="Check the latest N seasons only. Default: all that the record holds.",
)
@LEADS
@declare(*LEVEL)
@click.option("--json", "as_json", is_flag=True, help="Answer for a program.")
@click.option(
    "--out", metavar="PICTURE",
    help="Draw it too: .png or .svg; a description goes beside it as .txt.",
)  # fmt: skip
@FORCE
def check(
    files: tuple[str, ...],
    *,
    seasons: int | None,
    leads_days: tuple[int, ...],
    as_json: bool,
    out: str | None,
    force: bool,
    **options: Any,
) -> int:
    """Forecast the past seasons of this place and say how far each forecast missed.

    Each forecast knows only what was known on its day. With daily soil readings (--readings)
    covering five seasons it checks the whole forecast, else the weather part alone. Ctrl-C
    shows what is done so far.
    """
    level = level_of(options)
    read = inputs(options, files)
    if out is not None:
        check_picture(out, read=read, force=force)
    checked = _checked(files, seasons=seasons, leads_days=leads_days, **options)
    _say_checked(checked, as_json=as_json, show=options["show"].upper(), level=level)
    if out is not None:
        from forecaster.charts.check import draw_check

        beside = draw_check(checked, out, inputs=read, force=force)
        click.echo(drawn(out, beside), err=as_json)
    return ANSWERED if checked.hindcast.complete else INTERRUPTED


def _checked(
    files: Sequence[str],
    *,
    seasons: int | None,
    leads_days: tuple[int, ...],
    crop_class: str | None,
    threshold: str | None,
    direction: str | None,
    show: str,
    **options: Any,
) -> Checked:
    """Read what was named and forecast its past seasons."""
    del show
    thresholds = thresholds_asked(crop_class, threshold, direction)
    record = read_place(files, **options)

    from forecaster.answers.check import hindcast
    from forecaster.words import Checked

    with Progress(uncleaned(sys.stderr)) as progress:
        found = hindcast(
            *record.known(), thresholds=thresholds, leads_days=leads_days, seasons=seasons,
            progress=progress,
        )  # fmt: skip
    return Checked(found, record.site, record.accounts, record.notes)


class Progress:
    """Says how far long work has come: a bar on a terminal, else a line at each quarter."""

    def __init__(self, out: TextIO) -> None:
        self.out, self.quarter, self.bar = out, 0, None
        if out.isatty():
            from rich.console import Console
            from rich.progress import Progress as Bar

            self.bar = Bar(console=Console(file=out), transient=True)

    def __enter__(self) -> Self:
        """Show the bar."""
        if self.bar is not None:
            self.bar.start()
            self.bar.add_task("forecasts", total=None)
        return self

    def __exit__(self, *_: object) -> None:
        """Take the bar away, also after Ctrl-C."""
        if self.bar is not None:
            self.bar.stop()

    def __call__(self, done: int, total: int) -> None:
        """Say so if there is something new to say."""
        if self.bar is not None:
            self.bar.update(self.bar.task_ids[0], completed=done, total=total)
        elif 4 * done // total > self.quarter:
            self.quarter = 4 * done // total
            self.out.write(f"forecast {done} of {total}\n")
            self.out.flush()


def _say_checked(checked: Checked, *, as_json: bool, show: str, level: Level) -> None:
    from forecaster.words import checked_json, checked_text

    if as_json:
        from forecaster.words.as_json import json_text

        click.echo(json_text(checked_json(checked)))
        return
    import shutil

    width = shutil.get_terminal_size().columns
    click.echo(checked_text(checked, width, show, level), nl=False)  # type: ignore[arg-type]
