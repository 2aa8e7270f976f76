"""Dates and times read by their shape, a whole column at once.

Every digit of a cell is replaced by 0; cells then fall into a few shapes (``0000-00-00 00:00``).
A shape is understood once, by regular expressions, and all its cells are read together from
fixed positions. Nothing is decided here about the order of day and month: see `dates`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.arrays import Ints

Texts = NDArray[np.object_]
Cells = NDArray[np.object_] | NDArray[np.bytes_]

LONGEST_DATE = WIDEST = 80
FIRST_STAMP, LAST_STAMP = 1_900_000_000, 2_200_000_000
"""Ten digits written as year to hour; as seconds since 1970 they are days after 2030."""
MOST_SHAPES = 64

# Kinds of date: how the fields a, b, c are to be taken.
NONE, YMD, NUMERIC, NO_YEAR, ORDINAL, EPOCH, SERIAL = range(7)

MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_MONTH = (
    r"(?P<name>jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|"
    r"sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)\.?"
)
_TH = "(?:st|nd|rd|th)?"
_CLOCK = (
    r"(?P<hour>\d{1,2})(?:(?:[:h.](?P<minute>\d\d)(?:[:.m](?P<second>\d\d)(?:[.,](?P<part>\d+))?)?)"
    r"(?:\s*(?P<half>[ap])\.?\s?m\.?)?|\s*(?P<half2>[ap])\.?\s?m\.?|\s*h(?:rs?)?)"
)
_ZONE = (
    r"(?:\s*(?:(?:gmt|utc)?(?P<sign>[+\-])(?P<zone_h>\d\d):?(?P<zone_m>\d\d)?|(?P<utc>z|utc|gmt))"
    r"(?:\s*\([a-z .]+\))?)?"
)
_TAIL = rf"(?:(?:\s*[t,]\s*|\s+|\s+at\s+|\s*-\s+){_CLOCK}{_ZONE})?"
_SEP = r"\s*(?P<sep>[/.\-])\s*"

_DATES: tuple[tuple[int, str], ...] = (
    (YMD, rf"(?P<a>\d{{4}})(?P<sep>[-/. ])(?P<b>\d{{1,2}})(?P=sep)(?P<c>\d{{1,2}}){_TAIL}"),
    (YMD, r"(?P<a>\d{4})(?P<b>\d\d)(?P<c>\d\d)"),
    (
        YMD,
        r"(?P<a>\d{4})(?P<b>\d\d)(?P<c>\d\d)[t :]?(?P<hour>\d\d)(?P<minute>\d\d)(?P<second>\d\d)?"
        + _ZONE,
    ),
    (YMD, rf"(?P<a>\d{{4}})(?P<b>\d\d)(?P<c>\d\d){_TAIL}"),
    (ORDINAL, rf"(?P<a>\d{{4}})-(?P<b>\d{{3}}){_TAIL}"),
    (NUMERIC, rf"(?P<a>\d{{1,2}}){_SEP}(?P<b>\d{{1,2}})\s*(?P=sep)\s*(?P<c>\d{{4}}|\d\d){_TAIL}"),
    (YMD, rf"(?P<c>\d{{1,2}}){_TH}[\s\-.,/]*{_MONTH}[\s\-.,/]*(?P<a>\d{{4}}|\d\d){_TAIL}"),
    (
        YMD,
        rf"{_MONTH}[\s\-./]*(?P<c>\d{{1,2}}){_TH}(?:\s*[,\-/.]\s*|\s+)(?P<a>\d{{4}}|\d\d){_TAIL}",
    ),
    (YMD, rf"(?P<a>\d{{4}})[\s\-.,/]*{_MONTH}[\s\-.,/]*(?P<c>\d{{1,2}}){_TAIL}"),
    (NO_YEAR, rf"(?P<a>\d{{1,2}})(?P<sep>[/\-])(?P<b>\d{{1,2}}){_TAIL}"),
    (NO_YEAR, rf"(?P<a>\d{{1,2}})(?P<sep>\.)(?P<b>\d{{1,2}})\.{_TAIL}"),
    (NO_YEAR, rf"(?P<b>\d{{1,2}}){_TH}[\s\-.]*{_MONTH}{_TAIL}"),
    (NO_YEAR, rf"{_MONTH}[\s\-]*(?P<b>\d{{1,2}}){_TH}{_TAIL}"),
    (EPOCH, r"(?P<c>\d{10})(?:\.0+)?|(?P<b>\d{13})"),
    (SERIAL, r"(?P<c>[0-9]{5})(?:[.,](?P<part>\d+))?"),
)  # fmt: skip
_DATE_PATTERNS = tuple((kind, re.compile(pattern)) for kind, pattern in _DATES)
_WEEKDAY_FIRST = re.compile(r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+")
_HALVES = (
    (re.compile(r"(?<=\d)\s*(?:dop|vorm|fm|de)\.?$"), " am"),
    (re.compile(r"(?<=\d)\s*(?:odp|nachm|em|du)\.?$"), " pm"),
)
"""Halves of the day in Czech, German, Swedish and Hungarian; they end a cell."""
_CLOCK_PATTERNS = (
    re.compile(_CLOCK + _ZONE),
    re.compile(r"(?P<hour>\d\d)(?P<minute>\d\d)(?P<second>\d\d)?"),
    re.compile(r"(?P<hour>\d)(?P<minute>\d\d)"),
    re.compile(r"(?P<hour>\d{1,2})(?:[.,]0+)?"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where the fields of one shape stand, and what its letters say."""

    kind: int
    spans: tuple[tuple[str, int, int], ...]
    month: int = 0
    half: str = ""
    sign: int = 0
    separator: str = ""


@dataclass(slots=True, kw_only=True)
class Fields:
    """What the cells of a column say, field by field; −1 where a field is absent."""

    kind: NDArray[np.int8]
    a: Ints
    b: Ints
    c: Ints
    hour: Ints
    minute: Ints
    second: Ints
    nanosecond: Ints
    offset_min: NDArray[np.float64]
    separators: set[str]
    two_digit_year: NDArray[np.bool_]
    numeric_order: NDArray[np.bool_]


def as_bytes(cells: Cells) -> NDArray[np.bytes_]:
    """Return the cells as fixed-width ASCII; what does not fit becomes ``?``."""
    try:
        found = cells.astype("S")
    except UnicodeEncodeError:
        found = np.array([str(c).encode("ascii", "replace") for c in cells], dtype="S")
    if found.dtype.itemsize > WIDEST:
        found = np.where(np.char.str_len(found) > WIDEST, b"?", found).astype(f"S{WIDEST}")
    return found


def _absent(n: int) -> Ints:
    return np.full(n, -1, dtype=np.int64)


def read_fields(cells: Cells, *, clock_only: bool = False) -> Fields:
    """Read a column of dates, or of times of day where `clock_only`."""
    n = len(cells)
    found = Fields(
        kind=np.zeros(n, dtype=np.int8),
        a=_absent(n),
        b=_absent(n),
        c=_absent(n),
        hour=_absent(n),
        minute=_absent(n),
        second=_absent(n),
        nanosecond=np.zeros(n, dtype=np.int64),
        offset_min=np.full(n, np.nan),
        separators=set(),
        two_digit_year=np.zeros(n, dtype=np.bool_),
        numeric_order=np.zeros(n, dtype=np.bool_),
    )
    if not n:
        return found
    text = as_bytes(cells)
    width = max(1, text.dtype.itemsize)
    letters = text.view(np.uint8).reshape(n, width)
    shapes = np.where((letters >= 48) & (letters <= 57), np.uint8(48), letters)
    codes = np.ascontiguousarray(shapes).view(f"S{width}").ravel()
    for shape, rows in _groups(codes):
        layout = layout_of(shape.decode("ascii", "replace"), clock_only)
        if layout is not None:
            _fill(found, letters, rows, layout)
    return found


def _groups(codes: NDArray[np.bytes_]) -> list[tuple[bytes, slice | Ints]]:
    """Group row numbers by shape; the common case of one shape costs one comparison."""
    first = codes[0]
    same = codes == first
    if same.all():
        return [(bytes(first), slice(None))]
    groups: list[tuple[bytes, slice | Ints]] = [(bytes(first), np.flatnonzero(same))]
    left = np.flatnonzero(~same)
    while len(left) and len(groups) < MOST_SHAPES:
        first = codes[left[0]]
        same = codes[left] == first
        groups.append((bytes(first), left[same]))
        left = left[~same]
    if len(left):
        unique, inverse = np.unique(codes[left], return_inverse=True)
        order = np.argsort(inverse, kind="stable")
        ends = np.cumsum(np.bincount(inverse))[:-1]
        parts = np.split(left[order], ends)
        groups += [(bytes(u), rows) for u, rows in zip(unique, parts, strict=True)]
    return groups


@lru_cache(maxsize=4096)
def layout_of(shape: str, clock_only: bool = False) -> Layout | None:
    """Understand one shape, or return None."""
    lower = shape.lower()
    lead = len(lower) - len(lower.lstrip())
    body = lower.strip()
    for pattern, half in _HALVES:
        body = pattern.sub(half, body)
    if clock_only:
        patterns = tuple((NONE, p) for p in _CLOCK_PATTERNS)
    else:
        patterns = _DATE_PATTERNS
        if weekday := _WEEKDAY_FIRST.match(body):
            lead += weekday.end()
            body = body[weekday.end() :]
    for kind, pattern in patterns:
        if match := pattern.fullmatch(body):
            return _layout(kind, match, lead)
    return None


def _layout(kind: int, match: re.Match[str], lead: int) -> Layout:
    groups = match.groupdict()
    spans = tuple(
        (name, match.start(name) + lead, match.end(name) + lead)
        for name in ("a", "b", "c", "hour", "minute", "second", "part", "zone_h", "zone_m")
        if groups.get(name)
    )
    name = groups.get("name")
    return Layout(
        kind=kind,
        spans=spans,
        month=MONTHS.index(name[:3]) + 1 if name else 0,
        half=groups.get("half") or groups.get("half2") or "",
        sign={"+": 1, "-": -1}.get(groups.get("sign") or "", 0) or (2 if groups.get("utc") else 0),
        separator=groups.get("sep") or "",
    )


def _number(letters: NDArray[np.uint8], rows: slice | Ints, start: int, end: int) -> Ints:
    total = letters[rows, start].astype(np.int64) - 48
    for position in range(start + 1, end):
        total = total * 10 + (letters[rows, position] - 48)
    return total


def _fill(found: Fields, letters: NDArray[np.uint8], rows: slice | Ints, layout: Layout) -> None:
    """Write the fields of all cells of one shape."""
    zone_h: Ints | int = 0
    zone_m: Ints | int = 0
    found.kind[rows] = layout.kind
    if layout.separator and layout.kind in (NUMERIC, NO_YEAR):
        found.separators.add(layout.separator)
    for name, start, end in layout.spans:
        if name == "part":
            digits = min(end - start, 9)
            value = _number(letters, rows, start, start + digits)
            found.nanosecond[rows] = value * 10 ** (9 - digits)
            continue
        value = _number(letters, rows, start, end)
        if name == "zone_h":
            zone_h = value
        elif name == "zone_m":
            zone_m = value
        else:
            getattr(found, name)[rows] = value
            if end - start == 2 and name == ("a" if layout.kind == YMD else "c"):
                found.two_digit_year[rows] = True
    if layout.month:
        (found.a if layout.kind == NO_YEAR else found.b)[rows] = layout.month
    found.numeric_order[rows] = layout.kind in (NUMERIC, NO_YEAR) and not layout.month
    if layout.sign:
        found.offset_min[rows] = 0 if layout.sign == 2 else layout.sign * (zone_h * 60 + zone_m)
    if layout.kind == EPOCH:
        _split_stamps(found, rows)
    if layout.half:
        hour = found.hour[rows]
        twelve = hour % 12 + (12 if layout.half == "p" else 0)
        found.hour[rows] = np.where((hour >= 1) & (hour <= 12), twelve, 99)


def _split_stamps(found: Fields, rows: slice | Ints) -> None:
    """Part ten digits from 1900 on into year, month, day and hour: as seconds they lie ahead."""
    seconds = found.c[rows]
    places = np.arange(len(found.c))[rows][(seconds >= FIRST_STAMP) & (seconds < LAST_STAMP)]
    if not len(places):
        return
    digits = found.c[places]
    found.kind[places] = YMD
    found.a[places], found.b[places] = digits // 1_000_000, digits // 10_000 % 100
    found.c[places], found.hour[places] = digits // 100 % 100, digits % 100
