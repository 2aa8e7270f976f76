"""GHCN-Daily: the long table (one value a line) and the flags inside ``*_ATTRIBUTES``.

Long lines hold station, date as YYYYMMDD, element, value, measurement flag, quality flag, source
flag and time of observation as HHMM. Temperatures are in tenths of °C, precipitation in tenths of
a millimetre; any quality flag means that the value failed a check, a blank that it failed none
("GHCN-Daily readme.txt", section III, and its field list for the files by year: "OBS-TIME =
4-character time of observation in hour-minute format (i.e. 0700 =7:00 am)"; NOAA NCEI).
"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.ground.errors import FileError
from forecaster.ingest.air import daily
from forecaster.ingest.air.daily import Part
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.cells import (
    MISSING_TENTHS,
    numbers,
)
from forecaster.ingest.text.dates import Where, read_stamps
from forecaster.ingest.text.dialect import Dialect, is_blank, is_comment, split
from forecaster.ingest.text.shapes import Texts
from forecaster.ingest.text.table import Table, read_table

ELEMENTS = {
    "TMIN": daily.TMIN,
    "TMAX": daily.TMAX,
    "TAVG": daily.TAVG,
    "PRCP": daily.PRECIP,
}
_FIELDS = ("ID", "DATE", "ELEMENT", "VALUE", "MFLAG", "QFLAG", "SFLAG", "OBSTIME")
_SPELLED = {
    "STATION": "ID", "STATIONID": "ID", "DATAVALUE": "VALUE", "DATA": "VALUE",
    "DATATYPE": "ELEMENT", "MEASUREMENTFLAG": "MFLAG", "QUALITYFLAG": "QFLAG",
    "SOURCEFLAG": "SFLAG",
    "YEARMONTHDAY": "DATE", "YYYYMMDD": "DATE", "TIME": "OBSTIME",
}  # fmt: skip
WHY_LONG = "one value a line: station, date, element, value and flags"


def long_dialect(source: Source) -> Dialect | None:
    """Return the layout of a long table, with or without its heading; None if it is none."""
    for number, line in enumerate(source.head(10), 1):
        if is_blank(line) or is_comment(line):
            continue
        for delimiter in (",", "\t", ";", "|"):
            cells = split(line, delimiter)
            names = [re.sub(r"[^A-Z]", "", c.upper()) for c in cells]
            names = [_SPELLED.get(name, name) for name in names]
            if {"ID", "DATE", "ELEMENT", "VALUE"} <= set(names):
                return Dialect(
                    delimiter=delimiter,
                    decimal=".",
                    headings=tuple(names),
                    heading_line=number,
                    first_line=number + 1,
                    sample=(),
                )
            if _is_long_row(cells):
                return Dialect(
                    delimiter=delimiter,
                    decimal=".",
                    headings=_FIELDS[: max(4, min(len(cells), 8))],
                    heading_line=0,
                    first_line=number,
                    sample=(),
                )
        return None
    return None


def _is_long_row(cells: list[str]) -> bool:
    return bool(
        4 <= len(cells) <= 8
        and re.fullmatch(r"[A-Z]{2}[A-Z0-9\-]{9}", cells[0])
        and re.fullmatch(r"\d{8}|\d{4}-\d\d-\d\d", cells[1])
        and re.fullmatch(r"[A-Z]{2}[A-Z0-9]{2}", cells[2])
        and re.fullmatch(r"-?\d+", cells[3])
    )


def long_part(source: Source, dialect: Dialect, obs_hour: int | None) -> Part:
    """Read a long table."""
    places = {name: k for k, name in enumerate(dialect.headings)}
    wanted = {places[n] for n in (*_FIELDS[:4], "QFLAG", "OBSTIME") if n in places}
    flags = frozenset(places[n] for n in ("ID", "ELEMENT", "QFLAG", "OBSTIME") if n in places)
    table = read_table(source, lambda k, _: k in wanted, dialect=dialect, verbatim=flags)
    tally = table.tally
    _one_station(table.path, table.texts(places["ID"]))
    name, element = _elements(table, places["ELEMENT"])
    for code in pd.unique(pd.Series(name[element < 0])):
        tally.refuse((element < 0) & (name == code), f"element {str(code)[:8]!r} is not needed")
    dates = table.raw(places["DATE"])
    stamps = read_stamps(dates, Where(table.path, places["DATE"] + 1))
    tally.refuse(stamps.bad > 0, "impossible date", dates)
    if "QFLAG" in places:
        flag = table.texts(places["QFLAG"])
        for code in pd.unique(pd.Series(flag[flag != ""])):
            tally.refuse(flag == code, f"quality flag {str(code)[:8]!r}")
    cells = numbers(table.cells[places["VALUE"]], MISSING_TENTHS)
    if cells.bad.any():
        tally.refuse(cells.bad, "not a number", table.texts(places["VALUE"]))
    tally.refuse(np.isnan(cells.value), daily.NO_VALUE)
    row = np.flatnonzero(tally.live)
    time = table.texts(places["OBSTIME"]) if "OBSTIME" in places else None
    shift, note = shifts(hours_of(time, len(tally.lines)), obs_hour)
    return Part(
        tally=tally,
        row=row,
        day=stamps.day[row],
        element=element[row],
        value=cells.value[row] / 10.0,
        shift=shift,
        format="GHCN-Daily long table",
        why_format=WHY_LONG,
        units="tenths of °C and of mm",
        why_units="the format fixes it",
        station=str(table.texts(places["ID"])[0]) if len(tally.lines) else "",
        shift_note=note,
    )


def _elements(table: Table, place: int) -> tuple[Texts, NDArray[np.int8]]:
    """Return each row's element as written and as our code, −1 if it is not needed."""
    name = table.texts(place)
    codes, unique = pd.factorize(name)
    known = np.array([ELEMENTS.get(str(u), -1) for u in unique], dtype=np.int8)
    return name, known[codes]


def _one_station(path: str, stations: Texts) -> None:
    found = [str(s) for s in pd.unique(pd.Series(stations)) if s]
    if len(found) > 1:
        raise FileError(
            f"{len(found)} stations: {', '.join(found[:4])}{' …' if len(found) > 4 else ''}",
            path=path,
            expected="one station",
            remedy="Keep only the lines of the station nearest to you.",
        )


def hours_of(times: Texts | None, rows: int) -> Floats:
    """Return hours of observation from HHMM; NaN where none is given. 2400 is midnight."""
    if times is None:
        return np.full(rows, np.nan)
    codes, unique = pd.factorize(times)
    hour = [
        int(t) // 100 + int(t) % 100 / 60 if re.fullmatch(r"\d{3,4}", t := str(u)) else np.nan
        for u in unique
    ]
    return np.where(np.isnan(found := np.array(hour)) | (found > 24), np.nan, found)[codes]


def shifts(hour: Floats, obs_hour: int | None) -> tuple[Ints, str]:
    """Return the day, 0 or −1, to which each row's maximum belongs, and a sentence about it.

    A thermometer read and reset in the morning shows yesterday afternoon's maximum. Midnight (0
    or 24) ends the day that the row is dated, and moves nothing.
    """
    if obs_hour is not None:
        hour = np.full(len(hour), float(obs_hour))
    morning = (hour > 0) & (hour < 12)
    count = int(morning.sum())
    if not count:
        known = int(np.isfinite(hour).sum())
        return np.zeros(len(hour), dtype=np.int64), (
            "Read at noon or later (or midnight): maxima stay on their day." if known else ""
        )
    middle = float(np.median(hour[morning]))
    whose = "as asked" if obs_hour is not None else "by the file's own time of observation"
    return -morning.astype(np.int64), (
        f"Read in the morning (about {int(middle):02d}:{round(middle % 1 * 60):02d}, {whose}): "
        "the maximum was moved to the day before."
    )


def attributes(cells: Texts) -> tuple[Texts, Floats]:
    """Return the quality flag and the hour in ``measurement,quality,source,time`` cells."""
    codes, unique = pd.factorize(cells)
    parts = [[*str(u).split(","), "", "", "", ""] for u in unique]
    flag = np.array([p[1].strip() for p in parts], dtype=object)
    hour = hours_of(np.array([p[3].strip() for p in parts], dtype=object), len(parts))
    return flag[codes], hour[codes]


def flagged(flag: Texts) -> Bools:
    """Whether a quality flag is set."""
    found: Bools = flag != ""
    return found
