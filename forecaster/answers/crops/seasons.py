"""The planting seasons of a place: which days belong to spring, and which to autumn.

Spring begins on the coldest day of the usual year and ends with the longest day: from then on
days shorten, and what is planted is planted for autumn. Autumn begins there and runs to the
coldest day; where winters are mild a window may go on until the next longest day. A harvest in
the first weeks after the warmest day is still a summer's.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from forecaster.answers.place_today import PlaceToday
from forecaster.ground.arrays import Ints
from forecaster.rules.crops import PlantingSeason
from forecaster.rules.planting_window import PlantingDays

STEP_DAYS = 2  # a planting is asked of every other day
LAST_PLANTED_DAYS = 60  # before the end of the days nothing planted could be followed
JUNE_SOLSTICE, DECEMBER_SOLSTICE = "06-21", "12-21"
STILL_SUMMER_DAYS = 40
"""After the warmest day: the air has fallen by a tenth of its yearly range by then."""
HALF_YEAR_DAYS = 180
POSSIBLE_AFTER_DAYS = 120  # how long after the longest day a spring planting may still be possible


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonDays:
    """One season of one year at a place.

    Parameters
    ----------
    name : {"autumn", "spring"}
    start, end : datetime64[D]
        A window of it begins between them, both included.
    until : datetime64[D]
        A window that has begun may go on to here.
    ripe_from : datetime64[D] or None
        Harvests of before are another season's.
    """

    name: PlantingSeason
    start: np.datetime64
    end: np.datetime64
    until: np.datetime64
    ripe_from: np.datetime64 | None

    @property
    def asked_until(self) -> np.datetime64:
        """The last day on which whoever asks for the season means this one."""
        return self.until if self.name == "spring" else self.end

    def planted(self, here: PlaceToday) -> Ints:
        """Return its days of planting, every other, as places among the days of the place."""
        first = max(here.index(self.start), 0)
        last = min(here.index(self.until), here.days.days - 1 - LAST_PLANTED_DAYS)
        return np.arange(first, max(last, first) + 1, STEP_DAYS)

    def among(self, here: PlaceToday, planted: Ints, *, bears: bool) -> PlantingDays:
        """Return its days as places among its days of planting."""
        last = int(np.searchsorted(planted, here.index(self.end), "right")) - 1
        until = planted.size - 1
        return PlantingDays(
            last=max(last, 0),
            until=until,
            best_to=max(last, 0) if self.name == "spring" else until,
            ripe_from=None if self.ripe_from is None else here.index(self.ripe_from),
            keeps_bearing=bears and self.name == "spring",
        )


def seasons_from(
    here: PlaceToday, name: PlantingSeason, begins: np.datetime64 | None = None
) -> tuple[SeasonDays, SeasonDays]:
    """Return the season whose days run or come next, and the one after it.

    A spring counts as running while plantings of it are still possible: nothing but it is left
    for crops that have no autumn.

    Where `begins` is given, it is the one of those two that starts nearest to it.
    """
    south = here.place.site.latitude_deg < 0.0
    year = int(str(here.today)[:4])
    found = [_season(name, y, here.coldest, here.warmest, south) for y in range(year - 2, year + 4)]
    first = next(at for at, one in enumerate(found) if one.asked_until >= here.today)
    if begins is not None:
        first = min((first, first + 1), key=lambda at: abs(found[at].start - begins))
    return found[first], found[first + 1]


@cache
def _season(name: PlantingSeason, year: int, coldest: int, warmest: int, south: bool) -> SeasonDays:
    longest = DECEMBER_SOLSTICE if south else JUNE_SOLSTICE
    solstice = np.datetime64(f"{year}-{longest}", "D")
    if name == "spring":
        start = _last(coldest, solstice)
        return SeasonDays(
            name=name,
            start=start,
            end=solstice - 1,
            until=solstice + POSSIBLE_AFTER_DAYS,
            ripe_from=None,
        )
    hottest = _last(warmest, solstice + HALF_YEAR_DAYS)
    return SeasonDays(
        name=name,
        start=solstice,
        end=_last(coldest, solstice + 365),
        until=solstice + 364,
        ripe_from=hottest + STILL_SUMMER_DAYS,
    )


def _last(day_of_year: int, before: np.datetime64) -> np.datetime64:
    """Return the last day before another with a place in the year, 0 for 1 January."""
    year = int(str(before)[:4])
    days = [np.datetime64(f"{y}-01-01", "D") + day_of_year for y in (year - 1, year)]
    return max(day for day in days if day < before)
