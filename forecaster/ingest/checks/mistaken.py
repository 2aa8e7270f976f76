"""Columns that are not what they are taken for: then dropping values one by one would be wrong.

A few impossible values are a sensor's; many, all of one kind, are another unit, extremes the
wrong way round, or a number that somebody filled in.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.ground.errors import FileError
from forecaster.ground.plural import counted
from forecaster.ground.units import c_to_f
from forecaster.ingest.checks.scale import HOTTEST_AIR_C
from forecaster.ingest.checks.suspects import dates_text, stretches

OUTSIDE_SHARE, LEAST_OUTSIDE = 0.02, 3
DAYS_ON_END = 4
CROSSED_SHARE, LEAST_CROSSED = 0.2, 10
STUCK_SHARE, LEAST_STUCK = 0.5, 60
"""On 70 stations with 487,022 station-days none of these shares passes a tenth of its limit."""
_COLDEST_C = -70.0
_OTHERS: tuple[tuple[str, str, Callable[[Floats], Floats]], ...] = (
    ("kelvin", "K", lambda c: c - 273.15),
    ("°F", "F", lambda c: (c - 32.0) / 1.8),
    ("kelvin", "K", lambda c: c * 1.8 + 32.0 - 273.15),
)
"""What °C would be if the file's unit is another: kelvin or °F read as °C, kelvin read as °F."""


def refuse_mistaken(
    path: str, day: Ints, value: Floats, *, outside: Bools, crossed: Bools, stuck: Bools
) -> None:
    """Refuse a record most telling values of which are wrong in the same way.

    Parameters
    ----------
    path : str
        The file, for the message.
    day, value : arrays
        All temperatures, °C, and their days since 1970-01-01.
    outside, crossed, stuck : array of bool
        Which were dropped because no place has them, because the day's minimum was above its
        maximum, and as a stuck sensor's.

    Raises
    ------
    FileError
        If they are too many.
    """
    if not value.size:
        return
    _refuse_outside(path, value, outside)
    _refuse_days_on_end(path, day[outside], value[outside])
    if crossed.sum() >= 2 * LEAST_CROSSED and crossed.mean() > CROSSED_SHARE:
        raise FileError(
            f"on {counted(int(crossed.sum()) // 2, 'day')} the minimum lies above the maximum",
            path=path,
            expected="minimum and maximum under their own headings",
            remedy="Are the two columns the wrong way round?",
        )
    if stuck.sum() >= LEAST_STUCK and stuck.mean() > STUCK_SHARE:
        raise FileError(
            f"{stuck.sum():,} of {value.size:,} temperatures stay at the same number for weeks",
            path=path,
            expected="readings of a day each",
            remedy="Is the sensor stuck, or the column filled in?",
        )


def _refuse_outside(path: str, value: Floats, outside: Bools) -> None:
    """Refuse many different values that no place has; one number again and again is a code."""
    wrong = value[outside]
    if not wrong.size:
        return
    _, times = np.unique(wrong, return_counts=True)
    if times.max() > wrong.size / 2 and wrong.size > LEAST_OUTSIDE:
        wrong = wrong[:0]
    if wrong.size < LEAST_OUTSIDE or wrong.size <= OUTSIDE_SHARE * value.size:
        return
    raise FileError(
        f"{wrong.size:,} of {value.size:,} temperatures, as they were understood, are "
        f"{_both(wrong)}",
        path=path,
        expected="air temperatures that a place on Earth has",
        remedy=_remedy(value),
    )


def _refuse_days_on_end(path: str, day: Ints, value: Floats) -> None:
    """Refuse several days on end that no place has but that another unit explains."""
    order = np.argsort(day, kind="stable")
    day, value = day[order], value[order]
    for first, last in stretches(day):
        some = value[first : last + 1]
        celsius = (some - 32.0) / 1.8
        fits = celsius.min() > _COLDEST_C and celsius.max() < HOTTEST_AIR_C - 10.0
        if (
            day[last] - day[first] < DAYS_ON_END - 1
            or np.unique(some).size < DAYS_ON_END
            or not fits
        ):
            continue
        begin, end = dates_text(day[first], day[last])
        raise FileError(
            f"from {begin} to {end} temperatures, as they were understood, are "
            f"{some.min():.0f} to {some.max():.0f} °C",
            path=path,
            expected="one unit in all rows",
            remedy=f"Those days would be {celsius.min():.0f} to {celsius.max():.0f} °C if they "
            "were in °F: put the whole file in one unit.",
        )


def _both(value: Floats) -> str:
    """Return the range of temperatures in both scales."""
    low, high = float(value.min()), float(value.max())
    return f"{low:.0f} to {high:.0f} °C ({c_to_f(low):.0f} to {c_to_f(high):.0f} °F)"


def _remedy(value: Floats) -> str:
    """Return which unit would make a place of them."""
    for name, letter, turn in _OTHERS:
        low, high = np.quantile(turn(value), [0.02, 0.98])
        if low > _COLDEST_C and high < HOTTEST_AIR_C:
            return f"As {name} they would be {low:.0f} to {high:.0f} °C: say --units {letter}."
    return "Check the columns and their unit (--units F, C or K)."
