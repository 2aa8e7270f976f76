"""The picture of a check: the verdict, each past season, how far off, whether chances held.

Leads run as a season is lived: far ahead at the left, the usual day at the right.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from forecaster.answers.check import Cell, Hindcast
from forecaster.answers.check.results import Row
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
    first_sentence,
    judged,
    said_cell,
    truth_words,
    usual_off_days,
    verdict_words,
)
from forecaster.words.layout import wrap
from forecaster.words.page import place_words
from forecaster.words.phrases import count, degrees, known, listed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKS = ("o", "s", "^", "D", "v")
FACES = (UMBER, PAPER, CLAY, MOSS, SAND)
APART = 0.18  # of thresholds at one lead, in steps between leads
TITLE_X = -0.105  # of the panels' width: flush with the heading
YEARS_NAMED = 14
LEAST_REACH_DAYS = 10
HEAD_WIDTH, TEXT_WIDTH = 54, 76  # columns of the words above


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
        top = _say(figure, checked)
        panels = figure.subplots(3, 1, height_ratios=(1.55, 0.95, 1.15))
        figure.subplots_adjust(left=0.12, right=0.97, top=top - 0.055, bottom=0.065, hspace=0.82)
        seasons_panel(panels[0], found)
        off_panel(panels[1], found)
        reliability_panel(panels[2], found)
    return figure


def _say(figure: Figure, checked: Checked) -> float:
    """Write the verdict and what it rests on; return where the panels may begin."""
    found, cell = checked.hindcast, said_cell(checked.hindcast)
    verdict = "Nothing checked yet"
    if cell is not None:
        verdict = verdict_words([one for one in found.cells if one.threshold == cell.threshold])
    said = f"{_source(found)} Soil {place_words(checked.site)}."
    top = 0.985
    for words, width, size, bold in (
        (verdict, HEAD_WIDTH, 17, "bold"),
        (f"{_goal(found, cell)}{first_sentence(found)}", TEXT_WIDTH, 13, "normal"),
        (said, TEXT_WIDTH, 13, "normal"),
    ):
        text = wrap(words, width)
        figure.text(0.03, top, text, va="top", fontsize=size, fontweight=bold, linespacing=1.25)
        top -= (text.count("\n") + 1) * 1.27 * size / 72.0 / SIZE_IN[1] + 0.008
    return top


def _goal(found: Hindcast, cell: Cell | None) -> str:
    """Return the threshold that the verdict is about."""
    if cell is None:
        return ""
    return f"Soil {_side(found, cell.threshold)}. "


def _side(found: Hindcast, name: str) -> str:
    threshold = next(t for t in found.thresholds if t.name == name)
    side = "below" if threshold.direction == "falling" else "above"
    return f"{side} {degrees(threshold.threshold_c, 'F')}"


def seasons_panel(axes: Axes, found: Hindcast) -> None:
    """Draw each season's span of 80 %, its middle and the usual date, in days from the truth."""
    cell = said_cell(found)
    rows = [] if cell is None else [
        row for row in found.rows
        if (row.threshold, row.lead_days) == (cell.threshold, cell.lead_days) and row.settled
    ]  # fmt: skip
    rows.sort(key=lambda row: row.year)
    reach = _reach(rows)
    axes.axvline(0.0, color=INK, lw=1.6, label="true date")
    for height, row in enumerate(rows):
        early, late = (_away(row, day) for day in (row.early, row.late))
        axes.plot(
            [-reach if early is None else early, reach if late is None else late], [height, height],
            color=CLAY if row.inside else UMBER, lw=9.0 if row.inside else 3.0,
            solid_capstyle="butt", label="held it" if row.inside else "missed it",
        )  # fmt: skip
    for name, marker, face in (("median", "D", PAPER), ("usual", "^", PAPER)):
        at = [(_away(row, getattr(row, name)), height) for height, row in enumerate(rows)]
        seen = [(x, y) for x, y in at if x is not None]
        edge = INK if name == "median" else MOSS
        axes.plot(
            [x for x, _ in seen], [y for _, y in seen], marker, ms=8, mfc=face, mec=edge, mew=1.8,
            ls="none", zorder=4, label="middle" if name == "median" else "usual date",
        )  # fmt: skip
    every = -(-len(rows) // YEARS_NAMED) or 1
    axes.set_yticks(range(0, len(rows), every), [str(row.year) for row in rows[::every]],
                    fontsize=13)  # fmt: skip
    axes.set_ylim(-0.8, max(len(rows), 1) - 0.2)
    axes.set_xlim(-reach, reach)
    axes.set_xlabel("days too early (−) or too late (+)", fontsize=13, labelpad=2)
    ticks = axes.get_xticks()
    inside = [tick for tick in ticks if -reach <= tick <= reach]
    axes.set_xticks(inside, [f"{tick:+.0f}".replace("-", "−") if tick else "0" for tick in inside],
                    fontsize=13)  # fmt: skip
    lead = "" if cell is None else f", {_ahead(cell.lead_days)}{' ahead' * (cell.lead_days > 0)}"
    axes.set_title(f"Each season's span of 80 %{lead}", loc="left", fontsize=14, x=TITLE_X, y=1.13)
    plain(axes)
    _key(axes)


def _key(axes: Axes) -> None:
    """Name each kind of mark once, over the panel."""
    named = dict(zip(*reversed(axes.get_legend_handles_labels()), strict=True))
    axes.legend(
        list(named.values()), list(named), loc="lower left", bbox_to_anchor=(TITLE_X, 0.985),
        ncols=5, frameon=False, fontsize=13, columnspacing=0.8, handlelength=1.1, handletextpad=0.3,
        borderpad=0.1,
    )  # fmt: skip


def _away(row: Row, day: Any) -> float | None:
    """Return days from the true date; None for none."""
    return None if day is None or row.settled is None else float((day - row.settled).days)


def _reach(rows: Sequence[Row]) -> float:
    days = [_away(row, getattr(row, name)) for row in rows for name in ("early", "late", "usual")]
    return max([abs(day) for day in days if day is not None] + [LEAST_REACH_DAYS]) + 2.0


def off_panel(axes: Axes, found: Hindcast) -> None:
    """Draw how many days forecast and usual date lay off on average, by lead."""
    highest = 1.0
    for i, (x, cells) in enumerate(_series(found)):
        usual = [usual_off_days(found, cell) for cell in cells]
        off = [cell.mae_days for cell in cells]
        side = f", {_side(found, cells[0].threshold)}" if len(found.thresholds) > 1 else ""
        axes.vlines(x, off, usual, color=CLAY, lw=2.0, zorder=2)
        axes.plot(x, usual, "_", ms=16, mew=2.6, color=MOSS, ls="none",
                  label="usual date")  # fmt: skip
        axes.plot(x, off, **_mark(i, f"forecast{side}"))
        highest = max([highest, *off, *(day for day in usual if known(day))])
    axes.set_ylim(0.0, 1.15 * highest)
    step = max(1, round(highest / 3.0))
    days = range(0, int(1.15 * highest) + 1, step)
    axes.set_yticks(days, [str(day) for day in days], fontsize=13)
    _by_lead(axes, found)
    _key(axes)


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
            fontsize=13, ha="left" if side > 0 else "right", va="center", zorder=5,
        )  # fmt: skip
    axes.set_xlim(-3.0, 108.0)
    axes.set_ylim(-9.0, 109.0)
    axes.set_xticks([0, 25, 50, 75, 100], ["0", "25", "50", "75", "100"], fontsize=13)
    axes.set_yticks([0, 50, 100], ["0", "50", "100"], fontsize=13)
    axes.set_xlabel("chance given, %", fontsize=14, labelpad=2)
    axes.set_title("Chances given for a day: came true, % (times given beside)", loc="left",
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


def _by_lead(axes: Axes, found: Hindcast) -> None:
    """Name the leads, each with how often the span held and whether it beats the usual dates."""
    leads, cell = _leads(found), said_cell(found)
    by_lead = {
        one.lead_days: one
        for one in found.cells
        if cell is not None and one.threshold == cell.threshold
    }
    names = []
    for lead in leads:
        one = by_lead.get(lead)
        said = "" if one is None else f"\nheld {one.inside} of {one.n}\n{judged(one)}"
        names.append(f"{_ahead(lead)}{said}")
    axes.set_xlim(-0.6, len(leads) - 0.4)
    axes.set_xticks(range(len(leads)), names, fontsize=13)
    axes.set_title("Off by, days on average; is the forecast better?", loc="left", fontsize=14,
                   x=TITLE_X, y=1.22)  # fmt: skip
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


def _source(found: Hindcast) -> str:
    if found.truth == "model":
        return "WEATHER ONLY: true dates are the model's own, driven by the air as it came."
    return "True dates from your own daily soil readings."


def describe_check(checked: Checked) -> str:
    """Return a paragraph that says what the picture shows, for those who cannot see it."""
    found = checked.hindcast
    words = [first_sentence(found)]
    if (said := said_cell(found)) is not None:
        words.append(verdict_words([one for one in found.cells if one.threshold == said.threshold]))
    words += [f"Soil {place_words(checked.site)}.", truth_words(found)]
    for threshold in found.thresholds:
        cells = [cell for cell in found.cells if cell.threshold == threshold.name]
        if not cells:
            continue
        side = "below" if threshold.direction == "falling" else "above"
        parts = [
            f"{_ahead(cell.lead_days)}: off by {cell.mae_days:.1f} days, the usual date by "
            f"{usual_off_days(found, cell):.1f}, span held in {cell.inside} of {cell.n}, "
            f"{judged(cell)}"
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
