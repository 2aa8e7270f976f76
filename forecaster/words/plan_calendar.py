"""The plan as an iCalendar file (RFC 5545), for any calendar program.

Each task keeps its UID from plan to plan, so that a second import updates it; SEQUENCE and
DTSTAMP come from the day of the plan, not from the clock, so that one plan always makes one file.
"""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, time, timedelta
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

from forecaster.plan.tasks import Plan, Task
from forecaster.words.phrases import odds, say_day, sentence
from forecaster.words.plan import plan_lead

if TYPE_CHECKING:
    from icalendar import Event

NAMESPACE = uuid.UUID("5b0f4b6e-8a0f-5a0e-9a55-3c1d6b8a7c21")
FIRST_DAY = date(2020, 1, 1)
REVISIONS_A_DAY = 100
REMINDER = timedelta(hours=-15)  # nine in the morning of the day before an all-day event


def plan_calendar(plan: Plan, *, place: str = "", revision: int = 0) -> bytes:
    """Return the plan as the bytes of an ``.ics`` file.

    Parameters
    ----------
    plan : Plan
    place : str
        Name of the garden; with bed and task it makes the UID.
    revision : int
        0 to 99: of several plans of one day, which.
    """
    from icalendar import Calendar  # noqa: PLC0415

    calendar = Calendar()
    calendar.add("prodid", f"-//Crossday//Crossday {_version()}//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for task in plan.tasks:
        calendar.add_component(_event(task, plan, place, revision))
    made: bytes = calendar.to_ical()
    return made


def uid(place: str, bed: str, key: str) -> str:
    """Return a task's UID: a name-based UUID (RFC 9562, version 5) of place, bed and task.

    The parts are set apart by a character that no name holds.
    """
    return str(uuid.uuid5(NAMESPACE, "\x1f".join((place, bed, key))))


def sequence(today: date, revision: int = 0) -> int:
    """Return the SEQUENCE of a plan made on a day: greater for every later day and revision."""
    return max(0, (today - FIRST_DAY).days) * REVISIONS_A_DAY + min(
        max(revision, 0), REVISIONS_A_DAY - 1
    )


def _event(task: Task, plan: Plan, place: str, revision: int) -> Event:
    """Return a task as an all-day event over its span."""
    from icalendar import Alarm, Event  # noqa: PLC0415

    title = f"{task.title} ({plan.bed.name})"
    event = Event()
    event.add("uid", uid(place, plan.bed.name, task.key))
    event.add("dtstamp", datetime.combine(plan.today, time(0), UTC))
    event.add("sequence", sequence(plan.today, revision))
    event.add("summary", title)
    event.add("dtstart", task.earliest)
    event.add("dtend", task.latest + timedelta(days=1))
    event.add("description", _description(task, plan))
    event.add("categories", [plan.season, "garden"])
    event.add("transp", "TRANSPARENT")
    if task.standing(plan.today) != "overdue":
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", title)
        alarm.add("trigger", REMINDER)
        event.add_component(alarm)
    return event


def _description(task: Task, plan: Plan) -> str:
    """Return the likely day, how sure, why and with what care."""
    lines = []
    if task.earliest != task.latest:
        sure = f"; {odds(task.probability)} that {task.sure_of}" if task.sure_of else ""
        lines.append(f"Most likely {say_day(task.likely, plan.today)}{sure}.")
    lines.append(sentence(task.why))
    if task.caution:
        lines.append(task.caution)
    lines.append(f"Planned on {plan.today.isoformat()}. {plan_lead(plan)}")
    return "\n".join(lines)


def _version() -> str:
    try:
        return version("crossday")
    except PackageNotFoundError:
        return "unpackaged"
