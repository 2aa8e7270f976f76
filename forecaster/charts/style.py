"""Our palette and what both panels share: lightness and line style carry the meaning."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from forecaster.charts.data import as_date, day_number
from forecaster.words.phrases import short_day

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE_IN, DOTS_PER_INCH = (7.8, 10.4), 150
PAPER, INK, UMBER, CLAY, SAND, CHALK, MOSS = (
    "#fbf7ee", "#2a241d", "#4a3120", "#a9805a", "#d9bf98", "#e7dfd0", "#3d5a45",
)  # fmt: skip
STYLE: Any = {
    "font.size": 16,
    "font.family": "DejaVu Sans",
    "text.color": INK,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "svg.hashsalt": "crossday",
    "text.parse_math": False,  # a $ in a name is a $
}


def today_line(axes: Axes, today: date) -> None:
    """Draw where the past ends."""
    axes.axvline(float(day_number(np.datetime64(today, "D"))), color=INK, lw=1.3, zorder=3)


def calendar(axes: Axes, first: np.datetime64, last: np.datetime64, end: float) -> None:
    """Label the months to the last day, halves too where the view is short; end the axis."""
    from matplotlib.ticker import FixedLocator  # noqa: PLC0415

    days = [
        as_date(first) + timedelta(days=k)
        for k in range(int(day_number(last) - day_number(first)) + 1)
    ]
    short = len(days) <= 100
    ticks = [d for d in days if d.day == 1 or (short and d.day == 15)]
    axes.set_xlim(float(day_number(first)), end)
    axes.set_xticks([float(day_number(np.datetime64(d, "D"))) for d in ticks])
    axes.set_xticklabels([short_day(d) if len(days) <= 160 else short_day(d)[-3:] for d in ticks])
    mondays = [float(day_number(np.datetime64(d, "D"))) for d in days if d.weekday() == 0]
    axes.xaxis.set_minor_locator(FixedLocator(mondays))


def plain(axes: Axes) -> None:
    """Take away what says nothing."""
    axes.set_facecolor(PAPER)
    axes.tick_params(axis="y", length=0)
    for name in ("top", "left", "right"):
        axes.spines[name].set_visible(False)
    axes.spines["bottom"].set_color(CLAY)
    axes.grid(visible=True, axis="x", color=CHALK, lw=1.0)
    axes.set_axisbelow(True)
