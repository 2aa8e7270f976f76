"""Soil readings in the book: added once, never overwritten, read back as `read_readings` does."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.book.places import Bed, bed_number, find_bed
from forecaster.book.store import Batch, Book
from forecaster.ground.arrays import Ints
from forecaster.ground.errors import InputError
from forecaster.ground.plural import counted
from forecaster.ingest import Account

SAME_C = 0.01
"""Two values this near are one, written with other decimals or in another unit."""
LISTED = 5
BY_HAND = "by hand"
"""Source of what was typed in."""
_NO_WALL = -(2**62)
_DAY_S = 86_400
_KEY = ["time_s", "depth_um", "span", "value_key"]


@dataclass(frozen=True, slots=True)
class Conflict:
    """A reading that the book has with another value; the book's own was kept.

    Parameters
    ----------
    time : str
        ISO, local standard time.
    depth_m : float
    kept_c, given_c : float
        °C in the book, and in what was added.
    """

    time: str
    depth_m: float
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
    without an hour, a day may hold several values. The same value at the same time of the clock
    on the wall is the same reading too, typed in once and read from a log once. A depth that is
    not said is where the bed's thermometer stands now, and stays so when the bed's changes.

    Parameters
    ----------
    batch : Batch
    bed : str
    readings : DataFrame
        As `read_readings` returns it; columns ``span``, ``depth_m``, ``hour_known`` may be
        left out. ``wall``, the clock's time as it was given, is ``time`` where left out.

    Returns
    -------
    Added
    """
    number = bed_number(batch.db, bed)
    given = _as_rows(readings, find_bed(batch.book, bed).depth_m).drop_duplicates(_KEY)
    if given.empty:
        return Added(0, 0, 0)
    met = _meet(given, _held(batch.db, number, given))
    known = met["kept_c"].notna()
    same = known & ((met["temp_c"] - met["kept_c"]).abs() <= SAME_C)
    new, conflicts = met[~known], met[known & ~same]
    batch.db.executemany(
        "INSERT INTO readings (bed_id, time_s, temp_c, depth_m, span, hour_known, batch_id, "
        "wall_s, depth_said) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        zip(
            [number] * len(new),
            new["time_s"].tolist(),
            new["temp_c"].tolist(),
            (new["depth_um"].to_numpy() / 1e6).tolist(),
            new["span"].tolist(),
            new["hour_known"].astype(int).tolist(),
            [batch.number] * len(new),
            [None if wall == _NO_WALL else wall for wall in new["wall_s"].tolist()],
            new["depth_said"].astype(int).tolist(),
            strict=True,
        ),
    )
    batch.rows += len(new)
    few = conflicts.head(LISTED)
    first = tuple(
        Conflict(_iso(time_s), depth_um / 1e6, kept, said)
        for time_s, depth_um, kept, said in zip(
            few["time_s"].tolist(),
            few["depth_um"].tolist(),
            few["kept_c"].tolist(),
            few["temp_c"].tolist(),
            strict=True,
        )
    )
    return Added(len(new), int(same.sum()), len(conflicts), first)


def _as_rows(readings: pd.DataFrame, bed_depth_m: float) -> pd.DataFrame:
    """Return readings with the columns by which the book knows them."""
    missing = sorted({"time", "temp_c"} - set(readings.columns))
    if missing:
        raise InputError(f"the readings have no {', '.join(missing)}; read_readings makes them so")
    n = len(readings)
    time = _seconds(readings["time"])
    depth = (
        readings["depth_m"].to_numpy(dtype=float) if "depth_m" in readings else np.full(n, np.nan)
    )
    said = np.isfinite(depth)
    span = readings["span"].to_numpy(dtype=object) if "span" in readings else np.full(n, "instant")
    known = (
        readings["hour_known"].to_numpy(dtype=bool)
        if "hour_known" in readings
        else np.ones(n, dtype=bool)
    )
    wall = _seconds(readings["wall"]) if "wall" in readings else time
    temp = readings["temp_c"].to_numpy(dtype=float)
    rows = pd.DataFrame(
        {
            "time_s": time,
            "depth_um": np.round(np.where(said, depth, bed_depth_m) * 1e6).astype(np.int64),
            "span": span,
            "hour_known": known,
            "temp_c": temp,
            "value_key": _value_key(known, span, temp),
            "depth_said": said,
            "wall_s": np.where(known & (span != "day"), wall, _NO_WALL),
        }
    )
    known_rows: pd.DataFrame = rows[np.isfinite(temp)]
    return known_rows


def _seconds(times: pd.Series) -> Ints:
    return times.to_numpy().astype("datetime64[s]").astype(np.int64)


def _value_key(known: NDArray[Any], span: NDArray[Any], temp: NDArray[Any]) -> NDArray[Any]:
    """As the index readings_once: instants of unknown hour are told apart by their value."""
    return np.where(known | (span == "day"), -999.0, np.round(temp, 2))


def _held(db: sqlite3.Connection, bed: int, given: pd.DataFrame) -> pd.DataFrame:
    """Return what the book has of a bed around the times given, as `_as_rows` has it."""
    span = (int(given["time_s"].min()) - _DAY_S, int(given["time_s"].max()) + _DAY_S)
    rows = db.execute(
        "SELECT time_s, temp_c, depth_m, span, hour_known, depth_said, wall_s FROM readings "
        "WHERE bed_id = ? AND time_s BETWEEN ? AND ?",
        (bed, *span),
    ).fetchall()
    time, temp, depth, span_, known, said, wall = zip(*rows, strict=True) if rows else ((),) * 7
    temp_c, hour_known = np.array(temp, dtype=np.float64), np.array(known, dtype=np.bool_)
    spans = np.array(span_, dtype=object)
    return pd.DataFrame(
        {
            "time_s": np.array(time, dtype=np.int64),
            "depth_um": np.round(np.array(depth, dtype=np.float64) * 1e6).astype(np.int64),
            "span": spans,
            "kept_c": temp_c,
            "value_key": _value_key(hour_known, spans, temp_c),
            "depth_said": np.array(said, dtype=np.bool_),
            "wall_s": np.array([_NO_WALL if w is None else w for w in wall], dtype=np.int64),
        }
    )


def _meet(given: pd.DataFrame, held: pd.DataFrame) -> pd.DataFrame:
    """Return the readings given with ``kept_c``, the value of the same reading in the book."""
    met = given.merge(held[[*_KEY, "kept_c"]].drop_duplicates(_KEY), on=_KEY, how="left")
    # Neither said a depth, and the bed's has changed between them.
    unsaid = held[~held["depth_said"]]
    _fill(met, unsaid, ["time_s", "span", "value_key"], ~met["depth_said"])
    # The same time on the wall: once typed in, once from a log.
    wall = held[held["wall_s"] != _NO_WALL]
    on_wall = met["wall_s"] != _NO_WALL
    _fill(met, wall, ["wall_s", "depth_um"], on_wall, same_only=True)
    unsaid = wall[~wall["depth_said"]]
    _fill(met, unsaid, ["wall_s"], on_wall & ~met["depth_said"], same_only=True)
    return met


def _fill(
    met: pd.DataFrame, held: pd.DataFrame, key: list[str], where: pd.Series[bool],
    *, same_only: bool = False,
) -> None:  # fmt: skip
    """Fill in values of the book that are found by another key, for rows not met yet."""
    open_ = where & met["kept_c"].isna()
    if not open_.any() or held.empty:
        return
    asked = met.loc[open_, [*key, "temp_c"]]
    found = asked.merge(held[[*key, "kept_c"]].drop_duplicates(key), on=key, how="left")["kept_c"]
    found.index = asked.index
    if same_only:
        found = found.where((found - asked["temp_c"]).abs() <= SAME_C)
    met.loc[open_, "kept_c"] = found


_ROW = np.dtype([
    ("id", "i8"), ("time_s", "i8"), ("temp_c", "f8"), ("depth_m", "f8"), ("whole_day", "?"),
    ("hour_known", "?"), ("batch", "i8"), ("depth_said", "?"),
])  # fmt: skip
_SELECT = (
    "SELECT id, time_s, temp_c, ifnull(depth_m, -1), span = 'day', hour_known, batch_id, "
    "depth_said FROM readings"
)
Rows = NDArray[Any]
"""Readings of a bed as the table has them, of the type `_ROW`, in order of time."""


@dataclass(frozen=True, slots=True)
class KnownLog:
    """Readings of a bed as they were read: the table's rows, their batches, the frame of them."""

    rows: Rows
    batches: frozenset[int]
    frame: pd.DataFrame


class KnownLogs:
    """Readings of beds that were read before: of what came since, only the new is read.

    For a program that stays, as the page does; a bed may have a hundred thousand readings.
    """

    def __init__(self) -> None:
        self.known: dict[tuple[tuple[int, int], int], KnownLog] = {}

    def of(self, book: Book, bed: Bed) -> pd.DataFrame:
        """Return a bed's readings as they stand, as `bed_readings` does."""
        with book.reading() as db:
            key = (book.identity, bed_number(db, bed.name))
            known = self.known.get(key)
            rows = _read_on(db, key[1], known)
            if known is None or rows is not known.rows:
                batches = frozenset(np.unique(rows["batch"]).tolist())
                known = KnownLog(rows, batches, _frame(book, db, bed, rows))
        self.known[key] = known
        return known.frame


def _read_on(db: sqlite3.Connection, bed: int, known: KnownLog | None) -> Rows:
    """Return a bed's rows as they stand, those known where nothing changed.

    A row never changes: it goes with its batch, and a new one has a greater number than all that
    are there.
    """
    if known is None or known.rows.size == 0:
        new = np.fromiter(db.execute(f"{_SELECT} WHERE bed_id = ?", (bed,)), dtype=_ROW)
        return new[_in_order(new)]
    rows = known.rows
    live = {number for (number,) in db.execute("SELECT id FROM batches WHERE undone_at IS NULL")}
    if gone := known.batches - live:
        rows = rows[~np.isin(rows["batch"], list(gone))]
    # The plus keeps SQLite from walking through all of the bed's by the other index.
    later = (int(rows["id"].max(initial=0)), bed)
    new = np.fromiter(db.execute(f"{_SELECT} WHERE id > ? AND +bed_id = ?", later), dtype=_ROW)
    if not new.size:
        return rows
    new = new[_in_order(new)]
    both = np.concatenate([rows, new])
    after = rows.size == 0 or new["time_s"][0] > rows["time_s"][-1]
    return both if after else both[_in_order(both)]


def _in_order(rows: Rows) -> Ints:
    """Return the order of time; of one time that of depth, days before instants, and value."""
    keys = (rows["temp_c"], ~rows["whole_day"], rows["depth_m"], rows["time_s"])
    return np.lexsort(keys).astype(np.int64)


def bed_readings(
    book: Book, name: str | None = None, known: KnownLogs | None = None
) -> pd.DataFrame:
    """Return a bed's readings as `read_readings` returns a log.

    Parameters
    ----------
    book : Book
    name : str, optional
        The bed; may be left out where the book has only one.
    known : KnownLogs, optional
        What was read before.

    Returns
    -------
    DataFrame
        In order of time: ``time`` (local standard time), ``temp_c`` (°C), ``depth_m``,
        ``span``, ``hour_known``. A depth that was not said is that of the bed's thermometer
        when the reading was added.
        ``attrs["account"]`` says where the readings came from. May have no row.
    """
    return (known or KnownLogs()).of(book, find_bed(book, name))


def _frame(book: Book, db: sqlite3.Connection, bed: Bed, rows: Rows) -> pd.DataFrame:
    """Return rows as `read_readings` would, with the account of where they came from."""
    named = dict(db.execute("SELECT id, source FROM batches"))
    depth_m = np.where(rows["depth_m"] < 0.0, np.nan, rows["depth_m"])
    frame = pd.DataFrame(
        {
            "time": rows["time_s"].astype("datetime64[s]").astype("datetime64[ns]"),
            "temp_c": rows["temp_c"].copy(),
            "depth_m": depth_m,
            "span": np.where(rows["whole_day"], "day", "instant").astype(object),
            "hour_known": rows["hour_known"].copy(),
        }
    )
    unsaid = depth_m[~rows["depth_said"]]
    notes = [_without_depth(unsaid.size, unsaid.min(), unsaid.max())] if unsaid.size else []
    batch, count = np.unique(rows["batch"], return_counts=True)
    sources = [(named[b], n) for b, n in zip(batch.tolist(), count.tolist(), strict=True)]
    frame.attrs["account"] = account(book, f"bed {bed.name}", len(frame), sources, notes)
    return frame


def _without_depth(many: int, shallowest_m: float, deepest_m: float) -> str:
    deep = f"{shallowest_m * 100:.3g}"
    deep += f" to {deepest_m * 100:.3g}" if deepest_m > shallowest_m else ""
    taken = f"taken at {deep} cm, where the thermometer stood"
    return f"{counted(many, 'reading')} without a depth: {taken}."


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
