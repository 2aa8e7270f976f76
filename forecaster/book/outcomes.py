"""What came of a planting, and what it cost."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date

from forecaster.book.places import bed_number, check_text, find_bed
from forecaster.book.store import Batch, Book
from forecaster.ground.errors import InputError

_SEASON = re.compile(r"\d{4}-(autumn|spring)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What was planted, when and how many, and what of it was alive when it was looked at.

    Parameters
    ----------
    bed, what : str
    planted, seen : date
        Day of planting, and day on which it was looked at.
    how_many, survived : int, optional
        Plants, and those alive.
    share : float, optional
        Share alive, 0 to 1; worked out where both counts are known.
    note : str
    """

    bed: str
    what: str
    planted: date
    seen: date
    how_many: int | None = None
    survived: int | None = None
    share: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be; work the share out."""
        check_text(self.what, "plant's name")
        check_text(self.note, "note")
        if not self.what.strip():
            raise InputError("what was it? Expected a name, as 'lettuce'")
        if self.seen < self.planted:
            raise InputError(f"seen on {self.seen}, before it was planted on {self.planted}")
        if self.how_many is not None and self.how_many < 1:
            raise InputError(f"count is {self.how_many}; expected 1 or more")
        if self.survived is not None:
            if self.how_many is None:
                raise InputError(
                    f"{self.survived} survived, of how many? Expected the count planted, "
                    "or a share, as 90%"
                )
            if not 0 <= self.survived <= self.how_many:
                raise InputError(f"{self.survived} survived of {self.how_many}; expected no more")
            object.__setattr__(self, "share", self.survived / self.how_many)
        if self.share is not None and not 0.0 <= self.share <= 1.0:
            raise InputError(f"share is {self.share!r}; expected 0 to 1, 0.9 for 90 %")
        if self.share is None and not self.note.strip():
            raise InputError("what came of it? Expected what survived, or a note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Money spent on a season, of one bed or of the garden.

    Parameters
    ----------
    season : str
        As ``2026-autumn``.
    day : date
    what : str
    amount : float
        In `currency`; below zero for what came back.
    currency : str
        As ``USD``; may be empty.
    bed : str, optional
    """

    season: str
    day: date
    what: str
    amount: float
    currency: str = ""
    bed: str | None = None

    def __post_init__(self) -> None:
        """Refuse what is no cost."""
        if not _SEASON.fullmatch(self.season):
            raise InputError(f"season is {self.season!r:.40}; expected it as 2026-autumn")
        check_text(self.what, "cost's name")
        check_text(self.currency, "currency")
        if not self.what.strip():
            raise InputError("what was paid for? Expected a few words, as 'flats'")
        if not math.isfinite(self.amount) or self.amount == 0.0 or abs(self.amount) > 1e9:
            raise InputError(f"the amount is {self.amount!r}; expected money, as 42.50")


def add_outcome(batch: Batch, outcome: Outcome) -> None:
    """Write down what came of a planting."""
    batch.db.execute(
        "INSERT INTO outcomes (bed_id, planted, what, how_many, seen, survived, share, note, "
        "batch_id) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            bed_number(batch.db, outcome.bed),
            outcome.planted.isoformat(),
            outcome.what,
            outcome.how_many,
            outcome.seen.isoformat(),
            outcome.survived,
            outcome.share,
            outcome.note,
            batch.number,
        ),
    )
    batch.rows += 1


def outcomes(book: Book, bed: str | None = None) -> list[Outcome]:
    """Return what came of plantings, by day of planting, then as seen: a bed's, or all."""
    only = None if bed is None else find_bed(book, bed).name
    with book.reading() as db:
        rows = db.execute(
            "SELECT beds.name, what, planted, seen, how_many, survived, share, note FROM outcomes "
            "JOIN beds ON beds.id = bed_id ORDER BY planted, seen, outcomes.id"
        ).fetchall()
    return [
        Outcome(
            bed=name,
            what=what,
            planted=date.fromisoformat(planted),
            seen=date.fromisoformat(seen),
            how_many=how_many,
            survived=survived,
            share=share,
            note=note,
        )
        for name, what, planted, seen, how_many, survived, share, note in rows
        if only in (None, name)
    ]


def add_cost(batch: Batch, cost: Cost) -> None:
    """Write down what was paid."""
    bed = None if cost.bed is None else bed_number(batch.db, cost.bed)
    batch.db.execute(
        "INSERT INTO costs (bed_id, season, day, what, amount, currency, batch_id) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            bed, cost.season, cost.day.isoformat(), cost.what, cost.amount, cost.currency,
            batch.number,
        ),
    )  # fmt: skip
    batch.rows += 1


def costs(book: Book, season: str | None = None, bed: str | None = None) -> list[Cost]:
    """Return what was paid, by day: of a season, of a bed, or all."""
    only = None if bed is None else find_bed(book, bed).name
    with book.reading() as db:
        rows = db.execute(
            "SELECT season, day, what, amount, currency, beds.name FROM costs "
            "LEFT JOIN beds ON beds.id = bed_id ORDER BY day, costs.id"
        ).fetchall()
    return [
        Cost(
            season=of,
            day=date.fromisoformat(day),
            what=what,
            amount=amount,
            currency=currency,
            bed=name,
        )
        for of, day, what, amount, currency, name in rows
        if season in (None, of) and only in (None, name)
    ]


def season_of(day: date, latitude_deg: float) -> str:
    """Return the season that a day's work belongs to: the half of the year it lies in.

    In the north January to June is spring and July to December autumn, in the south the other
    way round; *common practice, no source*.

    >>> season_of(date(2026, 10, 20), 41.0), season_of(date(2026, 10, 20), -36.0)
    ('2026-autumn', '2026-spring')
    """
    second = day.month > 6
    return f"{day.year}-{'autumn' if second == (latitude_deg >= 0.0) else 'spring'}"
