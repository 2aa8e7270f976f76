"""The air of a forecast's members after the record: what beds of one place share."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any, Literal

import numpy as np
import pandas as pd

from forecaster.chance.future_air import AirMemory, Splice, choose_past, future_air
from forecaster.forecast.doubts import doubt_outlook
from forecaster.forecast.given import air_column, check_extremes, days_of_air
from forecaster.forecast.understand import Place
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.packaged import load_json
from forecaster.soil.forcing import DailyAir, forcing_terms, memory_after
from forecaster.soil.residual import even_normal
from forecaster.soil.season import harmonics


@dataclass(frozen=True, slots=True, kw_only=True)
class AirAhead:
    """The members' air on the days after the record, (members, horizon) arrays.

    Parameters
    ----------
    columns : (horizon, 5) array
        `harmonics` of those days.
    air_c : (members, horizon) array
        Daily means, °C.
    terms : dict of str to array
        Of the surface forcing, as `forcing_terms` returns them.
    least_c, most_c : (members, horizon) array or None
        Daily minima and maxima, °C, where they were asked for and the record has them.
    years : int
        Past years drawn on.
    drawn : dict
        State of the random numbers once these are drawn.
    """

    columns: Floats
    air_c: Floats
    terms: dict[str, Floats]
    least_c: Floats | None
    most_c: Floats | None
    years: int
    drawn: Any


@dataclass(slots=True)
class SharedAir:
    """Where the members' air of one record is kept, for beds that differ in their ground alone.

    Whoever makes one gives it only with places of the same air table, outlook and latitude.
    """

    known: dict[tuple[Any, ...], AirAhead] = field(default_factory=dict)


def air_ahead(
    place: Place,
    outlook: pd.DataFrame | None,
    *,
    issued: int,
    horizon: int,
    members: int,
    random: np.random.Generator,
    extremes: bool,
    shared: SharedAir | None = None,
) -> AirAhead:
    """Return the members' air after the record of a place.

    Parameters
    ----------
    place : Place
    outlook : DataFrame or None
    issued, horizon, members : int
        Day of issue since 1970-01-01; days after the record; how many.
    random : Generator
        Stands afterwards where it would had the air been drawn anew.
    extremes : bool
    shared : SharedAir, optional
    """
    state = random.bit_generator.state["state"]["state"]
    key = (issued, int(place.day[-1]), horizon, members, extremes, state)
    if shared is not None and key in shared.known:
        random.bit_generator.state = shared.known[key].drawn
        return shared.known[key]
    modelled = place.modelled
    day = place.day[-1] + np.arange(1, horizon + 1)
    calendar = pd.DatetimeIndex(day.astype("datetime64[D]").astype("datetime64[ns]"))
    day_of_year = calendar.day_of_year.to_numpy().astype(np.int64)
    splice = choose_past(place.day.size, horizon, members, random)
    told = (
        None
        if outlook is None
        else _outlook_days(outlook, calendar, modelled.air, modelled.climate.mean_c)
    )
    air = future_air(
        modelled.air,
        modelled.climate,
        splice,
        memory=load_air_memory(),
        unsure=even_normal(random, members, 1)[:, 0],
        day=day,
        day_of_year=day_of_year,
        outlook=told,
        outlook_made=issued,
    )
    columns = harmonics(day)
    before = memory_after(modelled.air, modelled.climate, place.site.latitude_deg)
    terms = forcing_terms(air, modelled.climate, place.site.latitude_deg, columns, before)
    ends: tuple[Literal["least", "most"], ...] = ("least", "most")
    least, most = (_extreme_ahead(place, air, splice, e) if extremes else None for e in ends)
    found = AirAhead(
        columns=columns,
        air_c=air.mean_c,
        terms=terms,
        least_c=least,
        most_c=most,
        years=splice.years,
        drawn=random.bit_generator.state,
    )
    if shared is not None:
        shared.known[key] = found
    return found


def record_extreme(place: Place, which: Literal["least", "most"]) -> Floats | None:
    """Return the record's daily minima or maxima, °C, gaps bridged; None without extremes.

    On a day without one it is the bridged mean with half the bridged range, moved by what the
    mean usually lies off the middle of the extremes.
    """
    told = place.least_c if which == "least" else place.most_c
    guess = _middle_extreme(place.modelled.air, which)
    if guess is None or told is None:
        return None
    return np.where(np.isfinite(told), told, guess - np.nanmedian(guess - told))


def _middle_extreme(air: DailyAir, which: Literal["least", "most"]) -> Floats | None:
    """Return the mean less, or with, half the range, °C; None where there is no range."""
    if air.range_c is None:
        return None
    return air.mean_c + (-0.5 if which == "least" else 0.5) * air.range_c


def _extreme_ahead(
    place: Place,
    air: DailyAir,
    splice: Splice,
    which: Literal["least", "most"],
) -> Floats | None:
    """Return the members' daily minima or maxima, (members, horizon), °C.

    Each past day keeps what its extreme lay off the middle of its mean and range; an outlook has
    moved both.
    """
    told, past = record_extreme(place, which), _middle_extreme(place.modelled.air, which)
    ahead = _middle_extreme(air, which)
    if told is None or past is None or ahead is None:
        return None
    return np.asarray(ahead - (past - told)[splice.source])


@cache
def load_air_memory() -> AirMemory:
    """Return what of today's air lasts, from the packaged data."""
    fitted = load_json("outlook.json")
    return AirMemory(**{field.name: fitted[field.name]["value"] for field in fields(AirMemory)})


def _outlook_days(
    outlook: pd.DataFrame, ahead: pd.DatetimeIndex, air: DailyAir, usual_c: Floats
) -> DailyAir:
    """Return an outlook on the first of the days ahead, as far as it goes."""
    days_of_air(outlook, "outlook")
    missing = sorted({"tmin_c", "tmax_c"} - set(outlook.columns))
    if missing:
        raise InputError(f"the outlook has no {', '.join(missing)}; expected °C a day")
    table = outlook.loc[ahead[0] :]
    if table.empty:
        raise NotEnoughData(f"the outlook has no day after {ahead[0] - pd.Timedelta(days=1):%F}")
    days = int((min(table.index[-1], ahead[-1]) - ahead[0]).days) + 1
    table = table.reindex(ahead[:days])
    least, most, told, rain = (
        air_column(table, name) for name in ("tmin_c", "tmax_c", "tavg_c", "precip_mm")
    )
    assert least is not None and most is not None  # noqa: S101, PT018 - for the type checker
    check_extremes(least, most)
    mean = (least + most) / 2.0
    if told is not None:
        mean = np.where(np.isfinite(told), told, mean)
    number = ahead[:days].to_numpy().astype("datetime64[D]").astype(np.int64)
    doubt_outlook(mean - harmonics(number) @ usual_c)
    return DailyAir(
        number,
        ahead[:days].day_of_year.to_numpy().astype(np.int64),
        mean,
        most - least,
        rain if air.rain_mm is not None else None,
    )
