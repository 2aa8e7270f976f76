"""The places of a region: a folder of station files, a table of places, or the book's beds."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import get_args

from forecaster.ground.errors import FileError, InputError
from forecaster.ground.site import Cover, Soil
from forecaster.ground.units import parse_length

AIR_ENDINGS = (".csv", ".csv.gz", ".txt", ".txt.gz", ".tsv", ".dly", ".dat", ".xlsx", ".json")
DEGREES = re.compile(r"\s*([+-]?)(\d+(?:\.\d*)?|\.\d+)\s*°?\s*([NSEWnsew]?)\s*")
TABLE_NAMES = ("places.csv", "stations.csv")
"""A table of places of this name in a folder says where its files lie."""
HEADINGS = {
    "name": ("name", "place"),
    "station": ("station", "id"),
    "file": ("file", "air"),
    "latitude_deg": ("latitude_deg", "latitude", "lat"),
    "longitude_deg": ("longitude_deg", "longitude", "lon"),
    "depth": ("depth",),
    "soil": ("soil",),
    "cover": ("cover",),
    "readings": ("readings",),
    "region": ("region",),
}
"""What a table of places may say, by the headings it is said under."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionPlace:
    """A place that a region's question is asked of.

    Parameters
    ----------
    order : int
        Its number in the list, from 0.
    name : str
    air : str
        Path of its daily record: a file, or a folder of one station; as a worker sees it.
    latitude_deg, longitude_deg : float, optional
        As known; else as its file has them.
    depth_m : float, optional
    soil, cover : str, optional
    readings : str
        Path of its thermometer's log; empty if there is none.
    region : str
        What its scores are summed under.
    bed, book : str
        A bed of the garden book at this path, instead of `air`.
    problem : str
        Why nothing can be asked of it, known beforehand.
    """

    order: int
    name: str
    air: str = ""
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    depth_m: float | None = None
    soil: Soil | None = None
    cover: Cover | None = None
    readings: str = ""
    region: str = ""
    bed: str = ""
    book: str = ""
    problem: str = ""

    def key(self) -> str:
        """Return what tells this place with its files as they are now from any other.

        Files go by size and time; one that cannot be seen from here by its path alone.
        """
        seen = [asdict(self), *(_seen(path) for path in (self.air, self.readings, self.book))]
        return hashlib.sha256(json.dumps(seen).encode()).hexdigest()[:24]


def _seen(path: str) -> list[int]:
    if not path:
        return []
    try:
        found = Path(path).stat()
    except (OSError, ValueError):
        return []
    return [found.st_size, found.st_mtime_ns]


def places_at(path: str | Path) -> list[RegionPlace]:
    """Return the places of a folder of station files or of a table of places.

    Parameters
    ----------
    path : path
        A folder: every file of air in it, and every folder, is a place; ``places.csv`` or
        ``stations.csv`` there says where they lie. Or a CSV table with `name`, and `file` or
        `station`; it may have `latitude`, `longitude`, `depth` (as 4in or 10cm), `soil`,
        `cover`, `readings` (a log's file) and `region`. Files stand beside the table.

    Raises
    ------
    InputError
        If there is no such folder or table, or it holds no place.
    FileError
        If a row of the table cannot be understood, with its line.
    """
    path = Path(path)
    try:
        folder, file = path.is_dir(), path.is_file()
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: no such folder or table of places") from error
    if not folder and not file:
        raise InputError(f"{path}: no such folder or table of places")
    found = _of_folder(path) if folder else list(_of_table(path))
    if not found:
        raise InputError(
            f"{path}: no place in it; expected files of daily air, or a table with the columns "
            "name and file"
        )
    return found


def places_of_book(path: str | Path | None = None) -> list[RegionPlace]:
    """Return the beds of a garden book as places."""
    from forecaster.book import beds, open_book  # noqa: PLC0415 - SQLite only where asked

    with open_book(path) as book:
        return [
            RegionPlace(
                order=order, name=f"{bed.place}, {bed.name}", region=bed.place, bed=bed.name,
                book=str(Path(book.path).resolve()),
            )
            for order, bed in enumerate(beds(book))
        ]  # fmt: skip


def table_in(folder: Path) -> Path | None:
    """Return the table of places in a folder, if there is one."""
    return next((folder / name for name in TABLE_NAMES if (folder / name).is_file()), None)


def _of_folder(folder: Path) -> list[RegionPlace]:
    if (table := table_in(folder)) is not None:
        return list(_of_table(table))
    files = sorted(
        one for one in folder.iterdir()
        if not one.name.startswith(".") and (one.is_dir() or _ending(one.name))
    )  # fmt: skip
    return [
        RegionPlace(order=order, name=_stem(one.name), air=str(one.resolve()))
        for order, one in enumerate(files)
    ]


def _ending(name: str) -> str:
    return max((e for e in AIR_ENDINGS if name.lower().endswith(e)), key=len, default="")


def _stem(name: str) -> str:
    return name[: len(name) - len(_ending(name))]


def _of_table(path: Path) -> Iterator[RegionPlace]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise FileError(
            "no table of places", path=path, expected="a CSV file in UTF-8", remedy=str(error)
        ) from error
    columns = _columns(path, rows[0] if rows else [])
    stations = _stations(path.parent) if "station" in columns and "file" not in columns else {}
    order = 0
    for line, row in enumerate(rows[1:], 2):
        cells = {what: row[at].strip() if at < len(row) else "" for what, at in columns.items()}
        if any(cells.values()):
            yield _place(path, line, order, cells, stations)
            order += 1


def _columns(path: Path, heading: Sequence[str]) -> dict[str, int]:
    """Return where each thing stands in a table's rows."""
    told = [cell.strip().lower().replace(" ", "_") for cell in heading]
    columns = {
        what: next(told.index(word) for word in words if word in told)
        for what, words in HEADINGS.items()
        if set(words) & set(told)
    }
    if not columns.keys() & {"file", "station"}:
        raise FileError(
            f"the headings are {', '.join(told)[:200] or 'missing'}",
            path=path, line=1, expected="a table of places: columns name and file, or station",
        )  # fmt: skip
    return columns


def _stations(folder: Path) -> dict[str, str]:
    """Return the files of a folder by their names without ending."""
    with os.scandir(folder) as entries:
        return {_stem(one.name).lower(): one.path for one in entries if _ending(one.name)}


def _place(
    path: Path, line: int, order: int, cells: dict[str, str], stations: dict[str, str]
) -> RegionPlace:
    """Return one row of a table of places."""

    def word(what: str, known: tuple[str, ...]) -> str | None:
        told = cells.get(what, "").lower()
        if told and told not in known:
            raise FileError(
                f"{what} is {told!r}", path=path, line=line, expected=f"one of {', '.join(known)}"
            )
        return told or None

    station = cells.get("station", "")
    file = cells.get("file", "") or stations.get(station.lower(), "")
    name = cells.get("name") or station or _stem(Path(file).name)
    missing = f"no file of station {station!r} beside the table" if station else "no file is named"
    depth = cells.get("depth", "")
    try:
        depth_m = parse_length(depth) if depth else None
    except InputError as error:
        raise FileError(str(error), path=path, line=line) from error
    return RegionPlace(
        order=order,
        name=name,
        air=str((path.parent / file).resolve()) if file else "",
        latitude_deg=_degrees(path, line, cells, "latitude_deg", 90.0),
        longitude_deg=_degrees(path, line, cells, "longitude_deg", 180.0),
        depth_m=depth_m,
        soil=word("soil", get_args(Soil)),  # type: ignore[arg-type]
        cover=word("cover", get_args(Cover)),  # type: ignore[arg-type]
        readings=str((path.parent / cells["readings"]).resolve()) if cells.get("readings") else "",
        region=cells.get("region", ""),
        problem="" if file else missing,
    )


def _degrees(path: Path, line: int, cells: dict[str, str], what: str, most: float) -> float | None:
    told = cells.get(what, "")
    if not told:
        return None
    match = DEGREES.fullmatch(told)
    letters = "NS" if most < 100.0 else "EW"
    letter = match[3].upper() if match else ""
    if not match or abs(float(match[2])) > most or (letter and letter not in letters):
        raise FileError(
            f"{what.removesuffix('_deg')} is {told!r}", path=path, line=line,
            expected=f"degrees from -{most:g} to {most:g}, as -36.2 or 36.2{letters[1]}",
        )  # fmt: skip
    return float(match[2]) * (-1.0 if match[1] == "-" or letter in ("S", "W") else 1.0)
