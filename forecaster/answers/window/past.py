"""Past seasons of a place: when they settled, and what is usual on each day."""

from __future__ import annotations

from datetime import date

import numpy as np

from forecaster.answers.calendar import date_of
from forecaster.answers.window.results import (
    Threshold,
    Typical,
)
from forecaster.forecast.understand import Place
from forecaster.ground.arrays import Days, Floats, Ints
from forecaster.rules.crossings import NEVER, Kind, crossing_index
from forecaster.rules.past import LEAST_SEASONS
from forecaster.rules.season import Season

LEAST_YEARS_BEHIND = 3  # for a day's spread over past years
SPIN_UP_DAYS = 30  # of a record, before its soil can be trusted
NORMAL_80 = 1.2816  # half width of the middle 80 % of a normal distribution, in sd


def typical_dates(
    threshold: Threshold, season: Season, place: Place, asked: np.datetime64
) -> tuple[Typical, int, int]:
    """Return the settled dates of past seasons, and how often a first touch came back."""
    starts, soil = past_seasons(season, place)
    years = [int(str(start)[:4]) for start in starts]

    def crossed(kind: Kind, shift_c: float = 0.0) -> Ints:
        return crossing_index(soil, threshold.threshold_c + shift_c, threshold.direction, kind)

    if not years:
        return (
            Typical(
                dates=(),
                median=None,
                early=None,
                late=None,
                never_years=(),
                already_years=(),
                ground_days=float("nan"),
            ),
            0,
            0,
        )
    settled, first, last = crossed("settled"), crossed("first"), crossed("last")
    dates = tuple(
        (year, None if day == NEVER else date_of(begin + day))
        for year, begin, day in zip(years, starts, settled, strict=True)
    )
    median, tenth, ninetieth = (
        _share(settled, season.days, asked, q) if len(years) >= LEAST_SEASONS else None
        for q in (0.5, 0.1, 0.9)
    )
    middle = season.days // 2 if median is None else (median - date_of(asked)).days
    sd = float(place.ground_sd_c(np.array([asked.astype(np.int64) + middle]))[0])
    early, late = (
        float(np.median(np.where(day == NEVER, season.days, day)))
        for day in (crossed("settled", NORMAL_80 * sd), crossed("settled", -NORMAL_80 * sd))
    )
    touched = first != NEVER
    back = touched & ((last > first) | (last == NEVER))
    typical = Typical(
        dates=dates,
        median=median,
        early=tenth,
        late=ninetieth,
        never_years=tuple(year for year, day in zip(years, settled, strict=True) if day == NEVER),
        already_years=tuple(year for year, day in zip(years, settled, strict=True) if day == 0),
        ground_days=abs(late - early) / 2.0,
    )
    return typical, int(touched.sum()), int(back.sum())


def past_seasons(season: Season, place: Place) -> tuple[list[np.datetime64], Floats]:
    """Return the seasons that lie wholly in the record, and their soil, (years, days)."""
    first, last = (np.datetime64(int(place.day[at]), "D") for at in (0, -1))
    years = range(int(str(first)[:4]), int(str(last)[:4]) + 1)
    starts = [
        start
        for start in (season.start(year) for year in years)
        if start >= first + SPIN_UP_DAYS and start + season.days <= last
    ]
    at = [int((start - first).astype(int)) for start in starts]
    soil = place.soil_c
    rows = [soil[begin : begin + season.days + 1] for begin in at]
    return starts, np.array(rows).reshape(len(rows), season.days + 1)


def _share(settled: Ints, days: int, start: np.datetime64, q: float) -> date | None:
    """Return the day of the season by which a share of past seasons had settled."""
    day = float(np.quantile(np.where(settled == NEVER, days + 1, settled), q))
    return None if day > days else date_of(start + round(day))


def usual_by_day(place: Place, day: Days) -> Floats:
    """Return 10, 50 and 90 % of the record's soil on the same calendar days, (3, n)."""
    number = day.astype(np.int64)
    ago = np.arange(1, place.day.size // 365 + 2)
    at = number[None, :] - np.round(ago[:, None] * 365.2425).astype(np.int64) - place.day[0]
    there = (at >= SPIN_UP_DAYS) & (at < place.day.size)
    values = np.where(there, place.soil_c[np.clip(at, 0, place.day.size - 1)], np.nan)
    usual = np.full((3, day.size), np.nan)
    held = there.sum(axis=0)
    values.sort(axis=0)  # what is not there comes last
    for years in np.unique(held[held >= LEAST_YEARS_BEHIND]):
        alike = held == years
        usual[:, alike] = np.quantile(values[:years, alike], [0.1, 0.5, 0.9], axis=0)
    return usual
