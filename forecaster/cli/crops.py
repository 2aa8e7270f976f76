"""Crops on the command line: the options of `when` that ask for them, and `crossday crops`."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from forecaster.answers.crops import Crop, Wish

Command = TypeVar("Command", bound=Callable[..., Any])

ALL = "all"
OPTIONS = ("crop", "crops", "season", "begun", "sown", "source", "risk", "bed_offset")
"""What `about_crops` adds, by parameter name."""
DATE = click.DateTime(formats=["%Y-%m-%d"])


def _share(_: click.Context, __: click.Parameter, value: str | None) -> float | None:
    """Return a probability from 10% or 0.1."""
    if value is None:
        return None
    match = re.fullmatch(r"\s*(\d*\.?\d+)\s*(%?)\s*", value)
    share = float(match[1]) / (100.0 if match[2] else 1.0) if match else -1.0
    if not 0.0 <= share <= 1.0:
        raise click.BadParameter(f"{value!r} is not understood; write a chance, as 10% or 0.1.")
    return share


def _difference(_: click.Context, __: click.Parameter, value: str | None) -> float | None:
    """Return a difference of temperature in °C from -3F or 1.5C."""
    if value is None:
        return None
    match = re.fullmatch(r"\s*([+\-−]?\d*\.?\d+)\s*°?\s*([FC])\s*", value, re.IGNORECASE)
    if match is None:
        raise click.BadParameter(f"{value!r} is not understood; write a difference, as -3F or 1C.")
    from forecaster.units import f_to_c_difference  # noqa: PLC0415

    degrees = float(match[1].replace("−", "-"))
    return f_to_c_difference(degrees) if match[2].upper() == "F" else degrees


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
            "--risk", metavar="CHANCE", callback=_share, show_default="10%",
            help="With --crop: chance of a later frost that you accept.",
        ),
        click.option(
            "--bed-offset", metavar="DIFFERENCE", callback=_difference, show_default="0F",
            help="With --crop: what the bed is warmer than the record's air in frost, as -3F.",
        ),
    )  # fmt: skip
    return functools.reduce(lambda made, option: option(made), reversed(options), command)


@dataclass(frozen=True, slots=True)
class CropsAsked:
    """The crops that a call of `when` asks about, and what is wanted of them."""

    crops: tuple[Crop, ...]
    wish: Wish


def take_crops(
    files: Sequence[str], options: dict[str, Any]
) -> tuple[tuple[str, ...], CropsAsked | None]:
    """Take the crops out of what `when` was given: options, and words that are crops.

    A word that names no file but a crop is that crop: ``crossday when tomato air.csv``.

    Returns
    -------
    tuple of str, CropsAsked or None
        The files that are left; None if no crop is asked about.
    """
    given = {name: options.pop(name, None) for name in OPTIONS}
    words = [word for word in files if _names_a_crop(word, given["crops"])]
    names = [*words, *(given["crop"] or ())]
    if not names:
        wrong = [name for name in OPTIONS if given[name]]
        if wrong:
            flag = "as" if wrong[0] == "begun" else wrong[0].replace("_", "-")
            raise click.UsageError(f"--{flag} belongs to --crop: name one, as --crop tomato.")
        return tuple(files), None
    if options.get("threshold") or options.get("direction"):
        raise click.UsageError("--threshold and --direction do not go with --crop.")
    from forecaster.answers.crops import Wish, find_crop, known_crops  # noqa: PLC0415

    known = known_crops(own=given["crops"])
    of_class = options.get("crop_class")
    crops = []
    for name in names:
        if name.casefold() == ALL:
            crops += [c for c in known.values() if of_class in (None, c.crop_class)]
        else:
            crops.append(find_crop(name, known))
    wish = Wish(
        given["season"],
        given["begun"],
        given["risk"],
        given["bed_offset"],
        source=given["source"],
        sown=given["sown"].date() if given["sown"] else None,
    )
    left = tuple(word for word in files if word not in words)
    return left, CropsAsked(tuple(dict.fromkeys(crops)), wish)


def _names_a_crop(word: str, own: str | None) -> bool:
    from pathlib import Path  # noqa: PLC0415

    from forecaster.cli import there  # noqa: PLC0415

    if Path(word).suffix or there(Path(word)):
        return False
    from forecaster.answers.crops import find_crop, known_crops  # noqa: PLC0415
    from forecaster.errors import InputError  # noqa: PLC0415

    try:
        find_crop(word, known_crops(own=own))
    except InputError:
        return word.casefold() == ALL
    return True


def say_crops(files: Sequence[str], asked: CropsAsked, *, as_json: bool, **options: Any) -> None:
    """Answer `when` for crops."""
    from forecaster.answers.crops import crop_windows  # noqa: PLC0415
    from forecaster.cli import read_place, today_of  # noqa: PLC0415
    from forecaster.ingest import account_of, read_air  # noqa: PLC0415
    from forecaster.words.crops import CropTold, crops_json, crops_text  # noqa: PLC0415

    today, outlook = options.pop("today"), options.pop("outlook")
    show = options.pop("show").upper()
    for name in ("crop_class", "threshold", "direction"):
        options.pop(name)
    read = read_place(files, **options)
    ahead = None
    if outlook is not None:
        ahead = read_air(outlook, units=options["units"], day_first=options["day_first"])
        read.accounts["Outlook"] = account_of(ahead)
    day, notes = today_of(read.air, today)
    answer = crop_windows(
        read.air, read.site, asked.crops, today=day, wish=asked.wish, readings=read.log,
        outlook=ahead,
    )  # fmt: skip
    told = CropTold(answer, read.site, read.accounts, (*read.notes, *notes), read.title)
    if as_json:
        import json  # noqa: PLC0415

        click.echo(json.dumps(crops_json(told), indent=2, ensure_ascii=False, allow_nan=False))
        return
    import shutil  # noqa: PLC0415

    click.echo(crops_text(told, shutil.get_terminal_size().columns, show), nl=False)


@click.command()
@click.argument("names", nargs=-1, metavar="[NAME…]")
@click.option("--crop-class", type=click.Choice(["cool", "warm"]), help="Only this season's.")
@click.option("--crops", "own", metavar="FILE", help="Your own thresholds, laid over these.")
@click.option(
    "--show", type=click.Choice(["F", "C"], case_sensitive=False), default="F", metavar="F|C",
    show_default=True, help="Scale of the answer.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Answer for a program.")
def crops(
    names: tuple[str, ...],
    *,
    crop_class: str | None,
    own: str | None,
    show: str,
    as_json: bool,
) -> None:
    """List the crops that are known, or all that is known of some.

    Every figure is shown with its source and how well it is known; the one that `when` uses
    is marked.
    """
    from forecaster.answers.crops import find_crop, known_crops  # noqa: PLC0415
    from forecaster.words.crops import crop_json, crop_list, crop_text  # noqa: PLC0415

    known = known_crops(own=own)
    chosen = [find_crop(name, known) for name in names] or [
        crop for crop in known.values() if crop_class in (None, crop.crop_class)
    ]
    if as_json:
        import json  # noqa: PLC0415

        told = [crop_json(crop) for crop in chosen]
        click.echo(json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False))
    elif names:
        import shutil  # noqa: PLC0415

        width = shutil.get_terminal_size().columns
        click.echo("\n".join(crop_text(crop, width, show.upper()) for crop in chosen), nl=False)  # type: ignore[arg-type]
    else:
        click.echo(crop_list(chosen, show.upper()), nl=False)  # type: ignore[arg-type]
