"""Last and first frosts of a record of daily minima, and the chances of their dates.

A frost year runs from the warmest day of the yearly wave to the next warmest, so that a
winter is whole, in either hemisphere, and its first and last frost belong together. Vestal
1971, Monthly Weather Review 99:650, proposes such a cold season because seasons that end with
the calendar year fail where winters are mild.

Chances are those of US freeze normals: in spring that a frost comes *later* than the date, so
10 % is the later date; in autumn that one comes *earlier*, so 10 % is the earlier date.
Winters without frost count: the distribution is mixed, a share of winters that have a frost
and the dates of those that do.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.errors import InputError
from forecaster.rules.crossings import NEVER
from forecaster.rules.season import Season

Side = Literal["last", "first"]

MOST_MISSING_DAYS = 10  # a winter: the standard of Utah Climate Center's freeze tables
LEAST_WINTERS = 5  # below this a 10 % date says nothing


@dataclass(frozen=True, slots=True)
class FrostSample:
    """One frost date for each winter of a record.

    Parameters
    ----------
    side : {"last", "first"}
        The last frost before the warm season, or the first after it.
    years : tuple of int
        Year in which each frost year begins.
    index : (n,) array of int
        Days from the beginning of the frost year to the frost; −1 for a winter without.
    """

    side: Side
    years: tuple[int, ...]
    index: Ints

    @property
    def share_none(self) -> float:
        """Share of winters without such a frost; NaN without winters."""
        return float(np.mean(self.index == NEVER)) if self.index.size else float("nan")

    def day_at(self, chance: float) -> int | None:
        """Return the day beyond which a frost comes with a chance.

        Parameters
        ----------
        chance : float
            0 to 1: that the last frost comes later than the day, or the first one earlier.

        Returns
        -------
        int or None
            Days from the beginning of the frost year. None if winters with a frost are no
            more frequent than the chance, or if fewer than five winters are known.

        Notes
        -----
        With p the share of winters that have a frost, the chance of a later one is
        p·(1 − F(day)), F the distribution of the dates in those winters at plotting
        positions i/(m + 1) (Weibull).
        """
        if not 0.0 < chance < 1.0:
            raise InputError(f"the chance of a frost is {chance!r}; expected between 0 and 1")
        dates = self.index[self.index != NEVER]
        if self.index.size < LEAST_WINTERS or dates.size == 0:
            return None
        left = chance * self.index.size / dates.size
        if left >= 1.0:
            return None
        share = 1.0 - left if self.side == "last" else left
        return round(float(np.quantile(dates, share, method="weibull")))


def frost_sample(
    day: Ints,
    tmin_c: Floats,
    falling: Season,
    threshold_c: float,
    side: Side,
    *,
    offset_c: float = 0.0,
) -> FrostSample:
    """Return the frost date of every winter that the record holds whole.

    Whole: from its first day to its last, with at most ten minima missing.

    Parameters
    ----------
    day : (n,) array of int
        Days since 1970-01-01, without a gap.
    tmin_c : (n,) array
        Daily minima of the air, °C, NaN where unknown.
    falling : Season
        The falling season of the place: it begins on the warmest day of the yearly wave.
    threshold_c : float
        At or below which it counts as frost, °C.
    side : {"last", "first"}
    offset_c : float
        What the bed is warmer than the air of the record, °C; an assumption, 0 unless known.
        Negative for a frost hollow.
    """
    years, found = [], []
    begin_year = int(str(np.datetime64(int(day[0]), "D"))[:4])
    end_year = int(str(np.datetime64(int(day[-1]), "D"))[:4])
    for year in range(begin_year - 1, end_year + 1):
        start, stop = (falling.start(y).astype(np.int64) - day[0] for y in (year, year + 1))
        if start < 0 or stop > day.size:
            continue
        least = tmin_c[start:stop]
        if np.count_nonzero(np.isnan(least)) > MOST_MISSING_DAYS:
            continue
        years.append(year)
        found.append(int(frost_index(least + offset_c, threshold_c, side)))
    return FrostSample(side, tuple(years), np.array(found, dtype=np.int64))


def frost_index(tmin_c: Floats, threshold_c: float, side: Side) -> Ints:
    """Return the day of the last or first minimum at or below a temperature, −1 for none.

    Parameters
    ----------
    tmin_c : (..., n) array
        Daily minima, °C; NaN counts as no frost.
    threshold_c : float
        °C.
    side : {"last", "first"}

    Returns
    -------
    (...) array of int
    """
    cold = tmin_c <= threshold_c
    any_cold = cold.any(axis=-1)
    if side == "first":
        return np.where(any_cold, cold.argmax(axis=-1), NEVER)
    return np.where(any_cold, cold.shape[-1] - 1 - cold[..., ::-1].argmax(axis=-1), NEVER)
