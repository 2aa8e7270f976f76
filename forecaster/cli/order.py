"""`crossday order`: what to order for all beds of the garden book, in one list."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from forecaster.cli.book_shared import BOOK, JSON
from forecaster.cli.command import command
from forecaster.cli.kinds import DATE
from forecaster.cli.options import BED, BEDS, declare, takes
from forecaster.cli.several import WIDTH, planned

if TYPE_CHECKING:
    from forecaster.plan.order import Order

ASKED = (
    "season", "spacing", "pattern", "flat", "price", "spare", "currency", "depth_of_renewal",
    "ratio", "bag", "load", "payload", "fertilizer", "nitrogen",
)  # fmt: skip
"""What of a bed's options an order takes: said for all beds, above what the book says."""
UNSAID: dict[str, Any] = {
    "name": "", "area": None, "outline": None, "crop": (), "colours": None, "sow_weeks": None,
    "flow": None, "late_weight": None, "planted": None, "rest": False, "no_turf": False,
    "crop_class": None, "threshold": None, "direction": None,
}  # fmt: skip


@command()
@declare(BEDS)
@takes(BED, without=tuple(name for name in BED if name not in ASKED))
@declare(
    click.option("--csv", "as_csv", is_flag=True, help="The list as a table."),
    click.option(
        "--today", type=DATE, metavar="YYYY-MM-DD", help="As of another day; later air is ignored."
    ),
    BOOK, JSON,
)  # fmt: skip
def order(
    *, beds: tuple[str, ...], path: str | None, as_csv: bool, as_json: bool, today: Any, **how: Any
) -> None:
    """List what to order for all beds, in one list.

    What goes in is said with crossday book want. Counts are those of each bed's plan and of its
    planting sheet; sizes of flats are alternatives, the first is reckoned with.
    """
    if as_json and as_csv:
        raise click.UsageError("--json and --csv are two answers; ask for one of them.")
    from forecaster.cli.plan import asking
    from forecaster.plan.order import order_for

    found = planned(beds, path, asking({**UNSAID, **how}), today)
    _say(order_for(found.plans), found.week.today, as_json=as_json, as_csv=as_csv)


def _say(made: Order, today: Any, *, as_json: bool, as_csv: bool) -> None:
    if as_json:
        from forecaster.words.as_json import json_text
        from forecaster.words.orders import order_json

        click.echo(json_text(order_json(made)))
    elif as_csv:
        from forecaster.words.orders import left_out_words, order_csv

        click.echo(order_csv(made), nl=False)
        for words in left_out_words(made):
            click.echo(words, err=True)
    else:
        import shutil

        from forecaster.words.orders import order_text

        width = min(shutil.get_terminal_size().columns, WIDTH)
        click.echo(order_text(made, today, width), nl=False)
