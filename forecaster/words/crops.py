"""Crops in words: when each can be planted, what is known of it, and the frosts of the record."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from forecaster.answers.crops import CropAnswer, CropWindow, Span
from forecaster.answers.frost import FrostChance, FrostDates
from forecaster.ingest.account import Account
from forecaster.rules.crops import Crop, CropThreshold, Figure, Use
from forecaster.rules.frost import LEAST_WINTERS
from forecaster.site import Site
from forecaster.units import METRES_PER_INCH, c_to_f
from forecaster.words.account import account_words
from forecaster.words.as_json import account_json, rounded
from forecaster.words.layout import wrap
from forecaster.words.page import NARROWEST, WIDEST, place_words
from forecaster.words.phrases import (
    Show,
    between,
    count,
    degrees,
    difference,
    number,
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
ROLES = {
    "minimum": "least to plant",
    "optimum_low": "best from",
    "optimum": "best",
    "optimum_high": "best to",
    "maximum": "most",
    "lower_limit": "roots grow from",
    "upper_limit": "plant below",
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


def crops_text(told: CropTold, width: int = WIDEST, show: Show = "F") -> str:
    """Return the answer about crops as a page of plain words.

    Five crops or more make a table, fewer a paragraph each.

    Parameters
    ----------
    told : CropTold
    width : int
        Columns to fill, 30 to 88.
    show : {"F", "C"}
        Scale in which temperatures are said.
    """
    width = max(NARROWEST, min(WIDEST, width))
    answer = told.answer
    name = f"{told.title}. " if told.title else ""
    day = f"{say_day(answer.today, answer.today)} {answer.today.year}"
    blocks = [_fill(f"{name}Soil {place_words(told.site)}; issued {day}.", width)]
    before = [stale_words(answer.last_day, answer.stale_days)]
    if answer.unsure and not answer.stale_days:
        before = [sentence(f"Nothing here says go: {answer.unsure}")]
    blocks += [_fill(words, width) for words in before if words]
    if len(answer.windows) >= TABLE_FROM:
        blocks.append(_table(answer, width, show))
    else:
        blocks += [_paragraph(window, answer, width, show) for window in answer.windows]
    if answer.frost:
        blocks.append(_frost(answer.frost, width, show))
    notes = [*told.notes, *answer.notes]
    if notes:
        blocks.append("\n".join(_fill(sentence(note), width) for note in notes))
    if told.accounts:
        lines = ["What was read"]
        for title, account in told.accounts.items():
            first, *rest = account_words(title, account, by_hand=title == "Readings")
            lines.append(_fill(first, width, "  "))
            lines += [_fill(text, width, "    ") for text in rest]
        blocks.append("\n".join(lines))
    cautions = [_fill(f"· {text}", width, "  ") for text in CROP_CAUTIONS]
    blocks.append("\n".join(["Cautions", *cautions]))
    return "\n\n".join(blocks) + "\n"


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
        return f"{name}: no window is to be expected ({chance} that a planting goes well)."
    opened = f"the window opens about {say_day(opens, today)}"
    if window.state == "open":
        opened = f"cannot say – {unsure}; else open" if unsure else "the window is open"
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


def _paragraph(window: CropWindow, answer: CropAnswer, width: int, show: Show) -> str:
    today = answer.today
    since = answer.last_day if answer.stale_days else None
    lines = [
        crop_lead(window, today, answer.unsure, since),
        *(f"  {text}" for text in _behind(window, today, show)),
    ]
    return "\n".join(
        _fill(line.strip(), width, "  " if line.startswith(" ") else "") for line in lines
    )


def _behind(window: CropWindow, today: date, show: Show) -> Iterable[str]:
    """Return what stands behind a crop's answer, a paragraph each."""
    if window.closed_on is not None:
        yield f"This season's window closed about {say_day(window.closed_on, today)}: the next."
    yield f"Opens {_dates(window.opens, today)}: {window.opens.reason}."
    if window.best.median is not None:
        days = f"best on {say_day(window.best.median, today)}"
        if window.best.early and window.best.late and window.best.early != window.best.late:
            days += f", about as good {between(window.best.early, window.best.late, today)}"
        yield f"{sentence(days)[:-1]}: {odds(window.best.probability)} that a planting goes well."
    if window.closes.median is not None:
        yield f"Best until {_dates(window.closes, today)}: {window.closes.reason}."
    elif window.open_ended:
        yield f"{sentence(window.closes.reason)}"
    if window.possible_until is not None and window.possible_until != window.closes.median:
        yield f"Possible until about {say_day(window.possible_until, today)}."
    if window.other is not None:
        yield f"Also near: {crop_lead(window.other, today)}"
    if window.emergence is not None and window.sown is not None:
        sown = say_day(window.sown, today)
        chance = (
            ""
            if window.emergence.probability > 0.99
            else (f" ({odds(window.emergence.probability)} that it does this season)")
        )
        yield f"Sown on {sown} it comes up {_dates(window.emergence, today)}{chance}."
    yield _threshold_words(window, show)
    yield from _frost_words(window, show)
    if window.assumptions:
        yield f"Taken for granted: {'; '.join(window.assumptions)}."


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
    """Return a span as words: the day at even odds, and those at 1 in 5 and 4 in 5."""
    if span.median is None:
        return "in fewer than half of the futures"
    words = f"about {say_day(span.median, today)}"
    if span.early is None or span.late is None or span.early == span.late:
        return words
    return f"{words} (from 1 in 5 to 4 in 5: {between(span.early, span.late, today)})"


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
    foot = (
        "Best: the first day on which a planting goes well about as surely as it can; sure: then."
    )
    return "\n".join([_columns(rows), _fill(marks, width), _fill(foot, width)])


def _mark(basis: str) -> str:
    return "" if basis in ("published", "quoted", "yours") else "*"


def _columns(rows: Sequence[Sequence[str]]) -> str:
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
        return _fill(f"{head}: too few for dates.", width)
    rows: list[tuple[str, ...]] = [
        ("", "last: 10 %", "50 %", "90 %", "first: 10 %", "50 %", "90 %", "none")
    ]
    rows += [_frost_row(level, show) for level in frost]
    if width < 76:
        last = _columns([row[:4] for row in rows])
        table = f"{last}\n{_columns([(row[0], *row[4:7]) for row in rows])}"
    else:
        table = _columns(rows)
    offset = frost[0].offset_c
    bed = "as cold as the record's air"
    if offset:
        bed = f"{difference(offset, show)} {'warmer' if offset > 0 else 'colder'} than that air"
    meaning = (
        "Chances of a frost later than the first three dates, earlier than the others; "
        f"{NO_DATE} where so many winters have none. The bed is taken to be {bed}."
    )
    return f"{_fill(head + '.', width)}\n{table}\n{_fill(meaning, width)}"


def _frost_row(level: FrostDates, show: Show) -> tuple[str, ...]:
    none = level.last.share_none
    return (
        f"{level.label}, {degrees(level.threshold_c, show)}",
        *(_short(day) for day in (*_chances(level.last), *_chances(level.first))),
        percent(none) if none > 0.0 else NO_DATE,
    )


def _chances(chance: FrostChance) -> tuple[date | None, date | None, date | None]:
    return chance.chance_10, chance.chance_50, chance.chance_90


def crop_list(crops: Iterable[Crop], show: Show = "F") -> str:
    """Return the known crops as a table: what opens their window, and how well it is known."""
    rows = [("Crop", "Season", "Begun", "Hardiness", "Opens", "Known", "Figures")]
    for crop in crops:
        used = _opening(crop)
        claim = crop.stands()
        rows.append(
            (
                crop.label,
                crop.crop_class,
                crop.usual_use,
                NO_DATE if claim is None else claim.hardiness.name,
                NO_DATE if used is None else degrees(used.value_c, show),
                NO_DATE if used is None else used.basis,
                str(len(crop.thresholds)),
            )
        )
    return _columns(rows) + "\n"


def _opening(crop: Crop) -> CropThreshold | None:
    """Return the threshold that opens a crop's usual window."""
    choice = (
        crop.first_choice(("upper_limit", "optimum_high"), "autumn", crop.usual_use)
        if crop.crop_class == "cool"
        else crop.first_choice(("minimum",), "spring", crop.usual_use)
    )
    return None if choice is None else choice.used


def crop_text(crop: Crop, width: int = WIDEST, show: Show = "F") -> str:
    """Return all that is known of one crop, every source and how well it is known."""
    width = max(NARROWEST, min(WIDEST, width))
    also = f" (also {', '.join(crop.also)})" if crop.also else ""
    lines = [
        _fill(
            f"{crop.label}{also}: {crop.crop_class}-season {crop.kind}, usually "
            f"{BEGUN[crop.usual_use]}.",
            width,
        ),
        "Soil",
    ]
    used = _opening(crop)
    for row in crop.thresholds:
        when = "" if row.season == "any" else f" in {row.season}"
        how = ", ".join(word for word in (row.depth, READ[row.measured]) if word)
        words = f"· {ROLES[row.role]} {degrees(row.value_c, show)}, {BEGUN[row.use]}{when}"
        words += f", {how}" if how else ""
        words += f" ({row.basis}: {row.source})" + (" – used" if row is used else "")
        lines.append(_fill(words, width, "  "))
    if crop.hardiness:
        lines.append("Hardiness")
        told = (f"· {c.hardiness.name} ({c.basis}: {c.source})" for c in crop.hardiness)
        lines += [_fill(words, width, "  ") for words in told]
    for title, figures, unit in _figures(crop):
        if figures:
            lines.append(title)
        for figure in figures:
            span = f"{_trim(figure.low / unit)}"
            span += f"–{_trim(figure.high / unit)}" if figure.high > figure.low else ""
            lines.append(_fill(f"· {span} ({figure.basis}: {figure.source})", width, "  "))
    if crop.emergence is not None:
        table = crop.emergence
        lines.append("Days to emergence at steady soil temperatures")
        pairs = zip(table.temp_c, table.days, strict=True)
        came = [f"{degrees(temp, show)} {_days(days)}" for temp, days in pairs]
        lines.append(_fill(f"· {', '.join(came)} ({table.basis}: {table.source})", width, "  "))
    return "\n".join(lines) + "\n"


def _figures(crop: Crop) -> tuple[tuple[str, tuple[Figure, ...], float], ...]:
    return (
        ("Weeks from sowing to setting out", crop.weeks_to_set_out, 1.0),
        ("Spacing, in", crop.spacing_m, METRES_PER_INCH),
        ("Sowing depth, in", crop.sowing_depth_m, METRES_PER_INCH),
        ("Days from planting to harvest", crop.days_to_maturity, 1.0),
    )


def _days(days: float) -> str:
    if math.isnan(days):
        return "not tried"
    return "none" if math.isinf(days) else f"{days:.0f}"


def _trim(value: float) -> str:
    return number(value, 2)


def crops_json(told: CropTold) -> dict[str, Any]:
    """Return the answer about crops as JSON's own types; what is not known is null."""
    site, answer = told.site, told.answer
    return {
        "place": told.title,
        "today": answer.today.isoformat(),
        "site": {
            "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg,
            "depth_m": round(site.depth_m, 4),
            "soil": site.soil,
            "cover": site.cover,
        },
        "crops": [window_json(window) for window in answer.windows],
        "frost": [_frost_json(level) for level in answer.frost],
        "past_years": answer.years,
        "check_first": answer.unsure or None,
        "stale_days": answer.stale_days,
        "notes": [*told.notes, *answer.notes],
        "read": {name.lower(): account_json(account) for name, account in told.accounts.items()},
        "cautions": list(CROP_CAUTIONS),
    }


def window_json(window: CropWindow) -> dict[str, Any]:
    """Return one crop's window as JSON's own types."""
    claim = window.hardiness
    return {
        "crop": window.crop.name,
        "crop_class": window.crop.crop_class,
        "season": window.season,
        "use": window.use,
        "season_start": window.season_start.isoformat(),
        "season_end": window.season_end.isoformat(),
        "state": window.state,
        "opens": _span_json(window.opens),
        "best": _span_json(window.best),
        "closes": _span_json(window.closes),
        "possible_until": None
        if window.possible_until is None
        else window.possible_until.isoformat(),
        "open_ended": window.open_ended,
        "threshold": threshold_json(window.threshold.used),
        "other_thresholds": [threshold_json(row) for row in window.threshold.others],
        "limit": None if window.limit is None else threshold_json(window.limit.used),
        "hardiness": None
        if claim is None
        else {"class": claim.hardiness.name, "basis": claim.basis, "source": claim.source},
        **_temperature("damaging", window.damaging_c),
        "accepted_risk": window.accepted_risk,
        "frost_after_probability": _number(window.frost_after),
        "frost_decides_share": _number(window.frost_bound),
        "emergence": None if window.emergence is None else _span_json(window.emergence),
        "sown": None if window.sown is None else window.sown.isoformat(),
        "last_season_closed": None if window.closed_on is None else window.closed_on.isoformat(),
        "assumptions": list(window.assumptions),
    }


def crop_json(crop: Crop) -> dict[str, Any]:
    """Return all that is known of a crop as JSON's own types."""
    table = crop.emergence
    return {
        "crop": crop.name,
        "label": crop.label,
        "also": list(crop.also),
        "crop_class": crop.crop_class,
        "kind": crop.kind,
        "usual_use": crop.usual_use,
        "thresholds": [threshold_json(row) for row in crop.thresholds],
        "hardiness": [
            {"class": claim.hardiness.name, "basis": claim.basis, "source": claim.source}
            for claim in crop.hardiness
        ],
        "weeks_to_set_out": [_figure_json(each) for each in crop.weeks_to_set_out],
        "days_to_maturity": [_figure_json(each) for each in crop.days_to_maturity],
        "spacing_m": [_figure_json(each) for each in crop.spacing_m],
        "sowing_depth_m": [_figure_json(each) for each in crop.sowing_depth_m],
        "emergence": None
        if table is None
        else {
            "days": [
                {
                    **_temperature("soil", temp),
                    "days": _number(days),
                    "tried": not math.isnan(days),
                }
                for temp, days in zip(table.temp_c, table.days, strict=True)
            ],
            "depth_m": table.depth_m,
            "basis": table.basis,
            "source": table.source,
        },
    }


def threshold_json(row: CropThreshold) -> dict[str, Any]:
    """Return a threshold as JSON's own types."""
    return {
        "role": row.role,
        **_temperature("value", row.value_c),
        "use": row.use,
        "season": row.season,
        "depth": row.depth,
        "measured": row.measured,
        "basis": row.basis,
        "source": row.source,
    }


def _frost_json(level: FrostDates) -> dict[str, Any]:
    return {
        "name": level.name,
        **_temperature("threshold", level.threshold_c),
        "bed_offset_c": _number(level.offset_c),
        "last": _chance_json(level.last, "later"),
        "first": _chance_json(level.first, "earlier"),
        "source": level.source,
    }


def _chance_json(chance: FrostChance, way: str) -> dict[str, Any]:
    ten, half, ninety = (None if day is None else day.isoformat() for day in _chances(chance))
    return {
        f"{way}_10": ten,
        f"{way}_50": half,
        f"{way}_90": ninety,
        "none_share": _number(chance.share_none),
        "winters": chance.winters,
    }


def _span_json(span: Span) -> dict[str, Any]:
    early, median, late = (
        None if day is None else day.isoformat() for day in (span.early, span.median, span.late)
    )
    return {
        "early": early,
        "median": median,
        "late": late,
        "probability": _number(span.probability),
        "reason": span.reason,
    }


def _figure_json(figure: Figure) -> dict[str, Any]:
    return {
        "low": _number(figure.low),
        "high": _number(figure.high),
        "basis": figure.basis,
        "source": figure.source,
    }


def _temperature(name: str, temp_c: float) -> dict[str, float | None]:
    return {f"{name}_c": _number(temp_c), f"{name}_f": _number(c_to_f(temp_c))}


def _number(value: float | None) -> float | None:
    return rounded(value)


def _fill(text: str, width: int, indent: str = "") -> str:
    hang = indent + ("  " if text.startswith("·") else "")
    return wrap(text, width, indent, hang=hang)
