"""Cells → numbers: units written in the cell, decimal commas, and the ways to say "missing"."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Floats
from forecaster.ground.units import f_to_c, k_to_c

MISSING_WORDS = (
    "", " ", "NaN", "nan", "NAN", "-nan", "NA", "N/A", "n/a", "na", "#N/A", "#NA", "#VALUE!",
    "#REF!", "null", "NULL", "Null", "None", "none", "nil", "-", "--", "---", "----", "-----",
    "M", "m", "*", "**", "***", "****", "*****", ".", "..", "?", "??", "missing", "Missing",
    "MISSING", "MSNG", "no data", "No data", "No Data", "NODATA", "nodata", "ERR", "Err", "error",
    "Error", "ERROR", "OFL", "x", "X", "—", "–",
)  # fmt: skip
MISSING_CODES = (
    -9999.0, -999.0, -99.0, -9999.9, -999.9, -99.9, -999.99, -9999.99, -99.99, -6999.0, -7999.0,
    -8888.0, -888.0, 9999.0, 999.0, 999.9, 9999.9, 999.99, 9999.99, 99999.0, -99999.0, 99999.9,
    32767.0, -32768.0, -32767.0, 6999.0, 7999.0, -777.0, -7777.0, 8888.0, 7777.0, -998.0, -997.0,
    -996.0, -995.0, -994.0, -888.88, -6999.9, 888.0,
)  # fmt: skip
MISSING_TENTHS = (-9999.0, 9999.0, -99999.0, 99999.0)

NUMBER = r"[+\-−–]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+\-]?\d{1,3})?"
_CELL = re.compile(
    rf"\s*[~≈]?\s*(?P<number>{NUMBER})\s*(?:(?:°|º|\*|deg(?:rees?)?\.?)?\s*(?P<unit>[FfCcKk])\b\.?"
    r"|(?:degrees?\s+)?(?P<word>fahrenheit|celsius|Fahrenheit|Celsius)|°)?\s*\??\s*"
)


@dataclass(slots=True)
class Numbers:
    """A column of numbers.

    `units` holds the letter written in each cell ("" where none), or is None where no cell has
    one. `blank` marks cells with nothing, `coded` cells with a code for missing, and `bad` cells
    with something that is no number; `value` is NaN in all three.
    """

    value: Floats
    blank: Bools
    coded: Bools
    bad: Bools
    units: NDArray[np.str_] | None = None


def parse_cell(text: str) -> tuple[float, str] | None:
    """Return the number in a cell and the letter of its unit ("" if none), or None."""
    match = _CELL.fullmatch(text)
    if match is None:
        return None
    number = match["number"].replace(",", ".").replace("−", "-").replace("–", "-")
    return float(number), (match["unit"] or match["word"] or "")[:1].upper()


def numbers(column: pd.Series, codes: tuple[float, ...] = MISSING_CODES) -> Numbers:
    """Read a column of a table, as `pandas.read_csv` gave it, as numbers."""
    absent = column.isna().to_numpy(copy=True)
    units: NDArray[np.str_] | None = None
    bad = np.zeros(len(column), dtype=np.bool_)
    if column.dtype.kind in "fiu":
        value = column.to_numpy(dtype=np.float64, copy=True)
    else:
        value, units, bad = _from_text(column, absent)
    bad |= np.isinf(value)
    value[bad] = np.nan
    coded = _coded(value, codes)
    value[coded] = np.nan
    return Numbers(value, absent, coded, bad, units)


def _coded(value: Floats, codes: tuple[float, ...]) -> Bools:
    """Mark codes for missing; all lie outside −60…140, so most columns are done in one look."""
    found = np.zeros(len(value), dtype=np.bool_)
    far = np.flatnonzero(np.abs(value - 40.0) > 100.0)
    if len(far):
        found[far] = np.isin(value[far], codes)
    return found


def _from_text(column: pd.Series, absent: Bools) -> tuple[Floats, NDArray[np.str_] | None, Bools]:
    """Read a column that is not all plain numbers."""
    if column.dtype.kind == "b":
        return np.full(len(column), np.nan), None, np.ones(len(column), dtype=np.bool_)
    text = column.astype(object).where(~absent, None)
    yes_no = np.fromiter((isinstance(c, bool) for c in text), dtype=np.bool_, count=len(text))
    if yes_no.any():
        text = text.where(~yes_no, "TRUE")
    value = pd.to_numeric(text, errors="coerce").to_numpy(dtype=np.float64, copy=True)
    left = np.flatnonzero(np.isnan(value) & ~absent)
    bad = np.zeros(len(column), dtype=np.bool_)
    if not len(left):
        return value, None, bad
    units = np.full(len(column), "", dtype="U1")
    codes, unique = pd.factorize(text.to_numpy()[left])
    parsed = [parse_cell(str(cell)) for cell in unique]
    number = np.array([np.nan if p is None else p[0] for p in parsed])
    letter = np.array(["" if p is None else p[1] for p in parsed], dtype="U1")
    value[left], units[left] = number[codes], letter[codes]
    missing = np.array([says_missing(str(cell)) for cell in unique])[codes]
    bad[left] = np.isnan(value[left]) & ~missing
    absent[left[missing]] = True
    return value, units if (units != "").any() else None, bad


_MISSING_SET = frozenset(word.strip() for word in MISSING_WORDS)
_STARS = re.compile(r"[*\-.?\s]+")


def says_missing(cell: str) -> bool:
    """Whether a cell is empty or says that nothing was measured, also ``* * *``."""
    if cell[-1:].isdigit():
        return False
    return cell.strip() in _MISSING_SET or bool(_STARS.fullmatch(cell))


def to_celsius(value: Floats, unit: str) -> Floats:
    """Return temperatures in °C from a unit letter: F, C, K, or T for tenths of °C."""
    if unit == "F":
        return f_to_c(value)
    if unit == "K":
        return k_to_c(value)
    return value / 10.0 if unit == "T" else value


def cells_to_celsius(column: Numbers, unit: str) -> Floats:
    """Return a column in °C: the unit in the cell first, `unit` for cells without one."""
    if column.units is None:
        return to_celsius(column.value, unit)
    found = np.full(len(column.value), np.nan)
    for letter in np.unique(column.units):
        rows = column.units == letter
        found[rows] = to_celsius(column.value[rows], str(letter) or unit)
    return found
