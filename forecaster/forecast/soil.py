"""The public answers: soil temperature so far, and what it will do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from forecaster.forecast.air_ahead import SharedAir, air_ahead, record_extreme
from forecaster.forecast.ensemble import Day, SoilForecast, as_day
from forecaster.forecast.given import days_of_air, times_of_readings
from forecaster.forecast.understand import Place, doubts_of, understand
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError
from forecaster.ground.given import whole
from forecaster.ground.site import Site
from forecaster.soil.heat import respond, respond_yearly
from forecaster.soil.model import at_depth, total_forcing
from forecaster.soil.residual import Posterior

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
    shared: SharedAir | None = None,
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
    shared : SharedAir, optional
        The members' air, for several grounds of one place; the numbers are the same.

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
    first = _first_day(place, known_to, start, end)
    random = np.random.default_rng(seed)
    depths = (place.site.depth_m, *(() if seedbed_depth_m is None else (seedbed_depth_m,)))
    ahead = air_ahead(
        place,
        outlook,
        issued=_day_number(known_to),
        horizon=end - last,
        members=members,
        random=random,
        extremes=extremes,
        shared=shared,
    )
    departure = (
        total_forcing(ahead.terms, place.model.weights, place.ground)
        - ahead.columns @ place.modelled.forcing_yearly_c
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
        whole(_recorded_at(place, depth), _carried(place, ahead.columns, departure, depth))
        + residual
        for depth in depths
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
        tmin_c=extreme(record_extreme(place, "least"), ahead.least_c),
        tmax_c=extreme(record_extreme(place, "most"), ahead.most_c),
        seedbed_c=soil[1] if len(soil) > 1 else None,
    )


def _first_day(place: Place, issued: pd.Timestamp, start: Day | None, end: int) -> int:
    """Return the first day to be told, since 1970-01-01; one outside the record is refused."""
    known = int(place.day[0])
    if start is None:
        return max(known, _day_number(issued) - DAYS_BACK)
    first = _day_number(pd.Timestamp(as_day(start)))
    if first > end or first < known:
        raise InputError(
            f"start is {np.datetime64(first, 'D')}; expected a day from the record's first, "
            f"{np.datetime64(known, 'D')}, to {np.datetime64(end, 'D')}"
        )
    return first


def _recorded_at(place: Place, depth_m: float) -> Floats:
    """Return the record's modelled soil at a depth, (n,), °C."""
    if depth_m == place.ground.depth_m:
        return place.modelled.soil_c
    return at_depth(place.modelled, replace(place.ground, depth_m=depth_m))


def _carried(place: Place, columns: Floats, departure: Floats, depth_m: float) -> Floats:
    """Return the members' soil at a depth on the days ahead, (members, horizon), °C."""
    modelled, ground = place.modelled, place.ground
    heat = (depth_m, ground.diffusivity_m2_s, ground.exchange_length_m)
    horizon = departure.shape[1]
    still = respond(np.append(modelled.departure_c, np.zeros(horizon)), *heat)[-horizon:]
    usual = columns @ respond_yearly(modelled.forcing_yearly_c, *heat)
    return np.asarray(usual + still + respond(departure, *heat))


def _draw_residual(
    place: Place, first: int, end: int, members: int, random: np.random.Generator
) -> Floats:
    """Return joint draws of what the model leaves over, (members, end − first + 1)."""
    evidence = place.evidence
    begin = first if evidence.empty else min(first, int(evidence.day[0]))
    posterior = Posterior(place.prior, evidence, begin, end)
    return posterior.draw(members, random, first)


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
