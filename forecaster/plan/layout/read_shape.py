"""Words for a bed's outline → an outline in metres."""

from __future__ import annotations

import re

from forecaster.ground.errors import InputError
from forecaster.ground.units import parse_length
from forecaster.plan.layout.shapes import Outline, circle, polygon, rectangle, strip

EXAMPLES = (
    '"rectangle 4ft 25ft", "circle 10ft" (across), "strip 3ft around 20ft 30ft", '
    '"strip 3ft around circle 20ft" or "polygon 0,0 10,0 10,6 0,4 ft"'
)


def read_outline(text: str) -> Outline:
    """Return the outline that words describe.

    Parameters
    ----------
    text : str
        ``rectangle 4ft 25ft`` · ``circle 10ft``, its width across · ``strip 3ft around 20ft
        30ft`` or ``strip 3ft around circle 20ft``, the lawn's size after the strip's width ·
        ``polygon 0,0 10,0 10,6 0,4 ft``, corners in order, then the unit of them all.

    Raises
    ------
    InputError
        If the words are not one of these.
    """
    words = text.replace("×", " ").strip().split()
    kind, rest = (words[0].lower(), words[1:]) if words else ("", [])
    if kind == "polygon" and len(rest) >= 4:
        return _polygon(rest, text)
    if kind == "strip" and len(rest) >= 3 and rest[1].lower() == "around":
        lawn = rest[2:] if rest[2].lower() == "circle" else ["rectangle", *rest[2:]]
        return strip(_plain(lawn, text), parse_length(rest[0]))
    return _plain([kind, *rest], text)


def _plain(words: list[str], text: str) -> Outline:
    kind, sizes = words[0].lower(), words[1:]
    if kind == "circle" and len(sizes) == 1:
        return circle(parse_length(sizes[0]) / 2.0)
    if kind == "rectangle" and len(sizes) == 2:
        return rectangle(parse_length(sizes[0]), parse_length(sizes[1]))
    raise InputError(f"outline {text!r} not understood; expected {EXAMPLES}")


def _polygon(rest: list[str], text: str) -> Outline:
    pairs = [re.fullmatch(r"(-?\d*\.?\d+),(-?\d*\.?\d+)", word) for word in rest[:-1]]
    found = [pair for pair in pairs if pair is not None]
    if len(found) != len(pairs):
        raise InputError(f"outline {text!r} not understood; expected {EXAMPLES}")
    unit_m = parse_length(f"1{rest[-1]}")
    return polygon([(float(p[1]) * unit_m, float(p[2]) * unit_m) for p in found])
