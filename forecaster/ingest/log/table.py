"""Thermometer logs in columns: which columns are soil, in which unit, at which depth."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.ground.errors import InputError
from forecaster.ground.plural import counted
from forecaster.ground.units import METRES_PER_INCH, parse_length
from forecaster.ingest.air import uscrn
from forecaster.ingest.checks import scale
from forecaster.ingest.log.choice import choose, named, probes_of_columns, probes_of_rows
from forecaster.ingest.log.part import ReadingPart, instants
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.cells import (
    Numbers,
    cells_to_celsius,
    numbers,
)
from forecaster.ingest.text.columns import LEAST_BARE_DEPTH, Meaning
from forecaster.ingest.text.dialect import Dialect
from forecaster.ingest.text.settle import settle
from forecaster.ingest.text.table import Table, read_table, with_unit_column
from forecaster.ingest.text.times import DATE_ROLES, HOUR_NS, When, read_when
from forecaster.ingest.text.told import NOTHING_TOLD, Told

_LENGTHS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": METRES_PER_INCH, "ft": 0.3048}
_ROLES = (
    *DATE_ROLES, col.UNIT, col.TEMP, col.TAVG, col.DEPTH, col.STATION, col.NAME, col.PROBE,
)  # fmt: skip
_REGULAR_ROWS, _REGULAR_SHARE = 90, 0.98


def fits_columns(dialect: Dialect) -> bool:
    """Whether a text without a heading is plainly a date, a time, one number and a depth."""
    if len({len(row) for row in dialect.sample}) != 1:
        return False
    meanings = settle(dialect)[1]
    if any(m.medium == col.SOIL or m.what for m in meanings):
        meanings = [m for m in meanings if not m.what and m.medium != col.SURFACE]
    roles = [m.role for m in meanings]
    return roles.count(col.TEMP) == 1 and col.DATE in roles and col.OTHER not in roles


def table_part(
    source: Source,
    dialect: Dialect,
    letter: str | None,
    *,
    day_first: bool | None,
    year: int | None,
    told: Told = NOTHING_TOLD,
) -> ReadingPart:
    """Read a table of soil temperatures."""
    table = read_table(source, _wanted, dialect=dialect, told=told)
    notes: list[str] = []
    chosen = choose(table, notes)
    when = read_when(table, day_first=day_first, year=year)
    notes += when.notes
    cells = {k: with_unit_column(table, numbers(table.cells[k])) for k in chosen}
    units, said, why = _units(table, chosen, cells, letter)
    depths = _depths(table, chosen, units, notes)
    only_dates = _only_dates(when)
    time = instants(when.day, when.nanosecond, when.offset_min, notes)
    _count_cells(table, cells, notes)
    dated = table.tally.live
    regular = only_dates and _is_regular(table, when, cells)
    pieces, whose = [], []
    names: list[str] = []
    of_column, of_row = probes_of_columns(table, chosen), probes_of_rows(table)
    for k in chosen:
        value = cells_to_celsius(cells[k], units[k])
        there = np.flatnonzero(np.isfinite(value) & dated)
        hour = table.meanings[k].hour
        daily = np.full(len(there), _is_day(table, k, only_dates, regular))
        timed = np.full(len(there), fill_value=hour is not None)
        known = timed if only_dates else when.nanosecond[there] >= 0
        shift = int(hour * HOUR_NS) if hour is not None and only_dates else 0
        whose.append(_whose(there, of_column[k], of_row, names))
        table.taken[k] = _said(table, k, depths[k], units[k], of_column[k])
        pieces.append((there, time[there] + shift, value[there], depths[k][there], known & ~daily,
                       daily))  # fmt: skip
    row, times, values, depth, known, is_day = (
        np.concatenate(p) for p in zip(*pieces, strict=True)
    )
    if regular and is_day.any() and not _says_day(table, chosen):
        notes.append(
            "One value a day, day after day, with decimals: taken as daily means of a logger."
        )
    if any(m.what == "time zone" for m in table.meanings) and not table.dialect.headings:
        notes.append("Times of such a record are UTC and were left so; its time zone was not used.")
    if len(chosen) > 1:
        notes.append(f"{len(chosen)} columns hold readings: {named(table, chosen)}.")
    return ReadingPart(
        tally=table.tally,
        row=row,
        time=times,
        value=values,
        depth_m=depth,
        hour_known=known,
        is_day=is_day,
        format="thermometer log in columns",
        why_format=_why(table),
        units=said,
        why_units=why,
        notes=notes,
        columns=table.uses(),
        probe=np.concatenate(whose) if len(names) > 1 else None,
        probes=names if len(names) > 1 else [],
    )


def _wanted(_place: int, meaning: Meaning) -> bool:
    if meaning.role in (col.TMAX, col.TMIN) or meaning.medium in (col.AIR, col.SURFACE):
        return False
    return meaning.role in _ROLES


def _whose(
    rows: Ints, column: str, of_row: tuple[Ints, list[str]] | None, names: list[str]
) -> Ints:
    """Return which probe each reading of a column is of, as places in `names`."""
    if of_row is None:
        labels = [column]
        codes = np.zeros(len(rows), dtype=np.int64)
    else:
        labels = [f"{name} {column}".strip() for name in of_row[1]]
        codes = of_row[0][rows]
    names += [label for label in labels if label not in names]
    where: Ints = np.array([names.index(label) for label in labels], dtype=np.int64)
    return where[codes]


def _said(table: Table, place: int, depth_m: Floats, unit: str, probe: str) -> str:
    """Say what a column was taken as."""
    known = np.unique(depth_m[np.isfinite(depth_m)])
    at = f" at {known[0] * 100:.3g} cm" if len(known) == 1 else ""
    at = " at the depths of another column" if len(known) > 1 else at
    kind = "soil temperature" if table.meanings[place].medium == col.SOIL else "temperature"
    of = f", probe {probe!r}" if probe else ""
    return f"{kind}{at}, {scale.NAMES[unit]}{of}"


def _why(table: Table) -> str:
    line = table.dialect.heading_line
    if not line:
        return f"a date and a number a line, no heading; {table.dialect.describe()}"
    shown = ", ".join(table.dialect.headings)[:100]
    return f"heading on line {line}: {shown}; {table.dialect.describe()}"


def _units(
    table: Table, chosen: list[int], cells: dict[int, Numbers], letter: str | None
) -> tuple[dict[int, str], str, str]:
    """Decide each column's unit: option, heading, cells, values."""
    named = {k: table.meanings[k].unit for k in chosen}
    bare = {k: c.value if c.units is None else c.value[c.units == ""] for k, c in cells.items()}
    written = {
        str(u) for c in cells.values() if c.units is not None for u in np.unique(c.units)
    } - {""}
    if letter:
        units = dict.fromkeys(chosen, letter)
        other = {u for u in named.values() if u and u != letter}
        why = "as asked" + (f", though the heading says {'/'.join(sorted(other))}" if other else "")
    elif all(named.values()):
        units, why = named, "the heading says so"
    elif all(not np.isfinite(bare[k]).any() for k in chosen if not named[k]):
        usual = "F" if written == {"F"} else "C"
        units, why = {k: u or usual for k, u in named.items()}, "written in the cells"
    else:
        known = {u for u in named.values() if u}
        if len(known) == 1:
            found, why = known.pop(), "the heading of another column says so"
        else:
            pooled = np.concatenate([bare[k] for k in chosen if not named[k]])
            metric = table.dialect.decimal == "," or scale.is_metric(table.dialect.headings)
            found, why = scale.soil_unit(table.path, pooled, metric=metric)
        units = {k: u or found for k, u in named.items()}
    said = written | {units[k] for k in chosen if np.isfinite(bare[k]).any()}
    return units, " and ".join(scale.NAMES[u] for u in sorted(said)) or "°C", why


def _depths(
    table: Table, chosen: list[int], units: dict[int, str], notes: list[str]
) -> dict[int, Floats]:
    """Return each reading's depth in metres: from the heading, or from a depth column."""
    n = len(table.tally.lines)
    found: dict[int, Floats] = {}
    guessed = set()
    largest = max(table.meanings[k].depth_guess or 0.0 for k in chosen)
    for k in chosen:
        meaning = table.meanings[k]
        depth = meaning.depth_m
        if depth is None and meaning.depth_guess is not None and largest >= LEAST_BARE_DEPTH:
            name = "in" if units[k] == "F" else "cm"
            guessed.add(name)
            depth = meaning.depth_guess * _LENGTHS[name]
        found[k] = np.full(n, np.nan if depth is None else depth)
    if guessed:
        taken = " or ".join(sorted(guessed))
        notes.append(
            f"Depths in the headings have no unit and were taken as {taken}, "
            "to go with the temperatures (common practice, no source)."
        )
    places = table.find(col.DEPTH)
    if places and (places[0] in table.cells):
        table.taken[places[0]] = "depth of each reading"
    if places and any(np.isnan(found[k]).all() for k in chosen):
        by_row = _depth_column(table, places[0], units[chosen[0]], notes)
        for k in chosen:
            found[k] = np.where(np.isnan(found[k]), by_row, found[k])
    return found


def _depth_column(table: Table, place: int, unit: str, notes: list[str]) -> Floats:
    """Read a column of depths, with the unit in the heading, in the cells, or guessed."""
    codes, unique = pd.factorize(table.texts(place))
    named = table.meanings[place].unit
    values = [_depth(str(u), named) for u in unique]
    depth = np.array([v[0] for v in values] + [np.nan])
    bare = [v[0] for v in values if not v[1] and np.isfinite(v[0])]
    if bare and not named:
        name = "m" if max(bare) <= 1.0 else "in" if unit == "F" else "cm"
        factors = np.array([1.0 if v[1] else _LENGTHS[name] for v in values] + [1.0])
        depth = depth * factors
        notes.append(f"Depths have no unit and were taken as {name} (common practice, no source).")
    depth[(depth > 5.0) | (depth < 0.0)] = np.nan
    return depth[codes]


def _depth(text: str, named: str) -> tuple[float, bool]:
    """Return a depth and whether it is in metres already (else a bare number)."""
    text = text.strip().lstrip("-−").replace(",", ".").lower()
    if re.fullmatch(r"\d+(\.\d+)?", text):
        return float(text) * _LENGTHS.get(named, 1.0), bool(named)
    try:
        return parse_length(text), True
    except InputError:
        return np.nan, True


def _only_dates(when: When) -> bool:
    """Whether no hour is known: none written, or midnight on every row, once a day."""
    timed = when.nanosecond[~np.isnat(when.day)]
    if (timed < 0).all():
        return True
    return bool((timed <= 0).all() and len(np.unique(when.day)) == len(when.day) > 1)


def _is_regular(table: Table, when: When, cells: dict[int, Numbers]) -> bool:
    """Whether dates follow one another as only a logger keeps them, with decimals."""
    day = when.day[table.tally.live].astype("M8[D]").astype(np.int64)
    if len(day) < _REGULAR_ROWS or float((np.diff(day) == 1).mean()) < _REGULAR_SHARE:
        return False
    value = np.concatenate([c.value[np.isfinite(c.value)] for c in cells.values()])
    return bool(len(value) and (value != np.round(value)).mean() > 0.5)


def _is_day(table: Table, place: int, only_dates: bool, regular: bool) -> bool:
    """Whether a column holds means of calendar days."""
    meaning = table.meanings[place]
    if not only_dates or meaning.hour is not None:
        return False
    return regular or _says_day(table, [place])


def _says_day(table: Table, places: list[int]) -> bool:
    """Whether the headings say that values are of whole days."""
    extremes = bool(table.find(col.TMAX) and table.find(col.TMIN))
    named = (table.meanings[k].daily_mean or table.meanings[k].role == col.TAVG for k in places)
    return extremes or any(named)


def _count_cells(table: Table, cells: dict[int, Numbers], notes: list[str]) -> None:
    """Refuse rows without any number; say how many cells were unreadable or coded missing."""
    nothing: Bools = ~np.any([np.isfinite(c.value) for c in cells.values()], axis=0)
    if nothing.any():
        for k, c in cells.items():
            if c.bad.any():
                table.tally.refuse(c.bad & nothing, "not a number", table.texts(k))
            table.tally.refuse(c.coded & nothing, "a code for missing", None)
    bad = sum(int(c.bad.sum()) for c in cells.values())
    if bad:
        notes.append(f"{counted(bad, 'cell')} held no number and stayed empty.")


def network_part(sources: list[Source]) -> ReadingPart:
    """Read the daily soil temperatures of one station's USCRN daily01 files."""
    fields = sorted(uscrn.SOIL_DEPTHS_M)
    frame, tally = uscrn.read_fields(sources, [0, 1, 3, 4, *fields])
    day = uscrn.dates_of(frame, tally)
    station, latitude, longitude = uscrn.station_of(sources, frame)
    rows: list[Ints] = []
    values, depths = [], []
    for field in fields:
        value = uscrn.value_of(frame, field)
        there = np.flatnonzero(np.isfinite(value) & ~np.isnat(day))
        rows.append(there)
        values.append(value[there])
        depths.append(np.full(len(there), uscrn.SOIL_DEPTHS_M[field]))
    row = np.concatenate(rows)
    n = len(row)
    return ReadingPart(
        tally=tally,
        row=row,
        time=day[row].astype("M8[ns]").view(np.int64),
        value=np.concatenate(values),
        depth_m=np.concatenate(depths),
        hour_known=np.zeros(n, dtype=np.bool_),
        is_day=np.ones(n, dtype=np.bool_),
        format="USCRN daily01 text",
        why_format=uscrn.WHY,
        units="°C",
        why_units="the format fixes it",
        notes=[],
        latitude_deg=latitude,
        longitude_deg=longitude,
        station=station,
    )
