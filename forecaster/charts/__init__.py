"""The picture of one window: the soil so far, what it may do, and the date's chances below.

Only `crossday chart` imports this, because matplotlib is slow to load. Two panels share the
time axis: soil temperature above; below, twenty dots, each one chance in twenty of the date.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forecaster.charts.data import ChartData, Mark, dots, marks_of, picture_of
from forecaster.charts.date_panel import date_panel
from forecaster.charts.describe import describe, heading
from forecaster.charts.save import drawing, save
from forecaster.charts.soil_panel import label_soil, soil_panel
from forecaster.charts.style import PAPER, SIZE_IN
from forecaster.words.phrases import between, odds, say_day

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TITLE_IN, LEGEND_IN = 1.75, 2.15
"""Of the height: for the words above, and for the days, the legend and the remark below."""

__all__ = ["ChartData", "Mark", "build", "describe", "dots", "draw", "marks_of", "picture_of"]


def draw(
    data: ChartData,
    path: str | Path,
    *,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
) -> Path:
    """Draw the picture and write its description beside it.

    Parameters
    ----------
    data : ChartData
    path : str or Path
        Ends in ``.png`` or ``.svg``.
    inputs : sequence of str or Path
        What it was made from; never written over.
    force : bool
        Write over files that are not ours.

    Returns
    -------
    Path
        The description: the same name with ``.txt``.

    Raises
    ------
    InputError
        If the name ends otherwise, or a file is there that is not ours.
    """
    title = heading(data).replace("\n", " ")
    return save(build(data), path, title, describe(data), inputs=inputs, force=force)


def build(data: ChartData, *, titled: bool = True) -> Figure:
    """Return the figure, not yet written.

    Parameters
    ----------
    data : ChartData
    titled : bool
        Say the answer over it; a page that has said it leaves that out.
    """
    with drawing():
        from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415
        from matplotlib.figure import Figure  # noqa: PLC0415

        size = SIZE_IN if titled else (SIZE_IN[0], SIZE_IN[1] - TITLE_IN)
        figure = Figure(figsize=size, facecolor=PAPER)
        FigureCanvasAgg(figure)  # measures words
        above, below = figure.subplots(
            2, 1, sharex=True, height_ratios=(3.1, 1.0 + 0.45 * (len(data.marks) - 1))
        )
        top, bottom = (TITLE_IN if titled else 0.12), LEGEND_IN
        figure.subplots_adjust(
            left=0.125, right=0.875, top=1.0 - top / size[1], bottom=bottom / size[1], hspace=0.07
        )
        soil_panel(above, data)
        date_panel(below, data)
        label_soil(above, data)
        if titled:
            _say_above(figure, data)
        _legend(figure, above, below, data, font=13 if titled else 14)
    return figure


def _say_above(figure: Figure, data: ChartData) -> None:
    """Write the answer over the picture."""
    figure.text(
        0.03, 0.985, heading(data), va="top", fontsize=18, fontweight="bold", linespacing=1.25
    )
    sure = _how_sure(data)
    figure.text(0.03, 0.919, sure, va="top", fontsize=16)
    where = "\n".join(text for text in (data.title, data.place) if text)
    figure.text(0.03, 0.889 if sure else 0.915, where, va="top", fontsize=13, linespacing=1.25)


def _how_sure(data: ChartData) -> str:
    """Return the line under the heading."""
    mark = data.marks[0]
    if mark.early is not None and mark.late is not None:
        return f"80 % chance: {between(mark.early, mark.late, data.today)}"
    if mark.median is None or not math.isfinite(mark.never):
        return ""
    early = f"10 % by {say_day(mark.early, data.today)}, " if mark.early is not None else ""
    return f"{early}never: {odds(mark.never)}"


def _legend(figure: Figure, above: Axes, below: Axes, data: ChartData, font: int) -> None:
    """Say what each line, band and dot is, and what is left out."""
    from matplotlib.legend_handler import HandlerTuple  # noqa: PLC0415

    drawn: dict[str, Any] = {}
    for axes in (above, below):
        drawn |= {
            str(label): handle
            for handle, label in zip(*axes.get_legend_handles_labels(), strict=True)
        }
    years = f"{data.usual_years} past years: middle, 80 %"
    wanted = (
        ("soil so far, 80 % chance", ("estimate, 4 in 5", "estimate so far")),
        ("ahead: middle, 50 %, 80 %", ("ahead, 4 in 5", "ahead, 1 in 2", "ahead, middle")),
        (years, ("past years, 8 in 10", "past years, middle")),
        ("threshold", ("threshold",)),
        ("settles: middle, 80 % chance", ("date, 4 in 5", "date, middle")),
        ("first touch", ("first touch",)),
        ("readings as typed", ("readings",)) if data.typed_drawn else ("readings", ("readings",)),
        ("their day's mean", ("corrected",)),
        ("contradicted by the others", ("contradicted readings",)),
        ("1 chance in 20 of the date", ("date dots",)),
        ("1 chance in 20 of never", ("never",)),
        ("usual date here", ("usual date here",)),
    )
    handles, labels = [], []
    for label, parts in wanted:
        found = tuple(drawn[part] for part in parts if part in drawn)
        if found:
            handles.append(found)
            labels.append(label)
    place: Any = figure  # the stubs know no tuple of handles
    place.legend(
        handles, labels, loc="lower left", bbox_to_anchor=(0.02, 0.03), ncols=2, frameon=False,
        fontsize=font, handler_map={tuple: HandlerTuple(ndivide=1)}, handlelength=1.8,
        columnspacing=1.2, labelspacing=0.3, borderpad=0.2,
    )  # fmt: skip
    air = "a gridded stand-in for air" if data.gridded else "air temperature"
    said = f"Estimates from {air}; frost not included."
    figure.text(0.03, 0.012, said, va="bottom", fontsize=font)
