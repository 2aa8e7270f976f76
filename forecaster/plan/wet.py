"""Whether soil is too wet to work: a bucket of its upper layer, from rain and texture.

The layer, its water and how evaporation slows are those of Allen, Pereira, Raes & Smith 1998,
FAO Irrigation and Drainage Paper 56, chapter 7 (eq. 73 and 74). Depths of water are mm. When
wet soil can be worked again is common practice, no source: see ``data/workable.csv``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

import numpy as np
import pandas as pd

from forecaster.ground.arrays import Floats
from forecaster.packaged import load_csv
from forecaster.plan.water import USED, reference_mm

LAYER_M = 0.15  # FAO-56 takes 0.10 to 0.15 m for what evaporates; hand tools work as deep
STONE_KG_M3 = 2650.0  # of the soil's mineral grains
READILY_SHARE = 0.4  # of the layer's water leaves unhindered: REW/TEW, Table 19 from memory
SPIN_UP_DAYS = 60
LONGEST_WET_DAYS = 14  # from the last day of known rain; what lies beyond is not said
RECENT_DAYS = 3
MOST_UNKNOWN_DAYS = 5  # of the spin-up's, without which nothing is said


@dataclass(frozen=True, slots=True)
class Layer:
    """The upper soil as water goes through it.

    Parameters
    ----------
    evaporable_mm : float
        Total evaporable water below field capacity, TEW (eq. 73).
    above_mm : float
        What the layer holds above field capacity, when every pore is full.
    drains : float
        Share of that which leaves in a day.
    dried_mm : float
        What must be gone below field capacity before the soil can be worked.
    """

    evaporable_mm: float
    above_mm: float
    drains: float
    dried_mm: float

    def step(self, depletion_mm: float, rain_mm: float, demand_mm: float) -> float:
        """Return the depletion below field capacity a day later; negative above it.

        Rain goes in, a share of what stands above field capacity drains, and the demand leaves,
        slowed by K_r = (TEW − D)/(TEW − REW) once D is past REW (eq. 74).
        """
        readily = READILY_SHARE * self.evaporable_mm
        kr = (self.evaporable_mm - depletion_mm) / (self.evaporable_mm - readily)
        left = max(depletion_mm - rain_mm, -self.above_mm)
        left = left * (1.0 - self.drains) if left < 0.0 else left
        return min(left + min(1.0, max(kr, 0.0)) * demand_mm, self.evaporable_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class WetSoil:
    """How wet a bed's soil is to work.

    Parameters
    ----------
    as_of : date
        The last day of known rain.
    rain_mm : float
        Of the three days up to it.
    ahead_mm : float
        Of the outlook's days after it; 0 where there is none.
    wet_days : tuple of date
        From `as_of` on, those on which it is too wet; after the outlook as if no rain fell.
    soil : str
    """

    as_of: date
    rain_mm: float
    ahead_mm: float
    wet_days: tuple[date, ...]
    soil: str

    def too_wet(self, day: date) -> bool:
        """Whether the soil is too wet to work on a day."""
        return day in self.wet_days

    def workable(self, day: date) -> date | None:
        """Return the first day from `day` on when it can be worked; None if none is in sight."""
        while self.too_wet(day):
            day += timedelta(days=1)
        return None if (day - self.as_of).days >= LONGEST_WET_DAYS else day


@cache
def upper_layer(soil: str) -> Layer:
    """Return the upper layer of a soil named in ``data/soil_water.csv``."""
    water, rule, ground = (
        next(row for row in load_csv(name) if row["soil"] == soil)
        for name in ("soil_water.csv", "workable.csv", "soils.csv")
    )
    capacity, wilting = float(water["field_capacity"]), float(water["wilting_point"])
    porosity = 1.0 - float(ground["bulk_density_kg_m3"]) / STONE_KG_M3
    evaporable = 1000.0 * (capacity - 0.5 * wilting) * LAYER_M
    return Layer(
        evaporable_mm=evaporable,
        above_mm=1000.0 * max(porosity - capacity, 0.0) * LAYER_M,
        drains=float(rule["drains"]),
        dried_mm=float(rule["dried"]) * evaporable,
    )


def depletion_mm(layer: Layer, rain_mm: Floats, demand_mm: Floats) -> Floats:
    """Return the water gone from a layer below field capacity, day by day, begun at capacity."""
    found = np.empty(rain_mm.size)
    now = 0.0
    for k, (rain, demand) in enumerate(zip(rain_mm.tolist(), demand_mm.tolist(), strict=True)):
        now = layer.step(now, rain, demand)
        found[k] = now
    return found


def wet_soil(
    air: pd.DataFrame,
    latitude_deg: float,
    *,
    today: date,
    soil: str = "loam",
    outlook: pd.DataFrame | None = None,
) -> WetSoil | None:
    """Return how wet the soil is to work, and from when it can be worked if no more rain falls.

    Parameters
    ----------
    air : DataFrame
        Daily ``tmin_c``, ``tmax_c`` and ``precip_mm``; rows after `today` are not looked at.
    latitude_deg : float
    today : date
    soil : str
        A name in ``data/soil_water.csv``.
    outlook : DataFrame, optional
        The same columns, days ahead.

    Returns
    -------
    WetSoil or None
        None where rain or extremes are not known for the weeks before.
    """
    table = _known(air, today, outlook)
    if table is None:
        return None
    layer = upper_layer(soil)
    days = pd.DatetimeIndex(table.index)
    demand = reference_mm(
        table["tmin_c"], table["tmax_c"], np.minimum(days.day_of_year, 365), latitude_deg
    )
    rain: Floats = table["precip_mm"].to_numpy(dtype=float)
    last = int(np.searchsorted(days.to_numpy(), np.datetime64(today, "D"), side="right")) - 1
    more = max(last + LONGEST_WET_DAYS - days.size, 0)
    depletion = depletion_mm(
        layer,
        np.append(rain, np.zeros(more)),
        np.append(demand, np.full(more, np.mean(demand[-7:]))),
    )
    wet = np.flatnonzero(depletion[last:] < layer.dried_mm).tolist()
    as_of = days[last].date()
    return WetSoil(
        as_of=as_of,
        rain_mm=float(rain[max(last - RECENT_DAYS + 1, 0) : last + 1].sum()),
        ahead_mm=float(rain[last + 1 :].sum()),
        wet_days=tuple(as_of + timedelta(days=step) for step in wet),
        soil=soil,
    )


def _known(air: pd.DataFrame, today: date, outlook: pd.DataFrame | None) -> pd.DataFrame | None:
    """Return the weeks before and the days ahead, gaps bridged; None if too much is not known."""
    names = [*USED, "precip_mm"]
    if not set(names) <= set(air.columns):
        return None
    known = air.loc[: pd.Timestamp(today), names].dropna(how="all")
    known = known.iloc[-SPIN_UP_DAYS:]
    if len(known) < SPIN_UP_DAYS or known.isna().any(axis=1).sum() > MOST_UNKNOWN_DAYS:
        return None
    if (known.index[-1] - known.index[0]).days + 1 - len(known) > MOST_UNKNOWN_DAYS:
        return None
    if outlook is not None and set(names) <= set(outlook.columns):
        ahead = outlook.loc[known.index[-1] + pd.Timedelta(days=1) :, names].dropna(how="any")
        known = pd.concat([known, ahead])
    table = known.reindex(pd.date_range(known.index[0], known.index[-1]))
    table["precip_mm"] = table["precip_mm"].fillna(0.0)
    return table.interpolate(limit_direction="both")
