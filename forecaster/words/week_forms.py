"""Tasks of several beds for a program: JSON's own types, and a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from forecaster.plan.several import BedPlan
from forecaster.plan.week import Due, Week, hours_of, loads_of
from forecaster.words.as_json import rounded
from forecaster.words.plan_forms import plan_json, safe_cell, task_json
from forecaster.words.week import silent_words, wet_words

COLUMNS = (
    "bed", "place", "key", "title", "due", "when", "done", "earliest", "likely", "latest",
    "probability", "sure_of", "why", "depends_on", "caution", "basis", "hours", "workable_from",
)  # fmt: skip


def due_json(due: Due) -> dict[str, Any]:
    """Return one task of one bed as JSON's own types; bed and key name it for ever."""
    task = task_json(due.task, due.plan.today)
    del task["standing"]
    return {
        "bed": due.bed,
        "place": due.place,
        **task,
        "why": due.why,
        "due": due.day.isoformat(),
        "when": due.when,
        "done": None if due.done is None else due.done.isoformat(),
        "moved": None if due.moved is None else due.moved.isoformat(),
        "hours": rounded(due.hours),
        "too_wet": due.too_wet,
        "workable_from": None if due.workable is None else due.workable.isoformat(),
    }


def week_json(week: Week) -> dict[str, Any]:
    """Return the week as JSON's own types."""
    now = week.of("week", "late")
    return {
        "today": week.today.isoformat(),
        "beds": list(week.beds),
        "tasks": [due_json(due) for due in week.dues],
        "hours": rounded(hours_of(now)),
        "loads": loads_of(now),
        "too_wet": [bed for bed, _ in week.wet],
        "remarks": [*wet_words(week), *silent_words(week)],
    }


def tasks_csv(dues: Sequence[Due]) -> str:
    """Return tasks as CSV, a row each, by RFC 4180 with plain line ends.

    A cell that a spreadsheet would take for a formula gets an apostrophe in front.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(COLUMNS)
    for due in dues:
        row = due_json(due)
        row["depends_on"] = " ".join(due.task.depends_on)
        writer.writerow([safe_cell(row[name]) for name in COLUMNS])
    return buffer.getvalue()


def plans_json(plans: Sequence[BedPlan], week: Week) -> dict[str, Any]:
    """Return the plans of several beds, and the tasks of all in one list, as JSON's own types."""
    return {
        "beds": [
            plan_json(one.whole.plan) | {"about_the_record": list(one.whole.notes)}
            for one in plans
            if one.whole is not None
        ],
        "not_planned": [
            {"bed": one.bed.name, "why": str(one.error)} for one in plans if one.error is not None
        ],
        "week": week_json(week),
    }
