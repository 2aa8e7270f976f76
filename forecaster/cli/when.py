"""`crossday when`, `chart` and `demo`: the planting window in words and as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from forecaster.cli.crops import say_crops, take_crops
from forecaster.cli.kinds import SCALES_SHOWN
from forecaster.cli.options import CROPS, PLACE, takes
from forecaster.cli.output import check_picture, written
from forecaster.cli.place import keep, read_place, thresholds_asked, today_of

if TYPE_CHECKING:
    from pathlib import Path

    from forecaster.answers.bed import Held
    from forecaster.answers.window import WindowAnswer
    from forecaster.words import Told

DEFAULT_PICTURE = "soil-window.png"


@click.command()
@takes(PLACE)
@takes(CROPS)
@click.option("--json", "as_json", is_flag=True, help="Answer for a program.")
def when(files: tuple[str, ...], *, as_json: bool, **options: Any) -> None:
    """Say when the soil crosses the planting thresholds, or when a crop can go in.

    FILE is a daily air-temperature record: a file, several, or a folder of one station.
    Without FILE, the garden book answers for a bed. With --crop, or a crop's name beside
    FILE, the answer is when that crop's planting window opens and closes.
    """
    files, crops = take_crops(files, options)
    if crops is not None:
        say_crops(files, crops, as_json=as_json, **options)
        return
    asked = _ask(files, **options)
    _say(asked, as_json=as_json)
    _keep(asked)


@click.command()
@takes(PLACE)
@click.option(
    "--out", default=DEFAULT_PICTURE, show_default=True, metavar="PICTURE",
    help="Where to write it: .png or .svg; a description goes beside it as .txt.",
)  # fmt: skip
def chart(files: tuple[str, ...], *, out: str, **options: Any) -> None:
    """Draw the soil, what it may do, and the date's chances.

    FILE is a daily air-temperature record: a file, several, or a folder of one station.
    Without FILE, the garden book answers for a bed.
    """
    check_picture(out)
    asked = _ask(files, **options)
    click.echo(_draw(asked, out))
    _keep(asked)


@click.command()
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
def demo(*, out: str, show: str) -> None:
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
    garden = load_json("demo/garden.json")
    asked = _ask(
        (_near(data_path(f"demo/{garden['air']}")),),
        lat=garden["latitude_deg"],
        lon=garden["longitude_deg"],
        depth=f"{garden['depth_m']}m",
        readings=_near(data_path(f"demo/{garden['readings']}")),
        soil=garden["soil"],
        cover=garden["cover"],
        today=datetime.fromisoformat(garden["today"]),
        show=show,
        title=f"{garden['name']} (invented)",
    )
    drawn = _draw(asked, str(folder / DEFAULT_PICTURE))
    _say(asked, as_json=False)
    click.echo(f"\n{drawn}")


def _near(path: Path) -> str:
    """Return a path as it is seen from here, if it lies below."""
    from pathlib import Path

    here = Path.cwd()
    return str(path.relative_to(here) if path.is_relative_to(here) else path)


class Asked:
    """An answer with what was asked: what `when` prints and `chart` draws."""

    def __init__(self, answer: WindowAnswer, told: Told, show: str, held: Held | None) -> None:
        self.answer, self.told, self.show, self.held = answer, told, show, held


def _ask(
    files: Sequence[str],
    *,
    lat: float | None = None,
    lon: float | None = None,
    bed: str | None = None,
    book: str | None = None,
    depth: str | None = None,
    readings: str | None = None,
    crop_class: str | None = None,
    threshold: str | None = None,
    direction: str | None = None,
    today: Any = None,
    outlook: str | None = None,
    soil: str | None = None,
    cover: str | None = None,
    units: str | None = None,
    readings_units: str | None = None,
    obs_hour: int | None = None,
    day_first: bool | None = None,
    show: str = "F",
    title: str = "",
) -> Asked:
    """Read what was named, find the windows, and put the answer together."""
    thresholds = thresholds_asked(crop_class, threshold, direction)
    read = read_place(
        files, bed=bed, book=book, lat=lat, lon=lon, depth=depth, readings=readings, soil=soil,
        cover=cover, units=units, readings_units=readings_units, obs_hour=obs_hour,
        day_first=day_first,
    )  # fmt: skip

    from forecaster.answers.window import find_windows
    from forecaster.ingest import account_of, read_air
    from forecaster.words import Told

    ahead = None
    if outlook is not None:
        ahead = read_air(outlook, units=units, day_first=day_first)
        read.accounts["Outlook"] = account_of(ahead)
    day, notes = today_of(read.air, today)
    answer = find_windows(
        read.air, read.site, thresholds, readings=read.log, outlook=ahead, today=day
    )
    told = Told(
        answer.windows,
        day,
        read.site,
        read.accounts,
        touched(answer),
        (*read.notes, *notes, *answer.notes),
        answer.outliers,
        title or read.title,
    )
    return Asked(answer, told, show.upper(), read.held)


def _keep(asked: Asked) -> None:
    """Keep what was shown for a bed, so that it can be compared with what came."""
    if asked.held is not None:
        keep(asked.held, asked.answer, asked.told.today, asked.told.site.depth_m)


def touched(answer: WindowAnswer) -> dict[str, float]:
    """Return the 5-day mean of the soil on each window's day of first touch, °C."""
    import numpy as np

    found: dict[str, float] = {}
    for window in answer.windows:
        if window.so_far.first_touch is None:
            continue
        at = np.flatnonzero(answer.day == np.datetime64(window.so_far.first_touch, "D"))
        if at.size and at[0] >= 4:
            found[window.threshold.name] = float(answer.soil_c[at[0] - 4 : at[0] + 1].mean())
    return found


def _say(asked: Asked, *, as_json: bool) -> None:
    from forecaster.words import told_json, told_text

    if as_json:
        import json

        click.echo(json.dumps(told_json(asked.told), indent=2, ensure_ascii=False, allow_nan=False))
        return
    import shutil

    width = shutil.get_terminal_size().columns
    click.echo(told_text(asked.told, width, asked.show), nl=False)  # type: ignore[arg-type]


def _draw(asked: Asked, out: str) -> str:
    """Write the picture and its description, and return both paths in words."""
    from forecaster.charts import draw, picture_of

    return written(lambda path: draw(picture_of(asked.answer, asked.told), path), out)
