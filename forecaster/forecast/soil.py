"""The public answers: soil temperature so far, and what it will do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from typing import Literal

import numpy as np
import pandas as pd

from forecaster.chance.future_air import AirMemory, Splice, choose_past, future_air
from forecaster.forecast.doubts import doubt_outlook
from forecaster.forecast.ensemble import Day, SoilForecast, as_day
from forecaster.forecast.given import air_column, check_extremes, days_of_air, times_of_readings
from forecaster.forecast.understand import Place, doubts_of, understand
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.ground.given import whole
from forecaster.ground.site import Site
from forecaster.packaged import load_json
from forecaster.soil.forcing import DailyAir, forcing_terms, memory_after
from forecaster.soil.heat import respond, respond_yearly
from forecaster.soil.model import at_depth, total_forcing
from forecaster.soil.residual import Posterior, even_normal
from forecaster.soil.season import harmonics

LONGEST_HORIZON_DAYS = 730
MOST_MEMBERS, LARGEST_SEED = 100_000, 2**63 - 1
DAYS_BACK = 180  # of the past shown before the day of issue, unless asked otherwise


def estimate_soil(
    air: pd.DataFrame, site: Site, readings: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Return the daily soil temperature at a site, from its air and any readings of its soil.

    Assumes grassed natural ground unless the site says otherwise; fitted at 5 to 20 cm,
    carried to other depths by the heat equation.

    Parameters
    ----------
    air : DataFrame
        Daily index without time zone; ``tmin_c`` and ``tmax_c`` or ``tavg_c`` (°C), optional
        ``precip_mm``; as `read_air` returns it. At least 60 days with a value.
    site : Site
    readings : DataFrame, optional
        ``time``, ``temp_c``, ``depth_m``, ``span``; as `read_readings` returns it. Missing
        depths are taken as the site's.

    Returns
    -------
    DataFrame
        Index of `air`; ``soil_c``, the mean of the day at the site's depth (°C), and
        ``sd_c``, its standard deviation (°C). ``attrs["filled_days"]`` counts the days whose
        air was bridged, ``attrs["outliers"]`` lists readings that the others contradict.

    Raises
    ------
    InputError
        If a column is missing or the index is not daily.
    NotEnoughData
        If fewer than 60 days have a value.
    """
    place = understand(air, site, readings)
    doubts_of(place)
    frame = pd.DataFrame({"soil_c": place.soil_c, "sd_c": place.sd_c}, index=air.index)
    frame.attrs |= {"filled_days": place.modelled.filled_days, "outliers": place.outliers}
    return frame


def forecast_soil(
    air: pd.DataFrame,
    site: Site,
    readings: pd.DataFrame | None = None,
    *,
    issued: Day,
    start: Day | None = None,
    horizon_days: int = 150,
    members: int = 200,
    outlook: pd.DataFrame | None = None,
    seed: int = 0,
) -> SoilForecast:
    """Return joint draws of the soil temperature around a day, knowing nothing after it.

    Rows of `air` and `readings` after `issued` are never looked at. The air to come is drawn
    from the record's own past years; what the model leaves over is drawn from its posterior,
    past and future days together.

    Parameters
    ----------
    air : DataFrame
        As for `estimate_soil`. It may end before `issued`: the days between are forecast too.
    site : Site
    readings : DataFrame, optional
        As for `estimate_soil`.
    issued : date-like
        Last day whose rows are known.
    start : date-like, optional
        First day of the answer; by default 180 days before `issued`, or the record's first.
    horizon_days : int
        Days after `issued`, 1 to 730.
    members : int
        Number of draws, at least 2.
    outlook : DataFrame, optional
        A weather outlook known at `issued`: daily index, ``tmin_c``, ``tmax_c``, optional
        ``precip_mm``. Rows up to `issued` are ignored.
    seed : int
        Same seed, same answer.

    Returns
    -------
    SoilForecast

    Raises
    ------
    InputError
        If a column is missing, the index is not daily, or an argument is out of range.
    NotEnoughData
        If fewer than 60 days up to `issued` have a value.
    """
    check_draws(horizon_days, members, seed)
    now = as_day(issued)
    place = understand(known_air(air, now), site, until(readings, pd.Timestamp(now)))
    return forecast_from(
        place,
        issued=now,
        start=start,
        horizon_days=horizon_days,
        members=members,
        outlook=outlook,
        seed=seed,
    )


def check_draws(horizon_days: int, members: int, seed: int) -> None:
    """Refuse numbers with which nothing can be drawn.

    Raises
    ------
    InputError
        Naming the one.
    """
    whole("horizon_days", horizon_days, 1, LONGEST_HORIZON_DAYS)
    whole("members", members, 2, MOST_MEMBERS)
    whole("seed", seed, 0, LARGEST_SEED)


def forecast_from(
    place: Place,
    *,
    issued: Day,
    start: Day | None = None,
    horizon_days: int = 150,
    members: int = 200,
    outlook: pd.DataFrame | None = None,
    seed: int = 0,
    seedbed_depth_m: float | None = None,
    extremes: bool = True,
) -> SoilForecast:
    """Return what `forecast_soil` does, for a place already understood from the rows to a day.

    Parameters
    ----------
    place : Place
        As `understand` made it of nothing later than `issued`.
    issued, start, horizon_days, members, outlook, seed
        As for `forecast_soil`.
    seedbed_depth_m : float, optional
        A second depth, that of sown seed, m: the same members are carried there too, with
        what the model leaves over taken to be the same.
    extremes : bool
        Carry the air's minima and maxima too.

    Raises
    ------
    InputError
        If an argument is out of range, or the place knows air or readings of after `issued`.
    """
    check_draws(horizon_days, members, seed)
    known_to = pd.Timestamp(as_day(issued))
    last = int(place.day[-1])
    knows_to = max(last, last if place.evidence.empty else int(place.evidence.day[-1]))
    if knows_to > _day_number(known_to):
        raise InputError(
            f"the place knows days to {np.datetime64(knows_to, 'D')}; expected none after the "
            f"day of issue, {known_to:%F}"
        )
    end = _day_number(known_to) + horizon_days
    first = int(place.day[0]) if start is None else _day_number(pd.Timestamp(as_day(start)))
    if start is None:
        first = max(first, _day_number(known_to) - DAYS_BACK)
    if first > end or first < int(place.day[0]):
        raise InputError(
            f"start is {np.datetime64(first, 'D')}; expected a day from the record's first, "
            f"{np.datetime64(int(place.day[0]), 'D')}, to {np.datetime64(end, 'D')}"
        )
    random = np.random.default_rng(seed)
    depths = (place.site.depth_m, *(() if seedbed_depth_m is None else (seedbed_depth_m,)))
    ahead = _members_ahead(
        place,
        outlook,
        depths,
        issued=_day_number(known_to),
        horizon=end - last,
        members=members,
        random=random,
        extremes=extremes,
    )
    residual = _draw_residual(place, first, end, members, random)
    begin = first - int(place.day[0])
    recorded = place.modelled.air

    def whole(past: Floats, future: Floats) -> Floats:
        """Return the record's days and each member's, from `start` on."""
        shown = np.broadcast_to(past, (members, past.size))[:, begin:]
        return np.hstack([shown, future[:, max(first - last - 1, 0) :]])

    def extreme(past: Floats | None, future: Floats | None) -> Floats | None:
        return None if past is None or future is None else whole(past, future)

    soil = [
        whole(_recorded_at(place, depth), carried) + residual
        for depth, carried in zip(depths, ahead.soil_c, strict=True)
    ]
    return SoilForecast(
        dates=pd.date_range(
            np.datetime64(first, "D").astype("datetime64[ns]"), periods=end - first + 1
        ),
        soil_c=soil[0],
        residual_c=residual,
        issued=known_to,
        place=place,
        years=ahead.years,
        air_c=whole(recorded.mean_c, ahead.air_c),
        tmin_c=extreme(_record_extreme(place, "least"), ahead.least_c),
        tmax_c=extreme(_record_extreme(place, "most"), ahead.most_c),
        seedbed_c=soil[1] if len(soil) > 1 else None,
    )


def _recorded_at(place: Place, depth_m: float) -> Floats:
    """Return the record's modelled soil at a depth, (n,), °C."""
    if depth_m == place.ground.depth_m:
        return place.modelled.soil_c
    return at_depth(place.modelled, replace(place.ground, depth_m=depth_m))


def _record_extreme(place: Place, which: Literal["least", "most"]) -> Floats | None:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ahead:
    """The members on the days after the record, (members, horizon) arrays, °C.

    `soil_c` has one for each depth; `years` counts the past years drawn on.
    """

    soil_c: tuple[Floats, ...]
    air_c: Floats
    least_c: Floats | None
    most_c: Floats | None
    years: int


def _members_ahead(
    place: Place,
    outlook: pd.DataFrame | None,
    depths_m: Sequence[float],
    *,
    issued: int,
    horizon: int,
    members: int,
    random: np.random.Generator,
    extremes: bool,
) -> _Ahead:
    """Return the modelled soil and the air of each member after the record."""
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
    departure = (
        total_forcing(terms, place.model.weights, place.ground)
        - columns @ modelled.forcing_yearly_c
    )
    ends: tuple[Literal["least", "most"], ...] = ("least", "most")
    least, most = (_extreme_ahead(place, air, splice, e) if extremes else None for e in ends)
    return _Ahead(
        soil_c=tuple(_carried(place, columns, departure, depth) for depth in depths_m),
        air_c=air.mean_c,
        least_c=least,
        most_c=most,
        years=splice.years,
    )


def _carried(place: Place, columns: Floats, departure: Floats, depth_m: float) -> Floats:
    """Return the members' soil at a depth on the days ahead, (members, horizon), °C."""
    modelled, ground = place.modelled, place.ground
    heat = (depth_m, ground.diffusivity_m2_s, ground.exchange_length_m)
    horizon = departure.shape[1]
    still = respond(np.append(modelled.departure_c, np.zeros(horizon)), *heat)[-horizon:]
    usual = columns @ respond_yearly(modelled.forcing_yearly_c, *heat)
    return np.asarray(usual + still + respond(departure, *heat))


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
    told, past = _record_extreme(place, which), _middle_extreme(place.modelled.air, which)
    ahead = _middle_extreme(air, which)
    if told is None or past is None or ahead is None:
        return None
    return np.asarray(ahead - (past - told)[splice.source])


@cache
def load_air_memory() -> AirMemory:
    """Return what of today's air lasts, from the packaged data."""
    fitted = load_json("outlook.json")
    return AirMemory(**{field.name: fitted[field.name]["value"] for field in fields(AirMemory)})


def _draw_residual(
    place: Place, first: int, end: int, members: int, random: np.random.Generator
) -> Floats:
    """Return joint draws of what the model leaves over, (members, end − first + 1)."""
    evidence = place.evidence
    begin = first if evidence.empty else min(first, int(evidence.day[0]))
    posterior = Posterior(place.prior, evidence, begin, end)
    return posterior.draw(members, random, first)


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


def known_air(air: pd.DataFrame, day: np.datetime64) -> pd.DataFrame:
    """Return the rows of the air up to a day.

    Raises
    ------
    InputError
        If the record begins only after that day, or ended more than two years before it.
    """
    index = days_of_air(air).index
    assert isinstance(index, pd.DatetimeIndex)  # noqa: S101 - for the type checker
    first, last = (np.datetime64(index[at].date(), "D") for at in (0, -1))
    if day < first:
        raise InputError(f"today is {day}; the air record begins only on {first}")
    behind = int((day - last).astype(int))
    if behind > LONGEST_HORIZON_DAYS:
        raise InputError(
            f"today is {day}, {behind:,} days after the air record's end on {last}; expected "
            f"{LONGEST_HORIZON_DAYS} days at most. Give a newer record, or an earlier day"
        )
    return air.loc[: pd.Timestamp(day)] if behind < 0 else air


def until(readings: pd.DataFrame | None, last: pd.Timestamp) -> pd.DataFrame | None:
    """Return the readings taken up to the end of a day; None if there are none at all.

    Raises
    ------
    InputError
        If they have no time.
    """
    readings = times_of_readings(readings)
    if readings is None:
        return None
    return readings[readings["time"] < last + pd.Timedelta(days=1)]


def _day_number(day: pd.Timestamp) -> int:
    return int(day.to_datetime64().astype("datetime64[D]").astype(np.int64))
