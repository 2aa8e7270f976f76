"""A scatter of flats on a sheet to take outside: to scale, with a grid to follow."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from forecaster.charts.save import drawing, save
from forecaster.charts.style import CHALK, CLAY, INK, PAPER, SAND, SIZE_IN
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError
from forecaster.ground.units import METRES_PER_FOOT, METRES_PER_INCH
from forecaster.plan.layout.lightness import Seen, lightness, seen, srgb_of
from forecaster.plan.layout.scatter import Scatter
from forecaster.words.layout import wrap
from forecaster.words.phrases import count, listed, number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


SHAPES = ("o", "s", "^", "D", "v", "P", "X", "p")
"""One shape a colour, so that the sheet can be read in grey."""
LETTERS = "ABCDEFGH"
ROOM_IN = (6.5, 6.9)
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

        figure = Figure(figsize=SIZE_IN, facecolor=PAPER)
        axes, inches_a_metre = _paper(figure, layout)
        _bed(axes, layout)
        _plants(axes, layout, inches_a_metre)
        _say(figure, layout, title, inches_a_metre)
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


def _turned(layout: Scatter) -> bool:
    x0, y0, x1, y1 = layout.outline.bounds_m
    return x1 - x0 > y1 - y0


def _on_sheet(layout: Scatter, points: Floats) -> Floats:
    """Return points as the sheet shows them from its corner, m: a wide bed by a quarter turn.

    Turned, never mirrored: (x, y) becomes (y₁ − y, x − x₀).
    """
    x0, y0, _, y1 = layout.outline.bounds_m
    if _turned(layout):
        return np.column_stack([y1 - points[:, 1], points[:, 0] - x0])
    return points - (x0, y0)


def _paper(figure: Figure, layout: Scatter) -> tuple[Axes, float]:
    """Return axes to scale on the sheet, long side upright, and inches of paper a metre."""
    x0, y0, x1, y1 = layout.outline.bounds_m
    wide, tall = (y1 - y0, x1 - x0) if _turned(layout) else (x1 - x0, y1 - y0)
    margin = 0.02 * max(wide, tall)
    wide, tall = wide + 2.0 * margin, tall + 2.0 * margin
    scale = min(ROOM_IN[0] / wide, ROOM_IN[1] / tall)
    width, height = wide * scale / SIZE_IN[0], tall * scale / SIZE_IN[1]
    left = (1.0 - width) / 2.0
    axes = figure.add_axes((left, 0.815 - height, width, height))
    axes.set_xlim(-margin, wide - margin)
    axes.set_ylim(-margin, tall - margin)
    _grid(axes, layout, (wide, tall))
    return axes, scale


def _grid(axes: Axes, layout: Scatter, size_m: tuple[float, float]) -> None:
    """Draw squares counted from the corner, each fifth line heavier."""
    square = _square_m(layout)
    axes.set_facecolor(PAPER)
    for axis, length in zip("xy", size_m, strict=True):
        lines = square * np.arange(int(length / square) + 1)
        for k, at in enumerate(lines):
            line = axes.axvline if axis == "x" else axes.axhline
            line(
                float(at),
                color=CLAY if k % 5 == 0 else SAND,
                lw=1.1 if k % 5 == 0 else 0.6,
                zorder=1,
            )
        every = max(1, int(np.ceil(square * 28.0 / length / 4.0))) if axis == "x" else 1
        shown = lines[::every] if len(lines) > 1 else lines
        labels = [number(float(at) / METRES_PER_FOOT) for at in shown]
        (axes.set_xticks if axis == "x" else axes.set_yticks)(shown, labels)
    axes.tick_params(length=0, labelsize=11)
    for spine in axes.spines.values():
        spine.set_visible(False)


def _bed(axes: Axes, layout: Scatter) -> None:
    """Draw the outline; a lawn inside a strip stays paper."""
    rings = [_on_sheet(layout, ring) for ring in layout.outline.rings_m]
    for ring, face in zip(rings, (CHALK, PAPER), strict=False):
        axes.fill(ring[:, 0], ring[:, 1], facecolor=face, edgecolor=INK, lw=1.8, zorder=0)
    for ring in rings:
        closed = np.vstack([ring, ring[:1]])
        axes.plot(closed[:, 0], closed[:, 1], color=INK, lw=1.8, zorder=3)


def _face(name: str) -> str:
    """Return the colour drawn for a name that may be none we know."""
    try:
        return srgb_of(name)
    except InputError:
        return PAPER


def _plants(axes: Axes, layout: Scatter, inches_a_metre: float) -> None:
    """Draw each plant in its colour, each colour in its shape."""
    points = _on_sheet(layout, layout.points_m)
    across_points = 72.0 * inches_a_metre * layout.least_m * 0.62
    size = float(np.clip(across_points, 3.0, 15.0))
    for k, name in enumerate(layout.names):
        ours = layout.colour == k
        axes.plot(
            points[ours, 0], points[ours, 1], SHAPES[k], ms=size, mfc=_face(name), mec=INK,
            mew=0.8, ls="none", label=name, zorder=4, clip_on=False,
        )  # fmt: skip
        if size >= 9.0:
            ink = PAPER if lightness(_face(name)) < DARK else INK
            for x, y in points[ours]:
                axes.text(
                    x, y, LETTERS[k], fontsize=0.55 * size, color=ink, ha="center",
                    va="center_baseline", zorder=5,
                )  # fmt: skip


def _say(figure: Figure, layout: Scatter, title: str, inches_a_metre: float) -> None:
    """Write the title, the key and the remarks."""
    from matplotlib.lines import Line2D  # noqa: PLC0415

    figure.text(
        0.03, 0.985, f"{title}: " * bool(title) + "where each plant goes", va="top", fontsize=18,
        fontweight="bold",
    )  # fmt: skip
    square = number(_square_m(layout) / METRES_PER_FOOT)
    figure.text(
        0.03, 0.945,
        f"One square is {square} ft ({number(_square_m(layout), 2)} m); 1 in of paper is "
        f"{number(1.0 / inches_a_metre / METRES_PER_FOOT)} ft.\nCount from the corner marked 0; "
        f"nearest plants {number(layout.least_m / METRES_PER_INCH)} in apart.",
        va="top", fontsize=14, linespacing=1.3,
    )  # fmt: skip
    columns = 3 if len(layout.names) in (5, 6) else 4
    # A legend fills its columns downwards; the key is read along its rows.
    order = [k for column in range(columns) for k in range(column, len(layout.names), columns)]
    handles = [
        Line2D(
            [], [], marker=SHAPES[k], ms=13, mfc=_face(layout.names[k]), mec=INK, ls="none", mew=1.0
        )
        for k in order
    ]
    labels = [f"{LETTERS[k]}  {layout.names[k]}, {layout.count(layout.names[k])}" for k in order]
    figure.legend(
        handles, labels, loc="upper left", bbox_to_anchor=(0.02, 0.888),
        ncols=columns, frameon=False, fontsize=14, columnspacing=1.4,
        handletextpad=0.3, borderpad=0.1,
    )  # fmt: skip
    remarks = vanishing_words(layout)
    if _turned(layout):
        remarks = f"Drawn with the bed's left end down: turn the sheet to the right. {remarks}"
    if layout.least_m < 0.995 * layout.spacing_m:
        remarks += (
            f" Plants stand closer than the {number(layout.spacing_m / METRES_PER_INCH)} in asked "
            "for, as so many need."
        )
    if remarks:
        figure.text(
            0.03, 0.015, wrap(remarks.strip(), 74), va="bottom", fontsize=13,
            linespacing=1.25,
        )  # fmt: skip


__all__: Sequence[str] = (
    "build_scatter",
    "describe_scatter",
    "draw_scatter",
    "seen_colours",
    "vanishing_words",
)
