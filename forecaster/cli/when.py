"""`crossday when`, `chart` and `demo`: the planting window in words and as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

from forecaster.cli.command import command
from forecaster.cli.crops import take_crops, words_of_crops
from forecaster.cli.kinds import SCALES_SHOWN
from forecaster.cli.options import CROPS, LEVEL, PLACE, declare, level_of, takes
from forecaster.cli.output import FORCE, check_picture, drawn, inputs
from forecaster.cli.place import keep, read_place, thresholds_asked

if TYPE_CHECKING:
    from pathlib import Path

    from forecaster.answers.record import Record
    from forecaster.answers.window import WindowAnswer
    from forecaster.words import Told
    from forecaster.words.phrases import Level

DEFAULT_PICTURE = "soil-window.png"


@command()
@takes(PLACE, without=("bed",))
@click.option(
    "--bed", "beds", multiple=True, metavar="NAME",
    help="A bed of the garden book, instead of FILE; repeat for more.",
)  # fmt: skip
@takes(CROPS)
@declare(*LEVEL)
@click.option("--json", "as_json", is_flag=True, help="Answer for a program.")
def when(files: tuple[str, ...], *, beds: tuple[str, ...], as_json: bool, **options: Any) -> None:
    """Say when the soil crosses the planting thresholds, or when a crop can go in.

    FILE is a daily air-temperature record: a file, several, or a folder of one station.
    Without FILE, the garden book answers for a bed. With --crop, or a crop's name beside
    FILE, the answer is when that crop's planting window opens and closes.
    """
    if as_json and len(beds) > 1:
        raise click.UsageError("--json answers for one bed; call it once for each --bed.")
    level = level_of(options)
    files, crops = take_crops(files, options)
    texts: list[str] = []  # all are known before one is said: an unknown bed is an error alone
    said: list[Said] = []
    for bed in beds or (None,):
        if crops is not None:
            texts += [
                words_of_crops(files, crops, bed=bed, as_json=as_json, level=level, **options)
            ]
            continue
        said += [_ask(files, bed=bed, **options)]
        texts += [_words(said[-1], as_json=as_json, level=level)]
    click.echo("\n".join(texts), nl=False)
    for one in said:
        keep(one.record, one.answer)


@command()
@takes(PLACE)
@click.option(
    "--out", default=DEFAULT_PICTURE, show_default=True, metavar="PICTURE",
    help="Where to write it: .png or .svg; a description goes beside it as .txt.",
)  # fmt: skip
@FORCE
def chart(files: tuple[str, ...], *, out: str, force: bool, **options: Any) -> None:
    """Draw the soil, what it may do, and the date's chances.

    FILE is a daily air-temperature record: a file, several, or a folder of one station.
    Without FILE, the garden book answers for a bed.
    """
    read = inputs(options, files)
    check_picture(out, read=read, force=force)
    said = _ask(files, **options)
    click.echo(_draw(said, out, read=read, force=force))
    keep(said.record, said.answer)


@command()
@click.option(
    "--out",
    default=".",
    metavar="DIR",
    help="Folder for the picture, made if there is none; default: this one.",
)
@click.option(
    "--show", type=SCALES_SHOWN, metavar="F|C", default="F", show_default=True,
    help="Scale of the answer.",
)  # fmt: skip
@click.option("--south", is_flag=True, help="The invented garden of the southern half instead.")
@FORCE
def demo(*, out: str, show: str, south: bool, force: bool) -> None:
    """Answer for an invented garden that ships with the tool."""
    from datetime import datetime
    from pathlib import Path

    from forecaster.packaged import data_path, load_json

    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise click.UsageError(f"--out {out!r}: {why}; name another folder.") from error
    picture = str(folder / DEFAULT_PICTURE)
    check_picture(picture, force=force)
    here = "demo" if south else "demo/north"
    garden = load_json(f"{here}/garden.json")
    said = _ask(
        (_near(data_path(f"{here}/{garden['air']}")),),
        lat=garden["latitude_deg"],
        lon=garden["longitude_deg"],
        depth=f"{garden['depth_m']}m",
        readings=_near(data_path(f"{here}/{garden['readings']}")),
        soil=garden["soil"],
        cover=garden["cover"],
        today=datetime.fromisoformat(garden["today"]),
        show=show,
        title=f"{garden['name']} (invented)",
    )
    where = _draw(said, picture, force=force)
    click.echo(_words(said), nl=False)
    click.echo(f"\n{where}")


def _near(path: Path) -> str:
    """Return a path as it is seen from here, if it lies below."""
    from pathlib import Path

    here = Path.cwd()
    return str(path.relative_to(here) if path.is_relative_to(here) else path)


@dataclass(frozen=True, slots=True)
class Said:
    """An answer and its record: what `when` prints and `chart` draws."""

    answer: WindowAnswer
    record: Record
    show: str

    @property
    def told(self) -> Told:
        """The answer as it is put into words."""
        from forecaster.words import tell

        return tell(self.answer, self.record)


def _ask(
    files: Sequence[str],
    *,
    crop_class: str | None = None,
    threshold: str | None = None,
    direction: str | None = None,
    show: str = "F",
    title: str = "",
    **options: Any,
) -> Said:
    """Read what was named and find the windows."""
    from dataclasses import replace

    thresholds = thresholds_asked(crop_class, threshold, direction)
    record = read_place(files, **options)
    from forecaster.answers.place_today import soil_of_record
    from forecaster.answers.window import windows_in

    return Said(
        windows_in(soil_of_record(record), thresholds),
        replace(record, title=title or record.title),
        show.upper(),
    )


def _words(said: Said, *, as_json: bool = False, level: Level = "default") -> str:
    from forecaster.words import told_json, told_text

    if as_json:
        from forecaster.words.as_json import json_text

        return f"{json_text(told_json(said.told))}\n"
    import shutil

    width = shutil.get_terminal_size().columns
    return told_text(said.told, width, said.show, level)  # type: ignore[arg-type]


def _draw(said: Said, out: str, *, read: Sequence[str] = (), force: bool = False) -> str:
    """Write the picture and its description, and say where both are."""
    from forecaster.charts import draw, picture_of

    return drawn(out, draw(picture_of(said.answer, said.told), out, inputs=read, force=force))
