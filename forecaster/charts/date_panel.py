"""The lower panel: the date's chances, twenty dots of one in twenty each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from forecaster.charts.data import ChartData, Mark, as_date, day_number, dots, view
from forecaster.charts.style import (
    CLAY,
    MOSS,
    PAPER,
    SIZE_IN,
    UMBER,
    calendar,
    plain,
    today_line,
)
from forecaster.words.phrases import degrees

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DOT_POINTS = 11.0
LEAST_ROWS = 4
STRIP_GAP_ROWS = 1.8
NEVER_ABREAST = 3


def date_panel(axes: Axes, data: ChartData) -> None:
    """Stack each date's chances as dots; those of never stand apart at the right."""
    first, last = view(data)
    step = _column_days(first, last)
    strips = [_strip(mark, first, last, step) for mark in data.marks]
    tall = [
        max(_rows(days, dots(mark)[1]), LEAST_ROWS)
        for mark, days in zip(data.marks, strips, strict=True)
    ]
    span = sum(tall) + STRIP_GAP_ROWS * len(tall) + 1.5
    box = axes.get_position()
    size = min(0.9 * DOT_POINTS, 0.95 * box.height * SIZE_IN[1] * 72.0 / span)
    base, end = 0.0, float(day_number(last))
    bases = []
    for mark, columns, rows in zip(data.marks, strips, tall, strict=True):
        x = [float(day_number(first)) + (column + 0.5) * step for column, _ in columns]
        y = [base + row + 0.5 for _, row in columns]
        axes.plot(x, y, "o", color=UMBER, mec=PAPER, mew=0.5, ms=size, ls="none", label="date dots")
        if dots(mark)[1]:
            end = float(day_number(last)) + (NEVER_ABREAST + 2) * step
            _never(axes, float(day_number(last)), step, base, never=dots(mark)[1], size=size)
        _ground(axes, mark, base, first, last)
        bases.append(base)
        base += rows + STRIP_GAP_ROWS
    axes.set_ylim(-1.5, base)
    axes.set_yticks(bases, [degrees(mark.threshold_c, "F") for mark in data.marks], va="bottom")
    for name in axes.get_yticklabels():
        name.set(color=MOSS, fontweight="bold", fontsize=14)
    today_line(axes, data.today)
    calendar(axes, first, last, end)
    plain(axes)


def _column_days(first: np.datetime64, last: np.datetime64) -> int:
    """Return how many days share a column, so that dots do not overlap."""
    width_points = SIZE_IN[0] * 0.72 * 72.0
    return max(1, int(np.ceil((day_number(last) - day_number(first)) * DOT_POINTS / width_points)))


def _strip(
    mark: Mark, first: np.datetime64, last: np.datetime64, step: int
) -> list[tuple[int, int]]:
    """Return column and row of each dot in view."""
    height: dict[int, int] = {}
    places = []
    for when in dots(mark)[0]:
        if as_date(first) <= when <= as_date(last):
            column = (when - as_date(first)).days // step
            places.append((column, height.get(column, 0)))
            height[column] = height.get(column, 0) + 1
    return places


def _rows(places: list[tuple[int, int]], never: int) -> int:
    """Return how many rows a strip needs; never has its word above."""
    needed = -(-never // NEVER_ABREAST) + 2 if never else 0
    return max([row + 1 for _, row in places] + [needed, 1])


def _ground(axes: Axes, mark: Mark, base: float, first: np.datetime64, last: np.datetime64) -> None:
    """Draw what a strip stands on: its line, and the usual date."""
    axes.axhline(base, color=CLAY, lw=1.0)
    if mark.usual is not None and first <= np.datetime64(mark.usual, "D") <= last:
        axes.plot(
            [float(day_number(np.datetime64(mark.usual, "D")))], [base - 0.75], "^", ms=10.5,
            mfc=PAPER, mec=MOSS, mew=2, clip_on=False, zorder=6, label="usual date here", ls="none",
        )  # fmt: skip


def _never(axes: Axes, after: float, step: int, base: float, *, never: int, size: float) -> None:
    """Stack the chances of never as hollow dots, three abreast, beyond the last day."""
    count = np.arange(never)
    x = after + (count % NEVER_ABREAST + 1.5) * step
    y = base + count // NEVER_ABREAST + 0.5
    axes.plot(x, y, "o", mfc=PAPER, mec=UMBER, mew=1.4, ms=0.85 * size, ls="none", label="never")
    right = after + (NEVER_ABREAST + 2) * step
    axes.annotate("never", (right, float(y.max()) + 0.7), ha="right", va="bottom", fontsize=14)
