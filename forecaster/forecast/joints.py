"""Where a record of air stops being of one piece: a unit changed, another place's rows.

Nothing here knows the place: parts of a record are held against its other parts. Every function
is pure and returns a frozen `Part` or none; `forecast.doubts` puts them into words.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from forecaster.forecast.usual import Usual
from forecaster.ground.arrays import Floats, Ints

UNITS = {"C": (1.8, 32.0), "F": (1.0 / 1.8, -32.0 / 1.8)}
"""What a day was, by its value as read: °C taken for °F and the other way round."""
MEMORY = 0.7  # of a day's departure in the next
INNOVATION_SD = 0.57  # 0.8·√(1 − MEMORY²): of a day given the one before, in sd of days
TAIL_WEIGHT = 4.0  # degrees of freedom of Student's t: weather has wild days
RANGE_SHARE = 0.5  # ranges of days in a row tell the same twice
TAIL_DAYS = (5, 10, 20, 30, 45, 60, 90, 150, 240)
SEASON_DAYS = np.arange(-30, 31, 5)  # past windows that count as the same season
WEATHER_DAYS = 6.0  # of a mean over L days, the variance is the day's · 6/(L + 5)
PRIOR_YEARS = 4.0
WILD_SQUARE = 400.0  # °C²: a spoiled day counts as no wilder
LEAST_KNOWN = 0.6
LEAST_YEARS = 2
LEAST_PART_DAYS = 60
YEAR_SD_C, YEAR_SD_LOG = 0.7, 0.07  # of a year's mean; median of 88 stations
DAYS_PER_YEAR = 365.2425


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a record that does not fit the rest.

    Parameters
    ----------
    what : {"unit", "mean", "range", "join", "range join"}
    first, last : int
        Days since 1970-01-01.
    strength : float
        For a unit the logarithm of how many times likelier it is; else standard deviations.
    size : float
        Of the departure: °C, or of the range its ratio to the usual.
    unit : {"C", "F", ""}
        The unit that would fit.
    """

    what: str
    first: int
    last: int
    strength: float
    size: float
    unit: str = ""


def other_unit(usual: Usual) -> list[Part]:
    """Return the part of the record, for each unit, that is likeliest to be in that unit.

    The departures are a first-order autoregression with Student-t innovations; for every span
    the logarithm of the ratio of likelihoods is a difference of running sums, and the best span
    is found in one pass (the largest sum of neighbours). The first day of a span is judged as it
    follows the last day before it.
    """
    found = []
    for unit, (slope, shift) in UNITS.items():
        inside, entered = _log_ratio(usual, slope, shift)
        total = np.cumsum(inside)
        start = entered - total
        score = total + np.maximum.accumulate(start)
        last = int(np.argmax(score))
        first = int(np.argmax(start[: last + 1]))
        days = slice(first, last + 1)
        off = float(np.nanmean(usual.off_c[days])) if np.isfinite(usual.off_c[days]).any() else 0.0
        found.append(
            Part(
                what="unit",
                first=int(usual.day[first]),
                last=int(usual.day[last]),
                strength=float(score[last]),
                size=off,
                unit=unit,
            )
        )
    return found


def _log_ratio(usual: Usual, slope: float, shift: float) -> tuple[Floats, Floats]:
    """Return by day how much likelier another unit is, inside a span and on its first day."""
    read = usual.off_c / usual.sd_c
    meant = (slope * usual.mean_c + shift - usual.wave_c) / usual.sd_c
    plain = _given(read, _before(read))
    inside = _given(meant, _before(meant)) - plain + np.log(slope)
    entered = _given(meant, _before(read)) - plain + np.log(slope)
    if usual.range_log is not None:
        log = usual.range_log
        more = _student(log + np.log(slope), usual.range_sd) - _student(log, usual.range_sd)
        more = np.where(np.isfinite(more), RANGE_SHARE * more, 0.0)
        inside, entered = inside + more, entered + more
    known = np.isfinite(inside)
    return np.where(known, inside, 0.0), np.where(known & np.isfinite(entered), entered, 0.0)


def _before(z: Floats) -> Floats:
    return np.concatenate([[np.nan], z[:-1]])


def _given(z: Floats, before: Floats) -> Floats:
    """Return the log-density of a departure given the day before, or alone where unknown."""
    known = np.isfinite(before)
    after = _student(z - MEMORY * np.where(known, before, 0.0), INNOVATION_SD)
    return np.where(known, after - np.log(INNOVATION_SD), _student(z, 1.0))


def _student(z: Floats, sd: float) -> Floats:
    return np.asarray(-(TAIL_WEIGHT + 1.0) / 2.0 * np.log1p((z / sd) ** 2 / TAIL_WEIGHT))


def recent_days(usual: Usual) -> list[Part]:
    """Return the record's last days, 5 to 240 of them, against the same season of other years.

    Each length is held against windows as long in past years, within a month of the same
    season; few years are eked out by what weather's memory makes of the spread of days.
    """
    lengths = sorted({*TAIL_DAYS, max(_days_of_year(usual.day), TAIL_DAYS[0])})
    parts = []
    for what, off in (("mean", usual.off_c), ("range", usual.range_log)):
        if off is not None:
            found = _tails(off, lengths)
            parts += [_part(what, each, usual.day) for each in found]
    return parts


def _days_of_year(day: Ints) -> int:
    """Return how many days of the last row's year there are: files are joined at New Year."""
    last = np.datetime64(int(day[-1]), "D")
    return int((last - last.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)) + 1


def _tails(off: Floats, lengths: list[int]) -> list[tuple[int, float, float]]:
    """Return length, standard deviations and size of the last days' departure, by length."""
    n = off.size
    years = n // 365
    lengths = [days for days in lengths if days < n]
    if years < LEAST_YEARS:
        return []
    known = np.isfinite(off)
    total = np.concatenate([[0.0], np.cumsum(np.where(known, off, 0.0))])
    count = np.concatenate([[0], np.cumsum(known)])
    day_variance = float(np.mean(np.minimum(off[known] ** 2, WILD_SQUARE)))
    span = np.array(lengths)[:, None, None]  # lengths, years, windows of a season
    ago = np.round(np.arange(1, years + 1) * DAYS_PER_YEAR).astype(np.int64)
    ends = n - ago[:, None] + SEASON_DAYS[None, :]
    there = (ends - span >= 0) & (ends <= n - span)
    end = np.where(there, ends, span)
    held = count[end] - count[end - span]
    there &= held >= LEAST_KNOWN * span
    mean = np.where(there, (total[end] - total[end - span]) / np.maximum(held, 1), 0.0)
    per_year = np.maximum(there.sum(axis=2), 1)
    seen = there.any(axis=2).sum(axis=1)
    middle = (mean.sum(axis=2) / per_year).sum(axis=1) / (seen + 1.0)
    square = ((mean**2).sum(axis=2) / per_year).sum(axis=1)
    days = np.array(lengths)
    prior = day_variance * WEATHER_DAYS / (days + 5.0)
    variance = (square + PRIOR_YEARS * prior) / (seen + PRIOR_YEARS)
    have = count[n] - count[n - days]
    size = (total[n] - total[n - days]) / np.maximum(have, 1) - middle
    sds = size / np.sqrt(variance * (1.0 + 1.0 / (seen + 1.0)))
    use = np.flatnonzero((have >= LEAST_KNOWN * days) & (seen >= 1) & (variance > 0.0))
    return [(lengths[at], float(sds[at]), float(size[at])) for at in use]


def _part(what: str, found: tuple[int, float, float], day: Ints) -> Part:
    days, sds, size = found
    ratio = float(np.exp(size)) if what == "range" else size
    last = int(day[-1])
    return Part(what=what, first=last - days + 1, last=last, strength=sds, size=ratio)


def year_joins(usual: Usual) -> list[Part]:
    """Return the New Year at which the record changes most, in mean and in range.

    The years before and after are compared by the spread of years within both parts.
    """
    year = usual.day.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64)
    found = [_join("join", usual.off_c, YEAR_SD_C, year)]
    if usual.range_log is not None:
        found.append(_join("range join", usual.range_log, YEAR_SD_LOG, year))
    last = int(usual.day[-1])
    return [replace(part, last=last) for part in found if part is not None]


def _join(what: str, off: Floats, year_sd: float, year: Ints) -> Part | None:
    """Return where the years change most; its last day is left to the caller."""
    at = year - year[0]
    known = np.isfinite(off)
    count = np.bincount(at[known], minlength=at[-1] + 1).astype(float)
    mean = np.bincount(at[known], weights=off[known], minlength=at[-1] + 1) / np.maximum(count, 1)
    weight = np.where(count >= LEAST_PART_DAYS, np.minimum(count / 365.0, 1.0), 0.0)
    held = [np.cumsum(weight * mean**power) for power in (0, 1, 2)]
    before = [each[:-1] for each in held]
    after = [each[-1] - each[:-1] for each in held]
    there = (before[0] > 0.5) & (after[0] > 0.5)
    if not there.any():
        return None
    w1, w2 = (np.where(there, part[0], 1.0) for part in (before, after))
    step = after[1] / w2 - before[1] / w1
    within = before[2] - before[1] ** 2 / w1 + after[2] - after[1] ** 2 / w2
    freedom = max(float(held[0][-1]) - 2.0, 0.0) + PRIOR_YEARS
    variance = (np.maximum(within, 0.0) + PRIOR_YEARS * year_sd**2) / freedom
    sds = np.where(there, step / np.sqrt(variance * (1.0 / w1 + 1.0 / w2)), 0.0)
    best = int(np.argmax(np.abs(sds)))
    first = int(np.datetime64(int(year[0]) + best + 1, "Y").astype("datetime64[D]").astype(int))
    size = float(np.exp(step[best])) if what == "range join" else float(step[best])
    return Part(what=what, first=first, last=first, strength=float(sds[best]), size=size)
