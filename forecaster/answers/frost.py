"""Frost dates of a place from its own record of daily minima."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from forecaster.answers.calendar import date_of
from forecaster.forecast.ensemble import Day, as_day
from forecaster.forecast.given import air_column, check_extremes, days_of_air
from forecaster.ground.errors import NotEnoughData
from forecaster.ground.given import number
from forecaster.ground.units import f_to_c
from forecaster.packaged import load_csv
from forecaster.rules.frost import FrostSample, Side, frost_sample
from forecaster.rules.season import Season, season_of
from forecaster.soil.season import fit_yearly, harmonics

CHANCES = (0.1, 0.5, 0.9)
LEAST_DAYS = 365


@dataclass(frozen=True, slots=True)
class FrostChance:
    """Dates of the last or first frost at one temperature, from the record's winters.

    Parameters
    ----------
    chance_10, chance_50, chance_90 : date or None
        Dates beyond which a frost comes with that probability: in spring later than the
        date, in autumn earlier. So 10 % is the latest of the spring and the earliest of the
        autumn. None if so many winters have none, or too few winters are known.
    share_none : float
        Share of winters without, 0 to 1; NaN without winters.
    winters : int
        Whole winters in the record.
    """

    chance_10: date | None
    chance_50: date | None
    chance_90: date | None
    share_none: float
    winters: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostDates:
    """Last and first frosts at one temperature.

    Parameters
    ----------
    name, label : str
        As `freeze`, `Freeze`.
    threshold_c : float
        At or below which it counts, °C.
    last, first : FrostChance
        The last before the warm season that is next to be planted, the first after it.
    offset_c : float
        What the bed was taken to be warmer than the record's air, °C.
    source : str
    """

    name: str
    label: str
    threshold_c: float
    last: FrostChance
    first: FrostChance
    offset_c: float
    source: str


def frost_dates(
    air: pd.DataFrame, *, today: Day | None = None, offset_c: float = 0.0
) -> tuple[FrostDates, ...]:
    """Return last and first frost dates at 36, 32 and 28 °F from a record's own minima.

    Parameters
    ----------
    air : DataFrame
        Daily index; ``tmin_c``, °C.
    today : date-like, optional
        Later rows are ignored, and the dates are put into the seasons that come after it; by
        default the record's last day.
    offset_c : float
        What the bed is taken to be warmer than the air of the record, °C.

    Returns
    -------
    tuple of FrostDates
        Warmest temperature first.

    Raises
    ------
    NotEnoughData
        If the record holds no daily minima, or less than a year of them.
    """
    number("offset_c", offset_c, -30.0, 30.0, "°C")
    last = pd.Timestamp(as_day(days_of_air(air).index[-1]))
    if today is not None:
        last = pd.Timestamp(as_day(today))
    table = air.loc[: last + pd.Timedelta(hours=23)]
    least = air_column(table, "tmin_c")
    if least is None or np.isfinite(least).sum() < LEAST_DAYS:
        raise NotEnoughData(
            "the record holds no year of daily minima; frost dates need the minimum of each day"
        )
    index = table.index.to_numpy().astype("datetime64[D]")
    check_extremes(least, air_column(table, "tmax_c"))
    day = index.astype(np.int64)
    yearly = fit_yearly(harmonics(day), least, prior_sd=10.0, noise_sd=10.0)
    falling = season_of(yearly, "falling")
    now = np.datetime64(last.date(), "D")

    def chances(threshold_c: float, side: Side) -> FrostChance:
        sample = frost_sample(day, least, falling, threshold_c, side, offset_c=offset_c)
        ten, half, ninety = _dates(sample, falling, now)
        return FrostChance(ten, half, ninety, sample.share_none, len(sample.years))

    return tuple(
        FrostDates(
            name=row["name"],
            label=row["label"],
            threshold_c=f_to_c(float(row["threshold_f"])),
            last=chances(f_to_c(float(row["threshold_f"])), "last"),
            first=chances(f_to_c(float(row["threshold_f"])), "first"),
            offset_c=offset_c,
            source=row["source"],
        )
        for row in load_csv("frost.csv")
    )


def _dates(sample: FrostSample, falling: Season, now: np.datetime64) -> list[date | None]:
    """Return the dates of 10, 50 and 90 %, the middle one the first of its kind from today."""
    days = [sample.day_at(chance) for chance in CHANCES]
    known = [day for day in days if day is not None]
    if not known:
        return [None, None, None]
    middle = days[1] if days[1] is not None else known[0]
    year = int(str(now)[:4])
    start = next(
        start
        for start in (falling.start(y) for y in range(year - 1, year + 3))
        if start + middle >= now
    )
    return [None if day is None else date_of(start + day) for day in days]
