"""A bed: the live chart, the date's chances, another threshold or another day of issue."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from flask import Blueprint, Response, jsonify, render_template, request

from forecaster import book as kept
from forecaster.ground.errors import InputError
from forecaster.page.say import bare_degrees, day_asked, temperature_c
from forecaster.page.views.common import Here, bed_named, garden, scale_word
from forecaster.page.views.ground import ground_fields
from forecaster.words.phrases import number, percent, short_day

if TYPE_CHECKING:
    import numpy as np

    from forecaster.answers.place_today import PlaceToday
    from forecaster.answers.record import Record
    from forecaster.answers.window import Window, WindowAnswer

views = Blueprint("beds", __name__)
BEFORE_DAYS = 90
AFTER_DAYS, LEAST_AHEAD_DAYS = 28, 60
LEAST_C, MOST_C = 2.0, 30.0  # that a soil may be asked about here
PICTURE_RULES = "default-src 'none'; style-src 'unsafe-inline'; sandbox"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of a bed: the packaged thresholds, or one of the user's own; and as of when."""

    here: Here
    issued: date | None = None
    threshold_c: float | None = None
    direction: Literal["falling", "rising"] = "falling"


@dataclass(frozen=True, slots=True)
class Answered:
    """A bed's windows with what they were made from."""

    record: Record
    place: PlaceToday
    answer: WindowAnswer


def asked_of(book: kept.Book) -> Asked:
    """Return what the address asks."""
    given = request.args
    here = bed_named(book, given.get("bed"))
    issued = day_asked(given.get("issued", ""), "the day of issue")
    if issued is not None and issued > here.now.date():
        raise InputError(f"{issued} is still to come; expected a day up to {here.now.date()}")
    text, way = given.get("threshold", "").strip(), given.get("direction", "falling")
    threshold_c = None
    if text and f"{text} {way}" != given.get("usual"):
        threshold_c = temperature_c(text, here.show)
        if not LEAST_C <= threshold_c <= MOST_C:
            raise InputError(f"{text!r:.20} is out of range; expected 36 to 86 °F (2 to 30 °C)")
    if way not in ("falling", "rising"):
        raise InputError("expected a soil that is falling or rising past the threshold")
    return Asked(
        here=here, issued=issued, threshold_c=threshold_c,
        direction="rising" if way == "rising" else "falling",
    )  # fmt: skip


def answered(book: kept.Book, asked: Asked) -> Answered:
    """Return the windows asked about, kept until the book changes."""
    from forecaster.answers.window import Threshold, known_thresholds, windows_in

    here = asked.here
    day = here.now.date()
    if asked.issued is None:
        whole = garden().whole(book, here.bed.name)
        record, place = whole.record, whole.here
        if asked.threshold_c is None:
            return Answered(record, place, whole.answer)
    else:
        of_place = ("place", here.bed.name, day, asked.issued)
        record, place = garden().once(book, here.bed.name, of_place, lambda: _as_of(book, asked))
    thresholds = known_thresholds()
    if asked.threshold_c is not None:
        thresholds = [
            Threshold(
                name="yours",
                label="Your threshold",
                threshold_c=asked.threshold_c,
                direction=asked.direction,
                source="you",
            )
        ]
    key = ("windows", here.bed.name, day, asked.issued, asked.threshold_c, asked.direction)
    return Answered(
        record,
        place,
        garden().once(book, here.bed.name, key, lambda: windows_in(place, thresholds)),
    )


def _as_of(book: kept.Book, asked: Asked) -> tuple[Record, PlaceToday]:
    from forecaster.answers.place_today import of_record

    record = garden().record(book, asked.here.bed.name, asked.issued)
    return record, of_record(record)


@views.get("/bed")
def bed() -> str:
    """Show a bed."""
    with garden().open() as book:
        asked = asked_of(book)
        found = answered(book, asked)
        usual = found.answer.windows[0]
        if asked.threshold_c is not None:
            usual = garden().whole(book, asked.here.bed.name).answer.windows[0]
        beds = kept.beds(book)
    window = found.answer.windows[0]
    usual_text = number(bare_degrees(usual.threshold.threshold_c, asked.here.show), 1)
    at_c = window.threshold.threshold_c if asked.threshold_c is None else asked.threshold_c
    values = {
        "at": asked.here,
        "beds": beds,
        "told": [_chances(window, found.record.today, asked) for window in found.answer.windows],
        "threshold": number(bare_degrees(at_c, asked.here.show), 1),
        "usual": f"{usual_text} {usual.threshold.direction}",
        "least": number(bare_degrees(LEAST_C, asked.here.show), 0),
        "most": number(bare_degrees(MOST_C, asked.here.show), 0),
        "direction": window.threshold.direction if not asked.threshold_c else asked.direction,
        "issued": asked.issued or found.record.today,
        "latest": asked.here.now.date(),
        "own": asked.threshold_c is not None,
        "sign": scale_word(asked.here.show),
        "address": request.query_string.decode("ascii", "ignore"),
        "notes": (*found.record.notes, *found.answer.notes),
        "here": "bed",
        "ground": ground_fields(asked.here),
    }
    if request.headers.get("HX-Target") == "chances":
        return render_template("chances.html", **values)
    return render_template("bed.html", **values)


def _chances(window: Window, today: date, asked: Asked) -> dict[str, Any]:
    """Return a window's sentence and its chances by week."""
    from forecaster.words.window import lead, weeks_shown, window_words

    behind = window_words(window, today, asked.here.show, 200)
    said = lead(window, today, asked.here.show).removeprefix(f"{window.threshold.label}: ")
    weeks = [
        (short_day(day), percent(chance), round(100.0 * chance))
        for day, chance in weeks_shown(window)
    ]
    return {
        "label": window.threshold.label,
        "sentence": said[:1].upper() + said[1:],
        "weeks": weeks if any(share for _, _, share in weeks) else [],
        "behind": [text for text in behind if "\n" not in text and text[:5] != "Today"],
    }


@views.get("/bed/soil.json")
def soil() -> Response:
    """Give the series of the chart, in the scale shown."""
    with garden().open() as book:
        asked = asked_of(book)
        found = answered(book, asked)
        log = garden().log(book, asked.here.bed.name)
    return jsonify(series_of(found, asked, log))


def series_of(found: Answered, asked: Asked, log: Any) -> dict[str, Any]:
    """Return the series that the chart draws, as plain lists; what is not known is null."""
    import numpy as np

    answer, show = found.answer, asked.here.show
    window = answer.windows[0]
    today = np.datetime64(found.record.today, "D")
    last = max(filter(None, (window.outlook.late, window.typical.late, found.record.today)))
    end = max(np.datetime64(last, "D") + AFTER_DAYS, today + LEAST_AHEAD_DAYS)
    shown = (answer.day >= today - BEFORE_DAYS) & (answer.day <= end)
    day = answer.day[shown]
    ahead = day >= today
    spread = 1.2816 * answer.sd_c[shown]
    soil_c, fan_c, usual_c = answer.soil_c[shown], answer.fan_c[:, shown], answer.usual_c[:, shown]
    fan_c = np.where(ahead, fan_c, np.nan)
    chance = _chance_by(window, day)

    def told(values: np.ndarray) -> list[float | None]:
        turned = values * 1.8 + 32.0 if show == "F" else values
        return [None if not math.isfinite(v) else round(float(v), 2) for v in turned]

    used = np.full(day.size, np.nan)
    for when, value in zip(answer.reading_day, answer.reading_c, strict=True):
        at = int((when - day[0]).astype(int))
        if 0 <= at < day.size:
            used[at] = value
    typed = np.full(day.size, np.nan)
    for when, value in zip(log["time"], log["temp_c"], strict=True):
        at = int((np.datetime64(when, "D") - day[0]).astype(int))
        if 0 <= at < day.size and np.datetime64(when, "D") <= today:
            typed[at] = value
    return {
        "day": [int(d) * 86_400 for d in day.astype("datetime64[D]").astype(np.int64)],
        "soil": told(soil_c),
        "low": told(soil_c - spread), "high": told(soil_c + spread),
        "fan": [told(row) for row in fan_c],
        "usual": [told(row) for row in usual_c],
        "typed": told(typed), "used": told(used),
        "chance": chance,
        "threshold": round(bare_degrees(window.threshold.threshold_c, show), 2),
        "falling": window.threshold.direction == "falling",
        "today": int(today.astype(np.int64)) * 86_400,
        "sign": scale_word(show), "years": answer.years,
    }  # fmt: skip


def _chance_by(window: Window, day: np.ndarray) -> list[float | None]:
    """Return the chance that the window has opened by each day; null before it can be told."""
    import numpy as np

    out = window.outlook
    if not out.day:
        return [None] * day.size
    settled = np.array(out.day, dtype="datetime64[D]")
    reached = np.concatenate([[0.0], np.cumsum(out.share)])
    at = np.searchsorted(settled, day, side="right")
    first = np.datetime64(window.season_start, "D")
    return [
        None if one < first else round(float(min(1.0, value)), 3)
        for one, value in zip(day, reached[at], strict=True)
    ]


@views.get("/bed/still")
def still() -> str:
    """Show the still picture of a bed with what it shows in words: for paper, and for reading."""
    _, words = _pictured()
    address = request.query_string.decode("ascii", "ignore")
    name = request.args.get("bed", "")
    return render_template(
        "still.html", title=name or "The picture", source=f"/bed/picture?{address}", words=words,
        back=f"/bed?{address}", here="bed",
    )  # fmt: skip


@views.get("/bed/picture")
def picture() -> Response:
    """Give the still picture of a bed."""
    drawn, _ = _pictured()
    rules = {"Content-Security-Policy": PICTURE_RULES}
    return Response(drawn, mimetype="image/svg+xml", headers=rules)


def _pictured() -> tuple[bytes, str]:
    """Return the picture of what the address asks, and what it shows."""
    from forecaster.charts import build, describe, picture_of
    from forecaster.charts.save import svg
    from forecaster.words import tell

    with garden().open() as book:
        asked = asked_of(book)
        found = answered(book, asked)
        data = picture_of(found.answer, tell(found.answer, found.record))
        words = describe(data)
        key = ("picture", request.query_string, asked.here.now.date())

        def draw() -> bytes:
            return svg(build(data), "Soil temperature", words)

        return garden().once(book, asked.here.bed.name, key, draw), words
