"""Bare numbers and days of the command line: what the place uses, and said how they were taken."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

import click

from forecaster.cli.command import ARGS

if TYPE_CHECKING:
    from forecaster.words.phrases import Show

USED = "forecaster.used"
"""Key of `Context.meta` for the scale that bare numbers mean."""
_BARE = re.compile(r"\s*[+\-−]?(\d+\.?\d*|\.\d+)\s*")
_DAY = re.compile(r"\s*(\d{1,2})[/.\-](\d{1,2})[/.\-](\d{4})(?=\s|$)")

Units = tuple[str, str]
"""The unit of a bare number where °F is used, and elsewhere."""


def with_unit(
    words: str, units: Units, param: click.Parameter | None, ctx: click.Context | None
) -> str:
    """Return a measure with its unit: a bare number gets that of the place, and this is said."""
    if ctx is None or not _BARE.fullmatch(words):
        return words
    ours, other = units if used(ctx) == "F" else units[::-1]
    taken = f"{words.strip()}{ours}"
    _say(f"{_called(param)} {words.strip()} was taken as {taken}; write {words.strip()}{other} "
         "if that is meant.", ctx)  # fmt: skip
    return taken


def with_day(words: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
    """Return words whose first day, written 9/20/2026, stands as 2026-09-20.

    Where both orders could be meant it is that of the place.
    """
    match = _DAY.match(words)
    if ctx is None or match is None:
        return words
    first, second, year = (int(part) for part in match.groups())
    month_first = second > 12 or (first <= 12 and used(ctx) == "F")
    month, day = (first, second) if month_first else (second, first)
    taken = f"{year:04d}-{month:02d}-{day:02d}"
    _say(f"{_called(param)} {match[0].strip()} was taken as {taken} (year-month-day).", ctx)
    return taken + words[match.end() :]


def used(ctx: click.Context) -> Show:
    """Return the scale that bare numbers mean: that asked for, else the place's, else °F."""
    found: Show | None = ctx.meta.get(USED)
    if found is None:
        words = ctx.meta.get(ARGS, ())
        show = (_given(words, "--show") or "").upper()
        found = ctx.meta[USED] = "F" if show == "F" else "C" if show == "C" else _of_place(words)
    return found


def _of_place(words: Sequence[str]) -> Show:
    """Return what is used at the place that the call names; °F where that is not known."""
    from forecaster.answers.towns import scale_at
    from forecaster.cli.degrees import Degrees
    from forecaster.ground.errors import ForecasterError

    lat, lon = _given(words, "--lat"), _given(words, "--lon")
    if lat is not None and lon is not None:
        try:
            north = Degrees("N", "S", 90.0).convert(lat, None, None)
            return scale_at(north, Degrees("E", "W", 180.0).convert(lon, None, None))
        except click.BadParameter:
            return "F"  # refused where the option itself is read
    if lat is not None:
        return "F"
    try:
        return _of_book(_given(words, "--bed"), _given(words, "--book"))
    except ForecasterError:
        return "F"


def _of_book(bed: str | None, path: str | None) -> Show:
    """Return what is used at the place of a bed, or of the first place of the book."""
    from forecaster import book as kept
    from forecaster.answers.towns import scale_at

    if path is None and not kept.default_path().exists():
        return "F"
    with kept.open_book(path) as book:
        named = [one.place for one in kept.beds(book) if one.name == bed]
        places = [one for one in kept.places(book) if not named or one.name in named]
    return scale_at(places[0].latitude_deg, places[0].longitude_deg) if places else "F"


def _given(words: Sequence[str], option: str) -> str | None:
    """Return the value of an option in the words of a call, as it stands there."""
    for place, word in enumerate(words):
        if word == option and place + 1 < len(words):
            return words[place + 1]
        if word.startswith(f"{option}="):
            return word.partition("=")[2]
    return None


def _called(param: click.Parameter | None) -> str:
    return param.opts[-1] if isinstance(param, click.Option) else "The number"


def _say(words: str, ctx: click.Context) -> None:
    if not ctx.resilient_parsing:
        click.echo(words, err=True)


class Told(click.ParamType):  # type: ignore[type-arg]  # generic in newer click only
    """Words with a unit, or a bare number in that of the place; they stay words."""

    def __init__(self, name: str, units: Units) -> None:
        self.name, self.units = name, units

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the words with their unit."""
        return with_unit(str(value), self.units, param, ctx)


class ToldDay(click.ParamType):  # type: ignore[type-arg]  # generic in newer click only
    """A day or a moment in words; a day written 9/20/2026 is turned as the place writes it."""

    name: Literal["day"] = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the words with the day as year, month and day."""
        return with_day(str(value), param, ctx)


DEPTH, TEMPERATURE = Told("length", ("in", "cm")), Told("temperature", ("F", "C"))
HEIGHT, AREA_TOLD = Told("height", ("ft", "m")), Told("area", ("ft2", "m2"))
DAY_TOLD = ToldDay()
