"""The ``air`` commands: stations nearby, records and forecasts from public services, into files.

Everything heavier than click is imported inside the commands. This module reads the clock, as
`forecaster.cli` does.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from forecaster.cli.bare import HEIGHT
from forecaster.cli.degrees import Degrees
from forecaster.cli.kinds import DATE, SCALES, SCALES_SHOWN
from forecaster.cli.output import FORCE, target

if TYPE_CHECKING:
    from forecaster.fetch.ncei import Station
    from forecaster.fetch.record import Correction
    from forecaster.fetch.session import Fetcher
    from forecaster.fetch.table import Fetched

Command = TypeVar("Command", bound=Callable[..., Any])

FIRST_DAY = "2005-01-01"
MOST_CHECKED = 10


def _place(command: Command) -> Command:
    command = click.option(
        "--lon", required=True, type=Degrees("E", "W", 180.0), help="Longitude, as 81.33W."
    )(command)
    return click.option(
        "--lat", required=True, type=Degrees("N", "S", 90.0), help="Latitude, as 33.36N or -36.2."
    )(command)


def _door(command: Command) -> Command:
    """Add the options on kept answers."""
    command = click.option(
        "--cache", metavar="FILE",
        help="Where answers are kept between calls, a file or folder; default: your cache folder.",
    )(command)  # fmt: skip
    command = click.option(
        "--refresh", is_flag=True,
        help="Ask for everything anew; kept answers serve only where nobody answers.",
    )(command)  # fmt: skip
    return click.option(
        "--offline", is_flag=True, help="Ask nobody; answers kept from before serve, however old."
    )(command)


_from = click.option(
    "--from", "first", type=DATE, metavar="YYYY-MM-DD", default=FIRST_DAY, show_default=True,
    help="First day wanted.",
)  # fmt: skip
_show = click.option(
    "--show", type=SCALES_SHOWN, metavar="F|C", default="F", show_default=True,
    help="F for °F, miles and feet; C for °C, kilometres and metres.",
)  # fmt: skip


@click.group()
def air() -> None:
    """Fetch air records and forecasts from public weather services.

    Answers are kept: the past is asked for once, this year again after hours, a forecast after one
    hour. Without a network an older answer serves, and its age is said.
    """


@air.command()
@_place
@click.option(
    "--elev",
    type=HEIGHT,
    metavar="HEIGHT",
    help="Your height above sea level, as 400ft or 120m; it matters.",
)
@click.option(
    "--years", type=click.IntRange(1, 100), default=15, show_default=True,
    help="Years of both daily extremes, up to this one.",
)  # fmt: skip
@click.option(
    "--count", type=click.IntRange(1, 50), default=5, show_default=True, help="Stations to list."
)
@click.option(
    "--check", type=click.IntRange(0, MOST_CHECKED), default=0,
    help="Fetch the first so many, and say how complete they are.",
)  # fmt: skip
@_door
@_show
@click.option("--json", "as_json", is_flag=True, help="Answer for a program.")
def near(
    *, lat: float, lon: float, elev: str | None, years: int, count: int, check: int,
    offline: bool, refresh: bool, cache: str | None, show: str, as_json: bool,
) -> None:  # fmt: skip
    """List the weather stations that stand for your place, best first.

    From the station list of GHCN-Daily, which covers the world. Height counts before distance.
    """
    from forecaster.answers.nearby import last_year_listed, stations_near
    from forecaster.fetch.near import FARTHEST_KM
    from forecaster.ground.units import parse_length
    from forecaster.words import fetched as told

    height_m = parse_length(elev) if elev is not None else None
    today = dt.date.today()
    with _fetcher(cache, offline=offline, refresh=refresh) as fetcher:
        near_it = stations_near(
            fetcher.ask, lat, lon, elevation_m=height_m, years=years, today=today
        )
        found = near_it.found
        shares = {
            one.station.station: _share(fetcher, one.station, years, today)
            for one in found[: min(check, count)]
        }
    oldest = near_it.list_
    if as_json:
        click.echo(told.near_json(found[:count], shares, oldest.fetched, near_it.height_m))
        return
    if not found:
        none = (
            f"No station within {told.far(FARTHEST_KM * 1000.0, show)} has {years} years of both "
            f"daily extremes to {last_year_listed(today)}; ask for fewer with --years. "
            f"{told.ELSEWHERE}"
        )
        _say([none])
        return
    click.echo("\n".join(told.near_table(found[:count], shares, years, show)))
    click.echo()
    words = told.near_words(near_it.height_m, show, assumed=near_it.assumed, checked=bool(shares))
    _say(words)
    _say([told.age_of(oldest.age, stale=oldest.stale, why=oldest.why, what="Station list")])
    click.echo(f"Next: crossday air fetch {found[0].station.station} --out air.csv")


@air.command()
@click.argument("station")
@_from
@click.option(
    "--to", "last", type=DATE, metavar="YYYY-MM-DD", help="Last day wanted; default: today."
)
@click.option("--out", required=True, metavar="FILE.csv", help="Record to start or to add to.")
@_door
@_show
def fetch(
    station: str, *, first: dt.datetime, last: dt.datetime | None, out: str,
    offline: bool, refresh: bool, cache: str | None, show: str,
) -> None:  # fmt: skip
    """Fetch a station's daily record into a file, or bring the file up to date.

    STATION is a GHCN-Daily id, as crossday air near lists them, or a name of the US Climate
    Reference Network, as NE_Lincoln_11_SW. A file from before gets only the days that are missing
    or were provisional; a value that was corrected meanwhile is replaced, with a note.
    """
    from forecaster.fetch import record, uscrn
    from forecaster.fetch.ncei import check_span, check_station
    from forecaster.words import fetched as told

    goal = target(out, record.RECORD, read=() if cache is None else (cache,), force=True)
    today = dt.date.today()
    if not uscrn.is_name(station):
        check_station(station)
    begin, end = first.date(), min(last.date() if last is not None else today, today)
    check_span(begin, end)
    kept = record.read_record(goal.path, station)
    added = 0
    corrections: list[Correction] = []
    fetched: list[Fetched] = []
    with _fetcher(cache, offline=offline, refresh=refresh) as fetcher:
        for asked in record.wanted(None if refresh else kept, begin, end):
            new = _daily(fetcher, station, *asked, today, missing_is_fine=kept is not None)
            if new is None:
                continue
            account = new.table.attrs["account"]
            place = (station, account.latitude_deg, account.longitude_deg)
            kept, more, changed = record.merge(
                kept, new.table, asked, new.fetched.astimezone().date(), place
            )
            added, corrections = added + more, corrections + changed
            fetched.append(new)
    if kept is not None and fetched:
        record.write_record(goal.path, kept)
    _say(told.fetch_words(kept, fetched, added=added, corrections=corrections, out=out, show=show))


@air.command()
@_place
@_from
@click.option(
    "--to", "last", type=DATE, metavar="YYYY-MM-DD", help="Last day wanted; default: yesterday."
)
@click.option("--out", required=True, metavar="FILE.csv", help="Record to start or to add to.")
@_door
@_show
def grid(
    *, lat: float, lon: float, first: dt.datetime, last: dt.datetime | None, out: str,
    offline: bool, refresh: bool, cache: str | None, show: str,
) -> None:  # fmt: skip
    """Fetch a gridded stand-in for anywhere in the world, where no station is near.

    The means of a square some 50 km wide, from an analysis of the weather (NASA POWER). It is no
    station: the file says so, and so does every answer made from it, with a wider interval.
    """
    from forecaster.fetch import power, record
    from forecaster.fetch.ask import NoDays
    from forecaster.words import fetched as told

    goal = target(out, record.RECORD, read=() if cache is None else (cache,), force=True)
    today = dt.date.today()
    where = power.spot(lat, lon)
    begin, end = first.date(), min(last.date() if last is not None else today, today)
    power.days_request(where, begin, end, today)
    kept = record.read_record(goal.path, where.station)
    added = 0
    corrections: list[Correction] = []
    fetched: list[Fetched] = []
    revised = power.PROVISIONAL_DAYS
    with _fetcher(cache, offline=offline, refresh=refresh) as fetcher:
        for asked in record.wanted(None if refresh else kept, begin, end):
            try:
                new = power.daily(fetcher.ask, where, *asked, today)
            except NoDays:
                if kept is None:
                    raise
                continue
            kept, more, changed = record.merge(
                kept, new.table, asked, new.fetched.astimezone().date(),
                (where.station, where.latitude_deg, where.longitude_deg),
                provisional_days=revised,
            )  # fmt: skip
            added, corrections = added + more, corrections + changed
            fetched.append(new)
    if kept is not None and fetched:
        record.write_record(goal.path, kept)
    words = told.fetch_words(
        kept, fetched, added=added, corrections=corrections, out=out, show=show,
        provisional_days=revised,
    )  # fmt: skip
    _say(words)


@air.command()
@_place
@click.option("--out", required=True, metavar="FILE.csv", help="Where to write the days ahead.")
@click.option(
    "--service", type=click.Choice(("auto", "us", "world")), default="auto", show_default=True,
    help="us: National Weather Service; world: MET Norway; auto: us where it covers the place.",
)  # fmt: skip
@click.option(
    "--contact", envvar="CROSSDAY_CONTACT", metavar="ADDRESS",
    help="Your e-mail or web address, sent to MET Norway, whose terms ask for it.",
)  # fmt: skip
@click.option(
    "--clock", metavar="ZONE|HOURS",
    help="Your clock, as Europe/Dublin or +5:30, for days elsewhere; default: by the longitude.",
)  # fmt: skip
@click.option(
    "--elev",
    type=HEIGHT,
    metavar="HEIGHT",
    help="Your height above the sea, for MET Norway, as 400ft or 120m.",
)
@FORCE
@_door
@_show
def outlook(
    *,
    lat: float,
    lon: float,
    out: str,
    service: str,
    contact: str | None,
    clock: str | None,
    elev: str | None,
    force: bool,
    offline: bool,
    refresh: bool,
    cache: str | None,
    show: str,
) -> None:
    """Fetch the forecast of the coming days for crossday when --outlook.

    In the United States from the National Weather Service, elsewhere from MET Norway, which asks
    for an address of yours (--contact).
    """
    from forecaster.fetch import record
    from forecaster.ground.errors import DataMissing
    from forecaster.ground.files import Mark
    from forecaster.words import fetched as told

    mark, read = Mark(record.OUTLOOK.encode()), () if cache is None else (cache,)
    goal = target(out, mark, read=read, force=force)
    with _fetcher(cache, offline=offline, refresh=refresh) as fetcher:
        how = {"contact": contact, "clock": clock, "elev": elev}
        found = _ahead(fetcher, lat, lon, service, **how)
    days = found.table.dropna(subset=["tmin_c", "tmax_c"])
    if days.empty:
        raise DataMissing(f"{found.source}: the forecast has no day with both extremes")
    credit = [note for note in found.notes if note.startswith("Data: ")]
    record.write_table(goal, days, "; ".join([record.OUTLOOK, *credit]))
    from forecaster.words.phrases import count

    click.echo(f"{found.source}: {count(len(days), 'day')} ahead")
    for day, low, high in zip(days.index, days["tmin_c"], days["tmax_c"], strict=True):
        click.echo(f"  {day:%a} {day.date()}  {told.warm(low, show)} to {told.warm(high, show)}")
    age = told.age_of(found.age, stale=found.stale, why=found.why, what="Forecast")
    _say([age, *found.notes])
    click.echo(f"Written: {out}\nNext: crossday when air.csv --outlook {out}")


def _ahead(
    fetcher: Fetcher, lat: float, lon: float, service: str,
    *, contact: str | None, clock: str | None, elev: str | None,
) -> Fetched:  # fmt: skip
    """Ask the service that covers the place, or the one named."""
    from forecaster.cli.place import clock_of
    from forecaster.fetch import met, nws
    from forecaster.ground.units import parse_length

    if service == "us" or (service == "auto" and nws.may_cover(lat, lon)):
        try:
            return nws.outlook(fetcher.ask, lat, lon)
        except nws.NotCovered:
            if service == "us":
                raise
    height_m = None if elev is None else parse_length(elev)
    return met.outlook(
        fetcher.ask, lat, lon, contact=contact, clock=clock_of(clock), elevation_m=height_m
    )


@air.command("import")
@click.argument("files", nargs=-1, required=True, metavar="FILE…")
@click.option("--out", required=True, metavar="FILE.csv", help="Where to write the record.")
@click.option(
    "--units", type=SCALES, metavar="F|C|K", help="Unit of temperatures, where none is said."
)
@click.option("--obs-hour", type=click.IntRange(0, 23), help="Hour at which the air was read.")
@FORCE
def import_(
    files: tuple[str, ...], *, out: str, units: str | None, obs_hour: int | None, force: bool
) -> None:
    """Read any daily record and write it plainly: date, °C and mm, one line a day."""
    from forecaster.fetch.record import IMPORTED, write_table
    from forecaster.ground.errors import InputError
    from forecaster.ground.files import Mark
    from forecaster.ingest import account_of, read_air

    goal = target(out, Mark(IMPORTED.encode()), read=files, force=force)
    table = read_air(list(files) if len(files) > 1 else files[0], units=units, obs_hour=obs_hour)
    account = account_of(table)
    if account.gridded:
        raise InputError(
            f"{account.path}: a gridded stand-in as crossday air grid wrote it; use it as it is. "
            "Written anew it would no longer say that it is no station"
        )
    write_table(goal, table.dropna(how="all"), IMPORTED)
    click.echo(f"{account.path}: {account.format}, {account.units}")
    from forecaster.words.phrases import count

    missing = count(account.gap_days, "day")
    click.echo(
        f"{account.rows_used:,} of {account.rows_read:,} rows used, "
        f"{table.index[0].date()} to {table.index[-1].date()}, {missing} missing."
    )
    _say(account.notes)
    click.echo(f"Written: {out}")


def _say(sentences: Sequence[str]) -> None:
    """Print sentences within the terminal's width; names and commands are not broken."""
    import shutil

    from forecaster.words.layout import wrap

    width = max(shutil.get_terminal_size().columns, 40)
    for words in sentences:
        click.echo(wrap(words, width, hang="  ", break_long=False))


def _fetcher(cache: str | None, *, offline: bool, refresh: bool) -> Fetcher:
    from forecaster.fetch.session import Fetcher
    from forecaster.ground.errors import InputError

    if cache is not None and not cache.strip():
        raise InputError("--cache names nothing; expected a file or folder, or leave it out")
    return Fetcher(cache, offline=offline, refresh=refresh)


def _daily(
    fetcher: Fetcher, station: str, first: dt.date, last: dt.date, today: dt.date,
    *, missing_is_fine: bool,
) -> Fetched | None:  # fmt: skip
    """Ask the network that a station's name belongs to; None where it has no such days yet."""
    from forecaster.answers.nearby import days_of
    from forecaster.fetch.ask import NoDays

    try:
        return days_of(fetcher.ask, station, first, last, today)
    except NoDays:
        if missing_is_fine:
            return None
        raise


def _share(fetcher: Fetcher, station: Station, years: int, today: dt.date) -> float | None:
    """Return the share of days with both extremes in the last years, None if it is not known."""
    from forecaster.fetch import ncei
    from forecaster.ground.errors import DataMissing

    first = dt.date(today.year - years + 1, 1, 1)
    try:
        table = ncei.daily_summaries(fetcher.ask, station.station, first, today, today).table
    except DataMissing:
        return None
    both = table["tmin_c"].notna() & table["tmax_c"].notna()
    return float(both.sum()) / ((today - first).days + 1)
