"""The picture in words, for those who cannot see it."""

from __future__ import annotations

from datetime import date

import numpy as np

from forecaster.charts.data import ChartData, Mark, as_date, dots, soil_on, view
from forecaster.forecast.doubts import GRIDDED_AIR
from forecaster.words.phrases import between, degrees, odds, say_day, sentence


def describe(data: ChartData) -> str:
    """Return a paragraph that says what the picture shows, for those who cannot see it."""
    first, last = view(data)
    shown = (data.day >= first) & (data.day <= last)
    now = soil_on(data, data.today)
    span = f"from {say_day(as_date(first), data.today)} to {say_day(as_date(last), data.today)}"
    words = [f"Soil temperature {data.place}, {span}, in °F on the left and °C on the right."]
    if now is not None:
        words.append(
            f"On {say_day(data.today, data.today)} the estimate is {degrees(now, 'F', both=True)}."
        )
    ahead = data.fan_c[:, shown & (data.day > np.datetime64(data.today, "D"))]
    if ahead.size and np.isfinite(ahead[2, -1]):
        low, middle, high = (degrees(float(ahead[k, -1]), "F") for k in (0, 2, 4))
        words.append(
            f"By {say_day(as_date(last), data.today)} the middle of the futures is {middle}, "
            f"8 years in 10 between {low} and {high}."
        )
    words += [mark.sentence for mark in data.marks]
    usual = data.usual_c[:, shown]
    if data.usual_years and np.isfinite(usual).any():
        words.append(
            f"A pale band behind shows where 8 in 10 of {data.usual_years} past years lay."
        )
    inside = (data.reading_day >= first) & (data.reading_day <= last)
    if inside.any():
        odd = int(data.reading_outlier[inside].sum())
        words.append(
            f"{int(inside.sum())} thermometer readings are marked{_as_typed(data)}"
            + (f", {odd} of them hollow because the others contradict them." if odd else ".")
        )
    for mark in data.marks:
        if mark.share.sum() > 0:
            words.append(_dots_in_words(mark, data.today))
    if data.gridded:
        words.append(GRIDDED_AIR)
    return " ".join(words)


def _as_typed(data: ChartData) -> str:
    """Say how readings are drawn where they are drawn as typed."""
    return " as typed, a line from each to the day's mean at the depth" if data.typed_drawn else ""


def _dots_in_words(mark: Mark, today: date) -> str:
    placed, never = dots(mark)
    words = f"Below, {len(placed)} dots show the date's chances, 5 % each"
    if placed:
        words += f", {between(placed[0], placed[-1], today)}"
    if never:
        words += f"; {never} more {'stands' if never == 1 else 'stand'} for never"
    return words + "."


def heading(data: ChartData) -> str:
    """Return the verdict and the answer in two lines."""
    mark, others = data.marks[0], data.marks[1:]
    verdict = f"{sentence(mark.verdict)} " if mark.verdict else ""
    goal = f"{'below' if mark.falling else 'above'} {degrees(mark.threshold_c, 'F')}"
    if mark.median is not None:
        since = "since" if mark.late is not None and mark.late <= data.today else "from"
        if others and others[0].median is not None:
            about = say_day(mark.median, others[0].median)
            other = f"{degrees(others[0].threshold_c, 'F')} about {_dated(others[0].median)}"
            return f"{verdict}Soil {goal} {since} about {about},\n{other}"
        return f"{verdict}{mark.label}:\nsoil {goal} {since} about {_dated(mark.median)}"
    if not np.isfinite(mark.never):
        return f"{verdict}{mark.label}:\nno date for soil {goal}"
    return f"{verdict}{mark.label}: {odds(mark.never)} chance\nthat the soil never settles {goal}"


def _dated(day: date) -> str:
    """Return a date with its year."""
    return f"{say_day(day, day)} {day.year}"
