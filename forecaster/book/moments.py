"""When a hand reading was taken: words of the user → the clock's time and local standard time.

Standard time is the zone's smallest offset from UTC within half a year on either side: so a clock
that is put forward in summer (Melbourne), one whose law calls summer time the standard and takes
an hour off in winter (Dublin), and one that goes back for a month (Casablanca) keep one time.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

from forecaster.ground.errors import InputError

EARLIEST = date(1900, 1, 1)
_MOST_FORWARD = timedelta(hours=2)  # double summer time, as in Britain in the 1940s
_AT = re.compile(
    r"(?:(?P<day>\d{4}-\d{2}-\d{2})(?:[T\s]+|$))?"
    r"(?:(?P<hour>\d{1,2})(?:[:.](?P<minute>\d{2})(?::\d{2})?)?\s*(?P<half>[ap])?(?:\.?m\.?)?)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment as the book keeps it: the clock's time as given, and local standard time.

    Parameters
    ----------
    wall, standard : datetime
        Without zone; midnight where only the day is known.
    hour_known : bool
    said : str
        In words, with the clock's own time where summer time is on.
    """

    wall: datetime
    standard: datetime
    hour_known: bool
    said: str


def moment(text: str | None, now: datetime | None = None, zone: tzinfo | None = None) -> Moment:
    """Return the moment meant by `7:40`, `7:40 pm`, `2026-03-14` or `2026-03-14 7:40`.

    The time is that of the clock on the wall in a zone, by default this computer's; where it was
    put forward, that is taken off. Without text, now.

    Raises
    ------
    InputError
        If it is not understood, or still to come.
    """
    now = datetime.now() if now is None else now
    zone = local_zone() if zone is None else zone
    if text is None:
        return _on_the_wall(now.replace(second=0, microsecond=0), zone)
    match = _AT.fullmatch(text.strip())
    if (
        match is None
        or not text.strip()
        or (match["hour"] and not (match["minute"] or match["half"]))
    ):
        raise _not_understood(text)
    day = now.date() if match["day"] is None else day_of(match["day"], now.date())
    if match["hour"] is None:
        midnight = datetime.combine(day, datetime.min.time())
        return Moment(midnight, midnight, False, f"{day}, hour not known")
    wall = datetime.combine(day, datetime.min.time()) + _clock(match, text)
    if wall > now + timedelta(minutes=5):
        raise InputError(f"--at {text!r} is still to come; write the day with it, as '{day} 7:40'")
    return _on_the_wall(wall, zone)


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


def local_zone() -> tzinfo | None:
    """Return this computer's zone: by TZ or /etc/localtime, else None, which asks the system."""
    name = os.environ.get("TZ", "").lstrip(":")
    try:
        if name:
            return ZoneInfo(name)
        with Path("/etc/localtime").open("rb") as handle:
            return ZoneInfo.from_file(handle)
    except (
        OSError,
        ValueError,
        KeyError,
    ):  # no such file, or a rule written out, which the system reads
        return None


def _on_the_wall(wall: datetime, zone: tzinfo | None) -> Moment:
    """Return wall time with standard time beside it."""
    said = f"{wall:%Y-%m-%d %H:%M}"
    ahead = put_forward(wall, zone)
    if not ahead:
        return Moment(wall, wall, True, said)
    standard = wall - ahead
    return Moment(wall, standard, True, f"{said} (kept as {standard:%H:%M} standard time)")


def put_forward(wall: datetime, zone: tzinfo | None) -> timedelta:
    """Return how far a clock is ahead of its zone's standard time, 0 to 2 hours.

    A zone that moved by more has changed its meaning: that is no summer time.
    """
    own = _offset(wall, zone)
    offsets = [_offset(wall + timedelta(weeks=k), zone) for k in range(-26, 27)]
    near = [offset for offset in offsets if timedelta(0) <= own - offset <= _MOST_FORWARD]
    return own - min(near, default=own)


def _offset(wall: datetime, zone: tzinfo | None) -> timedelta:
    """Return a wall time's offset from UTC; of an hour that comes twice, the first."""
    try:
        there = wall.astimezone() if zone is None else wall.replace(tzinfo=zone)
    except (OverflowError, OSError, ValueError):
        return timedelta(0)
    return there.utcoffset() or timedelta(0)
