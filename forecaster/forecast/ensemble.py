"""What a forecast holds: joint draws of the soil's days, and when each crosses a threshold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from forecaster.forecast.understand import Place
from forecaster.ground.arrays import Days, Floats
from forecaster.ground.errors import InputError
from forecaster.ground.given import number, shown, word
from forecaster.rules.crossings import NEVER, Direction, Kind, crossing_index

FIRST_YEAR, LAST_YEAR = 1700, 2250  # what a nanosecond's count of 64 bits holds, nearly
Day = str | date | np.datetime64 | pd.Timestamp


@dataclass(frozen=True, slots=True)
class Crossing:
    """When each member of a forecast crosses a threshold.

    Parameters
    ----------
    dates : (members,) array of datetime64[D]
        NaT for never within the season.
    """

    dates: Days

    def quantile(self, q: float) -> np.datetime64:
        """Return the date by which a share `q` of the members has crossed; NaT if never.

        Raises
        ------
        InputError
            If `q` lies outside 0 to 1.
        """
        q = number("q", q, 0.0, 1.0, "a share")
        crossed = np.sort(self.dates[~np.isnat(self.dates)])
        rank = max(int(np.ceil(q * self.dates.size)), 1) - 1
        return crossed[rank] if rank < crossed.size else np.datetime64("NaT", "D")

    def probability_by(self, day: Day) -> float:
        """Return the share of members that have crossed by the end of a day."""
        return float(np.mean(self.dates <= as_day(day)))

    @property
    def probability_never(self) -> float:
        """Share of members that do not cross within the season."""
        return float(np.mean(np.isnat(self.dates)))


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilForecast:
    """Joint draws of the soil temperature of days past and to come.

    Parameters
    ----------
    dates : DatetimeIndex
        From `start` through `issued` + `horizon_days`.
    soil_c : (members, days) array
        Daily means at the site's depth, °C.
    residual_c : (members, days) array
        The part of it that the model leaves over, °C.
    issued : Timestamp
        The last day whose air and readings were known.
    place : Place
        What the records to that day say.
    years : int
        Distinct past years drawn on for the air to come.
    air_c : (members, days) array
        The same members' daily means of the air, °C; past days as recorded, gaps bridged.
    tmin_c, tmax_c : (members, days) array, optional
        The same members' daily minima and maxima of the air, °C; past days as recorded. None
        if the record holds no extremes.
    seedbed_c : (members, days) array, optional
        Daily means at the sowing depth asked for, °C.
    """

    dates: pd.DatetimeIndex
    soil_c: Floats
    residual_c: Floats
    issued: pd.Timestamp
    place: Place
    years: int
    air_c: Floats
    tmin_c: Floats | None = None
    tmax_c: Floats | None = None
    seedbed_c: Floats | None = None

    def crossing(
        self,
        threshold_c: float,
        direction: Direction,
        *,
        first: Day | None = None,
        last: Day | None = None,
        kind: Kind = "settled",
    ) -> Crossing:
        """Return when each member crosses a threshold within a season.

        Parameters
        ----------
        threshold_c : float
            °C.
        direction : {"falling", "rising"}
        first, last : date-like, optional
            The season, both included; by default all days of the forecast.
        kind : {"settled", "first", "last"}
            As `forecaster.rules.crossings.crossing_index` defines them.

        Raises
        ------
        InputError
            If the season has no day in the forecast.
        """
        day = self.dates.to_numpy().astype("datetime64[D]")
        number("threshold_c", threshold_c, -100.0, 100.0, "°C")
        word("direction", direction, ("falling", "rising"))
        word("kind", kind, ("settled", "first", "last"))
        begin = day[0] if first is None else max(as_day(first), day[0])
        end = day[-1] if last is None else min(as_day(last), day[-1])
        inside = slice(int((begin - day[0]).astype(int)), int((end - day[0]).astype(int)) + 1)
        if begin > end:
            raise InputError(f"no day of the forecast lies between {first} and {last}")
        index = crossing_index(self.soil_c[:, inside], threshold_c, direction, kind)
        dates = day[inside][np.maximum(index, 0)]
        return Crossing(np.where(index == NEVER, np.datetime64("NaT", "D"), dates))

    def to_frame(self) -> pd.DataFrame:
        """Return a row a day: the members' mean, spread and 10, 50 and 90 % quantiles, °C."""
        low, middle, high = quantiles_by_day(self.soil_c, (0.1, 0.5, 0.9))
        columns = {
            "soil_c": self.soil_c.mean(axis=0),
            "sd_c": self.soil_c.std(axis=0),
            "low_c": low,
            "mid_c": middle,
            "high_c": high,
        }
        return pd.DataFrame(columns, index=pd.DatetimeIndex(self.dates, name="date"))


def quantiles_by_day(values: Floats, shares: Sequence[float]) -> Floats:
    """Return quantiles of the members by day: (shares, days), as `np.quantile`, and quicker."""
    ordered = np.sort(np.ascontiguousarray(values.T), axis=1)
    at = np.asarray(shares) * (ordered.shape[1] - 1)
    low = np.floor(at).astype(np.int64)
    part, high = at - low, np.minimum(low + 1, ordered.shape[1] - 1)
    return np.asarray((ordered[:, low] * (1.0 - part) + ordered[:, high] * part).T)


def as_day(day: Day) -> np.datetime64:
    """Return a date in any common form as datetime64[D].

    Raises
    ------
    InputError
        If it is not a date.
    """
    told: object = day  # a number would be nanoseconds since 1970
    try:
        stamp = pd.NaT if isinstance(told, bool | int | float) else pd.Timestamp(day)
    except (ValueError, TypeError) as error:
        raise InputError(f"{shown(day)} is not a date; expected as 2025-10-01") from error
    if pd.isna(stamp):
        raise InputError(f"{shown(day)} is not a date; expected as 2025-10-01")
    if not FIRST_YEAR <= stamp.year <= LAST_YEAR:
        raise InputError(
            f"the day is {str(day)[:40]}; expected one of the years {FIRST_YEAR} to {LAST_YEAR}"
        )
    return np.datetime64(stamp.date(), "D")
