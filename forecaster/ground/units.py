"""Conversions at the edge: inside the package everything is SI, temperatures in °C.

A temperature and a difference of temperatures are converted by different functions.
All factors are exact by definition (NIST Special Publication 811, appendix B).
"""

from __future__ import annotations

import re
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.errors import InputError

Number = TypeVar("Number", float, NDArray[np.float64])

METRES_PER_INCH = 0.0254
METRES_PER_FOOT = 0.3048
KELVIN_AT_0_C = 273.15

_LENGTHS = {
    "m": 1.0,
    "cm": 0.01,
    "mm": 0.001,
    "in": METRES_PER_INCH,
    "inch": METRES_PER_INCH,
    "inches": METRES_PER_INCH,
    '"': METRES_PER_INCH,
    "ft": METRES_PER_FOOT,
}


def f_to_c(temp_f: Number) -> Number:
    """Return a temperature in °C from one in °F."""
    return (temp_f - 32.0) / 1.8


def c_to_f(temp_c: Number) -> Number:
    """Return a temperature in °F from one in °C."""
    return temp_c * 1.8 + 32.0


def f_to_c_difference(difference_f: Number) -> Number:
    """Return a temperature difference in °C (K) from one in °F."""
    return difference_f / 1.8


def c_to_f_difference(difference_c: Number) -> Number:
    """Return a temperature difference in °F from one in °C (K)."""
    return difference_c * 1.8


def k_to_c(temp_k: Number) -> Number:
    """Return a temperature in °C from one in kelvin."""
    return temp_k - KELVIN_AT_0_C


def parse_length(text: str) -> float:
    """Return a length in metres from words such as ``4in``, ``10 cm`` or ``0.1m``.

    Raises
    ------
    InputError
        If there is no number, or no unit that says which length it is.
    """
    match = re.fullmatch(r"\s*([0-9]*\.?[0-9]+)\s*([a-zA-Z\"]*)\s*", text)
    if match is None or match[2].lower() not in _LENGTHS:
        raise InputError(f"length {text!r} not understood; write it with its unit, as 4in or 10cm")
    return float(match[1]) * _LENGTHS[match[2].lower()]


def parse_temperature(text: str) -> float:
    """Return a temperature in °C from words such as ``65F``, ``18.3 C`` or ``65 °F``.

    Raises
    ------
    InputError
        If there is no number, or no unit: 20 could be either scale.
    """
    match = re.fullmatch(r"\s*([+-]?[0-9]*\.?[0-9]+)\s*°?\s*([fFcC])\s*", text)
    if match is None:
        raise InputError(f"temperature {text!r} not understood; write its unit, as 65F or 18.3C")
    value = float(match[1])
    return f_to_c(value) if match[2].upper() == "F" else value


SQUARE_METRES_PER_SQUARE_FOOT = METRES_PER_FOOT**2
CUBIC_METRES_PER_CUBIC_FOOT = METRES_PER_FOOT**3
CUBIC_METRES_PER_CUBIC_YARD = 27.0 * CUBIC_METRES_PER_CUBIC_FOOT
CUBIC_METRES_PER_GALLON = 231.0 * METRES_PER_INCH**3  # the US gallon is 231 cubic inches
KILOGRAMS_PER_POUND = 0.45359237

_AREAS = {
    "ft2": SQUARE_METRES_PER_SQUARE_FOOT,
    "sqft": SQUARE_METRES_PER_SQUARE_FOOT,
    "m2": 1.0,
    "sqm": 1.0,
    "yd2": 9.0 * SQUARE_METRES_PER_SQUARE_FOOT,
    "sqyd": 9.0 * SQUARE_METRES_PER_SQUARE_FOOT,
}
_VOLUMES = {
    "ft3": CUBIC_METRES_PER_CUBIC_FOOT,
    "cuft": CUBIC_METRES_PER_CUBIC_FOOT,
    "yd3": CUBIC_METRES_PER_CUBIC_YARD,
    "cuyd": CUBIC_METRES_PER_CUBIC_YARD,
    "m3": 1.0,
    "l": 1e-3,
    "gal": CUBIC_METRES_PER_GALLON,
}
_MASSES = {"lb": KILOGRAMS_PER_POUND, "lbs": KILOGRAMS_PER_POUND, "kg": 1.0}
_FLOWS = {
    "gpm": CUBIC_METRES_PER_GALLON / 60.0,
    "gal/min": CUBIC_METRES_PER_GALLON / 60.0,
    "l/min": 1e-3 / 60.0,
    "lpm": 1e-3 / 60.0,
}


def parse_area(text: str) -> float:
    """Return an area in m² from words such as ``100ft2``, ``100 sq ft`` or ``9.3 m²``."""
    return _parse(text, _AREAS, "area", "100ft2 or 9.3m2")


def parse_volume(text: str) -> float:
    """Return a volume in m³ from words such as ``2cuft``, ``2 yd3`` or ``50 L``."""
    return _parse(text, _VOLUMES, "volume", "2cuft, 1yd3 or 50L")


def parse_mass(text: str) -> float:
    """Return a mass in kg from words such as ``1500lb`` or ``700 kg``."""
    return _parse(text, _MASSES, "weight", "1500lb or 700kg")


def parse_flow(text: str) -> float:
    """Return a flow of water in m³/s from words such as ``5gpm`` or ``20 L/min``."""
    return _parse(text, _FLOWS, "flow", "5gpm or 20L/min")


def _parse(text: str, units: dict[str, float], kind: str, example: str) -> float:
    plain = text.replace("²", "2").replace("³", "3").replace(" ", "").lower()
    match = re.fullmatch(r"([0-9]*\.?[0-9]+)([a-z][a-z/]*[23]?)", plain)
    if match is None or match[2] not in units:
        raise InputError(f"{kind} {text!r} not understood; write it with its unit, as {example}")
    return float(match[1]) * units[match[2]]
