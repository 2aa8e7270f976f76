"""The picture of one window: the soil so far, what it may do, and the date's chances below.

Only `crossday chart` imports this, because matplotlib is slow to load. Two panels share the
time axis: soil temperature above; below, twenty dots, each one chance in twenty of the date.
Lightness and line style carry the meaning, hue only helps.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from forecaster.errors import InputError, NotEnoughData
from forecaster.units import c_to_f, f_to_c
from forecaster.window import Window, WindowAnswer
from forecaster.words import Told, lead, place_words
from forecaster.words.phrases import HALF_WIDTH_SDS, between, degrees, odds, say_day, short_day

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]

FORMATS = (".png", ".svg")
SIZE_IN, DOTS_PER_INCH = (7.8, 10.4), 150
DOTS = 20
PAST_DAYS, AFTER_DAYS, LEAST_AFTER_DAYS, MOST_PAST_DAYS = 75, 24, 45, 240
PAPER, INK, UMBER, CLAY, SAND, CHALK, MOSS = (
    "#fbf7ee", "#2a241d", "#4a3120", "#a9805a", "#d9bf98", "#e7dfd0", "#3d5a45",
)  # fmt: skip
STYLE: Any = {
    "font.size": 16,
    "font.family": "DejaVu Sans",
    "text.color": INK,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "svg.hashsalt": "crossday",
}


@dataclass(frozen=True, slots=True)
class Mark:
    """One threshold on the picture.

    Parameters
    ----------
    label, short : str
        What is planted; the threshold's name.
    threshold_c : float
        °C.
    falling : bool
    early, median, late : date or None
        Settled date: 10 %, middle, 90 %.
    first_touch : date or None
    never : float
        Probability.
    day, share : arrays
        The date's distribution: days and probability a day.
    usual : date or None
        Middle of the past dates, in this season.
    sentence : str
        The answer in words.
    """

    label: str
    short: str
    threshold_c: float
    falling: bool
    early: date | None
    median: date | None
    late: date | None
    first_touch: date | None
    never: float
    day: Days
    share: Floats
    usual: date | None
    sentence: str


@dataclass(frozen=True, slots=True)
class ChartData:
    """What is drawn, as plain arrays; temperatures in °C, days as datetime64[D].

    Parameters
    ----------
    title : str
        Name of the place or "".
    place : str
        Depth and coordinates in words.
    today : date
    day : (n,) array
        Days, past and future.
    soil_c, sd_c : (n,) array
        Estimate of past days, °C, NaN in the future.
    fan_c : (5, n) array
        10, 25, 50, 75 and 90 % of the futures, °C; drawn after today.
    usual_c : (3, n) array
        10, 50 and 90 % of past years on the same day of the calendar, °C.
    usual_years : int
        How many years those are.
    reading_day, reading_c, reading_outlier : (m,) array
        Readings as daily means at the depth, °C, and whether the others contradict them.
    marks : tuple of Mark
        Thresholds of one season, the main one first.
    """

    title: str
    place: str
    today: date
    day: Days
    soil_c: Floats
    sd_c: Floats
    fan_c: Floats
    usual_c: Floats
    usual_years: int
    reading_day: Days
    reading_c: Floats
    reading_outlier: NDArray[np.bool_]
    marks: tuple[Mark, ...]


def marks_of(windows: Sequence[Window], sentences: Sequence[str]) -> tuple[Mark, ...]:
    """Return the thresholds to draw: the first window's, and others of the same season."""
    return tuple(
        Mark(
            window.threshold.label,
            window.threshold.name,
            window.threshold.threshold_c,
            window.threshold.direction == "falling",
            window.outlook.early,
            window.outlook.median,
            window.outlook.late,
            window.so_far.first_touch,
            window.outlook.never,
            np.array(window.outlook.day, dtype="datetime64[D]"),
            np.array(window.outlook.share, dtype=float),
            window.typical.median,
            words,
        )
        for window, words in zip(windows, sentences, strict=True)
        if window.threshold.direction == windows[0].threshold.direction
        and window.season_start == windows[0].season_start
    )


def picture_of(answer: WindowAnswer, told: Told) -> ChartData:
    """Return what is drawn of an answer: the first window's season.

    Raises
    ------
    NotEnoughData
        If the answer holds no window.
    """
    if not told.windows:
        raise NotEnoughData("there is no window to draw")
    sentences = [
        lead(window, told.today, "F", told.touched_c.get(window.threshold.name))
        for window in told.windows
    ]
    return ChartData(
        told.title,
        place_words(told.site),
        told.today,
        answer.day,
        answer.soil_c,
        answer.sd_c,
        answer.fan_c,
        answer.usual_c,
        answer.years,
        answer.reading_day,
        answer.reading_c,
        answer.reading_outlier,
        marks_of(told.windows, sentences),
    )


def draw(data: ChartData, path: str | Path) -> Path:
    """Draw the picture and write its description beside it.

    Parameters
    ----------
    data : ChartData
    path : str or Path
        Ends in ``.png`` or ``.svg``.

    Returns
    -------
    Path
        The description: the same name with ``.txt``.

    Raises
    ------
    InputError
        If the name ends otherwise.
    """
    path = Path(path)
    if path.suffix.lower() not in FORMATS:
        raise InputError(
            f"the picture {path.name!r} cannot be made; expected a name ending in .png or .svg"
        )
    from matplotlib import rc_context  # noqa: PLC0415

    words = describe(data)
    figure = build(data)
    title = _heading(data).replace("\n", ": ")
    kind = path.suffix.lower().removeprefix(".")
    metadata: dict[str, Any] = {"Title": title, "Description": words}
    if kind == "svg":
        metadata["Date"] = None
    with rc_context(STYLE):
        figure.savefig(path, format=kind, dpi=DOTS_PER_INCH, metadata=metadata)
    if kind == "svg":
        _describe_svg(path, title, words)
    beside = path.with_suffix(".txt")
    beside.write_text(words + "\n", encoding="utf-8")
    return beside


def describe(data: ChartData) -> str:
    """Return a paragraph that says what the picture shows, for those who cannot see it."""
    first, last = _view(data)
    shown = (data.day >= first) & (data.day <= last)
    now = _at(data, data.today)
    span = f"from {say_day(_date(first), data.today)} to {say_day(_date(last), data.today)}"
    words = [f"Soil temperature {data.place}, {span}, in °F on the left and °C on the right."]
    if now is not None:
        words.append(
            f"On {say_day(data.today, data.today)} the estimate is {degrees(now, 'F', both=True)}."
        )
    ahead = data.fan_c[:, shown & (data.day > np.datetime64(data.today, "D"))]
    if ahead.size and np.isfinite(ahead[2, -1]):
        low, middle, high = (degrees(float(ahead[k, -1]), "F") for k in (0, 2, 4))
        words.append(
            f"By {say_day(_date(last), data.today)} the middle of the futures is {middle}, "
            f"8 in 10 between {low} and {high}."
        )
    words += [mark.sentence for mark in data.marks]
    usual = data.usual_c[:, shown]
    if data.usual_years and np.isfinite(usual).any():
        words.append(
            f"A pale band behind shows where 8 in 10 of {data.usual_years} past years lay."
        )
    inside = (data.reading_day >= first) & (data.reading_day <= last)
    if inside.any():
        odd = int(data.reading_outlier[inside].sum())
        words.append(
            f"{int(inside.sum())} thermometer readings are marked"
            + (f", {odd} of them hollow because the others contradict them." if odd else ".")
        )
    for mark in data.marks:
        if mark.share.sum() > 0:
            words.append(_dots_in_words(mark, data.today))
    return " ".join(words)


def dots(mark: Mark) -> tuple[list[date], int]:
    """Return the dates of the twenty dots, and how many stand for never.

    Dot i lies where the chance of having settled reaches (i + ½)/20, so each is one chance in
    twenty.
    """
    if not mark.share.size:
        return [], 0
    reached = np.cumsum(mark.share)
    wanted = (np.arange(DOTS) + 0.5) / DOTS
    at = np.searchsorted(reached, wanted - 1e-9)
    placed = at[at < mark.day.size]
    return [_date(mark.day[k]) for k in placed], DOTS - placed.size


def build(data: ChartData) -> Figure:
    """Return the figure, not yet written."""
    from matplotlib import rc_context  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    with rc_context(STYLE):
        figure = Figure(figsize=SIZE_IN, facecolor=PAPER)
        above, below = figure.subplots(
            2, 1, sharex=True, height_ratios=(3.1, 1.0 + 0.45 * (len(data.marks) - 1))
        )
        figure.subplots_adjust(left=0.125, right=0.875, top=0.835, bottom=0.2, hspace=0.07)
        _soil_panel(above, data)
        _date_panel(below, data)
        _say_above(figure, data)
        _legend(figure, above, below, data)
    return figure


def _say_above(figure: Figure, data: ChartData) -> None:
    """Write the answer over the picture."""
    mark = data.marks[0]
    figure.text(
        0.03, 0.985, _heading(data), va="top", fontsize=18, fontweight="bold", linespacing=1.25
    )
    if mark.early is not None and mark.late is not None:
        figure.text(
            0.03,
            0.919,
            f"4 in 5 {between(mark.early, mark.late, data.today)}",
            va="top",
            fontsize=16,
        )
    where = "\n".join(text for text in (data.title, data.place) if text)
    figure.text(0.03, 0.889, where, va="top", fontsize=13, linespacing=1.25)


def _legend(figure: Figure, above: Axes, below: Axes, data: ChartData) -> None:
    """Say what each line, band and dot is, and what is left out."""
    from matplotlib.legend_handler import HandlerTuple  # noqa: PLC0415

    drawn: dict[str, Any] = {}
    for axes in (above, below):
        drawn |= {
            str(label): handle
            for handle, label in zip(*axes.get_legend_handles_labels(), strict=True)
        }
    years = f"{data.usual_years} past years: middle, 8 in 10"
    wanted = (
        ("soil so far, 4 in 5 band", ("estimate, 4 in 5", "estimate so far")),
        ("ahead: middle, 1 in 2, 4 in 5", ("ahead, 4 in 5", "ahead, 1 in 2", "ahead, middle")),
        (years, ("past years, 8 in 10", "past years, middle")),
        ("settles: 4 in 5, middle", ("date, 4 in 5", "date, middle")),
        ("your readings", ("readings",)),
        ("readings the others contradict", ("contradicted readings",)),
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
        fontsize=13, handler_map={tuple: HandlerTuple(ndivide=1)}, handlelength=1.8,
        columnspacing=1.2, labelspacing=0.45, borderpad=0.2,
    )  # fmt: skip
    figure.text(
        0.03, 0.012, "Estimates from air temperature; frost not included.", va="bottom", fontsize=13
    )


def _soil_panel(axes: Axes, data: ChartData) -> None:
    """Draw temperatures: past years, estimate, futures, readings, thresholds, crossings."""
    from matplotlib.ticker import MultipleLocator  # noqa: PLC0415

    first, last = _view(data)
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
    _today_line(axes, data.today)
    axes.text(
        float(_number(today)) + 1.0, 0.985, f"today, {short_day(data.today)}", va="top",
        transform=axes.get_xaxis_transform(), fontsize=14,
    )  # fmt: skip
    axes.set_ylabel("soil, °F")
    right = axes.secondary_yaxis("right", functions=(_to_c, _to_f))
    right.set_ylabel("soil, °C")
    right.yaxis.set_major_locator(MultipleLocator(5))
    right.spines["right"].set_visible(False)
    axes.tick_params(axis="x", which="both", length=0)
    _plain(axes)


def _readings(axes: Axes, data: ChartData, first: np.datetime64, last: np.datetime64) -> None:
    inside = (data.reading_day >= first) & (data.reading_day <= last)
    for odd, face, label in ((False, INK, "readings"), (True, PAPER, "contradicted readings")):
        some = inside & (data.reading_outlier == odd)
        if some.any():
            axes.plot(
                data.reading_day[some], c_to_f(data.reading_c[some]), "o", ms=7.5, mew=1.6,
                mfc=face, mec=INK if odd else PAPER, label=label, zorder=5, ls="none",
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
    axes.annotate(
        f"{side} {degrees(mark.threshold_c, 'F')}", (float(_number(first)), level), (6, -5),
        textcoords="offset points", va="top", color=MOSS, fontweight="bold", fontsize=15,
        bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 1.0}, zorder=6,
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
            short_day(mark.median), (float(_number(middle)), level), (0, 11),
            textcoords="offset points", ha="left", fontweight="bold", color=INK, zorder=8,
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 1.0},
        )  # fmt: skip
    if mark.first_touch is not None and first <= np.datetime64(mark.first_touch, "D") <= last:
        touch = np.datetime64(mark.first_touch, "D")
        axes.plot(
            [touch], [level], "v" if mark.falling else "^", ms=10, mfc=PAPER, mec=INK, zorder=7
        )
        axes.annotate(
            f"touched {short_day(mark.first_touch)}", (float(_number(touch)), level), (0, 10),
            textcoords="offset points", ha="right", fontsize=13, zorder=8,
        )  # fmt: skip


def _date_panel(axes: Axes, data: ChartData) -> None:
    """Stack each date's chances as dots, one chance in twenty each."""
    first, last = _view(data)
    days = float(_number(last) - _number(first))
    points = SIZE_IN[0] * 0.75 * 72.0
    step = max(1, int(np.ceil(days * 11.0 / points)))
    base, tallest = 0.0, 0
    for mark in data.marks:
        columns: dict[int, int] = {}
        x, y = [], []
        for when in dots(mark)[0]:
            if not _date(first) <= when <= _date(last):
                continue
            column = (when - _date(first)).days // step
            columns[column] = columns.get(column, 0) + 1
            x.append(first + np.timedelta64(column * step + step // 2, "D"))
            y.append(base + columns[column] - 0.5)
        height = max(columns.values(), default=1)
        never = dots(mark)[1]
        label = f"{degrees(mark.threshold_c, 'F')}" if len(data.marks) > 1 else ""
        axes.plot(x, y, "o", color=UMBER, mec=PAPER, mew=0.6, ms=10, ls="none", label=mark.short)
        if never:
            _never(axes, last, step, base, never)
            height = max(height, -(-never // 3) + 1)
        if mark.usual is not None and first <= np.datetime64(mark.usual, "D") <= last:
            axes.plot(
                [np.datetime64(mark.usual, "D")], [base - 0.75], "^", ms=11, mfc=PAPER, mec=MOSS,
                mew=2, clip_on=False, zorder=6, label="usual date here", ls="none",
            )  # fmt: skip
        axes.axhline(base, color=CLAY, lw=1.0)
        axes.text(
            0.01, base + 0.4, label, transform=axes.get_yaxis_transform(), color=MOSS,
            fontweight="bold",
        )  # fmt: skip
        tallest = max(tallest, height)
        base += max(height, 4) + 1.8
    axes.set_ylim(-1.5, max(base, 5.0))
    axes.set_yticks([])
    axes.text(
        0.01, 0.96, "each dot: 1 chance in 20", transform=axes.transAxes, va="top", fontsize=14
    )
    _today_line(axes, data.today)
    _calendar(axes, first, last)
    _plain(axes)


def _never(axes: Axes, last: np.datetime64, step: int, base: float, never: int) -> None:
    """Stack the chances of never as hollow dots at the right edge, three abreast."""
    across = np.array([k % 3 for k in range(never)])
    x = last - ((across + 0.6) * step).astype("timedelta64[D]")
    y = base + np.array([k // 3 for k in range(never)]) + 0.5
    axes.plot(x, y, "o", mfc=PAPER, mec=UMBER, mew=1.6, ms=9, ls="none", label="never")
    axes.annotate(
        "never", (float(_number(last)), float(y.max()) + 0.6), ha="right", va="bottom", fontsize=13
    )


def _today_line(axes: Axes, today: date) -> None:
    axes.axvline(float(_number(np.datetime64(today, "D"))), color=INK, lw=1.3, zorder=3)


def _calendar(axes: Axes, first: np.datetime64, last: np.datetime64) -> None:
    """Label the months; halves of months too where the view is short."""
    from matplotlib.ticker import FixedLocator  # noqa: PLC0415

    days = [
        _date(first) + timedelta(days=k) for k in range(int(_number(last) - _number(first)) + 1)
    ]
    short = len(days) <= 100
    ticks = [d for d in days if d.day == 1 or (short and d.day == 15)]
    axes.set_xlim(float(_number(first)), float(_number(last)))
    axes.set_xticks([float(_number(np.datetime64(d, "D"))) for d in ticks])
    axes.set_xticklabels([short_day(d) if len(days) <= 160 else short_day(d)[-3:] for d in ticks])
    mondays = [float(_number(np.datetime64(d, "D"))) for d in days if d.weekday() == 0]
    axes.xaxis.set_minor_locator(FixedLocator(mondays))


def _plain(axes: Axes) -> None:
    """Take away what says nothing."""
    axes.set_facecolor(PAPER)
    axes.tick_params(axis="y", length=0)
    for name in ("top", "left", "right"):
        axes.spines[name].set_visible(False)
    axes.spines["bottom"].set_color(CLAY)
    axes.grid(visible=True, axis="x", color=CHALK, lw=1.0)
    axes.set_axisbelow(True)


def _view(data: ChartData) -> tuple[np.datetime64, np.datetime64]:
    """Return the first and last day shown: a while before today, and past the latest date."""
    today = np.datetime64(data.today, "D")
    begin, end = today - PAST_DAYS, today + LEAST_AFTER_DAYS
    for mark in data.marks:
        for when in (mark.first_touch, mark.early, mark.median):
            if when is not None:
                begin = min(begin, np.datetime64(when, "D") - 10)
        for when in (mark.median, mark.late, mark.usual):
            if when is not None:
                end = max(end, np.datetime64(when, "D") + AFTER_DAYS)
    begin = max(begin, today - MOST_PAST_DAYS)
    return max(begin, data.day[0]), min(end, data.day[-1])


def _clipped(dates: list[date], first: np.datetime64, last: np.datetime64) -> Days:
    clipped: Days = np.clip(np.array(dates, dtype="datetime64[D]"), first, last)
    return clipped


def _at(data: ChartData, day: date) -> float | None:
    """Return the estimate on a day, °C, or None."""
    found = np.flatnonzero(data.day == np.datetime64(day, "D"))
    if not found.size or not np.isfinite(data.soil_c[found[0]]):
        return None
    return float(data.soil_c[found[0]])


def _dots_in_words(mark: Mark, today: date) -> str:
    placed, never = dots(mark)
    words = f"Below, {len(placed)} dots show the date's chances, 1 in 20 each"
    if placed:
        words += f", {between(placed[0], placed[-1], today)}"
    if never:
        words += f"; {never} more stand for never"
    return words + "."


def _heading(data: ChartData) -> str:
    mark = data.marks[0]
    if mark.median is None:
        side = "below" if mark.falling else "above"
        return (
            f"{mark.label}: {odds(mark.never)} that the soil\n"
            f"never settles {side} {degrees(mark.threshold_c, 'F')}"
        )
    side = "below" if mark.falling else "above"
    return (
        f"{mark.label}: soil {side} {degrees(mark.threshold_c, 'F')}\n"
        f"from about {say_day(mark.median, data.today)}"
    )


def _describe_svg(path: Path, title: str, words: str) -> None:
    """Let a screen reader say what an SVG shows."""
    text = path.read_text(encoding="utf-8")
    text = re.sub(r"<title>.*?</title>", "", text, count=1, flags=re.DOTALL)
    said = f'<title id="t">{escape(title)}</title>\n<desc id="d">{escape(words)}</desc>\n'
    text = re.sub(
        r"(<svg\b[^>]*)>",
        lambda m: f'{m[1]} role="img" aria-labelledby="t d">\n{said}',
        text,
        count=1,
    )
    path.write_text(text, encoding="utf-8")


def _date(day: np.datetime64) -> date:
    found: date = day.astype("datetime64[D]").item()
    return found


def _to_c(temp_f: Any) -> Any:
    return f_to_c(np.asarray(temp_f, dtype=float))


def _to_f(temp_c: Any) -> Any:
    return c_to_f(np.asarray(temp_c, dtype=float))


def _number(day: np.datetime64) -> int:
    """Return days since 1970, the unit of the time axis."""
    return int(day.astype("datetime64[D]").astype(np.int64))
