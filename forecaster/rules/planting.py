"""If planted on a day, does it go well? Asked of every day in every member.

A planting goes well if it starts, survives at its stage, and gets where it is wanted.

*Starts.* The soil of the day lies within the crop's limits; seed comes up within reasonable
time, its way summed over the soil's days at sowing depth.

*Survives.* Under ground nothing harms it. From then on no night may be colder than a young
plant stands, and once it is rooted no colder than a grown one stands.

*Gets there.* To bear: it ripens (growth by temperature, slower in short days) without standing
far longer than it should, not in heat that spoils it, and bears long enough before frost ends
it. To root: it makes its roots before the soil turns too cold for them.

Of a planting that fails, the reason is the first question that it fails, in this order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.rules.emergence import Rate
from forecaster.rules.growing_days import GrowingDays, at, mean_between, reached

Codes = NDArray[np.int8]
Goal = Literal["bear", "root"]

(
    WELL,
    COLD_SOIL,
    HOT_SOIL,
    SLOW_UP,
    YOUNG_FROST,
    FROST,
    NO_TIME,
    HEAT,
    STANDS_LONG,
    SHORT_HARVEST,
    COLD_ROOTS,
    LESS_HARVEST,
    OTHER_SEASON,
    HOT_ROOTS,
) = range(14)
"""`WELL`, or why a planting does not go well."""

HARDLY_WORTH = (STANDS_LONG, SHORT_HARVEST, LESS_HARVEST)
"""Reasons of plantings that get there, but are hardly worth it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What holds for every crop and every place alike: choices, no figures of a source.

    Those marked * were chosen on published planting calendars (DEVELOPERS.md, planting windows).

    Parameters
    ----------
    young_days : int
        Days above ground until a plant counts as rooted.
    up_within_days : int
        Days in which seed must come up.
    heat_share : float
        Last share of the days to harvest in which heat spoils it. *
    dark_h, light_h : float
        Day lengths at which growth stops, and from which it is whole, hours.
    longest : float
        A planting is hardly worth it if it stands so many times its days in best weather. *
    worth_share : float
        Share of the usual days of harvest that makes a planting worth it.
    """

    young_days: int = 14
    up_within_days: int = 28
    heat_share: float = 1.0 / 3.0
    dark_h: float = 8.0
    light_h: float = 11.0
    longest: float = 2.0
    worth_share: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """How fast a crop grows by the day's mean air temperature.

    From 0 at `base_c` in a straight line to 1 at `best_c`, and no faster above: heat does not
    hasten a crop that it spoils, nor does it spare it from ripening in it.
    """

    base_c: float
    best_c: float

    def rate(self, temp_c: Floats) -> Floats:
        """Return the growth of a day, in days of the best weather."""
        return np.clip((temp_c - self.base_c) / (self.best_c - self.base_c), 0.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What a crop needs of the days, begun in one way in one season; temperatures in °C.

    Parameters
    ----------
    goal : {"bear", "root"}
    soil_least_c, soil_most_c : float or None
        Soil of the planting day in which it can go in. For the goal `root` the most is that
        of the mean over the days of rooting: most of its roots are to be made below it.
    emerging : Rate or None
        How fast it comes up; None for a plant that is set out.
    keeps : bool
        It may lie in the ground as long as it takes, as tubers do.
    young_c, grown_c : float
        Lowest minima that a young and a grown plant stand.
    harvest_frost_c : float
        Minimum that ends harvest or bloom.
    growth : Growth
    days : float
        To the first harvest or bloom, in days of the best weather.
    harvest_days : float
        Days of harvest or bloom for which it is usually grown.
    heat_c, heat_most_c : float or None
        Mean of the air, and mean of its maxima, that spoil the harvest.
    heat_ends : bool
        Heat ends bloom or harvest, rather than spoiling what ripens in it.
    roots_least_c, roots_days : float, int
        Soil in which roots still grow, and the days of it that they need. For the goal `root`.
    """

    goal: Goal
    soil_least_c: float | None = None
    soil_most_c: float | None = None
    emerging: Rate | None = None
    keeps: bool = False
    young_c: float
    grown_c: float
    harvest_frost_c: float
    growth: Growth
    days: float
    harvest_days: float
    heat_c: float | None = None
    heat_most_c: float | None = None
    heat_ends: bool = False
    roots_least_c: float
    roots_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What becomes of a planting on each of some days in each member.

    Parameters
    ----------
    planted : (k,) array of int
        Days of planting.
    why : (members, k) array of int
        `WELL`, or why it does not go well.
    ripe : (members, k) array of int
        Day of the first harvest or bloom, or by which it is rooted; the number of days where
        that is not within them.
    bears_days : (members, k) array of int
        Days from then until frost or heat ends it.
    young_frost : (members, k) array of bool
        Where a frost comes that a young plant does not stand.
    """

    planted: Ints
    why: Codes
    ripe: Ints
    bears_days: Ints
    young_frost: Bools

    @property
    def well(self) -> Bools:
        """Where a planting goes well, (members, k)."""
        return np.asarray(self.why == WELL)

    @property
    def possible(self) -> Bools:
        """Where it gets where it is wanted, worth it or not, (members, k)."""
        found: Bools = self.why == WELL
        for reason in HARDLY_WORTH:
            found |= self.why == reason
        return found


def outcome(days: GrowingDays, planted: Ints, needs: Needs, choices: Choices) -> Outcome:
    """Return what becomes of a planting on each of some days, in each member.

    Parameters
    ----------
    days : GrowingDays
    planted : (k,) array of int
        Days of planting, rising, within the days.
    needs : Needs
    choices : Choices
    """
    up = _up(days, planted, needs)
    rooted = np.minimum(up + choices.young_days, days.days)
    why = np.zeros(up.shape, dtype=np.int8)
    # The questions from the last to the first: an earlier one overwrites the reason.
    if needs.goal == "root":
        ripe = _roots_made(days, planted, needs)
        bears = days.days - ripe
        why[ripe == days.days] = COLD_ROOTS
    else:
        way = _growth(days, needs.growth, choices)
        ripe = reached(way, planted, needs.days)
        bears = _bearing(days, needs, ripe)
        _gets_there(days, needs, choices, planted=planted, ripe=ripe, bears=bears, why=why)
        killed = at(days.next_frost(needs.grown_c), rooted)
        why[killed <= ripe] = FROST
        why[(ripe == days.days) & (killed == days.days)] = NO_TIME
    young_frost = at(days.next_frost(needs.young_c), np.minimum(up, days.days)) < rooted
    why[young_frost] = YOUNG_FROST
    _starts(days, needs, choices, planted=planted, up=up, why=why)
    return Outcome(planted=planted, why=why, ripe=ripe, bears_days=bears, young_frost=young_frost)


def _up(days: GrowingDays, planted: Ints, needs: Needs) -> Ints:
    """Return the day on which each planting stands above ground, (members, k)."""
    seed = needs.emerging
    if seed is None:
        return np.broadcast_to(planted, (days.members, planted.size))
    way = days.way(seed, lambda: seed.rate(days.seedbed_c))
    after = np.minimum(planted + 1, days.days)  # the day after sowing is the first that counts
    return reached(way, after, 1.0)


def _growth(days: GrowingDays, growth: Growth, choices: Choices) -> Floats:
    """Return the growth before each day in days of the best weather, (members, n + 1)."""
    light = (days.light_h - choices.dark_h) / (choices.light_h - choices.dark_h)
    return days.way(
        (growth, choices.dark_h, choices.light_h),
        lambda: growth.rate(days.air_c) * np.clip(light, 0.0, 1.0),
    )


def _bearing(days: GrowingDays, needs: Needs, ripe: Ints) -> Ints:
    """Return the days from the first harvest until frost, or heat that ends it."""
    end = at(days.next_frost(needs.harvest_frost_c), ripe)
    if needs.heat_ends and needs.heat_c is not None:
        end = np.minimum(end, at(days.next_heat(needs.heat_c), ripe))
    return np.asarray(end - ripe)


def _gets_there(
    days: GrowingDays,
    needs: Needs,
    choices: Choices,
    *,
    planted: Ints,
    ripe: Ints,
    bears: Ints,
    why: Codes,
) -> None:
    """Write why a planting that ripens is not wanted as it does."""
    last = np.minimum(ripe, days.days - 1)
    why[bears < choices.worth_share * needs.harvest_days] = SHORT_HARVEST
    why[ripe - planted > choices.longest * needs.days] = STANDS_LONG
    if needs.heat_ends:
        why[bears == 0] = HEAT
        return
    since = last - ((last - planted) * choices.heat_share).astype(np.int64)
    for limit, what in ((needs.heat_c, "air"), (needs.heat_most_c, "most")):
        if limit is not None:
            why[mean_between(days.sums(what), since, last) > limit] = HEAT


def _roots_made(days: GrowingDays, planted: Ints, needs: Needs) -> Ints:
    """Return the day by which roots are made; n where the soil turns too cold before.

    Days of soil warm enough are counted; more than as many again too cold between them, and
    the roots are not made in that season.
    """
    least = needs.roots_least_c
    warm = days.way(("roots", least), lambda: (days.soil_c >= least).astype(np.float64))
    made = reached(warm, planted, float(needs.roots_days))
    return np.where(made - planted >= 2 * needs.roots_days, days.days, made)


def _starts(
    days: GrowingDays, needs: Needs, choices: Choices, *, planted: Ints, up: Ints, why: Codes
) -> None:
    """Write why a planting does not start: soil too cold or too hot, seed too slow."""
    if needs.emerging is not None and not needs.keeps:
        why[up - planted > choices.up_within_days] = SLOW_UP
    if needs.soil_most_c is not None and needs.goal == "root":
        end = np.minimum(planted + needs.roots_days, days.days)
        sums = days.sums("soil")
        rooting_c = (sums[:, end] - sums[:, planted]) / (end - planted)
        why[rooting_c > needs.soil_most_c] = HOT_ROOTS
    elif needs.soil_most_c is not None:
        why[days.bed_c()[:, planted] > needs.soil_most_c] = HOT_SOIL
    if needs.soil_least_c is not None:
        why[days.bed_c()[:, planted] < needs.soil_least_c] = COLD_SOIL
