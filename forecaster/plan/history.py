"""What was planted in a bed before and what came of it, and families that come back too soon."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache

import numpy as np

from forecaster import book as kept
from forecaster.answers.place_today import PlaceToday
from forecaster.book.places import name_key
from forecaster.packaged import load_csv
from forecaster.plan.wanted import known_crop
from forecaster.rules.crops import Crop

DAYS_A_YEAR = 365.25
ROTATED = "vegetable"
"""The kind of crops that the source of the years speaks of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """Something that was planted in a bed before this changeover.

    Parameters
    ----------
    planted : date
    what : str
    how_many : int or None
    outcome : Outcome or None
        What was last seen of it.
    soil_c : float or None
        Mean of the day of planting at the bed's depth as estimated now, °C; None where the
        air record does not reach that day.
    """

    planted: date
    what: str
    how_many: int | None = None
    outcome: kept.Outcome | None = None
    soil_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """A family of vegetables that would come back to its bed too soon.

    Parameters
    ----------
    crop, before : str
        What is to go in, and what stood there.
    planted : date
        When that was planted.
    named : str
        The family as its source calls it.
    least_years, most_years : float
    source, url : str
    """

    crop: str
    before: str
    planted: date
    named: str
    least_years: float
    most_years: float
    source: str
    url: str


def past_of(
    plantings: Sequence[kept.Planting],
    outcomes: Sequence[kept.Outcome],
    *,
    before: date,
    here: PlaceToday | None = None,
) -> tuple[Past, ...]:
    """Return what was planted in a bed before a day, oldest first.

    Parameters
    ----------
    plantings, outcomes : sequence
        The book's, of one bed. An outcome whose planting is not in the book stands for it.
    before : date
        First day of the season planned.
    here : PlaceToday, optional
        Tells the soil of those days.
    """
    seen = {(one.planted, name_key(one.what)): one for one in outcomes}  # the last of each counts
    found = []
    for entry in plantings:
        if entry.action == "planted":
            last = seen.pop((entry.day, name_key(entry.what)), None)
            many = entry.how_many if last is None else last.how_many or entry.how_many
            found.append((entry.day, entry.what, many, last))
    found += [(one.planted, one.what, one.how_many, one) for one in seen.values()]
    found = sorted((one for one in found if one[0] < before), key=lambda one: (one[0], one[1]))
    return tuple(
        Past(planted=day, what=what, how_many=many, outcome=last, soil_c=_soil_on(here, day))
        for day, what, many, last in found
    )


def last_planting(
    book: kept.Book, bed: str, what: str, seen: date, day: date | None = None
) -> kept.Planting | None:
    """Return a bed's last planting of something up to a day, or that of a day; None if none."""
    crop = known_crop(what)
    for entry in reversed(kept.plantings(book, bed)):
        same = name_key(entry.what) == name_key(what)
        same = same or (crop is not None and known_crop(entry.what) == crop)
        if entry.action == "planted" and same and entry.day <= seen and day in (None, entry.day):
            return entry
    return None


def returning(crops: Sequence[Crop], past: Sequence[Past], on: date) -> tuple[Return, ...]:
    """Return the vegetables whose family stood in the bed within the years its source gives.

    Parameters
    ----------
    crops : sequence of Crop
        What is to go in.
    past : sequence of Past
        What was planted there before.
    on : date
        The day on which it is to go in.
    """
    found = []
    for crop in crops:
        rule = _rule(crop)
        if rule is None:
            continue
        for old in reversed(past):
            known = known_crop(old.what)
            if known is None or known.kind != ROTATED or family_of(known) != family_of(crop):
                continue
            if (on - old.planted).days <= float(rule["most_years"]) * DAYS_A_YEAR:
                found.append(
                    Return(
                        crop=crop.label,
                        before=known.label,
                        planted=old.planted,
                        named=rule["named"],
                        least_years=float(rule["least_years"]),
                        most_years=float(rule["most_years"]),
                        source=rule["source"].split(":")[0],
                        url=rule["url"],
                    )
                )
            break
    return tuple(found)


def family_of(crop: Crop) -> str:
    """Return the botanical family of a crop; "" where it is not known."""
    return _families().get(crop.name, "")


@cache
def _families() -> dict[str, str]:
    return {row["crop"]: row["family"] for row in load_csv("crops.csv")}


def _rule(crop: Crop) -> dict[str, str] | None:
    """Return what is published of a vegetable's family; None for what no source speaks of."""
    if crop.kind != ROTATED or not family_of(crop):
        return None
    rules = {row["family"]: dict(row) for row in load_csv("rotation.csv")}
    return rules.get(family_of(crop), rules["any"])


def _soil_on(here: PlaceToday | None, day: date) -> float | None:
    """Return the soil of a day as the record tells it now."""
    if here is None:
        return None
    place = here.place
    at = np.datetime64(day, "D").astype(np.int64) - int(place.day[0])
    if not 0 <= at < len(place.day):
        return None
    value = float(place.soil_c[at])
    return value if np.isfinite(value) else None
