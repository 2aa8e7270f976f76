"""The command line: asks the layers below, prints, and turns errors into exit codes.

Everything heavier than click is imported inside the commands, so that help stays quick. Only
this module reads the clock. Exit codes: 0 answered; 2 wrong use or bad input; 3 data or network
missing.
"""

from __future__ import annotations

import functools
import io
import os
import re
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Literal, NoReturn, TypeVar, get_args

import click

from forecaster.crops_cli import about_crops, say_crops, take_crops
from forecaster.site import Cover, Soil

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    import pandas as pd

    from forecaster.answers.bed import Held
    from forecaster.answers.window import Threshold, WindowAnswer
    from forecaster.ingest import Account
    from forecaster.site import Site
    from forecaster.words import Told

Command = TypeVar("Command", bound=Callable[..., Any])

ANSWERED, WRONG_USE, DATA_MISSING, INTERRUPTED = 0, 2, 3, 130
LONGEST_LINE = 800  # of an error; a word of ten thousand letters is cut
OLD_RECORD_DAYS = 7
LONGEST_AHEAD_DAYS = 16  # of a record that a weather forecast was appended to
SAME_PLACE_DEG = 0.5  # about 55 km
DEFAULT_PICTURE = "soil-window.png"
SOILS, COVERS = get_args(Soil), get_args(Cover)


class Door(click.Group):
    """A group of commands whose every failure is one line on stderr and an exit code."""

    elsewhere: ClassVar[dict[str, str]] = {
        "check": "forecaster.check_cli",
        "air": "forecaster.air_cli",
        "book": "forecaster.book_cli",
        "crops": "forecaster.crops_cli",
        "plan": "forecaster.plan_cli",
        "report": "forecaster.report_cli",
    }
    """Commands that live in modules of their own, imported when called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """List the commands in the order in which they are declared."""
        del ctx
        return [*self.commands, *(name for name in self.elsewhere if name not in self.commands)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, from its own module if it has one."""
        if cmd_name not in self.elsewhere:
            return super().get_command(ctx, cmd_name)
        from importlib import import_module  # noqa: PLC0415

        found: click.Command = getattr(import_module(self.elsewhere[cmd_name]), cmd_name)
        return found

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; a reader of ours that has enough is no error."""
        try:
            found = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            # Keep Python's own last flush quiet too.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return ANSWERED
        return found

    def main(self, *args: Any, standalone_mode: bool = True, **extra: Any) -> Any:
        """Run a command; with `standalone_mode` end the program with its exit code."""
        if isinstance(sys.stdout, io.TextIOWrapper):
            # A sign that the terminal has no letter for, or a name that is no text, is no error.
            sys.stdout.reconfigure(errors="replace")
        run = functools.partial(super().main, *args, standalone_mode=False, **extra)
        return sys.exit(_answer(run)) if standalone_mode else run()


def _answer(run: Callable[[], Any]) -> int:
    """Run a command and return the exit code; whatever fails is said in one line."""
    from forecaster.errors import ForecasterError  # noqa: PLC0415

    try:
        code = run()
    except click.ClickException as error:
        return _say_wrong(_usage_words(error), WRONG_USE)
    except (click.Abort, KeyboardInterrupt):
        return INTERRUPTED
    except ForecasterError as error:
        world = isinstance(error, RuntimeError) and not isinstance(error, ValueError)
        return _say_wrong(str(error), DATA_MISSING if world else WRONG_USE)
    return code if isinstance(code, int) else ANSWERED


def _usage_words(error: click.ClickException) -> str:
    words = error.format_message()
    if isinstance(error, click.UsageError) and error.ctx is not None:
        words += f" See {error.ctx.command_path} --help."
    return words


def _say_wrong(words: str, code: int) -> int:
    line = " ".join(words.split())
    if len(line) > LONGEST_LINE:
        line = f"{line[: LONGEST_LINE - 200]} … {line[-200:]}"
    click.echo(f"crossday: {line}", err=True)
    return code


class Degrees(click.ParamType):  # type: ignore[type-arg]  # generic in newer click only
    """Degrees with or without a letter: ``33.36``, ``33.36N``, ``81.33 W``, ``-36.2``."""

    name = "degrees"

    def __init__(self, positive: str, negative: str, most: float) -> None:
        self.positive, self.negative, self.most = positive, negative, most

    def convert(
        self,
        value: Any,
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> float:
        """Return degrees, positive to the north and east."""
        if isinstance(value, float | int):
            return float(value)
        letters = self.positive + self.negative
        match = re.fullmatch(
            rf"\s*([+\-−]?)(\d+(?:\.\d*)?|\.\d+)\s*°?\s*([{letters}]?)\s*", value, re.IGNORECASE
        )
        if match is None or (match[1] and match[3]):
            self._refuse(value, param, ctx)
        south = match[1] in ("-", "−") or match[3].upper() == self.negative
        degrees = float(match[2])
        if degrees > self.most:
            self._refuse(value, param, ctx)
        return -degrees if south else degrees

    def _refuse(
        self, value: str, param: click.Parameter | None, ctx: click.Context | None
    ) -> NoReturn:
        self.fail(
            f"{value!r} is not understood; write degrees up to {self.most:g}, as 33.36, "
            f"33.36{self.positive}, 33.36{self.negative} or -33.36.",
            param,
            ctx,
        )


SCALES = click.Choice(["F", "C", "K"], case_sensitive=False)
SCALES_SHOWN = click.Choice(["F", "C"], case_sensitive=False)
DATE = click.DateTime(formats=["%Y-%m-%d"])


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


@click.group(
    cls=Door, no_args_is_help=False, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(package_name="crossday", prog_name="crossday", message="%(prog)s %(version)s")
def main() -> None:
    """Say when the soil here will be right to plant, and how sure that is.

    Reads a daily air-temperature record and, if you have one, a log of your own soil
    thermometer. Start with: crossday demo
    """


@main.command()
@about_the_place
@about_crops
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


@main.command()
@about_the_place
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


@main.command()
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
    from datetime import datetime  # noqa: PLC0415
    from pathlib import Path  # noqa: PLC0415

    from forecaster.packaged import data_path, load_json  # noqa: PLC0415

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
    from pathlib import Path  # noqa: PLC0415

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

    from forecaster.answers.window import find_windows  # noqa: PLC0415
    from forecaster.ingest import account_of, read_air  # noqa: PLC0415
    from forecaster.words import Told  # noqa: PLC0415

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
        from forecaster.book_cli import keep  # noqa: PLC0415

        keep(asked.held, asked.answer, asked.told.today, asked.told.site.depth_m)


class Read:
    """What was read of a place: its air, its log, and how."""

    def __init__(
        self, air: pd.DataFrame, log: pd.DataFrame | None, site: Site, accounts: dict[str, Account]
    ) -> None:
        self.air, self.log, self.site, self.accounts = air, log, site, accounts
        self.notes: list[str] = []
        self.title = ""
        self.held: Held | None = None


def read_place(
    files: Sequence[str],
    *,
    bed: str | None,
    book: str | None,
    lat: float | None,
    lon: float | None,
    depth: str | None,
    readings: str | None,
    soil: str | None,
    cover: str | None,
    units: str | None,
    readings_units: str | None,
    obs_hour: int | None,
    day_first: bool | None,
) -> Read:
    """Read the air and the log of a place: from files, or of a bed in the garden book."""
    from forecaster.units import parse_length  # noqa: PLC0415

    depth_m = None if depth is None else parse_length(depth)
    if files and (bed is not None or book is not None):
        raise click.UsageError("give FILE, or a bed of the garden book with --bed; not both.")
    if not files:
        given = {"--lat": lat, "--lon": lon, "--readings": readings}
        if wrong := [name for name, value in given.items() if value is not None]:
            raise click.UsageError(f"{wrong[0]} belongs to FILE; the book has the bed's own.")
        return _read_bed(bed, book, depth_m, soil, cover)
    depth = depth or "4in"
    depth_m = parse_length(depth)

    from forecaster.ingest import account_of, read_air, read_readings  # noqa: PLC0415
    from forecaster.site import Site  # noqa: PLC0415

    named = files[0] if len(files) == 1 else list(files)
    air = read_air(named, obs_hour=obs_hour, units=units, day_first=day_first)
    accounts = {"Air": account_of(air)}
    latitude_deg, longitude_deg, doubts = _place(accounts["Air"], lat, lon)
    ground = (soil or "loam", cover or "grass")
    site = Site(latitude_deg, longitude_deg, depth_m, *ground)  # type: ignore[arg-type]
    log, depth_note = None, []
    if readings is not None:
        log = read_readings(readings, units=readings_units, day_first=day_first)
        accounts["Readings"] = account_of(log)
        if log["depth_m"].isna().any():
            depth_note = [f"Readings without a depth were taken as read at {depth} (--depth)."]
    read = Read(air, log, site, accounts)
    read.notes = [*doubts, *depth_note]
    return read


def _read_bed(
    bed: str | None, book: str | None, depth_m: float | None, soil: str | None, cover: str | None
) -> Read:
    """Read what the book has of a bed; depth, soil and cover may be asked otherwise."""
    from dataclasses import replace  # noqa: PLC0415

    from forecaster.book_cli import from_book  # noqa: PLC0415
    from forecaster.ingest import account_of  # noqa: PLC0415

    held = from_book(bed, book)
    told = {"depth_m": depth_m, "soil": soil, "cover": cover}
    site = replace(held.site, **{k: v for k, v in told.items() if v is not None})  # type: ignore[arg-type]
    read = Read(held.air, held.readings, site, {"Air": account_of(held.air)})
    if held.readings is not None:
        read.accounts["Readings"] = account_of(held.readings)
    read.title, read.held = f"{held.place.name}, {held.bed.name}", held
    return read


def thresholds_asked(
    crop_class: str | None, threshold: str | None, direction: str | None
) -> list[Threshold]:
    """Return what is asked about: the user's own threshold, or the packaged ones."""
    if threshold is None and direction is not None:
        raise click.UsageError("--direction belongs to --threshold: name a temperature, as 60F.")
    if threshold is not None and direction is None and crop_class is None:
        raise click.UsageError(
            "--threshold needs --direction: falling for autumn, rising for spring."
        )
    from forecaster.answers.window import Threshold, known_thresholds  # noqa: PLC0415

    if threshold is None:
        return known_thresholds(crop_class)
    from forecaster.units import parse_temperature  # noqa: PLC0415

    of_class = {"cool": "falling", "warm": "rising", None: direction}[crop_class]
    if direction not in (None, of_class):
        raise click.UsageError(
            f"--crop-class {crop_class} means a {of_class} soil, --direction says {direction}; "
            "leave one of them out."
        )
    way: Literal["falling", "rising"] = "falling" if of_class == "falling" else "rising"
    return [Threshold("yours", "Your threshold", parse_temperature(threshold), way)]


def _place(
    account: Account, lat: float | None, lon: float | None
) -> tuple[float, float | None, list[str]]:
    """Return latitude and longitude as given, else as the file has them, and a word of doubt."""
    from forecaster.errors import InputError  # noqa: PLC0415

    own = account.latitude_deg
    if lat is None and own is None:
        raise InputError(
            f"{account.path}: no latitude in the file; expected --lat, as --lat 33.36N (or -36.2)"
        )
    if lat is not None and own is not None and abs(lat - own) > SAME_PLACE_DEG:
        far = f"The file's own latitude is {own:g}, --lat says {lat:g}: is it the right record?"
        return lat, lon, [far]
    known = own if lat is None else lat
    assert known is not None  # noqa: S101 - for the type checker; refused above
    return known, account.longitude_deg if lon is None else lon, []


def today_of(air: pd.DataFrame, given: Any) -> tuple[date, list[str]]:
    """Return the day of the forecast, and a word if it is not the calendar's."""
    if given is not None:
        return given.date(), []
    from datetime import date  # noqa: PLC0415

    last: date = air.dropna(how="all").index[-1].date()
    behind = (date.today() - last).days
    if behind < -LONGEST_AHEAD_DAYS:
        note = (
            f"The air record ends on {last.isoformat()}, {-behind:,} days after today's date: "
            "days to come are no record. Are its dates right?"
        )
        return last, [note]
    if behind <= OLD_RECORD_DAYS:
        return last, []
    note = (
        f"The air record ends on {last.isoformat()}, {behind:,} days ago: this is the forecast "
        "as of that day. A newer file makes a newer forecast."
    )
    return last, [note]


def touched(answer: WindowAnswer) -> dict[str, float]:
    """Return the 5-day mean of the soil on each window's day of first touch, °C."""
    import numpy as np  # noqa: PLC0415

    found: dict[str, float] = {}
    for window in answer.windows:
        if window.so_far.first_touch is None:
            continue
        at = np.flatnonzero(answer.day == np.datetime64(window.so_far.first_touch, "D"))
        if at.size and at[0] >= 4:
            found[window.threshold.name] = float(answer.soil_c[at[0] - 4 : at[0] + 1].mean())
    return found


def _say(asked: Asked, *, as_json: bool) -> None:
    from forecaster.words import told_json, told_text  # noqa: PLC0415

    if as_json:
        import json  # noqa: PLC0415

        click.echo(json.dumps(told_json(asked.told), indent=2, ensure_ascii=False, allow_nan=False))
        return
    import shutil  # noqa: PLC0415

    width = shutil.get_terminal_size().columns
    click.echo(told_text(asked.told, width, asked.show), nl=False)  # type: ignore[arg-type]


def there(path: Path, *, folder: bool = False) -> bool:
    """Whether there is such a file, or folder; a name that no file can have is not there."""
    try:
        return path.is_dir() if folder else path.exists()
    except (OSError, ValueError):
        return False


def check_picture(out: str) -> None:
    """Refuse a name that cannot be written before the long work begins."""
    from pathlib import Path  # noqa: PLC0415

    path = Path(out)
    if path.suffix.lower() not in (".png", ".svg"):
        raise click.UsageError(f"--out {out!r}: expected a name ending in .png or .svg.")
    if not there(path.parent, folder=True):
        raise click.UsageError(
            f"--out {out!r}: there is no folder {str(path.parent)!r}; make it, or name another."
        )


def _draw(asked: Asked, out: str) -> str:
    """Write the picture and its description, and return both paths in words."""
    from forecaster.charts import draw, picture_of  # noqa: PLC0415

    return written(lambda path: draw(picture_of(asked.answer, asked.told), path), out)


def written(draw: Callable[[str], Path], out: str) -> str:
    """Draw, and return where the picture and its description are."""
    try:
        beside = draw(out)
    except OSError as error:
        raise click.UsageError(f"--out {out!r}: {error.strerror}; name another file.") from error
    return f"Picture: {out}\nIn words: {beside}"
