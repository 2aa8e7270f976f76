"""Thermometer logs, as people and loggers keep them → one table of checked readings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.ground.errors import FileError, InputError
from forecaster.ground.plural import counted
from forecaster.ingest.account import Account, Suspect
from forecaster.ingest.air import uscrn
from forecaster.ingest.checks import scale
from forecaster.ingest.checks.suspects import dates_text, reading_suspects
from forecaster.ingest.checks.tally import Tally
from forecaster.ingest.log.hand import hand_part, has_hand_lines
from forecaster.ingest.log.part import ReadingPart
from forecaster.ingest.log.table import fits_columns, network_part, table_part
from forecaster.ingest.text.bytes import Paths, Source, open_sources, tables_among
from forecaster.ingest.text.dialect import has_data, sniff
from forecaster.ingest.text.times import HOUR_NS
from forecaster.ingest.text.told import Told, told

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
    columns: Mapping[str, str] | None = None,
    probe: str | None = None,
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
    columns : mapping of str to str, optional
        What columns hold, above what their headings say: ``{"soil10": "Probe A"}`` (10 cm),
        ``{"soil4in": "3"}`` (third column); ``soil``, ``date``, ``time`` and ``probe`` too.
    probe : str, optional
        Keep the readings of one probe, where the file has several.

    Returns
    -------
    DataFrame
        One row a reading in order of time: ``time`` (datetime64, local standard time as written;
        midnight where no hour is known), ``temp_c``, ``depth_m`` (NaN where unknown), ``span``
        ("day" for the mean of a calendar day, else "instant") and ``hour_known`` (False where
        only the date was written). ``attrs["account"]`` is the `Account` of what was read.
        Where the file holds several probes, beds or stations, a column ``probe`` names them; see
        `one_probe`.

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
    known = told(columns)
    sources, passed = tables_among(open_sources(path), _is_table)
    fixed = [source for source in sources if uscrn.is_uscrn(source)]
    parts = [network_part(fixed)] if fixed else []
    parts += [_part(s, letter, day_first, year, known) for s in sources if s not in fixed]
    named = sources[0].path if isinstance(path, list | tuple) else str(path)
    parts[0].notes[:0] = passed
    frame = _finish(named, sources, parts, depth_m)
    return frame if probe is None else _only(frame, probe, named)


def one_probe(frame: pd.DataFrame) -> pd.DataFrame:
    """Return readings of one probe as they are.

    Raises
    ------
    InputError
        If they are of several probes: they stand in different ground.
    """
    names = [] if "probe" not in frame else list(dict.fromkeys(frame["probe"]))
    if len(names) < 2:
        return frame
    raise InputError(
        f"the readings are of {len(names)} probes: {_some(names)}; expected one. "
        f"Say which: probe={names[0]!r} (--probe {_quoted(names[0])})."
    )


def _only(frame: pd.DataFrame, probe: str, path: str) -> pd.DataFrame:
    """Keep the readings of one probe, named whole or by a beginning that only it has."""
    names = [] if "probe" not in frame else list(dict.fromkeys(frame["probe"]))
    wanted = " ".join(probe.split()).lower()
    same = [n for n in names if n.lower() == wanted]
    found = same or [n for n in names if n.lower().startswith(wanted)]
    if len(found) != 1:
        raise FileError(
            f"no probe {probe!r}" if not found else f"{len(found)} probes begin with {probe!r}",
            path=path,
            expected=f"one of: {_some(names)}" if names else "a file of one probe: leave it out",
        )
    kept: pd.DataFrame = frame[frame["probe"] == found[0]].drop(columns="probe")
    kept = kept.reset_index(drop=True)
    account = frame.attrs["account"]
    taken = f"{len(kept):,} of {len(frame):,} readings"
    note = f"Of {len(names)} probes only {found[0]!r} was taken: {taken}."
    kept.attrs["account"] = replace(account, notes=(*account.notes, note))
    return kept


def _some(names: list[str]) -> str:
    shown = ", ".join(names[:12])
    return shown + (f" and {len(names) - 12} more" if len(names) > 12 else "")


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name


def _is_table(source: Source) -> bool:
    return uscrn.is_uscrn(source) or has_data(source) or has_hand_lines(source)


def _is_between(value: object, low: float, high: float) -> bool:
    return isinstance(value, int | float) and math.isfinite(value) and low <= value <= high


def _part(
    source: Source, letter: str | None, day_first: bool | None, year: int | None, known: Told
) -> ReadingPart:
    """Read one source by its structure."""
    try:
        dialect = sniff(source)
    except FileError:
        if has_hand_lines(source):
            return hand_part(source, letter, day_first, year)
        raise
    if not dialect.headings and not known.columns and not fits_columns(dialect):
        return hand_part(source, letter, day_first, year)
    return table_part(source, dialect, letter, day_first=day_first, year=year, told=known)


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
    whose, names = _probes(parts)
    notes = [note for p in parts for note in p.notes]
    if depth_m is not None and np.isnan(depth).any():
        depth = np.where(np.isnan(depth), depth_m, depth)
    elif depth_m is not None:
        notes.append("The file says at which depth it was read: depth_m was not used.")
    dropped = np.full(len(row), -1, dtype=np.int8)
    suspects = _drop_out_of_range(time, value, dropped)
    place = _places(depth, whose)
    order = _order(time, place)
    _drop_repeats(order, (time, place, value), known, dropped)
    found, stuck = _suspects(order[dropped[order] < 0], time, depth, value, whose)
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
    if whose is not None:
        frame["probe"] = np.array(names, dtype=object)[whose[alive]]
    gap_days, longest = _gaps(time[alive])
    frame.attrs["account"] = replace(
        _account(named, sources, parts, tally),
        suspects=tuple(suspects),
        notes=tuple(dict.fromkeys([*notes, *_notes(depth[alive], known[alive] | daily[alive])])),
        gap_days=gap_days,
        longest_gap=longest,
    )
    return frame


def _account(named: str, sources: list[Source], parts: list[ReadingPart], tally: Tally) -> Account:
    """Return what the files say of themselves, and how many of their rows were used."""
    first = parts[0]
    many = f", {len(sources)} files" if len(sources) > 1 else ""
    return Account(
        path=named,
        format="; ".join(dict.fromkeys(p.format for p in parts)) + many,
        why_format="; ".join(dict.fromkeys(p.why_format for p in parts)),
        units="; ".join(dict.fromkeys(p.units for p in parts)),
        why_units="; ".join(dict.fromkeys(p.why_units for p in parts)),
        rows_read=len(tally.lines),
        rows_used=tally.rows_used,
        refused=tally.listed(),
        refused_count=tally.counts(),
        latitude_deg=first.latitude_deg,
        longitude_deg=first.longitude_deg,
        station=first.station,
        files=tuple(source.path for source in sources),
        columns=tuple(dict.fromkeys(c for p in parts for c in p.columns)),
    )


def _probes(parts: list[ReadingPart]) -> tuple[Ints | None, list[str]]:
    """Join the probes of all parts; None where there is one."""
    if all(p.probe is None for p in parts):
        return None, []
    names = list(dict.fromkeys(name for p in parts for name in p.probes or [""]))
    whose = [
        np.array([names.index(n) for n in p.probes or [""]], dtype=np.int64)[
            np.zeros(len(p.row), dtype=np.int64) if p.probe is None else p.probe
        ]
        for p in parts
    ]
    return np.concatenate(whose), [name or "unnamed" for name in names]


def _places(depth: Floats, whose: Ints | None) -> Floats:
    """Return a number for each place of a reading: its depth, or depth and probe."""
    deep = np.nan_to_num(depth, nan=-1.0)
    return deep if whose is None else deep + 100.0 * whose


def _suspects(
    order: Ints, time: Ints, depth: Floats, value: Floats, whose: Ints | None
) -> tuple[list[Suspect], Ints]:
    """Find jumps and stuck values, each probe by itself."""
    if whose is None:
        return reading_suspects(order, time, depth, value)
    found: list[Suspect] = []
    drop: list[Ints] = [np.zeros(0, dtype=np.int64)]
    for one in np.unique(whose[order]):
        some, gone = reading_suspects(order[whose[order] == one], time, depth, value)
        found += some
        drop.append(gone)
    return found, np.concatenate(drop)


_SPANS = np.array(["instant", "day"], dtype=object)
_REASONS = (SAME, OTHER, STUCK, OUTSIDE)


def _drop_out_of_range(time: Ints, value: Floats, dropped: Codes) -> list[Suspect]:
    wrong = np.flatnonzero((value < COLDEST_SOIL_C) | (value > HOTTEST_SOIL_C))
    if not len(wrong):
        return []
    dropped[wrong] = _REASONS.index(OUTSIDE)
    days = time[wrong] // _DAY_NS
    first, last = dates_text(days.min(), days.max())
    return [
        Suspect(
            kind="out of range",
            column="temp_c",
            first=first,
            last=last,
            values=len(wrong),
            action="dropped",
            note=f"{value[wrong].min():.4g} to {value[wrong].max():.4g} °C; "
            f"possible are {COLDEST_SOIL_C:g} to {HOTTEST_SOIL_C:g}",
        )
    ]


def _order(time: Ints, place: Floats) -> Ints:
    """Return the order by time, then place, then row."""
    step = np.diff(time)
    if (step > 0).all():
        return np.arange(len(time))
    return np.lexsort((place, time))


def _drop_repeats(
    order: Ints, readings: tuple[Ints, Floats, Floats], known: Bools, dropped: Codes
) -> None:
    """Keep the first reading of each time and place; readings of unknown hour may differ."""
    time, deep, value = readings
    alive = order[dropped[order] < 0]
    if len(alive) < 2:
        return
    again = np.flatnonzero((np.diff(time[alive]) == 0) & (np.diff(deep[alive]) == 0)) + 1
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
    used: Bools = np.zeros(n, dtype=np.bool_)
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
            expected="one thermometer a file, or a column that says the depth or names the probe",
            remedy="If a column names the probe, say --column probe=NAME.",
        )


def _none_left(path: str, counts: dict[str, int], rows: int) -> FileError:
    said = ", ".join(f"{n} × {reason}" for reason, n in counts.items())
    return FileError(
        f"none of {rows} rows could be used ({said})" if said else "no rows under the heading",
        path=path,
        expected="a date and a temperature a row",
        remedy="Say which column is the soil's, by its number: --column soil10=4 is the fourth."
        if any(reason.startswith("several numbers") for reason in counts)
        else "",
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


def _notes(depth: Floats, timed: Bools) -> list[str]:
    notes = []
    unknown = int((~timed).sum())
    if unknown:
        notes.append(f"Without an hour: {counted(unknown, 'reading')}.")
    if np.isnan(depth).any():
        notes.append("The depth of some readings is unknown: say depth_m (--depth).")
    return notes
