"""What a reader did with a file: nothing is dropped without being counted here."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Self

GRIDDED = "gridded "
"""With this begins, in a record's column of stations, the name of what is none."""


def is_gridded(station: str) -> bool:
    """Whether a station's name says that it is a square of a grid."""
    return station.startswith(GRIDDED)


@dataclass(frozen=True, slots=True)
class Refusal:
    """One row that was not used: its line number in the file, counted from 1, and why.

    `file` names the file where several were read together.
    """

    line: int
    reason: str
    file: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A stretch of values that look wrong: kept or dropped as `action` says.

    Parameters
    ----------
    kind : {"out of range", "jump", "stuck", "minimum above maximum"}
        What was seen.
    column : str
        Column of the table.
    first, last : str
        ISO dates or times of the stretch.
    values : int
        How many values.
    action : {"kept", "dropped"}
        What the reader did.
    note : str
        The evidence in words, as ``19 days of exactly 0.0 °C in summer``.
    """

    kind: str
    column: str
    first: str
    last: str
    values: int
    action: str
    note: str


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a file: what it was taken as, or why it was left aside.

    Parameters
    ----------
    name : str
        Its heading as written, or its number.
    taken : str
        What it was taken as, ``soil at 10 cm``; "" where it was left.
    why : str
        Why it was left, ``water content``; "" where it was taken.
    """

    name: str
    taken: str
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """What was read, how it was understood and what was left out.

    Parameters
    ----------
    path : str
        The file or folder, as the user named it.
    format : str
        What kind of file it is, in words.
    why_format : str
        The evidence for that.
    units, why_units : str
        Units understood and the evidence.
    rows_read : int
        Data rows seen.
    rows_used : int
        Rows that reached the table.
    refused : tuple of Refusal
        Refusals in file order: the first 100 of each reason, at most 1,000 in all;
        `refused_count` has them all.
    refused_count : dict of str to int
        Number of refused rows by reason; its sum is `rows_read - rows_used`.
    gap_days : int
        Days inside the table's span without a value.
    longest_gap : str
        The longest gap in words, or "".
    suspects : tuple of Suspect
        Values that look wrong.
    notes : tuple of str
        Anything else the user should know, a sentence each.
    latitude_deg, longitude_deg : float, optional
        Coordinates found in the file.
    station : str
        Station name or number found in the file.
    files : tuple of str
        The files read.
    columns : tuple of Column
        Of tables: every column in the order of the file, and what became of it.
    """

    path: str
    format: str
    why_format: str
    units: str
    why_units: str
    rows_read: int
    rows_used: int
    refused: tuple[Refusal, ...] = ()
    refused_count: dict[str, int] = field(default_factory=dict)
    gap_days: int = 0
    longest_gap: str = ""
    suspects: tuple[Suspect, ...] = ()
    notes: tuple[str, ...] = ()
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    station: str = ""
    files: tuple[str, ...] = ()
    columns: tuple[Column, ...] = ()

    @property
    def gridded(self) -> bool:
        """Whether the record is of a square of a grid, a stand-in for a station."""
        return is_gridded(self.station)

    def __deepcopy__(self, memo: dict[int, Any]) -> Self:
        """Return the same account: pandas copies `attrs` at every step, and this is frozen."""
        return self
