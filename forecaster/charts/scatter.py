"""A scatter of flats on a sheet to take outside: to scale, with a grid to follow."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from forecaster.charts.save import drawing, save
from forecaster.charts.style import CHALK, CLAY, INK, PAPER, SAND
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError
from forecaster.ground.units import METRES_PER_FOOT, METRES_PER_INCH
from forecaster.plan.layout.lightness import Seen, lightness, seen, srgb_of
from forecaster.plan.layout.scatter import Scatter
from forecaster.plan.layout.sheet import Sheet, sheet_of, turned
from forecaster.words.layout import wrap
from forecaster.words.phrases import count, listed, number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


SHAPES = ("o", "s", "^", "D", "v", "P", "X", "p")
"""One shape a colour, so that the sheet can be read in grey."""
LETTERS = "ABCDEFGH"
SHEET_IN = (7.0, 9.2)
"""Of the picture: what a page has room for between its margins."""
ROOM_IN = (6.2, 6.0)
SCALES = (0.25, 0.5, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 100, 200, 500)
BAR_IN = 2.0
WHITE = "#ffffff"
MOST_SQUARES = 30
DARK = 50.0


def draw_scatter(
    layout: Scatter,
    path: str | Path,
    title: str = "",
    *,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
) -> Path:
    """Draw the sheet and write its description beside it.

    Parameters
    ----------
    layout : Scatter
    path : str or Path
        Ends in ``.png`` or ``.svg``.
    title : str
        Name of the bed.
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
        If the name ends otherwise, a file is there that is not ours, or there are more colours
        than shapes.
    """
    words = describe_scatter(layout, title)
    figure = build_scatter(layout, title)
    return save(figure, path, title or "Planting sheet", words, inputs=inputs, force=force)


def build_scatter(layout: Scatter, title: str = "") -> Figure:
    """Return the sheet as a figure, not yet written."""
    if len(layout.names) > len(SHAPES):
        raise InputError(
            f"{len(layout.names)} colours; a sheet tells {len(SHAPES)} apart. Lay out fewer"
        )
    with drawing():
        from matplotlib.figure import Figure  # noqa: PLC0415

        figure, sheet = Figure(figsize=SHEET_IN, facecolor=WHITE), sheet_of(layout)
        axes, inches_a_metre = _paper(figure, sheet)
        _bed(axes, sheet)
        _plants(axes, sheet, inches_a_metre)
        _say(figure, sheet, title)
    return figure


def seen_colours(layout: Scatter) -> tuple[Seen, ...]:
    """Return how each colour of the layout stands out from dark, moist soil."""
    return tuple(seen(name) for name in layout.names)


def vanishing_words(layout: Scatter) -> str:
    """Name the colours that cannot be told from dark soil at a distance; empty if none."""
    lost = [each for each in seen_colours(layout) if each.vanishes]
    if not lost:
        return ""
    names = listed([each.name for each in lost])
    steps = listed([number(abs(each.difference), 0) for each in lost])
    return (
        f"{names[0].upper()}{names[1:]} will hardly show against dark soil from a distance "
        f"(lightness differs by {steps} of 100): keep lighter neighbours beside them."
    )


def describe_scatter(layout: Scatter, title: str = "") -> str:
    """Return what the sheet shows, in words."""
    x0, y0, x1, y1 = layout.outline.bounds_m
    across, along = (number(side / METRES_PER_FOOT) for side in (x1 - x0, y1 - y0))
    plants = listed([count(layout.count(n), n + " plant") for n in layout.names])
    evenly = (
        f"{number(100.0 * layout.same_share, 0)} % of neighbours share a colour, chance alone "
        f"would give {number(100.0 * layout.chance_share, 0)} %; the largest patch of one colour "
        f"has {count(layout.clump, 'plant')}; dealt by chance it would have about "
        f"{layout.chance_clump}."
    )
    sheet = (
        f"Planting sheet{f' for {title}' if title else ''}: {across} ft by {along} ft, to scale, "
        f"with a grid of {number(_square_m(layout) / METRES_PER_FOOT)} ft squares."
    )
    apart = (
        f"{plants}, {'colours scattered over rows' if layout.in_rows else 'scattered at random'}; "
        "nearest neighbours stand at least "
        f"{number(layout.least_m / METRES_PER_INCH)} in apart "
        f"({number(layout.spacing_m / METRES_PER_INCH)} in were asked for)."
    )
    parts = [
        sheet,
        apart,
        evenly if len(layout.names) > 1 else "",
        vanishing_words(layout),
    ]
    return " ".join(part for part in parts if part)


def _square_m(layout: Scatter) -> float:
    """Return the side of a square of the grid: a foot, or more on a large bed."""
    x0, y0, x1, y1 = layout.outline.bounds_m
    feet = max(x1 - x0, y1 - y0) / METRES_PER_FOOT
    step = next((s for s in (1, 2, 5, 10, 20, 50, 100) if feet / s <= MOST_SQUARES), 200)
    return step * METRES_PER_FOOT


def overview_feet(layout: Scatter) -> float:
    """Return the feet that an inch of the picture stands for, printed at its full size."""
    x0, y0, x1, y1 = layout.outline.bounds_m
    short, long = sorted(((x1 - x0) / METRES_PER_FOOT, (y1 - y0) / METRES_PER_FOOT))
    needed = max(short / ROOM_IN[0], long / ROOM_IN[1])
    return next((feet for feet in SCALES if feet >= needed - 1e-9), float(np.ceil(needed)))


def _paper(figure: Figure, sheet: Sheet) -> tuple[Axes, float]:
    """Return axes to scale on the sheet, long side upright, and inches of paper a metre."""
    every = np.concatenate(sheet.rings_m)
    low, high = every.min(axis=0), every.max(axis=0)
    scale = 1.0 / overview_feet(sheet.layout) / METRES_PER_FOOT
    margin = 0.12 / scale
    wide, tall = high - low + 2.0 * margin
    width, height = wide * scale / SHEET_IN[0], tall * scale / SHEET_IN[1]
    left, top = (1.0 - width) / 2.0, 0.875 - 0.033 * -(-len(sheet.layout.names) // _abreast(sheet))
    axes = figure.add_axes((left, top - height, width, height))
    axes.set_xlim(low[0] - margin, high[0] + margin)
    axes.set_ylim(low[1] - margin, high[1] + margin)
    _grid(axes, sheet, low, high)
    return axes, scale


def _grid(axes: Axes, sheet: Sheet, low: Floats, high: Floats) -> None:
    """Draw squares counted from the corner or the centre, each fifth line heavier."""
    square = _square_m(sheet.layout)
    axes.set_facecolor(WHITE)
    for axis, first, last in zip("xy", low, high, strict=True):
        steps = np.arange(np.ceil(first / square - 1e-6), np.floor(last / square + 1e-6) + 1)
        for k in steps:
            line = axes.axvline if axis == "x" else axes.axhline
            heavy = k % 5 == 0
            line(
                float(k * square), color=CLAY if heavy else SAND, lw=1.1 if heavy else 0.6, zorder=1
            )
        every = max(1, int(np.ceil(square * 28.0 / (last - first) / 4.0))) if axis == "x" else 1
        shown = square * steps[(steps % every == 0)]
        labels = [number(abs(float(at)) / METRES_PER_FOOT) for at in shown]
        (axes.set_xticks if axis == "x" else axes.set_yticks)(shown, labels)
    axes.tick_params(length=0, labelsize=11)
    for spine in axes.spines.values():
        spine.set_visible(False)


def _bed(axes: Axes, sheet: Sheet) -> None:
    """Draw the outline; a lawn inside a strip stays paper."""
    for ring, face in zip(sheet.rings_m, (CHALK, WHITE), strict=False):
        axes.fill(ring[:, 0], ring[:, 1], facecolor=face, edgecolor=INK, lw=1.8, zorder=0)
    for ring in sheet.rings_m:
        closed = np.vstack([ring, ring[:1]])
        axes.plot(closed[:, 0], closed[:, 1], color=INK, lw=1.8, zorder=3)


def _bar(figure: Figure, layout: Scatter, below_in: float) -> None:
    """Draw a bar of two inches of paper, so that a print can be measured."""
    left, low = 0.3 / SHEET_IN[0], below_in / SHEET_IN[1]
    axes = figure.add_axes((left, low, BAR_IN / SHEET_IN[0], 0.15 / SHEET_IN[1]))
    axes.set_xlim(0.0, BAR_IN)
    axes.set_ylim(0.0, 1.0)
    axes.axis("off")
    axes.plot([0.0, BAR_IN], [0.5, 0.5], color=INK, lw=2.0, clip_on=False, label="bar")
    for at in (0.0, BAR_IN / 2.0, BAR_IN):
        axes.plot([at, at], [0.0, 1.0], color=INK, lw=1.2, clip_on=False)
    feet = number(BAR_IN * overview_feet(layout), 2)
    words = (
        f"{feet} ft: {number(BAR_IN)} in ({number(2.54 * BAR_IN)} cm) where printed at full size"
    )
    figure.text(left + (BAR_IN + 0.15) / SHEET_IN[0], low, words, va="bottom", fontsize=12)


def colour_drawn(name: str) -> str:
    """Return the colour drawn for a name that may be none we know."""
    try:
        return srgb_of(name)
    except InputError:
        return PAPER


def _plants(axes: Axes, sheet: Sheet, inches_a_metre: float) -> None:
    """Draw each plant in its colour, each colour in its shape."""
    layout, points = sheet.layout, sheet.points_m
    across_points = 72.0 * inches_a_metre * layout.least_m * 0.62
    size = float(np.clip(across_points, 3.0, 15.0))
    for k, name in enumerate(layout.names):
        ours = layout.colour == k
        axes.plot(
            points[ours, 0], points[ours, 1], SHAPES[k], ms=size, mfc=colour_drawn(name), mec=INK,
            mew=0.8, ls="none", label=name, zorder=4, clip_on=False,
        )  # fmt: skip
        if size >= 9.0:
            ink = PAPER if lightness(colour_drawn(name)) < DARK else INK
            for x, y in points[ours]:
                axes.text(
                    x, y, LETTERS[k], fontsize=0.55 * size, color=ink, ha="center",
                    va="center_baseline", zorder=5,
                )  # fmt: skip


def _say(figure: Figure, sheet: Sheet, title: str) -> None:
    """Write the title, the key and the remarks."""
    from matplotlib.lines import Line2D  # noqa: PLC0415

    layout = sheet.layout
    figure.text(
        0.03, 0.985, f"{title}: " * bool(title) + "where each plant goes", va="top", fontsize=18,
        fontweight="bold",
    )  # fmt: skip
    square = number(_square_m(layout) / METRES_PER_FOOT)
    figure.text(
        0.03, 0.94,
        f"One square is {square} ft ({number(_square_m(layout), 2)} m), counted from "
        f"{_counted_from(sheet)};\nnearest plants {number(layout.least_m / METRES_PER_INCH)} in "
        "apart.",
        va="top", fontsize=13, linespacing=1.3,
    )  # fmt: skip
    columns = _abreast(sheet)
    # A legend fills its columns downwards; the key is read along its rows.
    order = [k for column in range(columns) for k in range(column, len(layout.names), columns)]
    handles = [
        Line2D(
            [], [], marker=SHAPES[k], ms=13, mfc=colour_drawn(layout.names[k]), mec=INK, ls="none",
            mew=1.0,
        )
        for k in order
    ]  # fmt: skip
    labels = [f"{LETTERS[k]}  {layout.names[k]}, {layout.count(layout.names[k])}" for k in order]
    figure.legend(
        handles, labels, loc="upper left", bbox_to_anchor=(0.02, 0.885),
        ncols=columns, frameon=False, fontsize=13, columnspacing=1.2,
        handletextpad=0.3, borderpad=0.1,
    )  # fmt: skip
    remarks = wrap(remarks_of(layout), 74)
    if remarks:
        figure.text(0.03, 0.012, remarks, va="bottom", fontsize=12, linespacing=1.25)
    _bar(figure, layout, 0.2 + 0.22 * (remarks.count("\n") + 1))


def _abreast(sheet: Sheet) -> int:
    """Return how many colours stand on a line of the key."""
    return 3 if len(sheet.layout.names) in (3, 5, 6) else 4


def _counted_from(sheet: Sheet) -> str:
    if sheet.centred:
        return "the centre"
    if sheet.layout.outline.kind == "rectangle":
        return "the corner marked 0"
    return "the lower left of a rectangle around it"


def remarks_of(layout: Scatter) -> str:
    """Return what should be known of a layout besides: how it lies, what vanishes, how close."""
    remarks = vanishing_words(layout)
    if turned(layout):
        remarks = f"Drawn with the bed's left end down: turn the sheet to the right. {remarks}"
    if layout.least_m < 0.995 * layout.spacing_m:
        remarks += (
            f" Plants stand closer than the {number(layout.spacing_m / METRES_PER_INCH)} in asked "
            "for, as so many need."
        )
    return remarks.strip()


__all__: Sequence[str] = (
    "build_scatter",
    "describe_scatter",
    "draw_scatter",
    "seen_colours",
    "vanishing_words",
)
