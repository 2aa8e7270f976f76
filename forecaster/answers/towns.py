"""Towns without a network: found by their name, the nearest of a position, and what is used there.

The table is GeoNames' (CC BY 4.0), made by ``scripts/make_towns.py``.
"""

from __future__ import annotations

import csv
import gzip
import io
import math
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from forecaster.packaged import data_path

LISTED = 8
FAHRENHEIT = frozenset(
    {"US", "PR", "GU", "VI", "AS", "MP", "BS", "BZ", "KY", "LR", "PW", "FM", "MH"}
)
"""Countries whose weather is told in °F (common knowledge, no source)."""
FAR_DEG = 4.0  # a town farther off says nothing of a place's country


@dataclass(frozen=True, slots=True, kw_only=True)
class Town:
    """A town: its state in the United States, its country's code and name, and where it lies."""

    name: str
    region: str
    code: str
    country: str
    latitude_deg: float
    longitude_deg: float
    zone: str

    @property
    def said(self) -> str:
        """Its name with state and country."""
        return ", ".join(part for part in (self.name, self.region, self.country) if part)


@cache
def towns() -> Sequence[tuple[str, Town]]:
    """Return all towns with their folded names, the largest first."""
    text = gzip.decompress(data_path("towns.csv.gz").read_bytes()).decode("utf-8")
    rows = csv.reader(io.StringIO(text))
    next(rows)
    return tuple(
        (
            folded(name),
            Town(
                name=name,
                region=region,
                code=code,
                country=country,
                latitude_deg=float(north),
                longitude_deg=float(east),
                zone=zone,
            ),
        )
        for name, region, code, country, north, east, zone in rows
    )


def folded(name: str) -> str:
    """Return a name without case and accents.

    >>> folded("São Paulo")
    'sao paulo'
    """
    bare = name.casefold()
    if bare.isascii():
        return " ".join(bare.split())
    bare = unicodedata.normalize("NFKD", bare)
    return " ".join("".join(c for c in bare if not unicodedata.combining(c)).split())


def find_towns(words: str) -> list[Town]:
    """Return towns whose name begins so, the largest first; `Salem, OR` looks in a state.

    What follows a comma must be the state or country.
    """
    name, *rest = [folded(part) for part in words.split(",")]
    where = {part for part in rest if part}
    if len(name) < 2:
        return []
    same: list[Town] = []
    begins: list[Town] = []
    for key, town in towns():
        if not key.startswith(name):
            continue
        if not where <= {town.region.lower(), town.code.lower(), folded(town.country)}:
            continue
        (same if key == name else begins).append(town)
        if len(same) >= LISTED:
            break
    return [*same, *begins][:LISTED]


@cache
def nearest_country(latitude_deg: float, longitude_deg: float) -> str:
    """Return the country of the nearest town; nothing where none is near."""
    shrink = math.cos(math.radians(latitude_deg))

    def off(town: Town) -> float:
        east = (town.longitude_deg - longitude_deg + 180.0) % 360.0 - 180.0
        return math.hypot(town.latitude_deg - latitude_deg, east * shrink)

    best = min((town for _, town in towns()), key=off)
    return best.code if off(best) < FAR_DEG else ""


def scale_at(latitude_deg: float, longitude_deg: float | None) -> Literal["F", "C"]:
    """Return the scale that a bare number means at a place: °F in the United States."""
    if longitude_deg is None:
        return "C"
    return "F" if nearest_country(latitude_deg, longitude_deg) in FAHRENHEIT else "C"
