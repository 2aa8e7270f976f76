"""`crossday book …`: the garden book from the command line.

Everything heavier than click is imported inside the commands, so that help stays quick.
"""

from __future__ import annotations

import shlex
from dataclasses import asdict
from typing import Any, ClassVar

import click

from forecaster.cli.bare import AREA_TOLD, DAY_TOLD, DEPTH, HEIGHT, TEMPERATURE
from forecaster.cli.book_import import import_
from forecaster.cli.book_shared import (
    BED,
    BOOK,
    DAY_FIRST,
    FIRST_PLACE,
    JSON,
    ON,
    PLACE,
    SHOW,
    UNITS,
    bed_for,
    outline_said,
    scale,
    share_of,
    tell,
    today_here,
    written,
)
from forecaster.cli.book_wants import cost, outcome, summary, want
from forecaster.cli.degrees import Degrees
from forecaster.cli.door import Door
from forecaster.cli.kinds import COVER, SOIL, once
from forecaster.cli.options import OUTLINE_HELP, declare
from forecaster.cli.place import opened

LIGHTS = ("sun", "part shade", "shade")
BATCHES_SHOWN, ENTRIES_SHOWN = 8, 5


class Shelf(Door):
    """The book's own commands."""

    elsewhere: ClassVar[dict[str, str]] = {}


@click.group(
    cls=Shelf, no_args_is_help=False, context_settings={"help_option_names": ["-h", "--help"]}
)
def book() -> None:
    """Keep beds, readings, air and plantings in one file.

    Begin with: crossday book start --lat 36.2S --air FILE
    """


@book.command()
@declare(
    click.option("--lat", type=Degrees("N", "S", 90.0), help="Latitude, as 33.36N or -36.2."),
    click.option("--lon", type=Degrees("E", "W", 180.0), help="Longitude, as 81.33W."),
    click.option("--elevation", type=HEIGHT, help="Above the sea, as 250m or 820ft."),
    click.option("--air", metavar="FILE", help="Daily air-temperature record to begin with."),
    click.option("--name", default=FIRST_PLACE, show_default=True, help="Name of the place."),
    click.option(
        "--bed", metavar="NAME", multiple=True, callback=once, help="Make a bed of this name too."
    ),
    click.option("--station", default="", help="Name of the air station."),
    click.option("--obs-hour", type=click.IntRange(0, 23), help="Hour at which its air is read."),
    UNITS, DAY_FIRST, BOOK, JSON,
)  # fmt: skip
def start(
    *,
    lat: float | None,
    lon: float | None,
    elevation: str | None,
    air: str | None,
    name: str,
    bed: str | None,
    station: str,
    obs_hour: int | None,
    units: str | None,
    day_first: bool | None,
    path: str | None,
    as_json: bool,
) -> None:
    """Begin a book: where the garden is, and its air record."""
    from forecaster.answers.at_once import doubt_place_air
    from forecaster.answers.taken import read_air_file
    from forecaster.book import Bed, Place, add_air, add_bed, add_place
    from forecaster.ground.units import parse_length
    from forecaster.ingest import account_of
    from forecaster.words.book import air_words, bed_line, place_line

    height = None if elevation is None else parse_length(elevation)
    record = None
    if air is not None:
        record = read_air_file(air, obs_hour=obs_hour, units=units, day_first=day_first)
        found = account_of(record.table)
        lat, lon = (found.latitude_deg, found.longitude_deg) if lat is None else (lat, lon)
        station = station or found.station
    if lat is None:
        raise click.UsageError("say where the garden is: --lat, as --lat 33.36N or --lat -36.2.")
    place = Place(
        name=name,
        latitude_deg=lat,
        longitude_deg=lon,
        elevation_m=height,
        station=station,
        obs_hour=obs_hour,
    )
    first = None if bed is None else Bed(name=bed, place=name)
    added = None
    doubts: tuple[str, ...] = ()
    with opened(path, create=True) as held:
        with held.batch("start", name) as batch:
            add_place(batch, place)
            if record is not None:
                added = add_air(batch, name, record.table, **record.how)
                doubts = doubt_place_air(held, name)
            if first is not None:
                add_bed(batch, first)
        words = [f"Book: {held.path}", f"{place_line(place)}."]
        words += [f"{bed_line(first)}."] if first else []
        words += air_words(added, name, "F") if added else []
        words += [f"Check first: {each}" for each in doubts]
        data = {
            "book": str(held.path), "place": place, "bed": first, "air": added, "doubts": doubts,
        }  # fmt: skip
    if added is None:
        words.append("No air yet; add a record: crossday book import FILE --air")
    else:
        words.append("Next, the soil's temperature: crossday book read 61.5F")
    tell(words, data, as_json=as_json)


@book.command()
@declare(
    click.argument("name", metavar="NAME"),
    PLACE,
    click.option("--area", type=AREA_TOLD, metavar="AREA", help="As 100ft2 or 9.3m2."),
    click.option("--outline", metavar="WORDS", help=OUTLINE_HELP),
    click.option("--soil", type=SOIL, help="Texture; default: loam."),
    click.option("--organic", metavar="SHARE", help="Organic matter by weight, as 5% or 0.05."),
    click.option("--cover", type=COVER, help="Default: bare, as beds are."),
    click.option("--light", type=click.Choice(LIGHTS), help="Default: sun."),
    click.option("--raised/--level", default=None, help="Raised bed, or level with the ground."),
    click.option("--depth", type=DEPTH, metavar="DEPTH", help="Of the thermometer; default: 4in."),
    BOOK, JSON,
)  # fmt: skip
def bed(
    *,
    name: str,
    place: str | None,
    area: str | None,
    outline: str | None,
    organic: str | None,
    depth: str | None,
    path: str | None,
    as_json: bool,
    **plain: Any,
) -> None:
    """Make a bed, or change what the book says of one."""
    from forecaster.book import add_bed, beds, change_bed, find_place
    from forecaster.book.places import Bed, name_key
    from forecaster.ground.units import parse_area, parse_length
    from forecaster.words.book import bed_line

    said = {key: value for key, value in plain.items() if value is not None}
    if area is not None and outline is not None:
        raise click.UsageError("--area and --outline both say how large it is; give one of them.")
    said |= {} if area is None else {"area_m2": parse_area(area)}
    said |= {} if outline is None else outline_said(outline)
    said |= {} if organic is None else {"organic_share": share_of(organic)}
    said |= {} if depth is None else {"depth_m": parse_length(depth)}
    with opened(path) as held:
        known = name_key(name) in [name_key(one.name) for one in beds(held)]
        if known:
            if place is not None:
                raise click.UsageError("a bed stays at its place; make another with a new name.")
            made = change_bed(held, name, **said)
        else:
            made = Bed(name=name, place=find_place(held, place).name, **said)
            with held.batch("bed", name) as batch:
                add_bed(batch, made)
    tell([f"{bed_line(made)}."], {"changed": known, "bed": made}, as_json=as_json)


@book.command()
@declare(
    click.argument("temperature", type=TEMPERATURE, metavar="TEMP"),
    BED,
    click.option("--depth", type=DEPTH, help="As 4in or 10cm; default: the bed's."),
    click.option("--at", type=DAY_TOLD, help="As 7:40, 2026-03-14 or '2026-03-14 7:40'."),
    BOOK, JSON, SHOW,
)  # fmt: skip
def read(
    *,
    temperature: str,
    bed: str | None,
    depth: str | None,
    at: str | None,
    path: str | None,
    as_json: bool,
    show: str,
) -> None:
    """Write down a reading of the soil's temperature, as 61.5F."""
    from forecaster.book.moments import moment
    from forecaster.ground.units import parse_length, parse_temperature

    temp_c = parse_temperature(temperature)
    depth_m = None if depth is None else parse_length(depth)
    when = moment(at)
    import pandas as pd

    from forecaster.answers.at_once import doubt_reading
    from forecaster.book import add_readings, say_name
    from forecaster.ground.errors import InputError
    from forecaster.words.book import readings_words
    from forecaster.words.phrases import degrees, length

    if not -60.0 <= temp_c <= 80.0:
        raise InputError(f"{temperature} is no soil's temperature; expected -76F to 176F")
    with opened(path) as held, held.batch("read", "by hand") as batch:
        where = bed_for(batch, bed)
        deep = where.depth_m if depth_m is None else depth_m
        row = {
            "time": [pd.Timestamp(when.standard)], "wall": [pd.Timestamp(when.wall)],
            "temp_c": [temp_c], "depth_m": [float("nan") if depth_m is None else depth_m],
            "span": ["instant"], "hour_known": [when.hour_known],
        }  # fmt: skip
        added = add_readings(batch, where.name, pd.DataFrame(row))
        doubt = ""
        if added.new:
            doubt = doubt_reading(held, where.name, pd.Timestamp(when.standard), temp_c)
    if added.conflicts:
        raise InputError(" ".join(readings_words(added, where.name, scale(show))))
    verb = "Written down" if added.new else "In the book already"
    warm = degrees(temp_c, scale(show), both=True)
    deep_down = "at the surface" if deep == 0.0 else f"{length(deep)} down"
    words = [f"{verb}: {warm} in {say_name(where.name)}, {deep_down}, {when.said}."]
    words += [doubt] if doubt else []
    data = {
        "bed": where.name, "temp_c": round(temp_c, 4), "depth_m": deep,
        "time": when.standard.isoformat(), "wall": when.wall.isoformat(),
        "hour_known": when.hour_known, "new": bool(added.new),
        "doubts": [doubt] if doubt else [],
    }  # fmt: skip
    tell(words, data, as_json=as_json)


for command in (import_, want, outcome, cost, summary):
    book.add_command(command)


def _entry(action: str, what: str, **how: Any) -> None:
    from forecaster.book import Planting, add_planting
    from forecaster.book.moments import day_of
    from forecaster.words.book import planting_line

    day = day_of(how["on"], today_here())
    with opened(how["path"]) as held, held.batch(action, "by hand") as batch:
        where = bed_for(batch, how["bed"])
        entry = Planting(where.name, day, action, what, how["count"])  # type: ignore[arg-type]
        add_planting(batch, entry)
    tell([f"{planting_line(entry, today_here())}."], asdict(entry), as_json=how["as_json"])


WHAT = click.argument("what", metavar="WHAT")
COUNT = click.option("--count", type=click.IntRange(1, 10**9), help="How many plants.")


@book.command()
@declare(WHAT, COUNT, BED, ON, BOOK, JSON)
def planted(what: str, **how: Any) -> None:
    """Write down what was planted."""
    _entry("planted", what, **how)


@book.command()
@declare(WHAT, COUNT, BED, ON, BOOK, JSON)
def pulled(what: str, **how: Any) -> None:
    """Write down what was taken out."""
    _entry("pulled", what, **how)


@book.command()
@declare(click.argument("text", metavar="TEXT"), BED, ON, BOOK, JSON)
def note(text: str, *, bed: str | None, on: str | None, path: str | None, as_json: bool) -> None:
    """Write a note down, on a bed or on the garden."""
    from forecaster.book import Note, add_note, find_bed
    from forecaster.book.moments import day_of
    from forecaster.words.book import note_line

    day = day_of(on, today_here())
    with opened(path) as held, held.batch("note", "by hand") as batch:
        entry = Note(day, text, None if bed is None else find_bed(held, bed).name)
        add_note(batch, entry)
    tell([note_line(entry, today_here())], asdict(entry), as_json=as_json)


@book.command()
@declare(BED, BOOK, JSON)
def show(*, bed: str | None, path: str | None, as_json: bool) -> None:
    """Show what the book holds: places, beds, entries, and batches to undo."""
    from forecaster import book as kept
    from forecaster.words import book as words
    from forecaster.words import season

    with opened(path) as held:
        only = None if bed is None else kept.find_bed(held, bed).name
        beds = [one for one in kept.beds(held) if only in (None, one.name)]
        data: dict[str, Any] = {
            "book": str(held.path),
            "places": [asdict(one) | kept.air_span(held, one.name) for one in kept.places(held)],
            "beds": [asdict(one) | kept.reading_span(held, one.name) for one in beds],
            "plantings": kept.plantings(held, only),
            "notes": kept.notes(held, only),
            "wants": kept.wants(held, only),
            "outcomes": kept.outcomes(held, only),
            "costs": kept.costs(held, bed=only),
            "batches": kept.batches(held),
        }
        places = kept.places(held)
    today = today_here()
    lines = [f"Book: {data['book']}"]
    for place, facts in zip(places, data["places"], strict=True):
        lines.append(f"{words.place_line(place)}; {words.air_span_words(facts)}.")
    for one, facts in zip(beds, data["beds"], strict=True):
        lines.append(f"{words.bed_line(one)}; {words.reading_span_words(facts)}.")
    lines += [f"{season.want_line(one)}." for one in data["wants"]]
    lines += [words.planting_line(one, today) for one in data["plantings"][-ENTRIES_SHOWN:]]
    lines += [season.outcome_line(one, today) for one in data["outcomes"][-ENTRIES_SHOWN:]]
    lines += [season.cost_line(one, today) for one in data["costs"][-ENTRIES_SHOWN:]]
    lines += [words.note_line(one, today) for one in data["notes"][-ENTRIES_SHOWN:]]
    lines.append("Last batches, to be undone by their numbers:")
    lines += [words.batch_line(one) for one in data["batches"][-BATCHES_SHOWN:]]
    tell(lines, data, as_json=as_json)


@book.command()
@declare(
    click.option("--batch", type=click.IntRange(min=1), help="Which one; default: the last."),
    BOOK, JSON,
)  # fmt: skip
def undo(*, batch: int | None, path: str | None, as_json: bool) -> None:
    """Take back the last batch, or the one numbered, as a whole."""
    from forecaster import book as kept
    from forecaster.words.book import batch_line

    with opened(path) as held:
        done = kept.undo(held, batch)
    words = [f"Undone: {batch_line(done.batch)}."]
    if done.kept:
        words.append("Its place or bed stays: later entries belong to it.")
    if done.later:
        words.append(
            "Rows that a later file held too went with it; import that file again to have them."
        )
    tell(words, asdict(done), as_json=as_json)


@book.command()
@declare(click.argument("out", metavar="OUT"), BOOK, JSON)
def export(out: str, *, path: str | None, as_json: bool) -> None:
    """Write the whole book to a new folder of CSV tables, or to a .json file.

    crossday book import reads either back into a new book.
    """
    from pathlib import Path

    from forecaster.book import export_book

    with opened(path) as held:
        counts = export_book(held, Path(out))
    tell([written(counts, out)], {"rows": counts}, as_json=as_json)


@book.command()
@declare(click.argument("copy", metavar="PATH"), BOOK, JSON)
def backup(copy: str, *, path: str | None, as_json: bool) -> None:
    """Copy the book to a new file, whole, even while another command writes."""
    from pathlib import Path

    from forecaster.book import copy_book

    with opened(path) as held:
        copy_book(held.path, Path(copy).absolute())
    tell([f"Copied to {copy}."], {"copy": copy}, as_json=as_json)


@book.command()
@declare(click.argument("new", metavar="NEW.db"), BOOK, JSON)
def salvage(new: str, *, path: str | None, as_json: bool) -> None:
    """Write what can be read of a damaged book into a new one, and say what is lost."""
    from pathlib import Path

    from forecaster.book import default_path, salvage_book

    source = default_path() if path is None else Path(path)
    found = salvage_book(source.absolute(), Path(new).absolute())
    words = [written(found.rows, new)]
    words += found.troubles or ["Nothing was missing; the sums of all batches are right."]
    words.append(f"Look at it: crossday book show --book {shlex.quote(new)}")
    tell(words, asdict(found), as_json=as_json)


@book.command()
@declare(
    BED,
    click.option("--planted", "on", metavar="YYYY-MM-DD", help="Default: the last planting."),
    click.option("--weeks", type=click.IntRange(1, 26), default=8, show_default=True,
                 help="How many weeks after it."),
    BOOK, JSON, SHOW,
)  # fmt: skip
def season(
    *,
    bed: str | None,
    on: str | None,
    weeks: int,
    path: str | None,
    as_json: bool,
    show: str,
) -> None:
    """Show what the soil did after a planting against what was forecast then."""
    from forecaster.answers.bed import follow_planting
    from forecaster.book.moments import day_of
    from forecaster.words.book import season_words

    day = None if on is None else day_of(on, today_here())
    with opened(path) as held:
        found = follow_planting(held, bed, day, weeks)
    words = season_words(found, scale(show))
    data = {
        "planted": found.planted,
        "issued": found.shown.issued,
        "weeks": [
            {"date": day.date(), **row} for day, row in zip(
                found.table.index, found.table.to_dict("records"), strict=True
            )
        ],
        "settled": [
            asdict(one.window) | {"came": one.settled, "over": one.over} for one in found.came
        ],
    }  # fmt: skip
    tell(words, data, as_json=as_json)
