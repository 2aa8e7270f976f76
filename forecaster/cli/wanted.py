"""Words for what goes into a bed: flats and prices, colours, weeks, shares."""

from __future__ import annotations

import re
from collections.abc import Sequence

import click

Colours = tuple[tuple[str, int | None], ...]


def flats_of(words: Sequence[str], price: float | None) -> tuple[tuple[int, ...], dict[int, float]]:
    """Return flat sizes and their prices from words as 36 or 36=18.50."""
    sizes, prices = [], {}
    for word in words:
        match = re.fullmatch(r"\s*([1-9]\d{0,3})\s*(?:=\s*(\d+(?:\.\d+)?))?\s*", word)
        if match is None:
            raise click.UsageError(f"--flat {word!r} is not understood; write 36 or 36=18.50.")
        sizes.append(int(match[1]))
        if match[2] is not None:
            prices[int(match[1])] = float(match[2])
    if price is not None:
        if len(sizes) != 1:
            raise click.UsageError("--price needs one --flat; for several write --flat 36=18.50.")
        prices[sizes[0]] = price
    return tuple(sizes), prices


def pair_of(words: str, mark: str, option: str, example: str) -> tuple[float, float]:
    """Return two numbers with a mark between them."""
    match = re.fullmatch(rf"\s*(\d+(?:\.\d+)?)\s*{mark}\s*(\d+(?:\.\d+)?)\s*", words)
    if match is None:
        raise click.UsageError(f"{option} {words!r} is not understood; write it as {example}.")
    return float(match[1]), float(match[2])


def weeks_of(words: str, option: str = "--sow-weeks") -> tuple[float, float]:
    """Return a range of weeks from words as 8-10."""
    return pair_of(words, "[-–]", option, "8-10")


def colours_of(words: str) -> Colours:
    """Return plants by colour from words as yellow=72,white=72, or yellow,white to share evenly."""
    from forecaster.plan.layout.lightness import srgb_of

    found: dict[str, int | None] = {}
    for part in words.split(","):
        match = re.fullmatch(r"\s*([^=]+?)\s*(?:=\s*([1-9]\d{0,3}))?\s*", part)
        if match is None or match[1] in found:
            raise click.UsageError(
                f"--colours {part.strip()!r} is not understood; write yellow=72,white=72, or "
                "yellow,white to share the bed evenly."
            )
        srgb_of(match[1])
        found[match[1]] = None if match[2] is None else int(match[2])
    return tuple(found.items())
