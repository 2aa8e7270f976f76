"""Tasks ticked off by name, in one bed or in several, and the tick taken back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches

from forecaster import book as kept
from forecaster.ground.errors import InputError
from forecaster.plan.week import Due


@dataclass(frozen=True, slots=True)
class Tick:
    """A task of a bed that was ticked off, or whose tick was taken back."""

    bed: str
    key: str
    title: str
    day: date


def tick(
    book: kept.Book, dues: Sequence[Due], name: str, beds: Sequence[str], day: date, *, every: bool
) -> tuple[list[Tick], int]:
    """Write down that a task was done, as one batch.

    Parameters
    ----------
    book : Book
    dues : sequence of Due
        The tasks that there are, by day.
    name : str
        A task's key, or the part behind its season, as ``order``.
    beds : sequence of str
        Beds meant; none for the only one in which the task is open.
    day : date
        Not after today.
    every : bool
        Whether all beds are meant in which it is open.

    Returns
    -------
    list of Tick, int
        What was ticked, and the batch by which it is undone.

    Raises
    ------
    InputError
        If there is no such task, or it is open in several beds and none is named.
    """
    meant = {kept.find_bed(book, bed).name for bed in beds}
    nearest: dict[str, Due] = {}
    for due in dues:  # of two seasons the nearer one, though it be done
        if _is(name, due.task.key) and (not meant or due.bed in meant):
            nearest.setdefault(due.bed, due)
    found = {bed: due for bed, due in nearest.items() if due.done is None}
    if not nearest:
        raise InputError(_unknown(name, [due for due in dues if not meant or due.bed in meant]))
    if not found:
        raise InputError(f"{name} is done already in {_said(list(nearest))}; --undo takes it back")
    if missing := meant - found.keys():
        raise InputError(f"{name} is not open in {_said(sorted(missing))}; nothing was ticked")
    if len(found) > 1 and not meant and not every:
        raise InputError(
            f"{name} is open in {len(found)} beds: {_said(list(found))}; "
            "say which, with --bed, or --all"
        )
    ticks = [Tick(due.bed, due.task.key, due.task.title, day) for due in found.values()]
    with book.batch("done", f"{name}, {len(ticks)} bed{'' if len(ticks) == 1 else 's'}") as batch:
        for one in ticks:
            kept.add_done(batch, one.bed, one.key, one.title, one.day)
    return ticks, batch.number


def untick(book: kept.Book, name: str, beds: Sequence[str]) -> tuple[list[Tick], int]:
    """Take back the last tick of a task; beds that were ticked with it go with it.

    Parameters
    ----------
    book : Book
    name : str
    beds : sequence of str
        Beds meant; none for whichever was ticked last.

    Returns
    -------
    list of Tick, int
        What was taken back, and the batch that it was.

    Raises
    ------
    InputError
        If it was not ticked, or was ticked together with beds that are not meant.
    """
    meant = [kept.find_bed(book, bed).name for bed in beds]
    ticked = [
        (kept.done_batch(book, bed.name, key), Tick(bed.name, key, "", day))
        for bed in kept.beds(book)
        for key, day in kept.done_tasks(book, bed.name).items()
    ]
    ours = [
        number for number, one in ticked if _is(name, one.key) and (not meant or one.bed in meant)
    ]
    if not ours:
        raise InputError(f"{name} was not ticked{f' in {_said(meant)}' if meant else ''}")
    last = max(ours)
    taken = [one for number, one in ticked if number == last]
    others = [one.bed for one in taken if meant and one.bed not in meant]
    if others:
        raise InputError(
            f"{name} was ticked in {_said(others)} at the same time; leave out --bed to take all "
            "of it back"
        )
    kept.undo(book, last)
    return taken, last


def _is(name: str, key: str) -> bool:
    """Whether a name is a task's key, or what stands behind its season."""
    asked, tail = name.strip().casefold(), key.split("/", 1)[-1]
    return asked in (key.casefold(), tail.casefold(), tail.split("/")[0].casefold())


def _unknown(name: str, dues: Sequence[Due]) -> str:
    names = list(dict.fromkeys(due.task.key.split("/", 1)[1] for due in dues))
    near = get_close_matches(name.casefold(), names, n=1)
    if near:
        return f"there is no task {name!r:.40}; did you mean {near[0]}?"
    return f"there is no task {name!r:.40}; expected one of {', '.join(names) or 'none'}"


def _said(beds: Sequence[str]) -> str:
    return ", ".join(kept.say_name(bed) for bed in beds)
