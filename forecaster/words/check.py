"""The check of a place in words and as JSON: how far the forecast missed in past seasons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from forecaster.answers.check import Cell, Hindcast
from forecaster.answers.window import Threshold
from forecaster.ground.site import Site
from forecaster.ingest.account import Account
from forecaster.words.account import refused_words, taken_words
from forecaster.words.as_json import account_json, rounded
from forecaster.words.layout import wrap
from forecaster.words.page import MORE, place_words, read_words
from forecaster.words.phrases import (
    Level,
    Show,
    count,
    counted,
    degrees,
    known,
    listed,
    sentence,
)

WIDEST, NARROWEST = 88, 30
TABLE_WIDTH = 78
SAID_LEAD_DAYS = 28  # the lead that the first sentence speaks of, or the one next to it
CLEARLY = 0.03  # a smaller skill is said to be none
AHEAD = {
    0: "on the usual day", 7: "a week ahead", 14: "two weeks ahead", 21: "three weeks ahead",
    28: "four weeks ahead", 42: "six weeks ahead", 56: "eight weeks ahead",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Checked:
    """Everything that one check says.

    Parameters
    ----------
    hindcast : Hindcast
    site : Site
    accounts : mapping of str to Account
        By what was read: `Air`, `Readings`.
    notes : sequence of str
        What else the user should know.
    """

    hindcast: Hindcast
    site: Site
    accounts: Mapping[str, Account] = field(default_factory=dict)
    notes: Sequence[str] = ()


def checked_text(
    checked: Checked, width: int = WIDEST, show: Show = "F", level: Level = "default"
) -> str:
    """Return the check as a page of plain words, at most 88 columns wide: the verdict first."""
    width = max(NARROWEST, min(WIDEST, width))
    found = checked.hindcast
    cell = said_cell(found)
    first = first_sentence(found)
    if cell is not None:
        first += f" {verdict_words([c for c in found.cells if c.threshold == cell.threshold])}"
    blocks = [wrap(first, width), wrap(truth_words(found), width)]
    if level != "brief":
        blocks += [_threshold(found, threshold, width, show) for threshold in found.thresholds]
    if level == "full":
        blocks.append("\n".join(_reliability(found, width)))
    notes = [note for note in (*checked.notes, *found.notes[_loud(found) :]) if note]
    if level != "full":
        notes += [words for one in checked.accounts.values() for words in refused_words(one)]
    if notes:
        blocks.append("\n".join(wrap(sentence(note), width) for note in notes))
    where = f"Soil {place_words(checked.site)}."
    if level == "full":
        blocks.append(wrap(f"{where} {HOW}", width))
        blocks.append("\n".join(read_words(checked.accounts, width)))
    else:
        taken = [taken_words(one) for one in checked.accounts.values()]
        where += f" From {listed(taken)}." if taken else ""
        legend = [wrap(LEGEND, width)] if level == "default" and found.cells else []
        blocks.append("\n".join([*legend, wrap(where, width), MORE]))
    return "\n\n".join(block for block in blocks if block) + "\n"


LEGEND = (
    "Days (d) on average: off by, the forecast's middle date; usual, going by the usual date "
    "instead; held it, how often the span of 80 % held the true date."
)
HOW = (
    "Each forecast knew only what was known on its day, so many days before the middle date of "
    "the other seasons. Off by: how many days its middle date lay off, on average over the "
    "seasons. Usual: the same of the other seasons' middle date, which needs no forecast. "
    "Whether the forecast is better is judged on all of its chances, and only said where these "
    "seasons are enough to be 80 % sure. A season that never settles counts at its last day."
)


def first_sentence(found: Hindcast) -> str:
    """Return the result of the first threshold that could be checked, in one sentence."""
    cell = said_cell(found)
    if cell is None:
        return "Stopped before the first forecast was done: nothing to say yet."
    threshold = _named(found, cell)
    return f"In {_result(cell, threshold)}."


def said_cell(found: Hindcast, name: str | None = None) -> Cell | None:
    """Return the cell that the first sentence speaks of, four weeks ahead or nearest to it."""
    wanted = name or next(iter(cell.threshold for cell in found.cells), None)
    cells = [cell for cell in found.cells if cell.threshold == wanted]
    return min(cells, key=lambda cell: abs(cell.lead_days - SAID_LEAD_DAYS), default=None)


def truth_words(found: Hindcast) -> str:
    """Say where the true dates come from, and whether the check was stopped."""
    if found.truth == "model":
        words = f"WEATHER ONLY: {found.notes[0]}"
    else:
        words = "The true dates are from your own daily soil readings."
    if not found.complete:
        words += f" Stopped before the end: {count(len(found.rows), 'forecast')} done."
    return words


def ahead(lead_days: int) -> str:
    """Return a lead in words: `four weeks ahead`, `10 days ahead`."""
    return AHEAD.get(lead_days, f"{count(lead_days, 'day')} ahead")


def season_of(threshold: Threshold, how_many: int) -> str:
    """Return `9 past autumns`."""
    season = "autumn" if threshold.direction == "falling" else "spring"
    return count(how_many, f"past {season}")


def better(cell: Cell) -> str:
    """Return the skill in words: `12 % better (−3 to 25)`."""
    if not known(cell.skill):
        return "–"
    low, high = (_percent(value) for value in (cell.skill_low, cell.skill_high))
    return f"{_percent(cell.skill)} % ({low} to {high})"


def _percent(share: float) -> str:
    return f"{round(100.0 * share):d}".replace("-", "−")


def _named(found: Hindcast, cell: Cell) -> Threshold:
    return next(t for t in found.thresholds if t.name == cell.threshold)


def _result(cell: Cell, threshold: Threshold) -> str:
    return (
        f"{season_of(threshold, cell.n)}, {ahead(cell.lead_days)}, the middle date was off by "
        f"{_days(cell.mae_days)} on average; {_held(cell)}"
    )


def _held(cell: Cell) -> str:
    """Return how often the span of 80 % held the true date, the count always in sight."""
    if cell.inside in (0, cell.n):
        which = "none" if cell.inside == 0 else "all"
        held = f"{which} of {count(cell.n, 'season')}"
    else:
        held = f"{cell.inside} of {count(cell.n, 'season')}"
    return f"the span of 80 % held the true date in {held}"


def _days(days: float) -> str:
    return counted(days, 0 if days >= 3.0 else 1, "day")


def _threshold(found: Hindcast, threshold: Threshold, width: int, show: Show) -> str:
    """Return one threshold: what it is, its cells, and what they come to."""
    cells = [cell for cell in found.cells if cell.threshold == threshold.name]
    if not cells:
        return ""
    side = "below" if threshold.direction == "falling" else "above"
    head = (
        f"{threshold.label}: soil settles {side} {degrees(threshold.threshold_c, show)}, "
        f"{season_of(threshold, max(cell.n for cell in cells))}"
    )
    lines = _table(found, cells) if width >= TABLE_WIDTH else _list(found, cells, width)
    first = said_cell(found)
    if first is None or first.threshold != threshold.name:  # said at the top
        lines.append(wrap(verdict_words(cells), width, "  "))
    return "\n".join([wrap(head, width), *lines])


def _table(found: Hindcast, cells: Sequence[Cell]) -> list[str]:
    heads = ("", "seasons", "off by", "usual", "80 % span", "held it", "forecast is")
    rows = [
        (
            ahead(cell.lead_days).capitalize(),
            str(cell.n),
            f"{cell.mae_days:.1f} d",
            usual_off(found, cell),
            f"{cell.width_days:.0f} d",
            f"{cell.inside} of {cell.n}",
            judged(cell),
        )
        for cell in cells
    ]
    widths = [max(len(row[i]) for row in (heads, *rows)) for i in range(len(heads))]
    return [
        "  "
        + "  ".join(
            f"{text:<{room}}" if i == 0 else f"{text:>{room}}"
            for i, (text, room) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in (heads, *rows)
    ]


def _list(found: Hindcast, cells: Sequence[Cell], width: int) -> list[str]:
    return [
        wrap(
            f"{ahead(cell.lead_days).capitalize()}: off by {counted(cell.mae_days, 1, 'day')}, "
            f"the usual date by {usual_off(found, cell)}; {cell.inside} of {cell.n} spans of "
            f"{count(cell.width_days, 'day')} held it; the forecast is {judged(cell)}",
            width,
            "  ",
        )
        for cell in cells
    ]


def usual_off(found: Hindcast, cell: Cell) -> str:
    """Return how far the usual date lay off in the same seasons, on average: `4.1 d`."""
    days = usual_off_days(found, cell)
    return f"{days:.1f} d" if known(days) else "–"


def usual_off_days(found: Hindcast, cell: Cell) -> float:
    """Return the same as days; NaN where no season settled."""
    days = [
        abs((row.usual - row.settled).days)
        for row in found.rows
        if (row.threshold, row.lead_days) == (cell.threshold, cell.lead_days)
        and row.settled is not None
    ]
    return sum(days) / len(days) if days else math.nan


def judged(cell: Cell) -> str:
    """Return whether a forecast beats the usual dates: `better`, `worse` or `no better`."""
    if known(cell.skill_low) and cell.skill_low > 0.0:
        return "better"
    return "worse" if known(cell.skill_high) and cell.skill_high < -CLEARLY else "no better"


def verdict_words(cells: Sequence[Cell]) -> str:
    """Say how far ahead the forecast beats the usual dates, as far as so few seasons tell."""
    helps = [cell for cell in cells if judged(cell) == "better"]
    worse = [cell for cell in cells if judged(cell) == "worse"]
    words = []
    if helps:
        furthest = max(helps, key=lambda cell: cell.lead_days)
        words.append(f"Clearly better than the usual dates {_until(furthest.lead_days)}: use it.")
        if any(cell.lead_days > furthest.lead_days for cell in cells):
            words.append("Further ahead the usual dates serve as well.")
    else:
        words.append("Not clearly better than the usual dates, however far ahead.")
    if worse:
        said = listed([ahead(cell.lead_days) for cell in worse])
        words.append(f"Worse than them {said}: trust the usual dates there.")
    return " ".join(words)


def _until(lead_days: int) -> str:
    return "on the usual day" if lead_days == 0 else f"up to {ahead(lead_days)}"


def _reliability(found: Hindcast, width: int) -> list[str]:
    bins = found.reliability()
    if not bins:
        return []
    return [
        wrap(
            "Chances given of having settled by a day, and how often it did (times given):", width
        ),
        *(
            f"{round(100 * one.forecast):>4} % given:"
            f"{round(100 * one.frequency):>4} % did ({one.n:,})"
            for one in bins
        ),
    ]


def _loud(found: Hindcast) -> int:
    """Return how many notes were said at the top already."""
    return 1 if found.truth == "model" else 0


def checked_json(checked: Checked) -> dict[str, Any]:
    """Return the check as JSON's own types; what is not known is null."""
    found, site = checked.hindcast, checked.site
    return {
        "summary": first_sentence(found),
        "truth": found.truth,
        "complete": found.complete,
        "members": found.members,
        "site": {
            "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg,
            "depth_m": rounded(site.depth_m),
            "soil": site.soil,
            "cover": site.cover,
        },
        "thresholds": [
            {
                "name": threshold.name,
                "label": threshold.label,
                "direction": threshold.direction,
                "threshold_c": rounded(threshold.threshold_c),
            }
            for threshold in found.thresholds
        ],
        "cells": [
            _plain(asdict(cell)) | {"coverage": rounded(cell.coverage)} for cell in found.cells
        ],
        "reliability": [_plain(asdict(one)) for one in found.reliability()],
        "forecasts": [
            _plain(asdict(row))
            | {
                "checks": [
                    {"date": day.isoformat(), "probability": rounded(chance), "settled": came}
                    for day, chance, came in row.checks
                ]
            }
            for row in found.rows
        ],
        "notes": [*checked.notes, *found.notes],
        "read": {name.lower(): account_json(account) for name, account in checked.accounts.items()},
    }


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with ISO dates and rounded numbers."""
    return {
        name: value.isoformat()
        if hasattr(value, "isoformat")
        else rounded(value)
        if isinstance(value, float)
        else value
        for name, value in row.items()
    }
