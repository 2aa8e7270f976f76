"""What a record of air makes doubtful, as values: what, where, how strong, what would fit.

What cannot be is refused; a doubt stands first in every answer, and no answer says "go" on one.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from forecaster.forecast.air_map import expected_air
from forecaster.forecast.joints import Part, other_unit, recent_days, year_joins
from forecaster.forecast.nature import (
    Nature,
    in_the_sun,
    looks_like_soil,
    misplaced_mean,
    off_the_map,
    shifted_year,
)
from forecaster.forecast.usual import Usual, usual_of
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError
from forecaster.soil.forcing import DailyAir

RECENT_DAYS = 45
UNIT_DOUBTED, UNIT_OLD, UNIT_REFUSED = 11.0, 27.0, 60.0
"""Logarithms of how many times likelier another unit is. On 92 true records the most is 24.2 in
any year (25 days of February 2019 in Montana), and passes 11 on 1 in 200 last days."""
UNIT_LEAST_DAYS = 3
SDS, BOTH_SDS = 3.6, 4.05
"""Of the last days in mean or range, and of both together: passed by 1 true record in 100."""
JOIN_SDS, JOIN_C, JOIN_RATIO = 5.6, 1.8, 0.25
WIDE_JOIN_SDS, WIDE_JOIN_C = 4.2, 2.8
"""Of a change at New Year: true records reach 5.5 sd and 2.6 °C, never both limits of a pair."""

STILL = (
    "The air changes by only {size:.1f} °C from day to day and keeps nearly all of each departure, "
    "as soil does: is it soil that was given as air?"
)
MEAN_HIGH = (
    "The maximum moves with the minimum and lies close above it, as the day's mean does: "
    "is the mean in the maximum's column?"
)
MEAN_LOW = "The minimum lies close to the day's mean: is the mean in the minimum's column?"
SUNNY = (
    "The air's range of {size:.0f} °C on a usual day asks for more sun than a clear sky lets "
    "through: does the thermometer hang in the sun?"
)
WARM = (
    "The air's yearly mean is {size:.1f} °C; stations around make it {usual:.1f} °C at most: is "
    "the record of this place, and its thermometer right?"
)
COLD = (
    "The air's yearly mean is {size:.1f} °C; stations around make it {usual:.1f} °C at least: is "
    "the record of this place, and its thermometer right?"
)
WIDE = (
    "The air's range on a usual day is {size:.0f} °C; stations around have {usual:.0f} °C: does "
    "the thermometer hang in the sun, or is a column another's?"
)
NARROW = (
    "The air's range on a usual day is {size:.0f} °C; stations around have {usual:.0f} °C: is the "
    "mean in an extreme's column, or the thermometer indoors?"
)
LATE = "The year is warmest {size:.0f} days later than at any place like this: are the dates right?"
EARLY = (
    "The year is warmest {size:.0f} days earlier than at any place like this: are the dates right?"
)
STATION = "Check the station, the unit and where the thermometer hangs"
COLUMNS = "Check which columns are minimum and maximum"
NATURES = {
    "soil": (STILL, "Give the soil with --readings and the air as FILE"),
    "mean as maximum": (MEAN_HIGH, COLUMNS),
    "mean as minimum": (MEAN_LOW, COLUMNS),
    "sun": (SUNNY, "Check where the thermometer hangs"),
    "warm": (WARM, STATION),
    "cold": (COLD, STATION),
    "wide": (WIDE, COLUMNS + " and where the thermometer hangs"),
    "narrow": (NARROW, COLUMNS + " and where the thermometer hangs"),
    "late": (LATE, "Check the file's dates"),
    "early": (EARLY, "Check the file's dates"),
}
"""What a record looks like, in words, and what to check."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """One thing about a record that has to be checked before anybody acts on its dates.

    Parameters
    ----------
    what : str
        Short name of what is doubted, as ``unit`` or ``dates``.
    sentence : str
        What is strange, where, and what would explain it.
    remedy : str
        What to look at or say, as ``Check the file's dates``.
    first, last : date or None
        The days it is about; None for the whole record.
    strength : float
        How far beyond the limit: 1 at the limit.
    severity : {"check first", "note"}
        Whether no answer may say "go" before it was checked.
    """

    what: str
    sentence: str
    remedy: str
    first: date | None = None
    last: date | None = None
    strength: float = 1.0
    severity: Literal["check first", "note"] = "check first"


def must_check(doubtful: tuple[Doubt, ...]) -> bool:
    """Whether something has to be checked before any answer may say "go"."""
    return any(doubt.severity == "check first" for doubt in doubtful)


def judge_air(
    record: DailyAir,
    latitude_deg: float,
    longitude_deg: float | None = None,
    extremes: tuple[Floats, Floats] | None = None,
    mean_c: Floats | None = None,
) -> tuple[Doubt, ...]:
    """Return what a record of air makes doubtful, the gravest first.

    Parameters
    ----------
    record : DailyAir
        The record as arrays, NaN where unknown.
    latitude_deg, longitude_deg : float
        Degrees north and east; without the longitude the map of stations is not asked.
    extremes : ((n,) array, (n,) array), optional
        Minimum and maximum, °C, where the record has both.
    mean_c : (n,) array, optional
        The true daily mean, °C, where the record has it.

    Raises
    ------
    InputError
        If a part of the record is in another unit beyond doubt, or an extreme's column holds the
        mean.
    """
    usual = usual_of(record.day, record.mean_c, record.range_c, latitude_deg)
    units = [doubt for part in other_unit(usual) if (doubt := _unit_doubt(part, usual))]
    natures = [
        looks_like_soil(usual),
        None if extremes is None else misplaced_mean(usual, *extremes, mean_c),
        in_the_sun(usual),
        shifted_year(usual, latitude_deg),
    ]
    told = [nature for nature in natures if nature is not None]
    expected = expected_air(latitude_deg, longitude_deg)
    if expected is not None and not told:
        told = off_the_map(usual, expected)
    whole = [_nature_doubt(nature) for nature in told]
    if units:
        return (*units, *whole)
    parts = _join_doubts(year_joins(usual)) or _recent_doubts(recent_days(usual))
    return (*whole, *parts)


def _days(part: Part) -> tuple[date, date]:
    first, last = (np.datetime64(day, "D").astype(object) for day in (part.first, part.last))
    return first, last


def _unit_doubt(part: Part, usual: Usual) -> Doubt | None:
    """Refuse or doubt a part of the record that fits another unit."""
    days = part.last - part.first + 1
    recent = int(usual.day[-1]) - part.last <= RECENT_DAYS
    limit = UNIT_DOUBTED if recent else UNIT_OLD
    if part.strength < limit or days < UNIT_LEAST_DAYS:
        return None
    first, last = _days(part)
    read = "F" if part.unit == "C" else "C"
    side = "below" if part.size < 0.0 else "above"
    said = (
        f"from {first} to {last} the air lies {abs(part.size):.0f} °C {side} the season's usual "
        f"and would fit it if those days were in °{part.unit} and not in °{read}"
    )
    remedy = f"Put the whole file in one unit (those {days} days look like °{part.unit})"
    if part.strength > UNIT_REFUSED:
        raise InputError(f"{said}; expected one unit in all rows. {remedy}")
    return Doubt(
        what="unit",
        sentence=f"{said[0].upper()}{said[1:]}: is one unit used in all rows?",
        first=first,
        last=last,
        strength=part.strength / limit,
        remedy=remedy,
    )


def _nature_doubt(nature: Nature) -> Doubt:
    """Return the doubt about a whole record."""
    words, remedy = NATURES[nature.what]
    return Doubt(
        what=nature.what,
        sentence=words.format(size=nature.size, usual=nature.usual),
        remedy=remedy,
    )


def _join_doubts(parts: list[Part]) -> list[Doubt]:
    """Return a doubt where the record changes at a New Year as one place's does not."""
    for part in parts:
        sds, size = abs(part.strength), abs(part.size)
        ranges = part.what == "range join"
        least = abs(np.log(part.size)) > JOIN_RATIO if ranges else size > JOIN_C
        wide = not ranges and sds > WIDE_JOIN_SDS and size > WIDE_JOIN_C
        if not (sds > JOIN_SDS and least) and not wide:
            continue
        first, last = _days(part)
        change = (
            f"the day's range is {part.size:.1f} times what it was"
            if ranges
            else f"the air is {size:.1f} °C {'warmer' if part.size > 0 else 'colder'} than before"
        )
        said = (
            f"From {first} on {change}, more than years differ at one place: are the rows before "
            "and after of one station and one thermometer?"
        )
        return [
            Doubt(
                what="join",
                sentence=said,
                first=first,
                last=last,
                strength=sds / JOIN_SDS,
                remedy="Check which station the rows of each year come from",
            )
        ]
    return []


def _recent_doubts(parts: list[Part]) -> list[Doubt]:
    """Return a doubt if the record's last days are like none of the same season before."""
    ranges = {part.first: part for part in parts if part.what == "range"}
    worst, found = 1.0, None
    for mean in [part for part in parts if part.what == "mean"]:
        wide = ranges.get(mean.first)
        across = 0.0 if wide is None else wide.strength
        alone = max(abs(mean.strength), abs(across)) / SDS
        both = float(np.hypot(mean.strength, across)) / BOTH_SDS
        if max(alone, both) > worst:
            worst, found = max(alone, both), (mean, wide)
    if found is None:
        return []
    mean, wide = found
    first, last = _days(mean)
    side = "below" if mean.size < 0.0 else "above"
    days = mean.last - mean.first + 1
    told = f"the air of the last {days} days lies {abs(mean.size):.1f} °C {side} the usual"
    if wide is not None and abs(wide.strength) > abs(mean.strength):
        told = f"the daily range of the last {days} days is {wide.size:.1f} times the usual"
    said = (
        f"{told[0].upper()}{told[1:]} of their season, as in no year of this record: is it the "
        "same station, unit and thermometer?"
    )
    return [
        Doubt(
            what="recent",
            sentence=said,
            first=first,
            last=last,
            strength=worst,
            remedy=f"Check the rows from {first} on",
        )
    ]
