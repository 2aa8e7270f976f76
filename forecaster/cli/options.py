"""Options that several commands share, as tables by parameter name.

A command takes a table whole or without some rows: `@takes(PLACE, without=("outlook",))`.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from forecaster.cli.bare import DEPTH, TEMPERATURE
from forecaster.cli.degrees import Degrees
from forecaster.cli.kinds import (
    AREA,
    BAG,
    COVER,
    DATE,
    FLOW,
    LENGTH,
    LOAD,
    SCALES,
    SCALES_SHOWN,
    SOIL,
    WEIGHT,
    difference,
    once,
    share,
)

if TYPE_CHECKING:
    from forecaster.words.phrases import Level

Command = TypeVar("Command", bound=Callable[..., Any])
Table = Mapping[str, Callable[[Any], Any]]
"""By the parameter's name what declares it, in the order in which help lists them."""

COLUMN = click.option(
    "--column", "columns", multiple=True, metavar="KIND=NAME",
    help="What a column of a file holds, by its heading or number: tmin, tmax, tavg, air, rain; "
    "of the log soil10 (10 cm), soil4in, probe; date, time. May be repeated.",
)  # fmt: skip
BEDS = click.option(
    "--bed",
    "beds",
    metavar="NAME",
    multiple=True,
    help="A bed of the garden book; repeat for more. Default: all.",
)
SEVERAL = (
    click.option(
        "--bed", "beds", metavar="NAME", multiple=True,
        help="A bed of the garden book, instead of FILE; repeat for more.",
    ),
    click.option("--all", "every", is_flag=True, help="Every bed of the garden book."),
)  # fmt: skip
PROBE = click.option("--probe", metavar="NAME", help="Which probe of a log with several.")

OUTLINE_HELP = (
    '"rectangle 4ft 25ft", "circle 10ft", "strip 3ft around 20ft 30ft", '
    '"polygon 0,0 10,0 10,6 ft", or corners in metres, "0,0 4,0 4,2.5".'
)
LEVEL = (
    click.option("--brief", is_flag=True, help="One line a window."),
    click.option("--full", is_flag=True, help="All that is known, and what was read."),
)
"""How much is said; taken out of the options by `level_of`."""

DIRECTIONS = {"autumn": "falling", "spring": "rising"}


def declare(*rows: Callable[[Any], Any]) -> Callable[[Command], Command]:
    """Return a decorator that declares arguments and options in the order given."""

    def add(command: Command) -> Command:
        return functools.reduce(lambda made, row: row(made), reversed(rows), command)

    return add


def takes(table: Table, *, without: tuple[str, ...] = ()) -> Callable[[Command], Command]:
    """Return a decorator that declares the rows of a table, save those named."""
    if strange := set(without) - set(table):
        raise ValueError(f"no such rows: {sorted(strange)}; the table has {sorted(table)}")
    return declare(*(row for name, row in table.items() if name not in without))


def level_of(options: dict[str, Any]) -> Level:
    """Take out of the options how much is to be said."""
    brief, full = options.pop("brief"), options.pop("full")
    if brief and full:
        raise click.UsageError("--brief and --full are two answers; ask for one of them.")
    return "brief" if brief else "full" if full else "default"


PLACE: Table = {
    "files": click.argument("files", nargs=-1, metavar="[FILE…]"),
    "bed": click.option(
        "--bed", metavar="NAME", multiple=True, callback=once,
        help="A bed of the garden book, instead of FILE.",
    ),
    "book": click.option("--book", metavar="PATH", help="The book's file; else the usual one."),
    "lat": click.option(
        "--lat", type=Degrees("N", "S", 90.0),
        help="Latitude, as 33.36N or -36.2. Needed unless the file has it.",
    ),
    "lon": click.option(
        "--lon", type=Degrees("E", "W", 180.0), help="Longitude, as 81.33W; sharpens it."
    ),
    "depth": click.option(
        "--depth", type=DEPTH, show_default="4in, or the bed's",
        help="Planting depth, as 4in or 10cm.",
    ),
    "readings": click.option("--readings", metavar="LOG", help="Thermometer log of your own soil."),
    "crop_class": click.option(
        "--crop-class", type=click.Choice(["cool", "warm"]), help="Only this season's plants."
    ),
    "threshold": click.option(
        "--threshold", type=TEMPERATURE, metavar="TEMP",
        help="Your own soil temperature, as 60F or 15.5C.",
    ),
    "direction": click.option(
        "--direction", type=click.Choice(["falling", "rising"]),
        help="With --threshold: falling for autumn, rising for spring.",
    ),
    "today": click.option(
        "--today", type=DATE, metavar="YYYY-MM-DD",
        help="Day of the forecast; later rows are ignored. Default: the record's last day.",
    ),
    "outlook": click.option(
        "--outlook", metavar="FILE", help="Weather forecast: date, minimum, maximum."
    ),
    "soil": click.option(
        "--soil", type=SOIL, show_default="loam, or the bed's",
        metavar="TEXTURE", help=f"One of {', '.join(SOIL.choices)}."
    ),
    "cover": click.option(
        "--cover", type=COVER, show_default="bare, as beds are, or the bed's",
        metavar="COVER", help=f"What lies on the ground: {', '.join(COVER.choices)}.",
    ),
    "units": click.option(
        "--units", type=SCALES, metavar="F|C|K",
        help="Unit of the air file and the outlook, where they do not say.",
    ),
    "readings_units": click.option(
        "--readings-units", type=SCALES, metavar="F|C|K",
        help="Unit of the log, where it does not say.",
    ),
    "clock": click.option(
        "--clock", metavar="ZONE",
        help="Clock of the log, as America/Chicago or -6. Default: the zone of the longitude.",
    ),
    "columns": COLUMN,
    "probe": PROBE,
    "obs_hour": click.option(
        "--obs-hour", type=click.IntRange(0, 23), help="Hour at which the air was read."
    ),
    "day_first": click.option(
        "--day-first/--month-first", default=None, help="Order in dates such as 3/4/2025."
    ),
    "show": click.option(
        "--show", type=SCALES_SHOWN, metavar="F|C", default="F",
        show_default=True, help="Scale of the answer.",
    ),
}  # fmt: skip
"""What `when`, `chart` and the checks of a place share."""

BED: Table = {
    "season": click.option(
        "--season", type=click.Choice(list(DIRECTIONS)),
        help="Which changeover. Default: the one that comes next.",
    ),
    "name": click.option("--name", default="", help="What the bed is called."),
    "area": click.option("--area", type=AREA, metavar="AREA", help="Of the bed, as 100ft2 or 9m2."),
    "outline": click.option(
        "--outline", metavar="WORDS", help=OUTLINE_HELP,
    ),
    "crop": click.option(
        "--crop", multiple=True, metavar="NAME",
        help="What goes in, as pansy; repeat for more. Dates, weeks and spacing are its own.",
    ),
    "spacing": click.option(
        "--spacing", type=LENGTH, metavar="LENGTH", help="Between plants, as 8in."
    ),
    "pattern": click.option(
        "--pattern", type=click.Choice(["square", "staggered"]), default="square",
        show_default=True, help="How the rows stand.",
    ),
    "flat": click.option(
        "--flat", "flat", multiple=True, metavar="N[=PRICE]",
        help="Plants a flat, with its price if you know it, as 36=18.50. May be repeated.",
    ),
    "price": click.option(
        "--price", type=click.FloatRange(min=0.0), help="Of a flat, where one --flat is given."
    ),
    "colours": click.option(
        "--colours", metavar="NAME[=N],…",
        help="Plants by colour, yellow=72,white=72; without numbers they share the bed evenly.",
    ),
    "spare": click.option(
        "--spare", metavar="SHARE", callback=share, show_default="0%",
        help="Plants to buy beyond those set out, as 5%.",
    ),
    "currency": click.option("--currency", default="", metavar="NAME", help="Of prices, as USD."),
    "sow_weeks": click.option(
        "--sow-weeks", metavar="A-B", help="Weeks from sowing to setting out, as 8-10."
    ),
    "depth_of_renewal": click.option(
        "--depth-of-renewal", type=LENGTH, metavar="LENGTH", show_default="3in",
        help="Of bark fines and compost together.",
    ),
    "ratio": click.option(
        "--ratio", metavar="A:B", show_default="2:1",
        help="Parts of bark fines to parts of compost.",
    ),
    "bag": click.option(
        "--bag", type=BAG, metavar="VOLUME", help="Size of a bag of either, as 2cuft."
    ),
    "load": click.option(
        "--load", type=LOAD, metavar="VOLUME", show_default="2yd3",
        help="What the vehicle holds.",
    ),
    "payload": click.option(
        "--payload", type=WEIGHT, metavar="WEIGHT", show_default="1500lb",
        help="What the vehicle may carry.",
    ),
    "fertilizer": click.option(
        "--fertilizer", metavar="LABEL", help="Its label's analysis, as 12-0-0, or a name."
    ),
    "nitrogen": click.option(
        "--nitrogen", type=click.FloatRange(min=0.0, min_open=True), metavar="LB",
        show_default="0.15", help="Pounds of nitrogen per 100 square feet.",
    ),
    "flow": click.option("--flow", type=FLOW, metavar="FLOW", help="Of your hose, as 5gpm."),
    "late_weight": click.option(
        "--late-weight", type=click.FloatRange(min=0.0), metavar="DAYS", show_default="2",
        help="Days of bloom that one day of planting late is worth.",
    ),
    "planted": click.option(
        "--planted", type=DATE, metavar="YYYY-MM-DD", help="Day it was planted."
    ),
    "rest": click.option("--rest", is_flag=True, help="Nothing is planted: rest under wood chips."),
    "no_turf": click.option("--no-turf", is_flag=True, help="No lawn meets the bed."),
}  # fmt: skip
"""What the bed is and what is wanted there."""

CROPS: Table = {
    "crop": click.option(
        "--crop", multiple=True, metavar="NAME",
        help="A crop, as tomato; repeat for more; all for every crop (of --crop-class).",
    ),
    "crops": click.option(
        "--crops", metavar="FILE", help="Your own crop thresholds: crop, role, value_f …"
    ),
    "season": click.option(
        "--season", type=click.Choice(["autumn", "spring"]),
        help="With --crop. Default: autumn for cool-season crops, else spring.",
    ),
    "begun": click.option(
        "--as", "begun", type=click.Choice(["transplant", "seed"]),
        help="With --crop: set out as plants, or sown in the bed. Default: the usual.",
    ),
    "sown": click.option(
        "--sown", type=DATE, metavar="YYYY-MM-DD",
        help="With --crop: day of sowing; says when it comes up.",
    ),
    "source": click.option(
        "--source", metavar="WORDS",
        help="With --crop: use the thresholds of a source, by part of its name.",
    ),
    "risk": click.option(
        "--risk", metavar="CHANCE", callback=share, show_default="20%",
        help="With --crop: chance of a later frost that you accept.",
    ),
    "bed_offset": click.option(
        "--bed-offset", metavar="DIFFERENCE", callback=difference, show_default="0F",
        help="With --crop: what the bed is warmer than the record's air in frost, as -3F.",
    ),
}  # fmt: skip
"""With these `when` answers for crops."""
