"""What a reader of thermometer logs hands over."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from forecaster.ground.arrays import Bools, Days, Floats, Ints
from forecaster.ingest.account import Column
from forecaster.ingest.checks.tally import Tally


@dataclass(slots=True, kw_only=True)
class ReadingPart:
    """Readings of one file: arrays of one length, `row` pointing into the tally.

    `time` is in nanoseconds since 1970, local standard time as written. `probe` points into
    `probes`, and is None where there is one.
    """

    tally: Tally
    row: Ints
    time: Ints
    value: Floats
    depth_m: Floats
    hour_known: Bools
    is_day: Bools
    format: str
    why_format: str
    units: str
    why_units: str
    notes: list[str] = field(default_factory=list)
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    station: str = ""
    columns: tuple[Column, ...] = ()
    probe: Ints | None = None
    probes: list[str] = field(default_factory=list)


def instants(day: Days, nanosecond: Ints, offset_min: Floats, notes: list[str]) -> Ints:
    """Join days and times; midnight where the time is unknown.

    Where offsets from UTC are written and differ, as over a change to summer time, all times are
    brought to the least of them, which is standard time.
    """
    time = day.astype("M8[ns]").view(np.int64) + np.maximum(nanosecond, 0)
    there = np.isfinite(offset_min)
    if not there.any():
        return time
    lowest = float(offset_min[there].min())
    if float(offset_min[there].max()) > lowest:
        shift = np.where(there, lowest - offset_min, 0.0)
        time = time + (shift * 60_000_000_000).astype(np.int64)
        notes.append(
            f"Offsets from UTC differ over the year: all times were brought to "
            f"{_offset(lowest)}, standard time."
        )
    elif lowest == 0:
        notes.append("Times are UTC and were left so; local standard time differs by longitude.")
    return time


def _offset(minutes: float) -> str:
    whole = abs(int(minutes))
    return f"UTC{'−' if minutes < 0 else '+'}{whole // 60:02d}:{whole % 60:02d}"
