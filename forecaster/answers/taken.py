"""A file taken into the garden book: read, added as one batch, and what is doubted of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import pandas as pd

from forecaster import book as kept
from forecaster.answers.at_once import doubt_place_air
from forecaster.fetch.record import HEADING, PROVISIONAL, read_record
from forecaster.ground.errors import FileError, InputError
from forecaster.ingest import account_of, one_probe, read_air, read_readings
from forecaster.ingest.account import Account

What = Literal["air", "soil", "either"]


@dataclass(frozen=True, slots=True)
class AirFile:
    """Air read from a file, and how the book is to take it."""

    table: pd.DataFrame
    how: dict[str, Any]


def read_air_file(file: str | Path, *, called: str = "", **how: Any) -> AirFile:
    """Read an air file; one that `crossday air fetch` wrote corrects, and marks days that may.

    `called` is the file's name for its owner, where it lies elsewhere under another.
    """
    table = read_air(str(file), **how)
    named = called or str(file)
    account = account_of(table)
    # A square of a grid keeps its name, so that the book knows it for no station.
    taken: dict[str, Any] = {"source": f"{named} ({account.station})" if account.gridded else named}
    path = Path(file)
    if path.is_file():  # it was read above
        with path.open("rb") as handle:
            head, row = (handle.readline(1000).decode("utf-8", "replace") for _ in range(2))
        if head.strip() == ",".join(HEADING):
            station = row.split(",")[0].strip('"')
            record = read_record(path, station)
            if record is not None:
                marks = record.table["status"].reindex(table.index) == PROVISIONAL
                taken = {
                    "source": f"{named} ({station})", "corrects": True,
                    "provisional": marks.to_numpy(dtype=bool),
                }  # fmt: skip
    return AirFile(table, taken)


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What became of a file.

    Parameters
    ----------
    account : Account
        How it was understood, row by row and column by column.
    where : str
        The place, or the bed, that it went to.
    air : AirAdded or None
    readings : Added or None
    doubts : tuple of str
        What is strange about the place's air now, a sentence each.
    batch : int or None
        Its number, by which it is undone; None where nothing was new.
    """

    account: Account
    where: str
    air: kept.AirAdded | None = None
    readings: kept.Added | None = None
    doubts: tuple[str, ...] = ()
    batch: int | None = None


def take_file(
    book: kept.Book,
    file: Path,
    what: What,
    *,
    called: str,
    place: str | None = None,
    bed: str | None = None,
    depth_m: float | None = None,
    columns: Mapping[str, str] | None = None,
    probe: str | None = None,
    units: str | None = None,
    day_first: bool | None = None,
) -> Taken:
    """Take a file of air or of soil readings into the book, as one batch.

    Parameters
    ----------
    book : Book
    file : Path
    what : {"air", "soil", "either"}
        Of ``either`` the one that the file can be read as; if it is both, its owner must say.
    called : str
        The file's name, which the book keeps as the source.
    place, bed : str, optional
        Where it goes; may be left out where there is only one.
    depth_m : float, optional
        Depth of readings where the file does not say.
    columns : mapping of str to str, optional
        What columns hold, where the file does not say: as for `read_air` and `read_readings`.
    probe : str, optional
        Keep the readings of one probe, where the file has several.
    units, day_first
        As for `read_air` and `read_readings`.

    Raises
    ------
    ForecasterError
        If it cannot be read, or cannot be of this place.
    """
    if what == "either":
        what = _which(file, units, day_first)
    how: dict[str, Any] = {"units": units, "day_first": day_first, "columns": columns or None}
    if what == "air":
        here = kept.find_place(book, place)
        record = read_air_file(file, called=called, obs_hour=here.obs_hour, **how)
        with book.batch("import", called) as batch:
            air = kept.add_air(batch, here.name, record.table, **record.how)
            doubts = doubt_place_air(book, here.name)
        return Taken(
            account=account_of(record.table), where=here.name, air=air, doubts=doubts,
            batch=batch.number if batch.rows else None,
        )  # fmt: skip
    bed_there = kept.find_bed(book, bed)
    log = one_probe(read_readings(file, depth_m=depth_m, probe=probe, **how))
    with book.batch("import", called) as batch:
        added = kept.add_readings(batch, bed_there.name, log)
    return Taken(
        account=account_of(log), where=bed_there.name, readings=added,
        batch=batch.number if batch.rows else None,
    )  # fmt: skip


def _which(file: Path, units: str | None, day_first: bool | None) -> Literal["air", "soil"]:
    """Return what a file can be read as.

    Raises
    ------
    InputError
        If as both, or as neither: then with what the air reader says of it.
    """
    failed: dict[str, FileError] = {}
    for name, reader in (("air", read_air), ("soil", read_readings)):
        try:
            reader(file, units=units, day_first=day_first)
        except FileError as error:
            failed[name] = error
    if len(failed) == 2:
        raise failed["air"]
    if not failed:
        raise InputError("it could be daily air or soil readings; say which of them it is")
    return "soil" if "air" in failed else "air"
