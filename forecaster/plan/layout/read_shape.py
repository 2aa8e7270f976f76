"""Words for a bed's outline → an outline in metres."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from forecaster.ground.errors import InputError
from forecaster.ground.units import parse_length
from forecaster.plan.layout.shapes import Outline, circle, polygon, rectangle, strip

if TYPE_CHECKING:
    from forecaster.book import Bed

EXAMPLES = (
    '"rectangle 4ft 25ft", "circle 10ft" (across), "strip 3ft around 20ft 30ft", '
    '"strip 3ft around circle 20ft", "polygon 0,0 10,0 10,6 0,4 ft", or corners in metres, '
    '"0,0 4,0 4,2.5 0,2.5"'
)
_PAIR = re.compile(r"(-?\d*\.?\d+),(-?\d*\.?\d+)")


def read_outline(text: str) -> Outline:
    """Return the outline that words describe.

    Parameters
    ----------
    text : str
        ``rectangle 4ft 25ft`` · ``circle 10ft``, its width across · ``strip 3ft around 20ft
        30ft`` or ``strip 3ft around circle 20ft``, the lawn's size after the strip's width ·
        ``polygon 0,0 10,0 10,6 0,4 ft``, corners in order, then the unit of them all · bare
        corners, ``0,0 4,0 4,2.5 0,2.5``, in metres.

    Raises
    ------
    InputError
        If the words are not one of these.
    """
    words = text.replace("×", " ").strip().split()
    kind, rest = (words[0].lower(), words[1:]) if words else ("", [])
    if kind == "polygon" and len(rest) >= 4:
        return _polygon(rest, text)
    if words and all(_PAIR.fullmatch(word) for word in words):
        return _polygon([*words, "m"], text)
    if kind == "strip" and len(rest) >= 3 and rest[1].lower() == "around":
        lawn = rest[2:] if rest[2].lower() == "circle" else ["rectangle", *rest[2:]]
        return strip(_plain(lawn, text), parse_length(rest[0]))
    return _plain([kind, *rest], text)


def outline_of_bed(bed: Bed) -> Outline | None:
    """Return the outline that the garden book has of a bed; None if it has none.

    Raises
    ------
    InputError
        If its corners cross, or its words are none: a book of an earlier version took any.
    """
    if bed.shape:
        return read_outline(bed.shape)
    return polygon(bed.outline) if bed.outline else None


def _plain(words: list[str], text: str) -> Outline:
    kind, sizes = words[0].lower(), words[1:]
    if kind == "circle" and len(sizes) == 1:
        return circle(parse_length(sizes[0]) / 2.0)
    if kind == "rectangle" and len(sizes) == 2:
        return rectangle(parse_length(sizes[0]), parse_length(sizes[1]))
    raise InputError(f"outline {text!r} not understood; expected {EXAMPLES}")


def _polygon(rest: list[str], text: str) -> Outline:
    pairs = [_PAIR.fullmatch(word) for word in rest[:-1]]
    found = [pair for pair in pairs if pair is not None]
    if len(found) != len(pairs):
        raise InputError(f"outline {text!r} not understood; expected {EXAMPLES}")
    unit_m = parse_length(f"1{rest[-1]}")
    return polygon([(float(p[1]) * unit_m, float(p[2]) * unit_m) for p in found])
