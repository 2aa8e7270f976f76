"""A place as the options name it: from files, or of a bed in the garden book."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal

import click

if TYPE_CHECKING:
    from forecaster.answers.record import Held, Record
    from forecaster.answers.window import Threshold, WindowAnswer
    from forecaster.book import Book

DEPTH = "4in"


def read_place(
    files: Sequence[str],
    *,
    bed: str | None = None,
    book: str | None = None,
    outlook: str | None = None,
    units: str | None = None,
    day_first: bool | None = None,
    **told: Any,
) -> Record:
    """Read the air and the log of a place: from files, or of a bed in the garden book."""
    from dataclasses import replace

    from forecaster.ingest import account_of, read_air

    if files and (bed is not None or book is not None):
        raise click.UsageError("give FILE, or a bed of the garden book with --bed; not both.")
    if files:
        record = _of_files(files, units=units, day_first=day_first, **told)
    else:
        for name in ("lat", "lon", "readings", "clock", "columns", "probe"):
            if told.get(name) not in (None, ()):
                option = "column" if name == "columns" else name
                raise click.UsageError(f"--{option} belongs to FILE; the book has the bed's own.")
        record = _of_bed(from_book(bed, book), told)
    if outlook is None:
        return record
    ahead = read_air(outlook, units=units, day_first=day_first)
    return replace(record, ahead=ahead, accounts={**record.accounts, "Outlook": account_of(ahead)})


def _of_files(
    files: Sequence[str],
    *,
    lat: float | None = None,
    lon: float | None = None,
    depth: str | None = None,
    readings: str | None = None,
    soil: str | None = None,
    cover: str | None = None,
    units: str | None = None,
    readings_units: str | None = None,
    clock: str | None = None,
    obs_hour: int | None = None,
    day_first: bool | None = None,
    columns: Sequence[str] = (),
    probe: str | None = None,
    today: Any = None,
) -> Record:
    """Return the record of a place from files."""
    from datetime import date

    from forecaster.answers.of_files import record_of_files
    from forecaster.ground.units import parse_length

    depth = depth or DEPTH
    of_air, of_log = columns_told(columns)
    return record_of_files(
        files[0] if len(files) == 1 else list(files),
        now=date.today(),
        latitude_deg=lat,
        longitude_deg=lon,
        depth_m=parse_length(depth),
        depth_said=depth,
        soil=soil or "loam",  # type: ignore[arg-type]
        cover=cover or "bare",  # type: ignore[arg-type]
        clock=clock_of(clock),
        readings=readings,
        units=units,
        readings_units=readings_units,
        obs_hour=obs_hour,
        day_first=day_first,
        of_air=of_air,
        of_log=of_log,
        probe=probe,
        today=None if today is None else today.date(),
    )


def clock_of(words: str | None) -> str | float | None:
    """Return hours ahead of universal time from -6 or +5:30, else the name of a time zone."""
    match = re.fullmatch(r"\s*([+\-−]?)(\d{1,2})(?::([0-5]\d))?\s*", words or "")
    if match is None:
        return words
    hours = int(match[2]) + int(match[3] or 0) / 60.0
    return -hours if match[1] in ("-", "−") else hours


def columns_told(columns: Sequence[str]) -> tuple[dict[str, str], dict[str, str]]:
    """Return what ``--column`` says of the air file's columns and of the log's.

    Dates and times are the log's where a column of soil is told, else the air's.
    """
    pairs = [one.partition("=") for one in columns]
    if wrong := [one for one, pair in zip(columns, pairs, strict=True) if not all(pair)]:
        raise click.UsageError(f"--column {wrong[0]!r}: expected KIND=NAME, as soil10=T_north.")
    told = {kind.strip().lower(): name.strip() for kind, _, name in pairs}
    log = {kind for kind in told if kind.startswith("soil") or kind == "probe"}
    if log:
        log |= told.keys() & {"date", "time"}
    air = {kind: name for kind, name in told.items() if kind not in log}
    return air, {kind: name for kind, name in told.items() if kind in log}


def _of_bed(held: Held, told: dict[str, Any]) -> Record:
    """Return what the book has of a bed; depth, soil and cover may be asked otherwise."""
    from dataclasses import replace
    from datetime import date

    from forecaster.answers.of_files import days_of
    from forecaster.answers.record import Record
    from forecaster.ground.units import parse_length
    from forecaster.ingest import account_of

    depth, today = told.get("depth"), told.get("today")
    other: dict[str, Any] = {name: told.get(name) for name in ("soil", "cover")}
    other["depth_m"] = None if depth is None else parse_length(depth)
    site = replace(held.site, **{name: value for name, value in other.items() if value is not None})
    accounts = {"Air": account_of(held.air)}
    if held.readings is not None:
        accounts["Readings"] = account_of(held.readings)
    day, asked_on, doubts = days_of(held.air, None if today is None else today.date(), date.today())
    return Record(
        air=held.air,
        log=held.readings,
        site=site,
        today=day,
        asked_on=asked_on,
        accounts=accounts,
        notes=tuple(doubts),
        title=f"{held.place.name}, {held.bed.name}",
        held=held,
    )


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
    from forecaster.answers.window import Threshold, known_thresholds

    if threshold is None:
        return known_thresholds(crop_class)
    from forecaster.ground.units import parse_temperature

    of_class = {"cool": "falling", "warm": "rising", None: direction}[crop_class]
    if direction not in (None, of_class):
        raise click.UsageError(
            f"--crop-class {crop_class} means a {of_class} soil, --direction says {direction}; "
            "leave one of them out."
        )
    way: Literal["falling", "rising"] = "falling" if of_class == "falling" else "rising"
    return [
        Threshold(
            name="yours",
            label="Your threshold",
            threshold_c=parse_temperature(threshold),
            direction=way,
        )
    ]


@contextmanager
def opened(path: str | None, *, create: bool = False) -> Iterator[Book]:
    """Open the book, and say so if an older one was brought up to date."""
    from forecaster.book import open_book

    with open_book(path, create=create) as opened:
        if opened.backed_up is not None:
            click.echo(
                f"The book was brought up to date; before that: {opened.backed_up}", err=True
            )
        try:
            yield opened
        except BaseException:
            opened.discard_if_empty()
            raise


def from_book(bed: str | None, path: str | None) -> Held:
    """Return what the book has for a forecast of a bed, or of the only one."""
    from forecaster.answers.bed import ask_bed
    from forecaster.book import default_path

    if bed is None and path is None and not default_path().exists():
        raise click.UsageError("name a FILE of daily air, or a bed of the garden book with --bed.")
    with opened(path) as held:
        return ask_bed(held, bed)


def keep(record: Record, answer: WindowAnswer) -> None:
    """Keep a forecast that is shown for a bed of the book; if that fails, say so and go on."""
    if record.held is None:
        return
    from forecaster.answers.bed import keep_answer
    from forecaster.ground.errors import ForecasterError

    try:
        keep_answer(record.held, answer, record.today, record.site.depth_m)
    except ForecasterError as error:
        click.echo(f"crossday: this forecast was not kept in the book: {error}", err=True)
