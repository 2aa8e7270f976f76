"""Windows of crops as bars: how sure they are by how dark, and the same in words above."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from forecaster.answers.crops import CropWindow, Span
from forecaster.report.markup import Piece, el, folded, joined
from forecaster.words.crops import BEGUN
from forecaster.words.phrases import (
    between,
    count,
    listed,
    odds,
    percent,
    short_day,
)

BEFORE_DAYS, AFTER_DAYS, MOST_DAYS = 14, 10, 330
SOON_DAYS = 120
NARROW_DAYS = 9
AT_ONCE = 5
"""Rows that have room on paper; more are folded away on a screen."""


@dataclass(frozen=True, slots=True)
class Axis:
    """The days that all bars share."""

    first: date
    last: date

    def at(self, day: date) -> float:
        """Return where a day lies, in percent of the width, kept inside."""
        share = 100.0 * (day - self.first).days / (self.last - self.first).days
        return round(min(100.0, max(0.0, share)), 2)

    def holds(self, day: date | None) -> bool:
        """Say whether a day lies on it."""
        return day is not None and self.first <= day <= self.last


def axis_of(windows: Sequence[CropWindow], today: date) -> Axis | None:
    """Return the days to show, today among them if it is near; None if there is no window."""
    opens = [w.opens.early or w.opens.median for w in windows if w.opens.median is not None]
    begin = [day for day in opens if day is not None]
    if not begin:
        return None
    ends = [day for w in windows for day in (w.closes.late or w.closes.median,) if day is not None]
    near = min(begin) <= today + timedelta(days=SOON_DAYS)
    first = (today if near else min(begin)) - timedelta(days=BEFORE_DAYS)
    last = max([*ends, *begin, today]) + timedelta(days=AFTER_DAYS)
    return Axis(first, min(last, first + timedelta(days=MOST_DAYS)))


def grouped(windows: Sequence[CropWindow]) -> list[list[CropWindow]]:
    """Return crops with the same dates together, the next to be planted first."""

    def same(window: CropWindow) -> tuple[str, ...]:
        if _none(window):
            return window.season, "none", odds(window.opens.probability)
        spans = (window.opens, window.best, window.closes)
        days = [str(day) for span in spans for day in (span.early, span.median, span.late)]
        return window.season, window.use, window.state, *days

    last = date.max
    ordered = sorted(
        windows,
        key=lambda w: (_none(w), w.best.median or last, w.opens.median or last, same(w)),
    )
    return [list(group) for _, group in groupby(ordered, key=same)]


def _none(window: CropWindow) -> bool:
    return window.state == "none" or window.opens.median is None


def crop_bars(windows: Sequence[CropWindow], today: date) -> Piece:
    """Return the windows as a figure: words and a bar for each crop, or crops that share dates."""
    axis = axis_of(windows, today)
    groups = grouped(windows)
    rows = [_row(group, axis, today) for group in groups]
    months = None
    if axis is not None:
        months = el("li", _months(axis), class_="months", aria_hidden="true")
    keys = (
        (
            f'<rect x="1" y="2" width="26" height="10" {PALE}/>',
            "a planting may go well, 20 % or more",
        ),
        (
            f'<rect x="1" y="2" width="26" height="10" {FULL}/>',
            "a planting goes well, 80 % or more",
        ),
        (f'<path d="M14 1V13" {LINE}/>', "50 % chance that a planting goes well"),
        (f'<path d="{DIAMOND}" transform="translate(14 7)" {BEST}/>', "best day"),
        (f'<path d="M14 0V14" {TODAY}/>', "today"),
    )
    words = joined(
        (el("span", _key(drawn), f" {means}", class_="keys") for drawn, means in keys), "; "
    )
    more: tuple[Piece, ...] = ()
    if len(groups) > AT_ONCE:
        rest = count(sum(len(group) for group in groups[AT_ONCE:]), "more crop")
        more = (
            el("p", f"{rest} on the screen.", class_="note paper"),
            folded(rest, el("ul", months, *rows[AT_ONCE:], class_="crops")),
        )
    dates = (
        "Dates are those of a 50 % chance that a planting goes well; beside the best day, its "
        "chance. "
    )
    first = el("ul", months, *rows[:AT_ONCE], class_="crops")
    legend = None if axis is None else el("figcaption", dates, words)
    return el("figure", first, legend, *more)


PALE = 'fill="var(--sand)" stroke="var(--clay)"'
FULL = 'fill="var(--clay)"'
LINE = 'stroke="var(--umber)" stroke-width="2.5"'
BEST = 'fill="var(--paper)" stroke="var(--moss)" stroke-width="2.2"'
TODAY = 'stroke="var(--ink)" stroke-width="1.5" stroke-dasharray="2 2"'
DIAMOND = "M0 -5L5 0L0 5L-5 0Z"


def _key(drawn: str) -> Piece:
    size = 'width="28" height="14" aria-hidden="true" focusable="false"'
    return Piece(f'<svg class="key" {size}>{drawn}</svg>')


def _row(group: Sequence[CropWindow], axis: Axis | None, today: date) -> Piece:
    window = group[0]
    names = [one.crop.label if at == 0 else _small(one.crop.label) for at, one in enumerate(group)]
    begun = None if _none(window) else el("span", f", {BEGUN[window.use]}", class_="screen")
    words = joined((el("b", listed(names)), begun, ": ", window_words(window, today)))
    drawn = None if axis is None or _none(window) else bar(window, axis, today)
    return el("li", el("div", words), drawn)


def _small(label: str) -> str:
    return label[0].lower() + label[1:]


def window_words(window: CropWindow, today: date) -> Piece:
    """Return when a window opens, is best, and closes, as one line."""
    opens, best, closes = window.opens, window.best, window.closes
    if _none(window) or opens.median is None:
        chance = odds(opens.probability)
        none = f"no window is to be expected this {window.season}"
        return joined((f"{none} ({chance} that a planting goes well).",))
    parts: list[str | Piece] = []
    if opens.median < today and window.state in ("open", "late"):
        parts.append(f"open since {short_day(opens.median)}")
    else:
        parts.append(joined((f"opens {short_day(opens.median)}", _spread(opens, today))))
    if best.median is not None:
        parts.append(f"best {short_day(best.median)} ({percent(best.probability)})")
    if closes.median is not None:
        parts.append(f"best until {short_day(closes.median)}")
    elif window.open_ended:
        parts.append("no closing day needed")
    return joined((joined(parts, ", "), "."))


def _spread(span: Span, today: date) -> Piece | None:
    """Return the days of 20 and 80 % in words; on paper the bar says it."""
    if span.early is None or span.late is None or span.early == span.late:
        return None
    return el("span", f" (20 to 80 % {between(span.early, span.late, today)})", class_="screen")


def bar(window: CropWindow, axis: Axis, today: date) -> Piece:
    """Return one window as a bar: pale where it may be open, dark where it nearly surely is."""
    opens, closes = window.opens, window.closes
    start = opens.early or opens.median or axis.first
    end = closes.late or window.season_end
    parts = [_gridlines(axis), _rect(axis, start, end, PALE)]
    if opens.late is not None and closes.early is not None and opens.late < closes.early:
        parts.append(_rect(axis, opens.late, closes.early, FULL))
    parts += [
        _upright(axis, day, LINE, 1, 17) for day in (opens.median, closes.median) if axis.holds(day)
    ]
    if axis.holds(today):
        parts.append(_upright(axis, today, TODAY, 0, 18))
    best = window.best.median
    if best is not None and axis.holds(best):
        parts.append(
            f'<svg x="{axis.at(best)}%" y="9" overflow="visible"><path d="{DIAMOND}" {BEST}/></svg>'
        )
    return Piece(f'<svg class="bar" aria-hidden="true" focusable="false">{"".join(parts)}</svg>')


def _rect(axis: Axis, start: date, end: date, paint: str) -> str:
    left, right = axis.at(start), axis.at(end)
    if right <= left:
        return ""
    return f'<rect x="{left}%" y="3" width="{right - left:.2f}%" height="12" {paint}/>'


def _upright(axis: Axis, day: date | None, paint: str, top: int, bottom: int) -> str:
    if day is None:
        return ""
    x = axis.at(day)
    return f'<line x1="{x}%" x2="{x}%" y1="{top}" y2="{bottom}" {paint}/>'


def _firsts(axis: Axis) -> list[date]:
    """Return the first days of the months on the axis."""
    days = [axis.first + timedelta(days=k) for k in range((axis.last - axis.first).days + 1)]
    return [day for day in days if day.day == 1]


def _gridlines(axis: Axis) -> str:
    return "".join(_upright(axis, day, 'stroke="var(--chalk)"', 0, 18) for day in _firsts(axis))


def _months(axis: Axis) -> Piece:
    """Return the names of the months over the bars."""
    span = (axis.last - axis.first).days
    room = [day for day in _firsts(axis) if (axis.last - day).days >= span // NARROW_DAYS]
    every = 1 if len(room) <= 6 else 2
    words = "".join(
        f'<text x="{axis.at(day)}%" dx="3" y="13">{short_day(day)[2:]}</text>'
        for day in room[::every]
    )
    return Piece(f'<svg class="bar" focusable="false">{_gridlines(axis)}{words}</svg>')
