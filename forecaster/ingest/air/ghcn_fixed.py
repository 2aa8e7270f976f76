"""GHCN-Daily as published a station a file: fixed columns, one month of one element a line.

"GHCN-Daily readme.txt", section III (NOAA NCEI): ID in columns 1–11, YEAR 12–15, MONTH 16–17,
ELEMENT 18–21, then for each of 31 days VALUE in five columns, MFLAG, QFLAG and SFLAG in one each
(VALUE1 22–26, QFLAG1 28 … VALUE31 262–266); tenths of °C and of mm; −9999 where missing.
"""

from __future__ import annotations

import re

import numpy as np

from forecaster.ground.errors import FileError
from forecaster.ground.plural import counted
from forecaster.ingest.air.daily import Part
from forecaster.ingest.air.ghcn import ELEMENTS, shifts
from forecaster.ingest.checks.tally import Tally
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.dates import civil_days

_LINE = re.compile(
    r"[A-Z]{2}[A-Z0-9\-_]{9}\d{4}(0[1-9]|1[0-2])[A-Z]{2}[A-Z0-9]{2}([ \-\d]{5}...)*.*"
)
_WIDTH, _FIRST, _DAYS = 8, 21, 31
_MISSING = -9999
WHY = "a station, a month and an element a line, then a value and three flags a day"


def is_fixed(source: Source) -> bool:
    """Whether the first line with cells is laid out so."""
    lines = [line for line in source.head(5) if line.strip()]
    return bool(lines and len(lines[0]) > _FIRST + 4 and _LINE.fullmatch(lines[0]))


def fixed_part(source: Source, obs_hour: int | None) -> Part:
    """Read a file of fixed columns.

    Raises
    ------
    FileError
        If it holds several stations.
    """
    text = source.data.decode("utf-8", "replace").split("\n")
    kept = [(number, line) for number, line in enumerate(text, 1) if line.strip()]
    lines = [line for _, line in kept]
    tally = Tally(np.array([number for number, _ in kept], dtype=np.int64), source.path)
    broken = np.array([_LINE.fullmatch(line) is None for line in lines])
    tally.refuse(broken, "not a station, a month and an element", lines)
    stations = {line[:11] for line, bad in zip(lines, broken, strict=True) if not bad}
    if len(stations) > 1:
        raise FileError(
            f"{len(stations)} stations", path=source.path, expected="the file of one station"
        )
    names = np.array([line[17:21] for line in lines], dtype=object)
    for name in sorted(set(names[~broken].tolist()) - set(ELEMENTS)):
        tally.refuse((names == name) & ~broken, f"element {name!r} is not needed")
    found: list[tuple[int, int, int, int, int, int]] = []
    flagged = 0
    for row in np.flatnonzero(tally.live).tolist():
        values, bad = _month(lines[row])
        flagged += bad
        year, month, element = int(lines[row][11:15]), int(lines[row][15:17]), names[row]
        found += [(row, year, month, day, ELEMENTS[element], value) for day, value in values]
    rows, years, months, days, elements, tenths = np.array(found, dtype=np.int64).reshape(-1, 6).T
    date = civil_days(years, months, days)
    real = ~np.isnat(date)  # no value stands on 30 February
    shift, note = shifts(np.full(len(lines), np.nan), obs_hour)
    notes = []
    if flagged:
        notes.append(f"{counted(flagged, 'value')} failed a quality check of the source: dropped.")
    return Part(
        tally=tally,
        row=rows[real],
        day=date[real],
        element=elements[real].astype(np.int8),
        value=tenths[real] / 10.0,
        shift=shift,
        format="GHCN-Daily fixed columns",
        why_format=WHY,
        units="tenths of °C and of mm",
        why_units="the format fixes it",
        notes=notes,
        station=stations.pop() if stations else "",
        shift_note=note,
    )


def _month(line: str) -> tuple[list[tuple[int, int]], int]:
    """Return day and value of one line, and how many values a quality flag took away."""
    values: list[tuple[int, int]] = []
    flagged = 0
    for day in range(1, _DAYS + 1):
        cell = line[_FIRST + (day - 1) * _WIDTH :][:_WIDTH]
        number = cell[:5].strip()
        if not re.fullmatch(r"-?\d+", number) or int(number) == _MISSING:
            continue
        if cell[6:7].strip():
            flagged += 1
        else:
            values.append((day, int(number)))
    return values, flagged
