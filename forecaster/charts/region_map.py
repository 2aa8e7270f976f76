"""A region's map: each place a mark of its date, coasts and borders behind, nothing between."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from forecaster.charts.projection import Projection, about, outlines
from forecaster.charts.region_marks import (
    By,
    Group,
    chance_label,
    describe,
    groups_of,
    heading_of,
)
from forecaster.charts.save import drawing, save
from forecaster.charts.style import CHALK, CLAY, INK, PAPER
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, TALLEST, FLATTEST = 7.8, 1.15, 0.55  # of the map's height over its width
ROOM_ABOVE_IN, ROOM_BELOW_IN, LINE_IN = 1.0, 0.55, 0.33
LEAST_KM = 120.0  # from the middle to an edge
NAMED_PLACES = 8
MARK_POINTS2, FEW = 190.0, 60
ROUND_MILES, KM_PER_MILE = (10, 20, 25, 50, 100, 200, 250, 500, 1000), 1.609344
LINES = {"coast": (INK, 1.0), "country": (CLAY, 1.0), "state": (CLAY, 0.7)}


def draw_region(
    table: Any,
    path: str | Path,
    *,
    by: By = "date",
    show: str = "F",
    inputs: Sequence[str | Path] = (),
    force: bool = False,
) -> Path:
    """Draw a region's map and write its description beside it; return the description's path.

    Parameters
    ----------
    table : pyarrow.Table
        Answers to one question; places without a position are not drawn.
    path : str or Path
        Ends in ``.png`` or ``.svg``.
    by : {"date", "usual"}
        Coloured by the middle date, or by days against the usual.
    show : {"F", "C"}
    inputs, force
        As for `forecaster.charts.save.save`.

    Raises
    ------
    InputError
        If no place has a position, or as `save`.
    """
    rows = table.to_pandas(date_as_object=True)
    rows = rows[rows["latitude_deg"].notna() & rows["longitude_deg"].notna()]
    if rows.empty:
        raise InputError("no place has a latitude and longitude: there is no map to draw")
    rows = rows.reset_index(drop=True)
    groups = groups_of(rows, by)
    title, under = heading_of(rows, by, show)
    words = describe(rows, groups, title, under)
    figure = build(rows, groups, title, under)
    return save(figure, path, title, words, inputs=inputs, force=force)


def build(rows: pd.DataFrame, groups: Sequence[Group], title: str, under: str) -> Figure:
    """Return the figure, not yet written."""
    where = about(*(rows[name].to_numpy(dtype=float) for name in ("latitude_deg", "longitude_deg")))
    x, y = where(*(rows[n].to_numpy(dtype=float) for n in ("latitude_deg", "longitude_deg")))
    left, right, bottom, top = _frame(x, y)
    wide_in = WIDTH_IN - 0.4
    high_in = wide_in * (top - bottom) / (right - left)
    legend_in = ROOM_BELOW_IN + LINE_IN * -(-len(groups) // 2)
    total_in = ROOM_ABOVE_IN + high_in + legend_in
    with drawing():
        from matplotlib.figure import Figure  # noqa: PLC0415

        figure = Figure(figsize=(WIDTH_IN, total_in), facecolor=PAPER)
        axes = figure.add_axes(
            (0.2 / WIDTH_IN, legend_in / total_in, wide_in / WIDTH_IN, high_in / total_in)
        )
        axes.set(xlim=(left, right), ylim=(bottom, top), xticks=[], yticks=[], facecolor="#ffffff")
        for spine in axes.spines.values():
            spine.set_color(CHALK)
        _outlines(axes, where, (left, right, bottom, top))
        _marks(axes, rows, groups, x, y)
        if len(rows) <= NAMED_PLACES:
            _names(axes, rows, x, y)
        if not where.whole_earth:
            _scale(axes, left, right, bottom, top)
        figure.text(0.03, 1 - 0.15 / total_in, title, va="top", fontsize=18, fontweight="bold")
        figure.text(0.03, 1 - 0.56 / total_in, under, va="top", fontsize=13)
        _legend(figure, rows, groups, legend_in / total_in)
    return figure


def _frame(x: Floats, y: Floats) -> tuple[float, float, float, float]:
    """Return the edges of the map, km: room about the places, neither a strip nor a tower."""
    middle_x, middle_y = (float(v.max() + v.min()) / 2.0 for v in (x, y))
    half_x, half_y = (max(float(np.ptp(v)) / 2.0 * 1.25, LEAST_KM) for v in (x, y))
    half_y = max(half_y, FLATTEST * half_x)
    half_x = max(half_x, half_y / TALLEST)
    return middle_x - half_x, middle_x + half_x, middle_y - half_y, middle_y + half_y


def _outlines(axes: Axes, where: Projection, edges: tuple[float, ...]) -> None:
    """Draw what of the coasts and borders lies within the edges."""
    from matplotlib.collections import LineCollection  # noqa: PLC0415

    left, right, bottom, top = edges
    seam = (right - left) / 2.0  # a longer step goes round the back of the paper
    drawn: dict[str, list[Floats]] = {kind: [] for kind in LINES}
    for kind, points in outlines():
        x, y = where(points[:, 1], points[:, 0])
        seen = np.isfinite(x)
        if not (seen & (x > left) & (x < right) & (y > bottom) & (y < top)).any():
            continue
        far = np.hypot(np.diff(x), np.diff(y)) > seam if where.whole_earth else ~seen[1:]
        for piece in np.split(np.column_stack([x, y]), np.flatnonzero(far) + 1):
            drawn[kind].append(piece[np.isfinite(piece[:, 0])])
    for kind, (colour, width) in LINES.items():
        axes.add_collection(
            LineCollection(drawn[kind], colors=colour, linewidths=width, zorder=1), autolim=False
        )


def _marks(axes: Axes, rows: pd.DataFrame, groups: Sequence[Group], x: Floats, y: Floats) -> None:
    """Draw the places, what is sparse over what is not; the size says the chance, if asked."""
    usual = MARK_POINTS2 * min(1.0, (FEW / len(rows)) ** 0.5)
    chance = rows["chance_by"].to_numpy(dtype=float)
    size = np.where(np.isfinite(chance), 0.25 + 1.1 * chance, 1.0) * usual
    edge = min(1.1, 0.4 + 40.0 / len(rows))
    for one in sorted(groups, key=lambda group: -len(group.rows)):
        at = list(one.rows)
        look: dict[str, Any] = {"facecolors": one.fill, "edgecolors": INK, "linewidths": edge}
        if one.shape == "x":
            look = {"c": INK, "linewidths": 1.6}
        elif one.fill == PAPER:
            look["linewidths"] = 2.0
        axes.scatter(x[at], y[at], s=size[at] * one.size, marker=one.shape, zorder=3, **look)


def _names(axes: Axes, rows: pd.DataFrame, x: Floats, y: Floats) -> None:
    """Write the names beside a few places, inward from the edges."""
    left, right = axes.get_xlim()
    for name, east, north in zip(rows["place"], x, y, strict=True):
        inward = east > (left + right) / 2.0
        axes.annotate(
            str(name)[:28], (east, north), (-10 if inward else 10, 0),
            textcoords="offset points", ha="right" if inward else "left", va="center",
            fontsize=13, zorder=4,
        )  # fmt: skip


def _scale(axes: Axes, left: float, right: float, bottom: float, top: float) -> None:
    """Draw a bar of round miles with its kilometres."""
    room_km = (right - left) / 5.0
    miles = max(m for m in ROUND_MILES if m * KM_PER_MILE <= room_km or m == ROUND_MILES[0])
    x, y = left + 0.03 * (right - left), bottom + 0.035 * (top - bottom)
    axes.plot([x, x + miles * KM_PER_MILE], [y, y], color=INK, lw=2.0, zorder=4)
    said = f"{miles:g} mi, {miles * KM_PER_MILE:.0f} km"
    behind = {"facecolor": "#ffffff", "edgecolor": "none", "pad": 1.5}
    axes.text(x, y + 0.02 * (top - bottom), said, fontsize=13, va="bottom", zorder=4, bbox=behind)


def _legend(figure: Figure, rows: pd.DataFrame, groups: Sequence[Group], share: float) -> None:
    """Say what each mark is, how many there are, and what is not shown."""
    from matplotlib.lines import Line2D  # noqa: PLC0415

    handles = [
        Line2D(
            [], [], linestyle="none", marker=one.shape, markersize=11, color=INK,
            markerfacecolor=one.fill, markeredgecolor=INK,
            markeredgewidth=2.0 if one.fill == PAPER else 1.0,
        )
        for one in groups
    ]  # fmt: skip
    labels = [f"{one.label} ({len(one.rows):,})" for one in groups]
    figure.legend(
        handles, labels, loc="upper left", bbox_to_anchor=(0.015, share), ncols=2, frameon=False,
        fontsize=13, handletextpad=0.4, columnspacing=1.4, labelspacing=0.35, borderpad=0.3,
    )  # fmt: skip
    size = chance_label(rows)
    said = f"Larger: greater {size}. " if size else ""
    note = f"{said}Nothing is drawn between places. Frost not included."
    figure.text(0.03, 0.012, note, va="bottom", fontsize=12)
