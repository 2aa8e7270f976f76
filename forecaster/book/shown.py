"""Forecasts that were shown for a bed, and what the soil did afterwards."""

from __future__ import annotations

import sqlite3
from dataclasses import astuple, dataclass, fields
from datetime import date, timedelta
from typing import Any, Literal

import numpy as np
import pandas as pd

from forecaster.book import sums
from forecaster.book.places import bed_number, find_bed
from forecaster.book.store import Book

WEEKS = 8
LATEST_DAYS = 60
"""A forecast older than this says nothing of a planting day; *common practice, no source*."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownWindow:
    """What was said of one threshold: the settled date's 10, 50 and 90 %, and never.

    Dates are None where that share never settles.
    """

    threshold: str
    threshold_c: float
    direction: Literal["falling", "rising"]
    season_start: date
    season_end: date
    early: date | None
    median: date | None
    late: date | None
    never: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A forecast as it was shown.

    Parameters
    ----------
    issued : date
        Last day whose records were known.
    depth_m : float
    version : str
        Of this program.
    windows : tuple of ShownWindow
    soil : DataFrame
        Days to come, index ``date``: ``low_c``, ``mid_c``, ``high_c``, 10, 50 and 90 %, °C.
    shown_at : str
        UTC; "" for one that is not in the book yet.
    """

    issued: date
    depth_m: float
    version: str
    windows: tuple[ShownWindow, ...]
    soil: pd.DataFrame
    shown_at: str = ""

    def was_shown_by(self, day: date) -> bool:
        """Say whether it was on the screen by a day; a day more, as UTC is ahead of some."""
        return self.shown_at[:10] <= (day + timedelta(days=1)).isoformat()


def keep_shown(book: Book, bed: str, shown: Shown) -> bool:
    """Keep a forecast that was shown; return False if the book's last one says the same."""
    with book.changing() as db:
        number = bed_number(db, bed)
        last = db.execute(
            "SELECT id, issued, depth_m, version FROM shown WHERE bed_id = ? "
            "ORDER BY id DESC LIMIT 1",
            (number,),
        ).fetchone()
        head = (shown.issued.isoformat(), shown.depth_m, shown.version)
        if last is not None and last[1:] == head and _windows(db, last[0]) == shown.windows:
            return False
        made = db.execute(
            "INSERT INTO shown (bed_id, shown_at, issued, depth_m, version) VALUES (?, ?, ?, ?, ?)",
            (number, book.stamp(), *head),
        )
        number = int(made.lastrowid or 0)
        _insert(db, number, shown)
        sums.seal(db, "shown", number, {})
    return True


def _insert(db: sqlite3.Connection, number: int, shown: Shown) -> None:
    columns = ", ".join(field.name for field in fields(ShownWindow))
    db.executemany(
        f"INSERT INTO shown_windows (shown_id, {columns}) "  # noqa: S608 - names are ours
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (number, *(v.isoformat() if isinstance(v, date) else v for v in astuple(window)))
            for window in shown.windows
        ],
    )
    db.executemany(
        "INSERT INTO shown_soil (shown_id, day, low_c, mid_c, high_c) VALUES (?, ?, ?, ?, ?)",
        [
            (number, f"{day:%Y-%m-%d}", float(low), float(mid), float(high))
            for day, low, mid, high in shown.soil[["low_c", "mid_c", "high_c"]].itertuples()
        ],
    )


def _windows(db: sqlite3.Connection, shown_id: int) -> tuple[ShownWindow, ...]:
    columns = ", ".join(field.name for field in fields(ShownWindow))
    rows = db.execute(
        f"SELECT {columns} FROM shown_windows WHERE shown_id = ? ORDER BY id",  # noqa: S608
        (shown_id,),
    ).fetchall()
    return tuple(_window(row) for row in rows)


def _window(row: tuple[Any, ...]) -> ShownWindow:
    threshold, threshold_c, direction, start, end, early, median, late, never = row
    first, last = date.fromisoformat(start), date.fromisoformat(end)
    return ShownWindow(
        threshold=threshold,
        threshold_c=threshold_c,
        direction=direction,
        season_start=first,
        season_end=last,
        early=_day(early),
        median=_day(median),
        late=_day(late),
        never=never,
    )


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def shown_forecasts(
    book: Book, bed: str | None = None, *, since: date = date.min, until: date = date.max
) -> list[Shown]:
    """Return the forecasts shown for a bed and issued from one day to another, in order."""
    with book.reading() as db:
        rows = db.execute(
            "SELECT id, issued, depth_m, version, shown_at FROM shown "
            "WHERE bed_id = ? AND issued BETWEEN ? AND ? ORDER BY issued, id",
            (bed_number(db, find_bed(book, bed).name), since.isoformat(), until.isoformat()),
        ).fetchall()
        return [
            Shown(
                issued=date.fromisoformat(issued),
                depth_m=depth,
                version=version,
                windows=_windows(db, number),
                soil=_soil(db, number),
                shown_at=shown_at,
            )
            for number, issued, depth, version, shown_at in rows
        ]


def _soil(db: sqlite3.Connection, shown_id: int) -> pd.DataFrame:
    rows = db.execute(
        "SELECT day, low_c, mid_c, high_c FROM shown_soil WHERE shown_id = ? ORDER BY day",
        (shown_id,),
    ).fetchall()
    index = pd.DatetimeIndex(np.array([row[0] for row in rows], dtype="datetime64[ns]"))
    index.name = "date"
    values = np.array([row[1:] for row in rows], dtype=float).reshape(len(rows), 3)
    return pd.DataFrame(values, index=index, columns=["low_c", "mid_c", "high_c"])


def shown_before(book: Book, bed: str | None, day: date) -> Shown | None:
    """Return the last forecast issued up to a day, if it is not older than `LATEST_DAYS`.

    One that was on the screen by then comes before one that was asked for only later.
    """
    since = day - timedelta(days=LATEST_DAYS) if day.toordinal() > LATEST_DAYS else date.min
    found = shown_forecasts(book, bed, since=since, until=day)
    at_the_time = [one for one in found if one.was_shown_by(day)]
    return next(reversed(at_the_time or found), None)


def season_table(
    shown: Shown,
    soil: pd.DataFrame,
    readings: pd.DataFrame | None,
    planted: date,
    weeks: int = WEEKS,
) -> pd.DataFrame:
    """Return what was forecast for the weeks after a planting beside what the soil did.

    Parameters
    ----------
    shown : Shown
        The forecast at the time.
    soil : DataFrame
        The soil as it is known now: daily index, ``soil_c``, ``sd_c`` (°C), as
        `estimate_soil` returns it from the record that has come in since.
    readings : DataFrame or None
        The bed's own, as `bed_readings` returns them.
    planted : date
    weeks : int
        Weeks after the planting, 1 or more.

    Returns
    -------
    DataFrame
        A row a week from the planting day on, index ``date``: means of that day and the six
        after it of ``low_c``, ``mid_c``, ``high_c`` (forecast), ``soil_c``, ``sd_c``
        (estimate), ``reading_c`` (mean of the readings) and ``readings`` (how many);
        ``inside``, whether the estimate lies between low and high, None where one is missing.
        Values are NaN where a week is not wholly known.
    """
    first = pd.Timestamp(planted)
    days = pd.date_range(first, periods=7 * weeks)
    daily = pd.concat(
        [
            shown.soil.reindex(days)[["low_c", "mid_c", "high_c"]],
            soil.reindex(days)[["soil_c", "sd_c"]],
        ],
        axis=1,
    )
    values = daily.to_numpy(dtype=float).reshape(weeks, 7, 5).mean(axis=1)
    table = pd.DataFrame(values, index=days[::7], columns=daily.columns)
    table.index.name = "date"
    sums, counts = np.zeros(weeks), np.zeros(weeks, dtype=np.int64)
    if readings is not None and len(readings):
        at = (readings["time"] - first).dt.days.to_numpy() // 7
        mine = (at >= 0) & (at < weeks)
        np.add.at(sums, at[mine], readings["temp_c"].to_numpy(dtype=float)[mine])
        np.add.at(counts, at[mine], 1)
    table["reading_c"] = np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)
    table["readings"] = counts
    inside = table["soil_c"].between(table["low_c"], table["high_c"]).astype(object)
    table["inside"] = inside.where(table[["soil_c", "low_c"]].notna().all(axis=1), None)
    return table
