"""Cells of an even table, taken as bytes straight from the text, without one string a cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.arrays import Ints
from forecaster.ingest.text.shapes import WIDEST

_NEWLINE = 10


@dataclass(frozen=True, slots=True)
class Grid:
    """Where each cell of an even table begins and ends in the text."""

    text: NDArray[np.uint8]
    ends: Ints

    @property
    def rows(self) -> int:
        """Number of lines."""
        return len(self.ends)

    def column(self, place: int) -> NDArray[np.bytes_]:
        """Return one column as fixed-width bytes; wider cells are cut at `WIDEST` + 1."""
        end = self.ends[:, place]
        if place:
            start = self.ends[:, place - 1] + 1
        else:
            start = np.concatenate([[0], self.ends[:-1, -1] + 1])
        length = end - start
        width = int(min(max(length.max(initial=1), 1), WIDEST + 1))
        where = start[:, None] + np.arange(width)
        even = bool((length == width).all())
        if not even:
            where = np.minimum(where, len(self.text) - 1)
        cells = self.text[where]
        if not even:
            cells[np.arange(width) >= length[:, None]] = 0
        found: NDArray[np.bytes_] = cells.view(f"S{width}").ravel()
        return found


def grid_of(body: bytes, delimiter: str, width: int) -> Grid | None:
    """Return the grid of a text whose every line has `width` cells; None if it is not so."""
    if len(delimiter) != 1 or b'"' in body or not body or width < 1:
        return None
    if not body.endswith(b"\n"):
        body += b"\n"
    text = np.frombuffer(body, dtype=np.uint8)
    ends = np.flatnonzero((text == ord(delimiter)) | (text == _NEWLINE))
    if len(ends) % width:
        return None
    table = ends.reshape(-1, width)
    if (text[table[:, -1]] != _NEWLINE).any() or (text[table[:, :-1]] == _NEWLINE).any():
        return None
    return Grid(text, table)
