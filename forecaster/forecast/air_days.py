"""A table of daily air as arrays, with what it holds."""

from __future__ import annotations

import numpy as np
import pandas as pd

from forecaster.forecast.given import air_column, check_extremes, days_of_air
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.ground.plural import counted
from forecaster.soil.forcing import DailyAir

LEAST_DAYS = 60
LEAST_SHARE = 0.7  # of days with a value, for a column to be used


def daily_air(air: pd.DataFrame) -> tuple[DailyAir, str]:
    """Return the table as arrays, and what it holds as the name of a fitted model.

    The true mean, the extremes and rain are each used if known on 70 % of the days.
    """
    index = days_of_air(air).index
    assert isinstance(index, pd.DatetimeIndex)  # noqa: S101 - for the type checker
    if index.size < LEAST_DAYS:
        raise NotEnoughData(
            f"{counted(index.size, 'day')} of air; at least {LEAST_DAYS} are needed"
        )
    day = index.to_numpy().astype("datetime64[D]").astype(np.int64)
    if (np.diff(day) != 1).any():
        raise InputError(
            "the air table's days do not follow one another; expected one row a day, "
            "NaN where missing (air.asfreq('D') makes it so)"
        )
    least, most, mean, rain = (
        known_column(air, name) for name in ("tmin_c", "tmax_c", "tavg_c", "precip_mm")
    )
    extremes = least is not None and most is not None
    check_extremes(least, most)
    if extremes:
        assert least is not None and most is not None  # noqa: S101, PT018 - for the type checker
        middle, spread = (least + most) / 2.0, most - least
    if mean is None and not extremes:
        raise InputError(
            f"the air table has no usable tmin_c and tmax_c, nor tavg_c ({_shares(air)}); "
            f"expected °C a day, known on {LEAST_SHARE:.0%} of the days"
        )
    if mean is not None and extremes:
        mean = np.where(np.isfinite(mean), mean, middle)
    value = middle if mean is None else mean
    if np.count_nonzero(np.isfinite(value)) < LEAST_DAYS:
        raise NotEnoughData(
            f"{np.count_nonzero(np.isfinite(value))} days of air have a value; "
            f"at least {LEAST_DAYS} are needed"
        )
    rain = rain if extremes else None
    held = [("mean", mean), ("extremes", extremes or None), ("rain", rain)]
    kind = "+".join(name for name, what in held if what is not None)
    doy = index.day_of_year.to_numpy().astype(np.int64)
    return DailyAir(day, doy, value, spread if extremes else None, rain), kind


def known_column(air: pd.DataFrame, name: str) -> Floats | None:
    """Return a column, or None if too few of its days are known."""
    values = air_column(air, name)
    return values if values is not None and np.isfinite(values).mean() >= LEAST_SHARE else None


def _shares(air: pd.DataFrame) -> str:
    """Return on how many of the days each temperature is known, in words."""
    held = [name for name in ("tmin_c", "tmax_c", "tavg_c") if name in air]
    if not held:
        return "it has none of them"
    shares = ", ".join(f"{name} on {air[name].notna().mean():.0%}" for name in held)
    return f"{shares} of {air.index[0]:%F} to {air.index[-1]:%F}"
