#!/usr/bin/env python3
"""Write a tiny book of this version's tables, which every later version must open.

Run once for each new version, and commit the file: scripts/make_book_fixture.py
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pandas as pd

from forecaster import book as kept
from forecaster.book import schema

FIXTURES = Path(__file__).resolve().parents[1] / "tests" / "fixtures"


def main() -> None:
    path = FIXTURES / f"book_version_{schema.VERSION}.db"
    if path.exists():
        raise SystemExit(f"{path} is there already: the tables of a version never change")
    fill(path)
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
        db.execute("PRAGMA page_size = 512")
        db.execute("VACUUM")
    print(f"{path.name}: {path.stat().st_size:,} bytes")


def fill(path: Path) -> None:
    clock = lambda: datetime(2026, 3, 17, 8, 0, tzinfo=UTC)  # noqa: E731
    air = pd.DataFrame(
        {"tmin_c": [9.5, 11.0], "tmax_c": [24.0, None]},
        index=pd.date_range("2026-03-15", periods=2, name="date"),
    )
    readings = pd.DataFrame(
        {
            "time": pd.to_datetime(["2026-03-16 07:40", "2026-03-17 00:00"]),
            "temp_c": [(61.5 - 32.0) / 1.8, 15.0],
            "depth_m": [0.1016, None],
            "hour_known": [True, False],
        }
    )
    with kept.open_book(path, create=True, clock=clock) as book:
        with book.batch("start", "garden") as batch:
            kept.add_place(
                batch, kept.Place(name="garden", latitude_deg=-36.2, longitude_deg=146.6)
            )
            kept.add_bed(
                batch, kept.Bed(name="north", place="garden", outline=((0, 0), (4, 0), (4, 2.5)))
            )
            south = kept.Bed(
                name="south", place="garden", area_m2=7.3, shape="circle 10ft", cover="mulch",
                raised=True,
            )  # fmt: skip
            kept.add_bed(batch, south)
            kept.add_air(batch, "garden", air, source="air.csv")
            kept.add_want(
                batch,
                kept.Want(
                    bed="north",
                    season="autumn",
                    what="pansy",
                    variety="Evening",
                    colours=(("yellow", 72), ("white", None)),
                    spacing_m=0.2032,
                    flats=((36, 18.5), (48, None)),
                    currency="AUD",
                    spare_share=0.05,
                    weeks=(8.0, 10.0),
                ),
            )
        with book.batch("read", "by hand") as batch:
            kept.add_readings(batch, "north", readings)
        with book.batch("note", "by hand") as batch:
            kept.add_note(batch, kept.Note(date(2026, 3, 17), "=first 🌱", "south"))
            kept.add_outcome(
                batch,
                kept.Outcome(
                    bed="north",
                    what="pansy",
                    planted=date(2025, 4, 20),
                    seen=date(2025, 6, 1),
                    how_many=144,
                    survived=130,
                    note="-12 to slugs",
                ),
            )
            kept.add_cost(
                batch,
                kept.Cost(
                    season="2026-autumn", day=date(2026, 3, 1), what="flats", amount=74.0,
                    currency="AUD", bed="north",
                ),
            )  # fmt: skip
        window = kept.ShownWindow(
            threshold="cool flats",
            threshold_c=18.333,
            direction="falling",
            season_start=date(2026, 1, 20),
            season_end=date(2026, 7, 20),
            early=date(2026, 3, 25),
            median=date(2026, 4, 5),
            late=None,
            never=0.01,
        )
        soil = pd.DataFrame(
            {"low_c": [19.0], "mid_c": [20.0], "high_c": [21.0]},
            index=pd.DatetimeIndex(["2026-03-18"], name="date"),
        )
        kept.keep_shown(
            book,
            "north",
            kept.Shown(
                issued=date(2026, 3, 17),
                depth_m=0.1016,
                version="0.1.0",
                windows=(window,),
                soil=soil,
            ),
        )


if __name__ == "__main__":
    main()
