"""The crops: packaged tables with the user's own rows laid over them."""

from __future__ import annotations

import csv
import difflib
import math
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, get_args

from forecaster.ground.errors import FileError, InputError
from forecaster.ground.given import one
from forecaster.ground.units import METRES_PER_INCH, f_to_c
from forecaster.packaged import Value, load_csv, load_values
from forecaster.rules.crops import (
    Crop,
    CropClass,
    CropThreshold,
    Figure,
    Hardiness,
    HardinessClaim,
    Measured,
    Role,
    Use,
)
from forecaster.rules.emergence import Emergence

Row = Mapping[str, str]
Made = TypeVar("Made")

OWN_NEEDED = ("crop", "role", "value_f")
OWN_ALLOWED = (
    *OWN_NEEDED, "use", "season", "depth", "measured", "basis", "source", "crop_class",
)  # fmt: skip
CLASSES = get_args(CropClass)
OWN_FIELDS = ("weeks_to_set_out", "days_to_maturity", "spacing_m", "sowing_depth_m")
"""Figures that every reader of crops asks for have a field of their own."""


def defaults() -> Mapping[str, Value]:
    """Return what crop windows take for granted, by name."""
    return load_values("crop_defaults.csv")


@cache
def hardiness_classes() -> Mapping[str, Hardiness]:
    """Return the hardiness classes by name, hardiest first, temperatures in °C."""
    return {
        row["hardiness"]: Hardiness(
            name=row["hardiness"],
            weeks_low=float(row["weeks_low"]),
            weeks_high=float(row["weeks_high"]),
            weeks_basis=row["weeks_basis"],
            weeks_source=row["weeks_source"],
            damaging_c=f_to_c(float(row["damaging_f"])),
            damaging_basis=row["damaging_basis"],
            damaging_source=row["damaging_source"],
        )
        for row in load_csv("hardiness.csv")
    }


def known_crops(crop_class: str | None = None, own: str | Path | None = None) -> dict[str, Crop]:
    """Return the crops by name, temperatures in °C and lengths in m.

    Parameters
    ----------
    crop_class : str, optional
        ``cool`` or ``warm``: only these.
    own : path, optional
        A CSV of the user's own thresholds with the columns of ``data/crop_thresholds.csv``:
        ``crop``, ``role`` and ``value_f`` are needed. They come before the packaged figures.
        A crop that is not known needs ``crop_class`` too.

    Raises
    ------
    InputError
        If there is no such class.
    FileError
        If the user's file is not such a table, with its line.
    """
    if crop_class is not None and crop_class not in CLASSES:
        raise InputError(
            f"crop class {crop_class!r} is not known; expected one of {', '.join(CLASSES)}"
        )
    if own is not None:
        one("own", own, (str, Path), "the path of a CSV file")
    crops = _packaged() if own is None else _laid_over(_packaged(), Path(own))
    return {name: crop for name, crop in crops.items() if crop_class in (None, crop.crop_class)}


def find_crop(name: str, crops: Mapping[str, Crop] | None = None) -> Crop:
    """Return a crop by its name, one of its other names, or a plural of them.

    Parameters
    ----------
    name : str
        Capitals and hyphens do not matter.
    crops : mapping, optional
        Where to look; by default the packaged crops.

    Returns
    -------
    Crop
        Temperatures in °C, lengths in m.

    Raises
    ------
    InputError
        If it is not known, with the names that come near.
    """
    one("name", name, str, "a crop's name")
    among = known_crops() if crops is None else one("crops", crops, Mapping, "crops by name")
    names = {each: crop for crop in among.values() for each in (crop.name, *crop.also)}
    asked = " ".join(name.casefold().replace("-", " ").replace("_", " ").split())
    singular = asked.removesuffix("s")
    for tried in (asked, singular, asked.removesuffix("es"), singular.removesuffix("ie") + "y"):
        if tried in names:
            return names[tried]
    near = [n for n in names if asked and asked in n] + difflib.get_close_matches(asked, names)
    near = list(dict.fromkeys(near))[:4]
    hint = f"did you mean {', '.join(near)}?" if near else "crossday crops lists those that are"
    raise InputError(f"crop {name!r} is not known; {hint}")


@cache
def _packaged() -> Mapping[str, Crop]:
    """Return the packaged crops, put together from their tables."""
    thresholds = _grouped("crop_thresholds.csv", threshold_of)
    classes = hardiness_classes()
    hardiness = _grouped(
        "crop_hardiness.csv",
        lambda row: HardinessClaim(classes[row["hardiness"]], row["basis"], row["source"]),
    )
    figures = _grouped("crop_numbers.csv", _figure)
    emergence = _grouped("emergence.csv", emergence_of)
    germination = _grouped("emergence_share.csv", _germination)
    crops = {}
    for row in load_csv("crops.csv"):
        name = row["crop"]
        spans: dict[str, list[Figure]] = defaultdict(list)
        for field, figure in figures.get(name, ()):
            spans[field].append(figure)
        own = {field: tuple(spans.pop(field, ())) for field in OWN_FIELDS}
        crops[name] = Crop(
            name=name,
            label=row["label"],
            crop_class=row["crop_class"],  # type: ignore[arg-type]
            kind=row["kind"],
            usual_use=row["usual_use"],  # type: ignore[arg-type]
            also=tuple(row["also"].split(";")) if row["also"] else (),
            thresholds=tuple(thresholds.get(name, ())),
            hardiness=tuple(hardiness.get(name, ())),
            emergence=next(iter(emergence.get(name, ())), None),
            germination=next(iter(germination.get(name, ())), ()),
            life=row["life"],
            heat=row["heat"],
            figures={field: tuple(found) for field, found in spans.items()},
            **own,
        )
    return crops


def threshold_of(row: Row) -> CropThreshold:
    """Return a row of the threshold table, °F in the file, °C inside."""
    for key, allowed in (("role", Role), ("use", Use), ("measured", Measured)):
        if row[key] not in get_args(allowed):
            raise InputError(
                f"{key} is {row[key]!r}; expected one of {', '.join(get_args(allowed))}"
            )
    if row["season"] not in ("autumn", "spring", "any"):
        raise InputError(f"season is {row['season']!r}; expected autumn, spring or any")
    try:
        value_c = f_to_c(float(row["value_f"]))
    except ValueError:
        value_c = math.nan
    if not math.isfinite(value_c):
        raise InputError(f"value_f is {row['value_f']!r}; expected a number of °F")
    return CropThreshold(
        role=row["role"],  # type: ignore[arg-type]
        value_c=value_c,
        use=row["use"],  # type: ignore[arg-type]
        season=row["season"],  # type: ignore[arg-type]
        depth=row["depth"],
        measured=row["measured"],  # type: ignore[arg-type]
        basis=row["basis"],
        source=row["source"],
    )


def emergence_of(row: Row) -> Emergence:
    """Return a row of the table of days to emergence: N none came up, – not tried."""
    words = {"N": math.inf, "–": math.nan}
    heads = [key for key in row if key.startswith("f") and key[1:].isdigit()]
    return Emergence(
        tuple(f_to_c(float(head[1:])) for head in heads),
        tuple(words[row[head]] if row[head] in words else float(row[head]) for head in heads),
        float(row["depth_in"]) * METRES_PER_INCH,
        row["basis"],
        row["source"],
    )


def _figure(row: Row) -> tuple[str, Figure]:
    """Return a row of the table of numbers with its name, °F and inches made °C and m."""
    what, low, high = row["what"], float(row["low"]), float(row["high"])
    if what.endswith("_f"):
        what, low, high = f"{what[:-2]}_c", f_to_c(low), f_to_c(high)
    elif what.endswith("_in"):
        what, low, high = f"{what[:-3]}_m", low * METRES_PER_INCH, high * METRES_PER_INCH
    return what, Figure(low, high, row["basis"], row["source"])


def _germination(row: Row) -> tuple[tuple[float, float], ...]:
    """Return a row of the table of seedlings: soil in °C and the share that came up."""
    heads = [key for key in row if key.startswith("f") and key[1:].isdigit()]
    return tuple(
        (f_to_c(float(head[1:])), float(row[head]) / 100.0) for head in heads if row[head] != "–"
    )


def _grouped(name: str, make: Callable[[Row], Made]) -> dict[str, list[Made]]:
    """Return the rows of a packaged table by crop."""
    found: dict[str, list[Made]] = defaultdict(list)
    for row in load_csv(name):
        found[row["crop"]].append(make(row))
    return found


def _laid_over(crops: Mapping[str, Crop], path: Path) -> dict[str, Crop]:
    """Return the crops with the rows of a file of the user's own in front."""
    result = dict(crops)
    for line, row in _own_rows(path):
        try:
            crop = _own_crop(row, result)
            whole: dict[str, Any] = {
                "use": "both", "season": "any", "depth": "", "measured": "unsaid",
                "source": "your own file", **{k: v for k, v in row.items() if v},
            }  # fmt: skip
            own = replace(threshold_of({**whole, "basis": "yours"}), basis="yours")
        except FileError:
            raise
        except InputError as error:
            raise FileError(str(error), path=path, line=line) from error
        result[crop.name] = replace(crop, thresholds=(own, *crop.thresholds))
    return result


def _own_crop(row: Row, crops: Mapping[str, Crop]) -> Crop:
    """Return the crop that a row of the user's own is about; a new one if it says its class."""
    name = row["crop"].strip().casefold()
    crop_class = row.get("crop_class", "").strip()
    try:
        return find_crop(name, crops)
    except InputError:
        if crop_class not in CLASSES:
            raise
    return Crop(
        name=name,
        label=name.capitalize(),
        crop_class=crop_class,  # type: ignore[arg-type]
        kind="yours",
        usual_use="transplant",
    )


def _own_text(path: Path) -> str:
    """Return the text of the user's file."""
    try:
        whole = path.is_file() or not path.exists()
        if whole:
            return path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "not UTF-8 text, or no name of a file"
        raise FileError(f"cannot be read: {why}", path=path) from error
    raise FileError("this is not a regular file", path=path, expected="a table")


def _own_rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    """Return the rows of the user's file with their line numbers."""
    text = _own_text(path)
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.startswith("#")
    ]
    try:
        rows = [(number, next(csv.reader([line]))) for number, line in lines]
    except csv.Error as error:
        raise FileError(f"no table with cells parted by commas: {error}", path=path) from error
    head = [cell.strip() for cell in rows[0][1]] if rows else []
    missing = [key for key in OWN_NEEDED if key not in head]
    unknown = [key for key in head if key not in OWN_ALLOWED]
    if missing or unknown:
        wrong = f"no column {missing[0]}" if missing else f"a column {unknown[0]!r}"
        raise FileError(wrong, path=path, line=1, expected=", ".join(OWN_ALLOWED))
    found = []
    for number, cells in rows[1:]:
        if len(cells) != len(head):
            raise FileError(f"{len(cells)} cells", path=path, line=number, expected=f"{len(head)}")
        found.append((number, dict(zip(head, (c.strip() for c in cells), strict=True))))
    return found
