"""Speed of the page as ratios measured in one run, and its weight.

    python scripts/bench_page.py [--repeats 9] [--beds 12] [--years 10] [--book FILE]

The page stands when its address is printed: against `crossday --help`. A card worked out anew, a
reading with the window before and after, a card that is known: against one `forecast_soil` of the
same bed with the members and days that a window takes. First with sixty readings, then in a garden
of many beds with hourly logs of years (kept in --book from one run to the next, for making it
takes a minute). The exit code is 0 whatever the ratios are.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np
import pandas as pd
from bench import CROSSDAY, Times, measure, report, run_program

from forecaster import book as kept
from forecaster.answers.place_today import AHEAD_DAYS, BACK_DAYS, MEMBERS
from forecaster.forecast.soil import forecast_soil
from forecaster.ingest import read_air
from forecaster.packaged import data_path
from forecaster.page.app import make_app
from forecaster.page.door import Keys
from forecaster.page.garden import Garden

HOST = "127.0.0.1:8123"
NOW = datetime(2026, 3, 16, 9, 30)
HOURS_A_YEAR = 8766
CARD, READING, WEIGHT_BYTES = 2.0, 3.0, 300_000
UP = 8.0  # 1.5 s where help takes 0.19
VENDORED = ("htmx.min.js", "uplot.iife.min.js", "uplot.min.css")
OWN = ("page.css", "page.js", "mark.svg")


class Visitor:
    """A browser that was let in, without a window."""

    def __init__(self, path: Path) -> None:
        self.garden = Garden(path=path, now=lambda: NOW)
        self.keys = Keys(hosts={HOST})
        self.client = make_app(self.garden, self.keys).test_client()
        self.get(f"/enter?key={self.keys.entry}")

    def get(self, path: str) -> bytes:
        """Return what a path answers."""
        answer = self.client.get(path, base_url=f"http://{HOST}")
        assert answer.status_code in {200, 303}, (path, answer.status_code)  # noqa: S101
        return answer.get_data()

    def post(self, path: str, **fields: str) -> bytes:
        """Send a form as the page would."""
        data = {"token": self.keys.token(self.keys.session), **fields}
        answer = self.client.post(
            path, base_url=f"http://{HOST}", data=data, headers={"Origin": f"http://{HOST}"}
        )
        assert answer.status_code in {200, 303}, (path, answer.get_data())  # noqa: S101
        return answer.get_data()


def make_garden(path: Path, beds: int, years: float) -> None:
    """Make a book with the example's air and beds whose loggers write every hour."""
    rng = np.random.default_rng(1)
    air = read_air(str(data_path("demo/air.csv")))
    place = kept.Place(name="garden", latitude_deg=-36.2, longitude_deg=146.6)
    with kept.open_book(path, create=True) as book, book.batch("start", "bench") as batch:
        kept.add_place(batch, place)
        kept.add_air(batch, place.name, air, source="example")
        mean = air[["tmin_c", "tmax_c"]].mean(axis=1).ewm(span=12).mean()
        count = round(HOURS_A_YEAR * years)
        times = pd.date_range(
            end=NOW.replace(minute=0) - timedelta(hours=2), periods=count, freq="h"
        )
        soil = mean.reindex(times.normalize()).interpolate().bfill().to_numpy()
        wave = 2.0 * np.sin((times.hour.to_numpy() - 11) / 24.0 * 2.0 * np.pi)
        for number in range(beds):
            bed = kept.Bed(name=f"bed {number + 1}", place=place.name, depth_m=0.1)
            kept.add_bed(batch, bed)
            log = {"time": times, "temp_c": soil + wave + rng.normal(size=count) * 0.2 + 0.5}
            kept.add_readings(batch, bed.name, pd.DataFrame(log))


def one_forecast(path: Path) -> Callable[[], object]:
    """Return a call of `forecast_soil` on what the book has of the first bed."""
    with kept.open_book(path) as book:
        bed = kept.beds(book)[0].name
        air, log, site = (
            kept.place_air(book), kept.bed_readings(book, bed), kept.bed_site(book, bed)
        )  # fmt: skip
    issued = air.index[-1]
    return lambda: forecast_soil(
        air, site, log, issued=issued, start=issued - timedelta(days=BACK_DAYS),
        horizon_days=AHEAD_DAYS, members=MEMBERS,
    )  # fmt: skip


def page_up() -> Callable[[], None]:
    """Return a call that starts the page and waits for its address."""

    def call() -> None:
        with tempfile.TemporaryDirectory() as folder:
            words = [*CROSSDAY, "open", "--no-browser", "--book", str(Path(folder) / "g.db")]
            with subprocess.Popen(
                [str(w) for w in words], stdout=subprocess.PIPE, text=True
            ) as page:
                assert page.stdout is not None  # noqa: S101
                assert page.stdout.readline().startswith("http")  # noqa: S101
                page.kill()

    return call


def of_garden(title: str, path: Path, repeats: int) -> None:
    """Compare cards and readings of a book with one forecast of its first bed."""
    visitor = Visitor(path)
    with kept.open_book(path) as book:
        beds = [bed.name for bed in kept.beds(book)]
        for line in kept.batches(book):  # readings of an earlier run
            if line.kind == "read" and not line.undone_at:
                kept.undo(book, line.number)
    first, temperature = beds[0], iter(np.linspace(14.0, 26.0, 10_000).round(4))

    def anew() -> None:
        for key in [key for key in visitor.garden.known if key[0] != "beds"]:
            del visitor.garden.known[key]
        visitor.get(f"/card?bed={first}")

    def reading() -> None:
        hour = f"{next(minutes):%H:%M}"
        visitor.post("/read", bed=first, temperature=f"{next(temperature)}", hour=hour, depth="10")

    minutes = iter(pd.date_range("2026-03-16 07:31", periods=119, freq="min"))
    base = one_forecast(path)
    visitor.get("/?wait=1")
    for what, bar, call in (
        ("card, its bed changed", CARD, anew),
        ("reading, window before and after", READING, reading),
        ("card, known", CARD, lambda: visitor.get(f"/card?bed={first}")),
        (
            f"all {len(beds)} cards, one bed changed",
            READING + len(beds) / 10,
            _after(visitor, reading),
        ),
    ):
        # By the processor's clock: others may be at work on this computer.
        runs = [Times(run.cpu_s, run.cpu_s) for run in measure([call, base], repeats)]
        report(f"{title}: {what} / one forecast_soil", bar, *runs)


def _after(visitor: Visitor, change: Callable[[], None]) -> Callable[[], None]:
    def call() -> None:
        change()
        visitor.get("/?wait=1")

    return call


def weight(visitor: Visitor) -> int:
    """Return the bytes of the heaviest first visit, unpacked."""
    files = [f"/vendored/{name}" for name in VENDORED] + [f"/static/{name}" for name in OWN]
    pages = ("/", "/bed", "/week", "/crops", "/materials", "/data", "/check", "/begin")
    shared = sum(len(visitor.get(name)) for name in (*files, "/bed/soil.json"))
    return shared + max(len(visitor.get(name)) for name in pages)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=9)
    parser.add_argument("--beds", type=int, default=12)
    parser.add_argument("--years", type=float, default=10.0)
    parser.add_argument("--book", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        up: list[Times] = measure([page_up(), run_program(*CROSSDAY, "--help")], options.repeats)
        report("page up / crossday --help", UP, *up)
        small = Path(folder) / "small.db"
        visitor = Visitor(small)
        visitor.post("/begin/example")
        found = weight(visitor)
        kept_to = "meets the target" if found <= WEIGHT_BYTES else "misses it"
        print(f"weight of a first visit: {found / 1000:.0f} kB (target ≤ 300 kB)  {kept_to}\n")
        of_garden("one bed", small, options.repeats)
        large = options.book or Path(folder) / "large.db"
        if not large.exists():
            make_garden(large, options.beds, options.years)
        of_garden(f"{options.beds} beds, {options.years:g} years of hours", large, options.repeats)


if __name__ == "__main__":
    main()
