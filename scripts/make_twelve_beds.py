#!/usr/bin/env python3
"""Make a garden book with twelve beds in three places, all of it invented.

    python scripts/make_twelve_beds.py BOOK.db

Weather, soil and readings come from the recipe of `make_demo`, with another seed, warmth and rain
for each place: nothing here was measured anywhere. In each place one bed has a thermometer, in
the first a second one a logger; the others answer from the air alone, as most beds do.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))

import make_demo
import pandas as pd

from forecaster import book as kept
from forecaster.ground.site import Soil
from forecaster.ground.units import METRES_PER_FOOT
from forecaster.ingest import read_air, read_readings

TODAY = make_demo.TODAY
LOGGED_DAYS = 400
FLOWERS = ("pansy", "viola", "snapdragon")
FEET = METRES_PER_FOOT


@dataclass(frozen=True, slots=True)
class Ground:
    """A bed: name, sides in feet, soil, what goes in in autumn, whether mulch lies on it."""

    name: str
    sides_ft: tuple[float, float]
    soil: Soil
    crops: tuple[str, ...]
    mulched: bool = False


PLACES: dict[str, tuple[float, dict[str, float], tuple[Ground, ...]]] = {
    "Eddermarl Terrace": (
        -36.2,
        {},
        (
            Ground("gate bed", (4, 25), "loam", ("pansy",)),
            Ground("long bed", (5, 40), "loam", ("pansy", "viola")),
            Ground("wall bed", (3, 30), "sandy loam", ("viola",)),
            Ground("herb bed", (4, 12), "loam", ("lettuce", "spinach")),
        ),
    ),
    "Lower Orrin": (
        -36.4,
        {"mean_c": 14.6, "rain_mean_mm": 8.0},
        (
            Ground("meadow bed", (6, 30), "clay", ("pansy",)),
            Ground("ditch bed", (4, 20), "clay", ("snapdragon",)),
            Ground("shed bed", (4, 16), "clay", ("kale",), mulched=True),
            Ground("frame bed", (4, 8), "amended", ("lettuce",)),
        ),
    ),
    "Sallow Rise": (
        -35.9,
        {"mean_c": 16.2, "rain_mean_mm": 5.5},
        (
            Ground("top bed", (5, 20), "sandy loam", ("pansy",)),
            Ground("bank bed", (3, 24), "sandy loam", ("viola",)),
            Ground("sign bed", (6, 10), "sand", ("pansy",)),
            Ground("porch bed", (4, 10), "sandy loam", ("kale", "lettuce")),
        ),
    ),
}
"""By name: latitude, what the demo's recipe has otherwise, and beds, the first one's read."""


@contextmanager
def recipe(**other: float) -> Iterator[None]:
    """Have the demo's recipe otherwise for a while."""
    before = dict(make_demo.RECIPE)
    make_demo.RECIPE.update(other)
    try:
        yield
    finally:
        make_demo.RECIPE.update(before)


def make_book(path: Path) -> None:
    """Write the book; its air ends on the demo's day."""
    with kept.open_book(path, create=True) as book:
        for number, (name, (latitude, other, beds)) in enumerate(PLACES.items()):
            with recipe(**other):
                world = make_demo.make_world(after_days=0, seed=make_demo.SEED + number)
            place = kept.Place(name=name, latitude_deg=latitude, longitude_deg=146.6)
            with book.batch("start", name) as batch:
                kept.add_place(batch, place)
                kept.add_air(batch, name, read(world, air=True), source="invented")
                for bed in beds:
                    kept.add_bed(batch, made_bed(bed, name))
                    for crop in bed.crops:
                        kept.add_want(batch, wanted(bed.name, crop))
                kept.add_readings(batch, beds[0].name, read(world, air=False))
                if number == 0:
                    kept.add_readings(batch, beds[1].name, logged(world))


def read(world: make_demo.World, *, air: bool) -> pd.DataFrame:
    """Return a world's air, or its gardeners' log, as the file that they have is read."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "table.csv"
        text = make_demo.air_text(world) if air else make_demo.readings_text(world)
        file.write_text(text, encoding="utf-8")
        return read_air(file) if air else read_readings(file)


def logged(world: make_demo.World) -> pd.DataFrame:
    """Return the soil's daily means as a logger has them."""
    days, soil_c = pd.DatetimeIndex(world.days), world.soil_c.round(2)
    table = pd.DataFrame({"time": days, "temp_c": soil_c, "depth_m": 0.1, "span": "day"})
    return table.iloc[-LOGGED_DAYS:]


def made_bed(bed: Ground, place: str) -> kept.Bed:
    """Return a bed as the book has it, its outline in metres."""
    wide, long = (side * FEET for side in bed.sides_ft)
    made = kept.Bed(
        name=bed.name,
        place=place,
        outline=((0.0, 0.0), (wide, 0.0), (wide, long), (0.0, long)),
        soil=bed.soil,
    )
    return replace(made, cover="mulch") if bed.mulched else made


def wanted(bed: str, crop: str) -> kept.Want:
    """Return what the book says goes into a bed: flowers in two colours, priced by the flat."""
    if crop not in FLOWERS:
        return kept.Want(bed=bed, season="autumn", what=crop)
    return kept.Want(
        bed=bed, season="autumn", what=crop, colours=(("yellow", None), ("white", None)),
        flats=((36, 18.5), (48, 22.0)), currency="AUD", spare_share=0.05,
    )  # fmt: skip


def main(words: list[str]) -> Any:
    """Make the book named."""
    if len(words) != 1 or words[0].startswith("-"):
        sys.exit(__doc__)
    path = Path(words[0])
    if path.exists():
        sys.exit(f"{path} is there already; name a new file")
    make_book(path)
    ago = (date.today() - TODAY) // timedelta(days=1)
    print(f"{path}: twelve beds in three places, their air ends on {TODAY}, {ago} days ago.")
    print(f"Try: crossday week --book {path} --today {TODAY}")


if __name__ == "__main__":
    main(sys.argv[1:])
