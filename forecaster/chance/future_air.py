"""Future air: past years' weather laid on from the day of issue, as one array of members.

What is carried over from a past year is its departure from the usual of the calendar day, so
a shift by some days does not shift the season. Today's departure fades out over the first
days. A weather outlook, if given, is trusted by lead: each member moves to it by the share that
its error leaves, and keeps the rest of its own weather.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.soil.forcing import Climate, DailyAir
from forecaster.soil.season import DAYS_PER_YEAR, harmonics

SHIFT_DAYS = 20  # a past year's weather may come this many days early or late; 10 to 45 score alike
WIDE_SHIFT_DAYS = 45  # where few years are there to choose from
FEW_YEARS = 5
WARMING_YEARS = 20.0  # the longest reach of the warming: no record of the fit had half of it
OUTLOOK_FADE_DAYS = 2.0  # e-folding time of an outlook's last departure after its end
# An outlook's daily mean errs by √(1.2² + (0.5·days ahead)²) °C: a published verification at an
# Austrian station gives mean absolute errors of 1.03, 1.15, 1.36, 1.82, 2.32 °C on days 1 to 5,
# times √(π/2) for a normal error; Brooks & Doswell 1996, Weather and Forecasting 11:288 (from
# their tables), have 2.1 °C for the next day's maximum in Oklahoma City. Past day 5 extrapolated.
OUTLOOK_ERROR_C, OUTLOOK_ERROR_GROWTH_C = 1.2, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class AirMemory:
    """What of today's air lasts, fitted on stations (``data/outlook.json``).

    Parameters
    ----------
    persistence_per_day : float
        Share of today's departure that is left a day later.
    season_share, season_days, season_fade_days : float
        Share of the departure of the last `season_days` that the next days begin with, and
        the e-folding time with which it fades.
    season_sd_c : float
        Standard deviation of a season's mean departure from the usual, °C. What is usual is
        known to that over the root of the record's years.
    warming_c_per_year : float
        How much warmer than the record's middle its end lies, for each year between them.
    """

    persistence_per_day: float
    season_share: float
    season_days: int
    season_fade_days: float
    season_sd_c: float
    warming_c_per_year: float


@dataclass(frozen=True, slots=True)
class Splice:
    """Where in the record each member's weather comes from.

    Parameters
    ----------
    source : (members, horizon) array of int
        Positions in the record.
    origin : (members,) array of int
        Position that stands for the day of issue.
    years : int
        Distinct past years drawn on.
    """

    source: Ints
    origin: Ints
    years: int


def choose_past(days: int, horizon: int, members: int, random: np.random.Generator) -> Splice:
    """Return which stretches of a record serve as futures.

    Every past year in which `horizon` days followed the same calendar day is used as often as
    every other, its shifts spread evenly over the days allowed. A record with fewer than five
    such years is drawn on with wider shifts; one shorter than a year and the horizon is read to
    and fro.

    Parameters
    ----------
    days : int
        Length of the record; its last day is the day of issue.
    horizon : int
        Days to look ahead.
    members : int
    random : Generator

    Returns
    -------
    Splice
    """
    last = days - 1
    shift = SHIFT_DAYS if days >= FEW_YEARS * DAYS_PER_YEAR else WIDE_SHIFT_DAYS
    newest = int(np.ceil((horizon + shift) / DAYS_PER_YEAR))
    years = max(int((last - shift) / DAYS_PER_YEAR) - newest + 1, 0)
    if years:
        ago = newest + np.arange(members) % years
        origin = last - np.round(ago * DAYS_PER_YEAR).astype(np.int64)
        place = np.arange(members) // years + random.random(years)[np.arange(members) % years]
        share = place / np.ceil(members / years)
        origin += np.floor(share * (2 * shift + 1)).astype(np.int64) - shift
        origin = random.permutation(origin)
    else:
        origin = random.integers(-days, days, members)
    source = origin[:, None] + np.arange(1, horizon + 1)
    if not years:
        turn = 2 * max(last, 1)
        source = np.abs((source + last) % turn - last)
    return Splice(source, np.clip(origin, 0, last), years)


def future_air(
    air: DailyAir,
    climate: Climate,
    splice: Splice,
    *,
    memory: AirMemory,
    unsure: Floats,
    day: Ints,
    day_of_year: Ints,
    outlook: DailyAir | None = None,
    outlook_made: int | None = None,
) -> DailyAir:
    """Return the members' air on the days after the record.

    Parameters
    ----------
    air : DailyAir
        The record to the day of issue, without gaps, (n,) arrays.
    climate : Climate
        Its usual.
    splice : Splice
        From `choose_past`.
    memory : AirMemory
        What of today's air lasts.
    unsure : (members,) array
        Standard normal draws: how each member takes what is not known of the usual.
    day, day_of_year : (horizon,) array of int
        The days to come.
    outlook : DailyAir, optional
        A weather outlook on the first of these days, (k,) arrays, NaN where it is silent.
    outlook_made : int, optional
        The day it was made; by default the record's last.

    Returns
    -------
    DailyAir
        (members, horizon) arrays.
    """
    past, ahead = harmonics(air.day), harmonics(day)
    departure = air.mean_c - past @ climate.mean_c
    shift = departure[splice.source] + _lasting(departure, splice.origin, memory, day.size)
    years = max(departure.size / DAYS_PER_YEAR, 1.0)
    shift += (memory.season_sd_c / np.sqrt(years) * unsure)[:, None]
    trust = np.zeros(0)
    if outlook is not None:
        days = outlook.day.size
        made = int(air.day[-1]) if outlook_made is None else outlook_made
        trust = trust_in(shift[:, :days], outlook.day - made)
        shift = lay_on(shift, outlook.mean_c - ahead[:days] @ climate.mean_c, trust)
    mean_c = ahead @ climate.mean_c + shift
    range_c = rain_mm = None
    if air.range_c is not None:
        clear = climate.k_rs * np.sqrt(air.range_c) - past @ climate.clearness
        future = clear[splice.source]
        if outlook is not None and outlook.range_c is not None:
            told = climate.k_rs * np.sqrt(np.maximum(outlook.range_c, 0.0))
            future = lay_on(future, told - ahead[:days] @ climate.clearness, trust)
        range_c = (np.maximum(ahead @ climate.clearness + future, 0.0) / climate.k_rs) ** 2
    if air.rain_mm is not None:
        rain_mm = air.rain_mm[splice.source]
        if outlook is not None and outlook.rain_mm is not None:
            rank = (np.arange(len(rain_mm)) + 0.5) / len(rain_mm)
            believed = np.isfinite(outlook.rain_mm) & (rank[:, None] < trust)
            rain_mm[:, :days] = np.where(believed, outlook.rain_mm, rain_mm[:, :days])
    return DailyAir(day, day_of_year, mean_c, range_c, rain_mm)


def _lasting(departure: Floats, origin: Ints, memory: AirMemory, horizon: int) -> Floats:
    """Return what today's air adds to each member's on the days ahead, (members, horizon).

    A member brings its own day and season with it; only what today differs from them counts.
    """
    ahead = np.arange(1, horizon + 1)
    total = np.append(0.0, np.cumsum(departure))
    window = min(memory.season_days, departure.size)
    back = np.maximum(origin + 1 - window, 0)
    theirs = (total[origin + 1] - total[back]) / (origin + 1 - back)
    ours = (total[-1] - total[-1 - window]) / window
    season = memory.season_share * (ours - theirs)
    day = departure[-1] - departure[origin] - season
    half_years = min(departure.size / DAYS_PER_YEAR / 2.0, WARMING_YEARS)
    warming = memory.warming_c_per_year * half_years
    return np.asarray(
        day[:, None] * memory.persistence_per_day**ahead
        + season[:, None] * np.exp(-ahead / memory.season_fade_days)
        + warming
    )


def lay_on(members: Floats, told: Floats, trust: Floats) -> Floats:
    """Return members drawn to an outlook in its days, the last one's move fading out after them.

    Members and outlook are combined as two normal judgements of the same day: their mean moves by
    the share `trust` of the way to what is told, and each member keeps √(1 − trust) of what sets
    it apart from that mean, so that the spread is that of what is still unknown.

    Parameters
    ----------
    members : (members, horizon) array
    told : (days,) array
        NaN where the outlook is silent.
    trust : (days,) array
        0 to 1, from `trust_in`.
    """
    known = np.flatnonzero(np.isfinite(told))
    if known.size == 0:
        return members
    result = members.copy()
    share, own = trust[known], members[:, known]
    middle = own.mean(axis=0)
    result[:, known] = (
        middle + share * (told[known] - middle) + np.sqrt(1.0 - share) * (own - middle)
    )
    last = int(known[-1])
    rest = np.arange(1, members.shape[1] - last)
    step = result[:, last] - members[:, last]
    result[:, last + 1 :] += np.exp(-rest / OUTLOOK_FADE_DAYS) * step[:, None]
    return result


def trust_in(members_c: Floats, lead_days: Ints) -> Floats:
    """Return how far an outlook is to be believed on each day ahead, 0 to 1.

    s²/(s² + e²): s the spread of the members' daily mean without it, e the outlook's error at
    that lead.

    Parameters
    ----------
    members_c : (members, days) array
        Daily mean, °C.
    lead_days : (days,) array of int
        Days since the outlook was made; what it says of days before is taken as of the next.
    """
    lead = np.maximum(lead_days, 1)
    error = np.hypot(OUTLOOK_ERROR_C, OUTLOOK_ERROR_GROWTH_C * lead)
    variance = members_c.var(axis=0)
    return np.asarray(variance / (variance + error**2))
