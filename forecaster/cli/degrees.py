"""Degrees of latitude and longitude, as options take them."""

from __future__ import annotations

import re
from typing import Any, NoReturn

import click


class Degrees(click.ParamType):  # type: ignore[type-arg]  # generic in newer click only
    """Degrees with or without a letter: ``33.36``, ``33.36N``, ``81.33 W``, ``-36.2``."""

    name = "degrees"

    def __init__(self, positive: str, negative: str, most: float) -> None:
        self.positive, self.negative, self.most = positive, negative, most

    def convert(
        self,
        value: Any,
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> float:
        """Return degrees, positive to the north and east."""
        if isinstance(value, float | int):
            return float(value)
        letters = self.positive + self.negative
        match = re.fullmatch(
            rf"\s*([+\-−]?)(\d+(?:\.\d*)?|\.\d+)\s*°?\s*([{letters}]?)\s*", value, re.IGNORECASE
        )
        if match is None or (match[1] and match[3]):
            self._refuse(value, param, ctx)
        south = match[1] in ("-", "−") or match[3].upper() == self.negative
        degrees = float(match[2])
        if degrees > self.most:
            self._refuse(value, param, ctx)
        return -degrees if south else degrees

    def _refuse(
        self, value: str, param: click.Parameter | None, ctx: click.Context | None
    ) -> NoReturn:
        self.fail(
            f"{value!r} is not understood; write degrees up to {self.most:g}, as 33.36, "
            f"33.36{self.positive}, 33.36{self.negative} or -33.36.",
            param,
            ctx,
        )
