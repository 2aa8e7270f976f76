"""The upper panel: temperatures so far and ahead, past years, readings, thresholds."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from forecaster.charts.data import MANY_READINGS, ChartData, Mark, as_date, day_number, view
from forecaster.charts.labels import Room, words_on
from forecaster.charts.style import CHALK, CLAY, INK, MOSS, PAPER, SAND, UMBER, plain, today_line
from forecaster.ground.arrays import Days, Floats
from forecaster.ground.units import c_to_f, f_to_c
from forecaster.words.phrases import HALF_WIDTH_SDS, degrees, odds, short_day

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GAP_DAYS = 3
"""Between the last day of air and today, from which it is said."""
UNLIKELY = 0.5
"""Chance of never from which the threshold itself says so."""


def soil_panel(axes: Axes, data: ChartData) -> None:
    """Draw temperatures: past years, estimate, futures, readings, thresholds, crossings."""
    from matplotlib.ticker import MultipleLocator  # noqa: PLC0415

    first, last = view(data)
    shown = (data.day >= first) & (data.day <= last)
    day = data.day[shown]
    soil, sd = c_to_f(data.soil_c[shown]), 1.8 * data.sd_c[shown]
    fan, usual = c_to_f(data.fan_c[:, shown]), c_to_f(data.usual_c[:, shown])
    past, ahead = day <= data.known_to, day >= data.known_to
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
    axes.set_ylabel("soil, °F")
    right = axes.secondary_yaxis("right", functions=(_to_c, _to_f))
    right.set_ylabel("soil, °C")
    right.yaxis.set_major_locator(MultipleLocator(5))
    right.spines["right"].set_visible(False)
    axes.tick_params(axis="x", which="both", length=0)
    plain(axes)


def label_soil(axes: Axes, data: ChartData) -> None:
    """Say on the panel which line is which day or temperature; both axes have their limits."""
    room = Room(axes)
    for line in axes.get_lines():
        x, y = (np.asarray(v) for v in line.get_data(orig=False))
        if line.get_linestyle() == "None":
            room.keep_off_points(x, y, 1.6 * float(line.get_markersize()))
        elif line.get_transform() == axes.transData:
            room.keep_off_line(x, y)
    first, last = view(data)
    low, high = axes.get_ylim()
    for mark in data.marks:
        room.keep_off_line(axes.get_xlim(), [c_to_f(mark.threshold_c)] * 2)
    now = float(day_number(np.datetime64(data.today, "D")))
    room.keep_off_line([now, now], [low, high])
    today = words_on(axes, f"today, {short_day(data.today)} {data.today.year}", fontsize=14)
    room.put(today, now, high, join=False)
    left = float(day_number(first))
    for mark in data.marks:
        goal = f"{'below' if mark.falling else 'above'} {degrees(mark.threshold_c, 'F')}"
        level = float(c_to_f(mark.threshold_c))
        said = words_on(axes, goal, color=MOSS, fontweight="bold", fontsize=15)
        room.put(said, left, level, sideways=0.2, join=False)
    for mark in data.marks:
        _label_dates(axes, room, mark, first, last)
    known = as_date(data.known_to)
    if data.today - known >= timedelta(days=GAP_DAYS) and first <= data.known_to:
        end = float(day_number(data.known_to))
        room.put(words_on(axes, f"air ends {short_day(known)}", fontsize=14), end, low, join=False)


def _label_dates(
    axes: Axes, room: Room, mark: Mark, first: np.datetime64, last: np.datetime64
) -> None:
    """Say a threshold's middle day, its first touch, or that it may never be."""
    level = float(c_to_f(mark.threshold_c))
    if mark.median is not None and first <= np.datetime64(mark.median, "D") <= last:
        middle = float(day_number(np.datetime64(mark.median, "D")))
        room.put(words_on(axes, short_day(mark.median), fontweight="bold"), middle, level)
    touch = mark.first_touch
    if touch is not None and first <= np.datetime64(touch, "D") <= last:
        at = float(day_number(np.datetime64(touch, "D")))
        room.put(words_on(axes, f"touched {short_day(touch)}", fontsize=14), at, level)
    if np.isfinite(mark.never) and mark.never >= UNLIKELY:
        never = words_on(axes, f"{odds(mark.never)} chance that it never settles", fontsize=14)
        room.put(never, float(day_number(last)), level, sideways=0.2, join=False)


def _readings(axes: Axes, data: ChartData, first: np.datetime64, last: np.datetime64) -> None:
    """Draw readings as typed, each with a line to what it says of the day's mean at the depth.

    Contradicted ones are hollow. A logger's many are small, and its daily means alone.
    """
    inside = (data.reading_day >= first) & (data.reading_day <= last)
    typed = (data.typed_day >= first) & (data.typed_day <= last)
    many = inside.sum() > MANY_READINGS
    if not data.typed_drawn:
        day, value, odd = data.reading_day, data.reading_c, data.reading_outlier
    else:
        day, value = data.typed_day, data.typed_c
        odd = np.isin(day, data.reading_day[data.reading_outlier])
        _corrections(axes, data, typed)
        inside = typed
    size, edge = (3.2, 0.0) if many else (7.5, 1.6)
    for hollow, face, label in ((False, INK, "readings"), (True, PAPER, "contradicted readings")):
        some = inside & (odd == hollow)
        if some.any():
            axes.plot(
                day[some], c_to_f(value[some]), "o", ms=6.0 if hollow else size,
                mew=1.4 if hollow else edge, mfc=face, mec=INK if hollow else PAPER,
                label=label, zorder=5, ls="none",
            )  # fmt: skip


def _corrections(axes: Axes, data: ChartData, typed: Any) -> None:
    """Draw a line from each reading as typed to the day's mean at the depth, a tick there."""
    mean = dict(zip(data.reading_day.tolist(), c_to_f(data.reading_c).tolist(), strict=True))
    days = data.typed_day[typed]
    ends = np.array([mean.get(day, np.nan) for day in days.tolist()])
    axes.vlines(
        days, c_to_f(data.typed_c[typed]), ends, color=INK, lw=1.3, zorder=4, label="_corrected"
    )
    axes.plot(days, ends, "_", ms=9, mew=2.0, color=INK, ls="none", zorder=5, label="corrected")


def _limits(axes: Axes, data: ChartData, drawn: list[Floats]) -> None:
    """Leave room for everything drawn, every threshold, and the words at the top."""
    values = [*(v[np.isfinite(v)] for v in drawn)]
    values.append(c_to_f(np.array([mark.threshold_c for mark in data.marks])))
    all_values = np.concatenate(values)
    low, high = (float(all_values.min()), float(all_values.max())) if all_values.size else (32, 90)
    margin = max(2.0, 0.07 * (high - low))
    axes.set_ylim(low - margin, high + 1.6 * margin)


def _threshold(axes: Axes, mark: Mark, first: np.datetime64, last: np.datetime64) -> None:
    """Draw a threshold, and when it is crossed."""
    level = c_to_f(mark.threshold_c)
    axes.axhline(level, color=MOSS, lw=2.0, ls=(0, (7, 3)), zorder=4, label="threshold")
    if mark.early is not None and mark.late is not None:
        axes.plot(
            _clipped([mark.early, mark.late], first, last), [level, level], color=MOSS, lw=7,
            solid_capstyle="butt", zorder=5, label="date, 4 in 5",
        )  # fmt: skip
    if mark.median is not None and first <= np.datetime64(mark.median, "D") <= last:
        axes.plot(
            [np.datetime64(mark.median, "D")], [level], "D", ms=11, mfc=PAPER, mec=MOSS, mew=2.4,
            zorder=7, label="date, middle", ls="none",
        )  # fmt: skip
    if mark.first_touch is not None and first <= np.datetime64(mark.first_touch, "D") <= last:
        axes.plot(
            [np.datetime64(mark.first_touch, "D")], [level], "v" if mark.falling else "^", ms=10,
            mfc=PAPER, mec=INK, zorder=7, label="first touch", ls="none",
        )  # fmt: skip


def _clipped(dates: list[date], first: np.datetime64, last: np.datetime64) -> Days:
    clipped: Days = np.clip(np.array(dates, dtype="datetime64[D]"), first, last)
    return clipped


def _to_c(temp_f: Any) -> Any:
    return f_to_c(np.asarray(temp_f, dtype=float))


def _to_f(temp_c: Any) -> Any:
    return c_to_f(np.asarray(temp_c, dtype=float))
