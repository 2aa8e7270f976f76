"""How light a colour is, and whether it can be told from the ground at a distance."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from forecaster.ground.errors import InputError
from forecaster.packaged import load_csv

LEAST_DIFFERENCE = 20.0
"""L* by which a flower must be lighter or darker than the ground to be seen from afar: an
assumption; just noticeable, side by side, is about 1 (from memory)."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A colour against the ground.

    Parameters
    ----------
    name : str
    lightness : float
        L*, 0 (black) to 100 (white).
    difference : float
        L* of the flower less that of the ground.
    vanishes : bool
        Whether that is less than `LEAST_DIFFERENCE` either way.
    """

    name: str
    lightness: float
    difference: float
    vanishes: bool


def luminance(srgb: str) -> float:
    """Return the relative luminance Y, 0 to 1, of a colour written ``#rrggbb``.

    The sRGB transfer function and primaries of IEC 61966-2-1:1999: c/12.92 up to 0.04045, else
    ((c + 0.055)/1.055)^2.4; Y = 0.2126 R + 0.7152 G + 0.0722 B.

    Raises
    ------
    InputError
        If it is not written so.
    """
    match = re.fullmatch(r"#([0-9a-fA-F]{2})([0-9a-fA-F]{2})([0-9a-fA-F]{2})", srgb.strip())
    if match is None:
        raise InputError(f"colour {srgb!r} not understood; expected #rrggbb, as #bb1f2d")
    channels = [int(part, 16) / 255.0 for part in match.groups()]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def lightness(srgb: str) -> float:
    """Return L* of a colour written ``#rrggbb``, 0 to 100.

    L* = 116·f(Y) − 16, f(Y) = Y^(1/3) above (6/29)³, else Y/(3·(6/29)²) + 4/29, with the white
    of Y = 1 (CIE 1976; CIE 15, Colorimetry).

    >>> round(lightness("#ffffff")), round(lightness("#000000"))
    (100, 0)
    """
    y = luminance(srgb)
    f = y ** (1.0 / 3.0) if y > (6.0 / 29.0) ** 3 else y / (3.0 * (6.0 / 29.0) ** 2) + 4.0 / 29.0
    return 116.0 * f - 16.0


@cache
def colours(kind: str = "flower") -> dict[str, str]:
    """Return the packaged colours, or grounds, as name → ``#rrggbb``."""
    return {
        row["name"]: row["srgb"] for row in load_csv("flower_colours.csv") if row["kind"] == kind
    }


def srgb_of(name: str) -> str:
    """Return a flower colour by name or as it is written, ``#rrggbb``.

    Raises
    ------
    InputError
        If the name is not known.
    """
    if name.strip().startswith("#"):
        luminance(name)
        return name.strip().lower()
    known = colours()
    found = known.get(name.strip().lower())
    if found is None:
        raise InputError(
            f"colour {name!r} is not known; expected #rrggbb or one of {', '.join(sorted(known))}"
        )
    return found


def seen(name: str, ground: str = "soil") -> Seen:
    """Return how a flower colour stands out from the ground.

    Parameters
    ----------
    name : str
        A packaged colour or ``#rrggbb``.
    ground : str
        ``soil`` (dark and moist), ``bark``, or ``#rrggbb``.
    """
    grounds = colours("ground")
    if ground not in grounds and not ground.startswith("#"):
        raise InputError(
            f"ground {ground!r} is not known; expected #rrggbb or one of {', '.join(grounds)}"
        )
    own = lightness(srgb_of(name))
    difference = own - lightness(grounds.get(ground, ground))
    return Seen(name, own, difference, abs(difference) < LEAST_DIFFERENCE)
