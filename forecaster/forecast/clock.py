"""The clock that readings keep, and where the sun stands by it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.errors import InputError
from forecaster.ground.site import Site
from forecaster.soil.wave import solar_noon_hour


def solar_noon_at(site: Site, day: Ints) -> Floats:
    """Return the hour of a site's clock at which the sun stands highest, by day.

    By the clock that the site names, summer time and all; else by the nearest zone of 15°.

    Parameters
    ----------
    site : Site
    day : (n,) array of int
        Days since 1970-01-01.

    Returns
    -------
    (n,) array
        Hours; 12 without a longitude.

    Raises
    ------
    InputError
        If the site's clock is no time zone's name.
    """
    if isinstance(site.clock, str):
        zone = _zone(site.clock)
        offsets = [_offset_h(zone, int(each)) for each in day]
    else:
        offsets = [site.clock] * day.size
    if site.longitude_deg is None:
        return np.full(day.shape, 12.0)
    east = site.longitude_deg
    return np.array([solar_noon_hour(east, offset) for offset in offsets])


def _zone(name: str) -> ZoneInfo:
    """Return a time zone by its name."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise InputError(
            f"clock is {name!r}; expected a time zone's name such as 'Europe/Dublin', "
            "or hours ahead of universal time"
        ) from None


def _offset_h(zone: ZoneInfo, day: int) -> float | None:
    """Return a zone's hours ahead of universal time at noon of a day since 1970-01-01."""
    noon = datetime(1970, 1, 1, 12, tzinfo=UTC) + timedelta(days=day)
    ahead = noon.astimezone(zone).utcoffset()
    return None if ahead is None else ahead.total_seconds() / 3600.0
