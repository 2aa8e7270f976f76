"""The whole answer: the windows, then what was read, then the cautions."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from forecaster.answers.record import Record
from forecaster.answers.window import Window, WindowAnswer
from forecaster.ground.site import Site
from forecaster.ground.units import c_to_f_difference
from forecaster.ingest.account import Account
from forecaster.words.account import account_words
from forecaster.words.as_json import account_json, to_json
from forecaster.words.layout import wrap
from forecaster.words.phrases import Show, count, length, number, say_day, sentence
from forecaster.words.window import lead, stale_words, window_words

if TYPE_CHECKING:
    import pandas as pd

WIDEST, NARROWEST = 88, 30
CAUTIONS = (
    "Estimates from air temperature, not measurements of your bed: take its temperature first.",
    "Frost, soil too wet to work and what each crop needs are not in these dates.",
    "Thresholds are common practice; your local extension or advisory service knows better.",
)
_DIFFERENCE = re.compile(r"([+\-−]?\d+(?:\.\d+)?) °C")


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Everything that one answer says.

    Parameters
    ----------
    windows : sequence of Window
        In the order in which they are said.
    today : date
        Day on which the forecast is issued.
    site : Site
    accounts : mapping of str to Account
        By what was read: `Air`, `Readings`, `Outlook`.
    notes, outliers : sequence of str
        What else the user should know; readings that the others contradict.
    title : str
        Name of the place, if it has one.
    check_first : sequence of str
        What is doubtful about the record; also among the notes.
    log : DataFrame or None
        The readings as they were typed.
    """

    windows: Sequence[Window]
    today: date
    site: Site
    accounts: Mapping[str, Account] = field(default_factory=dict)
    notes: Sequence[str] = ()
    outliers: Sequence[str] = ()
    title: str = ""
    check_first: Sequence[str] = ()
    log: pd.DataFrame | None = None


def tell(answer: WindowAnswer, record: Record) -> Told:
    """Return what is said of a record's windows."""
    return Told(
        windows=answer.windows,
        today=record.today,
        site=record.site,
        accounts=record.accounts,
        notes=(*record.notes, *answer.notes),
        outliers=answer.outliers,
        title=record.title,
        check_first=tuple(doubt.sentence for doubt in answer.doubtful),
        log=record.log,
    )


def told_text(told: Told, width: int = WIDEST, show: Show = "F") -> str:
    """Return the answer as a page of plain words.

    Parameters
    ----------
    told : Told
    width : int
        Columns to fill, 30 to 88.
    show : {"F", "C"}
        Scale in which temperatures are said.
    """
    width = max(NARROWEST, min(WIDEST, width))
    blocks = [wrap(_heading(told), width)]
    blocks += [wrap(f"Check first: {doubt}", width) for doubt in told.check_first]
    so_far = told.windows[0].so_far if told.windows else None
    if so_far is not None and so_far.stale_days:
        blocks.append(wrap(stale_words(so_far.last_day, so_far.stale_days), width))
    for place, window in enumerate(told.windows):
        answer = lead(window, told.today, show)
        behind = window_words(window, told.today, show, width - 2, first=place == 0)
        lines = [wrap(answer, width), *(wrap(text, width, "  ") for text in behind)]
        blocks.append("\n".join(lines))
    if not told.windows:
        blocks.append(wrap("No window can be worked out for this place.", width))
    notes = [note for note in told.notes if note not in told.check_first]
    if notes:
        blocks.append("\n".join(wrap(sentence(note), width) for note in notes))
    if told.accounts or told.outliers:
        blocks.append("\n".join(_read(told, width, show)))
    cautions = [wrap(f"· {text}", width, "  ") for text in CAUTIONS]
    blocks.append("\n".join(["Cautions", *cautions]))
    return "\n\n".join(blocks) + "\n"


def told_json(told: Told) -> dict[str, Any]:
    """Return the answer as JSON's own types."""
    site = told.site
    return {
        "place": told.title,
        "today": told.today.isoformat(),
        "site": {
            "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg,
            "depth_m": round(site.depth_m, 4),
            "soil": site.soil,
            "cover": site.cover,
        },
        "windows": [to_json(window) for window in told.windows],
        "check_first": list(told.check_first),
        "notes": list(told.notes),
        "contradicted_readings": list(told.outliers),
        "read": {name.lower(): account_json(account) for name, account in told.accounts.items()},
        "cautions": list(CAUTIONS),
    }


def place_words(site: Site) -> str:
    """Return depth and coordinates in words."""
    north = f"{number(abs(site.latitude_deg), 2)}° {'N' if site.latitude_deg >= 0 else 'S'}"
    east = ""
    if site.longitude_deg is not None:
        east = f" {number(abs(site.longitude_deg), 2)}° {'E' if site.longitude_deg >= 0 else 'W'}"
    deep = "at the surface" if site.depth_m == 0.0 else f"{length(site.depth_m)} down"
    return f"{deep}, {north}{east}"


def _heading(told: Told) -> str:
    name = f"{told.title}. " if told.title else ""
    issued = f"issued {say_day(told.today, told.today)} {told.today.year}"
    return f"{name}Soil {place_words(told.site)}; {issued}."


def _read(told: Told, width: int, show: Show) -> list[str]:
    lines = read_words(told.accounts, width)
    if told.outliers:
        number_of = count(len(told.outliers), "reading")
        lines.append(
            wrap(f"{number_of} that the others contradict, given less weight:", width, "  ")
        )
        lines += [wrap(f"· {_in_scale(text, show)}", width, "    ") for text in told.outliers]
    return lines


def _in_scale(text: str, show: Show) -> str:
    """Return words with differences in °C turned into the scale shown."""
    if show == "C":
        return text

    def turned(match: re.Match[str]) -> str:
        value = float(c_to_f_difference(float(match[1].replace("−", "-"))))
        return f"{value:+.1f} °F"

    return _DIFFERENCE.sub(turned, text)


def read_words(accounts: Mapping[str, Account], width: int) -> list[str]:
    """Return what was read, as lines under a heading."""
    lines = ["What was read"]
    for title, account in accounts.items():
        first, *rest = account_words(title, account, by_hand=title == "Readings")
        lines.append(wrap(first, width, "  "))
        lines += [wrap(text, width, "    ") for text in rest]
    return lines
