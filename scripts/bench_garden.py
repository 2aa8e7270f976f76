#!/usr/bin/env python3
"""Twelve beds against one, as ratios measured in one run: week, order, calendar, report.

    python scripts/bench_garden.py [--repeats 5]

The book is that of `make_twelve_beds`. Each command is run for the whole book and for one bed
without a thermometer, which is the quickest there is, in turn; the ratio of the quickest runs is
printed, as `bench.py` does. Last the plans alone are worked out within one program, its libraries
loaded and the first bed thrown away, so that no start-up flatters the ratio.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import make_twelve_beds
from bench import CROSSDAY, measure, report, run_program

BED = "wall bed"
TARGET = 6.0


def commands(folder: Path) -> dict[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    """Return what is asked of the whole book and of one bed, by what it is."""
    page, ics = str(folder / "garden.html"), str(folder / "garden.ics")
    every, one = ("--all",), ("--bed", BED)
    return {
        "week": (("week",), ("week", *one)),
        "order": (("order",), ("order", *one)),
        "calendar": (("plan", *every, "--ics", ics), ("plan", *one, "--ics", ics)),
        "report": (("report", *every, "--out", page), ("report", *one, "--out", page)),
    }


def bench_commands(book: Path, folder: Path, repeats: int) -> None:
    """Whole commands, as a person waits for them."""
    of = ("--book", str(book), "--today", make_twelve_beds.TODAY.isoformat())
    for name, pair in commands(folder).items():
        calls = [run_program(*CROSSDAY, *words, *of) for words in pair]
        report(
            f"crossday {pair[0][0]} ({name}), twelve beds : one", TARGET, *measure(calls, repeats)
        )


def bench_plans(book: Path, repeats: int) -> None:
    """The plans alone, libraries loaded."""
    from forecaster import book as kept  # noqa: PLC0415
    from forecaster.answers.several import Beds  # noqa: PLC0415
    from forecaster.plan.several import plan_beds  # noqa: PLC0415

    with kept.open_book(book) as held:

        def plans(names: tuple[str, ...]) -> Callable[[], object]:
            return lambda: plan_beds(
                Beds(make_twelve_beds.TODAY, make_twelve_beds.TODAY), held, names
            )

        report("plans within one program, twelve beds : one", TARGET,
               *measure([plans(()), plans((BED,))], repeats))  # fmt: skip


def main() -> None:
    """Run the comparisons."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=5, help="runs of each subject")
    options = parser.parse_args()
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "garden.db"
        make_twelve_beds.make_book(book)
        bench_commands(book, Path(folder), options.repeats)
        bench_plans(book, options.repeats)


if __name__ == "__main__":
    main()
