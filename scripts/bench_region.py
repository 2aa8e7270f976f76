"""Measure a region's run: time and memory a place, and what the engine adds to a plain loop.

    python scripts/bench_region.py STATIONS [--places 100 1000 5000] [--workers 2]

STATIONS is a folder of long daily records with their table (the public stations). Places are made
from them by resampling: fifteen years of a station's air, begun on a year of its own, its whole
years in another order, at a place within a degree. Records lie in memory-backed files, so that
reading them is in the time, and is also told apart. Processor time is what is compared, for a
machine may have others at work; ratios are of one run.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from forecaster.answers.place_today import soil_of_record
from forecaster.answers.window import Threshold, decided
from forecaster.ingest import read_air
from forecaster.region import Question, RegionPlace, forecast_places, local_cluster, places_at
from forecaster.region.engine import ENVIRONMENT
from forecaster.region.row import answer_place, read_place
from forecaster.region.run import begin

YEARS = 15
RECORDS = 1000  # so many are made; further places share one, and lie elsewhere
ASKED = Threshold(name="cool", label="Flats", threshold_c=18.33, direction="falling")
QUESTION = Question(thresholds=(ASKED,), now=date(2024, 8, 1), today=date(2024, 8, 1))


def resampled(air: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """Return fifteen years to 31 July 2024 of a record's whole years in another order."""
    from_august = air.index.year + (air.index.month >= 8)
    years = [some for _, some in air.groupby(from_august) if len(some) >= 365]
    chosen = [years[k].iloc[:365] for k in random.integers(0, len(years), YEARS)]
    table = pd.concat(chosen)
    return table.set_axis(pd.date_range(end="2024-07-31", periods=len(table), name="date"))


def made_places(stations: Path, folder: Path, count: int) -> Iterator[RegionPlace]:
    """Write records and yield their places."""
    random = np.random.default_rng(0)
    known = [one for one in places_at(stations) if not one.problem]
    air = {one.name: read_air(one.air) for one in known}
    for order in range(count):
        one = known[order % len(known)]
        path = folder / f"{order % RECORDS:05d}.csv"
        if not path.exists():
            resampled(air[one.name], random).round(1).to_csv(path)
        east, north = random.uniform(-1.0, 1.0, 2)
        yield RegionPlace(
            order=order, name=f"place {order}", air=str(path),
            latitude_deg=one.latitude_deg + north, longitude_deg=one.longitude_deg + east,
        )  # fmt: skip


class Peak(threading.Thread):
    """Watches the memory of this process and of some others, in MB."""

    def __init__(self, pids: list[int]) -> None:
        super().__init__(daemon=True)
        self.pids, self.own, self.others, self.go_on = pids, 0.0, 0.0, True

    def run(self) -> None:
        while self.go_on:
            self.own = max(self.own, resident_mb(os.getpid()))
            self.others = max(self.others, *(resident_mb(pid) for pid in self.pids))
            time.sleep(0.2)


def resident_mb(pid: int) -> float:
    pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def cpu_s(pids: list[int]) -> float:
    """Processor time of some processes so far."""
    ticks = 0
    for pid in pids:
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def bench_parts(places: list[RegionPlace]) -> None:
    """Print what reading and answering a place take, in this process."""
    answer_place(places[0], QUESTION)
    began = time.process_time()
    records = [read_place(one, QUESTION) for one in places]
    read = time.process_time()
    for record in records:
        decided(soil_of_record(record), QUESTION.thresholds, thermometer=False)
    answered = time.process_time()
    read_ms, answer_ms = (1000.0 * span / len(places) for span in (read - began, answered - read))
    print(f"read {read_ms:.1f} ms, answer {answer_ms:.1f} ms a place, of a core")
    print(f"on records already read: {1000.0 / answer_ms:.1f} answers a second of a core")


def bench_loop(places: list[RegionPlace]) -> float:
    """Return processor seconds a place of a plain loop in this process."""
    began = time.process_time()
    for one in places:
        answer_place(one, QUESTION)
    return (time.process_time() - began) / len(places)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("stations", type=Path)
    options.add_argument("--places", type=int, nargs="+", default=[100, 1000, 5000])
    options.add_argument("--workers", type=int, default=2)
    asked = options.parse_args()
    if any(os.environ.get(name) != value for name, value in ENVIRONMENT.items()):
        os.execve("/proc/self/exe", [sys.executable, *sys.argv], os.environ | ENVIRONMENT)  # noqa: S606
    shm = Path("/dev/shm")  # noqa: S108 - a folder of a name of its own is made there
    with tempfile.TemporaryDirectory(dir=shm if shm.is_dir() else None) as name:
        folder = Path(name)
        places = list(made_places(asked.stations, folder, max(asked.places)))
        bench_parts(places[:60])
        with local_cluster(asked.workers) as client:
            pids = list(client.run(os.getpid).values())
            list(forecast_places(places[: 4 * asked.workers], QUESTION, client=client))
            for count in asked.places:
                bench_run(places[:count], folder / f"{count}.csv", client, pids)


def bench_run(places: list[RegionPlace], out: Path, client: Any, pids: list[int]) -> None:
    """Print what a whole run takes, beside a plain loop before and after it."""
    count, loop_s = len(places), bench_loop(places[:50])
    watch = Peak(pids)
    watch.start()
    before, own, wall = cpu_s(pids), time.process_time(), time.monotonic()
    run = begin(out, places, QUESTION)
    run.go(client)
    rows = run.table().num_rows
    took = time.monotonic() - wall
    workers, engine = cpu_s(pids) - before, time.process_time() - own
    watch.go_on = False
    watch.join()
    loop_s = (loop_s + bench_loop(places[:50])) / 2.0
    each = (workers + engine) / count
    print(f"{count:>5} places, {rows} rows, {run.failed} failed: {took:.0f} s, "
          f"{count / took:.1f} a second")  # fmt: skip
    print(f"      processor {1000 * each:.1f} ms a place (workers {1000 * workers / count:.1f}, "
          f"engine {1000 * engine / count:.1f}): {each / loop_s:.2f} of the plain loop's "
          f"{1000 * loop_s:.1f}")  # fmt: skip
    print(f"      peak {watch.own:.0f} MB here, {watch.others:.0f} MB a worker", flush=True)


if __name__ == "__main__":
    main()
