"""If planted on a day, does it go well? Asked of every day in every member.

A planting goes well if it starts, survives at its stage, and gets where it is wanted.

*Starts.* A plant set out needs soil within its limits and weather in which it grows on; seed
needs soil above its least and comes up within reasonable time, thermal time summed at sowing
depth.

*Survives.* Under ground nothing harms it. From then on no night may be colder than a young
plant stands, and once it is rooted no colder than a grown one stands.

*Gets there.* To bear: it ripens in time (growth by temperature, slower in short days), not in
heat that spoils it, and bears long enough before frost or heat to be worth it. To root: it
makes its roots before the soil turns too cold for them.

All of it is asked in order, so each day that fails has one reason: the first that fails it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecaster.rules.growing_days import GrowingDays, mean_between, reached

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Goal = Literal["bear", "root"]

(
    WELL,
    COLD_SOIL,
    HOT_SOIL,
    SLOW_START,
    YOUNG_FROST,
    FROST,
    HEAT,
    NO_TIME,
    NOT_WORTH,
    COLD_ROOTS,
    NOT_SEASON,
    STANDS_LONG,
) = range(12)
"""Why a planting does not go well; `WELL` where it does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What holds for every crop and place alike; the few choices that calendars were asked for.

    Parameters
    ----------
    young_days : int
        Days above ground until a plant is rooted.
    up_within_days : int
        Days in which seed must come up.
    start_days, start_growth : int, float
        A plant set out must grow so much in its first days, in days of the best weather.
    last_share : float
        Last share of the way to harvest in which heat spoils it.
    dark_h, light_h : float
        Day lengths at which growth stops, and from which it is whole, hours.
    soil_slack_c : float
        How far below a published least temperature the soil of a planting day may lie, °C.
    worth_share : float
        Share of the usual weeks of harvest that makes a planting worth it.
    """

    young_days: int = 21
    up_within_days: int = 28
    start_days: int = 28
    start_growth: float = 7.0
    last_share: float = 0.35
    dark_h: float = 8.0
    light_h: float = 11.0
    soil_slack_c: float = 0.0
    worth_share: float = 0.75
    longest: float = 1.75


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """How fast a crop grows by the day's mean air temperature.

    The rate rises in a straight line from 0 at `base_c` to 1 at `best_low_c`, stays, and falls
    from `best_high_c` to 0 at `top_c`: cardinal temperatures.
    """

    base_c: float
    best_low_c: float
    best_high_c: float
    top_c: float

    def rate(self, air_c: Floats) -> Floats:
        """Return the growth of a day, in days of the best weather."""
        at = (self.base_c, self.best_low_c, self.best_high_c, self.top_c)
        return np.interp(air_c, at, (0.0, 1.0, 1.0, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Emerging:
    """How fast seed comes up by the temperature of its soil.

    Parameters
    ----------
    temp_c, rate : tuple of float
        Shares of the way that a day makes, straight lines between them, 0 beyond their ends.
    """

    temp_c: tuple[float, ...]
    rate: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What a crop needs of the days, begun in one way; temperatures in °C.

    Parameters
    ----------
    goal : {"bear", "root"}
    soil_least_c, soil_most_c : float or None
        Soil of the planting day.
    emerging : Emerging or None
        None for a plant that is set out.
    young_c, grown_c : float
        Lowest minima that a young and a grown plant stand.
    harvest_frost_c : float
        Minimum that ends harvest or bloom.
    growth : Growth
    days : float
        To the first harvest or bloom, in days of the best weather.
    harvest_days : float
        Usual days of harvest or bloom.
    heat_c, heat_max_c : float or None
        Mean, and mean of the maxima, over the last of its way that spoil it.
    roots_least_c, roots_days : float
        Soil in which roots still grow; days of it that they need. For the goal `root`.
    """

    goal: Goal
    soil_least_c: float | None
    soil_most_c: float | None
    soil_most_days: int
    emerging: Emerging | None
    up_within_days: int
    young_c: float
    grown_c: float
    harvest_frost_c: float
    growth: Growth
    days: float
    harvest_days: float
    heat_c: float | None
    heat_max_c: float | None
    heat_ends: bool
    roots_least_c: float
    roots_days: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """What becomes of a planting on each of some days in each member.

    Parameters
    ----------
    planted : (k,) array of int
        Days of planting.
    why : (members, k) array of int
        `WELL`, or why it does not go well.
    possible : (members, k) array of bool
        Where it gets there at all, worth it or not.
    ripe : (members, k) array of int
        Day of the first harvest or bloom, or by which it is rooted; the number of days where
        it is not reached.
    """

    planted: Ints
    why: NDArray[np.int8]
    possible: NDArray[np.bool_]
    ripe: Ints
    young_frost: NDArray[np.bool_]


def outcome(days: GrowingDays, planted: Ints, needs: Needs, choices: Choices) -> Outcome:
    """Return what becomes of a planting on each of some days, in each member.

    Parameters
    ----------
    days : GrowingDays
    planted : (k,) array of int
        Days of planting.
    needs : Needs
    choices : Choices
    """
    up = _up(days, planted, needs)
    rooted = np.minimum(up + choices.young_days, days.days)
    why = np.zeros(up.shape, dtype=np.int8)
    if needs.goal == "root":
        ripe = _roots(days, planted, needs)
        why[ripe >= days.days] = COLD_ROOTS
        possible_why = why.copy()
    else:
        way = _growth(days, needs.growth, choices)
        ripe = reached(way, planted, needs.days)
        _bears(days, needs, choices, planted=planted, ripe=ripe, rooted=rooted, why=why)
        possible_why = np.where(np.isin(why, (NOT_WORTH, STANDS_LONG)), WELL, why)
        if needs.emerging is None:
            gained = way[:, np.minimum(planted + choices.start_days, days.days)] - way[:, planted]
            why[gained < choices.start_growth] = SLOW_START
    young = _survives_young(days, needs, up=up, rooted=rooted, why=why)
    _starts(days, needs, choices, planted=planted, up=up, why=why)
    early = np.isin(why, (COLD_SOIL, HOT_SOIL, SLOW_START, YOUNG_FROST))
    return Outcome(planted, why, ~early & (possible_why == WELL), ripe, young)


def _up(days: GrowingDays, planted: Ints, needs: Needs) -> Ints:
    """Return the day on which each planting stands above ground, (members, k)."""
    seed = needs.emerging
    if seed is None:
        return np.broadcast_to(planted, (days.members, planted.size))
    soil = days.soil_c if days.seedbed_c is None else days.seedbed_c
    way = days.way(seed, lambda: np.interp(soil, seed.temp_c, seed.rate, left=0.0, right=0.0))
    after = np.minimum(planted + 1, days.days)  # the day after sowing is the first that counts
    return reached(way, after, 1.0)


def _growth(days: GrowingDays, growth: Growth, choices: Choices) -> Floats:
    """Return the growth before each day in days of the best weather, (members, n + 1)."""
    light = (days.light_h - choices.dark_h) / (choices.light_h - choices.dark_h)
    key = (growth, choices.dark_h, choices.light_h)
    return days.way(key, lambda: growth.rate(days.air_c) * np.clip(light, 0.0, 1.0))


def _bears(
    days: GrowingDays,
    needs: Needs,
    choices: Choices,
    *,
    planted: Ints,
    ripe: Ints,
    rooted: Ints,
    why: NDArray[np.int8],
) -> None:
    """Write why a planting does not bear: the last question first, the first one over it."""
    at = np.minimum(ripe, days.days - 1)
    end = np.take_along_axis(days.next_frost(needs.harvest_frost_c), at, axis=1)
    if needs.heat_c is not None and needs.heat_ends:
        hot = np.take_along_axis(days.next_heat(needs.heat_c), at, axis=1)
        end = np.minimum(end, hot)
    why[end - ripe < choices.worth_share * needs.harvest_days] = NOT_WORTH
    why[ripe - planted > choices.longest * needs.days] = STANDS_LONG
    since = at - ((at - planted) * choices.last_share).astype(np.int64)
    for limit, sums in ((needs.heat_c, days.air_sums), (needs.heat_max_c, days.most_sums)):
        if limit is not None and not needs.heat_ends:
            why[mean_between(sums(), since, at) > limit] = HEAT
    killed = np.take_along_axis(days.next_frost(needs.grown_c), rooted, axis=1)
    why[killed <= ripe] = FROST
    late = ripe >= days.days
    why[late & (killed >= days.days)] = NO_TIME


def _roots(days: GrowingDays, planted: Ints, needs: Needs) -> Ints:
    """Return the day by which roots are made, soil too cold ending it; n for never."""
    warm = days.way(("roots", needs.roots_least_c), lambda: 1.0 * (days.soil_c >= needs.roots_least_c))
    rooted = reached(warm, planted, float(needs.roots_days))
    return np.where(rooted - planted > 2 * needs.roots_days, days.days, rooted)


def _survives_young(
    days: GrowingDays, needs: Needs, *, up: Ints, rooted: Ints, why: NDArray[np.int8]
) -> NDArray[np.bool_]:
    frost = np.take_along_axis(days.next_frost(needs.young_c), up, axis=1)
    why[frost < rooted] = YOUNG_FROST
    return np.asarray(frost < rooted)


def _starts(
    days: GrowingDays,
    needs: Needs,
    choices: Choices,
    *,
    planted: Ints,
    up: Ints,
    why: NDArray[np.int8],
) -> None:
    soil = days.bed_c()[:, planted]
    if needs.emerging is not None:
        why[up - planted > needs.up_within_days] = SLOW_START
    if needs.soil_least_c is not None:
        why[soil < needs.soil_least_c - choices.soil_slack_c] = COLD_SOIL
    if needs.soil_most_c is not None:
        if needs.soil_most_days > 5:
            sums = days.way("soilsum", lambda: days.soil_c)
            last = np.minimum(planted + needs.soil_most_days, days.days)
            soil = (sums[:, last] - sums[:, planted]) / (last - planted)
        why[soil > needs.soil_most_c] = HOT_SOIL
