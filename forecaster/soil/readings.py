"""From thermometer readings to evidence on the model's residual.

A reading is an instant at some depth; the model speaks of daily means at the depth asked
about. The day's wave at the reading's hour is taken off, the model is carried to the
reading's depth, and each step adds its error.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.soil.wave import DailyWave, HourCorrection, hour_correction

THERMOMETER_SD_C = 0.5  # a dial thermometer read by hand; common practice, no source
LOGGER_SD_C = 0.2  # a logger's mean of a whole day; common practice, no source
FULL_DAY_READINGS = 8  # of a day's wave; Horton, Wierenga & Nielsen 1983 ask for 8 to 12
FULL_DAY_GAP_H = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Thermometer readings as arrays.

    Parameters
    ----------
    day : (m,) array of int
        Days since 1970-01-01, local standard time.
    hour : (m,) array
        0 to 24; NaN where nobody wrote it down.
    temp_c : (m,) array
    depth_m : (m,) array
    whole_day : (m,) array of bool
        True where the value is the mean of a day.
    error_c : (m,) array
        Standard error of the thermometer itself, °C.
    """

    day: Ints
    hour: Floats
    temp_c: Floats
    depth_m: Floats
    whole_day: Bools
    error_c: Floats

    def __getitem__(self, chosen: Bools | Ints) -> Readings:
        """Return the readings chosen by a mask or by positions."""
        return Readings(
            day=self.day[chosen],
            hour=self.hour[chosen],
            temp_c=self.temp_c[chosen],
            depth_m=self.depth_m[chosen],
            whole_day=self.whole_day[chosen],
            error_c=self.error_c[chosen],
        )


def daily_means(readings: Readings) -> Readings:
    """Return the readings with every fully read day at a depth put in one.

    A day with eight readings or more and no gap above four hours needs no model of its wave:
    their mean is the day's.
    """
    instant = np.flatnonzero(~readings.whole_day & np.isfinite(readings.hour))
    if instant.size < FULL_DAY_READINGS:
        return readings
    order = instant[
        np.lexsort((readings.hour[instant], readings.day[instant], readings.depth_m[instant]))
    ]
    day, depth, hour = readings.day[order], readings.depth_m[order], readings.hour[order]
    new = np.r_[True, (np.diff(day) != 0) | (np.diff(depth) != 0)]
    start = np.flatnonzero(new)
    count = np.diff(np.r_[start, day.size])
    gap = np.r_[0.0, np.where(new[1:], 0.0, np.diff(hour))]
    widest = np.maximum.reduceat(gap, start)
    over_night = 24.0 - (hour[start + count - 1] - hour[start])
    full = (count >= FULL_DAY_READINGS) & (np.maximum(widest, over_night) <= FULL_DAY_GAP_H)
    if not full.any():
        return readings
    mean = np.add.reduceat(readings.temp_c[order], start) / count
    ends = start[full]
    means = Readings(
        day=day[ends],
        hour=np.full(ends.size, np.nan),
        temp_c=mean[full],
        depth_m=depth[ends],
        whole_day=np.ones(ends.size, dtype=bool),
        error_c=np.minimum(readings.error_c[order][ends], LOGGER_SD_C),
    )
    keep = np.ones(readings.day.size, dtype=bool)
    keep[order[np.repeat(full, count)]] = False
    rest = readings[keep]
    return Readings(
        **{
            field.name: np.concatenate([getattr(rest, field.name), getattr(means, field.name)])
            for field in fields(Readings)
        }
    )


def departures(
    readings: Readings,
    *,
    tmin_c: Floats,
    tmax_c: Floats,
    day_of_year: Ints,
    latitude_deg: float,
    wave: DailyWave,
    solar_noon_h: Floats,
) -> HourCorrection:
    """Return what each reading owes to its hour; nothing for means of a day.

    Parameters
    ----------
    readings : Readings
    tmin_c, tmax_c : (m,) array
        The air's extremes on each reading's day, °C.
    day_of_year : (m,) array
    latitude_deg, wave
        As for `forecaster.soil.wave.hour_correction`.
    solar_noon_h : (m,) array
        Hour of the readings' clock at which the sun stood highest.
    """
    departure, sd = np.zeros((2, readings.day.size))
    shared = np.zeros((readings.day.size, 2))
    instants = ~readings.whole_day
    for depth in np.unique(readings.depth_m[instants]):
        at = np.flatnonzero(instants & (readings.depth_m == depth))
        found = hour_correction(
            readings.hour[at],
            float(depth),
            tmin_c=tmin_c[at],
            tmax_c=tmax_c[at],
            day_of_year=day_of_year[at],
            latitude_deg=latitude_deg,
            wave=wave,
            solar_noon_h=solar_noon_h[at],
        )
        departure[at], sd[at], shared[at] = found.departure_c, found.sd_c, found.shared_c
    return HourCorrection(departure, sd, shared)
