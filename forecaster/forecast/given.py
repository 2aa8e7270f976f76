"""Tables as a caller gives them: days of air and readings of soil, or refused in one line."""

from __future__ import annotations

import numpy as np
import pandas as pd

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError
from forecaster.ground.given import shown
from forecaster.ingest import one_probe

COLDEST_C, WARMEST_C = -95.0, 65.0  # of air; wider than the reader's, which drops single values
SOIL_COLDEST_C, SOIL_WARMEST_C = -60.0, 90.0
DEEPEST_M = 20.0
CROSSED_SHARE, LEAST_CROSSED = 0.05, 3
WETTEST_DAY_MM = 2000.0
EXPECTED = "as read_air returns it: one row a day, its date the index, tmin_c and tmax_c in °C"


def days_of_air(air: object, name: str = "air") -> pd.DataFrame:
    """Return a table of air whose index is days in order.

    Raises
    ------
    InputError
        If it is no table, or its index is not dates without a zone that follow one another.
    """
    if not isinstance(air, pd.DataFrame):
        raise InputError(f"{name} is {shown(air)}; expected a table {EXPECTED}")
    index = air.index
    if not isinstance(index, pd.DatetimeIndex) or index.tz is not None:
        raise InputError(
            f"the {name} table's index is not dates without a time zone; expected a table "
            f"{EXPECTED}"
        )
    if not index.size or index.hasnans:
        raise InputError(f"the {name} table has {'a day without date' if index.size else 'no day'}")
    if not index.is_monotonic_increasing or not index.is_unique:
        raise InputError(
            f"the {name} table's days do not follow one another; expected one row a day, in order"
        )
    if air.columns.nlevels > 1 or not air.columns.is_unique:
        raise InputError(f"the {name} table has two columns of one name, or two rows of headings")
    return air


def air_column(air: pd.DataFrame, name: str) -> Floats | None:
    """Return a column of a table of air as numbers that air can have; None if it is not there.

    Raises
    ------
    InputError
        If a value is no number, or none that any place has.
    """
    if name not in air:
        return None
    if name == "precip_mm":
        return _numbers(air[name], name, 0.0, WETTEST_DAY_MM, "mm")
    return _numbers(air[name], name, COLDEST_C, WARMEST_C, "°C")


def check_extremes(least: Floats | None, most: Floats | None) -> None:
    """Refuse extremes that stand the wrong way round.

    Raises
    ------
    InputError
        If the minimum lies above the maximum on one day of twenty.
    """
    if least is None or most is None:
        return
    crossed = int((least > most).sum())
    known = int(np.isfinite(least + most).sum())
    if crossed >= LEAST_CROSSED and crossed > CROSSED_SHARE * known:
        raise InputError(
            f"on {crossed:,} of {known:,} days the minimum lies above the maximum; expected "
            "tmin_c and tmax_c each under its own name"
        )


def times_of_readings(readings: object) -> pd.DataFrame | None:
    """Return a table of readings whose times are standard times; None stays None.

    Raises
    ------
    InputError
        If it is no table, has no times or temperatures, or its times have a zone.
    """
    if readings is None:
        return None
    if not isinstance(readings, pd.DataFrame):
        raise InputError(
            f"readings is {shown(readings)}; expected a table as read_readings returns it"
        )
    missing = sorted({"time", "temp_c"} - set(readings.columns))
    if missing or readings.columns.nlevels > 1 or not readings.columns.is_unique:
        lost = ", ".join(missing) or "one heading a column"
        raise InputError(f"the readings have no {lost}; read_readings makes them so")
    time = readings["time"]
    if isinstance(time.dtype, pd.DatetimeTZDtype):
        raise InputError(
            "the readings' times have a time zone; expected local standard time without one "
            "(dt.tz_convert to a fixed offset, then dt.tz_localize(None))"
        )
    if len(readings) and (time.dtype.kind != "M" or time.isna().any()):
        raise InputError("the readings' times are not all dates with a time of day")
    return readings


def check_readings(readings: pd.DataFrame) -> None:
    """Refuse readings a column of which holds what no reading has.

    Raises
    ------
    InputError
        Naming the column, the value and what was expected.
    """
    one_probe(readings)
    _numbers(readings["temp_c"], "temp_c", SOIL_COLDEST_C, SOIL_WARMEST_C, "°C")
    if "depth_m" in readings:
        _numbers(readings["depth_m"], "depth_m", 0.0, DEEPEST_M, "m")
    if "error_c" in readings:
        error = _numbers(readings["error_c"], "error_c", 1e-6, 50.0, "°C")
        if np.isnan(error).any():
            raise InputError("error_c of a reading is unknown; expected °C above 0")
    if "span" in readings and not readings["span"].isin(["instant", "day"]).all():
        raise InputError("span of a reading is neither instant nor day")
    if "hour_known" in readings and not readings["hour_known"].isin([True, False]).all():
        raise InputError("hour_known of a reading is neither True nor False")


def _numbers(column: pd.Series, name: str, low: float, high: float, unit: str) -> Floats:
    """Return a column as numbers within bounds, NaN where unknown."""
    wrong_kind = f"{name} is not all numbers; expected {unit}, NaN where unknown"
    if column.dtype.kind == "c":
        raise InputError(wrong_kind)
    try:
        values = column.to_numpy(dtype=float, na_value=np.nan)
    except (TypeError, ValueError):
        raise InputError(wrong_kind) from None
    wrong = (values < low) | (values > high)
    if wrong.any():
        at = int(np.argmax(wrong))
        raise InputError(
            f"{name} is {values[at]:g} in row {at + 1}; expected {low:g} to {high:g} {unit}"
        )
    return np.asarray(values)
