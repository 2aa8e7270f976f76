"""The book's tables, their version, and the steps from each version to the next.

One SQLite file. `user_version` says which tables it has, `application_id` that it is a book.
Temperatures are °C, lengths m, areas m². Days are ISO dates; `time_s` counts seconds since
1970-01-01 00:00 on the place's own standard clock. Every row that came with a batch names it,
so that the batch can be undone as one.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from functools import cache

from forecaster.book import sums

APPLICATION_ID = 0x58646179
"""Marks the file's header (bytes 68 to 71) as a book; the letters ``Xday``."""
VERSION = 3
FIRST_WITH_SUMS = 2

_VERSION_1 = (
    """CREATE TABLE batches (
        id INTEGER PRIMARY KEY,
        kind TEXT NOT NULL,
        source TEXT NOT NULL,
        made_at TEXT NOT NULL,
        undone_at TEXT
    )""",
    """CREATE TABLE places (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        name_key TEXT NOT NULL UNIQUE,
        latitude_deg REAL NOT NULL CHECK (latitude_deg BETWEEN -90 AND 90),
        longitude_deg REAL CHECK (longitude_deg BETWEEN -180 AND 180),
        elevation_m REAL CHECK (elevation_m BETWEEN -500 AND 9000),
        station TEXT NOT NULL DEFAULT '',
        obs_hour INTEGER CHECK (obs_hour BETWEEN 0 AND 23),
        batch_id INTEGER NOT NULL REFERENCES batches (id)
    )""",
    """CREATE TABLE beds (
        id INTEGER PRIMARY KEY,
        place_id INTEGER NOT NULL REFERENCES places (id),
        name TEXT NOT NULL,
        name_key TEXT NOT NULL UNIQUE,
        area_m2 REAL CHECK (area_m2 > 0 AND area_m2 < 1e9),
        outline TEXT NOT NULL DEFAULT '',
        soil TEXT NOT NULL,
        organic_share REAL CHECK (organic_share BETWEEN 0 AND 1),
        cover TEXT NOT NULL,
        light TEXT NOT NULL CHECK (light IN ('sun', 'part shade', 'shade')),
        raised INTEGER NOT NULL CHECK (raised IN (0, 1)),
        depth_m REAL NOT NULL CHECK (depth_m BETWEEN 0 AND 2),
        batch_id INTEGER NOT NULL REFERENCES batches (id)
    )""",
    """CREATE TABLE readings (
        id INTEGER PRIMARY KEY,
        bed_id INTEGER NOT NULL REFERENCES beds (id),
        time_s INTEGER NOT NULL CHECK (typeof(time_s) = 'integer'),
        temp_c REAL NOT NULL CHECK (temp_c BETWEEN -60 AND 80),
        depth_m REAL CHECK (depth_m BETWEEN 0 AND 5),
        span TEXT NOT NULL CHECK (span IN ('instant', 'day')),
        hour_known INTEGER NOT NULL CHECK (hour_known IN (0, 1)),
        batch_id INTEGER NOT NULL REFERENCES batches (id)
    )""",
    # Of an instant whose hour is unknown a day may hold several; any other time and depth one.
    """CREATE UNIQUE INDEX readings_once ON readings (
        bed_id, time_s, ifnull(depth_m, -1), span,
        CASE WHEN hour_known OR span = 'day' THEN -999 ELSE temp_c END
    )""",
    """CREATE TABLE air_days (
        place_id INTEGER NOT NULL REFERENCES places (id),
        day TEXT NOT NULL CHECK (day IS date(day)),
        batch_id INTEGER NOT NULL REFERENCES batches (id),
        tmin_c REAL CHECK (tmin_c BETWEEN -100 AND 70),
        tmax_c REAL CHECK (tmax_c BETWEEN -100 AND 70),
        tavg_c REAL CHECK (tavg_c BETWEEN -100 AND 70),
        precip_mm REAL CHECK (precip_mm BETWEEN 0 AND 5000),
        source TEXT NOT NULL,
        provisional INTEGER NOT NULL CHECK (provisional IN (0, 1)),
        PRIMARY KEY (place_id, day, batch_id)
    ) WITHOUT ROWID""",
    """CREATE TABLE plantings (
        id INTEGER PRIMARY KEY,
        bed_id INTEGER NOT NULL REFERENCES beds (id),
        day TEXT NOT NULL CHECK (day IS date(day)),
        action TEXT NOT NULL CHECK (action IN ('planted', 'pulled')),
        what TEXT NOT NULL,
        how_many INTEGER CHECK (how_many > 0),
        batch_id INTEGER NOT NULL REFERENCES batches (id)
    )""",
    """CREATE TABLE notes (
        id INTEGER PRIMARY KEY,
        place_id INTEGER REFERENCES places (id),
        bed_id INTEGER REFERENCES beds (id),
        day TEXT NOT NULL CHECK (day IS date(day)),
        text TEXT NOT NULL,
        batch_id INTEGER NOT NULL REFERENCES batches (id)
    )""",
    """CREATE TABLE shown (
        id INTEGER PRIMARY KEY,
        bed_id INTEGER NOT NULL REFERENCES beds (id) ON DELETE CASCADE,
        issued TEXT NOT NULL CHECK (issued IS date(issued)),
        shown_at TEXT NOT NULL,
        depth_m REAL NOT NULL,
        version TEXT NOT NULL
    )""",
    """CREATE TABLE shown_windows (
        id INTEGER PRIMARY KEY,
        shown_id INTEGER NOT NULL REFERENCES shown (id) ON DELETE CASCADE,
        threshold TEXT NOT NULL,
        threshold_c REAL NOT NULL,
        direction TEXT NOT NULL CHECK (direction IN ('falling', 'rising')),
        season_start TEXT NOT NULL CHECK (season_start IS date(season_start)),
        season_end TEXT NOT NULL CHECK (season_end IS date(season_end)),
        early TEXT CHECK (early IS date(early)),
        median TEXT CHECK (median IS date(median)),
        late TEXT CHECK (late IS date(late)),
        never REAL NOT NULL CHECK (never BETWEEN 0 AND 1)
    )""",
    """CREATE TABLE shown_soil (
        shown_id INTEGER NOT NULL REFERENCES shown (id) ON DELETE CASCADE,
        day TEXT NOT NULL CHECK (day IS date(day)),
        low_c REAL NOT NULL,
        mid_c REAL NOT NULL,
        high_c REAL NOT NULL,
        PRIMARY KEY (shown_id, day)
    ) WITHOUT ROWID""",
    "CREATE INDEX shown_by_bed ON shown (bed_id, issued)",
    "CREATE INDEX shown_windows_by_shown ON shown_windows (shown_id)",
)

_VERSION_2 = (
    # The clock on the wall as it was given, beside standard time; NULL where it was not kept.
    "ALTER TABLE readings ADD COLUMN wall_s INTEGER",
    # Whether the depth was said; else it is that of the bed's thermometer when it was added.
    """ALTER TABLE readings ADD COLUMN depth_said INTEGER NOT NULL DEFAULT 1
        CHECK (depth_said IN (0, 1))""",
    "DROP INDEX readings_once",
    """UPDATE readings SET depth_said = 0,
        depth_m = (SELECT depth_m FROM beds WHERE beds.id = bed_id) WHERE depth_m IS NULL""",
    """CREATE UNIQUE INDEX readings_once ON readings (
        bed_id, time_s, ifnull(depth_m, -1), span,
        CASE WHEN hour_known OR span = 'day' THEN -999 ELSE temp_c END, depth_said
    )""",
    # A bed's row holds what was said first; of each setting the latest batch counts.
    """CREATE TABLE bed_changes (
        bed_id INTEGER NOT NULL REFERENCES beds (id),
        setting TEXT NOT NULL,
        batch_id INTEGER NOT NULL REFERENCES batches (id),
        value TEXT NOT NULL,
        PRIMARY KEY (bed_id, setting, batch_id)
    ) WITHOUT ROWID""",
    # What the values of a batch, or of a forecast shown, add up to (see sums.py).
    """CREATE TABLE sums (
        owner TEXT NOT NULL CHECK (owner IN ('batch', 'shown')),
        number INTEGER NOT NULL,
        part TEXT NOT NULL,
        total INTEGER NOT NULL,
        PRIMARY KEY (owner, number, part)
    ) WITHOUT ROWID""",
)

_VERSION_3 = (
    # The bed's outline in words, as `plan --outline` takes them; '' where it is corners or none.
    "ALTER TABLE beds ADD COLUMN shape TEXT NOT NULL DEFAULT ''",
    # What is to go into a bed each autumn or spring; of each thing the latest batch counts, and
    # one that is no longer wanted is a row too. Colours, flats and weeks are JSON lists.
    """CREATE TABLE wants (
        id INTEGER PRIMARY KEY,
        bed_id INTEGER NOT NULL REFERENCES beds (id),
        season TEXT NOT NULL CHECK (season IN ('autumn', 'spring')),
        what TEXT NOT NULL,
        variety TEXT NOT NULL,
        colours TEXT NOT NULL,
        plants INTEGER CHECK (plants BETWEEN 1 AND 200000),
        spacing_m REAL CHECK (spacing_m > 0 AND spacing_m < 100),
        flats TEXT NOT NULL,
        currency TEXT NOT NULL,
        spare_share REAL NOT NULL CHECK (spare_share BETWEEN 0 AND 1),
        weeks TEXT NOT NULL,
        wanted INTEGER NOT NULL CHECK (wanted IN (0, 1)),
        batch_id INTEGER NOT NULL REFERENCES batches (id)
    )""",
    # What came of a planting. It stands by itself: undoing the planting leaves what was seen.
    """CREATE TABLE outcomes (
        id INTEGER PRIMARY KEY,
        bed_id INTEGER NOT NULL REFERENCES beds (id),
        planted TEXT NOT NULL CHECK (planted IS date(planted)),
        what TEXT NOT NULL,
        how_many INTEGER CHECK (how_many > 0),
        seen TEXT NOT NULL CHECK (seen IS date(seen) AND seen >= planted),
        survived INTEGER CHECK (survived BETWEEN 0 AND how_many),
        share REAL CHECK (share BETWEEN 0 AND 1),
        note TEXT NOT NULL,
        batch_id INTEGER NOT NULL REFERENCES batches (id)
    )""",
    """CREATE TABLE costs (
        id INTEGER PRIMARY KEY,
        bed_id INTEGER REFERENCES beds (id),
        season TEXT NOT NULL,
        day TEXT NOT NULL CHECK (day IS date(day)),
        what TEXT NOT NULL,
        amount REAL NOT NULL CHECK (amount BETWEEN -1e9 AND 1e9),
        currency TEXT NOT NULL,
        batch_id INTEGER NOT NULL REFERENCES batches (id)
    )""",
)

TABLES = (
    "batches", "places", "beds", "readings", "air_days", "plantings", "notes", "bed_changes",
    "wants", "outcomes", "costs", "shown", "shown_windows", "shown_soil",
)  # fmt: skip
"""Every table of entries, each after those that it refers to; `sums` can be made from them."""


def make_version_1(db: sqlite3.Connection) -> None:
    """Make the tables of version 1."""
    for statement in _VERSION_1:
        db.execute(statement)


def make_version_2(db: sqlite3.Connection) -> None:
    """Take version 1 to 2: wall time, depths that stay, changes of beds, sums.

    A reading whose depth was not said was read where the bed's thermometer stands: that depth
    is written down now, so that a change of the bed's no longer moves it.
    """
    for statement in _VERSION_2:
        db.execute(statement)
    # A later step that adds a column to a summed table does this again.
    sums.seal_all(db)


def make_version_3(db: sqlite3.Connection) -> None:
    """Take version 2 to 3: outlines in words, what is wanted, outcomes, costs."""
    for statement in _VERSION_3:
        db.execute(statement)
    sums.seal_all(db)


STEPS: dict[int, Callable[[sqlite3.Connection], None]] = {
    0: make_version_1, 1: make_version_2, 2: make_version_3,
}  # fmt: skip
"""From each version to the next; a new version adds its step here and its fixture to the tests."""


def tables_of(db: sqlite3.Connection) -> list[str]:
    """Return the tables of entries in a database of ours, each after those it refers to."""
    there = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    return [table for table in TABLES if table in there]


def step_up(db: sqlite3.Connection, version: int) -> None:
    """Take the tables from a version to this one, within the caller's transaction."""
    for step in range(version, VERSION):
        STEPS[step](db)
    db.execute(f"PRAGMA user_version = {VERSION:d}")
    if db.execute("PRAGMA foreign_key_check").fetchone() is not None:
        raise sqlite3.DatabaseError("rows refer to rows that are not there")


def start_over(db: sqlite3.Connection, version: int) -> None:
    """Turn an empty book into an empty one of an earlier version, within a transaction."""
    for table in ("sums", *reversed(TABLES)):
        db.execute(f"DROP TABLE IF EXISTS {table}")
    for step in range(version):
        STEPS[step](db)


@cache
def expected_text(version: int) -> tuple[str, ...]:
    """Return what `text_of` is in a sound book of a version."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        for step in range(version):
            STEPS[step](db)
        return text_of(db)


def text_of(db: sqlite3.Connection) -> tuple[str, ...]:
    """Return how the tables and indexes are declared, as SQLite keeps it."""
    rows = db.execute("SELECT type, name, tbl_name, ifnull(sql, '') FROM sqlite_master")
    return tuple(sorted("\n".join(map(str, row)) for row in rows))
