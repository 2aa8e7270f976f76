"""The planting window: typical, this season so far, and what will happen, for one threshold."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal, cast

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.errors import InputError, NotEnoughData
from forecaster.forecast import Crossing, SoilForecast, forecast_soil
from forecaster.place import Place, load_daily_wave
from forecaster.reference import load_csv
from forecaster.site import Site
from forecaster.soil.readings import THERMOMETER_SD_C
from forecaster.soil.season import fit_yearly, harmonics
from forecaster.soil.wave import hour_correction, solar_noon_hour
from forecaster.units import f_to_c
from forecaster.windows.crossings import NEVER, Direction, Kind, crossing_index
from forecaster.windows.season import Season, season_of

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]

LEAST_SEASONS = 5  # below this a median and a middle 80 % say nothing
SPIN_UP_DAYS = 30  # of a record, before its soil can be trusted
MEMBERS = 400
WEEKS_SHOWN = 8
SURE, EVEN = 0.8, 0.5
LATE_AFTER_DAYS = 42  # settled so long ago; common practice, no source
NORMAL_80 = 1.2816  # half width of the middle 80 % of a normal distribution, in sd
READING_HOURS = np.arange(6.0, 21.0)
READING_DEPTHS_M = (0.05, 0.10, 0.15)  # as far as a kitchen-drawer thermometer reaches

Verdict = Literal["go", "wait", "late", "no season", "unsure"]


@dataclass(frozen=True, slots=True)
class Threshold:
    """A soil temperature that opens a window.

    Parameters
    ----------
    name, label : str
        Short name, and what is planted, as `Cool-season flats`.
    threshold_c : float
        °C.
    direction : {"falling", "rising"}
    basis, source : str
        How well it is known.
    """

    name: str
    label: str
    threshold_c: float
    direction: Direction
    basis: str = "yours"
    source: str = "given on the command line"


@dataclass(frozen=True, slots=True)
class Typical:
    """Settled dates of past seasons.

    Parameters
    ----------
    dates : tuple of (int, date or None)
        Year in which the season starts and its settled date, None for never.
    median, early, late : date or None
        Middle of those dates and the middle 80 %, moved into the season asked about; None if
        fewer than `LEAST_SEASONS` or if that share of seasons never crossed.
    never_years : tuple of int
        Seasons that never crossed.
    already_years : tuple of int
        Seasons that began past the threshold.
    ground_days : float
        How many days the dates may all lie off for what is not known of this ground (80 %).
    """

    dates: tuple[tuple[int, date | None], ...]
    median: date | None
    early: date | None
    late: date | None
    never_years: tuple[int, ...]
    already_years: tuple[int, ...]
    ground_days: float


@dataclass(frozen=True, slots=True)
class SoFar:
    """This season to the last day of the record.

    Parameters
    ----------
    last_day : date
        Last day of the air record.
    soil_c, sd_c : float
        Estimate of the soil on that day, °C.
    trend_c_per_week : float
        Slope over the last fourteen days.
    first_touch : date or None
        First day whose 5-day mean is past the threshold.
    touches, came_back : int
        In past seasons: how many first touches there were, and how many of them were followed
        by a 5-day mean back on the near side.
    settled_chance : float
        Probability that the settled date lies on or before that day.
    """

    last_day: date
    soil_c: float
    sd_c: float
    trend_c_per_week: float
    first_touch: date | None
    touches: int
    came_back: int
    settled_chance: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """What will happen this season, from the joint ensemble.

    Parameters
    ----------
    median, early, late : date or None
        Settled date: middle, 10 % and 90 %; None where that share never settles.
    never : float
        Probability of never within the season.
    by_week : tuple of (date, float)
        Probability of having settled by the end of each of the next weeks; does not fall.
    day, share : tuple
        The date's distribution for a chart: days and the share of members settling on each.
    """

    median: date | None
    early: date | None
    late: date | None
    never: float
    by_week: tuple[tuple[date, float], ...]
    day: tuple[date, ...]
    share: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Worth:
    """What a further reading buys.

    Parameters
    ----------
    now_days : float
        Width of the 80 % window as it stands, days.
    one_today_days : float
        Expected width after one reading today at the best hour and depth.
    weekly_days : float
        Expected width after one reading a week for four weeks.
    best_hour, best_depth_m : float
        Where and when a reading is worth most: local standard hour, metres.
    """

    now_days: float
    one_today_days: float
    weekly_days: float
    best_hour: float
    best_depth_m: float


@dataclass(frozen=True, slots=True)
class Window:
    """The answer for one threshold.

    Parameters
    ----------
    threshold : Threshold
    season_start, season_end : date
        The season asked about: the one that runs on the day asked, or the next.
    typical : Typical
    so_far : SoFar
    outlook : Outlook
    verdict : {"go", "wait", "late", "no season", "unsure"}
    reason : str
        Why, in one sentence without units of temperature.
    worth : Worth or None
        None if a reading could not change the answer.
    """

    threshold: Threshold
    season_start: date
    season_end: date
    typical: Typical
    so_far: SoFar
    outlook: Outlook
    verdict: Verdict
    reason: str
    worth: Worth | None


@dataclass(frozen=True, slots=True)
class WindowAnswer:
    """Windows of all thresholds asked about, and the series behind them.

    Parameters
    ----------
    windows : tuple of Window
        The season that runs, or comes next, first.
    day : (n,) array of datetime64[D]
        Days past and to come.
    soil_c, sd_c : (n,) array
        Estimate and standard deviation to the last day known, NaN after, °C.
    fan_c : (5, n) array
        10, 25, 50, 75 and 90 % of the members, °C.
    usual_c : (3, n) array
        10, 50 and 90 % of the record's other years on the same calendar days, °C.
    reading_day, reading_c, reading_outlier : (m,) arrays
        Readings as daily means at the site's depth, and which the others contradict.
    outliers : tuple of str
        The same in words.
    years : int
        Whole years of air record.
    kind : str
        What the record holds.
    filled_days : int
        Days whose air was bridged.
    notes : tuple of str
        What the reader of the answer should know, a sentence each.
    """

    windows: tuple[Window, ...]
    day: Days
    soil_c: Floats
    sd_c: Floats
    fan_c: Floats
    usual_c: Floats
    reading_day: Days
    reading_c: Floats
    reading_outlier: NDArray[np.bool_]
    outliers: tuple[str, ...]
    years: int
    kind: str
    filled_days: int
    notes: tuple[str, ...]


def known_thresholds(crop_class: str | None = None) -> list[Threshold]:
    """Return the packaged thresholds, all of them or those of one crop class.

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
            row["name"],
            row["label"],
            f_to_c(float(row["threshold_f"])),
            cast("Direction", row["direction"]),
            row["basis"],
            row["source"],
        )
        for row in chosen
    ]


def find_windows(
    air: pd.DataFrame,
    site: Site,
    thresholds: list[Threshold],
    *,
    readings: pd.DataFrame | None = None,
    outlook: pd.DataFrame | None = None,
    today: date,
    seed: int = 0,
) -> WindowAnswer:
    """Return the planting windows of a place as they stand on a day.

    Parameters
    ----------
    air, site, readings, outlook
        As for `forecaster.forecast.forecast_soil`; rows after `today` are ignored.
    thresholds : list of Threshold
        At least one.
    today : date
        The day of the answer.
    seed : int
        Same seed, same answer.

    Raises
    ------
    InputError, NotEnoughData
        As `forecast_soil`; and if `today` lies before the record.
    """
    now = np.datetime64(today, "D")
    first_day = np.datetime64(air.index[0], "D")
    if now < first_day:
        raise InputError(f"today is {now}; the air record begins only on {first_day}")
    place_days = air.loc[: pd.Timestamp(now)]
    if place_days.empty:
        raise NotEnoughData(f"no day of air up to {now}")
    forecast, seasons = _forecast_seasons(air, site, thresholds, readings, outlook, now, seed)
    place = forecast.place
    windows = tuple(
        _window(threshold, season, place, forecast, site, now)
        for threshold, season in zip(thresholds, seasons, strict=True)
    )
    order = sorted(range(len(windows)), key=lambda i: _order(windows[i], today))
    return _answer(tuple(windows[i] for i in order), forecast, now)


def _forecast_seasons(
    air: pd.DataFrame,
    site: Site,
    thresholds: list[Threshold],
    readings: pd.DataFrame | None,
    outlook: pd.DataFrame | None,
    now: np.datetime64,
    seed: int,
) -> tuple[SoilForecast, list[Season]]:
    """Return one forecast that spans the season of every threshold, and the seasons."""
    from forecaster.forecast import until  # noqa: PLC0415
    from forecaster.place import understand  # noqa: PLC0415

    place = understand(air.loc[: pd.Timestamp(now)], site, until(readings, pd.Timestamp(now)))
    yearly = fit_yearly(harmonics(place.day), place.soil_c, prior_sd=10.0, noise_sd=10.0)
    seasons = [season_of(yearly, threshold.direction) for threshold in thresholds]
    starts = [season.containing_or_next(now) for season in seasons]
    ends = [start + season.days for start, season in zip(starts, seasons, strict=True)]
    first = max(np.datetime64(int(place.day[0]), "D"), min(*starts, now - 60))
    forecast = forecast_soil(
        air,
        site,
        readings,
        issued=now,
        start=first,
        horizon_days=int((max(ends) - now).astype(int)),
        members=MEMBERS,
        outlook=outlook,
        seed=seed,
        place=place,
    )
    return forecast, seasons


def _window(
    threshold: Threshold,
    season: Season,
    place: Place,
    forecast: SoilForecast,
    site: Site,
    now: np.datetime64,
) -> Window:
    start = season.containing_or_next(now)
    end = start + season.days
    typical, touches, came_back = _typical(threshold, season, place, start)
    crossing = forecast.crossing(threshold.threshold_c, threshold.direction, first=start, last=end)
    outlook = _outlook(crossing, start, end, now)
    so_far = _so_far(threshold, place, crossing, start, touches, came_back)
    verdict, reason = _verdict(outlook, so_far, crossing, start, now)
    worth = _worth(crossing, forecast, place, site, now) if verdict != "no season" else None
    return Window(
        threshold,
        _date(start),
        _date(end),
        typical,
        so_far,
        outlook,
        verdict,
        reason,
        worth,
    )


def _typical(
    threshold: Threshold, season: Season, place: Place, asked: np.datetime64
) -> tuple[Typical, int, int]:
    """Return the settled dates of past seasons, and how often a first touch came back."""
    starts, soil = _past_seasons(season, place)
    years = [int(str(start)[:4]) for start in starts]

    def crossed(kind: Kind, shift_c: float = 0.0) -> NDArray[np.int64]:
        return crossing_index(soil, threshold.threshold_c + shift_c, threshold.direction, kind)

    if not years:
        return Typical((), None, None, None, (), (), float("nan")), 0, 0
    settled, first, last = crossed("settled"), crossed("first"), crossed("last")
    dates = tuple(
        (year, None if day == NEVER else _date(begin + day))
        for year, begin, day in zip(years, starts, settled, strict=True)
    )
    quantiles: tuple[date | None, ...] = (None, None, None)
    if len(years) >= LEAST_SEASONS:
        quantiles = tuple(_share(settled, season.days, asked, q) for q in (0.5, 0.1, 0.9))
    columns = harmonics(place.day[-365:], (place.prior.yearly_mean_c.size - 1) // 2)
    sd = float(np.sqrt(np.mean(place.sd_c[-365:] ** 2))) if columns.size else 0.0
    early, late = (
        float(np.median(np.where(day == NEVER, season.days, day)))
        for day in (crossed("settled", NORMAL_80 * sd), crossed("settled", -NORMAL_80 * sd))
    )
    touched = first != NEVER
    back = touched & ((last > first) | (last == NEVER))
    typical = Typical(
        dates,
        *quantiles,
        tuple(year for year, day in zip(years, settled, strict=True) if day == NEVER),
        tuple(year for year, day in zip(years, settled, strict=True) if day == 0),
        abs(late - early) / 2.0,
    )
    return typical, int(touched.sum()), int(back.sum())


def _past_seasons(season: Season, place: Place) -> tuple[list[np.datetime64], Floats]:
    """Return the seasons that lie wholly in the record, and their soil, (years, days)."""
    first, last = (np.datetime64(int(place.day[at]), "D") for at in (0, -1))
    years = range(int(str(first)[:4]), int(str(last)[:4]) + 1)
    starts = [
        start
        for start in (season.start(year) for year in years)
        if start >= first + SPIN_UP_DAYS and start + season.days <= last
    ]
    at = [int((start - first).astype(int)) for start in starts]
    soil = place.soil_c
    rows = [soil[begin : begin + season.days + 1] for begin in at]
    return starts, np.array(rows).reshape(len(rows), season.days + 1)


def _share(settled: NDArray[np.int64], days: int, start: np.datetime64, q: float) -> date | None:
    """Return the day of the season by which a share of past seasons had settled."""
    day = float(np.quantile(np.where(settled == NEVER, days + 1, settled), q))
    return None if day > days else _date(start + round(day))


def _outlook(
    crossing: Crossing, start: np.datetime64, end: np.datetime64, now: np.datetime64
) -> Outlook:
    """Return what the members say of the settled date."""
    median, early, late = (_date_or_none(crossing.quantile(q)) for q in (0.5, 0.1, 0.9))
    weeks = [now + 7 * week for week in range(1, WEEKS_SHOWN + 1)]
    known = crossing.dates[~np.isnat(crossing.dates)]
    day, count = np.unique(known, return_counts=True)
    return Outlook(
        median,
        early,
        late,
        crossing.probability_never,
        tuple((_date(week), crossing.probability_by(week)) for week in weeks if week <= end),
        tuple(_date(each) for each in day),
        tuple(float(each) / crossing.dates.size for each in count),
    )


def _so_far(
    threshold: Threshold,
    place: Place,
    crossing: Crossing,
    start: np.datetime64,
    touches: int,
    came_back: int,
) -> SoFar:
    """Return what has happened this season to the last day of the record."""
    day, soil = place.day.astype("datetime64[D]"), place.soil_c
    recent = soil[-14:]
    trend = float(np.polyfit(np.arange(recent.size), recent, 1)[0]) * 7.0
    inside = soil[day >= start]
    touch = None
    if inside.size:
        index = int(crossing_index(inside, threshold.threshold_c, threshold.direction, "first"))
        touch = None if index == NEVER else _date(day[day >= start][index])
    return SoFar(
        _date(day[-1]),
        float(soil[-1]),
        float(place.sd_c[-1]),
        trend,
        touch,
        touches,
        came_back,
        crossing.probability_by(day[-1]) if inside.size else 0.0,
    )


def _verdict(
    outlook: Outlook,
    so_far: SoFar,
    crossing: Crossing,
    start: np.datetime64,
    now: np.datetime64,
) -> tuple[Verdict, str]:
    """Return go, wait or late, and why."""
    if outlook.never > 1.0 - 0.05:
        return "no season", "the soil is not expected to settle past this in the season"
    if start > now:
        return "wait", "the season of this crossing has not begun"
    settled = crossing.probability_by(now)
    long_ago = crossing.probability_by(now - LATE_AFTER_DAYS)
    if long_ago >= EVEN:
        return "late", "the soil settled past this more than six weeks ago"
    if settled >= SURE:
        return "go", f"the soil has settled past this, {_odds(settled)}"
    if settled >= EVEN:
        return "unsure", f"it may have settled, {_odds(settled)}, and could come back"
    if so_far.first_touch is not None:
        return "wait", f"it has touched but hardly settled, {_odds(settled)}"
    return "wait", f"it has not settled, {_odds(1.0 - settled)}"


def _odds(probability: float) -> str:
    return f"as {round(100 * min(max(probability, 0.01), 0.99))} in 100 chances say"


def _worth(
    crossing: Crossing, forecast: SoilForecast, place: Place, site: Site, now: np.datetime64
) -> Worth | None:
    """Return how much the 80 % window narrows with further readings.

    The members are joint draws of the residual and of the settled date. A reading shows the
    residual of its day with an error; the share of the date's variance that readings explain
    is the squared multiple correlation over the members, corrected for their number, and the
    window narrows with the root of what is left.
    """
    end = forecast.dates[-1].to_datetime64().astype("datetime64[D]")
    dates = np.where(np.isnat(crossing.dates), end, crossing.dates).astype(np.int64)
    low, high = np.quantile(dates, [0.1, 0.9])
    if high - low < 1.0 or high <= now.astype(np.int64):
        return None
    hour, depth, error = _best_reading(place, site)
    first = forecast.dates[0].to_datetime64().astype("datetime64[D]").astype(np.int64)
    at = int(now.astype(np.int64) - first)
    weekly = [at + 7 * week for week in range(4) if at + 7 * week < forecast.residual_c.shape[1]]
    random = np.random.default_rng(0)

    def left(days: list[int]) -> float:
        shown = forecast.residual_c[:, days]
        shown = shown + error * random.standard_normal(shown.shape)
        x = np.column_stack([shown - shown.mean(axis=0), np.ones(len(dates))])
        fit = x @ np.linalg.lstsq(x, dates.astype(float), rcond=None)[0]
        unexplained = float(np.var(dates - fit)) / max(float(np.var(dates)), 1e-9)
        degrees = len(dates) - len(days) - 1
        return float(np.sqrt(min(unexplained * (len(dates) - 1) / degrees, 1.0)))

    width = float(high - low)
    one = width * left([at])
    return Worth(width, one, min(width * left(weekly), one), hour, depth)


def _best_reading(place: Place, site: Site) -> tuple[float, float, float]:
    """Return hour, depth (m) and error (°C) of the reading that says most of the daily mean."""
    air = place.modelled.air
    recent = slice(-14, None)
    half = 5.0 if air.range_c is None else float(np.mean(air.range_c[recent])) / 2.0
    middle = float(np.mean(air.mean_c[recent]))
    best = (float("inf"), 0.0, 0.0)
    for depth in READING_DEPTHS_M:
        found = hour_correction(
            READING_HOURS,
            depth,
            tmin_c=np.full(READING_HOURS.size, middle - half),
            tmax_c=np.full(READING_HOURS.size, middle + half),
            day_of_year=np.full(READING_HOURS.size, air.day_of_year[-1]),
            latitude_deg=site.latitude_deg,
            wave=load_daily_wave(),
            solar_noon_h=12.0
            if site.longitude_deg is None
            else solar_noon_hour(site.longitude_deg),
        )
        apart = place.model.depth_mismatch_c_per_m * (depth - site.depth_m)
        error = np.sqrt(THERMOMETER_SD_C**2 + found.sd_c**2 + apart**2)
        least = int(np.argmin(error))
        best = min(best, (float(error[least]), float(READING_HOURS[least]), depth))
    return best[1], best[2], best[0]


def _answer(
    windows: tuple[Window, ...], forecast: SoilForecast, now: np.datetime64
) -> WindowAnswer:
    """Return the windows with the series that a chart draws."""
    place = forecast.place
    day = forecast.dates.to_numpy().astype("datetime64[D]")
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
        windows,
        day,
        soil,
        sd,
        np.quantile(forecast.soil_c, [0.1, 0.25, 0.5, 0.75, 0.9], axis=0),
        _usual(place, day),
        kept[shown],
        reading[shown],
        place.outlier[shown],
        place.outliers,
        years,
        place.kind,
        place.modelled.filled_days,
        _notes(place, forecast, years, now),
    )


def _usual(place: Place, day: Days) -> Floats:
    """Return 10, 50 and 90 % of the record's soil on the same calendar days, (3, n)."""
    number = day.astype(np.int64)
    ago = np.arange(1, place.day.size // 365 + 2)
    at = number[None, :] - np.round(ago[:, None] * 365.2425).astype(np.int64) - place.day[0]
    there = (at >= SPIN_UP_DAYS) & (at < place.day.size)
    values = np.where(there, place.soil_c[np.clip(at, 0, place.day.size - 1)], np.nan)
    usual = np.full((3, day.size), np.nan)
    enough = there.sum(axis=0) >= 3
    if enough.any():
        usual[:, enough] = np.nanquantile(values[:, enough], [0.1, 0.5, 0.9], axis=0)
    return usual


def _notes(place: Place, forecast: SoilForecast, years: int, now: np.datetime64) -> tuple[str, ...]:
    """Return what the reader of the answer should know."""
    notes = []
    if years < LEAST_SEASONS:
        held = "less than one year" if years < 1 else f"{years} year{'s' if years > 1 else ''}"
        notes.append(
            f"The record holds {held}: too little for a typical window "
            f"({LEAST_SEASONS} seasons are needed), and the air to come is guessed from it widely."
        )
    behind = int((now - np.datetime64(int(place.day[-1]), "D")).astype(int))
    if behind > 0:
        notes.append(f"The air record ends {behind} days before the day of this answer.")
    if place.modelled.filled_days:
        notes.append(f"{place.modelled.filled_days} days without air were bridged.")
    if "rain" not in place.kind:
        notes.append("The record has no rain: wet and dry ground are not told apart.")
    if forecast.years == 0:
        notes.append("No past year follows this day; weather of other seasons stands in.")
    return tuple(notes)


def _order(window: Window, today: date) -> tuple[bool, date]:
    """Return the sorting key: seasons that run and are not over first, then the next ones."""
    done = window.verdict in ("late", "no season")
    return done, window.outlook.median or window.season_end


def _date(day: np.datetime64) -> date:
    found = day.astype("datetime64[D]").item()
    assert isinstance(found, date)  # noqa: S101 - for the type checker
    return found


def _date_or_none(day: np.datetime64) -> date | None:
    return None if np.isnat(day) else _date(day)
