"""The plans of several beds of the garden book, what they share worked out once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from forecaster import book as kept
from forecaster.answers.crops.find import bed_offset_c
from forecaster.answers.record import Record
from forecaster.answers.several import Beds
from forecaster.answers.window import known_thresholds
from forecaster.ground.errors import ForecasterError
from forecaster.plan.bed import Bed, Wants
from forecaster.plan.layout.read_shape import outline_of_bed
from forecaster.plan.whole import Changeover, WholePlan, plan_changeover


@dataclass(frozen=True, slots=True)
class BedPlan:
    """A bed of the book with its plan, or why it has none.

    Parameters
    ----------
    bed : forecaster.book.Bed
    whole : WholePlan or None
    error : ForecasterError or None
    """

    bed: kept.Bed
    whole: WholePlan | None = None
    error: ForecasterError | None = None


def asked_of(bed: kept.Bed, **wants: Any) -> Changeover:
    """Return what is asked of a bed of the book when nothing else is said."""
    outline = outline_of_bed(bed)
    area_m2 = bed.area_m2 if outline is None else None
    return Changeover(
        bed=Bed(name=bed.name, area_m2=area_m2, outline=outline, soil=bed.soil),
        wants=Wants(**wants),
        thresholds=tuple(known_thresholds()),
    )


def plan_bed(
    beds: Beds,
    book: kept.Book,
    name: str,
    asked: Callable[[Record], Changeover] | None = None,
) -> WholePlan:
    """Return the plan of one bed among others.

    Parameters
    ----------
    beds : Beds
        The day, and what was worked out for other beds.
    book : Book
    name : str
    asked : callable, optional
        What is asked of the bed of a record; by default what `asked_of` asks.

    Raises
    ------
    ForecasterError
        If there is no such bed, or it cannot be planned.
    """
    record = beds.record(book, name)
    assert record.held is not None  # noqa: S101 - a record of the book
    wanted = asked_of(record.held.bed) if asked is None else asked(record)
    here = beds.here(record, offset_c=bed_offset_c(wanted.wish))
    return plan_changeover(record, wanted, here)


def plan_beds(
    beds: Beds,
    book: kept.Book,
    names: Sequence[str] | None = None,
    asked: Callable[[Record], Changeover] | None = None,
) -> list[BedPlan]:
    """Return the plans of the beds named, or of all; one that cannot be planned says why."""
    known = [kept.find_bed(book, name) for name in names] if names else kept.beds(book)
    found = []
    for bed in dict.fromkeys(known):
        try:
            found.append(BedPlan(bed, plan_bed(beds, book, bed.name, asked)))
        except ForecasterError as error:
            found.append(BedPlan(bed, error=error))
    return found
