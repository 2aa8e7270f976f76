"""Crops on the command line: the options of `when` that ask for them, and `crossday crops`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import click

from forecaster.cli.command import command
from forecaster.cli.options import CROPS

if TYPE_CHECKING:
    from forecaster.answers.crops import Crop, Wish
    from forecaster.words.phrases import Level

Command = TypeVar("Command", bound=Callable[..., Any])

ALL = "all"
OPTIONS = tuple(CROPS)


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
    from forecaster.answers.crops import Wish, find_crop, known_crops

    known = known_crops(own=given["crops"])
    of_class = options.get("crop_class")
    crops = []
    for name in names:
        if name.casefold() == ALL:
            crops += [c for c in known.values() if of_class in (None, c.crop_class)]
        else:
            crops.append(find_crop(name, known))
    wish = Wish(
        season=given["season"],
        use=given["begun"],
        risk=given["risk"],
        offset_c=given["bed_offset"],
        source=given["source"],
        sown=given["sown"].date() if given["sown"] else None,
    )
    left = tuple(word for word in files if word not in words)
    return left, CropsAsked(tuple(dict.fromkeys(crops)), wish)


def _names_a_crop(word: str, own: str | None) -> bool:
    from pathlib import Path

    from forecaster.cli.output import there

    if Path(word).suffix or there(Path(word)):
        return False
    from forecaster.answers.crops import find_crop, known_crops
    from forecaster.ground.errors import InputError

    try:
        find_crop(word, known_crops(own=own))
    except InputError:
        return word.casefold() == ALL
    return True


def words_of_crops(
    files: Sequence[str], asked: CropsAsked, *, as_json: bool, level: Level, **options: Any
) -> str:
    """Return what `when` prints for crops."""
    from forecaster.answers.crops import crop_windows_of
    from forecaster.cli.place import read_place
    from forecaster.words.crops import CropTold, crops_text
    from forecaster.words.crops_json import crops_json

    show = options.pop("show").upper()
    for name in ("crop_class", "threshold", "direction"):
        options.pop(name)
    record = read_place(files, **options)
    answer = crop_windows_of(record, asked.crops, asked.wish)
    told = CropTold(answer, record.site, record.accounts, record.notes, record.title)
    if as_json:
        from forecaster.words.as_json import json_text

        return f"{json_text(crops_json(told))}\n"
    import shutil

    return crops_text(told, shutil.get_terminal_size().columns, show, level)


@command()
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
    from forecaster.answers.crops import find_crop, known_crops
    from forecaster.words.crop_card import crop_list, crop_text
    from forecaster.words.crops_json import crop_json

    known = known_crops(own=own)
    chosen = [find_crop(name, known) for name in names] or [
        crop for crop in known.values() if crop_class in (None, crop.crop_class)
    ]
    if as_json:
        from forecaster.words.as_json import json_text

        told = [crop_json(crop) for crop in chosen]
        click.echo(json_text({"crops": told}))
    elif names:
        import shutil

        width = shutil.get_terminal_size().columns
        click.echo("\n".join(crop_text(crop, width, show.upper()) for crop in chosen), nl=False)  # type: ignore[arg-type]
    else:
        click.echo(crop_list(chosen, show.upper()), nl=False)  # type: ignore[arg-type]
