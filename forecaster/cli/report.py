"""`crossday report`: the whole answer on one page, for a phone and for paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from forecaster.cli.crops import ALL, OPTIONS, take_crops
from forecaster.cli.options import BED, CROPS, PLACE, takes
from forecaster.cli.output import there
from forecaster.cli.plan import counts_of, scattered, work_out
from forecaster.cli.when import touched

if TYPE_CHECKING:
    from forecaster.answers.crops import Crop, Wish
    from forecaster.cli.plan import Made
    from forecaster.report import Report
    from forecaster.words import Checked, Told
    from forecaster.words.crops import CropTold

Command = TypeVar("Command", bound=Callable[..., Any])

DEFAULT_PAGE = "report.html"
SEASONS, LEADS_DAYS = 10, (0, 14, 28)


@click.command()
@takes(PLACE)
@takes(BED, without=("crop",))
@takes(CROPS, without=("season",))
@click.option(
    "--out", default=DEFAULT_PAGE, show_default=True, metavar="PAGE",
    help="Where to write it: a name ending in .html.",
)  # fmt: skip
@click.option(
    "--colours", metavar="NAME=N,…",
    help="Plants by colour, to be scattered on a sheet of their own: yellow=72,white=72.",
)  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(min=0), default=0, help="Another seed, another scatter."
)
@click.option(
    "--check/--no-check", default=True, show_default=True,
    help="Forecast past seasons too, to say how far they missed.",
)  # fmt: skip
def report(
    files: tuple[str, ...],
    *,
    out: str,
    colours: str | None,
    seed: int,
    check: bool,
    **options: Any,
) -> None:
    """Put the whole answer on one page: dates, crops, tasks, shopping, what is assumed.

    FILE is a daily air-temperature record: a file, several, or a folder of one station.
    Without FILE, the garden book answers for a bed. The page needs no network, opens on a
    phone and prints on two sheets, with --colours on one more.
    """
    _check_page(out)
    counts = None if colours is None else counts_of(colours)
    made = gather(files, counts=counts, seed=seed, check=check, **options)
    from forecaster.report import write_report

    try:
        write_report(made, out)
    except OSError as error:
        raise click.UsageError(f"--out {out!r}: {error.strerror}; name another file.") from error
    click.echo(f"Page: {out}")


def _check_page(out: str) -> None:
    """Refuse a name that cannot be written before the long work begins."""
    from pathlib import Path

    path = Path(out)
    if path.suffix.lower() not in (".html", ".htm"):
        raise click.UsageError(f"--out {out!r}: expected a name ending in .html.")
    if not there(path.parent, folder=True):
        raise click.UsageError(
            f"--out {out!r}: there is no folder {str(path.parent)!r}; make it, or name another."
        )


def gather(
    files: Sequence[str],
    *,
    counts: dict[str, int] | None = None,
    seed: int = 0,
    check: bool = True,
    **options: Any,
) -> Report:
    """Return everything that the page says."""
    left, asked, wish = _asked_crops(files, options)
    if asked and options["season"] is None:
        options["season"] = season_of(asked[0])
    every = not asked or ALL in {name.casefold() for name in options["crop"]}
    options["crop"] = None if every else asked[0].name
    made = work_out(left, **options)
    layout = None if counts is None else scattered(made.plan, counts, seed)
    checked, no_check = _checked(made) if check else (None, "not asked for: --check does it")

    from forecaster.report import Report

    told = _told(made)
    if made.read.held is not None:
        from forecaster.cli.place import keep

        keep(made.read.held, made.answer, told.today, told.site.depth_m)
    crops = _crops(made, asked, wish, options["crops"])
    show = options["show"].upper()
    return Report(made.plan, told, made.answer, crops, checked, no_check, layout, show)


def season_of(crop: Crop) -> str:
    """Return the season in which a crop is usually begun."""
    return "autumn" if crop.crop_class == "cool" else "spring"


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


def _told(made: Made) -> Told:
    from forecaster.ingest import account_of
    from forecaster.words import Told

    answer, read = made.answer, made.read
    accounts = dict(read.accounts)
    if made.ahead is not None:
        accounts["Outlook"] = account_of(made.ahead)
    return Told(
        answer.windows,
        made.plan.today,
        read.site,
        accounts,
        touched(answer),
        (*made.notes, *answer.notes),
        answer.outliers,
        read.title,
    )


def _crops(made: Made, asked: Sequence[Crop], wish: Wish, own: str | None) -> CropTold:
    """Return the windows of the crops asked about, or of all that suit the season."""
    from dataclasses import replace

    from forecaster.answers.crops import crop_windows, known_crops
    from forecaster.words.crops import CropTold

    season = made.plan.season
    crops = asked or [c for c in known_crops(own=own).values() if season_of(c) == season]
    wish = wish if asked else replace(wish, season=season)
    if all(season_of(crop) == season for crop in crops):
        wish = replace(wish, begins=made.plan.window.season_start)
    answer = crop_windows(
        made.read.air,
        made.read.site,
        crops,
        today=made.plan.today,
        wish=wish,
        readings=made.read.log,
        outlook=made.ahead,
    )
    return CropTold(answer, made.read.site, made.read.accounts, made.notes, made.read.title)


def _checked(made: Made) -> tuple[Checked | None, str]:
    """Return the forecast of past seasons of the plan's threshold, or why there is none."""
    from datetime import datetime, time, timedelta

    import pandas as pd

    from forecaster.answers.check import hindcast
    from forecaster.errors import NotEnoughData
    from forecaster.words import Checked

    today, read = made.plan.today, made.read
    after = datetime.combine(today, time()) + timedelta(days=1)
    log = None if read.log is None else read.log[read.log["time"] < after]
    try:
        found = hindcast(
            read.air.loc[: pd.Timestamp(today)],
            read.site,
            log,
            thresholds=[made.plan.window.threshold],
            leads_days=LEADS_DAYS,
            seasons=SEASONS,
        )
    except NotEnoughData as error:
        return None, f"not done: {error}"
    return Checked(found, read.site, read.accounts, made.notes), ""
