"""What the answer about a planting window holds: plain frozen values, SI inside."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

import pandas as pd

from forecaster.forecast.judge import Doubt
from forecaster.ground.arrays import Bools, Days, Floats
from forecaster.ground.given import number, one, word
from forecaster.rules.crossings import Direction

Verdict = Literal["go", "wait", "late", "no season", "unsure"]


@dataclass(frozen=True, slots=True, kw_only=True)
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

    def __post_init__(self) -> None:
        """Refuse what no soil has."""
        for name in ("name", "label"):
            one(name, getattr(self, name), str, "text")
        number("threshold_c", self.threshold_c, -100.0, 100.0, "°C")
        word("direction", self.direction, ("falling", "rising"))


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class SoFar:
    """The season to the last day of the record.

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
    touch_c : float or None
        The 5-day mean on the day of first touch, °C; None where it is not known.
    stale_days : int
        How long before the day asked about air and readings end, where that is too long to
        tell anyone to go; else 0.
    go_c : float or None
        Where it is not sure whether the soil has settled: the day's mean of the soil from which
        on it would be, were it read today, °C; None where no reading today could tell.
    """

    last_day: date
    soil_c: float
    sd_c: float
    trend_c_per_week: float
    first_touch: date | None
    touches: int
    came_back: int
    settled_chance: float
    touch_c: float | None = None
    stale_days: int = 0
    go_c: float | None = None


@dataclass(frozen=True, slots=True)
class Shown:
    """When a thermometer that is read at one hour settles past a threshold.

    Parameters
    ----------
    hour : float
        Local standard hour.
    median : date or None
        Middle date; None where half of the members never get there.
    """

    hour: float
    median: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
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
    first_touch, last_touch : date or None
        Middle dates of the first and the last five days whose mean is there, and is not: never
        after, and never before, the settled date.
    shown : tuple of Shown
        When a thermometer read at an hour settles past the threshold, earliest hour first.
    """

    median: date | None
    early: date | None
    late: date | None
    never: float
    by_week: tuple[tuple[date, float], ...]
    day: tuple[date, ...]
    share: tuple[float, ...]
    first_touch: date | None = None
    last_touch: date | None = None
    shown: tuple[Shown, ...] = ()


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


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True, kw_only=True)
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
        What the reader of the answer should know, a sentence each; what is doubtful first.
    doubtful : tuple of Doubt
        What is strange about the record: while there is any to check first, no verdict is "go".
    """

    windows: tuple[Window, ...]
    day: Days
    soil_c: Floats
    sd_c: Floats
    fan_c: Floats
    usual_c: Floats
    reading_day: Days
    reading_c: Floats
    reading_outlier: Bools
    outliers: tuple[str, ...]
    years: int
    kind: str
    filled_days: int
    notes: tuple[str, ...]
    doubtful: tuple[Doubt, ...] = ()

    def to_frame(self) -> pd.DataFrame:
        """Return a row a window: its season, verdict, dates by their chance, usual dates, soil."""
        return pd.DataFrame(
            {
                "threshold": one.threshold.name,
                "threshold_c": one.threshold.threshold_c,
                "direction": one.threshold.direction,
                "season_start": one.season_start,
                "season_end": one.season_end,
                "verdict": one.verdict,
                "early": one.outlook.early,
                "median": one.outlook.median,
                "late": one.outlook.late,
                "never": one.outlook.never,
                "usual_early": one.typical.early,
                "usual": one.typical.median,
                "usual_late": one.typical.late,
                "soil_c": one.so_far.soil_c,
                "sd_c": one.so_far.sd_c,
            }
            for one in self.windows
        )
