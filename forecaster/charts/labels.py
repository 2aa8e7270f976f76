"""Where labels go: near what they name, off every line, mark and other label of the panel."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from forecaster.charts.style import INK, PAPER
from forecaster.ground.arrays import Bools, Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

CELL_PX = 2.0
CLEAR_PX = 4.0
"""Kept free around a label."""
FAR_PX = 26.0
"""A label that stands farther from what it names is joined to it by a thin line."""


class Room:
    """The pixels of a panel, and which of them a label must not cover.

    Make it when the limits of both axes are set: what was kept off does not move with them.
    """

    def __init__(self, axes: Axes) -> None:
        self.axes = axes
        self.box = axes.get_window_extent()
        shape = (int(self.box.height / CELL_PX) + 1, int(self.box.width / CELL_PX) + 1)
        self.taken: Bools = np.zeros(shape, dtype=bool)

    def pixels(self, x: Any, y: Any) -> Floats:
        """Return data points as pixels of the panel from its lower left, (n, 2) array."""
        points = np.column_stack([np.asarray(x, dtype=float), np.asarray(y, dtype=float)])
        turned: Floats = np.asarray(self.axes.transData.transform(points), dtype=float)
        turned -= (self.box.x0, self.box.y0)
        return turned

    def keep_off_line(self, x: Any, y: Any) -> None:
        """Keep labels off a line through data points; a gap in it stays free."""
        self._take_line(self.pixels(x, y))

    def keep_off_points(self, x: Any, y: Any, size_px: float) -> None:
        """Keep labels off marks of a size."""
        for across, up in self.pixels(x, y):
            if np.isfinite(across) and np.isfinite(up):
                half = size_px / 2.0
                self._take(across - half, up - half, across + half, up + half)

    def put(
        self,
        label: Text,
        x: float,
        y: float,
        *,
        sideways: float = 1.0,
        join: bool = True,
    ) -> None:
        """Move a label to the free place nearest to a data point.

        Parameters
        ----------
        label : Text
            Of the panel, its lower left is moved.
        x, y : float
            What it names, in data.
        sideways : float
            How much a pixel to the side counts against one up or down.
        join : bool
            Draw a thin line to it where it stands far off.
        """
        from matplotlib.transforms import IdentityTransform  # noqa: PLC0415

        label.set_transform(IdentityTransform())
        label.set_horizontalalignment("left")
        label.set_verticalalignment("bottom")
        label.set_position((0.0, 0.0))
        size = label.get_window_extent()
        wide, tall = size.width + 2.0 * CLEAR_PX, size.height + 2.0 * CLEAR_PX
        anchor = self.pixels([x], [y])[0]
        left, low = self._nearest_free(anchor, wide, tall, sideways)
        self._take(left, low, left + wide, low + tall)
        at = np.array([left + CLEAR_PX, low + CLEAR_PX])
        near = np.clip(anchor, at, at + np.array([size.width, size.height]))
        label.set_transform(self.axes.transAxes)
        label.set_position(tuple((at - (size.x0, size.y0)) / (self.box.width, self.box.height)))
        if join and np.hypot(*(near - anchor)) > FAR_PX:
            ends = np.array([anchor, near]) / (self.box.width, self.box.height)
            self.axes.plot(
                ends[:, 0], ends[:, 1], color=INK, lw=0.9, transform=self.axes.transAxes, zorder=6,
                label="_joined",
            )  # fmt: skip
            self._take_line(np.array([anchor, near]))

    def _nearest_free(
        self, anchor: Floats, wide: float, tall: float, sideways: float
    ) -> tuple[float, float]:
        """Return the lower left of the nearest free box; of the least taken where none is free."""
        rows, columns = self.taken.shape
        high, broad = (int(np.ceil(side / CELL_PX)) + 1 for side in (tall, wide))
        high, broad = min(high, rows - 1), min(broad, columns - 1)
        summed = np.zeros((rows + 1, columns + 1))
        summed[1:, 1:] = self.taken.cumsum(axis=0).cumsum(axis=1)
        over = (
            summed[high:, broad:] - summed[:-high, broad:] - summed[high:, :-broad]
            + summed[:-high, :-broad]
        )  # fmt: skip
        low = np.arange(over.shape[0])[:, None] * CELL_PX
        left = np.arange(over.shape[1])[None, :] * CELL_PX
        away_x = np.maximum(np.maximum(left - anchor[0], anchor[0] - left - wide), 0.0)
        away_y = np.maximum(np.maximum(low - anchor[1], anchor[1] - low - tall), 0.0)
        middle = abs(left + wide / 2.0 - anchor[0])
        cost = np.hypot(sideways * away_x, away_y) + 0.02 * sideways * middle + 1e6 * over
        row, column = np.unravel_index(int(np.argmin(cost)), cost.shape)
        return float(column) * CELL_PX, float(row) * CELL_PX

    def _take_line(self, points: Floats) -> None:
        """Take the cells of a line and those beside them."""
        start, step = points[:-1], np.diff(points, axis=0)
        whole = np.isfinite(step).all(axis=1)
        start, step = start[whole], step[whole]
        if not len(step):
            return
        pieces = int(np.abs(step).max() / CELL_PX) + 2
        share = np.linspace(0.0, 1.0, pieces)[:, None]
        dense = (start[:, None] + share * step[:, None]).reshape(-1, 2)
        column, row = (dense / CELL_PX).astype(int).T
        rows, columns = self.taken.shape
        for up in (-1, 0, 1):
            for across in (-1, 0, 1):
                at, to = row + up, column + across
                inside = (at >= 0) & (at < rows) & (to >= 0) & (to < columns)
                self.taken[at[inside], to[inside]] = True

    def _take(self, left: float, low: float, right: float, high: float) -> None:
        rows, columns = self.taken.shape
        first, last = (np.clip([low, high], 0.0, rows * CELL_PX) / CELL_PX).astype(int)
        begin, end = (np.clip([left, right], 0.0, columns * CELL_PX) / CELL_PX).astype(int)
        self.taken[first : last + 1, begin : end + 1] = True


def words_on(axes: Axes, words: str, **style: Any) -> Text:
    """Return a label of a panel, to be put somewhere; its ground lets what is behind show."""
    behind = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 1.0}
    return axes.text(0.0, 0.0, words, bbox=behind, zorder=8, **style)
