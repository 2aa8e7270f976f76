"""`crossday report`: the whole answer on one page, for a phone and for paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from forecaster.cli.command import command
from forecaster.cli.crops import ALL, OPTIONS, take_crops
from forecaster.cli.options import BED, CROPS, PLACE, SEVERAL, declare, takes
from forecaster.cli.output import FORCE, inputs, target
from forecaster.cli.place import keep
from forecaster.cli.plan import plan_several, work_out

if TYPE_CHECKING:
    from forecaster.answers.crops import Crop, Wish
    from forecaster.cli.several import Planned
    from forecaster.words.phrases import Show

Command = TypeVar("Command", bound=Callable[..., Any])

DEFAULT_PAGE = "report.html"


@command()
@takes(PLACE, without=("bed",))
@declare(*SEVERAL)
@takes(BED, without=("crop",))
@takes(CROPS, without=("season",))
@click.option(
    "--out", default=DEFAULT_PAGE, show_default=True, metavar="PAGE",
    help="Where to write it: a name ending in .html.",
)  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(min=0), default=0, help="Another seed, another scatter."
)
@click.option(
    "--check/--no-check", default=True, show_default=True,
    help="Forecast past seasons too, to say how far they missed.",
)  # fmt: skip
@FORCE
def report(
    files: tuple[str, ...],
    *,
    beds: tuple[str, ...],
    every: bool,
    out: str,
    seed: int,
    check: bool,
    force: bool,
    **options: Any,
) -> None:
    """Put the whole answer on one page: dates, crops, tasks, shopping, what is assumed.

    FILE is a daily air-temperature record: a file, several, or a folder of one station.
    Without FILE, the garden book answers for a bed. The page needs no network, opens on a
    phone and prints on two sheets, with --colours on one more. Of several beds, or --all, it
    has the week of all, when each is planted, and what each takes.
    """
    read = inputs(options, files)
    _check_page(out, read=read, force=force)
    if every or len(beds) > 1:
        left, asked, wish = _asked_crops(files, options)
        found = plan_several(left, beds, options, asked, wish)
        _write_garden(found, out, read=read, force=force, show=options["show"].upper())
        return
    options["bed"] = beds[0] if beds else None
    show = options["show"].upper()
    left, asked, wish = _asked_crops(files, options)
    all_crops = not asked or ALL in {name.casefold() for name in options["crop"]}
    own = options["crops"]
    whole = work_out(left, () if all_crops else asked, wish, **options)
    from forecaster.report import gather, write_report

    made = gather(whole, asked, wish, own=own, seed=seed, check=check, show=show)
    keep(whole.record, whole.answer)
    write_report(made, out, inputs=read, force=force)
    click.echo(f"Page: {out}")


def _write_garden(
    found: Planned, out: str, *, read: Sequence[str], force: bool, show: Show
) -> None:
    """Write the page of several beds, and keep the forecasts that it shows."""
    from forecaster.report.garden import garden_html
    from forecaster.report.page import write_page

    made = garden_html(found.plans, found.week, show)
    for one in found.plans:
        if one.whole is not None:
            keep(one.whole.record, one.whole.answer)
    write_page(made, out, inputs=read, force=force)
    click.echo(f"Page: {out}")


def _check_page(out: str, **how: Any) -> None:
    """Refuse a name that cannot be written before the long work begins."""
    from pathlib import Path

    from forecaster.ground.files import PAGE

    if Path(out).suffix.lower() not in (".html", ".htm"):
        raise click.UsageError(f"--out {out!r}: expected a name ending in .html.")
    target(out, PAGE, **how)


def _asked_crops(
    files: Sequence[str], options: dict[str, Any]
) -> tuple[tuple[str, ...], tuple[Crop, ...], Wish]:
    """Return the files that are left, the crops named, none or more, and what is wanted of them."""
    given = {name: options[name] for name in (*OPTIONS, "crop_class")}
    left, asked = take_crops(files, given | {"crop": given["crop"] or (ALL,)})
    if not given["crop"]:
        if len(left) == len(files) and asked is not None:
            return left, (), asked.wish
        left, asked = take_crops(files, dict(given))
    assert asked is not None  # noqa: S101 - for the type checker; crops are named
    return left, asked.crops, asked.wish
