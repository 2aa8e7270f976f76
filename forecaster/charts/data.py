"""What the picture shows, as plain arrays, and how the days are cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from forecaster.answers.window import Window, WindowAnswer
from forecaster.ground.arrays import Bools, Days, Floats
from forecaster.ground.errors import NotEnoughData
from forecaster.words import Told, lead, place_words
from forecaster.words.window import VERDICTS

DOTS = 20
MANY_READINGS = 40
PAST_DAYS, AFTER_DAYS, LEAST_AFTER_DAYS, MOST_PAST_DAYS = 75, 24, 45, 240
AFTER_DOTS_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One threshold on the picture.

    Parameters
    ----------
    label, short : str
        What is planted; the threshold's name.
    threshold_c : float
        °C.
    falling : bool
    early, median, late : date or None
        Settled date: 10 %, middle, 90 %.
    first_touch : date or None
    never : float
        Probability.
    day, share : arrays
        The date's distribution: days and probability a day.
    usual : date or None
        Middle of the past dates, in this season.
    sentence : str
        The answer in words.
    verdict : str
        What it comes to today, in a word.
    """

    label: str
    short: str
    threshold_c: float
    falling: bool
    early: date | None
    median: date | None
    late: date | None
    first_touch: date | None
    never: float
    day: Days
    share: Floats
    usual: date | None
    sentence: str
    verdict: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartData:
    """What is drawn, as plain arrays; temperatures in °C, days as datetime64[D].

    Parameters
    ----------
    title : str
        Name of the place or "".
    place : str
        Depth and coordinates in words.
    today : date
    day : (n,) array
        Days, past and future.
    soil_c, sd_c : (n,) array
        Estimate of past days, °C, NaN in the future.
    fan_c : (5, n) array
        10, 25, 50, 75 and 90 % of the futures, °C; drawn after the last day known.
    usual_c : (3, n) array
        10, 50 and 90 % of past years on the same day of the calendar, °C.
    usual_years : int
        How many years those are.
    reading_day, reading_c, reading_outlier : (m,) array
        Readings as daily means at the depth, °C, and whether the others contradict them.
    typed_day, typed_c : (k,) array
        The same readings as they were typed, each at its own depth and hour, °C.
    marks : tuple of Mark
        Thresholds of one season, the main one first.
    gridded : bool
        Whether the air is a gridded stand-in for a station's.
    """

    title: str
    place: str
    today: date
    day: Days
    soil_c: Floats
    sd_c: Floats
    fan_c: Floats
    usual_c: Floats
    usual_years: int
    reading_day: Days
    reading_c: Floats
    reading_outlier: Bools
    typed_day: Days
    typed_c: Floats
    marks: tuple[Mark, ...]
    gridded: bool = False

    @property
    def typed_drawn(self) -> bool:
        """Whether readings are drawn as they were typed: a logger's many are not."""
        first, last = view(self)
        typed = (self.typed_day >= first) & (self.typed_day <= last)
        inside = (self.reading_day >= first) & (self.reading_day <= last)
        return bool(typed.any()) and max(typed.sum(), inside.sum()) <= MANY_READINGS

    @property
    def known_to(self) -> np.datetime64:
        """The last day whose air is known, no later than today; the futures begin there."""
        known = self.day[np.isfinite(self.soil_c) & (self.day <= np.datetime64(self.today, "D"))]
        last: np.datetime64 = known[-1] if known.size else self.day[0] - 1
        return last


def picture_of(answer: WindowAnswer, told: Told) -> ChartData:
    """Return what is drawn of an answer: the first window's season.

    Raises
    ------
    NotEnoughData
        If the answer holds no window.
    """
    if not told.windows:
        raise NotEnoughData("there is no window to draw")
    sentences = [lead(window, told.today, "F") for window in told.windows]
    typed_day, typed_c = _typed(told)
    return ChartData(
        title=told.title,
        place=place_words(told.site),
        gridded=any(account.gridded for account in told.accounts.values()),
        today=told.today,
        day=answer.day,
        soil_c=answer.soil_c,
        sd_c=answer.sd_c,
        fan_c=answer.fan_c,
        usual_c=answer.usual_c,
        usual_years=answer.years,
        reading_day=answer.reading_day,
        reading_c=answer.reading_c,
        reading_outlier=answer.reading_outlier,
        typed_day=typed_day,
        typed_c=typed_c,
        marks=marks_of(told.windows, sentences),
    )


def marks_of(windows: Sequence[Window], sentences: Sequence[str]) -> tuple[Mark, ...]:
    """Return the thresholds to draw: the first window's, and others of the same season."""
    return tuple(
        Mark(
            label=window.threshold.label,
            short=window.threshold.name,
            threshold_c=window.threshold.threshold_c,
            falling=window.threshold.direction == "falling",
            early=window.outlook.early,
            median=window.outlook.median,
            late=window.outlook.late,
            first_touch=window.so_far.first_touch,
            never=window.outlook.never,
            day=np.array(window.outlook.day, dtype="datetime64[D]"),
            share=np.array(window.outlook.share, dtype=float),
            usual=window.typical.median,
            sentence=words,
            verdict=VERDICTS[window.verdict],
        )
        for window, words in zip(windows, sentences, strict=True)
        if window.threshold.direction == windows[0].threshold.direction
        and window.season_start == windows[0].season_start
    )


def _typed(told: Told) -> tuple[Days, Floats]:
    """Return the days and temperatures of the readings up to today, as they were typed."""
    if told.log is None or not len(told.log):
        return np.zeros(0, dtype="datetime64[D]"), np.zeros(0)
    day = told.log["time"].to_numpy().astype("datetime64[D]")
    known = day <= np.datetime64(told.today, "D")
    return day[known], told.log["temp_c"].to_numpy(dtype=float)[known]


def dots(mark: Mark) -> tuple[list[date], int]:
    """Return the dates of the twenty dots, and how many stand for never.

    Dot i lies where the chance of having settled reaches (i + ½)/20, so each is one chance in
    twenty.
    """
    if not mark.share.size:
        return [], 0
    reached = np.cumsum(mark.share)
    wanted = (np.arange(DOTS) + 0.5) / DOTS
    at = np.searchsorted(reached, wanted - 1e-9)
    placed = at[at < mark.day.size]
    return [as_date(mark.day[k]) for k in placed], DOTS - placed.size


def view(data: ChartData) -> tuple[np.datetime64, np.datetime64]:
    """Return the first and last day shown: a while before today, and past the latest date."""
    today = np.datetime64(data.today, "D")
    begin, end = today - PAST_DAYS, today + LEAST_AFTER_DAYS
    for mark in data.marks:
        for when in (mark.first_touch, mark.early, mark.median):
            if when is not None:
                begin = min(begin, np.datetime64(when, "D") - 10)
        for when in (mark.median, mark.late, mark.usual):
            if when is not None:
                end = max(end, np.datetime64(when, "D") + AFTER_DAYS)
        for when in dots(mark)[0][-1:]:
            end = max(end, np.datetime64(when, "D") + AFTER_DOTS_DAYS)
    begin = max(begin, today - MOST_PAST_DAYS)
    return max(begin, data.day[0]), min(end, data.day[-1])


def soil_on(data: ChartData, day: date) -> float | None:
    """Return the estimate on a day, °C, or None."""
    found = np.flatnonzero(data.day == np.datetime64(day, "D"))
    if not found.size or not np.isfinite(data.soil_c[found[0]]):
        return None
    return float(data.soil_c[found[0]])


def as_date(day: np.datetime64) -> date:
    """Return a day as Python's own date."""
    found: date = day.astype("datetime64[D]").item()
    return found


def day_number(day: np.datetime64) -> int:
    """Return days since 1970, the unit of the time axis."""
    return int(day.astype("datetime64[D]").astype(np.int64))
