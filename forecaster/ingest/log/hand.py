"""Notes by hand, without a heading: each line is searched for date, time, temperature, depth.

``3/14/2025 7:40 61.5F 4in, drizzle`` and ``Mar 14: 52`` are read; words are passed over.
"""

from __future__ import annotations

import re

import numpy as np

from forecaster.ground.errors import FileError, InputError
from forecaster.ground.units import parse_length
from forecaster.ingest.checks import scale
from forecaster.ingest.checks.tally import Tally
from forecaster.ingest.log.part import ReadingPart, instants
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.cells import NUMBER, parse_cell, to_celsius
from forecaster.ingest.text.dates import Where, read_clock, read_stamps, year_named
from forecaster.ingest.text.dialect import is_blank

LONGEST = 50_000
"""Lines; a longer log is a logger's, and has columns."""

_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_DATE = re.compile(
    r"(?<![\d.])(?:\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[/.\-]\d{1,2}[/.\-](?:\d{4}|\d\d)"
    rf"|\d{{1,2}}(?:st|nd|rd|th)?[\s\-]*{_MONTH}(?:[\s\-,]+\d{{4}}(?![\d.]|:\d))?"
    rf"|{_MONTH}[\s\-]*\d{{1,2}}(?:st|nd|rd|th)?(?![\d.]|:\d)(?:[\s\-,]+\d{{4}}(?![\d.]|:\d))?"
    r"|\d{1,2}/\d{1,2}|\d{1,2}\.\d{1,2}\.)(?!\d)",
    re.IGNORECASE,
)
_TIME = re.compile(
    r"(?<![\d.:])[t ]?(?:[012]?\d[:h][0-5]\d(?::[0-5]\d)?(?:\s*[ap]\.?m\.?(?![a-z]))?"
    r"|1?\d\s*[ap]\.?m\.?(?![a-z]))(?![\d:])",
    re.IGNORECASE,
)
_DEPTH = re.compile(
    r"(?<![\d.,])(\d+(?:\.\d+)?)\s*-?\s*(cm|mm|inch(?:es)?|in\b|\"|″)(?![a-z])", re.IGNORECASE
)
_UNIT = re.compile(
    rf"(?<![\d.,a-z]){NUMBER}\s*(?:°|º|deg(?:rees?)?\.?)?\s*[fck](?![a-z0-9])", re.IGNORECASE
)
_PARTING = re.compile(r"(?<!\d),|,(?!\d)|(?<=\d),(?=\d+,)|(?<=,)(\d+),")
"""Commas that part cells: those that do not stand between digits, and two or more in a row."""
_PLAIN = re.compile(rf"(?<![\d.,a-z:/]){NUMBER}(?![\d:/a-z])", re.IGNORECASE)


def _cut(pattern: re.Pattern[str], text: str) -> tuple[str, str]:
    """Return what a pattern finds first, and the text without it."""
    match = pattern.search(text)
    if match is None:
        return "", text
    return match[0], f"{text[: match.start()]} ¦ {text[match.end() :]}"


def _pieces(line: str) -> tuple[str, str, str, str, int]:
    """Return date, time, depth and temperature as written, and how many plain numbers are left."""
    rest = re.split(r"\s#|//", line, maxsplit=1)[0]
    date, rest = _cut(_DATE, rest)
    time, rest = _cut(_TIME, rest)
    depth, rest = _cut(_DEPTH, rest)
    temperature, rest = _cut(_UNIT, rest)
    plain = _PLAIN.findall(_PARTING.sub(r" \1 ", rest))
    if not temperature and len(plain) == 1:
        temperature = plain[0]
    return date, time.strip().lstrip("tT").strip(), depth, temperature, len(plain)


def has_hand_lines(source: Source) -> bool:
    """Whether some line near the top holds a date and a temperature."""
    found = (_pieces(line) for line in source.head(50))
    return any(date and temperature for date, _, _, temperature, _ in found)


def hand_part(
    source: Source, letter: str | None, day_first: bool | None, year: int | None
) -> ReadingPart:
    """Read notes by hand."""
    lines = source.data.decode("utf-8", "replace").split("\n")
    if len(lines) > LONGEST:
        raise FileError(
            f"{len(lines)} lines without a heading that names the columns",
            path=source.path,
            line=1,
            expected="a heading such as date,temp_f",
            remedy="Write one above the first line.",
        )
    pieces = [_pieces(line) for line in lines]
    first = next((k for k, p in enumerate(pieces) if p[0] and p[3]), 0)
    rows = [
        k
        for k in range(first, len(lines))
        if not is_blank(lines[k]) and not lines[k].lstrip().startswith(("#", "//", "%"))
    ]
    tally = Tally(np.array([k + 1 for k in rows], dtype=np.int64), source.path)
    seen = [lines[k] for k in rows]
    dates, times, depths, temperatures = (
        np.array([pieces[k][part] for k in rows], dtype=object) for part in range(4)
    )
    numbers = np.array([pieces[k][4] for k in rows])
    tally.refuse(dates == "", "no date", seen)
    tally.refuse((temperatures == "") & (numbers > 1), "several numbers without a unit", seen)
    tally.refuse(temperatures == "", "no temperature", seen)
    notes: list[str] = []
    above = " ".join(lines[:first])
    stamps = read_stamps(
        dates, Where(source.path), day_first=day_first, year=year or year_named(above, source.path)
    )
    tally.refuse(stamps.bad > 0, "impossible date or time", dates)
    nanosecond, offset, bad = read_clock(times)
    tally.refuse((bad > 0) & (times != ""), "impossible date or time", times)
    value, units, why = _temperatures(source.path, temperatures, letter)
    live = np.flatnonzero(tally.live & np.isfinite(value))
    notes += [*stamps.notes, *([f"Dates read {stamps.why_order}."] if stamps.why_order else [])]
    if first and above.strip():
        notes.append(f"Line{'s 1 to' if first > 1 else ''} {first} stand above the first reading.")
    depth = np.array([_depth(str(d)) for d in depths], dtype=np.float64)
    time = instants(stamps.day, nanosecond, offset, notes)
    n = len(live)
    return ReadingPart(
        tally=tally,
        row=live,
        time=time[live],
        value=value[live],
        depth_m=depth[live],
        hour_known=nanosecond[live] >= 0,
        is_day=np.zeros(n, dtype=np.bool_),
        format="notes by hand",
        why_format="no heading; a date and a number a line",
        units=units,
        why_units=why,
        notes=notes,
    )


def _temperatures(path: str, cells: np.ndarray, letter: str | None) -> tuple[np.ndarray, str, str]:
    """Return temperatures in °C: the unit written beside each, else asked, else by evidence."""
    parsed = [parse_cell(str(c)) if c else None for c in cells]
    value = np.array([np.nan if p is None else p[0] for p in parsed])
    unit = np.array(["" if p is None else p[1] for p in parsed], dtype=object)
    bare = (unit == "") & np.isfinite(value)
    why = "written beside each reading"
    if bare.any():
        written = {str(u) for u in unit if u}
        if letter:
            found, why = letter, "as asked"
        elif len(written) == 1:
            found, why = written.pop(), "written beside other readings"
        else:
            found, why = scale.soil_unit(path, value[bare])
        unit[bare] = found
    celsius = np.full(len(value), np.nan)
    for u in {str(u) for u in unit if u}:
        celsius[unit == u] = to_celsius(value[unit == u], u)
    named = sorted({str(u) for u in unit if u})
    return celsius, " and ".join(scale.NAMES[u] for u in named) or "°C", why


def _depth(text: str) -> float:
    """Return a depth in metres, NaN if there is none."""
    if not text:
        return np.nan
    try:
        return parse_length(re.sub(r"-|\s", "", text).replace("″", '"'))
    except InputError:
        return np.nan
