"""One order for several beds: what each takes, added up by crop, variety and colour."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from forecaster.ground.errors import ForecasterError
from forecaster.plan.several import BedPlan
from forecaster.plan.supplies.lines import Line
from forecaster.plan.supplies.plants import Flats, compare_flats
from forecaster.plan.supplies.quantities import Feed, Heap, heaped, loads_together
from forecaster.plan.supplies.shopping import Shopping
from forecaster.plan.tasks import Plan
from forecaster.rules.crops import Use


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One thing to order for all beds that it goes into.

    Parameters
    ----------
    season : str
        As ``2026-autumn``.
    what, variety, colour : str
    use : str
        How it is begun: only transplants come in flats.
    beds : tuple of (str, int)
        Plants set out in each bed, as its layout draws them.
    plants, spare : int
        Of all beds, and ordered beyond them.
    flats : tuple of Flats
        Alternatives for all beds together, the cheapest first; the first is reckoned with.
    currency : str
    weeks : tuple of float, optional
        Least and most weeks that the grower needs.
    order_by, set_out : date, optional
        The earliest of the beds' likely days, where there is a forecast for them.
    """

    season: str
    what: str
    variety: str = ""
    colour: str = ""
    use: Use = "transplant"
    beds: tuple[tuple[str, int], ...]
    plants: int
    spare: int
    flats: tuple[Flats, ...] = ()
    currency: str = ""
    weeks: tuple[float, float] | None = None
    order_by: date | None = None
    set_out: date | None = None

    @property
    def chosen(self) -> Flats | None:
        """The flats that are reckoned with: the cheapest, else those with least left over."""
        return self.flats[0] if self.flats else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to order for several beds.

    Parameters
    ----------
    entries : tuple of Entry
        By season, crop, variety and colour.
    heaps : tuple of Heap
        Bulk materials of all beds together.
    loads : int
        Loads that carry them, those of one place together.
    feeds : mapping of str to Feed
        Fertilizer of all beds, by its label.
    left_out : tuple of (str, str)
        Beds that nothing is ordered for, and why.
    """

    entries: tuple[Entry, ...]
    heaps: tuple[Heap, ...] = ()
    loads: int = 0
    feeds: Mapping[str, Feed]
    left_out: tuple[tuple[str, str], ...] = ()

    @property
    def plants(self) -> int:
        """Plants set out in all beds."""
        return sum(entry.plants for entry in self.entries)

    @property
    def spare(self) -> int:
        """Plants ordered beyond them."""
        return sum(entry.spare for entry in self.entries)

    @property
    def money(self) -> dict[str, float]:
        """What the flats cost that are reckoned with, by currency; unpriced ones left out."""
        found: dict[str, list[float]] = {}
        for entry in self.entries:
            if entry.chosen is not None and entry.chosen.cost is not None:
                found.setdefault(entry.currency, []).append(entry.chosen.cost)
        return {currency: math.fsum(each) for currency, each in sorted(found.items())}


def order_for(plans: Sequence[BedPlan]) -> Order:
    """Return the order of beds that were planned.

    A bed of which the book does not say what goes in, and one that is planted, is left out.

    Parameters
    ----------
    plans : sequence of BedPlan
        As `plan_beds` returns them.

    Raises
    ------
    ForecasterError
        If no bed can be planned at all: why the first cannot.
    """
    errors = [one.error for one in plans if one.error is not None]
    if errors and len(errors) == len(plans):
        raise errors[0]
    out: list[tuple[str, str]] = []
    taken: list[tuple[str, Plan, Shopping]] = []
    for one in plans:
        why = _why_not(one)
        if why or one.whole is None or one.whole.plan.shopping is None:
            out.append((one.bed.name, why))
        else:
            taken.append((one.bed.place, one.whole.plan, one.whole.plan.shopping))
    by_place: dict[str, list[Heap]] = {}
    for place, _, shopping in taken:
        by_place.setdefault(place, []).extend(shopping.heaps)
    return Order(
        entries=_entries([(plan, shopping) for _, plan, shopping in taken]),
        heaps=heaped([heap for heaps in by_place.values() for heap in heaps]),
        loads=sum(loads_together(heaps) for heaps in by_place.values()),
        feeds=_feeds([shopping for _, _, shopping in taken]),
        left_out=tuple(out),
    )


def _why_not(one: BedPlan) -> str:
    """Say why nothing is ordered for a bed; "" if something is."""
    if one.whole is None:
        return str(one.error or ForecasterError("it cannot be planned"))
    plan = one.whole.plan
    if plan.wants.planted is not None:
        return f"planted on {plan.wants.planted}"
    if plan.shopping is None:
        return f'its size is not in the book: crossday book bed "{one.bed.name}" --area 40ft2'
    if not plan.wants.goes:
        what = "tomato" if plan.season == "spring" else "pansy"
        return (
            f"the book does not say what goes in this {plan.season}: "
            f'crossday book want {what} --bed "{one.bed.name}" --season {plan.season}'
        )
    return ""


def _entries(taken: Sequence[tuple[Plan, Shopping]]) -> tuple[Entry, ...]:
    """Return the lines of all beds, those of the same thing in one."""
    same: dict[tuple[object, ...], list[tuple[Plan, Line]]] = {}
    for plan, shopping in taken:
        for line in shopping.lines:
            sizes = tuple(sorted((flat.size, flat.price) for flat in line.flats))
            key = (
                plan.key, line.what, line.variety, line.colour, line.use, line.currency, line.weeks,
                sizes,
            )  # fmt: skip
            same.setdefault(key, []).append((plan, line))
    found = [_entry(lines) for lines in same.values()]
    return tuple(sorted(found, key=lambda e: (e.season, e.what, e.variety, e.colour)))


def _entry(lines: Sequence[tuple[Plan, Line]]) -> Entry:
    plan, first = lines[0]
    plants, spare = sum(one.plants for _, one in lines), sum(one.spare for _, one in lines)
    prices = {flat.size: flat.price for flat in first.flats if flat.price is not None}
    beds: dict[str, int] = {}
    for one, line in lines:
        beds[one.bed.name] = beds.get(one.bed.name, 0) + line.plants
    return Entry(
        season=plan.key,
        what=first.what,
        variety=first.variety,
        colour=first.colour,
        use=first.use,
        beds=tuple(beds.items()),
        plants=plants,
        spare=spare,
        flats=compare_flats(plants, [flat.size for flat in first.flats], prices, spare=spare),
        currency=first.currency,
        weeks=first.weeks,
        order_by=_earliest([_day(one, "order", line.what) for one, line in lines]),
        set_out=_earliest([_day(one, "set-out", line.what) for one, line in lines]),
    )


def _day(plan: Plan, name: str, what: str) -> date | None:
    """Return the likely day of a task of a crop, or of the bed where the crop has none."""
    ours = [task for task in plan.tasks if task.key.startswith(f"{plan.key}/{name}")]
    slug = what.casefold().replace(" ", "-")
    of_it = [task for task in ours if task.key.endswith(f"/{slug}")] or ours
    return of_it[0].likely if of_it else None


def _earliest(days: Sequence[date | None]) -> date | None:
    return min((day for day in days if day is not None), default=None)


def _feeds(shopping: Sequence[Shopping]) -> dict[str, Feed]:
    found: dict[str, Feed] = {}
    for one in shopping:
        if one.feed is not None:
            old = found.get(one.fertilizer)
            mass = one.feed.mass_kg + (0.0 if old is None else old.mass_kg)
            found[one.fertilizer] = Feed(mass, one.feed.nitrogen_share, one.feed.nitrogen_kg_m2)
    return found
