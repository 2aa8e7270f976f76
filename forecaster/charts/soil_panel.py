"""The upper panel: temperatures so far and ahead, past years, readings, thresholds."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from forecaster.charts.data import (
    ChartData,
    Mark,
    day_number,
    view,
)
from forecaster.charts.style import CHALK, CLAY, INK, MOSS, PAPER, SAND, UMBER, plain, today_line
from forecaster.ground.arrays import Days, Floats
from forecaster.ground.units import c_to_f, f_to_c
from forecaster.words.phrases import HALF_WIDTH_SDS, degrees, short_day

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MANY_READINGS = 40


def soil_panel(axes: Axes, data: ChartData) -> None:
    """Draw temperatures: past years, estimate, futures, readings, thresholds, crossings."""
    from matplotlib.ticker import MultipleLocator  # noqa: PLC0415

    first, last = view(data)
    shown = (data.day >= first) & (data.day <= last)
    day, today = data.day[shown], np.datetime64(data.today, "D")
    soil, sd = c_to_f(data.soil_c[shown]), 1.8 * data.sd_c[shown]
    fan, usual = c_to_f(data.fan_c[:, shown]), c_to_f(data.usual_c[:, shown])
    past, ahead = day <= today, day >= today
    if np.isfinite(usual).any():
        axes.fill_between(day, usual[0], usual[2], color=CHALK, lw=0, label="past years, 8 in 10")
        axes.plot(
            day, usual[1], color=INK, lw=1.3, ls=(0, (1, 2)), zorder=3, label="past years, middle"
        )
    half = HALF_WIDTH_SDS * sd[past]
    axes.fill_between(
        day[past], soil[past] - half, soil[past] + half, color=CLAY, alpha=0.55, lw=0,
        label="estimate, 4 in 5",
    )  # fmt: skip
    axes.plot(day[past], soil[past], color=UMBER, lw=2.6, label="estimate so far")
    axes.fill_between(
        day[ahead], fan[0, ahead], fan[4, ahead], facecolor=SAND, lw=0, label="ahead, 4 in 5"
    )
    axes.fill_between(
        day[ahead], fan[1, ahead], fan[3, ahead], facecolor=CLAY, lw=0, label="ahead, 1 in 2"
    )
    axes.plot(
        day[ahead], fan[2, ahead], color=UMBER, lw=2.6, ls=(0, (5, 1.5)), label="ahead, middle"
    )
    _readings(axes, data, first, last)
    _limits(axes, data, [soil, fan[0], fan[4], usual[0], usual[2]])
    for mark in data.marks:
        _threshold(axes, mark, first, last)
    today_line(axes, data.today)
    axes.text(
        float(day_number(today)) + 1.0, 0.985, f"today, {short_day(data.today)}", va="top",
        transform=axes.get_xaxis_transform(), fontsize=14,
    )  # fmt: skip
    axes.set_ylabel("soil, °F")
    right = axes.secondary_yaxis("right", functions=(_to_c, _to_f))
    right.set_ylabel("soil, °C")
    right.yaxis.set_major_locator(MultipleLocator(5))
    right.spines["right"].set_visible(False)
    axes.tick_params(axis="x", which="both", length=0)
    plain(axes)


def _readings(axes: Axes, data: ChartData, first: np.datetime64, last: np.datetime64) -> None:
    """Draw readings as points, contradicted ones hollow; a logger's many are small."""
    inside = (data.reading_day >= first) & (data.reading_day <= last)
    size, edge = (7.5, 1.6) if inside.sum() <= MANY_READINGS else (3.2, 0.0)
    for odd, face, label in ((False, INK, "readings"), (True, PAPER, "contradicted readings")):
        some = inside & (data.reading_outlier == odd)
        if some.any():
            axes.plot(
                data.reading_day[some], c_to_f(data.reading_c[some]), "o", ms=6.0 if odd else size,
                mew=1.4 if odd else edge, mfc=face, mec=INK if odd else PAPER,
                label=label, zorder=5, ls="none",
            )  # fmt: skip


def _limits(axes: Axes, data: ChartData, drawn: list[Floats]) -> None:
    """Leave room for everything drawn, every threshold, and the words at the top."""
    values = [*(v[np.isfinite(v)] for v in drawn)]
    values.append(c_to_f(np.array([mark.threshold_c for mark in data.marks])))
    all_values = np.concatenate(values)
    low, high = (float(all_values.min()), float(all_values.max())) if all_values.size else (32, 90)
    margin = max(2.0, 0.07 * (high - low))
    axes.set_ylim(low - margin, high + 1.6 * margin)


def _threshold(axes: Axes, mark: Mark, first: np.datetime64, last: np.datetime64) -> None:
    """Draw a threshold with its label, and when it is crossed."""
    level = c_to_f(mark.threshold_c)
    axes.axhline(level, color=MOSS, lw=2.0, ls=(0, (7, 3)), zorder=4)
    side = "below" if mark.falling else "above"
    touched = mark.first_touch
    early = touched is not None and np.datetime64(touched, "D") < first + (last - first) // 2
    axes.annotate(
        f"{side} {degrees(mark.threshold_c, 'F')}", (float(day_number(first)), level),
        (6, 6 if early else -5), textcoords="offset points", va="bottom" if early else "top",
        color=MOSS, fontweight="bold", fontsize=15, zorder=6,
        bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 1.0},
    )  # fmt: skip
    if mark.early is not None and mark.late is not None:
        axes.plot(
            _clipped([mark.early, mark.late], first, last), [level, level], color=MOSS, lw=7,
            solid_capstyle="butt", zorder=5, label="date, 4 in 5",
        )  # fmt: skip
    if mark.median is not None and first <= np.datetime64(mark.median, "D") <= last:
        middle = np.datetime64(mark.median, "D")
        axes.plot(
            [middle],
            [level],
            "D",
            ms=11,
            mfc=PAPER,
            mec=MOSS,
            mew=2.4,
            zorder=7,
            label="date, middle",
            ls="none",
        )
        axes.annotate(
            short_day(mark.median), (float(day_number(middle)), level), (0, 11),
            textcoords="offset points", ha="left", fontweight="bold", color=INK, zorder=8,
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 1.0},
        )  # fmt: skip
    if mark.first_touch is not None and first <= np.datetime64(mark.first_touch, "D") <= last:
        touch = np.datetime64(mark.first_touch, "D")
        axes.plot(
            [touch], [level], "v" if mark.falling else "^", ms=10, mfc=PAPER, mec=INK, zorder=7
        )
        axes.annotate(
            f"touched {short_day(mark.first_touch)}", (float(day_number(touch)), level), (4, -10),
            textcoords="offset points", ha="right", va="top", fontsize=13, zorder=8,
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 1.0},
        )  # fmt: skip


def _clipped(dates: list[date], first: np.datetime64, last: np.datetime64) -> Days:
    clipped: Days = np.clip(np.array(dates, dtype="datetime64[D]"), first, last)
    return clipped


def _to_c(temp_f: Any) -> Any:
    return f_to_c(np.asarray(temp_f, dtype=float))


def _to_f(temp_c: Any) -> Any:
    return c_to_f(np.asarray(temp_c, dtype=float))
