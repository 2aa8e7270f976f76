"""Which columns of a log are soil temperatures, and of which probe each is."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from forecaster.ground.arrays import Ints
from forecaster.ground.errors import FileError
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.cells import cells_to_celsius, numbers
from forecaster.ingest.text.columns import Meaning
from forecaster.ingest.text.table import Table, no_columns

_MOST_PROBES = 200
_LENGTH = r"[-−]?\d+(?:\.\d+)?\s*(?:cm|mm|in(?:ch(?:es)?)?|\"|ft|m)(?![a-z])"
_BESIDE_AIR = ("humidity", "radiation or light")
"""Measured beside a thermometer these say that it hangs in the air, though not surely."""


def choose(table: Table, notes: list[str]) -> list[int]:
    """Choose the columns of soil temperature: those that say soil, else one that says nothing.

    Raises
    ------
    FileError
        If there is none, or if it cannot be known which.
    """
    soil, unnamed = _sorted(table)
    if soil:
        for k in unnamed:
            table.left[k] = "not said to be of the soil"
        return _without_twins(table, _filled(table, soil))
    chosen = _filled(table, unnamed)
    if not chosen:
        raise _no_soil(table)
    _refuse_weather(table, chosen)
    chosen = _without_twins(table, chosen)
    if len(chosen) > 1 and not _deep(table, chosen):
        raise _which(table, chosen)
    beside = {table.meanings[k].what for k in range(len(table.meanings))} & set(_BESIDE_AIR)
    if beside and not any(m.medium == col.AIR for m in table.meanings):
        notes.append(
            f"{named(table, chosen)} says neither soil nor air, and the logger measures "
            f"{' and '.join(sorted(beside))} beside it: was it in the soil?"
        )
    return chosen


def named(table: Table, places: list[int]) -> str:
    """Return headings for a message, quoted."""
    shown = ", ".join(repr(table.heading(k)) for k in places[:14])
    return shown + (f" and {len(places) - 14} more" if len(places) > 14 else "")


def _sorted(table: Table) -> tuple[list[int], list[int]]:
    """Return the columns that say soil and those that say nothing; say why others are left."""
    soil: list[int] = []
    unnamed: list[int] = []
    for k, meaning in enumerate(table.meanings):
        if meaning.role not in col.TEMPERATURES:
            continue
        if k in table.cells and _is_wordy(table, k):
            table.left[k] = "words, no temperatures"
        elif meaning.medium == col.AIR:
            height = "" if meaning.height_m is None else f" {meaning.height_m:g} m above the ground"
            table.left[k] = f"of the air{height}"
        elif meaning.medium == col.SURFACE:
            table.left[k] = "at the surface, neither soil nor air"
        elif meaning.role in (col.TMAX, col.TMIN):
            table.left[k] = "an extreme, no reading"
        else:
            (soil if meaning.medium == col.SOIL else unnamed).append(k)
    return soil, unnamed


def _is_wordy(table: Table, place: int) -> bool:
    """Whether a column holds words and not one number."""
    cells = numbers(table.cells[place])
    return bool(cells.bad.any() and not np.isfinite(cells.value).any())


def _filled(table: Table, places: list[int]) -> list[int]:
    """Return the columns with a number in them; all where none has one."""
    filled = [k for k in places if np.isfinite(numbers(table.cells[k]).value).any()]
    for k in set(places) - set(filled) if filled else ():
        table.left[k] = "no number in it"
    return filled or places


def _no_soil(table: Table) -> FileError:
    air = [
        k for k, m in enumerate(table.meanings) if table.left.get(k, "").startswith("of the air")
    ]
    error = no_columns(
        table,
        "a soil temperature",
        "Name it as soil_temp_f or soil10_c, or say --column soil10=NAME.",
    )
    if not air:
        return error
    return FileError(
        f"no column understood as a soil temperature; {named(table, air)} "
        f"{'is' if len(air) == 1 else 'are'} of the air",
        path=table.path,
        line=table.dialect.heading_line or None,
        expected="a soil temperature",
        remedy="If one is of the soil, say --column soil10=NAME.",
    )


def _refuse_weather(table: Table, chosen: list[int]) -> None:
    """Refuse a temperature that says neither soil nor air in a table of the weather."""
    if not table.dialect.headings or table.find(col.DEPTH):
        return
    if any(_deep(table, [k]) for k in chosen):
        return
    extremes = bool(table.find(col.TMAX) and table.find(col.TMIN))
    weather = [
        k
        for k, m in enumerate(table.meanings)
        if m.role == col.PRECIP or m.what in ("wind", "pressure", "sunshine or cloud")
    ]
    means = all(table.meanings[k].role == col.TAVG for k in chosen) and not _has_hours(table)
    if extremes or weather or means:
        beside = "beside the day's extremes" if extremes else "as a mean of the day"
        beside = f"beside {named(table, weather[:3])}" if weather and not extremes else beside
        raise FileError(
            f"{named(table, chosen)}, {beside}, is the air's temperature unless it says soil",
            path=table.path,
            line=table.dialect.heading_line or None,
            expected="a soil temperature",
            remedy="If it is of the soil, say --column soil10=NAME.",
        )


def _has_hours(table: Table) -> bool:
    """Whether the first rows tell the time of day, other than midnight."""
    if table.find(col.TIME, col.HOUR):
        return True
    places = table.find(col.DATE)
    cells = [row[k] for row in table.dialect.sample for k in places if k < len(row)]
    times = [match[0] for cell in cells if (match := re.search(r"\d{1,2}:\d\d", cell))]
    stamps = any(len(cell) in (10, 12) and cell.isdecimal() for cell in cells)
    return stamps or any(time.strip("0:") for time in times)


def _which(table: Table, chosen: list[int]) -> FileError:
    return FileError(
        f"{len(chosen)} columns may be the soil temperature: {named(table, chosen)}",
        path=table.path,
        line=table.dialect.heading_line or None,
        expected="one, or a depth in each heading, as soil 4 in (°F)",
        remedy="Say which, and how deep it is in cm: --column soil10=NAME.",
    )


def _deep(table: Table, places: list[int]) -> bool:
    """Whether every column names a depth."""
    return all(
        table.meanings[k].depth_m is not None or table.meanings[k].depth_guess is not None
        for k in places
    )


def _key(meaning: Meaning) -> tuple[float | None, float | None, float | None]:
    return meaning.depth_m, meaning.depth_guess, meaning.hour


def _without_twins(table: Table, chosen: list[int]) -> list[int]:
    """Keep one of the same readings in two units, and of a value and its mean."""
    kept: list[int] = []
    for k in sorted(chosen, key=lambda k: (table.meanings[k].role == col.TAVG, k)):
        meaning = table.meanings[k]
        twin = next(
            (
                o
                for o in kept
                if _key(table.meanings[o]) == _key(meaning)
                and (
                    _same_in_other_unit(table, o, k)
                    or (
                        meaning.role != table.meanings[o].role
                        and _stem(table.heading(o)) == _stem(table.heading(k))
                    )
                )
            ),
            None,
        )
        if twin is None:
            kept.append(k)
        else:
            table.left[k] = f"the same as {table.heading(twin)!r}"
    return sorted(kept)


def _same_in_other_unit(table: Table, one: int, other: int) -> bool:
    """Whether two columns hold the same temperatures, one in °F and one in °C."""
    units = table.meanings[one].unit, table.meanings[other].unit
    if set(units) != {"F", "C"}:
        return False
    a, b = (
        cells_to_celsius(numbers(table.cells[k]), u)
        for k, u in zip((one, other), units, strict=True)
    )
    both = np.isfinite(a) & np.isfinite(b)
    return bool(both.any() and np.abs(a[both] - b[both]).max() < 0.6)


def _stem(heading: str) -> str:
    """Return a heading without its depth, unit and kind: the same for one probe's columns."""
    text = col.normal(heading)
    text = re.sub(
        r"(?<![\d.])[-−]?\d+(?:\.\d+)?\s*(?:cm|mm|in(?:ch(?:es)?)?|\"|ft|m)(?![a-z])", " ", text
    )
    text = re.sub(r"(?<=[a-z])\s*[-−]?\d{1,3}(?!\d)", " ", text, count=1)
    text = re.sub(r"\b(?:avg|mean|average|c|f|degc|degf)\b|[°()\[\],]", " ", text)
    return " ".join(text.split())


def probes_of_columns(table: Table, chosen: list[int]) -> dict[int, str]:
    """Name the probe of each column; "" for all where they are one probe's depths."""
    if _are_one(table, chosen):
        return dict.fromkeys(chosen, "")
    groups: dict[str, list[int]] = {}
    for k in chosen:
        groups.setdefault(_stem(table.heading(k)), []).append(k)
    found: dict[int, str] = {}
    for stem, places in groups.items():
        for k in places:
            found[k] = stem if len(places) > 1 and _are_one(table, places) else _label(table, k)
    return found


def _are_one(table: Table, places: list[int]) -> bool:
    keys = [_key(table.meanings[k]) for k in places]
    known = all(key[:2] != (None, None) for key in keys)
    return len(places) == 1 or (known and len(set(keys)) == len(keys))


def _label(table: Table, place: int) -> str:
    """Return a short name of the probe in one column."""
    heading = table.heading(place)
    if port := re.match(r"\W*(port\s*\d+)\b", heading, re.IGNORECASE):
        return " ".join(port[1].split())
    if label := re.search(r"\bLBL:\s*([^,)]+)", heading):
        return label[1].strip()
    return " ".join(heading.split())


def probes_of_rows(table: Table) -> tuple[Ints, list[str]] | None:
    """Tell rows apart by columns of stations, plots, beds or probes; None where there is one."""
    places = [
        k
        for k, m in enumerate(table.meanings)
        if m.role in (col.STATION, col.NAME, col.PROBE) and k in table.cells
    ]
    kept: list[tuple[Ints, list[str]]] = []
    for k in places:
        codes, unique = pd.factorize(table.texts(k))
        names = [str(u) for u in unique]
        if not 1 < len(names) <= min(_MOST_PROBES, max(2, len(codes) // 2)):
            continue
        if any(len(set(zip(codes, other, strict=True))) == len(names) for other, _ in kept):
            table.left[k] = "another name of the same"
            continue
        kept.append((codes.astype(np.int64), names))
        table.taken[k] = "name of the probe"
    if not kept:
        return None
    codes, names = kept[0]
    for more, others in kept[1:]:
        both, pairs = pd.factorize(codes * len(others) + more)
        names = [f"{names[p // len(others)]} {others[p % len(others)]}".strip() for p in pairs]
        codes = both.astype(np.int64)
    return codes, [name or "unnamed" for name in names]
