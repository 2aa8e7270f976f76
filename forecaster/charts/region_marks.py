"""What a region's map shows: places in a few groups, each with a mark that holds in grey."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

import numpy as np
import pandas as pd

from forecaster.charts.style import PAPER
from forecaster.ground.units import c_to_f
from forecaster.words.phrases import percent, short_day

By = Literal["date", "usual"]
DARK_TO_LIGHT = ("#33200f", "#6b4526", "#9c6d41", "#c79c69", "#e4c995", "#fbf0d0")
"""Of one hue, evenly spaced in lightness: early dates are dark."""
STEPS_DAYS = (1, 2, 3, 5, 7, 10, 14, 21, 28, 42, 61)
LEVELS = (-8, -3, 3, 8)  # days against the usual


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Places that look alike.

    Parameters
    ----------
    label : str
        What the legend says.
    shape : str
        Matplotlib's marker.
    fill : str
        Colour.
    rows : tuple of int
        Which rows of the table.
    size : float
        Against that of the others.
    """

    label: str
    shape: str
    fill: str
    rows: tuple[int, ...]
    size: float = 1.0


def groups_of(rows: pd.DataFrame, by: By) -> list[Group]:
    """Return the places of a region's table in groups, none of which is empty.

    Parameters
    ----------
    rows : DataFrame
        A row a place, with the columns of an answer.
    by : {"date", "usual"}
    """
    bad = (rows["problem"] != "").to_numpy()
    median = rows["median"].map(lambda day: isinstance(day, date)).to_numpy()
    never = ~bad & ~median
    if by == "usual":
        against = rows["against_usual_days"].to_numpy(dtype=float)
        groups = _by_usual(against, np.isfinite(against) & ~bad & ~never)
        unknown = ~bad & ~never & ~np.isfinite(against)
        groups.append(_group("usual date not known", "D", PAPER, unknown))
    else:
        groups = _by_date(rows["median"], ~bad & ~never)
    groups.append(_group("rather never this season", "o", PAPER, never))
    groups.append(_group("no answer", "x", PAPER, bad, 0.6))
    return [one for one in groups if one.rows]


def _group(label: str, shape: str, fill: str, which: Any, size: float = 1.0) -> Group:
    rows = tuple(np.flatnonzero(which).tolist())
    return Group(label=label, shape=shape, fill=fill, rows=rows, size=size)


def _by_date(median: pd.Series[Any], known: Any) -> list[Group]:
    """Return up to six spans of dates, of even length."""
    if not known.any():
        return []
    days = np.array([d.toordinal() if isinstance(d, date) else 0 for d in median])
    own = np.unique(days[known])
    if own.size <= len(DARK_TO_LIGHT):  # so few dates are each said
        return [
            _group(short_day(date.fromordinal(int(day))), "o", fill, known & (days == day))
            for day, fill in zip(own, _spread(own.size), strict=True)
        ]
    low, high = (int(np.quantile(days[known], q)) for q in (0.05, 0.95))
    count = len(DARK_TO_LIGHT)
    step = next((s for s in STEPS_DAYS if low + s * count > high), STEPS_DAYS[-1])
    needed = max(1, -(-(high - low + 1) // step))
    fills = _spread(needed)
    groups = []
    for k, fill in enumerate(fills):
        first, last = low + k * step, low + (k + 1) * step - 1
        inside = known & (days >= first) & (days <= last)
        label = _span(date.fromordinal(first), date.fromordinal(last))
        if needed > 1 and k == 0:
            inside, label = known & (days <= last), f"to {short_day(date.fromordinal(last))}"
        elif needed > 1 and k == needed - 1:
            inside = known & (days >= first)
            label = f"from {short_day(date.fromordinal(first))}"
        groups.append(_group(label, "o", fill, inside))
    return groups


def _spread(count: int) -> list[str]:
    """Return some of the fills, as far apart as they can be."""
    at = np.linspace(0, len(DARK_TO_LIGHT) - 1, count).round().astype(int) if count > 1 else [2]
    return [DARK_TO_LIGHT[int(k)] for k in at]


def _span(first: date, last: date) -> str:
    if first == last:
        return short_day(first)
    if first.month == last.month:
        return f"{first.day}–{short_day(last)}"
    return f"{short_day(first)}–{short_day(last)}"


def _by_usual(days: Any, known: Any) -> list[Group]:
    """Return five spans of days against the usual: the shape says which way, the fill how far."""
    early, earlier, later, late = LEVELS
    return [
        _group(f"{-early} days earlier or more", "v", DARK_TO_LIGHT[0], known & (days <= early)),
        _group(
            f"{-earlier}–{-early - 1} days earlier", "v", DARK_TO_LIGHT[3],
            known & (days > early) & (days <= earlier),
        ),
        _group("about as usual", "o", DARK_TO_LIGHT[5], known & (days > earlier) & (days < later)),
        _group(
            f"{later}–{late - 1} days later", "^", DARK_TO_LIGHT[3],
            known & (days >= later) & (days < late),
        ),
        _group(f"{late} days later or more", "^", DARK_TO_LIGHT[0], known & (days >= late)),
    ]  # fmt: skip


def heading_of(rows: pd.DataFrame, by: By, show: str) -> tuple[str, str]:
    """Return the title of a map and the line under it."""
    good = rows[rows["problem"] == ""]
    if good.empty:
        return "No place has an answer", f"{len(rows):,} places"
    first = good.iloc[0]
    what = f"{first['what']}: day to set out, {first['season']}"
    if pd.notna(first["threshold_c"]):
        side = "below" if first["direction"] == "falling" else "above"
        temp = first["threshold_c"] if show == "C" else c_to_f(first["threshold_c"])
        what = f"Soil settles {side} {temp:.4g} °{show}, {first['season']}"
    issued = sorted(set(good["issued"]))
    as_of = f"as of {short_day(issued[-1])} {issued[-1].year}"
    if len(issued) > 1:
        as_of = f"as of each record's last day, {short_day(issued[-1])} {issued[-1].year} at latest"
    said = "against each place's usual date" if by == "usual" else "middle date of each place"
    return what, f"{said}, {as_of}"


def chance_label(rows: pd.DataFrame) -> str:
    """Return what the size of a mark says; empty where it says nothing."""
    days = [day for day in rows["by"] if isinstance(day, date)]
    return f"chance by {short_day(days[0])}" if days else ""


def describe(rows: pd.DataFrame, groups: list[Group], title: str, under: str) -> str:
    """Return what a map shows, in words."""
    lines = [f"{title}. {len(rows):,} places, {under}.", ""]
    lines += [f"{one.label}: {len(one.rows):,}" for one in groups]
    good = rows[(rows["problem"] == "") & rows["median"].map(lambda d: isinstance(d, date))]
    ends = good.sort_values("median", kind="stable")
    if len(ends):
        lines.append("")
        for words, row in (("First", ends.iloc[0]), ("Last", ends.iloc[-1])):
            lines.append(f"{words}: {row['place']}, {short_day(row['median'])}.")
    if chance_label(good):
        sure = int((good["chance_by"] >= 0.8).sum())
        lines.append(f"The larger the mark, the greater the {chance_label(good)}: "
                     f"{percent(0.8)} or more at {sure:,}.")  # fmt: skip
    lines.append("Nothing is drawn between places: what is not known there is not shown.")
    return "\n".join(lines)
