"""When a hand reading was taken: words of the user → local standard time."""

from __future__ import annotations

import re
import time
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from forecaster.errors import InputError

EARLIEST = date(1900, 1, 1)
_AT = re.compile(
    r"(?:(?P<day>\d{4}-\d{2}-\d{2})(?:[T\s]+|$))?"
    r"(?:(?P<hour>\d{1,2})(?:[:.](?P<minute>\d{2})(?::\d{2})?)?\s*(?P<half>[ap])?(?:\.?m\.?)?)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment in local standard time, as the book keeps it.

    Parameters
    ----------
    standard : datetime
        Without zone; midnight where only the day is known.
    hour_known : bool
    said : str
        In words, with the clock's own time where summer time is on.
    """

    standard: datetime
    hour_known: bool
    said: str


def moment(text: str | None, now: datetime | None = None) -> Moment:
    """Return the moment meant by `7:40`, `7:40 pm`, `2026-03-14` or `2026-03-14 7:40`.

    The time is that of the clock on the wall; if this computer's zone has summer time then, an
    hour is taken off. Without text, now.

    Raises
    ------
    InputError
        If it is not understood, or still to come.
    """
    now = datetime.now() if now is None else now
    if text is None:
        return _on_the_wall(now.replace(second=0, microsecond=0))
    match = _AT.fullmatch(text.strip())
    if (
        match is None
        or not text.strip()
        or (match["hour"] and not (match["minute"] or match["half"]))
    ):
        raise _not_understood(text)
    day = now.date() if match["day"] is None else day_of(match["day"], now.date())
    if match["hour"] is None:
        return Moment(datetime.combine(day, datetime.min.time()), False, f"{day}, hour not known")
    wall = datetime.combine(day, datetime.min.time()) + _clock(match, text)
    if wall > now + timedelta(minutes=5):
        raise InputError(f"--at {text!r} is still to come; write the day with it, as '{day} 7:40'")
    return _on_the_wall(wall)


def _clock(match: re.Match[str], text: str) -> timedelta:
    hour, minute = int(match["hour"]), int(match["minute"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            raise _not_understood(text)
        hour = hour % 12 + (12 if match["half"].lower() == "p" else 0)
    if hour > 23 or minute > 59:
        raise _not_understood(text)
    return timedelta(hours=hour, minutes=minute)


def _not_understood(text: str) -> InputError:
    return InputError(
        f"--at {text!r} not understood; expected a time as 7:40 or 7:40pm, a day as 2026-03-14, "
        "or both, as '2026-03-14 7:40'"
    )


def day_of(text: str | None, today: date) -> date:
    """Return the day meant by `2026-03-14`, or today; never one still to come.

    Raises
    ------
    InputError
        If it is no date, before 1900, or still to come.
    """
    if text is None:
        return today
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"{text!r} is no day; expected for example 2026-03-14") from error
    if not EARLIEST <= day <= today:
        raise InputError(f"{text} is no day from {EARLIEST} to today, {today}")
    return day


def _on_the_wall(wall: datetime) -> Moment:
    """Return wall time as standard time, by this computer's zone."""
    said = f"{wall:%Y-%m-%d %H:%M}"
    try:
        summer = time.localtime(time.mktime(wall.timetuple())).tm_isdst > 0
    except (OverflowError, OSError, ValueError):
        summer = False
    if not summer:
        return Moment(wall, True, said)
    standard = wall - timedelta(seconds=time.timezone - time.altzone)
    return Moment(standard, True, f"{said} (kept as {standard:%H:%M} standard time)")
