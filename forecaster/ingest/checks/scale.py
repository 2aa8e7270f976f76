"""Which unit a column is in: by option, by heading, or by what the values themselves can be.

Evidence in the values is taken only where the other scales would make a place that does not
exist; otherwise the user is asked.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import FileError, InputError
from forecaster.ingest.text.columns import normal

NAMES = {"F": "°F", "C": "°C", "K": "K", "T": "tenths of °C"}
_SPELLINGS = {
    "f": "F", "fahrenheit": "F", "c": "C", "celsius": "C", "centigrade": "C", "k": "K",
    "kelvin": "K", "t": "T", "tenths": "T", "0.1c": "T",
}  # fmt: skip

HOTTEST_AIR_C = 60.0
"""Above the highest air temperature accepted by the WMO archive of extremes (56.7 °C, Furnace
Creek, 1913; from memory)."""
COLDEST_AIR_C = -90.0
"""Below the lowest (−89.2 °C, Vostok, 1983; from memory)."""
WHOLE_YEAR_DAYS = 330
LEAST_SHARES = 10
_WARMEST_DAY_C = 48.0
_TENTHS_ABOVE = 140.0


def option(units: str | None) -> str | None:
    """Return the letter meant by the option `units`.

    Raises
    ------
    InputError
        If it is not a unit of temperature.
    """
    if units is None:
        return None
    key = str(units).strip().lower().replace("°", "").replace("deg", "").strip()
    if key not in _SPELLINGS:
        raise InputError(f"units is {units!r}; expected F, C or K, or tenths for tenths of °C")
    return _SPELLINGS[key]


def ask(path: str, seen: str, options: str = "--units F") -> FileError:
    """Return the error that asks the user for the unit; `options` are those of the command."""
    return FileError(
        f"the unit of the temperatures is not clear: {seen}",
        path=path,
        expected="a unit in the heading, as tmax_f or Tmax (°C)",
        remedy=f"Say which: units='F', 'C' or 'K' ({options}).",
    )


def air_unit(
    path: str, high: Floats, low: Floats, days: int, *, tenths: bool, metric: str = ""
) -> tuple[str, str]:
    """Decide the unit of daily maxima and minima from their values.

    Parameters
    ----------
    path : str
        The file, for the message.
    high, low : array
        Daily maxima and minima (or means), NaN allowed.
    days : int
        How many different days they cover.
    tenths : bool
        Whether the format is one that may hold tenths of °C.
    metric : str
        What else in the table says that it is in °C, in words; "" if nothing.

    Returns
    -------
    letter, why : str
    """
    high, low = high[np.isfinite(high)], low[np.isfinite(low)]
    if not len(high) or not len(low):
        high = low = np.concatenate([high, low])
    if not len(high):
        raise ask(path, "there are no values to judge by")
    top, bottom = float(np.quantile(high, 0.99)), float(np.quantile(low, 0.01))
    seen = f"values from {bottom:g} to {top:g} over {days} days"
    whole = bool(np.all(high == np.round(high)) and np.all(low == np.round(low)))
    if tenths and whole and (np.abs(np.concatenate([high, low])) > _TENTHS_ABOVE).sum() >= 3:
        return (
            "T",
            f"whole numbers as large as {np.abs(high).max():g} in a format that may use tenths",
        )
    if not tenths and bottom > 180 and top < 340:
        return "K", f"{seen} can only be kelvin"
    if HOTTEST_AIR_C < top <= _TENTHS_ABOVE:
        above = int((high > HOTTEST_AIR_C).sum())
        return "F", f"{above} maxima above 60, hotter than any place on Earth in °C"
    if top <= _WARMEST_DAY_C and days >= WHOLE_YEAR_DAYS and not (tenths and whole):
        warmest = (top - 32) / 1.8
        return (
            "C",
            f"the hottest days of a whole year are {top:g}; in °F that would be {warmest:.0f} °C",
        )
    if metric and top <= _WARMEST_DAY_C and not (tenths and whole):
        return "C", metric
    raise ask(path, seen)


_METRIC = re.compile(
    r"(?<![a-z])(?:mm|cm|hpa|kpa|mbar|m/s|ms-1|km/?h|w/?m|mj|m3|°c|degc)(?![a-z])|temperatur(?!e)"
    r"|temperature (?:max|min|moy)|teplot|fecha|\bdatum\b|lluvia|pluie|chuva|niederschlag|pioggi"
    r"|\b(?:t|ws|wd|temp|temperature|wind)[ _]?\d{1,2} ?m\b|srazk"
    r"|\bsuelo|\bsuolo|boden|\bpudy|\bmaxima\b|\bminima\b|[\u3040-\ud7ff]"
)
_IMPERIAL = re.compile(r"(?<![a-z])(?:inch(?:es)?|mph|inhg|psi|°f|degf|ft|in|fahrenheit)(?![a-z])")


def is_metric(headings: Sequence[str]) -> bool:
    """Whether headings name metric units, or are in a language of metric countries."""
    text = " | ".join(normal(h) for h in headings)
    return bool(_METRIC.search(text)) and not _IMPERIAL.search(text)


def soil_unit(path: str, value: Floats, *, metric: bool = False) -> tuple[str, str]:
    """Decide the unit of soil temperatures from their values, or from a metric table."""
    value = value[np.isfinite(value)]
    if not len(value):
        return "C", "no values"
    low, middle, top = (float(q) for q in np.quantile(value, [0.02, 0.5, 0.98]))
    seen = f"{len(value)} values from {value.min():g} to {value.max():g}"
    if len(value) >= LEAST_SHARES and value.min() >= 0.0 and value.max() <= 1.0:
        raise FileError(
            f"{seen} look like shares of water, not temperatures",
            path=path,
            expected="soil temperatures",
            remedy="If they are, say --readings-units C, for the book --units C.",
        )
    if low > 230 and top < 340:
        return "K", f"{seen} can only be kelvin"
    if top <= _TENTHS_ABOVE and (middle > 45 or (top > 65 and middle > 28)):
        return "F", f"a median of {middle:g} is no soil temperature in °C"
    if middle < 25 and top < 50:
        frozen = (middle - 32) / 1.8
        return "C", f"a median of {middle:g} would be frozen soil at {frozen:.0f} °C if it were °F"
    if metric and top <= HOTTEST_AIR_C:
        return "C", "the other headings are metric"
    raise ask(path, seen, "--readings-units F, for the book --units F")
