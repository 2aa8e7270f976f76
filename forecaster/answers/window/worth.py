"""What a further reading buys: how much narrower it makes the window."""

from __future__ import annotations

import numpy as np

from forecaster.answers.thermometer import BestReading
from forecaster.answers.window.results import Worth
from forecaster.forecast.ensemble import Crossing, SoilForecast
from forecaster.rules.crossings import Direction

NEIGHBOURS = 40  # members of nearly the same soil today, whose share says how sure


def worth_of_readings(
    crossing: Crossing, forecast: SoilForecast, best: BestReading, now: np.datetime64
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
    hour, depth, error = best
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


def soil_that_decides(
    crossing: Crossing,
    forecast: SoilForecast,
    now: np.datetime64,
    *,
    direction: Direction,
    sure: float,
) -> float | None:
    """Return the day's mean of the soil today from which on it is `sure` to have settled, °C.

    The members are joint draws of today's soil and of the settled date. In the order of their
    soil, furthest past the threshold first, the answer is the last before which all
    `NEIGHBOURS` in a row have settled in so many cases. None where no soil of today tells.
    """
    first = forecast.dates[0].to_datetime64().astype("datetime64[D]")
    today_c = forecast.soil_c[:, int((now - first).astype(int))]
    order = np.argsort(today_c if direction == "falling" else -today_c)
    near = min(NEIGHBOURS, order.size)
    settled = (crossing.dates <= now)[order].astype(np.int64)
    short = np.convolve(settled, np.ones(near, np.int64), mode="valid") < sure * near
    passed = int(np.argmax(short)) if short.any() else short.size
    return None if passed == 0 else float(today_c[order][passed - 1 + near // 2])
