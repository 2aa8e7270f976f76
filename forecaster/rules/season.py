"""The season of a crossing, from the site's own yearly wave of soil temperature.

A falling season runs from the warmest day of the yearly wave to the coldest, a rising one
from the coldest to the warmest. So the southern hemisphere, and a place with an odd year,
need no special case.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import NotEnoughData
from forecaster.rules.crossings import Direction
from forecaster.soil.season import harmonics

DAYS_OF_YEAR = 366
SMALLEST_SWING_C = 1.0


@dataclass(frozen=True, slots=True)
class Season:
    """A span of the calendar, in days of any year.

    Parameters
    ----------
    direction : {"falling", "rising"}
    start_month, start_day : int
        First day.
    days : int
        Length, at most 366.
    """

    direction: Direction
    start_month: int
    start_day: int
    days: int

    def start(self, year: int) -> np.datetime64:
        """Return the first day of the season that starts in a year."""
        day = 28 if (self.start_month, self.start_day) == (2, 29) else self.start_day
        return np.datetime64(f"{year:04d}-{self.start_month:02d}-{day:02d}", "D")

    def containing_or_next(self, today: np.datetime64) -> np.datetime64:
        """Return the start of the season that runs today, or of the next one."""
        year = int(today.astype("datetime64[Y]").astype(int)) + 1970
        for candidate in (year - 1, year, year + 1):
            start = self.start(candidate)
            if start + self.days > today:
                return start
        raise AssertionError("unreachable")  # a season lasts at most a year


def season_of(yearly_c: Floats, direction: Direction) -> Season:
    """Return the season in which soil with this yearly wave falls or rises.

    Parameters
    ----------
    yearly_c : (1 + 2·count,) array
        Mean and harmonics of the soil's year, °C (`forecaster.soil.season.fit_yearly`).
    direction : {"falling", "rising"}

    Raises
    ------
    NotEnoughData
        If the yearly wave swings less than 1 °C: there is no season to speak of.
    """
    first = np.datetime64("2000-01-01", "D")
    day = first.astype(np.int64) + np.arange(DAYS_OF_YEAR)
    wave = harmonics(day, (len(yearly_c) - 1) // 2) @ yearly_c
    if np.ptp(wave) < SMALLEST_SWING_C:
        raise NotEnoughData(
            f"the soil's yearly wave swings by {np.ptp(wave):.2f} °C; no season can be told from it"
        )
    warmest, coldest = int(wave.argmax()), int(wave.argmin())
    begin, end = (warmest, coldest) if direction == "falling" else (coldest, warmest)
    start = (first + begin).astype("datetime64[D]").item()
    return Season(direction, start.month, start.day, (end - begin) % DAYS_OF_YEAR)
