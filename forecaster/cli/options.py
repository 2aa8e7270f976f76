"""Options that several commands share, as tables by parameter name.

A command takes whole tables or some of their rows: `options(PLACE, without=("outlook",))`.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

from forecaster.cli.kinds import (
    AREA,
    COVERS,
    DATE,
    FLOW,
    LENGTH,
    SCALES,
    SCALES_SHOWN,
    SOILS,
    VOLUME,
    WEIGHT,
    Degrees,
    difference,
    share,
)

Command = TypeVar("Command", bound=Callable[..., Any])

DIRECTIONS = {"autumn": "falling", "spring": "rising"}


def about_the_place(command: Command) -> Command:
    """Add the options that `when`, `chart` and the checks of a place share."""
    options: Sequence[Callable[[Command], Command]] = (
        click.argument("files", nargs=-1, metavar="[FILE…]"),
        click.option("--bed", metavar="NAME", help="A bed of the garden book, instead of FILE."),
        click.option("--book", metavar="PATH", help="The book's file; else the usual one."),
        click.option(
            "--lat", type=Degrees("N", "S", 90.0),
            help="Latitude, as 33.36N or -36.2. Needed unless the file has it.",
        ),
        click.option(
            "--lon", type=Degrees("E", "W", 180.0), help="Longitude, as 81.33W; sharpens it."
        ),
        click.option(
            "--depth", show_default="4in, or the bed's", help="Planting depth, as 4in or 10cm."
        ),
        click.option("--readings", metavar="LOG", help="Thermometer log of your own soil."),
        click.option(
            "--crop-class", type=click.Choice(["cool", "warm"]), help="Only this season's plants."
        ),
        click.option(
            "--threshold", metavar="TEMP", help="Your own soil temperature, as 60F or 15.5C."
        ),
        click.option(
            "--direction", type=click.Choice(["falling", "rising"]),
            help="With --threshold: falling for autumn, rising for spring.",
        ),
        click.option(
            "--today", type=DATE, metavar="YYYY-MM-DD",
            help="Day of the forecast; later rows are ignored. Default: the record's last day.",
        ),
        click.option("--outlook", metavar="FILE", help="Weather forecast: date, minimum, maximum."),
        click.option(
            "--soil", type=click.Choice(SOILS), show_default="loam, or the bed's", help="Texture."
        ),
        click.option(
            "--cover", type=click.Choice(COVERS), show_default="grass, or the bed's",
            help="What lies on the ground.",
        ),
        click.option(
            "--units", type=SCALES, metavar="F|C|K",
            help="Unit of the air file and the outlook, where they do not say.",
        ),
        click.option(
            "--readings-units", type=SCALES, metavar="F|C|K",
            help="Unit of the log, where it does not say.",
        ),
        click.option(
            "--obs-hour", type=click.IntRange(0, 23), help="Hour at which the air was read."
        ),
        click.option(
            "--day-first/--month-first", default=None, help="Order in dates such as 3/4/2025."
        ),
        click.option(
            "--show", type=SCALES_SHOWN, metavar="F|C", default="F",
            show_default=True, help="Scale of the answer.",
        ),
    )  # fmt: skip
    return functools.reduce(lambda made, option: option(made), reversed(options), command)


def about_the_bed(command: Command) -> Command:
    """Add the options that say what the bed is and what is wanted there."""
    options: Sequence[Callable[[Command], Command]] = (
        click.option(
            "--season", type=click.Choice(list(DIRECTIONS)),
            help="Which changeover. Default: the one that comes next.",
        ),
        click.option("--name", default="", help="What the bed is called."),
        click.option("--area", type=AREA, metavar="AREA", help="Of the bed, as 100ft2 or 9m2."),
        click.option(
            "--outline", metavar="WORDS",
            help='"rectangle 4ft 25ft", "circle 10ft", "strip 3ft around 20ft 30ft" or '
            '"polygon 0,0 10,0 10,6 ft".',
        ),
        click.option(
            "--crop", metavar="NAME", help="What is set out; weeks under cover and spacing from it."
        ),
        click.option("--spacing", type=LENGTH, metavar="LENGTH", help="Between plants, as 8in."),
        click.option(
            "--pattern", type=click.Choice(["square", "staggered"]), default="square",
            show_default=True, help="How the rows stand.",
        ),
        click.option(
            "--flat", "flat", multiple=True, metavar="N[=PRICE]",
            help="Plants a flat, with its price if you know it, as 36=18.50. May be repeated.",
        ),
        click.option(
            "--price", type=click.FloatRange(min=0.0), help="Of a flat, where one --flat is given."
        ),
        click.option(
            "--sow-weeks", metavar="A-B", help="Weeks from sowing to setting out, as 8-10."
        ),
        click.option(
            "--depth-of-renewal", type=LENGTH, metavar="LENGTH", show_default="3in",
            help="Of bark fines and compost together.",
        ),
        click.option(
            "--ratio", metavar="A:B", show_default="2:1",
            help="Parts of bark fines to parts of compost.",
        ),
        click.option(
            "--bag", type=VOLUME, metavar="VOLUME", help="Size of a bag of either, as 2cuft."
        ),
        click.option(
            "--load", type=VOLUME, metavar="VOLUME", show_default="2yd3",
            help="What the vehicle holds.",
        ),
        click.option(
            "--payload", type=WEIGHT, metavar="WEIGHT", show_default="1500lb",
            help="What the vehicle may carry.",
        ),
        click.option(
            "--fertilizer", metavar="LABEL", help="Its label's analysis, as 12-0-0, or a name."
        ),
        click.option(
            "--nitrogen", type=click.FloatRange(min=0.0, min_open=True), metavar="LB",
            show_default="0.2", help="Pounds of nitrogen per 100 square feet.",
        ),
        click.option("--flow", type=FLOW, metavar="FLOW", help="Of your hose, as 5gpm."),
        click.option(
            "--late-weight", type=click.FloatRange(min=0.0), metavar="DAYS", show_default="2",
            help="Days of bloom that one day of planting late is worth.",
        ),
        click.option("--planted", type=DATE, metavar="YYYY-MM-DD", help="Day it was planted."),
        click.option("--rest", is_flag=True, help="Nothing is planted: rest under wood chips."),
        click.option("--no-turf", is_flag=True, help="No lawn meets the bed."),
    )  # fmt: skip
    return functools.reduce(lambda made, option: option(made), reversed(options), command)


def about_crops(command: Command) -> Command:
    """Add the options with which `when` answers for crops."""
    options: Sequence[Callable[[Command], Command]] = (
        click.option(
            "--crop", multiple=True, metavar="NAME",
            help="A crop, as tomato; repeat for more; all for every crop (of --crop-class).",
        ),
        click.option(
            "--crops", metavar="FILE", help="Your own crop thresholds: crop, role, value_f …"
        ),
        click.option(
            "--season", type=click.Choice(["autumn", "spring"]),
            help="With --crop. Default: autumn for cool-season crops, else spring.",
        ),
        click.option(
            "--as", "begun", type=click.Choice(["transplant", "seed"]),
            help="With --crop: set out as plants, or sown in the bed. Default: the usual.",
        ),
        click.option(
            "--sown", type=DATE, metavar="YYYY-MM-DD",
            help="With --crop: day of sowing; says when it comes up.",
        ),
        click.option(
            "--source", metavar="WORDS",
            help="With --crop: use the thresholds of a source, by part of its name.",
        ),
        click.option(
            "--risk", metavar="CHANCE", callback=share, show_default="10%",
            help="With --crop: chance of a later frost that you accept.",
        ),
        click.option(
            "--bed-offset", metavar="DIFFERENCE", callback=difference, show_default="0F",
            help="With --crop: what the bed is warmer than the record's air in frost, as -3F.",
        ),
    )  # fmt: skip
    return functools.reduce(lambda made, option: option(made), reversed(options), command)
