"""The words of the planting sheet: how to use it, the strings' names, the table of squares."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.units import METRES_PER_FOOT
from forecaster.plan.layout.sheet import Sheet
from forecaster.words.phrases import number

LETTERS = "ABCDEFGH"


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of the table: the name of each, and the words of its squares."""

    names: list[str]
    cells: list[list[str]]


def how_to(sheet: Sheet) -> list[str]:
    """Return how two people plant from the sheet, step by step."""
    feet = number(sheet.square_m / METRES_PER_FOOT)
    metres = number(100.0 * sheet.square_m, 0)
    inch = number(sheet.feet_an_inch, 2)
    if sheet.centred:
        start = (
            "2. Put a stake in the centre and stretch two strings through it, square to each "
            f"other: the heavy lines 0. Stretch the others every {feet} ft ({metres} cm) to both "
            "sides of them."
        )
    else:
        where = (
            "the bed's corner marked 0"
            if sheet.layout.outline.kind == "rectangle"
            else "the lower left corner of the rectangle of strings around the bed, marked 0"
        )
        start = (
            f"2. From {where}, lay a tape along both sides. Stretch a string across at every "
            f"{feet} ft ({metres} cm) of the long side, and mark every {feet} ft on it."
        )
    joined = (
        " Cut along the outer lines and join the pages where crosses of one number meet."
        if len(sheet.tiles) > 1
        else ""
    )
    turn = " The bed's left end is drawn down: turn the sheet to the right." * sheet.turned
    scale = f"{inch} ft of bed (1 to {number(12.0 * sheet.feet_an_inch)})"
    size = (
        "1. Print at actual size (100 %): the bar below must measure 5 in (12.7 cm). "
        f"1 in of paper is then {scale}.{joined}{turn}"
    )
    work = (
        "3. Carry to each row what the table says. One reads a square and hands the plants, the "
        "other sets them where the sheet shows; begin at the far end and step back."
    )
    return [size, start, work]


def names_of(sheet: Sheet) -> tuple[list[str], list[str]]:
    """Return what stands at the strings, across and along: feet from the corner or centre."""
    return _feet(sheet.columns_m), _feet(sheet.rows_m)


def _feet(lines_m: Floats) -> list[str]:
    return [number(abs(float(at)) / METRES_PER_FOOT) for at in lines_m]


def string_table(sheet: Sheet) -> tuple[list[str], Rows, list[str]]:
    """Return the columns' names, the rows from the far end, and what each row takes in all."""
    across = _between(sheet.columns_m, ("left", "right") if sheet.centred else ("", ""))
    along = _between(sheet.rows_m, ("near", "far") if sheet.centred else ("", ""))
    cells = [[_said(square) for square in row] for row in sheet.counts[::-1]]
    sums = [_said(row.sum(axis=0)) for row in sheet.counts[::-1]]
    return across, Rows(along[::-1], cells), sums


def table_text(sheet: Sheet) -> str:
    """Return the table as lines of text."""
    heads, body, sums = string_table(sheet)
    lines = [["ft", *heads, "row"]]
    lines += [
        [name, *cells, total]
        for name, cells, total in zip(body.names, body.cells, sums, strict=True)
    ]
    widths = [max(len(line[k]) for line in lines) for k in range(len(lines[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )


def _between(lines_m: Floats, sides: tuple[str, str]) -> list[str]:
    """Return names of the squares between strings: `3–4`, `left 1–0`."""
    names = []
    for low, high in pairwise(lines_m):
        side = sides[0] if np.round(high, 6) <= 0.0 else sides[1]
        span = f"{_feet(np.array([low]))[0]}–{_feet(np.array([high]))[0]}"
        names.append(f"{side} {span}".strip())
    return names


def _said(counts: Ints) -> str:
    """Return plants by letter: `2A 1C`; a dash for none."""
    return " ".join(f"{n}{LETTERS[k]}" for k, n in enumerate(counts) if n) or "–"
