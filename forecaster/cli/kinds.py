"""Kinds of values that options take: degrees, measures, chances, differences, days, scales."""

from __future__ import annotations

import re
from typing import Any, NoReturn, get_args

import click

from forecaster.ground.site import Cover, Soil


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


class Measure(click.ParamType):  # type: ignore[type-arg]  # generic in newer click only
    """A measure read by a function that takes words and gives SI."""

    def __init__(self, name: str, how: str) -> None:
        self.name, self.how = name, how

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the measure."""
        if not isinstance(value, str):
            return value
        from forecaster.ground import units
        from forecaster.ground.errors import InputError

        try:
            return getattr(units, self.how)(value)
        except InputError as error:
            self.fail(f"{error}.", param, ctx)


class Day(click.DateTime):
    """A day of the calendar, in years that tables of days can hold."""

    FIRST, LAST = 1700, 2200

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the day at midnight."""
        found = super().convert(value, param, ctx)
        if not self.FIRST <= found.year <= self.LAST:
            self.fail(f"{value!r} is no day of the years {self.FIRST} to {self.LAST}.", param, ctx)
        return found


LENGTH, AREA = Measure("length", "parse_length"), Measure("area", "parse_area")
VOLUME, WEIGHT = Measure("volume", "parse_volume"), Measure("weight", "parse_mass")
FLOW = Measure("flow", "parse_flow")
SCALES = click.Choice(["F", "C", "K"], case_sensitive=False)
SCALES_SHOWN = click.Choice(["F", "C"], case_sensitive=False)
DATE = Day(formats=["%Y-%m-%d"])
SOILS, COVERS = get_args(Soil), get_args(Cover)


def once(_: click.Context, param: click.Parameter, value: tuple[str, ...]) -> str | None:
    """Return the value of an option that may be given once; a second one is not dropped."""
    if len(value) > 1:
        raise click.UsageError(
            f"{param.opts[0]} stands here {len(value)} times; name one. "
            "week, plan and report take several beds."
        )
    return value[0] if value else None


def share(_: click.Context, __: click.Parameter, value: str | None) -> float | None:
    """Return a probability from 10% or 0.1."""
    if value is None:
        return None
    match = re.fullmatch(r"\s*(\d*\.?\d+)\s*(%?)\s*", value)
    share = float(match[1]) / (100.0 if match[2] else 1.0) if match else -1.0
    if not 0.0 <= share <= 1.0:
        raise click.BadParameter(f"{value!r} is not understood; write a chance, as 10% or 0.1.")
    return share


def difference(_: click.Context, __: click.Parameter, value: str | None) -> float | None:
    """Return a difference of temperature in °C from -3F or 1.5C."""
    if value is None:
        return None
    match = re.fullmatch(r"\s*([+\-−]?\d*\.?\d+)\s*°?\s*([FC])\s*", value, re.IGNORECASE)
    if match is None:
        raise click.BadParameter(f"{value!r} is not understood; write a difference, as -3F or 1C.")
    from forecaster.ground.units import f_to_c_difference

    degrees = float(match[1].replace("−", "-"))
    return f_to_c_difference(degrees) if match[2].upper() == "F" else degrees
