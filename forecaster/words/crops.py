"""Crops in words: when each can be planted, what is known of it, and the frosts of the record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from forecaster.answers.crops import CropAnswer, CropWindow, Span
from forecaster.answers.frost import FrostChance, FrostDates
from forecaster.ground.site import Site
from forecaster.ingest.account import Account
from forecaster.rules.crops import CropThreshold, Use
from forecaster.rules.frost import LEAST_WINTERS
from forecaster.words.account import refused_words, taken_words
from forecaster.words.layout import wrap
from forecaster.words.page import MORE, NARROWEST, WIDEST, place_words, read_words
from forecaster.words.phrases import (
    Level,
    Show,
    between,
    count,
    degrees,
    difference,
    listed,
    odds,
    percent,
    say_day,
    sentence,
    short_day,
)
from forecaster.words.plan import PUT_IN
from forecaster.words.window import stale_words

CROP_CAUTIONS = (
    "Estimates from air temperature, not measurements of your bed: take its temperature first.",
    "Frost is that of the record's thermometer; a hollow is colder. Watch the nights.",
    "Soil too wet to work is not in these dates.",
    "Figures that are no published ones are marked; ask your local extension service.",
)
CAUTION = (
    "Estimates: take the bed's own temperature first, and watch the nights: a hollow is colder "
    "than the record's thermometer. Soil too wet to work is not in these dates."
)
BEGUN: Mapping[Use, str] = {
    "transplant": "set out as plants", "seed": "sown in the bed", "bulb": "planted as bulbs",
    "tuber": "planted as tubers", "crown": "planted as crowns", "both": "planted",
}  # fmt: skip
READ = {
    "mean": "mean of the day",
    "morning": "three mornings running",
    "midday": "at midday",
    "trial": "steady, in trials",
    "unsaid": "",
}
STATES = {
    "open": "open", "ahead": "ahead", "late": "late", "closed": "closed", "none": "no window",
}  # fmt: skip
TABLE_FROM = 5  # crops, from which on a table is clearer than sentences
SURE = 0.95  # a chance of a window, from which on it need not be said
NO_DATE = "–"


@dataclass(frozen=True, slots=True)
class CropTold:
    """Everything that one answer about crops says.

    Parameters
    ----------
    answer : CropAnswer
    site : Site
    accounts : mapping of str to Account
        By what was read: `Air`, `Readings`, `Outlook`.
    notes : sequence of str
        What else the user should know.
    title : str
        Name of the place, if it has one.
    """

    answer: CropAnswer
    site: Site
    accounts: Mapping[str, Account] = field(default_factory=dict)
    notes: Sequence[str] = ()
    title: str = ""


def crops_text(
    told: CropTold, width: int = WIDEST, show: Show = "F", level: Level = "default"
) -> str:
    """Return the answer about crops as a page of plain words.

    Five crops or more make a table, fewer a paragraph each.

    Parameters
    ----------
    told : CropTold
    width : int
        Columns to fill, 30 to 88.
    show : {"F", "C"}
        Scale in which temperatures are said.
    level : {"brief", "default", "full"}
        What speaks against the answer or was refused in the user's files is said in each.
    """
    width = max(NARROWEST, min(WIDEST, width))
    answer = told.answer
    day = f"{say_day(answer.today, answer.today)} {answer.today.year}"
    blocks = [fill(f"{told.title}, {day}", width)] if told.title else []
    before = [stale_words(answer.last_day, answer.stale_days)]
    if answer.unsure and not answer.stale_days:
        before = [sentence(f"Nothing here says go: {answer.unsure}")]
    blocks += [fill(words, width) for words in before if words]
    if len(answer.windows) >= TABLE_FROM:
        blocks.append(_table(answer, width, show))
    else:
        blocks += [_paragraph(window, answer, width, show, level) for window in answer.windows]
    if answer.frost and level == "full":
        blocks.append(_frost(answer.frost, width, show))
    notes = [*told.notes, *answer.notes]
    if level != "full":
        notes += [words for one in told.accounts.values() for words in refused_words(one)]
    if notes:
        blocks.append("\n".join(fill(sentence(note), width) for note in notes))
    where = f"Soil {place_words(told.site)}; as of {day}."
    if level == "full":
        blocks += [fill(where, width), "\n".join(read_words(told.accounts, width))]
        cautions = [fill(f"· {text}", width, "  ") for text in CROP_CAUTIONS]
        blocks.append("\n".join(["Cautions", *cautions]))
    else:
        taken = [taken_words(one) for one in told.accounts.values()]
        where += f" From {listed(taken)}." if taken else ""
        foot = [fill(where, width), *([fill(CAUTION, width)] if level == "default" else []), MORE]
        blocks.append("\n".join(foot))
    return "\n\n".join(block for block in blocks if block) + "\n"


def crop_lead(window: CropWindow, today: date, unsure: str = "", since: date | None = None) -> str:
    """Return a crop's answer in one sentence.

    Parameters
    ----------
    window : CropWindow
    today : date
    unsure : str
        Why no one is told that it is open; empty if nothing speaks against.
    since : date, optional
        Last day of a record too old to go by: what follows holds if the weather was as usual.
    """
    name = f"{window.crop.label}, {BEGUN[window.use]} in {window.season}"
    if since is not None and window.state != "none":
        name += f": if the weather since {say_day(since, today)} was as usual"
    opens, closes = window.opens.median, window.closes.median
    if window.state == "none" or opens is None:
        chance = odds(window.opens.probability)
        return f"{name}: no window is to be expected ({chance} chance that a planting goes well)."
    opened = f"the window opens about {say_day(opens, today)}"
    if window.state == "open":
        opened = f"check first – {unsure}; else open" if unsure else "the window is open"
    best = window.best.median
    if best is not None and window.state in ("open", "ahead"):
        verb = PUT_IN.get(window.use, "plant")
        opened += f"; {verb} about {say_day(best, today)}"
    if window.open_ended or closes is None:
        return f"{name}: {opened}; no closing day is needed."
    until = f"best until about {say_day(closes, today)}"
    if window.state == "open":
        return f"{name}: {opened}, {until}."
    if window.state in ("late", "closed"):
        last = window.possible_until
        still = "" if last is None else f"; still possible until about {say_day(last, today)}"
        return (
            f"{name}: late; the window opened about {say_day(opens, today)} and was {until}{still}."
        )
    return f"{name}: {opened}, {until}."


def _paragraph(window: CropWindow, answer: CropAnswer, width: int, show: Show, level: Level) -> str:
    today = answer.today
    since = answer.last_day if answer.stale_days else None
    lines = [
        crop_lead(window, today, answer.unsure, since),
        *(f"  {text}" for text in _behind(window, today, show, level)),
    ]
    return "\n".join(
        fill(line.strip(), width, "  " if line.startswith(" ") else "") for line in lines
    )


def _behind(window: CropWindow, today: date, show: Show, level: Level) -> Iterable[str]:
    """Return what stands behind a crop's answer, a paragraph each."""
    yield from _sown_words(window, today)
    if level == "brief":
        return
    if window.closed_on is not None:
        yield f"This season's window closed about {say_day(window.closed_on, today)}: the next."
    yield f"Opens {_dates(window.opens, today)}: {window.opens.reason}."
    if window.best.median is not None:
        days = f"best on {say_day(window.best.median, today)}"
        if window.best.early and window.best.late and window.best.early != window.best.late:
            days += f", about as good {between(window.best.early, window.best.late, today)}"
        chance = f"{odds(window.best.probability)} chance that a planting goes well"
        yield f"{sentence(days)[:-1]}: {chance}; {window.best.reason}."
    if window.closes.median is not None:
        yield f"Best until {_dates(window.closes, today)}: {window.closes.reason}."
    elif window.open_ended:
        yield f"{sentence(window.closes.reason)}"
    if window.possible_until is not None and window.possible_until != window.closes.median:
        yield f"Possible until about {say_day(window.possible_until, today)}."
    if window.other is not None:
        yield f"Also near: {crop_lead(window.other, today)}"
    if level == "default":
        used, others = window.threshold.used, len(window.threshold.others)
        words = f"Threshold {_figure_words(used, show)}"
        yield f"{words}; {count(others, 'other source')} with --full." if others else f"{words}."
        return
    yield _threshold_words(window, show)
    yield from _frost_words(window, show)
    if window.assumptions:
        yield f"Taken for granted: {'; '.join(window.assumptions)}."


def _sown_words(window: CropWindow, today: date) -> Iterable[str]:
    """Say when what was sown comes up, or that the day of sowing says nothing here."""
    if window.sown is None:
        return
    sown = say_day(window.sown, today)
    outside = not window.season_start <= window.sown <= window.season_end
    if outside:
        season = between(window.season_start, window.season_end, today)
        yield f"The day of sowing, {sown}, lies outside the season answered here, {season}."
    if window.emergence is None:
        why = "it is outside the days forecast" if outside else "no figures for this crop are known"
        yield f"When seed sown on {sown} comes up cannot be said: {why}."
        return
    sure = window.emergence.probability
    chance = "" if sure > 0.99 else f" ({odds(sure)} chance that it does this season)"
    yield f"Sown on {sown} it comes up {_dates(window.emergence, today)}{chance}."


def _threshold_words(window: CropWindow, show: Show) -> str:
    used, others = window.threshold.used, window.threshold.others
    words = f"Threshold {_figure_words(used, show)}."
    if window.limit is not None:
        words += f" Its other end {_figure_words(window.limit.used, show)}."
    if others:
        told = "; ".join(_figure_words(other, show) for other in others)
        words += f" Other sources: {told} (--source chooses)."
    return words


def _figure_words(row: CropThreshold, show: Show) -> str:
    read = f", {READ[row.measured]}" if READ[row.measured] else ""
    return f"{degrees(row.value_c, show)}{read} ({row.basis}: {row.source})"


def _frost_words(window: CropWindow, show: Show) -> Iterable[str]:
    words = f"Just set or just up it is killed by air below {degrees(window.damaging_c, show)}"
    if window.frost_after is not None:
        words += (
            f": {percent(window.frost_after)} after planting on the best day, accepted "
            f"{percent(window.accepted_risk)}"
        )
    yield f"{words}."


def _dates(span: Span, today: date) -> str:
    """Return a span as words: the day at 50 %, and those at 20 and 80 %."""
    if span.median is None:
        return "less likely than not"
    words = f"about {say_day(span.median, today)}"
    if span.early is None or span.late is None or span.early == span.late:
        return words
    return f"{words} (from 20 % to 80 % chance: {between(span.early, span.late, today)})"


def _table(answer: CropAnswer, width: int, show: Show) -> str:
    """Return many crops as a compact table, the next to open first."""
    late = date.max
    rows = [("Crop", "Season", "From", "Opens", "Best", "Sure", "Until", "Now")]
    ordered = sorted(answer.windows, key=lambda w: (w.state == "none", w.best.median or late))
    rows += [
        (
            window.crop.label,
            window.season,
            degrees(window.threshold.used.value_c, show) + _mark(window.threshold.used.basis),
            _short(window.opens.median),
            _short(window.best.median),
            percent(window.best.probability),
            _short(window.closes.median),
            "check" if answer.unsure and window.state == "open" else STATES[window.state],
        )
        for window in ordered
    ]
    if width < 76:
        rows = [(row[0], row[2], row[4], row[5], row[6]) for row in rows]  # type: ignore[misc]
    if width < 48:
        rows = [(row[0][:14], row[2], row[3]) for row in rows]  # type: ignore[misc]
    marks = "* not from a published figure: from memory, common practice or an assumption."
    foot = "Best: the day after which waiting makes it hardly surer; sure: the chance then."
    return "\n".join([columns(rows), fill(marks, width), fill(foot, width)])


def _mark(basis: str) -> str:
    return "" if basis in ("published", "quoted", "yours") else "*"


def columns(rows: Sequence[Sequence[str]]) -> str:
    """Return rows with their columns under one another."""
    wide = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    return "\n".join(
        "  ".join(cell.ljust(space) for cell, space in zip(row, wide, strict=True)).rstrip()
        for row in rows
    )


def _short(day: date | None) -> str:
    return NO_DATE if day is None else short_day(day)


def _frost(frost: Sequence[FrostDates], width: int, show: Show) -> str:
    """Return the record's frost dates as a table."""
    winters = frost[0].last.winters
    head = f"Frost in this record, {count(winters, 'whole winter')}"
    if winters < LEAST_WINTERS:
        return fill(f"{head}: too few for dates.", width)
    rows: list[tuple[str, ...]] = [
        ("", "last: 10 %", "50 %", "90 %", "first: 10 %", "50 %", "90 %", "none")
    ]
    rows += [_frost_row(level, show) for level in frost]
    if width < 76:
        last = columns([row[:4] for row in rows])
        table = f"{last}\n{columns([(row[0], *row[4:7]) for row in rows])}"
    else:
        table = columns(rows)
    offset = frost[0].offset_c
    bed = "as cold as the record's air"
    if offset:
        bed = f"{difference(offset, show)} {'warmer' if offset > 0 else 'colder'} than that air"
    meaning = (
        "Chances of a frost later than the first three dates, earlier than the others; "
        f"{NO_DATE} where so many winters have none. The bed is taken to be {bed}."
    )
    return f"{fill(head + '.', width)}\n{table}\n{fill(meaning, width)}"


def _frost_row(level: FrostDates, show: Show) -> tuple[str, ...]:
    none = level.last.share_none
    return (
        f"{level.label}, {degrees(level.threshold_c, show)}",
        *(_short(day) for day in (*chances_of(level.last), *chances_of(level.first))),
        percent(none) if none > 0.0 else NO_DATE,
    )


def chances_of(chance: FrostChance) -> tuple[date | None, date | None, date | None]:
    """Return the dates of 10, 50 and 90 %."""
    return chance.chance_10, chance.chance_50, chance.chance_90


def fill(text: str, width: int, indent: str = "") -> str:
    """Return a paragraph that fits."""
    hang = indent + ("  " if text.startswith("·") else "")
    return wrap(text, width, indent, hang=hang)
