"""Coordinates written in the lines above a table."""

from __future__ import annotations

import re
from itertools import pairwise

from forecaster.ingest.text.bytes import Source

_NUMBER = r"[^\d\n+\-−]{0,6}([+\-−]?\d{1,3}(?:\.\d+)?)(?![\d.]*\s*°?\s*[WS])"
_LATITUDE = re.compile(rf"\blat(?:itude)?{_NUMBER}", re.IGNORECASE)
_LONGITUDE = re.compile(rf"\b(?:lon|long|lng|longitude){_NUMBER}", re.IGNORECASE)


def place_above(source: Source, first_line: int) -> tuple[float | None, float | None]:
    """Return latitude and longitude from the lines above the data, None where not found.

    Both ``Latitude 33.36   Longitude -81.33`` and a row of headings with a row of numbers below
    are understood.
    """
    lines = source.head(first_line)[: first_line - 1]
    pairs = [" ".join(lines), *_rows_below(lines)]
    for text in pairs:
        latitude, longitude = (_value(p, text) for p in (_LATITUDE, _LONGITUDE))
        if latitude is not None and abs(latitude) <= 90:
            fine = longitude is not None and abs(longitude) <= 180
            return latitude, longitude if fine else None
    return None, None


def _value(pattern: re.Pattern[str], text: str) -> float | None:
    match = pattern.search(text)
    return float(match[1].replace("−", "-")) if match else None


def _rows_below(lines: list[str]) -> list[str]:
    """Write each heading beside the cell below it."""
    found = []
    for above, below in pairwise(lines):
        heads, cells = re.split(r"[,;\t]", above), re.split(r"[,;\t]", below)
        if "lat" in above.lower() and len(heads) == len(cells) > 1:
            found.append(" ".join(f"{h} {c}" for h, c in zip(heads, cells, strict=True)))
    return found
