"""Small phrases: chances, dates, temperatures and lengths as a person would say them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Literal

from forecaster.ground.units import METRES_PER_INCH, c_to_f, c_to_f_difference

Show = Literal["F", "C"]
Level = Literal["brief", "default", "full"]
"""How much is said: a line, the answer with what explains it, or all that is known."""

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
HALF_WIDTH_SDS = 1.2816
"""Standard deviations to each side that hold 80 % of a normal distribution."""


def odds(chance: float) -> str:
    """Return a probability (0 to 1) as a sentence says it, never more certain than it is.

    >>> odds(0.8), odds(0.004), odds(0.97), odds(1.0)
    ('80 %', 'less than 1 %', '97 %', 'more than 99 %')
    """
    if chance < 0.01:
        return "less than 1 %"
    return "more than 99 %" if chance > 0.99 else f"{chance * 100:.0f} %"


def percent(chance: float) -> str:
    """Return a probability (0 to 1) as a table says it; the ends stay open.

    >>> percent(0.004), percent(0.5), percent(1.0)
    ('<1 %', '50 %', '>99 %')
    """
    if chance < 0.01:
        return "<1 %"
    return ">99 %" if chance > 0.99 else f"{chance * 100:.0f} %"


def say_day(day: date, today: date) -> str:
    """Return a date; the year is said if it is not this one."""
    words = f"{day.day} {MONTHS[day.month - 1]}"
    return words if day.year == today.year else f"{words} {day.year}"


def short_day(day: date) -> str:
    """Return a date for a table: `9 Oct`."""
    return f"{day.day} {MONTHS[day.month - 1][:3]}"


def between(first: date, last: date, today: date) -> str:
    """Return a span of dates: `between 9 and 24 October`, `on 9 October`."""
    if first == last:
        return f"on {say_day(first, today)}"
    if first.year != last.year:
        left, right = (f"{d.day} {MONTHS[d.month - 1]} {d.year}" for d in (first, last))
        return f"between {left} and {right}"
    if first.month == last.month:
        return f"between {first.day} and {say_day(last, today)}"
    return f"between {first.day} {MONTHS[first.month - 1]} and {say_day(last, today)}"


def number(value: float, decimals: int = 1) -> str:
    """Return a number without needless zeros and without a minus before zero.

    >>> number(65.00000001), number(-0.04), number(18.33)
    ('65', '0', '18.3')
    """
    words = f"{round(value, decimals) + 0.0:.{decimals}f}"
    return words.rstrip("0").rstrip(".") if "." in words else words


def degrees(temp_c: float, show: Show, *, both: bool = False) -> str:
    """Return a temperature, °C inside, as `65 °F`, `18.3 °C` or `65 °F (18.3 °C)`."""
    celsius = f"{number(temp_c)} °C"
    if show == "C":
        return celsius
    fahrenheit = f"{number(c_to_f(temp_c))} °F"
    return f"{fahrenheit} ({celsius})" if both else fahrenheit


def difference(change_c: float, show: Show) -> str:
    """Return a difference of temperatures, °C inside, without its sign."""
    size = abs(change_c)
    return f"{number(c_to_f_difference(size))} °F" if show == "F" else f"{number(size)} °C"


def length(depth_m: float) -> str:
    """Return a depth in inches and centimetres.

    >>> length(0.1016), length(0.0)
    ('4 in (10 cm)', 'the surface')
    """
    if depth_m == 0.0:
        return "the surface"
    inches = depth_m / METRES_PER_INCH
    near = round(inches) if abs(inches - round(inches)) < 0.1 else round(inches, 1)
    return f"{near:g} in ({number(depth_m * 100.0, 0 if depth_m >= 0.05 else 1)} cm)"


def clock(hour: float) -> str:
    """Return an hour of the day as `7:30`."""
    minutes = round(hour * 60.0) % (24 * 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def count(how_many: float, thing: str) -> str:
    """Return a number of things: `1 day`, `1,204 days`."""
    return f"{how_many:,.0f} {thing}" + ("" if round(how_many) == 1 else "s")


def counted(how_many: float, decimals: int, thing: str) -> str:
    """Return a measured number of things.

    >>> counted(1.04, 1, "day"), counted(1.2, 1, "day")
    ('1 day', '1.2 days')
    """
    words = number(how_many, decimals)
    return f"{words} {thing}" + ("" if words == "1" else "s")


def listed(words: Sequence[str]) -> str:
    """Return `a`, `a and b`, `a, b and c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def say_years(years: Sequence[int]) -> str:
    """Return years in order, three or more in a row as a span.

    >>> say_years([2012, 2016, 2017, 2018])
    '2012 and 2016–2018'
    """
    runs: list[list[int]] = []
    for year in sorted(set(years)):
        if runs and year == runs[-1][-1] + 1:
            runs[-1].append(year)
        else:
            runs.append([year])
    words: list[str] = []
    for run in runs:
        words += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(year) for year in run]
    return listed(words)


def known(value: float) -> bool:
    """Say whether a number is one."""
    return math.isfinite(value)


def sentence(text: str) -> str:
    """Return words with a capital in front and a full stop behind."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")
