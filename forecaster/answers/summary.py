"""A season of the garden book on one page: what was planted, what came of it, what it cost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from forecaster import book as kept
from forecaster.answers.bed import Came, follow_planting
from forecaster.book.places import name_key
from forecaster.ground.errors import InputError, NotEnoughData

TICK = "done: "


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """Something planted, and what was last seen of it.

    Parameters
    ----------
    day : date
    what : str
    how_many : int or None
    outcome : Outcome or None
    came : tuple of Came
        What the soil did against the forecast shown before that day; empty where none was.
    """

    day: date
    what: str
    how_many: int | None = None
    outcome: kept.Outcome | None = None
    came: tuple[Came, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BedSeason:
    """A bed's season.

    Parameters
    ----------
    bed : str
    planted : tuple of Planted
    pulled : tuple of Planting
    costs : tuple of Cost
    notes : tuple of Note
        Ticks of tasks left out.
    tasks_done, readings : int
    """

    bed: str
    planted: tuple[Planted, ...] = ()
    pulled: tuple[kept.Planting, ...] = ()
    costs: tuple[kept.Cost, ...] = ()
    notes: tuple[kept.Note, ...] = ()
    tasks_done: int = 0
    readings: int = 0

    @property
    def quiet(self) -> bool:
        """Whether the book has nothing of it."""
        entries = (*self.planted, *self.pulled, *self.costs, *self.notes)
        return not entries and self.tasks_done == 0 and self.readings == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonSummary:
    """A season of several beds.

    Parameters
    ----------
    season : str
        As ``2026-autumn``.
    beds : tuple of BedSeason
    costs : tuple of Cost
        Of no bed.
    notes : tuple of Note
        Of no bed.
    """

    season: str
    beds: tuple[BedSeason, ...]
    costs: tuple[kept.Cost, ...] = ()
    notes: tuple[kept.Note, ...] = ()

    @property
    def plants(self) -> int:
        """Plants set out, as far as they were counted."""
        return sum(one.how_many or 0 for bed in self.beds for one in bed.planted)

    @property
    def seen(self) -> tuple[int, int]:
        """Plants that survived, of how many that were counted both times."""
        told = [one.outcome for bed in self.beds for one in bed.planted if one.outcome is not None]
        both = [one for one in told if one.survived is not None]
        return sum(one.survived or 0 for one in both), sum(one.how_many or 0 for one in both)

    @property
    def money(self) -> dict[str, float]:
        """What was paid, by currency."""
        found: dict[str, list[float]] = {}
        for cost in (*(one for bed in self.beds for one in bed.costs), *self.costs):
            found.setdefault(cost.currency, []).append(cost.amount)
        return {currency: math.fsum(each) for currency, each in sorted(found.items())}


def summarise(book: kept.Book, season: str | None = None, bed: str | None = None) -> SeasonSummary:
    """Return what the book has of a season: of one bed, or of all.

    An outcome belongs to the season of its planting, a cost to the one it was written down for.

    Parameters
    ----------
    book : Book
    season : str, optional
        As ``2026-autumn``; by default that of the last planting.
    bed : str, optional

    Raises
    ------
    InputError
        If the season is none, or there is no such bed.
    NotEnoughData
        If nothing was planted yet and no season is named.
    """
    here = [kept.find_bed(book, bed)] if bed is not None else kept.beds(book)
    if not here:
        kept.find_bed(book)  # says how to make one
    north = {place.name: place.latitude_deg for place in kept.places(book)}
    latitude = {one.name: north[one.place] for one in here}
    key = _last_season(book, latitude) if season is None else season
    year, _, name = key.partition("-")
    if not (year.isdigit() and len(year) == 4 and name in ("autumn", "spring")):
        raise InputError(f"season is {key!r:.40}; expected it as 2026-autumn")
    shared = latitude[here[0].name]
    general = [one for one in kept.notes(book) if one.bed is None] if bed is None else []
    return SeasonSummary(
        season=key,
        beds=tuple(_bed_season(book, one.name, latitude[one.name], key) for one in here),
        costs=tuple(one for one in kept.costs(book, key) if one.bed is None and bed is None),
        notes=tuple(one for one in general if kept.season_of(one.day, shared) == key),
    )


def _last_season(book: kept.Book, latitude: dict[str, float]) -> str:
    days = [
        (one.day, one.bed)
        for one in kept.plantings(book)
        if one.action == "planted" and one.bed in latitude
    ]
    days += [(one.planted, one.bed) for one in kept.outcomes(book) if one.bed in latitude]
    if not days:
        raise NotEnoughData(
            "nothing was planted yet; name a season, as --season 2026-autumn, or write a planting "
            "down: crossday book planted lettuce"
        )
    day, bed = max(days)
    return kept.season_of(day, latitude[bed])


def _bed_season(book: kept.Book, bed: str, latitude: float, season: str) -> BedSeason:
    def ours(day: date) -> bool:
        return kept.season_of(day, latitude) == season

    entries = [one for one in kept.plantings(book, bed) if ours(one.day)]
    seen = [one for one in kept.outcomes(book, bed) if ours(one.planted)]
    notes = [one for one in kept.notes(book, bed) if ours(one.day)]
    log = kept.bed_readings(book, bed)
    ticks = [one for one in notes if one.text.startswith(TICK)]
    return BedSeason(
        bed=bed,
        planted=tuple(_planted(book, bed, entries, seen)),
        pulled=tuple(one for one in entries if one.action == "pulled"),
        costs=tuple(kept.costs(book, season, bed)),
        notes=tuple(one for one in notes if one not in ticks),
        tasks_done=len(ticks),
        readings=sum(ours(time.date()) for time in log["time"]),
    )


def _planted(
    book: kept.Book,
    bed: str,
    entries: Sequence[kept.Planting],
    outcomes: Sequence[kept.Outcome],
) -> list[Planted]:
    """Return plantings with their outcomes; an outcome without one stands for it."""
    last = {(one.planted, name_key(one.what)): one for one in outcomes}
    found = []
    for entry in entries:
        if entry.action != "planted":
            continue
        seen = last.pop((entry.day, name_key(entry.what)), None)
        many = entry.how_many if seen is None else seen.how_many or entry.how_many
        came = _came(book, bed, entry.day)
        found.append(
            Planted(day=entry.day, what=entry.what, how_many=many, outcome=seen, came=came)
        )
    found += [
        Planted(day=one.planted, what=one.what, how_many=one.how_many, outcome=one)
        for one in last.values()
    ]
    return sorted(found, key=lambda one: (one.day, one.what))


def _came(book: kept.Book, bed: str, day: date) -> tuple[Came, ...]:
    try:
        return follow_planting(book, bed, day).came
    except NotEnoughData:
        return ()
