"""USCRN daily01: 28 blank-separated fields a line, no heading, one file a year.

Fields as the network's readme lists them (NOAA NCEI, USCRN daily01 ``readme.txt``, updated
2017-07-06; the field numbers from memory, and checked in the tests against prepared tables):
1 station, 2 local standard date, 4 longitude, 5 latitude, 6 maximum, 7 minimum, 8 (maximum +
minimum)/2, 9 true mean, 10 precipitation in mm, 24–28 soil temperature at 5, 10, 20, 50 and
100 cm; −9999.0 and −99.000 where missing.
"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from forecaster.ground.arrays import Days, Floats
from forecaster.ground.errors import FileError
from forecaster.ground.plural import counted
from forecaster.ingest.air import daily
from forecaster.ingest.air.daily import Part, flatten
from forecaster.ingest.checks.tally import Tally
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.dates import civil_days
from forecaster.ingest.text.strict_csv import read_strictly

FIELDS = 28
SOIL_DEPTHS_M = {23: 0.05, 24: 0.10, 25: 0.20, 26: 0.50, 27: 1.00}
MISSING_AT_OR_BELOW = -99.0
_ROUNDING_C = 0.11
"""Maximum, minimum and their mean are each rounded to 0.1 °C."""


def is_uscrn(source: Source) -> bool:
    """Whether the first line with cells has 28 fields: a number, a date, a version, a place."""
    for line in source.head(5):
        cells = line.split()
        if not cells:
            continue
        return len(cells) == FIELDS and bool(
            re.fullmatch(r"\d{3,5}", cells[0])
            and re.fullmatch(r"(19|20)\d{6}", cells[1])
            and re.fullmatch(r"-?\d+\.\d+", cells[3])
            and re.fullmatch(r"-?\d+\.\d+", cells[4])
        )
    return False


def read_fields(sources: list[Source], wanted: list[int]) -> tuple[pd.DataFrame, Tally]:
    """Read some fields (counted from 0) of all lines of all files."""
    try:
        return _fast(sources, wanted)
    except ValueError:
        return _slow(sources, wanted)


def _fast(sources: list[Source], wanted: list[int]) -> tuple[pd.DataFrame, Tally]:
    """Read all files in one call; raises ValueError if any line is not as it should be."""
    bodies = [s.data if s.data.endswith(b"\n") else s.data + b"\n" for s in sources]
    frame = read_strictly(
        b"".join(bodies),
        list(range(FIELDS)),
        sep=r"\s+",
        dtype=dict.fromkeys({*wanted, FIELDS - 1}, np.float64),
    )
    lengths = [body.count(b"\n") for body in bodies]
    if frame[[*wanted, FIELDS - 1]].isna().to_numpy().any():
        raise ValueError("uneven lines")
    tallies = [
        Tally(np.arange(1, n + 1, dtype=np.int64), s.path)
        for n, s in zip(lengths, sources, strict=True)
    ]
    return frame[wanted], Tally.join(tallies)


def _slow(sources: list[Source], wanted: list[int]) -> tuple[pd.DataFrame, Tally]:
    """Read line by line, refusing lines without 28 numbers."""
    tallies, rows = [], []
    for source in sources:
        lines, broken, seen = [], [], []
        for number, line in enumerate(source.data.decode("utf-8", "replace").split("\n"), 1):
            cells = line.split()
            if not cells:
                continue
            lines.append(number)
            try:
                row = [float(cells[k]) for k in wanted]
                fine = len(cells) == FIELDS and all(map(np.isfinite, row))
            except (ValueError, IndexError):
                row, fine = [], False
            rows.append(row if fine else [np.nan] * len(wanted))
            broken.append(not fine)
            seen.append(f"{len(cells)} fields: {line}")
        tally = Tally(np.array(lines, dtype=np.int64), source.path)
        tally.refuse(np.array(broken, dtype=np.bool_), f"not {FIELDS} fields of numbers", seen)
        tallies.append(tally)
    return pd.DataFrame(rows, columns=wanted, dtype=np.float64), Tally.join(tallies)


def dates_of(frame: pd.DataFrame, tally: Tally) -> Days:
    """Return the local standard date of each line; impossible ones are refused."""
    stamp = np.nan_to_num(frame[1].to_numpy(), nan=0.0, posinf=0.0, neginf=0.0)
    stamp = np.clip(stamp, 0, 99_999_999).astype(np.int64)
    day = civil_days(stamp // 10_000, stamp // 100 % 100, stamp % 100)
    tally.refuse(np.isnat(day), "impossible date or time", [str(k) for k in stamp])
    day[~tally.live] = np.datetime64("NaT")
    return day


def value_of(frame: pd.DataFrame, field: int) -> Floats:
    """Return a field with its codes for missing as NaN."""
    value = frame[field].to_numpy(copy=True)
    value[value <= MISSING_AT_OR_BELOW] = np.nan
    return value


def station_of(
    sources: list[Source], frame: pd.DataFrame
) -> tuple[str, float | None, float | None]:
    """Return the station's number, latitude and longitude; several stations are refused."""
    stations = np.unique(frame[0].dropna().to_numpy())
    if len(stations) > 1:
        raise FileError(
            f"{len(stations)} stations: {', '.join(f'{s:.0f}' for s in stations[:5])}",
            path=sources[0].path,
            expected="one station",
            remedy="Give only the files of the station nearest to you.",
        )
    if not len(stations):
        return "", None, None
    place = [float(frame[k].dropna().iloc[-1]) for k in (4, 3)]
    if not (-90 <= place[0] <= 90 and -180 <= place[1] <= 180):
        return f"{stations[0]:05.0f}", None, None
    return f"{stations[0]:05.0f}", place[0], place[1]


WHY = "28 fields a line, the second a date, the fourth and fifth a longitude and a latitude"


def air_part(sources: list[Source]) -> Part:
    """Read the air temperature and precipitation of one station's files."""
    frame, tally = read_fields(sources, [0, 1, 3, 4, 5, 6, 7, 8, 9])
    day = dates_of(frame, tally)
    station, latitude, longitude = station_of(sources, frame)
    high, low, middle = (value_of(frame, k) for k in (5, 6, 7))
    off = np.abs((high + low) / 2 - middle) > _ROUNDING_C
    notes = []
    if off.any():
        notes.append(
            f"On {counted(int(off.sum()), 'day')} field 8 is not the middle of maximum and "
            "minimum: the fields may not be what they seem."
        )
    columns = {
        daily.TMIN: low,
        daily.TMAX: high,
        daily.TAVG: value_of(frame, 8),
        daily.PRECIP: value_of(frame, 9),
    }
    row, days, element, value = flatten(day, columns)
    return Part(
        tally=tally,
        row=row,
        day=days,
        element=element,
        value=value,
        shift=np.zeros(len(frame), dtype=np.int64),
        format="USCRN daily01 text",
        why_format=WHY,
        units="°C",
        why_units="the format fixes it",
        notes=notes,
        latitude_deg=latitude,
        longitude_deg=longitude,
        station=station,
    )
