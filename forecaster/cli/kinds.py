"""Kinds of values that options take: degrees, measures, chances, differences, days, scales."""

from __future__ import annotations

import re
from typing import Any, get_args

import click

from forecaster.cli.bare import Units, with_day, with_unit
from forecaster.ground.site import Cover, Soil


class Measure(click.ParamType):  # type: ignore[type-arg]  # generic in newer click only
    """A measure read by a function that takes words and gives SI."""

    def __init__(self, name: str, how: str, units: Units) -> None:
        self.name, self.how, self.units = name, how, units

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the measure; a bare number is in the unit that the place uses."""
        if not isinstance(value, str):
            return value
        from forecaster.ground import units
        from forecaster.ground.errors import InputError

        try:
            return getattr(units, self.how)(with_unit(value, self.units, param, ctx))
        except InputError as error:
            self.fail(f"{error}.", param, ctx)


class Day(click.DateTime):
    """A day of the calendar, in years that tables of days can hold."""

    FIRST, LAST = 1700, 2200

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the day at midnight."""
        words = with_day(value, param, ctx) if isinstance(value, str) else value
        found = super().convert(words, param, ctx)
        if not self.FIRST <= found.year <= self.LAST:
            self.fail(f"{value!r} is no day of the years {self.FIRST} to {self.LAST}.", param, ctx)
        return found


LENGTH = Measure("length", "parse_length", ("in", "cm"))
AREA = Measure("area", "parse_area", ("ft2", "m2"))
BAG, LOAD = (Measure("volume", "parse_volume", units) for units in (("cuft", "L"), ("yd3", "m3")))
WEIGHT = Measure("weight", "parse_mass", ("lb", "kg"))
FLOW = Measure("flow", "parse_flow", ("gpm", "L/min"))
SCALES = click.Choice(["F", "C", "K"], case_sensitive=False)
SCALES_SHOWN = click.Choice(["F", "C"], case_sensitive=False)
DATE = Day(formats=["%Y-%m-%d"])
SOIL, COVER = (click.Choice(get_args(one), case_sensitive=False) for one in (Soil, Cover))


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


def difference(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    """Return a difference of temperature in °C from -3F or 1.5C."""
    if value is None:
        return None
    value = with_unit(value, ("F", "C"), param, ctx)
    match = re.fullmatch(r"\s*([+\-−]?\d*\.?\d+)\s*°?\s*([FC])\s*", value, re.IGNORECASE)
    if match is None:
        raise click.BadParameter(f"{value!r} is not understood; write a difference, as -3F or 1C.")
    from forecaster.ground.units import f_to_c_difference

    degrees = float(match[1].replace("−", "-"))
    return f_to_c_difference(degrees) if match[2].upper() == "F" else degrees
