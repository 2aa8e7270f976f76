"""Areas, weights and lengths of a bed in words: US units lead, SI in brackets."""

from __future__ import annotations

from forecaster.ground.units import (
    KILOGRAMS_PER_POUND,
    METRES_PER_INCH,
    SQUARE_METRES_PER_SQUARE_FOOT,
)
from forecaster.words.phrases import number


def area(area_m2: float) -> str:
    """Return an area: `100 ft² (9.3 m²)`."""
    return f"{number(area_m2 / SQUARE_METRES_PER_SQUARE_FOOT, 0)} ft² ({number(area_m2)} m²)"


def mass(mass_kg: float) -> str:
    """Return a weight: `1.7 lb (0.76 kg)`."""
    pounds = mass_kg / KILOGRAMS_PER_POUND
    if pounds >= 20.0:
        return f"{number(pounds, 0)} lb ({number(mass_kg, 0)} kg)"
    return f"{number(pounds)} lb ({number(mass_kg, 2)} kg)"


def small_length(length_m: float) -> str:
    """Return a length: `8 in (20 cm)`."""
    return f"{number(length_m / METRES_PER_INCH)} in ({number(100.0 * length_m)} cm)"
