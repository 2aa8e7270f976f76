"""Arguments as they are given: of the kind and within the bounds that a function says, or refused.

For the public functions and the dataclasses that a caller makes; inside, types are trusted.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from forecaster.ground.errors import InputError


def number(name: str, value: object, low: float, high: float, unit: str) -> float:
    """Return a finite number within bounds.

    Parameters
    ----------
    name : str
        The argument, for the message.
    value : object
        What came.
    low, high : float
        Bounds, both allowed.
    unit : str
        In words, as ``degrees north``.

    Raises
    ------
    InputError
        If it is none.
    """
    known = _as_float(value)
    if known is None or not low <= known <= high:
        raise InputError(
            f"{name} is {shown(value)}; expected a number from {low:g} to {high:g} ({unit})"
        )
    return known


def whole(name: str, value: object, low: int, high: int) -> int:
    """Return a whole number within bounds.

    Raises
    ------
    InputError
        If it is none.
    """
    known = _as_float(value)
    if known is None or not hasattr(value, "__index__") or not low <= known <= high:
        raise InputError(
            f"{name} is {shown(value)}; expected a whole number from {low:,} to {high:,}"
        )
    return int(value.__index__())


def word(name: str, value: object, known: Sequence[str]) -> str:
    """Return one of the words known.

    Raises
    ------
    InputError
        If it is none of them.
    """
    if not isinstance(value, str) or value not in known:
        raise InputError(f"{name} is {shown(value)}; expected one of {', '.join(known)}")
    return value


def one(name: str, value: object, kind: type | tuple[type, ...], expected: str) -> Any:
    """Return a value of a kind.

    Raises
    ------
    InputError
        If it is of another.
    """
    if not isinstance(value, kind):
        raise InputError(f"{name} is {shown(value)}; expected {expected}")
    return value


def several(name: str, value: object, kind: type, expected: str) -> list[Any]:
    """Return at least one value of a kind, as a list.

    Raises
    ------
    InputError
        If it is no list of them.
    """
    if isinstance(value, Iterable) and not isinstance(value, str | bytes | dict):
        items = list(value)
        if items and all(isinstance(item, kind) for item in items):
            return items
        if not items:
            raise InputError(f"{name} is empty; expected {expected}")
    raise InputError(f"{name} is {shown(value)}; expected {expected}")


def shown(value: object) -> str:
    """Return a value as a message shows it: on one line, and short."""
    if isinstance(value, str | int | float | bool | bytes | None):
        text = " ".join(repr(value).split())
    else:
        text = f"a {type(value).__name__}"
    return text if len(text) <= 60 else text[:57] + "..."


def _as_float(value: object) -> float | None:
    """Return a finite float of a real number; None of anything else, also of True and text."""
    if isinstance(value, bool | str | bytes | complex) or type(value).__name__ == "bool":
        return None
    if not hasattr(value, "__float__") or getattr(value, "ndim", 0) != 0:
        return None
    try:
        known = float(value)
    except (TypeError, ValueError, OverflowError):
        return None
    return known if math.isfinite(known) else None
