"""The picture of a check: how often the window held, what it gained, and whether chances held.

Three panels share nothing but the palette. Left to right in time of issue: far ahead at the
left, the usual day at the right, as a season is lived.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from forecaster.answers.check import Cell, Hindcast
from forecaster.charts.save import drawing, save
from forecaster.charts.style import (
    CHALK,
    CLAY,
    INK,
    MOSS,
    PAPER,
    SAND,
    SIZE_IN,
    UMBER,
    plain,
)
from forecaster.words.check import (
    Checked,
    better,
    first_sentence,
    said_cell,
    season_of,
    truth_words,
)
from forecaster.words.layout import wrap
from forecaster.words.page import place_words
from forecaster.words.phrases import count, degrees, known, listed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKS = ("o", "s", "^", "D", "v")
FACES = (UMBER, PAPER, CLAY, MOSS, SAND)
APART = 0.16  # of thresholds at one lead, in steps between leads
TITLE_X = -0.105  # of the panels' width: flush with the heading
LEAST_SKILL = -1.0  # a worse one is drawn at the edge and said


def draw_check(
    checked: Checked,
    path: str | Path,
    *,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
) -> Path:
    """Draw a check and write its description beside it; return the description's path.

    Parameters
    ----------
    checked : Checked
    path : str or Path
        Ends in ``.png`` or ``.svg``.
    inputs : sequence of str or Path
        What it was made from; never written over.
    force : bool
        Write over files that are not ours.
    """
    title, words = first_sentence(checked.hindcast), describe_check(checked)
    return save(build_check(checked), path, title, words, inputs=inputs, force=force)


def build_check(checked: Checked) -> Figure:
    """Return the figure, not yet written."""
    found = checked.hindcast
    with drawing():
        from matplotlib.figure import Figure  # noqa: PLC0415

        figure = Figure(figsize=SIZE_IN, facecolor=PAPER)
        panels = figure.subplots(3, 1, height_ratios=(1.0, 1.0, 1.55))
        figure.subplots_adjust(left=0.12, right=0.97, top=0.765, bottom=0.07, hspace=0.42)
        coverage_panel(panels[0], found)
        skill_panel(panels[1], found)
        reliability_panel(panels[2], found)
        figure.text(0.03, 0.985, _heading(found), va="top", fontsize=17, fontweight="bold",
                    linespacing=1.25)  # fmt: skip
        below = wrap(f"Soil {place_words(checked.site)}. {_source(found)}", 66)
        figure.text(0.03, 0.917, below, va="top", fontsize=13, linespacing=1.25)
        handles, labels = panels[0].get_legend_handles_labels()
        figure.legend(
            handles, labels, loc="upper left", bbox_to_anchor=(0.015, 0.877), frameon=False,
            fontsize=13, ncols=1 if len(labels) < 2 else 2, columnspacing=1.2, handletextpad=0.3,
            labelspacing=0.3, borderpad=0.2,
        )  # fmt: skip
    return figure


def coverage_panel(axes: Axes, found: Hindcast) -> None:
    """Draw how often the 80 % window held the true date, by lead."""
    axes.axhline(80.0, color=MOSS, lw=2.0, ls=(0, (7, 3)))
    for i, (x, cells) in enumerate(_series(found)):
        axes.plot(x, [100.0 * cell.coverage for cell in cells], **_mark(i, _label(found, cells)))
    axes.set_ylim(0.0, 108.0)
    axes.set_yticks([0, 50, 100], ["0", "50", "100"], fontsize=13)
    _by_lead(axes, found, "Windows that held the true date, % (dashed: promised)")


def skill_panel(axes: Axes, found: Hindcast) -> None:
    """Draw how much better than the usual dates, with the middle 80 % of resampled years."""
    axes.axhline(0.0, color=INK, lw=1.3)
    lowest = 0.0
    for i, (x, cells) in enumerate(_series(found)):
        skill, low, high = (
            np.maximum([getattr(cell, name) for cell in cells], LEAST_SKILL) * 100.0
            for name in ("skill", "skill_low", "skill_high")
        )
        axes.vlines(x, low, high, color=CLAY, lw=3.0, zorder=2)
        axes.plot(x, skill, **_mark(i, ""))
        lowest = min(lowest, float(np.nanmin([*low, 0.0])))
    axes.set_ylim(lowest - 10.0, 108.0)
    ticks = [tick for tick in (-100, -50, 0, 50, 100) if tick >= lowest - 10.0]
    axes.set_yticks(ticks, [f"{tick}".replace("-", "−") for tick in ticks], fontsize=13)
    _by_lead(axes, found, "Better than the usual dates by, % (below 0: worse)")


def reliability_panel(axes: Axes, found: Hindcast) -> None:
    """Draw chances given against how often they came true, all leads together."""
    axes.plot([0, 100], [0, 100], color=MOSS, lw=2.0, ls=(0, (7, 3)))
    bins = found.reliability()
    x = np.array([100.0 * one.forecast for one in bins])
    y = np.array([100.0 * one.frequency for one in bins])
    axes.plot(x, y, "o", ms=11, color=UMBER, mec=PAPER, mew=1.2, zorder=4, clip_on=False)
    for one, across, up in zip(bins, x, y, strict=True):
        side = -1 if up > across else 1  # away from the line
        axes.annotate(
            f"{one.n:,}", (across, up), (10 * side, -10 * side), textcoords="offset points",
            fontsize=12, ha="left" if side > 0 else "right", va="center", zorder=5,
        )  # fmt: skip
    axes.set_xlim(-3.0, 108.0)
    axes.set_ylim(-9.0, 109.0)
    axes.set_xticks([0, 25, 50, 75, 100], ["0", "25", "50", "75", "100"], fontsize=13)
    axes.set_yticks([0, 50, 100], ["0", "50", "100"], fontsize=13)
    axes.set_xlabel("chance given, %", fontsize=14, labelpad=2)
    axes.set_title("Chances that it settles by a day: came true, % (n beside)", loc="left",
                   fontsize=14, x=TITLE_X)  # fmt: skip
    plain(axes)
    axes.grid(visible=True, axis="y", color=CHALK, lw=1.0)


def _series(found: Hindcast) -> list[tuple[np.ndarray, list[Cell]]]:
    """Return positions and cells of each threshold, side by side at a lead."""
    leads = _leads(found)
    names = [t.name for t in found.thresholds]
    series = []
    for i, name in enumerate(names):
        cells = [cell for cell in found.cells if cell.threshold == name]
        shift = APART * (i - (len(names) - 1) / 2.0)
        series.append((np.array([leads.index(c.lead_days) + shift for c in cells]), cells))
    return [(x, cells) for x, cells in series if cells]


def _leads(found: Hindcast) -> list[int]:
    """Return leads from far ahead to the day itself."""
    return sorted({cell.lead_days for cell in found.cells}, reverse=True)


def _mark(i: int, label: str) -> dict[str, Any]:
    return {
        "marker": MARKS[i % len(MARKS)], "mfc": FACES[i % len(FACES)], "mec": UMBER, "mew": 1.8,
        "ms": 9.5, "ls": "none", "label": label, "zorder": 4, "clip_on": False,
    }  # fmt: skip


def _label(found: Hindcast, cells: Sequence[Cell]) -> str:
    threshold = next(t for t in found.thresholds if t.name == cells[0].threshold)
    side = "below" if threshold.direction == "falling" else "above"
    return f"{side} {degrees(threshold.threshold_c, 'F')}, {max(c.n for c in cells)} seasons"


def _by_lead(axes: Axes, found: Hindcast, title: str) -> None:
    """Label the leads; panels without a y label, which would not fit a phone."""
    leads = _leads(found)
    axes.set_xlim(-0.6, len(leads) - 0.4)
    axes.set_xticks(range(len(leads)))
    axes.set_xticklabels([_ahead(lead) for lead in leads], fontsize=13)
    axes.set_title(title, loc="left", fontsize=14, x=TITLE_X)
    plain(axes)
    axes.grid(visible=False, axis="x")
    axes.grid(visible=True, axis="y", color=CHALK, lw=1.0)


def _ahead(lead_days: int) -> str:
    if lead_days == 0:
        return "usual day"
    if lead_days % 7 == 0:
        weeks = lead_days // 7
        return f"{weeks} week{'' if weeks == 1 else 's'}"
    return f"{lead_days} days"


def _heading(found: Hindcast) -> str:
    """Return the result in two lines."""
    cell = said_cell(found)
    if cell is None:
        return "Nothing checked yet"
    threshold = next(t for t in found.thresholds if t.name == cell.threshold)
    when = "on the usual day" if cell.lead_days == 0 else f"{_ahead(cell.lead_days)} ahead"
    side = "Below" if threshold.direction == "falling" else "Above"
    return (
        f"{side} {degrees(threshold.threshold_c, 'F')}, {season_of(threshold, cell.n)}, {when}:"
        f"\nmissed by "
        f"{cell.mae_days:.0f} days on average, {cell.inside} of {cell.n} windows held"
    )


def _source(found: Hindcast) -> str:
    if found.truth == "model":
        return "WEATHER ONLY: true dates are the model's own, driven by the air as it came."
    return "True dates from your own daily soil readings."


def describe_check(checked: Checked) -> str:
    """Return a paragraph that says what the picture shows, for those who cannot see it."""
    found = checked.hindcast
    words = [first_sentence(found), f"Soil {place_words(checked.site)}.", truth_words(found)]
    for threshold in found.thresholds:
        cells = [cell for cell in found.cells if cell.threshold == threshold.name]
        if not cells:
            continue
        side = "below" if threshold.direction == "falling" else "above"
        parts = [
            f"{_ahead(cell.lead_days)}: {cell.inside} of {cell.n} windows held, better than the "
            f"usual dates by {better(cell)}"
            for cell in reversed(cells)
        ]
        words.append(
            f"{threshold.label}, {side} {degrees(threshold.threshold_c, 'F', both=True)}: "
            f"{'; '.join(parts)}."
        )
    bins = [one for one in found.reliability() if known(one.frequency)]
    if bins:
        pairs = [
            f"{round(100 * one.forecast)} % given, {round(100 * one.frequency)} % came true "
            f"({count(one.n, 'time')})"
            for one in bins
        ]
        words.append(f"Chances of having settled by a day: {listed(pairs)}.")
    return " ".join(words)
