"""Forecasts of past seasons, each with what was known on its day of issue."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date

import numpy as np
import pandas as pd

from forecaster.answers.check.results import Hindcast, Row, cells_of
from forecaster.answers.check.truth import Truth, what_came_true
from forecaster.answers.window import THRESHOLDS, Threshold, known_thresholds
from forecaster.chance.scores import crps_ensemble
from forecaster.forecast.ensemble import Crossing, SoilForecast
from forecaster.forecast.soil import check_draws, forecast_from, until
from forecaster.forecast.understand import understand
from forecaster.ground.arrays import Ints
from forecaster.ground.errors import NotEnoughData
from forecaster.ground.given import several, whole
from forecaster.ground.plural import counted
from forecaster.ground.site import Site
from forecaster.rules.crossings import NEVER, crossing_index
from forecaster.rules.past import PastSeason
from forecaster.soil.model import SoilModel

LEADS_DAYS = (0, 7, 14, 28, 42)
CHECK_DAYS = (-14, -7, 0, 7, 14)  # about the usual date
LEAST_HISTORY_DAYS = 365  # of air before the day of issue
WEATHER_ONLY = (
    "There is no daily soil record here that covers five seasons, so the true dates are the "
    "model's own, driven by the air as it came: this checks the weather part of the forecast "
    "only, and says nothing of how well the model knows this ground."
)


def hindcast(
    air: pd.DataFrame,
    site: Site,
    readings: pd.DataFrame | None = None,
    *,
    thresholds: Sequence[Threshold] | None = None,
    leads_days: Sequence[int] = LEADS_DAYS,
    members: int = 200,
    seasons: int | None = None,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
    model: SoilModel | None = None,
) -> Hindcast:
    """Return the forecast repeated for past seasons, with what was known then, and its scores.

    Each forecast is issued so many days before the usual date, the median of the other
    seasons, so the day of issue owes nothing to what came true. It knows the air and the
    readings up to that day. If stopped by Ctrl-C, what is done so far is returned.

    Parameters
    ----------
    air, site, readings
        As for `forecaster.forecast.soil.estimate_soil`.
    thresholds : sequence of Threshold, optional
        By default all that are packaged.
    leads_days : sequence of int
        Days before the usual date, 0 to 180.
    members : int
        Draws of each forecast.
    seasons : int, optional
        Check the latest so many seasons only.
    seed : int
        Same seed, same answer.
    progress : callable, optional
        Called with the number of forecasts done and of all.
    model : SoilModel, optional
        In place of the packaged one.

    Raises
    ------
    InputError
        If an argument is out of range, or as `forecast_soil`.
    NotEnoughData
        If fewer than five past seasons are known.
    """
    _check(leads_days, seasons)
    check_draws(1, members, seed)
    asked = known_thresholds()
    if thresholds is not None:
        asked = several("thresholds", thresholds, Threshold, THRESHOLDS)
    truth = what_came_true(air, site, readings, asked, model)
    chosen = tuple(threshold for threshold in asked if threshold.name in truth.seasons)
    jobs = [
        (threshold, one, lead)
        for threshold in chosen
        for one in truth.seasons[threshold.name][-(seasons or 0) :]
        for lead in sorted(set(leads_days))
    ]
    rows: list[Row] = []
    complete, skipped = True, 0
    try:
        for done, row in enumerate(
            _rows(jobs, truth, air, site, readings, members=members, seed=seed, model=model), 1
        ):
            if row is None:
                skipped += 1
            else:
                rows.append(row)
            if progress is not None:
                progress(done, len(jobs))
    except KeyboardInterrupt:
        complete = False
    if complete and not rows:
        raise NotEnoughData(
            "no past season has a year of air before its day of issue; a longer record is needed"
        )
    notes = (*((WEATHER_ONLY,) if truth.kind == "model" else ()), *truth.notes)
    if skipped:
        notes += (f"Left out for less than a year of air before: {counted(skipped, 'forecast')}.",)
    cells = cells_of(rows, chosen, np.random.default_rng(seed))
    return Hindcast(
        thresholds=chosen,
        rows=tuple(rows),
        cells=cells,
        truth=truth.kind,
        members=members,
        complete=complete,
        notes=notes,
    )


def _check(leads_days: Sequence[int], seasons: int | None) -> None:
    for lead in several("leads_days", leads_days, object, "days from 0 to 180"):
        whole("leads_days", lead, 0, 180)
    if seasons is not None:
        whole("seasons", seasons, 1, 10_000)


def _rows(
    jobs: Sequence[tuple[Threshold, PastSeason, int]],
    truth: Truth,
    air: pd.DataFrame,
    site: Site,
    readings: pd.DataFrame | None,
    *,
    members: int,
    seed: int,
    model: SoilModel | None,
) -> Iterator[Row | None]:
    """Yield a scored forecast for each job, None where too little was known."""
    record = air.index[0].to_datetime64().astype("datetime64[D]")
    for threshold, one, lead in jobs:
        others = [o.censored for o in truth.seasons[threshold.name] if o.year != one.year]
        usual = one.start + int(np.median(others))
        issued = usual - lead
        if issued - record < np.timedelta64(LEAST_HISTORY_DAYS, "D"):
            yield None
            continue
        known = air.loc[: pd.Timestamp(issued)]
        place = understand(known, site, until(readings, pd.Timestamp(issued)), model)
        forecast = forecast_from(
            place,
            issued=issued,
            start=max(one.start, record),
            horizon_days=max(1, int((one.end - issued).astype(int))),
            members=members,
            seed=seed,
        )
        crossing = _crossing(forecast, threshold, one, truth)
        yield _row(
            threshold, one, crossing, np.array(others), issued=issued, usual=usual, lead=lead
        )


def _crossing(
    forecast: SoilForecast, threshold: Threshold, one: PastSeason, truth: Truth
) -> Crossing:
    """Return when the members cross; with the truth's own residual where the model is the truth."""
    if truth.kind == "readings":
        return forecast.crossing(
            threshold.threshold_c, threshold.direction, first=one.start, last=one.end
        )
    days = forecast.dates.to_numpy().astype("datetime64[D]").astype(np.int64)
    residual = truth.place.residual_c[days - truth.place.day[0]]
    soil = forecast.soil_c - forecast.residual_c + residual
    keep = days <= one.end.astype(np.int64)
    index = crossing_index(soil[:, keep], threshold.threshold_c, threshold.direction)
    dates = days.astype("datetime64[D]")[np.maximum(index, 0)]
    return Crossing(np.where(index == NEVER, np.datetime64("NaT", "D"), dates))


def _row(
    threshold: Threshold,
    one: PastSeason,
    crossing: Crossing,
    others: Ints,
    *,
    issued: np.datetime64,
    usual: np.datetime64,
    lead: int,
) -> Row:
    """Return one forecast scored; never counts as the season's last day."""
    early, middle, late = (crossing.quantile(q) for q in (0.1, 0.5, 0.9))
    first, median, last = (_index(day, one) for day in (early, middle, late))
    dates = np.where(np.isnat(crossing.dates), one.end, crossing.dates)
    ours = (dates - one.start).astype(float)
    observed = float(one.censored)
    settled = None if one.index == NEVER else one.start + one.index
    days = [day for day in (usual + gap for gap in CHECK_DAYS) if issued <= day < one.end]
    return Row(
        threshold=threshold.name,
        year=one.year,
        lead_days=lead,
        issued=_date(issued),
        usual=_date(usual),
        settled=None if settled is None else _date(settled),
        early=_date_or_none(early),
        median=_date_or_none(middle),
        late=_date_or_none(late),
        never=crossing.probability_never,
        crps_days=float(crps_ensemble(ours, observed)),
        climatology_crps_days=float(crps_ensemble(others, observed)),
        miss_days=median - observed,
        inside=first <= observed <= last,
        width_days=last - first,
        checks=tuple(
            (_date(day), crossing.probability_by(day), settled is not None and bool(settled <= day))
            for day in days
        ),
    )


def _index(day: np.datetime64, one: PastSeason) -> float:
    """Return a day counted from the season's first; its last for never."""
    return float(one.days if np.isnat(day) else (day - one.start).astype(int))


def _date(day: np.datetime64) -> date:
    found: date = day.astype("datetime64[D]").item()
    return found


def _date_or_none(day: np.datetime64) -> date | None:
    return None if np.isnat(day) else _date(day)
