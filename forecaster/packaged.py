"""Values that ship with the package: crop thresholds, soil table, fitted model, demo garden.

The files lie in ``data/``: inside the package in an installed wheel, beside it in a checkout.
Where each came from is written in ``data/SOURCES.csv``. Nothing here imports pandas, so that
asking for one small table stays quick.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from forecaster.ground.errors import DataMissing, FileError

_PACKAGE = Path(__file__).resolve().parent


def data_folder() -> Path:
    """Return the folder that holds the packaged data.

    Returns
    -------
    Path
        ``forecaster/data`` in an installed wheel, ``data`` beside the package in a checkout.

    Raises
    ------
    DataMissing
        If neither is there: the installation is incomplete.
    """
    for folder in (_PACKAGE / "data", _PACKAGE.parent / "data"):
        if (folder / "SOURCES.csv").is_file():
            return folder
    raise DataMissing(
        f"the packaged data is not beside {_PACKAGE}; "
        "expected a folder data with SOURCES.csv in it. Install crossday again"
    )


def data_path(name: str) -> Path:
    """Return the path of one packaged file or folder.

    Parameters
    ----------
    name : str
        Path below the data folder with forward slashes, as ``soils.csv`` or ``demo/garden.json``.

    Returns
    -------
    Path
        A file or folder that exists.

    Raises
    ------
    DataMissing
        If there is nothing of that name, or the name leads out of the data folder.
    """
    folder = data_folder()
    path = (folder / name).resolve()
    if not path.is_relative_to(folder) or not path.exists():
        raise DataMissing(
            f"no packaged data named {name!r} in {folder}; "
            "expected a path listed in SOURCES.csv there. Install crossday again if it is listed"
        )
    return path


def load_json(name: str) -> Any:
    """Return what one packaged JSON file holds; its keys carry the units.

    Raises
    ------
    DataMissing
        If there is no such file.
    FileError
        If it is not JSON, with the line and column.
    """
    path = data_path(name)
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except json.JSONDecodeError as error:
        raise FileError(
            error.msg, path=path, line=error.lineno, column=error.colno, expected="JSON"
        ) from error


def load_csv(name: str) -> list[dict[str, str]]:
    """Return the rows of one packaged CSV table, as text by heading; headings carry the units.

    Rows whose first cell begins with ``#`` are remarks.

    Raises
    ------
    DataMissing
        If there is no such file.
    FileError
        If a row has more or fewer cells than the heading, with its line.
    """
    return csv_rows(data_path(name))


def csv_rows(path: Path) -> list[dict[str, str]]:
    """Return the rows of a table of the same form that lies elsewhere, as a user's own.

    Raises
    ------
    FileError
        As for `load_csv`.
    """
    rows: list[dict[str, str]] = []
    heading: list[str] = []
    with path.open(encoding="utf-8", newline="") as handle:
        reader = csv.reader(handle)
        for cells in reader:
            if not cells or cells[0].startswith("#"):
                continue
            if not heading:
                heading = cells
            elif len(cells) != len(heading):
                raise FileError(
                    f"{len(cells)} cells",
                    path=path,
                    line=reader.line_num,
                    expected=f"{len(heading)} as in the heading",
                )
            else:
                rows.append(dict(zip(heading, cells, strict=True)))
    return rows


@dataclass(frozen=True, slots=True)
class Value:
    """A packaged number with how well it is known, taken unless told otherwise.

    Parameters
    ----------
    value : float
        In `unit`.
    unit, basis, source : str
        As in the data file.
    """

    value: float
    unit: str
    basis: str
    source: str


@cache
def load_values(name: str) -> Mapping[str, Value]:
    """Return the values of a table with the headings name, value, unit, basis, source."""
    return {
        row["name"]: Value(float(row["value"]), row["unit"], row["basis"], row["source"])
        for row in load_csv(name)
    }
