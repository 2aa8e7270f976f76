"""What stands behind the answer: known, assumed, checked, sources, cautions."""

from __future__ import annotations

import re
from collections.abc import Iterable

from forecaster.packaged import load_csv, load_values
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
from forecaster.words import CAUTIONS, account_words, place_words
from forecaster.words.check import HOW, ahead, better, first_sentence, truth_words
from forecaster.words.crops import CROP_CAUTIONS, NO_DATE
from forecaster.words.phrases import (
    count,
    counted,
    degrees,
    difference,
    listed,
    say_day,
    sentence,
    short_day,
)

NOTE = (
    "Held it: seasons whose true date lay in the span of 80 %; its width is the mean. Better by: "
    "than the other seasons' dates, in brackets what so few seasons leave open (80 %)."
)
TABLES = {
    "thresholds.csv": "Thresholds of the soil", "soil_model.json": "Soil from air",
    "outlook.json": "Air to come", "site_terms.csv": "What stations taught of places",
    "daily_wave.json": "The hour of a reading", "crop_thresholds.csv": "Crops' soil temperatures",
    "hardiness.csv": "Crops' hardiness", "frost.csv": "Frosts", "plan_timing.csv": "Tasks' days",
    "plan_defaults.csv": "Quantities", "flats.csv": "Flats", "materials.csv": "Bark and compost",
    "fertilizers.csv": "Fertilizers", "soil_water.csv": "Water in soil",
    "young_plants.csv": "Water of young plants", "flower_colours.csv": "Colours",
}  # fmt: skip
"""What each packaged table that may stand behind a page is about."""
ALWAYS = ("thresholds.csv", "soil_model.json", "outlook.json", "site_terms.csv", "plan_timing.csv")
BEFORE = "Before digging, lifting, spraying and planting"
COUNTED = re.compile(r"^(\d+) (days? .*?)(?: \(([^()]*)\))?$")
OWN_WORDS = re.compile(r"^Compiled for this project; [^(]*\((.*)\)$|^Fitted by \S+ on (.*)$")


def known_section(report: Report) -> Piece:
    """Return what is known of the place and the bed, and what was taken for granted."""
    return section(
        "known",
        "What is known, what is assumed",
        closed(
            "known",
            "Known, assumed, and the frosts of this record",
            el(
                "div",
                el("div", el("h3", "Known"), bullets(_known(report)), _frost(report)),
                el("div", el("h3", "Assumed"), bullets(_assumed(report))),
                class_="two",
            ),
        ),
    )


def _known(report: Report) -> Iterable[str]:
    """Say what the record and the thermometer tell."""
    told, answer, window = report.told, report.answer, report.window
    last = say_day(window.so_far.last_day, told.today)
    yield f"Air: {count(answer.years, 'whole year')}, to {last}."
    readings = int(answer.reading_c.size)
    if readings:
        yield f"Your thermometer: {count(readings, 'reading')} of the soil used."
    else:
        yield "No reading of your own soil: the estimate rests on the air alone."
    if told.outliers:
        yield (
            f"{count(len(told.outliers), 'reading')} that the others contradict, given less weight."
        )
    for note in dict.fromkeys((*told.notes, *report.plan.notes)):
        yield sentence(note)


def _assumed(report: Report) -> Iterable[Piece | str]:
    """Say what was taken for granted, each with how well it is known."""
    told, threshold = report.told, report.window.threshold
    ground = f"Soil {told.site.soil}, under {told.site.cover}, {place_words(told.site)}"
    yield _based(ground, "as told, or the usual where nothing was")
    goal = f"{threshold.label}: soil {degrees(threshold.threshold_c, report.show, both=True)}"
    yield _based(goal, f"{threshold.basis}: {threshold.source}")
    if report.crops is not None:
        windows = report.crops.answer.windows
        yield from together(words for window in windows for words in window.assumptions)
        frost = report.crops.answer.frost
        if frost:
            yield f"On a frosty night the bed is {_bed(frost[0].offset_c, report)}."
    values = load_values("plan_defaults.csv")
    for name in _taken(report):
        yield _based(sentence(values[name].source)[:-1], values[name].basis)


def _taken(report: Report) -> list[str]:
    """Name the packaged values that the plan rests on, as its owner said nothing."""
    plan, shopping = report.plan, report.plan.shopping
    names = ["pull_late_weight"] if plan.pull is not None else []
    if shopping is not None and shopping.plants:
        names.append("spacing_m")
    if shopping is not None and shopping.heaps:
        names += ["renewal_depth_m", "load_volume_m3", "load_mass_kg"]
    return [name for name in names if getattr(plan.wants, name) is None]


def together(assumptions: Iterable[str]) -> list[str]:
    """Return assumptions once each; those that differ in their number of days as a range.

    >>> together(["55 days to harvest (quoted)", "28 days to root", "85 days to harvest (quoted)"])
    ['55 to 85 days to harvest (quoted).', '28 days to root.']
    """
    spans: dict[str, list[int]] = {}
    bases: dict[str, list[str]] = {}
    for words in assumptions:
        found = COUNTED.match(words)
        days, rest, basis = (found[1], found[2], found[3]) if found else (None, words, None)
        spans.setdefault(rest, []).extend([int(days)] if days else [])
        bases.setdefault(rest, []).extend([basis] if basis else [])
    said = []
    for rest, days in spans.items():
        low, high = (min(days), max(days)) if days else (0, 0)
        head = f"{low} " if days and low == high else f"{low} to {high} " if days else ""
        known = list(dict.fromkeys(bases[rest]))
        said.append(sentence(f"{head}{rest}{f' ({listed(known)})' if known else ''}"))
    return said


def _bed(offset_c: float, report: Report) -> str:
    if not offset_c:
        return "taken to be as cold as the record's air"
    side = "warmer" if offset_c > 0 else "colder"
    return f"taken to be {difference(offset_c, report.show)} {side} than the record's air"


def _based(words: str, basis: str) -> Piece:
    return joined((f"{words} ", el("span", f"({basis})", class_="basis"), "."))


def _frost(report: Report) -> Piece:
    """Return the record's frosts."""
    if report.crops is None or not report.crops.answer.frost:
        return Piece("")
    rows = [
        (
            f"{level.label}, {degrees(level.threshold_c, report.show)}".replace(" °", "\u00a0°"),
            *(
                NO_DATE if day is None else short_day(day)
                for chance in (level.last, level.first)
                for day in (chance.chance_10, chance.chance_50, chance.chance_90)
            ),
        )
        for level in report.crops.answer.frost
    ]
    winters = count(report.crops.answer.frost[0].last.winters, "whole winter")
    heads = ("Air at or below", "Last: 10 %", "50 %", "90 %", "First: 10 %", "50 %", "90 %")
    made = table(f"Frost in this record, {winters}", heads, rows, "dates")
    note = "Chances of a frost later than the first three dates, earlier than the last three."
    return joined((made, el("p", note, class_="note")))


def checked_section(report: Report) -> Piece:
    """Return how this forecast did here before."""
    heading = "How this forecast has done here before"
    if report.checked is None:
        return section("before", heading, el("p", sentence(report.no_check)))
    found = report.checked.hindcast
    rows = [
        (
            ahead(cell.lead_days).capitalize(),
            str(cell.n),
            counted(cell.mae_days, 1, "day"),
            f"{cell.inside} of {cell.n}",
            count(cell.width_days, "day"),
            better(cell),
        )
        for cell in found.cells
    ]
    heads = ("Issued", "Seasons", "Missed by", "Held it", "Window", "Better by")
    name = found.thresholds[0].label if found.thresholds else ""
    return section(
        "before",
        heading,
        el("p", first_sentence(found)),
        closed(
            "before",
            "Season counts, and how it was checked",
            el("p", truth_words(found)),
            table(f"Forecasts of past seasons: {name}", heads, rows, "dates") if rows else None,
            el("p", NOTE, class_="note"),
            folded("How it was checked", el("p", HOW)),
        ),
    )


def sources_section(report: Report) -> Piece:
    """Return where the numbers come from."""
    read = [
        folded(f"What was read: {title.lower()}", paragraphs(_account(title, report)))
        for title in report.accounts
    ]
    files = bullets(
        joined((el("strong", title), f": {account.path}"))
        for title, account in report.accounts.items()
    )
    tables = folded("Where each kind of number comes from", bullets(_sources(report)))
    paper = el("p", "Where each kind of number comes from: this page on a screen.", class_="paper")
    return section("sources", "Sources", files, *read, tables, paper, class_="small")


def _account(title: str, report: Report) -> list[str]:
    return account_words(title, report.accounts[title], by_hand=title == "Readings")


def _sources(report: Report) -> Iterable[Piece]:
    """Name the origin of each packaged table behind the page, tables of one origin together."""
    origins = {row["path"]: row["origin"] for row in load_csv("SOURCES.csv")}
    by_origin: dict[str, list[str]] = {}
    for name in _tables(report):
        if name in origins:
            found = OWN_WORDS.match(origins[name])
            words = (found[1] or found[2]) if found else origins[name]
            by_origin.setdefault(words, []).append(name)
    for words, names in by_origin.items():
        about = listed([TABLES[names[0]], *(small(TABLES[name]) for name in names[1:])])
        yield joined((el("strong", about), f": {sentence(words)}"))


def _tables(report: Report) -> Iterable[str]:
    """Name the packaged tables that the page rests on."""
    shopping = report.plan.shopping
    used = {
        *ALWAYS,
        *(("daily_wave.json",) if report.answer.reading_c.size else ()),
        *(("crop_thresholds.csv", "hardiness.csv", "frost.csv") if report.crops else ()),
        *(("plan_defaults.csv", "flats.csv") if shopping is not None else ()),
        *(("materials.csv",) if shopping is not None and shopping.heaps else ()),
        *(("fertilizers.csv",) if shopping is not None and shopping.feed else ()),
        *(("soil_water.csv", "young_plants.csv") if report.plan.look is not None else ()),
        *(("flower_colours.csv",) if report.layout is not None else ()),
    }
    return [name for name in TABLES if name in used]


def small(text: str) -> str:
    """Return words with a small first letter."""
    return text[0].lower() + text[1:]


def cautions_section(report: Report) -> Piece:
    """Return every caution, once."""
    crops = CROP_CAUTIONS if report.crops is not None else ()
    said = dict.fromkeys((*CAUTIONS, *crops, *report.plan.cautions))
    care = closed("cautions", BEFORE, bullets(said))
    return section("cautions", "Cautions", care, class_="small")
