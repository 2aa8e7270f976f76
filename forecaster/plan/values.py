"""Numbers of a plan: packaged ones by name, and what a number must be."""

from __future__ import annotations

import math

from forecaster.ground.errors import InputError
from forecaster.packaged import load_values


def default(name: str, table: str = "plan_defaults.csv") -> float:
    """Return one packaged value."""
    return load_values(table)[name].value


def check_positive(**values: float) -> None:
    """Refuse what is not a number above zero, by name.

    Raises
    ------
    InputError
        Naming the argument, what came and what was expected.
    """
    for name, value in values.items():
        if not (isinstance(value, int | float) and math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} is {value!r}; expected a number above 0")


def check_not_negative(**values: float) -> None:
    """Refuse what is not a number of 0 or more, by name.

    Raises
    ------
    InputError
        Naming the argument, what came and what was expected.
    """
    for name, value in values.items():
        if not (isinstance(value, int | float) and math.isfinite(value) and value >= 0.0):
            raise InputError(f"{name} is {value!r}; expected a number of 0 or more")


def whole_up(number: float) -> int:
    """Return the next whole number, a hair's breadth of rounding forgiven.

    >>> whole_up(3.0000000001), whole_up(3.01)
    (3, 4)
    """
    return math.ceil(number - 1e-9 * max(1.0, abs(number)))
