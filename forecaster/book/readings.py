"""Soil readings in the book: added once, never overwritten, read back as `read_readings` does."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.book.places import bed_number, find_bed
from forecaster.book.store import Batch, Book
from forecaster.errors import InputError
from forecaster.ingest import Account

SAME_C = 0.01
"""Two values this near are one, written with other decimals or in another unit."""
LISTED = 5
BY_HAND = "by hand"
"""Source of what was typed in."""
_NO_DEPTH_UM = -1
_KEY = ["time_s", "depth_um", "span", "value_key"]


@dataclass(frozen=True, slots=True)
class Conflict:
    """A reading that the book has with another value; the book's own was kept.

    Parameters
    ----------
    time : str
        ISO, local standard time.
    depth_m : float or None
    kept_c, given_c : float
        °C in the book, and in what was added.
    """

    time: str
    depth_m: float | None
    kept_c: float
    given_c: float


@dataclass(frozen=True, slots=True)
class Added:
    """What became of the readings given: how many were new, known already, or contradicted.

    Parameters
    ----------
    new, same, conflicts : int
        Counts of readings.
    first_conflicts : tuple of Conflict
        The first few.
    """

    new: int
    same: int
    conflicts: int
    first_conflicts: tuple[Conflict, ...] = ()


def add_readings(batch: Batch, bed: str, readings: pd.DataFrame) -> Added:
    """Add to a bed the readings that the book does not have.

    A reading is known by its time, depth and span. Known with the same value, it is passed
    over; with another value, the book's own stays and the conflict is counted. Of instants
    without an hour, a day may hold several values.

    Parameters
    ----------
    batch : Batch
    bed : str
    readings : DataFrame
        As `read_readings` returns it; columns ``span``, ``depth_m``, ``hour_known`` may be
        left out.

    Returns
    -------
    Added
    """
    number = bed_number(batch.db, bed)
    given = _as_rows(readings)
    if given.empty:
        return Added(0, 0, 0)
    span = (number, int(given["time_s"].min()), int(given["time_s"].max()))
    held = _as_rows(_frame(batch.db.execute(f"{_SELECT} AND time_s BETWEEN ? AND ?", span)))
    held = held.rename(columns={"temp_c": "kept_c"})[[*_KEY, "kept_c"]]
    met = given.drop_duplicates(_KEY).merge(held.drop_duplicates(_KEY), on=_KEY, how="left")
    known = met["kept_c"].notna()
    same = known & ((met["temp_c"] - met["kept_c"]).abs() <= SAME_C)
    new, conflicts = met[~known], met[known & ~same]
    depth = new["depth_um"].to_numpy() / 1e6
    batch.db.executemany(
        "INSERT INTO readings (bed_id, time_s, temp_c, depth_m, span, hour_known, batch_id) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        zip(
            [number] * len(new),
            new["time_s"].tolist(),
            new["temp_c"].tolist(),
            [value if value >= 0.0 else None for value in depth.tolist()],
            new["span"].tolist(),
            new["hour_known"].astype(int).tolist(),
            [batch.number] * len(new),
            strict=True,
        ),
    )
    batch.rows += len(new)
    few = conflicts.head(LISTED)
    first = tuple(
        Conflict(_iso(time_s), None if depth_um < 0 else depth_um / 1e6, kept, said)
        for time_s, depth_um, kept, said in zip(
            few["time_s"].tolist(),
            few["depth_um"].tolist(),
            few["kept_c"].tolist(),
            few["temp_c"].tolist(),
            strict=True,
        )
    )
    return Added(len(new), int(same.sum()), len(conflicts), first)


def _as_rows(readings: pd.DataFrame) -> pd.DataFrame:
    """Return readings with the columns by which the book knows them."""
    missing = sorted({"time", "temp_c"} - set(readings.columns))
    if missing:
        raise InputError(f"the readings have no {', '.join(missing)}; read_readings makes them so")
    n = len(readings)
    time = readings["time"].to_numpy().astype("datetime64[s]").astype(np.int64)
    depth = (
        readings["depth_m"].to_numpy(dtype=float) if "depth_m" in readings else np.full(n, np.nan)
    )
    depth_um = np.where(np.isfinite(depth), np.round(np.nan_to_num(depth) * 1e6), _NO_DEPTH_UM)
    span = readings["span"].to_numpy(dtype=object) if "span" in readings else np.full(n, "instant")
    known = (
        readings["hour_known"].to_numpy(dtype=bool)
        if "hour_known" in readings
        else np.ones(n, dtype=bool)
    )
    temp = readings["temp_c"].to_numpy(dtype=float)
    # As the index readings_once: instants of unknown hour are told apart by their value.
    rows = pd.DataFrame(
        {
            "time_s": time,
            "depth_um": depth_um.astype(np.int64),
            "span": span,
            "hour_known": known,
            "temp_c": temp,
            "value_key": np.where(known | (span == "day"), -999.0, np.round(temp, 2)),
        }
    )
    known_rows: pd.DataFrame = rows[np.isfinite(temp)]
    return known_rows


_SELECT = (
    "SELECT time_s, temp_c, depth_m, span, hour_known, batch_id FROM readings WHERE bed_id = ?"
)


def _frame(cursor: sqlite3.Cursor) -> pd.DataFrame:
    """Return what `_SELECT` finds as `read_readings` would, with the batch of each."""
    rows = cursor.fetchall()
    time, temp, depth, span, known, batch = zip(*rows, strict=True) if rows else ((),) * 6
    seconds: NDArray[np.int64] = np.array(time, dtype=np.int64)
    return pd.DataFrame(
        {
            "time": seconds.view("datetime64[s]").astype("datetime64[ns]"),
            "temp_c": np.array(temp, dtype=np.float64),
            "depth_m": np.array(depth, dtype=np.float64),
            "span": np.array(span, dtype=object),
            "hour_known": np.array(known, dtype=np.bool_),
            "batch": np.array(batch, dtype=np.int64),
        }
    )


def bed_readings(book: Book, name: str | None = None) -> pd.DataFrame:
    """Return a bed's readings as `read_readings` returns a log.

    Parameters
    ----------
    book : Book
    name : str, optional
        The bed; may be left out where the book has only one.

    Returns
    -------
    DataFrame
        In order of time: ``time`` (local standard time), ``temp_c`` (°C), ``depth_m``,
        ``span``, ``hour_known``. A depth that was not said is that of the bed's thermometer.
        ``attrs["account"]`` says where the readings came from. May have no row.
    """
    bed = find_bed(book, name)
    with book.reading() as db:
        number = bed_number(db, bed.name)
        frame = _frame(
            db.execute(f"{_SELECT} ORDER BY time_s, ifnull(depth_m, -1), span, temp_c", (number,))
        )
        named = dict(db.execute("SELECT id, source FROM batches"))
    batch, count = np.unique(frame.pop("batch").to_numpy(), return_counts=True)
    sources = [(named[b], n) for b, n in zip(batch.tolist(), count.tolist(), strict=True)]
    unknown = int(frame["depth_m"].isna().sum())
    frame["depth_m"] = frame["depth_m"].fillna(bed.depth_m)
    notes = []
    if unknown:
        notes.append(f"{unknown:,} readings without a depth: taken at {bed.depth_m * 100:.3g} cm.")
    frame.attrs["account"] = account(book, f"bed {bed.name}", len(frame), sources, notes)
    return frame


def account(
    book: Book, what: str, rows: int, sources: list[tuple[str, int]], notes: list[str]
) -> Account:
    """Return the account of a table that came out of the book."""
    said = ", ".join(
        f"{count:,} {source}" if source == BY_HAND else f"{count:,} from {source}"
        for source, count in sources[:LISTED]
    )
    more = len(sources) - LISTED
    return Account(
        path=str(book.path),
        format=f"garden book, {what}",
        why_format=said + (f" and {more} more" if more > 0 else ""),
        units="°C",
        why_units="as the book keeps them",
        rows_read=rows,
        rows_used=rows,
        notes=tuple(notes),
        files=(str(book.path),),
    )


def _iso(time_s: int) -> str:
    return str(np.datetime64(int(time_s), "s").astype("datetime64[m]"))


def reading_span(book: Book, name: str) -> dict[str, str | int | float | None]:
    """Return how many readings a bed has, and the last: ISO time, °C."""
    with book.reading() as db:
        number = bed_number(db, name)
        many = db.execute("SELECT count(*) FROM readings WHERE bed_id = ?", (number,)).fetchone()[0]
        last = db.execute(
            "SELECT time_s, temp_c FROM readings WHERE bed_id = ? ORDER BY time_s DESC LIMIT 1",
            (number,),
        ).fetchone()
    when, temp_c = (None, None) if last is None else (_iso(last[0]), last[1])
    return {"readings": many, "last_reading": when, "last_reading_c": temp_c}
