"""What is to go into each bed, autumn and spring: what an order and a plan are counted from."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

from forecaster.book.places import bed_number, check_text, find_bed, name_key, say_name
from forecaster.book.store import Batch, Book
from forecaster.ground.errors import InputError

Season = Literal["autumn", "spring"]
MOST_PLANTS, MOST_A_FLAT = 200_000, 9999
LONGEST_WEEKS = 52.0

Pairs = tuple[tuple[str, int | None], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Want:
    """One thing that goes into a bed in a season, this year and the next until it is changed.

    Parameters
    ----------
    bed : str
    season : {"autumn", "spring"}
    what : str
        A crop, as ``pansy``; any name will do.
    variety : str
    colours : tuple of (str, int or None)
        Plants of each colour; None for all to share what the bed takes.
    plants : int, optional
        How many; by default what the bed, or its equal part, takes.
    spacing_m : float, optional
        By default the crop's own.
    flats : tuple of (int, float or None)
        Plants a flat and its price; empty for the usual sizes.
    currency : str
        Of the prices, as ``USD``.
    spare_share : float
        Plants ordered beyond those set out, as a share of them.
    weeks : tuple of float, optional
        Least and most weeks that the grower needs; by default the crop's own.
    """

    bed: str
    season: Season
    what: str
    variety: str = ""
    colours: Pairs = ()
    plants: int | None = None
    spacing_m: float | None = None
    flats: tuple[tuple[int, float | None], ...] = ()
    currency: str = ""
    spare_share: float = 0.0
    weeks: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be wanted."""
        if self.season not in get_args(Season):
            raise InputError(f"season is {self.season!r}; expected autumn or spring")
        if not self.what.strip():
            raise InputError("what goes in? Expected a name, as 'pansy'")
        for text in (self.what, self.variety, self.currency, *(name for name, _ in self.colours)):
            check_text(text, "name of what goes in")
        check_many(self.plants, "plants")
        for name, many in self.colours:
            check_many(many, f"{name} plants")
        if self.spacing_m is not None and not 0.0 < self.spacing_m < 100.0:
            raise InputError(f"spacing is {self.spacing_m!r} m; expected above 0 and below 100")
        for size, price in self.flats:
            if not 1 <= size <= MOST_A_FLAT or not 0.0 <= (price or 0.0) < 1e6:
                raise InputError(f"a flat of {size} at {price}; expected 1 to {MOST_A_FLAT} plants")
        if not 0.0 <= self.spare_share <= 1.0:
            raise InputError(f"spare share is {self.spare_share!r}; expected 0 to 1, 0.05 for 5 %")
        if self.weeks is not None and not 0.0 < self.weeks[0] <= self.weeks[1] <= LONGEST_WEEKS:
            raise InputError(f"weeks are {self.weeks}; expected a range up to {LONGEST_WEEKS:g}")

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What makes it another thing: its bed, season, crop and variety."""
        return (name_key(self.bed), self.season, name_key(self.what), name_key(self.variety))


def check_many(many: int | None, what: str) -> None:
    """Refuse a count that no bed has."""
    if many is not None and not 1 <= many <= MOST_PLANTS:
        raise InputError(f"{many} {what}; expected 1 to {MOST_PLANTS:,}")


def add_want(batch: Batch, want: Want) -> None:
    """Write down what goes into a bed; the same thing said anew replaces what was said before."""
    _write(batch, want, wanted=True)


def drop_want(batch: Batch, bed: str, season: Season, what: str, variety: str = "") -> None:
    """Write down that something is no longer wanted in a bed.

    Raises
    ------
    InputError
        If it was not wanted there.
    """
    asked = Want(bed=find_bed(batch.book, bed).name, season=season, what=what, variety=variety)
    known = wants(batch.book, asked.bed, season)
    if asked.key not in {one.key for one in known}:
        said = ", ".join(dict.fromkeys(one.what for one in known)) or "nothing"
        raise InputError(
            f"{say_name(what)} is not wanted in {say_name(asked.bed)} in {season}; {said} is"
        )
    _write(batch, asked, wanted=False)


def _write(batch: Batch, want: Want, *, wanted: bool) -> None:
    values: dict[str, Any] = {
        "bed_id": bed_number(batch.db, want.bed),
        "season": want.season,
        "what": want.what,
        "variety": want.variety,
        "colours": json.dumps(want.colours),
        "plants": want.plants,
        "spacing_m": want.spacing_m,
        "flats": json.dumps(want.flats),
        "currency": want.currency,
        "spare_share": want.spare_share,
        "weeks": json.dumps(want.weeks),
        "wanted": int(wanted),
        "batch_id": batch.number,
    }
    columns, marks = ", ".join(values), ", ".join("?" * len(values))
    batch.db.execute(
        f"INSERT INTO wants ({columns}) VALUES ({marks})",  # noqa: S608 - names are ours
        tuple(values.values()),
    )
    batch.rows += 1


def wants(book: Book, bed: str | None = None, season: Season | None = None) -> list[Want]:
    """Return what is wanted now, in the order in which it was first said: a bed's, or all."""
    only = None if bed is None else find_bed(book, bed).name
    latest: dict[tuple[str, str, str, str], tuple[Want, bool]] = {}
    with book.reading() as db:
        for row in _rows(db):
            want, wanted = _want(row)
            latest[want.key] = (want, wanted)
    return [
        want
        for want, wanted in latest.values()
        if wanted and only in (None, want.bed) and season in (None, want.season)
    ]


def _rows(db: sqlite3.Connection) -> list[tuple[Any, ...]]:
    return db.execute(
        "SELECT beds.name, season, what, variety, colours, plants, spacing_m, flats, currency, "
        "spare_share, weeks, wanted FROM wants JOIN beds ON beds.id = bed_id ORDER BY wants.id"
    ).fetchall()


def _want(row: Sequence[Any]) -> tuple[Want, bool]:
    bed, season, what, variety, colours, plants, spacing_m, flats, currency, spare, weeks, on = row
    try:
        told = json.loads(weeks)
        want = Want(
            bed=bed,
            season=season,
            what=what,
            variety=variety,
            colours=tuple((str(n), None if m is None else int(m)) for n, m in json.loads(colours)),
            plants=plants,
            spacing_m=spacing_m,
            flats=tuple((int(n), None if p is None else float(p)) for n, p in json.loads(flats)),
            currency=currency,
            spare_share=spare,
            weeks=None if told is None else (float(told[0]), float(told[1])),
        )
    except (ValueError, TypeError, IndexError, OverflowError, RecursionError) as error:
        raise InputError(
            f"what goes into bed {say_name(bed)} in the book cannot be read: {error}"
        ) from error
    return want, bool(on)
