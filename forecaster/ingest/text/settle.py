"""Gives each column of a table its meaning: from its heading and from what its cells look like."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from forecaster.ground.errors import FileError
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.columns import Meaning
from forecaster.ingest.text.dialect import (
    Dialect,
    counted_days,
    date_like,
    is_missing,
    number_like,
    time_like,
)
from forecaster.ingest.text.neighbours import together
from forecaster.ingest.text.shapes import EPOCH, LONGEST_DATE, NO_YEAR, SERIAL, layout_of
from forecaster.ingest.text.told import NOTHING_TOLD, Told

Rows = list[tuple[str, ...]]


def settle(
    dialect: Dialect, told: Told = NOTHING_TOLD, path: str = ""
) -> tuple[Dialect, list[Meaning]]:
    """Give each column its meaning; what the user told stands above heading and cells."""
    width = Counter(map(len, dialect.sample)).most_common(1)[0][0] if dialect.sample else 0
    headings = list(dialect.headings)
    sample = [row for row in dialect.sample if len(row) == width]
    if headings and width == len(headings) + 1:
        headings = _one_more(headings, sample)
    while headings and not headings[-1] and len(headings) > width:
        headings.pop()
    headings = _over_the_rest(headings, sample)
    if width and len(headings) > width + 1 and max(map(len, dialect.sample)) == width:
        raise FileError(
            f"the heading has {len(headings)} cells and the rows {width}",
            path=path,
            line=dialect.heading_line,
            expected="a heading for every column",
            remedy="Put headings that hold the sign between cells into quotes.",
        )
    columns = [[row[k] for row in sample if not is_missing(row[k])] for k in range(width)]
    meanings = _with_heading(headings, columns) if headings else _without_heading(columns)
    known = told.of(headings, width, path)
    if told.tells_temperature:
        meanings = [
            Meaning(role=col.OTHER, what="not named by --column")
            if m.role in col.TEMPERATURES
            else m
            for m in meanings
        ]
    nothing = Meaning(role=col.OTHER, what="without a heading")
    meanings += [nothing] * (max(known, default=-1) + 1 - len(meanings))
    for place, meaning in known.items():
        meanings[place] = meaning
    _one_date(headings, meanings, columns, set(known))
    return replace(dialect, headings=tuple(headings)), meanings


def _with_heading(headings: list[str], columns: list[list[str]]) -> list[Meaning]:
    meanings = together(headings, [col.understand(h) for h in headings])
    for place, meaning in enumerate(meanings):
        cells = columns[place] if place < len(columns) else []
        meanings[place] = _by_content(meaning, cells, meanings)
    if not any(m.role in (col.DATE, col.YEAR) for m in meanings):
        _give(col.DATE, date_like, meanings, columns)
    if not any(m.role in (col.TIME, col.HOUR) for m in meanings):
        _give(col.TIME, time_like, meanings, columns)
    return meanings


def _give(
    role: str, is_like: Callable[[str], bool], meanings: list[Meaning], columns: list[list[str]]
) -> None:
    """Give a role to the first column whose cells all look like it; a date to any column."""
    for place, cells in enumerate(columns[: len(meanings)]):
        free = role == col.DATE or meanings[place].role == col.OTHER
        if free and cells and all(map(is_like, cells)):
            meanings[place] = Meaning(role=role)
            return


def _one_more(headings: list[str], sample: Rows) -> list[str]:
    """Mend headings that are one too few: "date time" over two columns, or rows with names."""
    for place, heading in enumerate(headings):
        if col.understand(heading).role in (col.DATE, col.TIME) and all(
            date_like(row[place]) and time_like(row[place + 1]) for row in sample
        ):
            return [*headings[:place], "date", "time", *headings[place + 1 :]]
    if _counts_up([row[0] for row in sample]):
        return ["", *headings]
    return headings


def _over_the_rest(headings: list[str], sample: Rows) -> list[str]:
    """Name columns that have no heading: the last one over several numbers stands for them all."""
    width = max((k + 1 for row in sample for k, cell in enumerate(row) if cell), default=0)
    if not headings or width <= len(headings):
        return headings
    extra = range(len(headings), width)
    last = headings[-1] if col.understand(headings[-1]).role in col.TEMPERATURES else ""
    alike = all(is_missing(row[k]) or number_like(row[k]) for row in sample for k in extra)
    return headings + [f"{last} {n}" if last and alike else "" for n in range(2, len(extra) + 2)]


def _counts_up(cells: list[str]) -> bool:
    """Whether cells are a running number."""
    if len(cells) < 2 or not all(re.fullmatch(r"\d+", c) for c in cells):
        return False
    first = [int(c) for c in cells]
    return all(b - a == 1 for a, b in itertools.pairwise(first))


def _by_content(meaning: Meaning, cells: list[str], meanings: list[Meaning]) -> Meaning:
    """Correct a role by what stands under it."""
    if not cells:
        return meaning
    if meaning.role in (col.STATION, col.PROBE):
        if all(re.fullmatch(r"-?\d+[.,]\d+", c) for c in cells):
            return Meaning(role=col.TEMP, weak=True)
        if len(cells) > 2 and _counts_up(cells):
            return Meaning(role=col.OTHER, what="a running number")
    if meaning.role in (col.DATE, col.TIME, col.DAY, col.HOUR):
        return replace(meaning, role=_moment(meaning.role, cells, meanings))
    return meaning


def _moment(role: str, cells: list[str], meanings: list[Meaning]) -> str:
    """Return what a column of dates or times really holds."""
    if all(map(date_like, cells)):
        return col.DATE
    if role == col.DATE:
        has_year = any(m.role == col.YEAR for m in meanings)
        if has_year and all(re.fullmatch(r"\d{1,2}", c) for c in cells):
            return col.DAY
        return col.TIME if all(map(time_like, cells)) else role
    counted = role == col.TIME and all(_counted_date(c) for c in cells)
    return col.DATE if counted else role


def _counted_date(cell: str) -> bool:
    """Whether a cell counts seconds since 1970 or days since 1899-12-30."""
    layout = layout_of(re.sub(r"\d", "0", cell[:LONGEST_DATE]))
    return layout is not None and layout.kind in (EPOCH, SERIAL)


def _one_date(
    headings: list[str], meanings: list[Meaning], columns: list[list[str]], told: set[int]
) -> None:
    """Of several columns of dates keep the best: with a year and an hour, written as dates."""
    places = [k for k, m in enumerate(meanings) if m.role == col.DATE]
    if not places or (len(places) == 1 and col.YEAR not in {m.role for m in meanings}):
        return
    worth = {k: _worth(headings, columns, k, k in told) for k in places}
    best = max(places, key=lambda k: (worth[k], -k))
    roles = {m.role for m in meanings}
    in_parts = col.YEAR in roles and ({col.MONTH, col.DAY} <= roles or col.DOY in roles)
    for k in places:
        if k != best or (in_parts and worth[k][:2] == (False, False)):
            meanings[k] = Meaning(role=col.OTHER, what="another date")


def _worth(
    headings: list[str], columns: list[list[str]], place: int, told: bool
) -> tuple[bool, bool, bool, bool]:
    cells = columns[place] if place < len(columns) else []
    layouts = [layout_of(re.sub(r"\d", "0", c[:LONGEST_DATE])) for c in cells]
    dated = [m for m in layouts if m is not None and m.kind not in (SERIAL, EPOCH, NO_YEAR)]
    whole = bool(cells) and len(dated) > 0.9 * len(cells)
    timed = whole and any(name == "hour" for m in dated for name, _, _ in m.spans)
    later = place < len(headings) and bool(
        re.search(r"\b(?:end|to|until|fin|stop)\b", col.normal(headings[place]))
    )
    return told, whole, timed, not later


def _without_heading(columns: list[list[str]]) -> list[Meaning]:
    """Give columns without headings the meaning that their cells allow."""
    if (found := _ground_station(columns)) is not None:
        return found
    meanings: list[Meaning] = []
    known: set[str] = set()
    for cells in columns:
        if not cells:
            role = col.OTHER
        elif col.DATE not in known and (
            all(map(date_like, cells)) or all(map(counted_days, cells))
        ):
            role = col.DATE
        elif col.TIME not in known and all(map(time_like, cells)):
            role = col.TIME
        elif all(map(length_like, cells)):
            role = col.DEPTH
        elif len(cells) > 2 and (_counts_up(cells) or set(cells) == {"0"}):
            role = col.OTHER
        else:
            role = col.TEMP if all(map(number_like, cells)) else col.OTHER
        meanings.append(Meaning(role=role))
        known.add(role)
    return meanings


def _ground_station(columns: list[list[str]]) -> list[Meaning] | None:
    """Know the record of a ground station by its structure.

    Running number; date and time (UTC); zone in quarters of an hour; three temperatures, 6 cm
    below, 2 cm and 15 cm above the ground; water content as counted; two flags. Wild et al.,
    2019, "Climate at ecologically relevant scales", Agricultural and Forest Meteorology 268,
    40-47 (from memory). A lone thermometer of the same maker fills the other two with −200.
    """
    if len(columns) < 9 or not all(columns[:9]):
        return None
    number, when, zone, *temperatures, water = columns[:7]
    whole = re.compile(r"-?\d+")
    fits = (
        _counts_up(number)
        and all(map(date_like, when))
        and len(set(zone)) == 1
        and all(whole.fullmatch(c) for c in (*zone, *water, *columns[7]))
        and all(number_like(c) for some in temperatures for c in some)
    )
    if not fits or not any(re.search(r"\d[.,]\d", c) for c in temperatures[0]):
        return None
    lone = all(c.startswith("-200") for some in temperatures[1:] for c in some)
    unused = Meaning(role=col.OTHER, what="not connected")
    soil = Meaning(role=col.TEMP, unit="C", medium=col.SOIL, depth_m=0.06)
    low = Meaning(role=col.TEMP, unit="C", medium=col.SURFACE, height_m=0.02)
    high = Meaning(role=col.TEMP, unit="C", medium=col.SURFACE, height_m=0.15)
    placed = [soil, low, high]
    if lone:  # with a count beside it the thermometer of a band around a stem
        stem = Meaning(role=col.OTHER, what="of a stem")
        alone = replace(soil, medium="", depth_m=None)
        placed = [alone if set(water) == {"0"} else stem, unused, unused]
    return [
        Meaning(role=col.OTHER, what="a running number"), Meaning(role=col.DATE),
        Meaning(role=col.OTHER, what="time zone"), *placed,
        Meaning(role=col.OTHER, what="water content"),
        *(Meaning(role=col.OTHER, what="a flag or quality mark") for _ in columns[7:]),
    ]  # fmt: skip


def length_like(cell: str) -> bool:
    """Whether a cell is a length with its unit, such as 4in or 10 cm."""
    return bool(
        re.fullmatch(r"-?\d+(?:[.,]\d+)?\s*(?:cm|mm|in(?:ch(?:es)?)?|\"|ft|m)", cell.lower())
    )
