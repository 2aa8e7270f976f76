"""What the user says of a file's columns: ``soil10=Probe A`` stands above every heading."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from forecaster.ground.errors import FileError, InputError
from forecaster.ground.units import parse_length
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.columns import Meaning

_SIMPLE = {
    "date": Meaning(role=col.DATE),
    "time": Meaning(role=col.TIME),
    "tmin": Meaning(role=col.TMIN, medium=col.AIR),
    "tmax": Meaning(role=col.TMAX, medium=col.AIR),
    "tavg": Meaning(role=col.TAVG, medium=col.AIR),
    "air": Meaning(role=col.TEMP, medium=col.AIR),
    "rain": Meaning(role=col.PRECIP),
    "probe": Meaning(role=col.PROBE),
}
_SHOWN = 12
_EXPECTED = "date, time, tmin, tmax, tavg, air, rain, probe or soil with a depth, as soil10 (cm)"


@dataclass(frozen=True, slots=True)
class Told:
    """Meanings told by the user, each with the name or number of its column."""

    columns: tuple[tuple[str, str, Meaning], ...] = ()

    def of(self, headings: Sequence[str], width: int, path: str) -> dict[int, Meaning]:
        """Return the told meaning of each place in a table.

        Raises
        ------
        FileError
            If the table has no such column.
        """
        found: dict[int, Meaning] = {}
        for key, name, meaning in self.columns:
            place = _place(name, headings, width)
            if place is None:
                raise FileError(
                    f"no column {name!r} for {key}",
                    path=path,
                    expected=_known(headings, width),
                    remedy=f"Say --column {key}=NAME with a name from the heading or its number.",
                )
            own = col.understand(headings[place]) if place < len(headings) else meaning
            unit = own.unit if own.role in col.TEMPERATURES or own.role == meaning.role else ""
            found[place] = _with_unit(meaning, unit)
        return found

    @property
    def tells_temperature(self) -> bool:
        """Whether any temperature is told; then no other column is one."""
        return any(m.role in col.TEMPERATURES for _, _, m in self.columns)


NOTHING_TOLD = Told()


def told(columns: Mapping[str, str] | None) -> Told:
    """Understand the option `columns`.

    Raises
    ------
    InputError
        If a key is not what can be told of a column.
    """
    return Told(tuple((key, str(name), _meaning(key)) for key, name in (columns or {}).items()))


def _meaning(key: str) -> Meaning:
    word = key.strip().lower()
    if word in _SIMPLE:
        return _SIMPLE[word]
    match = re.fullmatch(r"soil[ _-]?(\d+(?:\.\d+)?)?\s*(cm|mm|m|in|inch|\")?", word)
    if match is None or (match[2] and not match[1]):
        raise InputError(f"a column cannot be told as {key!r}; expected {_EXPECTED}")
    depth_m = parse_length(f"{match[1]} {match[2] or 'cm'}") if match[1] else None
    if depth_m is not None and not 0.0 <= depth_m <= 5.0:
        raise InputError(f"{key!r} is {depth_m:g} m deep; expected 0 to 5 m")
    return Meaning(role=col.TEMP, medium=col.SOIL, depth_m=depth_m)


def _known(headings: Sequence[str], width: int) -> str:
    named = [repr(h) for h in headings if h]
    if not named:
        return f"a number from 1 to {width}"
    more = f" and {len(named) - _SHOWN} more" if len(named) > _SHOWN else ""
    return f"one of {', '.join(named[:_SHOWN])}{more}"


def _with_unit(meaning: Meaning, unit: str) -> Meaning:
    return Meaning(
        role=meaning.role, medium=meaning.medium, depth_m=meaning.depth_m, unit=unit
    )  # fmt: skip


def _place(name: str, headings: Sequence[str], width: int) -> int | None:
    """Find a column by its heading as written, else without regard to case, else by number."""
    wanted = " ".join(name.split())
    for same in (str, str.lower):
        for k, heading in enumerate(headings):
            if same(" ".join(heading.split())) == same(wanted):
                return k
    if wanted.isdecimal() and 1 <= int(wanted) <= max(width, len(headings)):
        return int(wanted) - 1
    return None
