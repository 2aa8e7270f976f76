"""A place from files: its air read, its site made, its log if there is one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import pandas as pd

from forecaster.answers.record import Record
from forecaster.ground.errors import InputError
from forecaster.ground.site import Cover, Site, Soil
from forecaster.ingest import account_of, one_probe, read_air, read_readings
from forecaster.ingest.account import Account

LONGEST_AHEAD_DAYS = 16  # of a record that a weather forecast was appended to
SAME_PLACE_DEG = 0.5  # about 55 km
DEPTH_M, DEPTH_SAID = 0.1016, "4in"


def record_of_files(
    files: str | Sequence[str],
    *,
    now: date,
    latitude_deg: float | None = None,
    longitude_deg: float | None = None,
    depth_m: float = DEPTH_M,
    depth_said: str = DEPTH_SAID,
    soil: Soil = "loam",
    cover: Cover = "bare",
    clock: str | float | None = None,
    readings: str | None = None,
    units: str | None = None,
    readings_units: str | None = None,
    obs_hour: int | None = None,
    day_first: bool | None = None,
    of_air: Mapping[str, str] | None = None,
    of_log: Mapping[str, str] | None = None,
    probe: str | None = None,
    today: date | None = None,
    where_to_say: str = "--lat, as --lat 33.36N (or -36.2)",
) -> Record:
    """Return the record of a place from files.

    Parameters
    ----------
    files : str or sequence of str
        A daily record of air: a file, several, or a folder of one station.
    now : date
        The day on which it is asked.
    latitude_deg, longitude_deg : float, optional
        As known; else as the file has them.
    depth_m, depth_said : float, str
        Planting depth, m, and as it was written.
    soil, cover, clock
        As for `Site`.
    readings : str, optional
        A thermometer's log.
    units, readings_units, obs_hour, day_first, of_air, of_log, probe
        As `read_air` and `read_readings` take them.
    today : date, optional
        Day of the forecast; by default the record's last.
    where_to_say : str
        How a missing latitude is given.

    Raises
    ------
    InputError
        If a file cannot be read as it stands, or no latitude is known.
    """
    air = read_air(files, obs_hour=obs_hour, units=units, day_first=day_first, columns=of_air)
    accounts = {"Air": account_of(air)}
    latitude, longitude, notes = _where(accounts["Air"], latitude_deg, longitude_deg, where_to_say)
    site = Site(latitude, longitude, depth_m, soil, cover, clock)
    log = None
    if readings is not None:
        log = one_probe(
            read_readings(
                readings, columns=of_log, probe=probe, units=readings_units, day_first=day_first
            )
        )
        accounts["Readings"] = account_of(log)
        if log["depth_m"].isna().any():
            notes.append(f"Readings without a depth were taken as read at {depth_said} (--depth).")
    day, asked_on, doubts = days_of(air, today, now)
    return Record(
        air=air,
        log=log,
        site=site,
        today=day,
        asked_on=asked_on,
        accounts=accounts,
        notes=(*notes, *doubts),
    )


def _where(
    account: Account, lat: float | None, lon: float | None, where_to_say: str
) -> tuple[float, float | None, list[str]]:
    """Return latitude and longitude as given, else as the file has them, and a word of doubt."""
    own = account.latitude_deg
    if lat is None and own is None:
        raise InputError(f"{account.path}: no latitude in the file; expected {where_to_say}")
    if lat is not None and own is not None and abs(lat - own) > SAME_PLACE_DEG:
        far = f"The file's own latitude is {own:g}, --lat says {lat:g}: is it the right record?"
        return lat, lon, [far]
    known = own if lat is None else lat
    assert known is not None  # noqa: S101 - for the type checker; refused above
    return known, account.longitude_deg if lon is None else lon, []


def days_of(air: pd.DataFrame, given: date | None, now: date) -> tuple[date, date, list[str]]:
    """Return the day of the forecast, that on which it is asked, and a word of doubt.

    Without a day given, the forecast is as of the record's last day.
    """
    if given is not None:
        return given, given, []
    last: date = air.dropna(how="all").index[-1].date()
    early = (last - now).days
    if early <= LONGEST_AHEAD_DAYS:
        return last, max(last, now), []
    note = (
        f"The air record ends on {last.isoformat()}, {early:,} days after today's date: "
        "days to come are no record. Are its dates right?"
    )
    return last, last, [note]
