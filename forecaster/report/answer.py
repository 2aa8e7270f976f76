"""The parts of the page that answer: the sentence, the picture, crops, tasks, shopping, layout."""

from __future__ import annotations

from datetime import timedelta

from forecaster.answers.crops import CropWindow
from forecaster.answers.window import Window
from forecaster.report.bars import crop_bars
from forecaster.report.contents import Report
from forecaster.report.markup import (
    Piece,
    bullets,
    closed,
    el,
    folded,
    joined,
    paragraphs,
    section,
    table,
)
from forecaster.report.picture import chart, planting_sheet
from forecaster.words import lead, window_words
from forecaster.words.crops import BEGUN, NO_DATE, READ, STATES, crop_lead
from forecaster.words.phrases import (
    count,
    degrees,
    known,
    percent,
    sentence,
    short_day,
)
from forecaster.words.plan import (
    plan_lead,
    shopping_words,
)
from forecaster.words.season import before_words
from forecaster.words.window import weeks_shown

OTHER_SEASON_DAYS = 120
STILL_RUNS = "Crops whose season still runs are shown in that season, not yet in the plan's."
ENDLESS = 10**6
"""Columns: a page folds its lines by itself."""


def the_sentence(report: Report) -> Piece:
    """Return what answers the question, first of all."""
    words = plan_lead(report.plan)
    head, _, rest = words.partition(": ")
    said = rest if head == report.heading and rest else words
    return el("p", sentence(said), class_="lead")


def soil_section(report: Report) -> Piece:
    """Return the windows in words, the picture, and the chances by week."""
    plan, told = report.plan, report.told
    window = report.window
    drawn, words = chart(report)
    behind = [
        text for text in window_words(window, plan.today, report.show, ENDLESS) if "\n" not in text
    ]
    verdict, rest = behind[:1], behind[1:]
    others = [lead(one, plan.today, report.show) for one in told.windows if one is not window]
    first = lead(window, plan.today, report.show)
    picture = el(
        "figure",
        drawn,
        el(
            "figcaption",
            "Above: the soil so far and its spread ahead. Below: chances of the date.",
            class_="screen",
        ),
        folded("The picture in words", el("p", words)),
    )
    beside = el(
        "div",
        el("p", el("strong", first)),
        paragraphs(verdict),
        closed(
            "soil",
            "Week by week, and what stands behind it",
            _weeks(window),
            paragraphs(rest),
            el("div", el("h3", "The other thresholds"), bullets(others), class_="screen")
            if others
            else None,
        ),
        class_="words",
    )
    return section("soil", "The soil and the date", el("div", picture, beside, class_="two"))


def _weeks(window: Window) -> Piece:
    """Return the chance of having settled, week by week."""
    pairs = [(f"by {short_day(day)}", percent(chance)) for day, chance in weeks_shown(window)]
    if not pairs:
        return Piece("")
    never = window.outlook.never
    if known(never) and never >= 0.01:
        pairs.append(("never", percent(never)))
    side = "below" if window.threshold.direction == "falling" else "above"
    cells = [el("div", el("dt", when), el("dd", chance)) for when, chance in pairs]
    said = f"Chance that the soil has settled {side} the threshold:"
    return joined((el("p", said), el("dl", *cells, class_="weeks")))


def crops_section(report: Report) -> Piece:
    """Return the crops' windows as bars, with the numbers behind them and the frosts."""
    if report.crops is None or not report.crops.answer.windows:
        return Piece("")
    windows, today = report.crops.answer.windows, report.plan.today
    rows = [_crop_row(window, report) for window in windows]
    heads = (
        "Crop",
        "Begun",
        "Opens",
        "Best",
        "Sure",
        "Closes",
        "Now",
        "Soil threshold, its source",
    )
    numbers = table("Windows of the crops in numbers", heads, rows)
    marks = "* not from a published figure: from memory, common practice or an assumption."
    fold = folded(
        "The same in numbers, with sources", numbers, el("p", marks, class_="note"),
        bullets(crop_lead(window, today) for window in windows) if len(windows) <= 3 else None,
    )  # fmt: skip
    start = report.window.season_start - timedelta(days=OTHER_SEASON_DAYS)
    earlier = any(window.season_start < start for window in windows)
    return section(
        "crops",
        "When crops can go in",
        el("p", STILL_RUNS) if earlier else None,
        crop_bars(windows, today),
        fold,
    )


def _crop_row(window: CropWindow, report: Report) -> tuple[str, ...]:
    used = window.threshold.used
    read = f", {READ[used.measured]}" if READ[used.measured] else ""
    mark = "" if used.basis in ("published", "quoted", "yours") else "*"
    return (
        window.crop.label,
        BEGUN[window.use],
        *(
            NO_DATE if day is None else short_day(day)
            for day in (window.opens.median, window.best.median)
        ),
        percent(window.best.probability),
        NO_DATE if window.closes.median is None else short_day(window.closes.median),
        STATES[window.state],
        f"{degrees(used.value_c, report.show)}{mark}{read} ({used.basis}: {used.source})",
    )


def buy_section(report: Report) -> Piece:
    """Return the shopping list, to be ticked off."""
    lines = [line.removeprefix("· ") for line in shopping_words(report.plan.shopping)]
    if not lines:
        return section("buy", "To buy", el("p", "Tell the bed's area or outline to have a list."))
    (head, _, room), items = lines[0].partition(": "), lines[1:]
    ticks = bullets((sentence(item) for item in items), "boxes")
    list_ = closed("buy", count(len(items), "line"), ticks)
    return section("buy", f"To buy {head}", el("p", sentence(room)) if room else "", list_)


def past_section(report: Report) -> Piece:
    """Return what was planted in the bed before and what came of it; families that return."""
    lines = [line.removeprefix("· ") for line in before_words(report.plan, show=report.show)]
    if not lines:
        return Piece("")
    return section("past", "This bed before", bullets(sentence(line) for line in lines))


def layout_section(report: Report) -> Piece:
    """Return where each plant goes, if it was asked for."""
    if report.layout is None:
        return Piece("")
    drawn, words = planting_sheet(report.layout)
    return section(
        "layout",
        "Where each plant goes",
        closed("layout", "The picture", el("figure", drawn, el("figcaption", words))),
        class_="sheet",
    )
