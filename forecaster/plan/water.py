"""Water in the root zone of young plants, day by day: when to feel the soil.

Equations are those of Allen, Pereira, Raes & Smith 1998, Crop evapotranspiration, FAO
Irrigation and Drainage Paper 56, chapter 8. Depths of water are mm, as that paper has them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.errors import InputError
from forecaster.packaged import load_csv
from forecaster.plan.values import default
from forecaster.soil.sun import extraterrestrial_radiation, reference_evapotranspiration

LONGEST_LOOK_DAYS = 42
LEAST_YEARS = 3
LEAST_RAIN_SHARE = 0.2  # of reference evapotranspiration; lighter rain does not reach the roots
USED = ("tmin_c", "tmax_c")


@dataclass(frozen=True, slots=True, kw_only=True)
class RootZone:
    """Soil within reach of roots that grow down.

    Parameters
    ----------
    field_capacity, wilting_point : float
        Share of the soil's volume that is water, 0 to 1.
    first_depth_m, final_depth_m : float
        Depth of the roots on the day of setting out, and when grown.
    growing_days : float
        Between the two.
    depletion_share : float
        Share of the available water that is readily taken (p of FAO-56 Table 22).
    first_coefficient, last_coefficient : float
        Crop coefficient Kc on the same two days.

    Raises
    ------
    InputError
        If the soil holds no water for plants, or a share or depth makes no sense.
    """

    field_capacity: float
    wilting_point: float
    first_depth_m: float
    final_depth_m: float
    growing_days: float = 45.0
    depletion_share: float = 0.3
    first_coefficient: float = 0.7
    last_coefficient: float = 1.05

    def __post_init__(self) -> None:
        """Refuse what no soil has."""
        if not 0.0 <= self.wilting_point < self.field_capacity <= 1.0:
            raise InputError(
                f"wilting point {self.wilting_point!r}, field capacity {self.field_capacity!r}; "
                "expected shares of the volume, the second greater"
            )
        if not 0.0 < self.first_depth_m <= self.final_depth_m:
            raise InputError(
                f"roots from {self.first_depth_m!r} to {self.final_depth_m!r} m; "
                "expected depths above 0, the second at least the first"
            )
        if not (0.0 < self.depletion_share < 1.0 and self.growing_days > 0.0):
            raise InputError(
                f"depletion share {self.depletion_share!r}, {self.growing_days!r} days; "
                "expected a share between 0 and 1, and days above 0"
            )

    def grown(self, days: ArrayLike) -> Floats:
        """Return how far the roots have grown, 0 to 1, so many days after setting out."""
        return np.asarray(np.clip(np.asarray(days, dtype=float) / self.growing_days, 0.0, 1.0))

    def depth_m(self, days: ArrayLike) -> Floats:
        """Return the depth of the roots so many days after setting out, m."""
        reach = self.final_depth_m - self.first_depth_m
        return np.asarray(self.first_depth_m + reach * self.grown(days))

    def coefficient(self, days: ArrayLike) -> Floats:
        """Return the crop coefficient so many days after setting out."""
        rise = self.last_coefficient - self.first_coefficient
        return np.asarray(self.first_coefficient + rise * self.grown(days))


def total_available_mm(field_capacity: float, wilting_point: float, depth_m: ArrayLike) -> Floats:
    """Return the water that roots can take from their depth (eq. 82).

    TAW = 1000·(θ_FC − θ_WP)·Z_r.

    >>> float(total_available_mm(0.32, 0.12, 0.8).round(6))
    160.0
    """
    share = field_capacity - wilting_point
    return np.asarray(1000.0 * share * np.asarray(depth_m, dtype=float))


def readily_available_mm(total_mm: ArrayLike, share: ArrayLike) -> Floats:
    """Return the water that is taken without stress: RAW = p·TAW (eq. 83)."""
    return np.asarray(np.asarray(share, dtype=float) * np.asarray(total_mm, dtype=float))


def stress_coefficient(depletion_mm: ArrayLike, total_mm: ArrayLike, share: ArrayLike) -> Floats:
    """Return by how much stress lowers evapotranspiration, 1 to 0 (eq. 84).

    K_s = (TAW − D_r)/((1 − p)·TAW), 1 while D_r ≤ RAW.
    """
    total, p = np.asarray(total_mm, dtype=float), np.asarray(share, dtype=float)
    stressed = (total - np.asarray(depletion_mm, dtype=float)) / ((1.0 - p) * total)
    return np.asarray(np.clip(stressed, 0.0, 1.0))


def adjusted_share(share: float, etc_mm: ArrayLike) -> Floats:
    """Return p on a day of another demand than 5 mm: p + 0.04·(5 − ETc), 0.1 to 0.8.

    The note under Table 22.
    """
    return np.asarray(np.clip(share + 0.04 * (5.0 - np.asarray(etc_mm, dtype=float)), 0.1, 0.8))


def reference_mm(
    tmin_c: ArrayLike, tmax_c: ArrayLike, day_of_year: ArrayLike, latitude_deg: float
) -> Floats:
    """Return Hargreaves' reference evapotranspiration, mm a day (eq. 52)."""
    ra = extraterrestrial_radiation(day_of_year, latitude_deg)
    return reference_evapotranspiration(ra, tmin_c, tmax_c)


def daily_bucket(
    zone: RootZone, eto_mm: ArrayLike, rain_mm: ArrayLike, *, begun_mm: float = 0.0
) -> tuple[Floats, Floats]:
    """Return the root zone's depletion at the end of each day after setting out, without watering.

    D_i = D_{i−1} − P + K_s·K_c·ETo, kept between 0 (the rest drains) and TAW (eq. 85 to 88,
    without runoff, watering and capillary rise). The soil is taken as watered through when the
    plants go in, so depth that roots gain is at field capacity and adds to TAW alone. Rain of
    less than a fifth of ETo is ignored, as that paper advises.

    Parameters
    ----------
    zone : RootZone
    eto_mm, rain_mm : (..., days) array
        From the day of setting out.
    begun_mm : float
        Depletion before the first day.

    Returns
    -------
    tuple of (..., days) arrays
        Depletion D_r, and the readily available water RAW of the same days, mm.
    """
    eto, rain = np.broadcast_arrays(
        np.asarray(eto_mm, dtype=float), np.asarray(rain_mm, dtype=float)
    )
    day = np.arange(eto.shape[-1])
    total = total_available_mm(zone.field_capacity, zone.wilting_point, zone.depth_m(day))
    demand = zone.coefficient(day) * eto
    share = adjusted_share(zone.depletion_share, demand)
    reaching = np.where(rain < LEAST_RAIN_SHARE * eto, 0.0, rain)
    depletion = np.empty(eto.shape)
    before = np.full(eto.shape[:-1], float(begun_mm))
    for k in day:
        drawn = stress_coefficient(before, total[k], share[..., k]) * demand[..., k]
        before = np.clip(before - reaching[..., k] + drawn, 0.0, total[k])
        depletion[..., k] = before
    return depletion, readily_available_mm(total, share)


def first_dry_day(depletion_mm: Floats, readily_mm: Floats) -> Ints:
    """Return days from setting out to the first with D_r > RAW, −1 where there is none."""
    dry = depletion_mm > readily_mm
    return np.where(dry.any(axis=-1), dry.argmax(axis=-1), -1).astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterLook:
    """When to feel the soil of a bed just planted.

    Parameters
    ----------
    set_out : date
        The day from which the bucket runs.
    early, likely, late : date or None
        By which a tenth, half and nine tenths of the years had used what is readily taken; None
        where so many stayed moist for six weeks.
    dry_spell : date or None
        The same for a year of middling demand without any rain.
    stays_moist : float
        Share of the years in which rain kept the root zone moist for six weeks.
    years : int
        Past years behind it.
    soil : str
    rain_known : bool
        Without a rain record only the dry spell is told.
    """

    set_out: date
    early: date | None
    likely: date | None
    late: date | None
    dry_spell: date | None
    stays_moist: float
    years: int
    soil: str
    rain_known: bool


@cache
def young_roots(soil: str) -> RootZone:
    """Return the root zone of plants just set out, from the packaged tables.

    Raises
    ------
    InputError
        If the soil is not in ``data/soil_water.csv``.
    """
    rows = {row["soil"]: row for row in load_csv("soil_water.csv")}
    if soil not in rows:
        raise InputError(f"soil {soil!r} is not known; expected one of {', '.join(sorted(rows))}")
    young = "young_plants.csv"
    return RootZone(
        field_capacity=float(rows[soil]["field_capacity"]),
        wilting_point=float(rows[soil]["wilting_point"]),
        first_depth_m=default("first_depth_m", young),
        final_depth_m=default("final_depth_m", young),
        growing_days=default("growing_days", young),
        depletion_share=default("depletion_share", young),
        first_coefficient=default("crop_coefficient_first", young),
        last_coefficient=default("crop_coefficient_last", young),
    )


def water_look(
    air: pd.DataFrame,
    latitude_deg: float,
    set_out: date,
    *,
    today: date,
    soil: str = "loam",
    outlook: pd.DataFrame | None = None,
) -> WaterLook | None:
    """Return when to feel the soil after setting out: a look, not an order to water.

    The days from setting out are taken from the record as far as it is known, then from the
    outlook, then from the same calendar days of each past year.

    Parameters
    ----------
    air : DataFrame
        Daily ``tmin_c``, ``tmax_c``, optional ``precip_mm``; rows after `today` are ignored.
    latitude_deg : float
    set_out : date
        May lie ahead or behind.
    today : date
    soil : str
        A name in ``data/soil_water.csv``.
    outlook : DataFrame, optional
        The same columns, days ahead.

    Returns
    -------
    WaterLook or None
        None if the record has no extremes, or fewer than three past years cover those days.
    """
    if not set(USED) <= set(air.columns):
        return None
    zone = young_roots(soil)
    known = air.loc[: pd.Timestamp(today)]
    if outlook is not None and set(USED) <= set(outlook.columns):
        known = pd.concat([known, outlook.loc[pd.Timestamp(today) + pd.Timedelta(days=1) :]])
    years = _past_years(known, set_out)
    if len(years) < LEAST_YEARS:
        return None
    least, most, rain = years.transpose(1, 0, 2)
    days = np.array(
        [(set_out + timedelta(days=k)).timetuple().tm_yday for k in range(least.shape[1])]
    )
    eto = reference_mm(least, most, np.minimum(days, 366), latitude_deg)
    rain_known = bool(np.isfinite(rain).any())
    look = first_dry_day(*daily_bucket(zone, eto, np.nan_to_num(rain)))
    dry = first_dry_day(*daily_bucket(zone, np.median(eto, axis=0), np.zeros(eto.shape[1])))
    early, likely, late = (_by(look, q, set_out) if rain_known else None for q in (0.1, 0.5, 0.9))
    return WaterLook(
        set_out=set_out,
        early=early,
        likely=likely,
        late=late,
        dry_spell=None if dry < 0 else set_out + timedelta(days=max(int(dry), 1)),
        stays_moist=float(np.mean(look < 0)) if rain_known else 0.0,
        years=len(years),
        soil=soil,
        rain_known=rain_known,
    )


def _past_years(known: pd.DataFrame, set_out: date) -> Floats:
    """Return the six weeks after setting out as each past year had them: (years, 3, days).

    Minimum, maximum and rain. Days of this season that are already known, or in the outlook, are
    the same in every year.
    """
    at = known.index.to_numpy().astype("datetime64[D]").astype(np.int64)
    held = np.full((int(at[-1] - at[0]) + 1, 3), np.nan)
    for column, name in enumerate((*USED, "precip_mm")):
        if name in known:
            held[at - at[0], column] = known[name].to_numpy(dtype=float)
    start = int(np.datetime64(set_out, "D").astype(np.int64) - at[0])
    ours, span = _days_from(held, start), np.arange(LONGEST_LOOK_DAYS)
    found = []
    for ago in range(1, len(known) // 365 + 2):
        begin = start - round(365.2425 * ago)
        if begin + LONGEST_LOOK_DAYS > len(held) - 1:
            continue
        days = np.where(np.isnan(ours), _days_from(held, begin), ours)
        if np.isnan(days[:, :2]).mean() > 0.2:
            continue
        for column in (0, 1):
            told = np.isfinite(days[:, column])
            days[:, column] = np.interp(span, span[told], days[told, column])
        found.append(days.T)
    return np.array(found).reshape(-1, 3, LONGEST_LOOK_DAYS)


def _days_from(held: Floats, start: int) -> Floats:
    """Return the six weeks from a place in the days held; NaN where they hold none."""
    days = np.full((LONGEST_LOOK_DAYS, held.shape[1]), np.nan)
    first, last = max(start, 0), min(start + LONGEST_LOOK_DAYS, len(held))
    if first < last:
        days[first - start : last - start] = held[first:last]
    return days


def _by(look: Ints, q: float, set_out: date) -> date | None:
    """Return the day by which a share of the years were dry."""
    dry = np.sort(look[look >= 0])
    rank = max(int(np.ceil(q * look.size)), 1) - 1
    return set_out + timedelta(days=max(int(dry[rank]), 1)) if rank < dry.size else None
