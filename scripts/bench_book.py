#!/usr/bin/env python3
"""How a book with 20 years of hourly readings of five beds performs, beside sqlite3 alone.

Each time is the least of several runs, as a ratio to reading the same rows with Python's
sqlite3 and nothing else (one SELECT, fetchall). Run: scripts/bench_book.py [years]
"""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import numpy as np
import pandas as pd

from forecaster import book as kept
from forecaster.ingest import read_air
from forecaster.packaged import data_path

BEDS = ("north", "south", "east", "west", "frame")
LAST = pd.Timestamp("2026-03-16")


def fill(path: Path, years: int) -> None:
    air = read_air(data_path("demo/air.csv"))
    with kept.open_book(path, create=True) as book:
        with book.batch("start", "garden") as batch:
            kept.add_place(
                batch, kept.Place(name="garden", latitude_deg=-36.2, longitude_deg=146.6)
            )
            kept.add_air(batch, "garden", air, source="air.csv")
            for name in BEDS:
                kept.add_bed(batch, kept.Bed(name=name, place="garden"))
        for k, name in enumerate(BEDS):
            with book.batch("import", f"{name}.csv") as batch:
                kept.add_readings(batch, name, hourly(LAST, years * 8766, k))


def hourly(last: pd.Timestamp, n: int, k: int = 0) -> pd.DataFrame:
    time_ = pd.date_range(end=last, periods=n, freq="h")
    turn = 2 * np.pi * (time_.day_of_year.to_numpy() - 15) / 365.25
    temp = 14 + 8 * np.cos(turn) + np.random.default_rng(k).normal(size=n)
    return pd.DataFrame({"time": time_, "temp_c": temp.round(2), "depth_m": 0.1016})


def least(work: Callable[[], object], runs: int = 3) -> float:
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def plain(path: Path, where: str = "") -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute(
            "SELECT time_s, temp_c, depth_m, span, hour_known, batch_id "  # noqa: S608
            f"FROM readings {where} ORDER BY bed_id, time_s"
        ).fetchall()


def measure(folder: Path, years: int) -> dict[str, float]:
    path = folder / "garden.db"
    start = time.perf_counter()
    fill(path, years)
    filled = time.perf_counter() - start
    all_rows = least(lambda: plain(path))
    one_bed = least(lambda: plain(path, "WHERE bed_id = 1"))

    def read_bed() -> None:
        with kept.open_book(path) as book:
            kept.bed_readings(book, "north")

    def import_day() -> None:
        nonlocal day
        day += pd.Timedelta(days=1)
        with kept.open_book(path) as book, book.batch("import", "day.csv") as batch:
            kept.add_readings(batch, "north", hourly(day, 24))

    day = LAST
    opened = least(lambda: kept.open_book(path).close())
    with kept.open_book(path) as book:
        path_only = least(lambda: kept.bed_readings(book, "north"))
        air = least(lambda: kept.place_air(book, "garden"))
    when = least(
        lambda: subprocess.run(
            [sys.executable, "-m", "forecaster", "when", "--bed", "north", "--book", str(path)],
            check=True, capture_output=True,
        ),
        1,
    )  # fmt: skip
    return {
        "rows": float(years * 8766 * len(BEDS)),
        "file_mb": path.stat().st_size / 1e6,
        "fill_s": filled,
        "sqlite3_all_rows_s": all_rows,
        "sqlite3_one_bed_s": one_bed,
        "open_s": opened,
        "open_ratio_all_rows": opened / all_rows,
        "readings_of_a_bed_s": path_only,
        "readings_of_a_bed_ratio": path_only / one_bed,
        "open_and_readings_ratio": least(read_bed) / one_bed,
        "air_s": air,
        "import_of_a_day_s": (imported := least(import_day)),
        "import_of_a_day_ratio_all_rows": imported / all_rows,
        "when_s": when,
        "when_ratio_all_rows": when / all_rows,
    }


def main() -> None:
    years = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    with tempfile.TemporaryDirectory() as folder:
        print(
            json.dumps({k: round(v, 3) for k, v in measure(Path(folder), years).items()}, indent=1)
        )


if __name__ == "__main__":
    main()
