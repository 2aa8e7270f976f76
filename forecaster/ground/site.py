"""The place asked about: where it is, how deep the thermometer stands, what covers the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from forecaster.ground.given import number, word

Soil = Literal[
    "loam",
    "sand",
    "loamy sand",
    "sandy loam",
    "silt loam",
    "silty clay loam",
    "clay",
    "amended",
    "peat",
]
Cover = Literal["grass", "bare", "mulch", "straw"]

DEEPEST_M = 2.0
EARTH_RADIUS_KM = 6371.0


@dataclass(frozen=True, slots=True)
class Site:
    """A place, validated when made.

    Parameters
    ----------
    latitude_deg : float
        Degrees north, −90 to 90.
    longitude_deg : float, optional
        Degrees east, −180 to 180. Sharpens the estimate where other stations are near.
    depth_m : float
        Depth asked about, 0 to 2 m. Planting depth is about 0.10 m (4 in).
    soil : str
        A name in ``data/soils.csv``, as loam, sand, clay, amended or peat; shifts diffusivity
        and exchange length (see `forecaster.soil.properties`).
    cover : {"grass", "bare", "mulch", "straw"}
        What lies on the ground. The model was fitted on grassed ground; others are shifts.
    clock : str or float, optional
        What clock the readings keep: a name such as "Europe/Dublin", summer time and all, or
        hours ahead of universal time, −14 to 14. By default the longitude's nearest zone of 15°.

    Raises
    ------
    InputError
        If a value lies outside its range, naming it, what came and what was expected.
    """

    latitude_deg: float
    longitude_deg: float | None = None
    depth_m: float = 0.10
    soil: Soil = "loam"
    cover: Cover = "grass"
    clock: str | float | None = None

    def __post_init__(self) -> None:
        """Refuse what no place can have."""
        number("latitude_deg", self.latitude_deg, -90.0, 90.0, "degrees north")
        if self.longitude_deg is not None:
            number("longitude_deg", self.longitude_deg, -180.0, 180.0, "degrees east")
        number("depth_m", self.depth_m, 0.0, DEEPEST_M, "metres below the surface")
        word("soil", self.soil, get_args(Soil))
        word("cover", self.cover, get_args(Cover))
        if self.clock is not None and not isinstance(self.clock, str):
            number("clock", self.clock, -14.0, 14.0, "hours ahead of universal time")
