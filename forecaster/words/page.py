"""The whole answer: what, when and how sure; then what explains it, what was read, cautions."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from forecaster.answers.record import Record
from forecaster.answers.window import Window, WindowAnswer
from forecaster.forecast.judge import Doubt
from forecaster.ground.site import Site
from forecaster.ground.units import c_to_f_difference
from forecaster.ingest.account import Account
from forecaster.words.account import account_words, refused_words, taken_words
from forecaster.words.as_json import account_json, to_json
from forecaster.words.layout import wrap
from forecaster.words.phrases import (
    Level,
    Show,
    count,
    length,
    listed,
    number,
    say_day,
    sentence,
)
from forecaster.words.window import (
    as_of,
    behind,
    brief,
    said,
    soil_words,
    stale_words,
    touch_words,
    usual_words,
    weeks,
    what,
    worth_words,
)

if TYPE_CHECKING:
    import pandas as pd

WIDEST, NARROWEST = 88, 30
CAUTIONS = (
    "Estimates from air temperature, not measurements of your bed: take its temperature first.",
    "Frost, soil too wet to work and what each crop needs are not in these dates.",
    "Thresholds are common practice; your local extension or advisory service knows better.",
)
CAUTION = (
    "Estimates: take the bed's own temperature first. Frost, soil too wet to work and local "
    "advice are not in these dates."
)
MORE = "More: --full"
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


def told_text(told: Told, width: int = WIDEST, show: Show = "F", level: Level = "default") -> str:
    """Return the answer as a page of plain words: what, when and how sure come first.

    Parameters
    ----------
    told : Told
    width : int
        Columns to fill, 30 to 88.
    show : {"F", "C"}
        Scale in which temperatures are said.
    level : {"brief", "default", "full"}
        What speaks against the answer or was refused in the user's files is said in each.
    """
    width = max(NARROWEST, min(WIDEST, width))
    blocks = [wrap(f"{told.title}, {_issued(told)}", width)] if told.title else []
    blocks += [wrap(f"Check first: {doubt}", width) for doubt in told.check_first]
    so_far = told.windows[0].so_far if told.windows else None
    if so_far is not None and so_far.stale_days:
        blocks.append(wrap(stale_words(so_far.last_day, so_far.stale_days), width))
    if level == "brief":
        blocks.append("\n".join(wrap(brief(w, told.today, show), width) for w in told.windows))
    else:
        blocks += [
            _window(told, place, width=width, show=show, level=level)
            for place in range(len(told.windows))
        ]
    if not told.windows:
        blocks.append(wrap("No window can be worked out for this place.", width))
    notes = [sentence(note) for note in told.notes if note not in told.check_first]
    if level != "full":
        notes += [words for one in told.accounts.values() for words in refused_words(one)]
    if notes:
        blocks.append("\n".join(wrap(note, width) for note in notes))
    blocks += _foot(told, width, show, level)
    return "\n\n".join(block for block in blocks if block) + "\n"


def bed_text(name: str, window: Window, today: date, width: int = WIDEST, show: Show = "F") -> str:
    """Return the answer for one of many beds: its next window, on a line or two."""
    width = max(NARROWEST, min(WIDEST, width))
    return wrap(f"{name}: {brief(window, today, show)}", width, hang="  ")


def doubt_words(window: Window, doubtful: Sequence[Doubt] = ()) -> tuple[str, ...]:
    """Return what speaks against an answer: a doubtful record, and air that is too old."""
    stale = stale_words(window.so_far.last_day, window.so_far.stale_days)
    return (*(f"Check first: {doubt.sentence}" for doubt in doubtful), *([stale] if stale else []))


def _window(told: Told, place: int, *, width: int, show: Show, level: Level) -> str:
    """Return one window: the three lines of the answer, and what stands behind them."""
    window, today = told.windows[place], told.today
    when, sure = said(window, today, show)
    when = f"{as_of(window, today)}{when}"
    lines = [wrap(what(window, show), width)]
    lines += [wrap(sentence(words), width, "  ") for words in (when, sure) if words]
    if level == "full":
        texts = behind(window, today, show, width - 2, first=place == 0)
        lines += [wrap(text, width, "  ") for text in (touch_words(window, today, show), *texts)]
    elif place == 0:
        lines += [wrap(text, width, "  ") for text in _explained(window, today, show, width - 2)]
    return "\n".join(line for line in lines if line)


def _explained(window: Window, today: date, show: Show, width: int) -> list[str]:
    """Return what explains the window that comes first, where not all is said."""
    texts = [
        *weeks(window, width),
        soil_words(window, today, show),
        touch_words(window, today, show),
        usual_words(window),
        worth_words(window, today),
    ]
    return [text for text in texts if text]


def _foot(told: Told, width: int, show: Show, level: Level) -> list[str]:
    """Return where and when this holds, from what, with which care."""
    where = f"Soil {place_words(told.site)}; as of {_issued(told)}."
    odd = _outliers(told.outliers, width, show)
    if level == "full":
        blocks = [wrap(where, width)]
        if told.accounts or odd:
            blocks.append("\n".join([*read_words(told.accounts, width), *odd]))
        cautions = [wrap(f"· {text}", width, "  ") for text in CAUTIONS]
        return [*blocks, "\n".join(["Cautions", *cautions])]
    taken = listed([taken_words(one) for one in told.accounts.values()]) if told.accounts else ""
    lines = [*odd, wrap(f"{where} From {taken}." if taken else where, width)]
    if level == "default":
        lines.append(wrap(CAUTION, width))
    return ["\n".join([*lines, MORE])]


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


def _issued(told: Told) -> str:
    return f"{say_day(told.today, told.today)} {told.today.year}"


def _outliers(outliers: Sequence[str], width: int, show: Show) -> list[str]:
    if not outliers:
        return []
    number_of = count(len(outliers), "reading")
    return [
        wrap(f"{number_of} that the others contradict, given less weight:", width, "  "),
        *(wrap(f"· {_in_scale(text, show)}", width, "    ") for text in outliers),
    ]


def _in_scale(text: str, show: Show) -> str:
    """Return words with differences in °C turned into the scale shown."""
    if show == "C":
        return text

    def turned(match: re.Match[str]) -> str:
        value = float(c_to_f_difference(float(match[1].replace("−", "-"))))
        return f"{value:+.1f} °F"

    return _DIFFERENCE.sub(turned, text)


def read_words(accounts: Mapping[str, Account], width: int) -> list[str]:
    """Return what was read, as lines under a heading; nothing where nothing was."""
    lines = ["What was read"] if accounts else []
    for title, account in accounts.items():
        first, *rest = account_words(title, account, by_hand=title == "Readings")
        lines.append(wrap(first, width, "  "))
        lines += [wrap(text, width, "    ") for text in rest]
    return lines
