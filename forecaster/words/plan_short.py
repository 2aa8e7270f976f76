"""The plan in few words: what, when and how sure; what to do now and next; what to buy."""

from __future__ import annotations

from collections.abc import Sequence

from forecaster.plan.compare import Change
from forecaster.plan.tasks import Plan, Task, late_words
from forecaster.words.layout import wrap
from forecaster.words.phrases import Level, sentence, short_day
from forecaster.words.plan import (
    NARROWEST,
    WIDEST,
    change_words,
    plan_lead,
    plan_text,
    shopping_words,
)
from forecaster.words.season import before_words

NEXT_SHOWN, PAST_SHOWN = 5, 2
DAYS_WIDE = 18
CAUTION = (
    "Estimates. Have buried utilities located before digging deep, read each label, and follow "
    "local advice: --full has every caution."
)
MORE = "More: --full (why, how sure, when to pull, water, cautions)"


def plan_answer(
    plan: Plan,
    width: int,
    moved: Sequence[Change] | None = None,
    notes: Sequence[str] = (),
    *,
    level: Level = "default",
) -> str:
    """Return the plan in words, as much as is asked for.

    Parameters
    ----------
    plan, moved, notes
        As for `plan_text`, which is the level `full`; notes on the record are always said.
    width : int
        Columns to fill, 30 to 88.
    level : {"brief", "default", "full"}
    """
    if level == "full":
        return plan_text(plan, width, moved, notes)
    width = max(NARROWEST, min(WIDEST, width))
    late, now, ahead = (_of(plan, standing) for standing in ("overdue", "now", "ahead"))
    blocks = [wrap(plan_lead(plan), width)]
    if moved is not None:
        blocks.append(_block("What moved", change_words(moved), width))
    over = [f"{_line(task)} – {late_words(task, plan) or 'its days are over'}" for task in late]
    blocks.append(_block("Late", over, width, hang=True))
    blocks.append(_block("Now", [_line(task) for task in now], width, hang=True))
    if level == "default":
        lines = [_line(task) for task in ahead]
        more = len(lines) - NEXT_SHOWN
        if more > 1:
            lines[NEXT_SHOWN:] = [f"and {more} more tasks after these"]
        blocks.append(_block("Next", lines, width, hang=True))
        blocks.append(_block("To buy", shopping_words(plan.shopping), width))
    many = PAST_SHOWN if level == "default" else 0
    blocks.append(_block("This bed before", before_words(plan, many), width))
    said = [sentence(note) for note in (*plan.notes, *notes)]
    blocks.append("\n".join(wrap(note, width) for note in said))
    foot = [wrap(CAUTION, width)] if level == "default" else []
    blocks.append("\n".join([*foot, wrap(MORE, width)]))
    return "\n\n".join(block for block in blocks if block) + "\n"


def _of(plan: Plan, standing: str) -> list[Task]:
    """Return the tasks that stand so, of this changeover first; what was planted is done."""
    found = [
        task
        for task in plan.tasks
        if task.standing(plan.today) == standing
        and not (task.likely == plan.wants.planted and task.name == "set-out")
    ]
    return sorted(found, key=lambda task: not task.key.startswith(f"{plan.key}/"))


def _line(task: Task) -> str:
    """Return a task's days and its title, the titles under one another."""
    days = short_day(task.earliest)
    if task.earliest != task.latest:
        days += f" to {short_day(task.latest)}"
    return f"{days:<{DAYS_WIDE}}{task.title}"


def _block(heading: str, lines: Sequence[str], width: int, *, hang: bool = False) -> str:
    if not lines:
        return ""
    under = " " * (2 + DAYS_WIDE) if hang and width > NARROWEST + DAYS_WIDE else "    "
    return "\n".join([heading, *(wrap(line, width, "  ", hang=under) for line in lines)])
