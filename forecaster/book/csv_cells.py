"""Cells of an exported CSV table: no cell starts a formula, and every value reads back.

A text that begins like a formula, with a quote mark or with white space, and the empty text, get
one ``'`` in front; reading takes one ``'`` away. Numbers are written bare (``-3.5`` is a number,
no formula). An empty cell is a missing value.
"""

from __future__ import annotations

from typing import Any, Literal

Kind = Literal["INTEGER", "REAL", "TEXT"]
Value = str | int | float | None

GUARD = "'"
_LARGEST = 2**63
"""Whole numbers of SQLite end there; no measure of a book comes near it, nan and inf neither."""
# OWASP, CSV Injection: = + - @, tab and return, and their full-width forms.
_FORMULA = "=+-@＝＋－＠"


def guarded(text: str) -> str:
    """Return text as a cell that no spreadsheet takes for a formula.

    >>> guarded("=1+1"), guarded("lettuce"), guarded("'tis"), guarded("")
    ("'=1+1", 'lettuce', "''tis", "'")
    """
    inner = text.lstrip()
    safe = text != "" and inner == text and text[0] not in _FORMULA + GUARD
    return text if safe else GUARD + text


def unguarded(cell: str) -> str:
    """Return the text that a cell was made of.

    >>> unguarded(guarded("-5 or so"))
    '-5 or so'
    """
    return cell.removeprefix(GUARD)


def to_cell(value: Value) -> str:
    """Return a value of the book as a cell."""
    if value is None:
        return ""
    return guarded(value) if isinstance(value, str) else repr(value)


def from_cell(cell: str, kind: Kind) -> Value:
    """Return the value of a cell in a column of a kind.

    Raises
    ------
    ValueError
        If it is not a value of that kind.
    """
    if cell == "":
        return None
    if kind == "TEXT":
        return unguarded(cell)
    return checked(int(cell) if kind == "INTEGER" else float(cell), kind)


def checked(value: Any, kind: Kind) -> Value:
    """Return a value if it is of a column's kind.

    Raises
    ------
    ValueError
        If it is not.
    """
    if value is None:
        return None
    if kind == "TEXT" and isinstance(value, str):
        return value
    number = isinstance(value, int | float) and not isinstance(value, bool)
    number = number and -_LARGEST < value < _LARGEST
    if kind == "REAL" and number:
        return float(value)
    if kind == "INTEGER" and isinstance(value, int) and number:
        return value
    said = "a nested value" if isinstance(value, list | dict) else f"{value!r:.60}"
    raise ValueError(f"{said} is no {kind.lower()} value")
