"""Tasks as an iCalendar file (RFC 5545), for any calendar program.

Each task keeps its UID from plan to plan, so that a second import updates it; SEQUENCE and
DTSTAMP come from the day given, not from the clock, so that one week always makes one file.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

from forecaster.plan.week import Due
from forecaster.words.phrases import between, odds, say_day, sentence
from forecaster.words.plan import plan_lead

if TYPE_CHECKING:
    from icalendar import Event

NAMESPACE = uuid.UUID("5b0f4b6e-8a0f-5a0e-9a55-3c1d6b8a7c21")
FIRST_DAY = date(2020, 1, 1)
REVISIONS_A_DAY = 100
REMINDER = timedelta(hours=-15)  # nine in the morning of the day before an all-day event


def garden_calendar(dues: Sequence[Due], now: date, *, revision: int = 0) -> bytes:
    """Return tasks as the bytes of an ``.ics`` file: one entry each, on the day it is due.

    What is done and what is over has none.

    Parameters
    ----------
    dues : sequence of Due
        Of one bed or of many; place, bed and task make the UID.
    now : date
    revision : int
        0 to 99: of several files of one day, which.
    """
    from icalendar import Calendar  # noqa: PLC0415

    calendar = Calendar()
    calendar.add("prodid", f"-//Crossday//Crossday {_version()}//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for due in dues:
        if due.when in ("week", "ahead"):
            calendar.add_component(_event(due, now, revision))
    made: bytes = calendar.to_ical()
    return made


def uid(place: str, bed: str, key: str) -> str:
    """Return a task's UID: a name-based UUID (RFC 9562, version 5) of place, bed and task.

    The parts are set apart by a character that no name holds.
    """
    return str(uuid.uuid5(NAMESPACE, "\x1f".join((place, bed, key))))


def sequence(today: date, revision: int = 0) -> int:
    """Return the SEQUENCE of a file made on a day: greater for every later day and revision."""
    return max(0, (today - FIRST_DAY).days) * REVISIONS_A_DAY + min(
        max(revision, 0), REVISIONS_A_DAY - 1
    )


def _event(due: Due, now: date, revision: int) -> Event:
    """Return a task as an all-day event on its due day."""
    from icalendar import Alarm, Event  # noqa: PLC0415

    title = f"{due.task.title} ({due.bed})"
    event = Event()
    event.add("uid", uid(due.place, due.bed, due.task.key))
    event.add("dtstamp", datetime.combine(now, time(0), UTC))
    event.add("sequence", sequence(now, revision))
    event.add("summary", title)
    event.add("dtstart", due.day)
    event.add("dtend", due.day + timedelta(days=1))
    event.add("description", _description(due, now))
    event.add("categories", [due.plan.season, "garden"])
    event.add("transp", "TRANSPARENT")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", title)
    alarm.add("trigger", REMINDER)
    event.add_component(alarm)
    return event


def _description(due: Due, now: date) -> str:
    """Return the span, how sure, why and with what care."""
    task, plan = due.task, due.plan
    lines = []
    if task.earliest != task.latest:
        sure = f"; {odds(task.probability)} chance that {task.sure_of}" if task.sure_of else ""
        span = between(task.earliest, task.latest, now)
        lines.append(
            f"{sentence(span).rstrip('.')}, most likely {say_day(task.likely, now)}{sure}."
        )
    lines.append(sentence(due.why))
    if task.caution:
        lines.append(task.caution)
    lines.append(f"Planned on {plan.today.isoformat()}. {plan_lead(plan)}")
    return "\n".join(lines)


def _version() -> str:
    try:
        return version("crossday")
    except PackageNotFoundError:
        return "unpackaged"
