"""`crossday book want`, `outcome`, `cost`, `summary`: a season's wishes and what came of them."""

from __future__ import annotations

import re
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from forecaster.cli.book_shared import BED, BOOK, JSON, ON, SHOW, scale, tell, today_here
from forecaster.cli.command import command
from forecaster.cli.kinds import LENGTH, share
from forecaster.cli.options import DIRECTIONS, declare
from forecaster.cli.place import opened
from forecaster.cli.wanted import colours_of, flats_of, weeks_of

if TYPE_CHECKING:
    from datetime import date

    from forecaster.book import Book, Outcome

SEASON_KEY = click.option(
    "--season", "season", metavar="YEAR-SEASON",
    help="As 2026-autumn. Default: the half of the year that the day lies in.",
)  # fmt: skip


@command()
@declare(
    click.argument("what", metavar="WHAT"),
    click.option(
        "--bed", "beds", metavar="NAME", multiple=True,
        help="Which bed; repeat for more. May be left out if there is one.",
    ),
    click.option(
        "--season", type=click.Choice(list(DIRECTIONS)),
        help="Default: autumn for cool-season crops, spring for warm.",
    ),
    click.option("--variety", default="", metavar="NAME", help="Which variety."),
    click.option(
        "--colours", metavar="NAME[=N],…",
        help="Plants by colour, yellow=72,white=72; without numbers they share the bed evenly.",
    ),
    click.option("--count", type=click.IntRange(1, 200_000), help="How many; default: what fits."),
    click.option("--spacing", type=LENGTH, metavar="LENGTH", help="Between plants, as 8in."),
    click.option(
        "--flat", multiple=True, metavar="N[=PRICE]",
        help="Plants a flat, with its price if you know it, as 36=18.50. May be repeated.",
    ),
    click.option("--currency", default="", metavar="NAME", help="Of the prices, as USD."),
    click.option("--spare", metavar="SHARE", callback=share, help="To order beyond it, as 5%."),
    click.option("--weeks", metavar="A-B", help="Weeks that the grower needs, as 8-10."),
    click.option("--drop", is_flag=True, help="It is no longer wanted there."),
    BOOK, JSON,
)  # fmt: skip
def want(
    what: str,
    *,
    beds: tuple[str, ...],
    season: str | None,
    drop: bool,
    path: str | None,
    as_json: bool,
    **how: Any,
) -> None:
    """Write down what goes into beds each season.

    Orders and plans count it; each thing named takes an equal part of its bed. It holds until
    it is said anew or dropped.
    """
    from forecaster.book import add_want, drop_want, find_bed
    from forecaster.words.season import want_line

    made = []
    when = _season(what, season)
    with opened(path) as held, held.batch("want", what) as batch:
        for name in beds or (None,):
            bed = find_bed(held, name).name
            one = _want(bed, when, what, how)
            if drop:
                drop_want(batch, bed, one.season, what, one.variety)
            else:
                add_want(batch, one)
            made.append(one)
    words = [f"{want_line(one)}{': no longer wanted' if drop else ''}." for one in made]
    tell(words, {"dropped": drop, "wants": made}, as_json=as_json)


def _season(what: str, season: str | None) -> str:
    from forecaster.plan.wanted import known_crop

    if season is not None:
        return season
    crop = known_crop(what)
    if crop is None:
        raise click.UsageError(f"say when {what!r} goes in: --season autumn or --season spring.")
    return "autumn" if crop.crop_class == "cool" else "spring"


def _want(bed: str, season: str, what: str, how: dict[str, Any]) -> Any:
    from forecaster.book import Want

    sizes, prices = flats_of(how["flat"], None)
    return Want(
        bed=bed,
        season=season,  # type: ignore[arg-type]
        what=what,
        variety=how["variety"],
        colours=() if how["colours"] is None else colours_of(how["colours"]),
        plants=how["count"],
        spacing_m=how["spacing"],
        flats=tuple((size, prices.get(size)) for size in sizes),
        currency=how["currency"],
        spare_share=how["spare"] or 0.0,
        weeks=None if how["weeks"] is None else weeks_of(how["weeks"], "--weeks"),
    )


@command()
@declare(
    click.argument("what", metavar="WHAT"),
    BED,
    click.option("--survived", metavar="N|SHARE", help="Plants alive, as 130, or 90%."),
    click.option("--count", type=click.IntRange(1, 10**9), help="How many were planted."),
    click.option(
        "--planted", metavar="YYYY-MM-DD", help="When; default: the book's last planting of it."
    ),
    click.option("--note", default="", metavar="TEXT", help="What else was seen."),
    ON, BOOK, JSON,
)  # fmt: skip
def outcome(
    what: str, *, bed: str | None, on: str | None, path: str | None, as_json: bool, **how: Any
) -> None:
    """Write down what survived of a planting.

    `crossday plan` shows it beside the forecast when the bed is planted again.
    """
    from forecaster.book import add_outcome, find_bed
    from forecaster.book.moments import day_of
    from forecaster.words.season import outcome_line

    seen = day_of(on, today_here())
    with opened(path) as held, held.batch("outcome", what) as batch:
        entry = _outcome(held, find_bed(held, bed).name, what, seen, how)
        add_outcome(batch, entry)
    tell([f"{outcome_line(entry, today_here())}."], asdict(entry), as_json=as_json)


def _outcome(book: Book, bed: str, what: str, seen: date, how: dict[str, Any]) -> Outcome:
    """Return an outcome; its planting is the one told, else the last of it in the book."""
    from forecaster.book import Outcome
    from forecaster.book.moments import day_of
    from forecaster.plan.history import last_planting

    told = how["planted"]
    day = None if told is None else day_of(told, today_here())
    known = last_planting(book, bed, what, seen, day)
    if known is None and day is None:
        raise click.UsageError(
            f"the book has no planting of {what!r} in {bed!r}; say when it was: "
            "--planted 2026-10-20, and --count how many."
        )
    survived, part = _survived(how["survived"])
    many = how["count"] or (None if known is None else known.how_many)
    return Outcome(
        bed=bed,
        what=what if known is None else known.what,
        planted=day or known.day,  # type: ignore[union-attr]  # one of them is known
        seen=seen,
        how_many=many,
        survived=survived,
        share=part,
        note=how["note"],
    )


def _survived(words: str | None) -> tuple[int | None, float | None]:
    """Return plants alive, or their share, from words as 130 or 90%."""
    if words is None:
        return None, None
    match = re.fullmatch(r"\s*(\d{1,9})\s*(%?)\s*", words)
    if match is None or (match[2] and int(match[1]) > 100):
        raise click.UsageError(f"--survived {words!r} is not understood; write 130, or 90%.")
    return (None, int(match[1]) / 100.0) if match[2] else (int(match[1]), None)


@command()
@declare(
    click.argument("amount", metavar="AMOUNT"),
    click.argument("what", metavar="WHAT"),
    BED,
    SEASON_KEY,
    click.option("--currency", default="", metavar="NAME", help="As USD."),
    ON, BOOK, JSON,
)  # fmt: skip
def cost(
    amount: str,
    what: str,
    *,
    bed: str | None,
    season: str | None,
    currency: str,
    on: str | None,
    path: str | None,
    as_json: bool,
) -> None:
    """Write down what was paid, of a bed or of the garden."""
    from forecaster.book import Cost, add_cost, find_bed, places, season_of
    from forecaster.book.moments import day_of
    from forecaster.words.season import cost_line

    match = re.fullmatch(r"\s*(\d{1,9}(?:\.\d{1,2})?)\s*", amount)
    if match is None:
        raise click.UsageError(f"AMOUNT {amount!r} is not understood; write it as 42.50.")
    day = day_of(on, today_here())
    with opened(path) as held, held.batch("cost", what) as batch:
        where = None if bed is None else find_bed(held, bed)
        known = {one.name: one.latitude_deg for one in places(held)}
        latitude = next(iter(known.values()), 0.0) if where is None else known[where.place]
        entry = Cost(
            season=season or season_of(day, latitude),
            day=day,
            what=what,
            amount=float(match[1]),
            currency=currency,
            bed=None if where is None else where.name,
        )
        add_cost(batch, entry)
    tell([f"{cost_line(entry, today_here())}."], asdict(entry), as_json=as_json)


@command()
@declare(
    BED,
    click.option(
        "--season", metavar="YEAR-SEASON", help="As 2026-autumn. Default: of the last planting."
    ),
    BOOK, JSON, SHOW,
)  # fmt: skip
def summary(
    *, bed: str | None, season: str | None, path: str | None, as_json: bool, show: str
) -> None:
    """Show a season on one page.

    What was planted, what survived, what the soil did against the forecast, what it cost.
    """
    from forecaster.answers.summary import summarise
    from forecaster.words.season import summary_lead, summary_words

    with opened(path) as held:
        found = summarise(held, season, bed)
    alive, of = found.seen
    data = {"answer": summary_lead(found)} | asdict(found)
    data |= {
        "plants": found.plants,
        "survived": alive,
        "counted": of,
        "money": [{"currency": c, "amount": round(a, 2)} for c, a in found.money.items()],
    }
    tell(summary_words(found, today_here(), scale(show)), data, as_json=as_json)
