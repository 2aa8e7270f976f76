"""Thermometer logs, as people and loggers keep them → one table of checked readings."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.errors import FileError, InputError
from forecaster.ingest.account import Account, Suspect
from forecaster.ingest.air import uscrn
from forecaster.ingest.checks import scale
from forecaster.ingest.checks.suspects import dates_text, reading_suspects
from forecaster.ingest.checks.tally import Tally, counted
from forecaster.ingest.log.hand import hand_part, has_hand_lines
from forecaster.ingest.log.part import ReadingPart
from forecaster.ingest.log.table import fits_columns, network_part, table_part
from forecaster.ingest.text.bytes import Paths, Source, open_sources, tables_among
from forecaster.ingest.text.cells import Floats, Mask
from forecaster.ingest.text.dialect import has_data, sniff
from forecaster.ingest.text.shapes import Ints
from forecaster.ingest.text.times import HOUR_NS

Codes = NDArray[np.int8]

COLDEST_SOIL_C, HOTTEST_SOIL_C = -60.0, 80.0
"""Wider than soil under open sky gets at a few centimetres; *common practice, no source*."""
DEEPEST_M = 5.0
_MOST_REPEATED = 0.2
_DAY_NS = 24 * HOUR_NS
OUTSIDE, SAME, OTHER, STUCK = (
    "value out of range",
    "reading given again with the same value",
    "reading given again with another value (the first was kept)",
    "stuck sensor",
)


def read_readings(
    path: Paths,
    *,
    depth_m: float | None = None,
    units: str | None = None,
    day_first: bool | None = None,
    year: int | None = None,
) -> pd.DataFrame:
    """Read a log of soil temperatures.

    Understood by structure: tables of a logger with lines above the heading, several depths in
    columns or a depth column; tables a row a day; USCRN daily01 text; and notes by hand without
    any heading, such as ``3/14/2025 7:40 61.5F 4in``.

    Parameters
    ----------
    path : path or sequence of paths
        A file (plain, gzip or zip), a folder of files, or a list of files.
    depth_m : float, optional
        Depth of readings whose depth the file does not say, 0 to 5 m.
    units : {"F", "C", "K"}, optional
        Unit of temperatures whose unit the file does not say, or whose heading says it wrongly. A
        unit written in a cell stands.
    day_first : bool, optional
        Order of day and month in dates such as 3/4/2025.
    year : int, optional
        Year of the first date, where dates are written without one.

    Returns
    -------
    DataFrame
        One row a reading in order of time: ``time`` (datetime64, local standard time as written;
        midnight where no hour is known), ``temp_c``, ``depth_m`` (NaN where unknown), ``span``
        ("day" for the mean of a calendar day, else "instant") and ``hour_known`` (False where
        only the date was written). ``attrs["account"]`` is the `Account` of what was read.

        A date without an hour is a "day" if the heading says mean, average or daily, if the same
        table has the day's extremes, or if it is one of 90 or more values with decimals on one
        day after another, as only a logger keeps them. Every other is an instant of unknown hour.

    Raises
    ------
    FileError
        If the file cannot be read as it stands: file, line, what was expected and what to do.
    InputError
        If an option is not what it should be.
    """
    if depth_m is not None and not _is_between(depth_m, 0.0, DEEPEST_M):
        raise InputError(f"depth_m is {depth_m!r}; expected 0 to {DEEPEST_M:g} metres")
    if year is not None and not _is_between(year, 1700, 2200):
        raise InputError(f"year is {year!r}; expected a year such as 2025")
    letter = scale.option(units)
    sources, passed = tables_among(open_sources(path), _is_table)
    fixed = [source for source in sources if uscrn.is_uscrn(source)]
    parts = [network_part(fixed)] if fixed else []
    parts += [_part(s, letter, day_first, year) for s in sources if s not in fixed]
    named = sources[0].path if isinstance(path, list | tuple) else str(path)
    parts[0].notes[:0] = passed
    return _finish(named, sources, parts, depth_m)


def _is_table(source: Source) -> bool:
    return uscrn.is_uscrn(source) or has_data(source) or has_hand_lines(source)


def _is_between(value: object, low: float, high: float) -> bool:
    return isinstance(value, int | float) and math.isfinite(value) and low <= value <= high


def _part(
    source: Source, letter: str | None, day_first: bool | None, year: int | None
) -> ReadingPart:
    """Read one source by its structure."""
    try:
        dialect = sniff(source)
    except FileError:
        if has_hand_lines(source):
            return hand_part(source, letter, day_first, year)
        raise
    if not dialect.headings and not fits_columns(dialect):
        return hand_part(source, letter, day_first, year)
    return table_part(source, dialect, letter, day_first, year)


def _finish(
    named: str, sources: list[Source], parts: list[ReadingPart], depth_m: float | None
) -> pd.DataFrame:
    """Check the readings of all parts, set them in order and write the account."""
    starts = np.cumsum([0] + [len(p.tally.lines) for p in parts[:-1]])
    row = np.concatenate([p.row + s for p, s in zip(parts, starts, strict=True)])
    time = np.concatenate([p.time for p in parts])
    value = np.concatenate([p.value for p in parts])
    depth = np.concatenate([p.depth_m for p in parts])
    known = np.concatenate([p.hour_known for p in parts])
    daily = np.concatenate([p.is_day for p in parts])
    tally = Tally.join([p.tally for p in parts])
    notes = [note for p in parts for note in p.notes]
    if depth_m is not None and np.isnan(depth).any():
        depth = np.where(np.isnan(depth), depth_m, depth)
    elif depth_m is not None:
        notes.append("The file says at which depth it was read: depth_m was not used.")
    dropped = np.full(len(row), -1, dtype=np.int8)
    suspects = _drop_out_of_range(time, value, dropped)
    order = _order(time, depth)
    _drop_repeats(order, (time, depth, value), known, dropped)
    found, stuck = reading_suspects(order[dropped[order] < 0], time, depth, value)
    dropped[stuck] = _REASONS.index(STUCK)
    suspects += found
    _settle_rows(row, dropped, tally)
    counts = tally.counts()
    _refuse_many_values_a_time(named, counts, len(tally.lines))
    alive = order[dropped[order] < 0]
    if not len(alive):
        raise _none_left(named, counts, len(tally.lines))
    frame = pd.DataFrame(
        {
            "time": time[alive].view("M8[ns]"),
            "temp_c": value[alive],
            "depth_m": depth[alive],
            "span": _SPANS[daily[alive].astype(np.int8)],
            "hour_known": known[alive],
        }
    )
    gap_days, longest = _gaps(time[alive])
    first = parts[0]
    frame.attrs["account"] = Account(
        path=named,
        format="; ".join(dict.fromkeys(p.format for p in parts))
        + (f", {len(sources)} files" if len(sources) > 1 else ""),
        why_format="; ".join(dict.fromkeys(p.why_format for p in parts)),
        units="; ".join(dict.fromkeys(p.units for p in parts)),
        why_units="; ".join(dict.fromkeys(p.why_units for p in parts)),
        rows_read=len(tally.lines),
        rows_used=tally.rows_used,
        refused=tally.listed(),
        refused_count=counts,
        gap_days=gap_days,
        longest_gap=longest,
        suspects=tuple(suspects),
        notes=tuple(dict.fromkeys([*notes, *_notes(depth[alive], known[alive] | daily[alive])])),
        latitude_deg=first.latitude_deg,
        longitude_deg=first.longitude_deg,
        station=first.station,
        files=tuple(source.path for source in sources),
    )
    return frame


_SPANS = np.array(["instant", "day"], dtype=object)
_REASONS = (SAME, OTHER, STUCK, OUTSIDE)


def _drop_out_of_range(time: Ints, value: Floats, dropped: Codes) -> list[Suspect]:
    wrong = np.flatnonzero((value < COLDEST_SOIL_C) | (value > HOTTEST_SOIL_C))
    if not len(wrong):
        return []
    dropped[wrong] = _REASONS.index(OUTSIDE)
    days = time[wrong] // _DAY_NS
    return [
        Suspect(
            "out of range", "temp_c", *dates_text(days.min(), days.max()), len(wrong), "dropped",
            f"{value[wrong].min():.4g} to {value[wrong].max():.4g} °C; "
            f"possible are {COLDEST_SOIL_C:g} to {HOTTEST_SOIL_C:g}",
        )
    ]  # fmt: skip


def _order(time: Ints, depth: Floats) -> Ints:
    """Return the order by time, then depth, then place in the file."""
    step = np.diff(time)
    if (step > 0).all():
        return np.arange(len(time))
    return np.lexsort((np.nan_to_num(depth, nan=-1.0), time))


def _drop_repeats(
    order: Ints, readings: tuple[Ints, Floats, Floats], known: Mask, dropped: Codes
) -> None:
    """Keep the first reading of each time and depth; readings of unknown hour may differ."""
    time, depth, value = readings
    alive = order[dropped[order] < 0]
    if len(alive) < 2:
        return
    deep = np.nan_to_num(depth[alive], nan=-1.0)
    again = np.flatnonzero((np.diff(time[alive]) == 0) & (np.diff(deep) == 0)) + 1
    if not len(again):
        return
    new = np.ones(len(alive), dtype=np.bool_)
    new[again] = False
    first = np.maximum.accumulate(np.where(new, np.arange(len(alive)), 0))
    repeat, kept = alive[again], alive[first[again]]
    equal = np.abs(value[repeat] - value[kept]) < 1e-9
    dropped[repeat[equal]] = _REASONS.index(SAME)
    dropped[repeat[~equal & known[repeat]]] = _REASONS.index(OTHER)


def _settle_rows(row: Ints, dropped: Codes, tally: Tally) -> None:
    """Refuse the rows of which no reading is left, each for its most telling reason."""
    n = len(tally.lines)
    used: Mask = np.zeros(n, dtype=np.bool_)
    used[row[dropped < 0]] = True
    lost = np.flatnonzero(dropped >= 0)
    reason = np.full(n, -1, dtype=np.int8)
    np.maximum.at(reason, row[lost], dropped[lost])
    for code, text in enumerate(_REASONS):
        tally.refuse(~used & (reason == code), text)
    tally.refuse(~used & (reason < 0), "no temperature")


def _refuse_many_values_a_time(path: str, counts: dict[str, int], rows: int) -> None:
    again = counts.get(OTHER, 0)
    if again > max(3, _MOST_REPEATED * rows):
        raise FileError(
            f"{again} of {rows} rows give a time again with another value",
            path=path,
            expected="one thermometer a file, or a column that says the depth",
            remedy="Keep the rows of one thermometer.",
        )


def _none_left(path: str, counts: dict[str, int], rows: int) -> FileError:
    said = ", ".join(f"{n} × {reason}" for reason, n in counts.items())
    return FileError(
        f"none of {rows} rows could be used ({said})" if said else "no rows under the heading",
        path=path,
        expected="a date and a temperature a row",
    )


def _gaps(time: Ints) -> tuple[int, str]:
    """Count whole days without a reading between the first and the last."""
    days = np.unique(time // _DAY_NS)
    step = np.diff(days)
    missing = int((step - 1).sum())
    if not missing:
        return 0, ""
    k = int(step.argmax())
    first, last = dates_text(days[k] + 1, days[k + 1] - 1)
    count = int(step[k]) - 1
    return missing, f"{count} day{'s' if count > 1 else ''}, {first} to {last}"


def _notes(depth: Floats, timed: Mask) -> list[str]:
    notes = []
    unknown = int((~timed).sum())
    if unknown:
        notes.append(f"Without an hour: {counted(unknown, 'reading')}.")
    if np.isnan(depth).any():
        notes.append("The depth of some readings is unknown: say depth_m (--depth).")
    return notes
