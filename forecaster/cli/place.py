"""A place as the options name it: from files, or of a bed in the garden book."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal

import click

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

    from forecaster.answers.bed import Held
    from forecaster.answers.window import Threshold, WindowAnswer
    from forecaster.book import Book
    from forecaster.ingest import Account
    from forecaster.site import Site

OLD_RECORD_DAYS = 7
LONGEST_AHEAD_DAYS = 16  # of a record that a weather forecast was appended to
SAME_PLACE_DEG = 0.5  # about 55 km


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
    from forecaster.units import parse_length

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

    from forecaster.ingest import account_of, read_air, read_readings
    from forecaster.site import Site

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
    from dataclasses import replace

    from forecaster.ingest import account_of

    held = from_book(bed, book)
    told = {"depth_m": depth_m, "soil": soil, "cover": cover}
    site = replace(held.site, **{k: v for k, v in told.items() if v is not None})  # type: ignore[arg-type]
    read = Read(held.air, held.readings, site, {"Air": account_of(held.air)})
    if held.readings is not None:
        read.accounts["Readings"] = account_of(held.readings)
    read.title, read.held = f"{held.place.name}, {held.bed.name}", held
    return read


def _place(
    account: Account, lat: float | None, lon: float | None
) -> tuple[float, float | None, list[str]]:
    """Return latitude and longitude as given, else as the file has them, and a word of doubt."""
    from forecaster.errors import InputError

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
    from datetime import date

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
    from forecaster.units import parse_temperature

    of_class = {"cool": "falling", "warm": "rising", None: direction}[crop_class]
    if direction not in (None, of_class):
        raise click.UsageError(
            f"--crop-class {crop_class} means a {of_class} soil, --direction says {direction}; "
            "leave one of them out."
        )
    way: Literal["falling", "rising"] = "falling" if of_class == "falling" else "rising"
    return [Threshold("yours", "Your threshold", parse_temperature(threshold), way)]


@contextmanager
def opened(path: str | None, *, create: bool = False) -> Iterator[Book]:
    """Open the book, and say so if an older one was brought up to date."""
    from forecaster.book import open_book

    with open_book(path, create=create) as opened:
        if opened.backed_up is not None:
            click.echo(
                f"The book was brought up to date; before that: {opened.backed_up}", err=True
            )
        yield opened


def from_book(bed: str | None, path: str | None) -> Held:
    """Return what the book has for a forecast of a bed, or of the only one."""
    from forecaster.answers.bed import ask_bed
    from forecaster.book import default_path

    if bed is None and path is None and not default_path().exists():
        raise click.UsageError("name a FILE of daily air, or a bed of the garden book with --bed.")
    with opened(path) as held:
        return ask_bed(held, bed)


def keep(held: Held, answer: WindowAnswer, issued: date, depth_m: float) -> None:
    """Keep a forecast that is shown for a bed; if that fails, say so and go on."""
    from forecaster.answers.bed import keep_answer
    from forecaster.errors import ForecasterError

    try:
        keep_answer(held, answer, issued, depth_m)
    except ForecasterError as error:
        click.echo(f"crossday: this forecast was not kept in the book: {error}", err=True)
