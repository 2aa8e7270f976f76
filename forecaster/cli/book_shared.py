"""What the book's commands share: options, beds found or made, answers told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, is_dataclass
from typing import TYPE_CHECKING, Any

import click

from forecaster.cli.bare import DAY_TOLD
from forecaster.cli.kinds import SCALES, SCALES_SHOWN, once

if TYPE_CHECKING:
    from datetime import date

    from forecaster.book import Batch, Bed

BOOK = click.option("--book", "path", metavar="PATH", help="The book's file; else the usual one.")
JSON = click.option("--json", "as_json", is_flag=True, help="Answer for a program.")
BED = click.option(
    "--bed", metavar="NAME", multiple=True, callback=once,
    help="Which bed; may be left out if there is one.",
)  # fmt: skip
PLACE = click.option("--place", metavar="NAME", help="Which place; needed if there are several.")
SHOW = click.option(
    "--show", type=SCALES_SHOWN, metavar="F|C", default="F", show_default=True,
    help="Scale of the answer.",
)  # fmt: skip
ON = click.option("--on", type=DAY_TOLD, metavar="YYYY-MM-DD", help="The day; default: today.")
UNITS = click.option(
    "--units", type=SCALES, metavar="F|C|K", help="Unit of the file, where it does not say."
)
DAY_FIRST = click.option(
    "--day-first/--month-first", default=None, help="Order in dates such as 3/4/2025."
)
FIRST_PLACE, FIRST_BED = "garden", "bed"


def tell(words: Sequence[str], data: dict[str, Any], *, as_json: bool) -> None:
    """Print an answer in words, or for a program."""
    if as_json:
        from forecaster.words.as_json import json_text

        click.echo(json_text(plain(data)))
        return
    for line in words:
        click.echo(line)


def plain(value: Any) -> Any:
    """Return a value as JSON's own types."""
    if is_dataclass(value) and not isinstance(value, type):
        return plain(asdict(value))
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, float) and value != value:  # noqa: PLR0124
        return None
    return value.isoformat() if hasattr(value, "isoformat") else value


def written(rows: Mapping[str, int], where: str) -> str:
    """Say how many rows went where."""
    from forecaster.words.phrases import count

    return f"{count(sum(rows.values()), 'row')} written to {where}."


def today_here() -> date:
    """Return the day on this computer's calendar."""
    from datetime import date

    return date.today()


def scale(show: str) -> Any:
    """Return the scale shown as the words take it."""
    return show.upper()


def bed_for(batch: Batch, name: str | None) -> Bed:
    """Return the bed named, or the only one; the first is made when it is first spoken of."""
    from forecaster.book import Bed, add_bed, beds, find_bed, find_place, places

    if not beds(batch.book) and len(places(batch.book)) == 1:
        made = Bed(name=FIRST_BED if name is None else name, place=find_place(batch.book).name)
        add_bed(batch, made)
        return made
    return find_bed(batch.book, name)


def outline_said(text: str) -> dict[str, Any]:
    """Return what a bed is told of its outline, from the words that `plan --outline` takes."""
    from forecaster.plan.layout.read_shape import read_outline

    found = read_outline(text)
    told = {"area_m2": found.area_m2, "outline": (), "shape": " ".join(text.split())}
    return told | ({"outline": found.corners_m[0], "shape": ""} if found.kind == "polygon" else {})


def share_of(text: str) -> float:
    """Return a share from words as 5% or 0.05."""
    whole = text.strip().endswith("%")
    try:
        return float(text.strip().removesuffix("%")) / (100.0 if whole else 1.0)
    except ValueError as error:
        raise click.UsageError(f"--organic {text!r}: expected a share, as 5% or 0.05.") from error
