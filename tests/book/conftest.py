"""A small book of an invented garden, and what several tests ask of it."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecaster.book import Bed, Book, Place, add_bed, add_place, open_book

PLACE, BED = "Eddermarl Terrace", "north"


def begin(path: Path, **options: object) -> Book:
    """A new book with one place and one bed."""
    clock = lambda: datetime(2026, 3, 17, 8, 0, tzinfo=UTC)  # noqa: E731
    book = open_book(path, create=True, clock=clock, **options)  # type: ignore[arg-type]
    with book.batch("start", PLACE) as batch:
        add_place(
            batch, Place(name=PLACE, latitude_deg=-36.2, longitude_deg=146.6, elevation_m=250.0)
        )
        add_bed(batch, Bed(name=BED, place=PLACE))
    return book


def log(n: int = 5, start: str = "2026-03-01 07:40", depth_m: float = 0.1, **columns: object):
    """Readings an hour apart, all different."""
    time = pd.date_range(start, periods=n, freq="h").as_unit("ns")
    frame = pd.DataFrame(
        {
            "time": time,
            "temp_c": 15.0 + np.arange(n) % 97 / 10.0,
            "depth_m": depth_m,
            "span": "instant",
            "hour_known": True,
        }
    )
    return frame.assign(**columns)


def tables(book: Book) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, as SQLite itself gives them."""
    names = book.db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    return {
        name: sorted(book.db.execute(f"SELECT * FROM {name}").fetchall(), key=repr)  # noqa: S608
        for (name,) in names.fetchall()
    }


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with begin(tmp_path / "garden.db") as made:
        yield made


@pytest.fixture(scope="session")
def make_log() -> Callable[..., pd.DataFrame]:
    return log


@pytest.fixture(scope="session")
def make_book() -> Callable[..., Book]:
    return begin


@pytest.fixture(scope="session")
def all_rows() -> Callable[[Book], dict[str, list[tuple[object, ...]]]]:
    return tables
