"""Hours of work that tasks take: a small table of assumptions that its user can change."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from forecaster.ground.errors import FileError
from forecaster.packaged import csv_rows, data_path

TABLE = "task_hours.csv"
"""In ``data/``; a file of this name beside the garden book goes before it, row by row."""
SIZES = ("a_bed", "a_m2", "a_plant")
MOST_HOURS = 1000.0


@dataclass(frozen=True, slots=True)
class Hours:
    """Hours of one person for each bed, each m² of it and each plant."""

    a_bed: float
    a_m2: float
    a_plant: float

    def of(self, area_m2: float, plants: int) -> float:
        """Return the hours that a task takes; of a bed whose size is not told, both are 0."""
        return self.a_bed + self.a_m2 * area_m2 + self.a_plant * plants


def own_hours(book: Path) -> Path:
    """Return where the user's own table is looked for: beside the book."""
    return book.parent / TABLE


def task_hours(book: Path | None = None) -> Mapping[str, Hours]:
    """Return hours by the task's name: the packaged ones, and the user's own before them.

    Raises
    ------
    FileError
        If the user's table cannot be read, with the line's task and what was expected.
    """
    packaged = _packaged()
    own = None if book is None else own_hours(book)
    if own is None or not own.is_file():
        return packaged
    try:
        return {**packaged, **_read(own, tuple(packaged))}
    except (OSError, UnicodeDecodeError) as error:
        raise FileError("the hours cannot be read", path=own, expected="a table as text") from error


@cache
def _packaged() -> Mapping[str, Hours]:
    return _read(data_path(TABLE), ())


def _read(path: Path, known: tuple[str, ...]) -> dict[str, Hours]:
    found = {}
    for row in csv_rows(path):
        name = row.get("task", "")
        if not name or (known and name not in known):
            raise FileError(
                f"{name!r} is no task",
                path=path,
                expected=f"the column task, of {', '.join(known)}",
            )
        found[name] = Hours(*(_number(path, name, size, row.get(size, "")) for size in SIZES))
    return found


def _number(path: Path, task: str, size: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0.0 <= value <= MOST_HOURS:
        raise FileError(
            f"{size} of {task} is {text!r}",
            path=path,
            expected=f"hours, a number of 0 to {MOST_HOURS:,.0f}",
        )
    return value
