"""What moved between one plan and the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from forecaster.plan.tasks import Plan, Task

What = Literal["moved", "new", "gone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What became of one task.

    Parameters
    ----------
    key, title : str
    what : {"moved", "new", "gone"}
    earliest_days, likely_days, latest_days : int
        How many days later each now is; negative for earlier, 0 unless it moved.
    old, new : Task or None
    """

    key: str
    title: str
    what: What
    earliest_days: int = 0
    likely_days: int = 0
    latest_days: int = 0
    old: Task | None = None
    new: Task | None = None


def changes(old: Plan | Sequence[Task], new: Plan | Sequence[Task]) -> tuple[Change, ...]:
    """Return what moved from one plan to the next, tasks that stayed left out.

    Parameters
    ----------
    old, new : Plan, or its tasks
        Of the same bed; tasks are matched by their keys.

    Returns
    -------
    tuple of Change
        In the order of the new plan, what is gone last.
    """
    before = {task.key: task for task in _tasks(old)}
    found = []
    for task in _tasks(new):
        was = before.pop(task.key, None)
        if was is None:
            found.append(Change(key=task.key, title=task.title, what="new", new=task))
            continue
        moved = [
            (now - then).days
            for then, now in (
                (was.earliest, task.earliest),
                (was.likely, task.likely),
                (was.latest, task.latest),
            )
        ]
        if any(moved):
            found.append(
                Change(
                    key=task.key,
                    title=task.title,
                    what="moved",
                    earliest_days=moved[0],
                    likely_days=moved[1],
                    latest_days=moved[2],
                    old=was,
                    new=task,
                )
            )
    found += [
        Change(key=task.key, title=task.title, what="gone", old=task) for task in before.values()
    ]
    return tuple(found)


def _tasks(plan: Plan | Sequence[Task]) -> Sequence[Task]:
    return plan.tasks if isinstance(plan, Plan) else plan
