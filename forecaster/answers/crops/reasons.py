"""Why a window opens and closes when it does, in words without units."""

from __future__ import annotations

from collections.abc import Mapping

from forecaster.rules import planting as p

OPENS: Mapping[int, str] = {
    p.WELL: "the season begins",
    p.COLD_SOIL: "before it the soil is too cold",
    p.HOT_SOIL: "before it the soil is too warm",
    p.SLOW_UP: "sown before it, seed takes too long to come up",
    p.YOUNG_FROST: "before it a frost that kills young plants is not rare enough",
    p.FROST: "planted before it, frost kills it before it is ready",
    p.NO_TIME: "planted before it, it does not get ready",
    p.HEAT: "planted before it, it would ripen in heat that spoils it",
    p.STANDS_LONG: "planted before it, it stands long and hardly grows",
    p.SHORT_HARVEST: "planted before it, it yields too short a time",
    p.COLD_ROOTS: "planted before it, the soil is too cold for roots",
    p.LESS_HARVEST: "planted before it, it yields too short a time",
    p.OTHER_SEASON: "planted before it, it ripens in summer",
    p.HOT_ROOTS: "planted before it, it makes most of its roots in soil that is too warm",
}
CLOSES: Mapping[int, str] = {
    p.WELL: "days shorten after it: later ones are plantings for autumn",
    p.COLD_SOIL: "after it the soil is too cold",
    p.HOT_SOIL: "after it the soil is too warm",
    p.SLOW_UP: "sown after it, seed takes too long to come up",
    p.YOUNG_FROST: "after it a frost that kills young plants is not rare enough",
    p.FROST: "planted after it, frost kills it before it is ready",
    p.NO_TIME: "planted after it, it does not get ready",
    p.HEAT: "planted after it, it ripens in heat that spoils it",
    p.STANDS_LONG: "planted after it, it stands long and hardly grows",
    p.SHORT_HARVEST: "planted after it, frost or heat ends the harvest too soon",
    p.COLD_ROOTS: "after it too few days are left to root before the soil is too cold",
    p.LESS_HARVEST: "planted after it, it bears much shorter than it could have",
    p.OTHER_SEASON: "planted after it, it ripens in summer",
    p.HOT_ROOTS: "planted after it, it makes most of its roots in soil that is too warm",
}
BEST = "waiting longer makes it hardly surer"
BEST_ADVISED = (
    "from then on the soil of the planting day itself is as most sources advise; published "
    "calendars often begin sooner, while it is still on its way there"
)
OPEN_ENDED = "no closing day is needed: nothing but the next season ends it"
NEVER: Mapping[int, str] = {
    p.WELL: "on no day of the season does a planting go well often enough",
    p.COLD_SOIL: "the soil is too cold",
    p.HOT_SOIL: "the soil is too warm",
    p.SLOW_UP: "seed takes too long to come up",
    p.YOUNG_FROST: "frost kills young plants too often",
    p.FROST: "frost kills it before it is ready",
    p.NO_TIME: "it does not get ready",
    p.HEAT: "it ripens in heat that spoils it",
    p.STANDS_LONG: "it stands long and hardly grows",
    p.SHORT_HARVEST: "it yields too short a time",
    p.COLD_ROOTS: "too few days are left to root before the soil is too cold",
    p.LESS_HARVEST: "it yields too short a time",
    p.OTHER_SEASON: "it ripens in summer",
    p.HOT_ROOTS: "it makes most of its roots in soil that is too warm",
}
