"""Air days in the book: each batch keeps what it said, the latest word counts.

Nothing is overwritten: a corrected day is a further row of the same day, and taking its batch
back uncovers the old one. A file of the user's never contradicts a day that the book has; a
service that corrects its own record does, and a note says so.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from forecaster.book.places import find_place, place_number
from forecaster.book.readings import account
from forecaster.book.store import Batch, Book
from forecaster.ground.arrays import Bools
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.ground.plural import counted
from forecaster.ingest.account import is_gridded
from forecaster.ingest.checks.suspects import gaps

COLUMNS = ("tmin_c", "tmax_c", "tavg_c", "precip_mm")
ANOTHER_PLACE_DAYS, ANOTHER_PLACE_C = 30, 2.0
SAME = {"tmin_c": 0.01, "tmax_c": 0.01, "tavg_c": 0.01, "precip_mm": 0.05}
"""Two values this near are one: °C, and mm."""
LISTED = 5


@dataclass(frozen=True, slots=True)
class AirChange:
    """One value of a day that differs: °C, or mm for `precip_mm`."""

    day: str
    column: str
    old: float
    new: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirAdded:
    """What became of the days given.

    Parameters
    ----------
    new, completed, corrected, same, conflicts : int
        Days that were new, got a missing value or lost their provisional mark, were replaced,
        were known already, or contradict the book and were left out.
    first_changes : tuple of AirChange
        The first few corrections, or conflicts.
    """

    new: int
    completed: int
    corrected: int
    same: int
    conflicts: int
    first_changes: tuple[AirChange, ...] = ()


def _refuse_another_place(place: str, given: pd.DataFrame, old: pd.DataFrame) -> None:
    """Refuse a record that is not of this place, before its days are mixed with the book's."""
    names = ["tmin_c", "tmax_c", "tavg_c"]
    apart_c = np.nanmax(
        np.abs(given[names].to_numpy() - old[names].to_numpy()), axis=1, initial=0.0
    )
    both = (given[names].notna() & old[names].notna()).to_numpy().any(axis=1)
    far = both & (apart_c > ANOTHER_PLACE_C)
    if both.sum() >= ANOTHER_PLACE_DAYS and far.sum() > both.sum() / 2:
        raise InputError(
            f"{far.sum():,} of {both.sum():,} days differ by more than {ANOTHER_PLACE_C:g} °C from "
            f"the air that the book has for {place!r}; expected the record of that place. Is it "
            "of another, or in another unit?"
        )


def add_air(
    batch: Batch,
    place: str,
    air: pd.DataFrame,
    *,
    source: str,
    corrects: bool = False,
    provisional: Bools | None = None,
) -> AirAdded:
    """Add to a place the days, and the missing values of days, that the book does not have.

    Parameters
    ----------
    batch : Batch
    place : str
    air : DataFrame
        As `read_air` returns it.
    source : str
        Where the days come from; kept with each.
    corrects : bool
        Whether a differing value replaces the book's: so for a service that corrects its own
        record, with a note; not for a file, whose differing days are counted and left out.
        A provisional day is replaced by either.
    provisional : (days,) array of bool, optional
        Which of the days may still change.

    Returns
    -------
    AirAdded

    Raises
    ------
    InputError
        If most days that both have differ by degrees: the air of another place, or in another
        unit.
    """
    number = place_number(batch.db, place)
    given = _columns(air)
    mark = np.zeros(len(given), dtype=np.bool_) if provisional is None else provisional
    if len(mark) != len(given):
        raise InputError(f"{len(mark)} provisional marks for {len(given)} days")
    held, held_mark = _held(batch.db, number)
    told = given.notna().any(axis=1).to_numpy()
    given, mark = given[told], mark[told]
    old = held.reindex(given.index)
    old_mark = held_mark.reindex(given.index, fill_value=False).to_numpy(dtype=bool)
    there = old.notna().to_numpy()
    known = given.notna().to_numpy()
    apart = np.abs(given.to_numpy() - old.to_numpy()) > np.array([SAME[c] for c in COLUMNS])
    _refuse_another_place(place, given, old)
    differs = known & there & apart
    replaces = differs & (corrects | old_mark)[:, None]
    adds = known & ~there
    new = ~there.any(axis=1)
    final = old_mark & ~mark
    write = adds.any(axis=1) | replaces.any(axis=1) | (final & ~new)
    left_out = (differs & ~replaces).any(axis=1)
    rows = given.where(~(differs & ~replaces))
    _insert(batch, number, rows[write], source, mark[write])
    corrected = replaces.any(axis=1)
    completed = write & ~new & ~corrected
    changes = _changes(given, old, replaces if replaces.any() else differs)
    result = AirAdded(
        new=int(new.sum()),
        completed=int(completed.sum()),
        corrected=int(corrected.sum()),
        same=int((~write & ~left_out).sum()),
        conflicts=int(left_out.sum()),
        first_changes=changes,
    )
    if corrected.any():
        _note(batch, number, source, result)
    return result


def _columns(air: pd.DataFrame) -> pd.DataFrame:
    if not isinstance(air.index, pd.DatetimeIndex) or air.index.has_duplicates:
        raise InputError("the air table has no index of single days; read_air makes it so")
    return pd.DataFrame(
        {name: air.get(name, np.nan) for name in COLUMNS},
        index=air.index,
        dtype=float,
    )


def _insert(batch: Batch, place: int, rows: pd.DataFrame, source: str, mark: Bools) -> None:
    values = [
        [None if value != value else value for value in rows[name].tolist()]  # noqa: PLR0124
        for name in COLUMNS
    ]
    days = np.datetime_as_string(rows.index.to_numpy().astype("datetime64[D]")).tolist()
    n = len(rows)
    batch.db.executemany(
        "INSERT INTO air_days (place_id, day, batch_id, tmin_c, tmax_c, tavg_c, precip_mm, "
        "source, provisional) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        zip(
            [place] * n, days, [batch.number] * n, *values, [source] * n,
            mark.astype(int).tolist(), strict=True,
        ),
    )  # fmt: skip
    batch.rows += n


def _changes(given: pd.DataFrame, old: pd.DataFrame, which: Bools) -> tuple[AirChange, ...]:
    row, column = np.nonzero(which)
    return tuple(
        AirChange(
            f"{given.index[r]:%Y-%m-%d}",
            COLUMNS[c],
            float(old.iloc[r, c]),  # type: ignore[arg-type]
            float(given.iloc[r, c]),  # type: ignore[arg-type]
        )
        for r, c in list(zip(row.tolist(), column.tolist(), strict=True))[:LISTED]
    )


def _note(batch: Batch, place: int, source: str, added: AirAdded) -> None:
    """Write a note of what a correction replaced."""
    said = ", ".join(
        f"{one.day} {one.column} {one.old:.4g} to {one.new:.4g}" for one in added.first_changes
    )
    days = f"{added.corrected:,} day{'s' if added.corrected > 1 else ''} of air corrected"
    batch.db.execute(
        "INSERT INTO notes (place_id, day, text, batch_id) VALUES (?, ?, ?, ?)",
        (place, batch.book.stamp()[:10], f"{days} by {source}: {said}", batch.number),
    )


def _held(db: sqlite3.Connection, place: int) -> tuple[pd.DataFrame, pd.Series[bool]]:
    """Return what the book has of a place's air: the latest word on every value, and the marks."""
    rows = db.execute(
        "SELECT day, tmin_c, tmax_c, tavg_c, precip_mm, provisional FROM air_days "
        "WHERE place_id = ? ORDER BY day, batch_id",
        (place,),
    ).fetchall()
    day, *values, mark = zip(*rows, strict=True) if rows else ((),) * 6
    index = pd.DatetimeIndex(np.array(day, dtype="datetime64[D]").astype("datetime64[ns]"))
    index.name = "date"
    frame = pd.DataFrame(
        {
            name: np.array(column, dtype=np.float64)
            for name, column in zip(COLUMNS, values, strict=True)
        },
        index=index,
    )
    marks: Any = pd.Series(np.array(mark, dtype=np.bool_), index=index)
    if index.has_duplicates:
        # The last value of each column that is not missing; the last mark.
        frame, marks = frame.groupby(level=0).last(), marks.groupby(level=0).last()
    return frame, marks


def place_air(book: Book, name: str | None = None) -> pd.DataFrame:
    """Return a place's air record as `read_air` returns a file's.

    Parameters
    ----------
    book : Book
    name : str, optional
        The place; may be left out where the book has only one.

    Returns
    -------
    DataFrame
        Daily index without holes; ``tmin_c``, ``tmax_c`` (°C), and ``tavg_c`` (°C) and
        ``precip_mm`` where the record has them. ``attrs["account"]`` says where the days came
        from and how many are provisional.

    Raises
    ------
    NotEnoughData
        If the book has no air for the place.
    """
    place = find_place(book, name)
    with book.reading() as db:
        number = place_number(db, place.name)
        frame, marks = _held(db, number)
        sources = db.execute(
            "SELECT source, count(*) FROM air_days WHERE place_id = ? "
            "GROUP BY source ORDER BY min(batch_id)",
            (number,),
        ).fetchall()
    if frame.empty:
        raise NotEnoughData(
            f"{book.path}: the book has no air record yet; add one: crossday book import FILE --air"
        )
    given = len(frame)
    frame = frame.reindex(pd.date_range(frame.index[0], frame.index[-1], name="date"))
    unused = [name for name in ("tavg_c", "precip_mm") if frame[name].isna().all()]
    frame = frame.drop(columns=unused)
    notes = [f"Provisional: {counted(int(marks.sum()), 'day')}."] if marks.any() else []
    gap_days, longest = gaps(frame)
    frame.attrs["account"] = replace(
        account(book, f"air of {place.name}", given, sources, notes),
        gap_days=gap_days,
        longest_gap=longest,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        station=_gridded(sources) or place.station,
    )
    return frame


def _gridded(sources: list[tuple[str, int]]) -> str:
    """Return the name of a gridded stand-in among the sources, "" where all are stations."""
    named = (source.rpartition(" (")[2].rstrip(")") for source, _ in sources)
    return next((name for name in named if is_gridded(name)), "")


def last_air_source(book: Book, name: str) -> str:
    """Return where a place's latest day of air comes from, "" where it has none."""
    with book.reading() as db:
        found = db.execute(
            "SELECT source FROM air_days WHERE place_id = ? ORDER BY day DESC, batch_id DESC "
            "LIMIT 1",
            (place_number(db, name),),
        ).fetchone()
    return str(found[0]) if found else ""


def air_span(book: Book, name: str) -> dict[str, str | int | None]:
    """Return a place's first and last day of air, how many there are, and how many provisional."""
    with book.reading() as db:
        first, last, days, marked = db.execute(
            "SELECT min(day), max(day), count(DISTINCT day), count(DISTINCT day) FILTER (WHERE "
            "provisional AND batch_id = (SELECT max(batch_id) FROM air_days AS later WHERE "
            "later.place_id = air_days.place_id AND later.day = air_days.day)) "
            "FROM air_days WHERE place_id = ?",
            (place_number(db, name),),
        ).fetchone()
    return {"air_first": first, "air_last": last, "air_days": days, "air_provisional": marked}
