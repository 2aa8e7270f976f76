"""Any table with a date and a maximum and minimum, or a mean, a row a day."""

from __future__ import annotations

import numpy as np
import pandas as pd

from forecaster.ground.arrays import Bools, Days, Floats
from forecaster.ground.errors import FileError
from forecaster.ground.plural import counted
from forecaster.ingest.air import daily, ghcn
from forecaster.ingest.air.choice import ROLE_OF, choose, has_attributes, unit_of
from forecaster.ingest.air.daily import Part, flatten
from forecaster.ingest.air.hours import Timed, are_hours, of_days
from forecaster.ingest.air.position import place_above
from forecaster.ingest.checks import scale
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.cells import (
    MISSING_CODES,
    MISSING_TENTHS,
    Numbers,
    cells_to_celsius,
    numbers,
)
from forecaster.ingest.text.columns import Meaning
from forecaster.ingest.text.table import Table, read_table, with_unit_column
from forecaster.ingest.text.times import DATE_ROLES, HOUR_NS, When, read_when
from forecaster.ingest.text.told import NOTHING_TOLD, Told

_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "T": 0.1}
_RAIN_NAMES = {"mm": "mm", "cm": "cm", "in": "inches", "T": "tenths of mm"}
_MOSTLY, _SLACK_C, _ENOUGH_DAYS = 0.95, 0.06, 30
_ENOUGH_ROWS, _SPARSE_DAYS = 20, 6.5
_WET_DAY_IN = 2.0
"""No place has a median wet day of 2 inches; such values are millimetres."""
_STATION_ROLES = (col.LATITUDE, col.LONGITUDE, col.STATION, col.NAME)


def table_part(
    source: Source,
    obs_hour: int | None,
    letter: str | None,
    day_first: bool | None,
    told: Told = NOTHING_TOLD,
) -> Part:
    """Read one table."""
    table = read_table(source, _wanted, told=told)
    where = choose(table)
    when = read_when(table, day_first=day_first, daily=True)
    cells = {k: numbers(table.cells[place], ()) for k, place in where.items()}
    cells |= {k: with_unit_column(table, cells[k]) for k in ROLE_OF if k in cells}
    unit, why = unit_of(table, cells, where, when.day, letter)
    notes = when.notes
    values = _values(table, where, cells, letter, unit)
    hour = _flags(table, where, values, notes)
    _count_cells(table, where, cells, values, notes)
    rain, why_rain = _rain(table, where, values, unit, letter)
    day = np.where(table.tally.live, when.day, np.datetime64("NaT"))
    timed = Timed(day, when.nanosecond)
    by_hours = are_hours(timed) and any(np.isfinite(v).any() for v in values.values())
    stands_on = None
    if by_hours:
        values, stands_on = of_days(timed, values, table.tally, notes)
        when.nanosecond = np.full(len(day), -1, dtype=np.int64)
    else:
        _check_mean(table, where, values, notes)
    shift, shift_note = ghcn.shifts(_own_hour(table, when, hour), obs_hour)
    row, days, element, value = flatten(day, values)
    _refuse_sparse(days, source.path)
    looks, looks_why = _kind(table, by_hours=by_hours)
    latitude, longitude, station = _place(table)
    notes += _observer(table, values, unit, shift_note)
    return Part(
        tally=table.tally,
        row=row,
        day=days,
        element=element,
        value=value,
        shift=shift,
        format=looks,
        why_format=f"{looks_why}; {table.dialect.describe()}",
        units=scale.NAMES[unit] + (f", {rain}" if rain else ""),
        why_units="; ".join(w for w in (why, why_rain) if w),
        notes=notes,
        latitude_deg=latitude,
        longitude_deg=longitude,
        station=station,
        shift_note=shift_note,
        columns=table.uses(),
        stands_on=stands_on,
    )


def _wanted(_place: int, meaning: Meaning) -> bool:
    """Whether a column is needed: dates, temperatures, rain, place and flags."""
    return meaning.role in (*DATE_ROLES, *ROLE_OF.values(), col.TEMP, col.PRECIP, *_STATION_ROLES,
                            col.FLAGS, col.UNIT)  # fmt: skip


def _values(
    table: Table, where: dict[int, int], cells: dict[int, Numbers], asked: str | None, unit: str
) -> dict[int, Floats]:
    """Return the values of each element in °C, precipitation still as written."""
    codes = MISSING_TENTHS if unit == "T" else MISSING_CODES
    values: dict[int, Floats] = {}
    for element, place in where.items():
        column = cells[element]
        coded = np.isin(column.value, codes)
        column.coded |= coded
        column.value[coded] = np.nan
        if element == daily.PRECIP:
            values[element] = column.value
            trace = table.texts(place) == "T" if column.bad.any() else column.bad
            values[element][trace] = 0.0
            column.bad = column.bad & ~trace
        else:
            own = asked or table.meanings[place].unit
            values[element] = cells_to_celsius(column, own or unit)
    return values


def _flags(
    table: Table, where: dict[int, int], values: dict[int, Floats], notes: list[str]
) -> Floats:
    """Drop values whose quality flag is set; return the hour of observation."""
    hour = np.full(len(table.tally.lines), np.nan)
    names = {h.upper(): k for k, h in enumerate(table.dialect.headings)}
    flagged: Bools = np.zeros(len(hour), dtype=np.bool_)
    count = 0
    for element, place in where.items():
        beside = names.get(f"{table.heading(place).upper()}_ATTRIBUTES")
        if beside is None or beside not in table.cells:
            continue
        flag, own = ghcn.attributes(table.texts(beside))
        bad = ghcn.flagged(flag) & np.isfinite(values[element])
        values[element][bad] = np.nan
        count += int(bad.sum())
        flagged |= bad
        if element == daily.TMAX:
            hour = own
    if count:
        notes.append(f"{counted(count, 'value')} failed a quality check of the source: dropped.")
        nothing = ~np.any([np.isfinite(v) for v in values.values()], axis=0)
        table.tally.refuse(flagged & nothing, "quality flag")
    return hour


def _count_cells(
    table: Table,
    where: dict[int, int],
    cells: dict[int, Numbers],
    values: dict[int, Floats],
    notes: list[str],
) -> None:
    """Refuse rows with nothing but unreadable cells; say how many cells were unreadable."""
    nothing = ~np.any([np.isfinite(v) for v in values.values()], axis=0)
    coded = sum(int(c.coded.sum()) for c in cells.values())
    bad = sum(int(c.bad.sum()) for c in cells.values())
    for element, column in cells.items():
        if column.bad.any():
            table.tally.refuse(column.bad & nothing, "not a number", table.texts(where[element]))
    if coded:
        notes.append(f"{counted(coded, 'cell')} held a code for missing, as -9999.")
    if bad:
        notes.append(f"{counted(bad, 'cell')} held no number and stayed empty.")


def _rain(
    table: Table, where: dict[int, int], values: dict[int, Floats], unit: str, letter: str | None
) -> tuple[str, str]:
    """Bring precipitation to millimetres; return its unit and why."""
    if daily.PRECIP not in where:
        return "", ""
    named = table.meanings[where[daily.PRECIP]].unit
    found, why = named, "" if named else "no unit for rain: taken to go with the temperatures"
    if not named:
        found = {"F": "in", "T": "T"}.get(unit, "mm")
        wet = values[daily.PRECIP][values[daily.PRECIP] > 0]
        if found == "in" and len(wet) > 10 and float(np.median(wet)) > _WET_DAY_IN:
            found, why = "mm", "no place has such rain in inches"
        if unit == "T" and letter == "T" and len(wet) and bool((wet != np.round(wet)).any()):
            found, why = "mm", "rain with decimals is not in tenths"
    values[daily.PRECIP] = values[daily.PRECIP] * _MM[found]
    return f"rain in {_RAIN_NAMES[found]}", why


def _check_mean(
    table: Table, where: dict[int, int], values: dict[int, Floats], notes: list[str]
) -> None:
    """Leave out a mean that is none: outside the extremes, or the middle between them."""
    if not {daily.TMIN, daily.TMAX, daily.TAVG} <= set(values):
        return
    low, high, mean = (values[k] for k in (daily.TMIN, daily.TMAX, daily.TAVG))
    there = np.isfinite(low) & np.isfinite(high) & np.isfinite(mean) & (low <= high)
    if not there.any():
        return
    low, high, mean = low[there], high[there], mean[there]
    between = (mean >= low - _SLACK_C) & (mean <= high + _SLACK_C)
    middle = np.abs(mean - (low + high) / 2) <= _SLACK_C
    name = repr(table.heading(where[daily.TAVG]))
    if between.mean() < _MOSTLY:
        why = f"not between minimum and maximum on {int((~between).sum())} of {len(mean)} days"
    elif len(mean) >= _ENOUGH_DAYS and middle.mean() > _MOSTLY:
        why = "the middle of minimum and maximum, no mean of the day"
    elif table.meanings[where[daily.TAVG]].role == col.TEMP and not _is_mean(low, high, mean):
        why = "does not say mean, and is read at an hour of the day"
    else:
        return
    notes.append(f"{name} was left out: {why}.")
    table.taken.pop(where[daily.TAVG], None)
    table.left[where[daily.TAVG]] = why
    del values[daily.TAVG]


def _refuse_sparse(days: Days, path: str) -> None:
    """Refuse an even table a row a week or a month: its values are not those of days."""
    known = np.unique(days[~np.isnat(days)])
    if len(known) < _ENOUGH_ROWS:
        return
    apart = np.diff(known).astype(np.int64)
    short, usual, long = (float(q) for q in np.quantile(apart, [0.1, 0.5, 0.9]))
    if short >= _SPARSE_DAYS and long <= 1.3 * short:
        raise FileError(
            f"rows {usual:g} days apart",
            path=path,
            expected="a row a day, or several",
            remedy="Values of a week or a month do not tell its days: give the daily record.",
        )


def _is_mean(low: Floats, high: Floats, value: Floats) -> bool:
    """Whether values lie between minimum and maximum as means do, not as readings at an hour.

    On 70 public stations the true mean lies at 0.42 to 0.55 of the range in the median, with a
    standard deviation of at most 0.10; a reading in the morning at 0.32 ± 0.17.
    """
    wide = high - low > 1.0
    if np.count_nonzero(wide) < _ENOUGH_DAYS:
        return False
    share = (value[wide] - low[wide]) / (high[wide] - low[wide])
    return 0.38 <= float(np.median(share)) <= 0.62 and float(share.std()) <= 0.14


def _own_hour(table: Table, when: When, attribute_hour: Floats) -> Floats:
    """Return the file's own hour of observation: from its flags, or from a column of times."""
    if np.isfinite(attribute_hour).any():
        return attribute_hour
    if table.find(col.TIME, col.HOUR) and table.find(col.DATE, col.YEAR):
        return np.where(when.nanosecond > 0, when.nanosecond / HOUR_NS, np.nan)
    return attribute_hour


def _kind(table: Table, *, by_hours: bool) -> tuple[str, str]:
    """Name the kind of table and the evidence for it."""
    names = {h.upper() for h in table.dialect.headings}
    if {"STATION", "DATE"} <= names and names & {"TMAX", "TMIN", "TAVG"}:
        extra = ", LATITUDE and *_ATTRIBUTES" if has_attributes(table) else ""
        return "GHCN-Daily station table", f"headings STATION, DATE, TMAX, TMIN{extra}"
    if table.dialect.headings:
        return (
            "table by the hour" if by_hours else "table a row a day",
            f"headings {', '.join(table.dialect.headings)[:100]}",
        )
    return (
        "table a row a day, without a heading",
        "a date and two numbers, one never below the other",
    )


def _place(table: Table) -> tuple[float | None, float | None, str]:
    """Return latitude, longitude and station, where the table has one of each."""
    if not table.find(col.LATITUDE):
        return (*place_above(table.source, table.dialect.first_line), _station(table))
    place: list[float | None] = []
    for role, limit in ((col.LATITUDE, 90.0), (col.LONGITUDE, 180.0)):
        found = table.find(role)
        value = numbers(table.cells[found[0]]).value if found else np.zeros(0)
        value = value[np.isfinite(value)]
        fine = len(value) and float(np.ptp(value)) < 0.2 and abs(float(value[-1])) <= limit
        place.append(float(value[-1]) if fine else None)
    return place[0], place[1], _station(table)


def _station(table: Table) -> str:
    """Return the station's name or number; several are refused."""
    station = ""
    for role in (col.NAME, col.STATION):
        if found := table.find(role):
            names = [str(s) for s in pd.unique(pd.Series(table.texts(found[0]))) if s]
            if len(names) > 1:
                raise FileError(
                    f"{len(names)} stations: {'; '.join(names[:4])}",
                    path=table.path,
                    expected="one station",
                    remedy="Keep only the rows of the station nearest to you.",
                )
            station = station or (names[0] if names else "")
    return station


def _observer(table: Table, values: dict[int, Floats], unit: str, shift_note: str) -> list[str]:
    """Say so where the temperature at observation looks like a morning's and no hour is known."""
    names = {h.upper(): k for k, h in enumerate(table.dialect.headings)}
    if shift_note or "TOBS" not in names or daily.TMAX not in values or daily.TMIN not in values:
        return []
    at = cells_to_celsius(numbers(table.cells[names["TOBS"]]), unit)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (at - values[daily.TMIN]) / (values[daily.TMAX] - values[daily.TMIN])
    share = share[np.isfinite(share)]
    if len(share) < 30 or float(np.median(share)) > 0.4:
        return []
    note = (
        "The temperature at observation (TOBS) lies near the minimum, as with a morning reading; "
        "if so, obs_hour=7 (--obs-hour 7) moves each maximum to the day before."
    )
    return [note]
