"""`crossday report`: the whole answer on one page, for a phone and for paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from forecaster.cli.command import command
from forecaster.cli.crops import ALL, OPTIONS, take_crops
from forecaster.cli.options import BED, CROPS, PLACE, takes
from forecaster.cli.output import FORCE, inputs, target
from forecaster.cli.place import keep
from forecaster.cli.plan import work_out

if TYPE_CHECKING:
    from forecaster.answers.crops import Crop, Wish

Command = TypeVar("Command", bound=Callable[..., Any])

DEFAULT_PAGE = "report.html"


@command()
@takes(PLACE)
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
    out: str,
    seed: int,
    check: bool,
    force: bool,
    **options: Any,
) -> None:
    """Put the whole answer on one page: dates, crops, tasks, shopping, what is assumed.

    FILE is a daily air-temperature record: a file, several, or a folder of one station.
    Without FILE, the garden book answers for a bed. The page needs no network, opens on a
    phone and prints on two sheets, with --colours on one more.
    """
    read = inputs(options, files)
    _check_page(out, read=read, force=force)
    show = options["show"].upper()
    left, asked, wish = _asked_crops(files, options)
    every = not asked or ALL in {name.casefold() for name in options["crop"]}
    own = options["crops"]
    whole = work_out(left, () if every else asked, wish, **options)
    from forecaster.report import gather, write_report

    made = gather(whole, asked, wish, own=own, seed=seed, check=check, show=show)
    keep(whole.record, whole.answer)
    write_report(made, out, inputs=read, force=force)
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
