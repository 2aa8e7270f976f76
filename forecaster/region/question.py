"""What a region is asked: one question for all of its places."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from datetime import date
from functools import cache
from importlib.metadata import version
from pathlib import Path

from forecaster.answers.check import LEADS_DAYS
from forecaster.answers.crops import Crop, Wish, find_crop, known_crops
from forecaster.answers.window import Threshold
from forecaster.ground.errors import InputError
from forecaster.ground.site import Cover, Soil
from forecaster.packaged import data_path

WISH = Wish()
WEIGH_ON_NUMBERS = ("crossday", "numpy", "scipy", "pandas")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked of every place.

    Parameters
    ----------
    thresholds : tuple of Threshold
        Soil temperatures; or, where there is none, crops.
    crops : tuple of str
        Names of crops.
    wish : Wish
        What is wanted of the crops' windows.
    own_crops : str
        Path of the user's own crop thresholds; empty if there is none.
    now : date
        The day on which it is asked: a record that ends long before it tells no one to go.
    today : date, optional
        Day of the forecast; by default each record's last.
    by : date, optional
        The chance of having settled, or of the day to set out, by the end of this day.
    depth_m, soil, cover
        Where a place says none of its own.
    units, obs_hour, day_first
        As `read_air` takes them, for every file.
    check : bool
        Repeat the forecast for past seasons and score it, instead of answering.
    seasons : int, optional
        In a check the latest so many only.
    leads_days : tuple of int
        In a check: days before the usual date.
    """

    thresholds: tuple[Threshold, ...] = ()
    crops: tuple[str, ...] = ()
    wish: Wish = WISH
    own_crops: str = ""
    now: date
    today: date | None = None
    by: date | None = None
    depth_m: float | None = None
    soil: Soil | None = None
    cover: Cover | None = None
    units: str | None = None
    obs_hour: int | None = None
    day_first: bool | None = None
    check: bool = False
    seasons: int | None = None
    leads_days: tuple[int, ...] = LEADS_DAYS

    def __post_init__(self) -> None:
        """Refuse what asks nothing, or two things."""
        if bool(self.thresholds) == bool(self.crops):
            raise InputError("a region is asked about thresholds or about crops; give one of them")
        if self.check and self.crops:
            raise InputError("a check is of soil thresholds; crops have no past dates to score by")

    def known_crops(self) -> tuple[Crop, ...]:
        """Return the crops that are asked about."""
        known = _known(self.own_crops)
        return tuple(find_crop(name, known) for name in self.crops)

    def fingerprint(self) -> str:
        """Return what tells this question, asked with these versions, from any other."""
        parts = json.dumps(asdict(self), default=str, sort_keys=True)
        versions = [f"{name} {version(name)}" for name in WEIGH_ON_NUMBERS]
        tables = data_path("SOURCES.csv").read_bytes()  # it has the sums of all others
        own = Path(self.own_crops).read_bytes() if self.own_crops else b""
        told = [parts, *versions, *(hashlib.sha256(one).hexdigest() for one in (tables, own))]
        return hashlib.sha256("\n".join(told).encode()).hexdigest()


@cache
def _known(own: str) -> dict[str, Crop]:
    return known_crops(own=own or None)
