"""What the page says in a word, a shape, a number: the rest is said by `words/`."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from forecaster.ground.errors import InputError
from forecaster.ground.units import METRES_PER_INCH, c_to_f, f_to_c, parse_length, parse_temperature
from forecaster.ingest.text.dates import FIRST_YEAR, LAST_YEAR
from forecaster.words.phrases import Show, number, say_day

if TYPE_CHECKING:
    from forecaster.answers.decision import Decision

READY_DAYS = 21  # flats and soil are got ready so long before; common practice, no source
NUMBER = re.compile(r"\s*[+-]?\d*[.,]?\d+\s*")


@dataclass(frozen=True, slots=True)
class Advice:
    """One word of advice, and the shape that says the same without colour."""

    word: str
    shape: str


WAIT, READY = Advice("wait", "ring"), Advice("get ready", "half")
GO, LATE = Advice("plant now", "full"), Advice("late", "barred")
CHECK, NONE = Advice("check first", "corner"), Advice("no window", "dash")


def advice_on(decision: Decision, today: date) -> Advice:
    """Return the word of advice that a decision comes to."""
    if decision.verdict == "unsure":
        return CHECK
    if decision.hopeless:
        return NONE
    if decision.verdict == "go":
        return GO
    if decision.verdict == "late":
        return LATE
    soon = decision.best is not None and (decision.best - today).days <= READY_DAYS
    return READY if soon else WAIT


def temperature_c(text: str, show: Show) -> float:
    """Return a temperature from words; a bare number is of the place's own scale.

    >>> round(temperature_c("61", "F"), 2), temperature_c("16,5", "C")
    (16.11, 16.5)
    """
    if NUMBER.fullmatch(text):
        value = float(text.replace(",", "."))
        return f_to_c(value) if show == "F" else value
    try:
        return parse_temperature(text)
    except InputError as error:
        raise InputError(f"{text!r:.40} is no temperature; write a number, as 61 or 16C") from error


def depth_m(text: str, show: Show) -> float:
    """Return a depth from words; a bare number is inches where °F is used, else centimetres."""
    if NUMBER.fullmatch(text):
        value = float(text.replace(",", "."))
        return value * (METRES_PER_INCH if show == "F" else 0.01)
    try:
        return parse_length(text)
    except InputError as error:
        raise InputError(f"{text!r:.40} is no depth; write a number, as 4in or 10cm") from error


def bare_depth(metres: float, show: Show) -> str:
    """Return a depth as the number that stands in a field."""
    return number(metres / METRES_PER_INCH if show == "F" else metres * 100.0, 1)


def bare_degrees(temp_c: float, show: Show) -> float:
    """Return a temperature as a number in a scale."""
    return c_to_f(temp_c) if show == "F" else temp_c


def day_asked(text: str, what: str) -> date | None:
    """Return a day from a field, None where it is empty."""
    if not text.strip():
        return None
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise InputError(f"{what} {text!r:.40} is no day; expected one as 2026-03-14") from error
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise InputError(
            f"{what} {day} is out of range; expected a year from {FIRST_YEAR} to {LAST_YEAR}"
        )
    return day


def span(first: date | None, last: date | None, today: date) -> str:
    """Return two days as they stand large on a card."""
    if first is None or last is None:
        return ""
    if first == last:
        return say_day(first, today)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} – {say_day(last, today)}"
    return f"{say_day(first, today)} – {say_day(last, today)}"


def sentence_of(error: Exception | str, named: str = "") -> str:
    """Return an error, or words for a terminal, as the page says it: no options, no paths."""
    text = str(error)
    for hint in (
        r"; make one: crossday[^;.]*", r"[;.] add one: crossday.*", r" Begin one: crossday.*",
        r"; undo [^;]*\(crossday[^)]*\)", r"; crossday [^;.]*", r" \(crossday [^)]*\)",
        r"\s*If so: crossday book undo\.?", r"; say which, with --\w+: ", r"--at ",
        r" Say otherwise with --column\.",
    ):  # fmt: skip
        text = re.sub(hint, "", text)
    text = re.sub(r"(?:/[^\s/:,;]+)+/dropped[\w.]*", named or "the file", text)
    text = re.sub(r"--(\w[\w-]*)", r"\1", text).strip()
    return text[:1].upper() + text[1:] + ("" if text[-1:] in ".!?" else ".")


def tight(text: str) -> str:
    """Return a sentence whose numbers stay with their units when it is broken into lines."""
    return re.sub(r"(?<=\d) (?=°|%|in\b|cm\b|ft\b|m\b|lb\b|kg\b|gal\b|yd)", "\u00a0", text)


def hour_of(now: datetime) -> str:
    """Return the clock as a field of hours wants it."""
    return f"{now:%H:%M}"
