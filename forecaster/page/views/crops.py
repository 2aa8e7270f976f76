"""Crops: pick some; a row of bars says how likely a planting of each day goes well."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from flask import Blueprint, render_template, request

from forecaster import book as kept
from forecaster.ground.errors import InputError
from forecaster.page.say import day_asked
from forecaster.page.views.common import Here, bed_named, garden
from forecaster.words.phrases import percent, say_day

if TYPE_CHECKING:
    from forecaster.answers.crops import CropAnswer, CropWindow

views = Blueprint("crops", __name__)
MOST_CROPS = 12
STEP_DAYS = 5
KINDS = ("vegetable", "herb", "flower", "fruit", "cover crop", "lawn")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A crop on the page.

    Parameters
    ----------
    bars : tuple of (float, float, float)
        Place, width and height of each bar, in hundredths of the row.
    marks : tuple of (float, str)
        Days named along the row.
    by : tuple of (date, str)
        Days compared: the chance there.
    why : tuple of str
        What stands behind it, a sentence each.
    sources : str
        All that is known of the crop, every source.
    """

    name: str
    label: str
    sentence: str
    bars: tuple[tuple[float, float, float], ...]
    by: tuple[tuple[date, str], ...]
    why: tuple[str, ...]
    sources: str


@views.get("/crops")
def crops() -> str:
    """Show the crops that can be picked, and a row for each that is."""
    from forecaster.answers.crops import find_crop, known_crops

    given = request.args
    chosen = list(dict.fromkeys(find_crop(name) for name in given.getlist("crop")[:MOST_CROPS]))
    days = [day_asked(given.get(name, ""), "the day compared") for name in ("one", "two")]
    known = list(known_crops().values())
    groups = [(kind, [one for one in known if one.kind == kind]) for kind in KINDS]
    groups += [("other", [one for one in known if one.kind not in KINDS])]
    rows: list[Row] = []
    months: list[tuple[float, str]] = []
    answer, now_at = None, 0.0
    with garden().open() as book:
        here = bed_named(book, given.get("bed"))
        beds = kept.beds(book)
        if chosen:
            answer = _answer(book, here, [one.name for one in chosen])
            first, last = _ends(answer)
            rows = [_row(one, answer, here, (first, last), days) for one in answer.windows]
            months = _months(first, last)
            now_at = round(100.0 * (answer.today - first).days / max(1, (last - first).days), 2)
    return render_template(
        "crops.html", at=here, beds=beds, groups=[g for g in groups if g[1]],
        chosen=[one.name for one in chosen], rows=rows, months=months, now_at=now_at,
        answer=answer,
        one=given.get("one", ""), two=given.get("two", ""), today=here.now.date(), here="crops",
    )  # fmt: skip


def _answer(book: kept.Book, here: Here, names: list[str]) -> CropAnswer:
    """Return the windows of crops in a bed, of the same futures as its card."""
    from forecaster.answers.crops import Wish, crop_windows_in, find_crop
    from forecaster.answers.place_today import of_record

    def find() -> CropAnswer:
        whole = garden().whole(book, here.bed.name)
        crops = [find_crop(name) for name in names]
        lawn = any(one.kind == "lawn" for one in crops)
        return crop_windows_in(
            whole.here, crops, Wish(), air=whole.record.air,
            lawn=of_record(whole.record, lawn=True) if lawn else None,
        )  # fmt: skip

    key = ("crops", here.bed.name, here.now.date(), tuple(names))
    return garden().once(book, here.bed.name, key, find)


def _ends(answer: CropAnswer) -> tuple[date, date]:
    """Return the first and the last day that the rows share."""
    starts = [one.by_day.day[0].astype(object) for one in answer.windows if one.by_day.day.size]
    ends = [one.by_day.day[-1].astype(object) for one in answer.windows if one.by_day.day.size]
    if not starts:
        raise InputError("no planting day of these crops is known here")
    return min(starts), max(ends)


def _months(first: date, last: date) -> list[tuple[float, str]]:
    month, found = date(first.year, first.month, 1), []
    while month <= last:
        if month >= first:
            at = 100.0 * (month - first).days / max(1, (last - first).days)
            found.append((round(at, 2), f"{month:%b}"))
        month = (month.replace(day=28) + timedelta(days=5)).replace(day=1)
    return found


def _row(
    window: CropWindow,
    answer: CropAnswer,
    here: Here,
    ends: tuple[date, date],
    days: list[date | None],
) -> Row:
    from forecaster.words.crop_card import crop_text
    from forecaster.words.crops import crop_lead

    size = max(1, (ends[1] - ends[0]).days)
    bars = []
    planted = [day.astype(object) for day in window.by_day.day]
    for at in range(0, len(planted), max(1, STEP_DAYS // _step(planted))):
        place = 100.0 * (planted[at] - ends[0]).days / size
        bars.append((
            round(place, 2), round(100.0 * STEP_DAYS / size * 0.8, 2),
            round(100.0 * float(window.by_day.well[at]), 1),
        ))  # fmt: skip
    by = []
    for day in days:
        if day is not None and planted:
            at = min(range(len(planted)), key=lambda k: abs((planted[k] - day).days))
            if abs((planted[at] - day).days) <= STEP_DAYS:
                by.append((day, percent(float(window.by_day.well[at]))))
    today = answer.today
    why = [text for text in (window.opens.reason, window.best.reason, window.closes.reason) if text]
    if window.possible_until is not None:
        why.append(f"possible until {say_day(window.possible_until, today)}")
    return Row(
        name=window.crop.name,
        label=window.crop.label,
        sentence=crop_lead(window, today, answer.unsure),
        bars=tuple(bars),
        by=tuple(by),
        why=(*why, *window.assumptions),
        sources=crop_text(window.crop, 72, here.show),
    )


def _step(planted: list[date]) -> int:
    return (planted[1] - planted[0]).days if len(planted) > 1 else 1
