"""A station's record kept in a file: only what is missing is added, what was corrected is noted.

One line a day: ``station,latitude,longitude,date,tmin_c,tmax_c,tavg_c,precip_mm,status,
note``. `read_air` reads it as any table; status and note are for people.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from forecaster.fetch.ask import PROVISIONAL_DAYS, settled_until
from forecaster.ground.errors import FileError
from forecaster.ground.files import Mark, Target, write

VALUES = ("tmin_c", "tmax_c", "tavg_c", "precip_mm")
HEADING = ("station", "latitude", "longitude", "date", *VALUES, "status", "note")
RECORD = Mark(",".join(HEADING).encode())
IMPORTED, OUTLOOK = "crossday air import", "crossday air outlook"
"""Who wrote a table: its mark."""
PROVISIONAL, FINAL = "provisional", "final"
SAME = 0.005
"""Values are written to 0.01; a smaller difference is none."""


@dataclass(frozen=True, slots=True)
class Correction:
    """A value that the service has changed, or withdrawn (`now` is None), °C or mm."""

    day: date
    column: str
    was: float
    now: float | None


@dataclass(frozen=True, slots=True)
class Record:
    """Days of one station as kept in a file.

    Parameters
    ----------
    station : str
        Id or name, as the service has it.
    latitude_deg, longitude_deg : float, optional
        Degrees.
    table : DataFrame
        Index ``date``; the columns of `VALUES` (NaN where missing), ``status`` and ``note``.
    """

    station: str
    latitude_deg: float | None
    longitude_deg: float | None
    table: pd.DataFrame


def read_record(path: Path, station: str) -> Record | None:
    """Return what a file of ours holds, None where there is no file.

    Raises
    ------
    FileError
        If there is a file that we did not write, or of another station: it is left alone.
    """
    if not path.exists():
        return None
    try:
        rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise _not_ours(path, f"it cannot be read ({error})") from error
    if not rows or tuple(rows[0]) != HEADING:
        raise _not_ours(path, "it was not written by crossday air fetch")
    for line, row in enumerate(rows[1:], start=2):
        if len(row) != len(HEADING):
            raise _not_ours(path, f"line {line} has {len(row)} cells, not {len(HEADING)}")
        if row[0] != station:
            raise _not_ours(path, f"it holds station {row[0][:40]!r}, not {station}")
    try:
        found = _of_rows(station, rows[1:])
    except (ValueError, OverflowError) as error:
        raise _not_ours(path, f"a cell is not what it should be ({error})") from error
    if found.table.index.has_duplicates:
        raise _not_ours(path, "a day stands in it twice")
    return found


def _of_rows(station: str, rows: Sequence[Sequence[str]]) -> Record:
    """Return the record in rows of cells; raises ValueError where one cannot be read."""
    days = [date.fromisoformat(row[3]) for row in rows]
    values = [[float(cell or "nan") for cell in row[4:8]] for row in rows]
    place = [float(cell) if cell else None for row in rows[:1] for cell in row[1:3]]
    latitude, longitude = place or (None, None)
    return Record(station, latitude, longitude, _table(days, values, [row[8:] for row in rows]))


def _not_ours(path: Path, problem: str) -> FileError:
    return FileError(
        f"{problem}; nothing was changed", path=path, remedy="Name another file with --out."
    )


def _table(
    days: Sequence[date], values: Sequence[Sequence[float]], words: Sequence[Sequence[str]]
) -> pd.DataFrame:
    index = pd.DatetimeIndex(pd.to_datetime(list(days)), name="date").as_unit("ns")
    table = pd.DataFrame(
        np.array(values, dtype=np.float64).reshape(-1, len(VALUES)), columns=VALUES, index=index
    )
    table["status"] = [w[0] for w in words]
    table["note"] = [w[1] for w in words]
    return table.sort_index()


def wanted(kept: Record | None, first: date, last: date) -> list[tuple[date, date]]:
    """Return the stretches of days to ask for: before, and from the first provisional day on.

    Settled days that are in the file are not asked for again, holes among them neither: the
    service had nothing there when they were settled.
    """
    if kept is None or kept.table.empty:
        return [(first, last)]
    start, end = kept.table.index[0].date(), kept.table.index[-1].date()
    open_days = kept.table.index[kept.table["status"] != FINAL]
    again = open_days[0].date() if len(open_days) else end + timedelta(days=1)
    stretches = [(first, min(start - timedelta(days=1), last)), (max(again, first), last)]
    return [(a, b) for a, b in stretches if a <= b]


def merge(
    kept: Record | None,
    new: pd.DataFrame,
    asked: tuple[date, date],
    fetched: date,
    place: tuple[str, float | None, float | None],
    *,
    provisional_days: int = PROVISIONAL_DAYS,
) -> tuple[Record, int, list[Correction]]:
    """Return the record with a stretch of new days, how many were added, and what was corrected.

    Parameters
    ----------
    kept : Record, optional
        What there was.
    new : DataFrame
        Daily table of the service.
    asked : (date, date)
        The stretch asked for, both included. A value that was kept and is now missing counts as
        withdrawn, save on the last day, which may be unfinished.
    fetched : date
        Day of the answer: decides which days are provisional.
    place : (station, latitude, longitude)
        Whose record it is.
    provisional_days : int
        How many of the last days the service may still revise.
    """
    given = new.reindex(columns=VALUES).round(2)
    given = given.loc[pd.Timestamp(asked[0]) : pd.Timestamp(asked[1])].dropna(how="all")
    old = kept.table if kept is not None else _table([], [], [])
    days = old.index.union(given.index)
    values = old[list(VALUES)].reindex(days)
    words = old[["status", "note"]].astype(object).reindex(days).fillna("")
    before, after = values.to_numpy(copy=True), given.reindex(days).to_numpy()
    last = given.index[-1] if len(given) else None
    inside = np.asarray(days.isin(given.index) & (days != last))
    changed = np.isfinite(before) & np.isfinite(after) & (np.abs(before - after) >= SAME)
    gone = np.isfinite(before) & ~np.isfinite(after) & inside[:, None]
    found = []
    for row, column in np.argwhere(changed | gone):
        now = float(after[row, column]) if changed[row, column] else None
        was = float(before[row, column])
        found.append(Correction(days[row].date(), VALUES[column], was, now))
    merged = np.where(np.isfinite(after) | gone, after, before)
    table = pd.DataFrame(merged, columns=VALUES, index=days)
    settled = pd.Timestamp(settled_until(fetched, provisional_days))
    status = np.where(days > settled, PROVISIONAL, FINAL)
    table["status"] = np.where(days.isin(given.index), status, words["status"])
    table["note"] = _notes(days, words["note"].to_list(), found, fetched)
    table.index.name = "date"
    station, latitude, longitude = place
    if kept is not None:
        latitude = kept.latitude_deg if latitude is None else latitude
        longitude = kept.longitude_deg if longitude is None else longitude
    added = len(days) - len(old)
    return Record(station, latitude, longitude, table), added, found


def _notes(days: pd.Index, notes: list[str], found: list[Correction], fetched: date) -> list[str]:
    """Return the notes with a word on each correction, the newest last."""
    told = dict(zip((day.date() for day in days), notes, strict=True))
    for one in found:
        verb = "withdrawn" if one.now is None else "corrected"
        word = f"{verb} {fetched.isoformat()}: {one.column} was {one.was:g}"
        told[one.day] = f"{told[one.day]}; {word}" if told[one.day] else word
    return list(told.values())


def write_record(path: Path, record: Record) -> None:
    """Write a record whole or not at all, over no file but a record.

    Raises
    ------
    InputError
        If it must not or cannot be written there.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEADING)
    place = [
        "" if degrees is None else f"{degrees:g}"
        for degrees in (record.latitude_deg, record.longitude_deg)
    ]
    for row in record.table.itertuples():
        cells = ["" if not np.isfinite(v) else f"{v:.2f}".rstrip("0").rstrip(".") for v in row[1:5]]
        writer.writerow([record.station, *place, row[0].date().isoformat(), *cells, row[5], row[6]])
    write([(Target(path, RECORD, repr(str(path))), text.getvalue().encode())])


def write_table(target: Target, table: pd.DataFrame, command: str) -> None:
    """Write daily values as `read_air` reads them; its last column tells who wrote the file.

    Raises
    ------
    InputError
        If it must not or cannot be written there.
    """
    written_by = [command, *[""] * (len(table) - 1)]
    text = table.round(2).assign(written_by=written_by).to_csv(lineterminator="\n")
    write([(target, text.encode())])
