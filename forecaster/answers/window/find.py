"""Find the planting windows of a place as they stand on a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any, cast

import numpy as np
import pandas as pd

from forecaster.answers.calendar import date_of, date_or_none
from forecaster.answers.place_today import STALE_AFTER_DAYS, SoilToday, soil_today
from forecaster.answers.thermometer import Departures, best_reading, departure_c
from forecaster.answers.window.past import typical_dates, usual_by_day
from forecaster.answers.window.results import (
    Outlook,
    Shown,
    SoFar,
    Threshold,
    Verdict,
    Window,
    WindowAnswer,
)
from forecaster.answers.window.worth import soil_that_decides, worth_of_readings
from forecaster.forecast.ensemble import Crossing, Day, SoilForecast, as_day, quantiles_by_day
from forecaster.forecast.understand import Place
from forecaster.ground.errors import InputError
from forecaster.ground.given import several
from forecaster.ground.plural import counted
from forecaster.ground.site import Site
from forecaster.ground.units import f_to_c
from forecaster.packaged import load_csv
from forecaster.rules.crossings import (
    NEVER,
    TOUCH_MEAN_DAYS,
    Direction,
    Kind,
    crossing_index,
)
from forecaster.rules.past import LEAST_SEASONS

LEAST_WEEKS = 8
SETTLED_BY = 0.99  # the weeks go on until so many futures have settled, or the season ends
THRESHOLDS = "at least one Threshold, as known_thresholds gives"
PAST_SHOWN_DAYS = 60
THERMOMETER_HOURS = (7.0, 16.0)  # early, and when the soil under hand is about warmest
FAN = (0.1, 0.25, 0.5, 0.75, 0.9)
SURE, EVEN, HARDLY = 0.8, 0.5, 0.05
LATE_AFTER_DAYS = 42  # settled so long ago; common practice, no source


def known_thresholds(crop_class: str | None = None) -> list[Threshold]:
    """Return the packaged thresholds, in °C, all of them or those of one crop class.

    Parameters
    ----------
    crop_class : str, optional
        ``cool`` or ``warm``.

    Raises
    ------
    InputError
        If there is no such class.
    """
    rows = load_csv("thresholds.csv")
    chosen = [row for row in rows if crop_class in (None, row["crop_class"])]
    if not chosen:
        classes = ", ".join(sorted({row["crop_class"] for row in rows}))
        raise InputError(f"crop class {crop_class!r} is not known; expected one of {classes}")
    return [
        Threshold(
            name=row["name"],
            label=row["label"],
            threshold_c=f_to_c(float(row["threshold_f"])),
            direction=cast("Direction", row["direction"]),
            basis=row["basis"],
            source=row["source"],
        )
        for row in chosen
    ]


def find_windows(
    air: pd.DataFrame,
    site: Site,
    thresholds: Sequence[Threshold],
    *,
    readings: pd.DataFrame | None = None,
    outlook: pd.DataFrame | None = None,
    today: Day,
    asked_on: Day | None = None,
    seed: int = 0,
) -> WindowAnswer:
    """Return the planting windows of a place as they stand on a day.

    Parameters
    ----------
    air, site, readings, outlook
        As for `forecaster.forecast.soil.forecast_soil`; rows after `today` are ignored.
    thresholds : sequence of Threshold
        At least one.
    today : date-like
        The day of the answer.
    asked_on : date-like, optional
        The day on which it is asked, where that is later: air and readings that end long
        before it tell no one to go.
    seed : int
        Same seed, same answer.

    Raises
    ------
    InputError, NotEnoughData
        As `forecast_soil`; if no threshold is given, or `today` lies before the record.
    """
    now = as_day(today)
    here = soil_today(
        air,
        site,
        today=now,
        asked_on=now if asked_on is None else as_day(asked_on),
        readings=readings,
        outlook=outlook,
        seed=seed,
    )
    return windows_in(here, thresholds)


def windows_in(here: SoilToday, thresholds: Sequence[Threshold]) -> WindowAnswer:
    """Return the planting windows of a place on its day.

    Raises
    ------
    InputError
        If no threshold is given.
    """
    return _answer(decided(here, thresholds), here)


def decided(
    here: SoilToday, thresholds: Sequence[Threshold], *, thermometer: bool = True
) -> tuple[Window, ...]:
    """Return the windows alone, without the series that a chart draws.

    Without `thermometer`, nothing is said of what one would show, or of what a reading buys.

    Raises
    ------
    InputError
        If no threshold is given.
    """
    thresholds = several("thresholds", thresholds, Threshold, THRESHOLDS)
    shown = departures_of(here) if thermometer else None
    found = (_window(threshold, here, shown) for threshold in thresholds)
    return tuple(sorted(found, key=_order))


def departures_of(here: SoilToday) -> Departures:
    """Return what thermometers show at a place: the same for every threshold."""
    place, day = here.place, here.forecast.dates.to_numpy().astype("datetime64[D]")
    found = ((hour, departure_c(place, place.site, day, hour)) for hour in THERMOMETER_HOURS)
    known = {hour: each for hour, each in found if each is not None}
    return Departures(known, best_reading(place, place.site))


def _window(threshold: Threshold, here: SoilToday, thermometer: Departures | None) -> Window:
    place, forecast, now = here.place, here.forecast, here.today
    season = here.season(threshold.direction)
    start = season.containing_or_next(now)
    end = start + season.days
    typical, touches, came_back = typical_dates(threshold, season, place, start)
    crossing = forecast.crossing(threshold.threshold_c, threshold.direction, first=start, last=end)
    outlook = replace(
        _outlook(crossing, end, now),
        **_touches(threshold, forecast, start, end),
        shown=() if thermometer is None else _shown(threshold, here, start, end, thermometer),
    )
    so_far = _so_far(place, crossing, start, (touches, came_back), outlook.first_touch)
    so_far = replace(so_far, stale_days=here.stale_days)
    verdict, reason = _verdict(outlook, so_far, crossing, start, now)
    if verdict == "go" or (here.stale_days and verdict != "no season"):
        verdict, reason = ("unsure", here.unsure) if here.unsure else (verdict, reason)
    if verdict == "unsure" and not here.unsure:
        decides = soil_that_decides(
            crossing, forecast, now, direction=threshold.direction, sure=SURE
        )
        so_far = replace(so_far, go_c=decides)
    worth = None
    if thermometer is not None and verdict != "no season":
        worth = worth_of_readings(crossing, forecast, thermometer.best, now)
    return Window(
        threshold=threshold,
        season_start=date_of(start),
        season_end=date_of(end),
        typical=typical,
        so_far=so_far,
        outlook=outlook,
        verdict=verdict,
        reason=reason,
        worth=worth,
    )


def _touches(
    threshold: Threshold, forecast: SoilForecast, start: np.datetime64, end: np.datetime64
) -> dict[str, Any]:
    """Return the middle dates of the first and the last touch."""

    def middle(kind: Kind) -> date | None:
        found = forecast.crossing(
            threshold.threshold_c, threshold.direction, first=start, last=end, kind=kind
        )
        return date_or_none(found.quantile(0.5))

    return {"first_touch": middle("first"), "last_touch": middle("last")}


def _shown(
    threshold: Threshold,
    here: SoilToday,
    start: np.datetime64,
    end: np.datetime64,
    thermometer: Departures,
) -> tuple[Shown, ...]:
    """Return when a thermometer read at an hour gets there."""
    day = here.forecast.dates.to_numpy().astype("datetime64[D]")
    inside = (day >= start) & (day <= end)
    soil_c, days = here.forecast.soil_c[:, inside], day[inside]
    shown = []
    for hour, departure in thermometer.by_hour.items():
        index = crossing_index(
            soil_c + departure[inside], threshold.threshold_c, threshold.direction
        )
        dates = np.where(index == NEVER, np.datetime64("NaT", "D"), days[index])
        shown.append(Shown(hour, date_or_none(Crossing(dates).quantile(0.5))))
    return tuple(shown)


def _outlook(crossing: Crossing, end: np.datetime64, now: np.datetime64) -> Outlook:
    """Return what the members say of the settled date."""
    median, early, late = (date_or_none(crossing.quantile(q)) for q in (0.5, 0.1, 0.9))
    known = crossing.dates[~np.isnat(crossing.dates)]
    day, count = np.unique(known, return_counts=True)
    return Outlook(
        median=median,
        early=early,
        late=late,
        never=crossing.probability_never,
        by_week=_by_week(crossing, end, now),
        day=tuple(date_of(each) for each in day),
        share=tuple(float(each) / crossing.dates.size for each in count),
    )


def _by_week(
    crossing: Crossing, end: np.datetime64, now: np.datetime64
) -> tuple[tuple[date, float], ...]:
    """Return the chance of having settled by each of the next weeks, until it is sure."""
    weeks: list[tuple[date, float]] = []
    for week in np.arange(now + 7, end + 1, 7):
        if len(weeks) >= LEAST_WEEKS and weeks[-1][1] > SETTLED_BY:
            break
        weeks.append((date_of(week), crossing.probability_by(week)))
    return tuple(weeks)


def _so_far(
    place: Place,
    crossing: Crossing,
    start: np.datetime64,
    touches: tuple[int, int],
    first_touch: date | None,
) -> SoFar:
    """Return what has happened this season to the last day of the record."""
    day, soil = place.day.astype("datetime64[D]"), place.soil_c
    recent = soil[-14:]
    trend = float(np.polyfit(np.arange(recent.size), recent, 1)[0]) * 7.0
    inside = soil[day >= start]
    touch, touch_c = first_touch, None
    if touch is not None:
        at = int((np.datetime64(touch, "D") - day[0]).astype(int))
        touch_c = float(soil[at : at + TOUCH_MEAN_DAYS].mean()) if at < soil.size else None
        touch = touch if at < soil.size else None
    return SoFar(
        last_day=date_of(day[-1]),
        soil_c=float(soil[-1]),
        sd_c=float(place.sd_c[-1]),
        trend_c_per_week=trend,
        first_touch=touch,
        touches=touches[0],
        came_back=touches[1],
        settled_chance=crossing.probability_by(day[-1]) if inside.size else 0.0,
        touch_c=touch_c,
    )


def _verdict(
    outlook: Outlook,
    so_far: SoFar,
    crossing: Crossing,
    start: np.datetime64,
    now: np.datetime64,
) -> tuple[Verdict, str]:
    """Return go, wait or late, and why."""
    settled = crossing.probability_by(now)
    verdict: Verdict = "wait"
    if outlook.never > 1.0 - HARDLY:
        verdict, reason = "no season", "the soil is not expected to get there this season"
    elif start > now:
        reason = "its season has not begun"
    elif crossing.probability_by(start) >= EVEN:
        verdict, reason = "no season", "the soil is there already when the season begins"
    elif crossing.probability_by(now - LATE_AFTER_DAYS) >= EVEN:
        verdict, reason = "late", "the soil settled more than six weeks ago"
    elif settled >= SURE:
        verdict, reason = "go", f"the soil has settled ({_sure(settled)})"
    elif settled >= EVEN:
        verdict, reason = "unsure", f"the soil has perhaps settled ({_sure(settled)})"
    elif so_far.first_touch is not None:
        reason = f"the soil was there for some days, but has hardly settled ({_chance(settled)})"
    else:
        reason = f"the soil has not settled yet ({_sure(1.0 - settled)})"
    return verdict, reason


def _sure(probability: float) -> str:
    return f"{round(100 * min(max(probability, 0.01), 0.99))} % sure"


def _chance(probability: float) -> str:
    return _sure(probability).replace("sure", "chance")


def _answer(windows: tuple[Window, ...], here: SoilToday) -> WindowAnswer:
    """Return the windows with the series that a chart draws."""
    place, forecast = here.place, here.forecast
    dates = forecast.dates.to_numpy().astype("datetime64[D]")
    starts, ends = (
        [getattr(one, f"season_{side}") for one in windows] for side in ("start", "end")
    )
    first = min(np.datetime64(min(starts), "D"), here.today - PAST_SHOWN_DAYS)
    inside = (dates >= first) & (dates <= np.datetime64(max(ends), "D"))
    day = dates[inside]
    past = np.isin(day, place.day.astype("datetime64[D]"))
    soil, sd = np.full(day.size, np.nan), np.full(day.size, np.nan)
    at = day[past].astype(np.int64) - place.day[0]
    soil[past], sd[past] = place.soil_c[at], place.sd_c[at]
    years = place.day.size // 365
    evidence = place.evidence
    kept = evidence.day.astype("datetime64[D]")
    shown = (kept >= day[0]) & (kept <= day[-1])
    reading = place.modelled.soil_c[evidence.day - place.day[0]] + evidence.residual_c
    return WindowAnswer(
        windows=windows,
        day=day,
        soil_c=soil,
        sd_c=sd,
        fan_c=quantiles_by_day(forecast.soil_c[:, inside], FAN),
        usual_c=usual_by_day(place, day),
        reading_day=kept[shown],
        reading_c=reading[shown],
        reading_outlier=place.outlier[shown],
        outliers=place.outliers,
        years=years,
        kind=place.kind,
        filled_days=place.modelled.filled_days,
        notes=notes_of(here),
        doubtful=place.doubtful,
    )


def notes_of(here: SoilToday) -> tuple[str, ...]:
    """Return what the reader of the answer should know, what is doubtful first."""
    place, now, notes = here.place, here.today, [*here.doubts]
    years = place.day.size // 365
    if years < LEAST_SEASONS:
        held = "less than one year" if years < 1 else f"{years} year{'s' if years > 1 else ''}"
        notes.append(
            f"The record holds {held}: too little for a typical window "
            f"({LEAST_SEASONS} seasons are needed), and the air to come is guessed from it widely."
        )
    behind = int((now - np.datetime64(int(place.day[-1]), "D")).astype(int))
    if 0 < behind <= STALE_AFTER_DAYS:
        notes.append(f"The air record ends {counted(behind, 'day')} before the day asked about.")
    if place.modelled.filled_days:
        filled = place.modelled.filled_days
        was, them = ("was", "it") if filled == 1 else ("were", "them")
        notes.append(
            f"{counted(filled, 'day')} without air in the record {was} filled from the days "
            f"around {them}."
        )
    if "rain" not in place.kind:
        notes.append("The record has no rain: wet and dry ground are not told apart.")
    if here.forecast.years == 0:
        notes.append("No past year follows this day; weather of other seasons stands in.")
    return tuple(notes)


def _order(window: Window) -> tuple[bool, date]:
    """Return the sorting key: seasons that run and are not over first, then the next ones."""
    done = window.verdict in ("late", "no season")
    return done, window.outlook.median or window.season_end
