"""Input that would give an answer though it cannot be right: refused, or said beside the answer.

What no place on Earth has is refused; what only a strange place has becomes a sentence. The
limits by latitude are in ``data/air_limits.csv``, all from memory and set wide: none of the 70
stations with which the model was fitted comes near them.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.errors import InputError
from forecaster.ground.site import Site
from forecaster.ground.units import f_to_c
from forecaster.packaged import load_csv
from forecaster.soil.forcing import DailyAir
from forecaster.soil.season import harmonics, year_angle

MIDSUMMER_ANGLE = 2.0 * np.pi * 205.0 / 365.0  # 24 July; air lags the sun by some weeks
TEMPERATE_DEG = 20.0  # nearer the equator either half of the year may be the warmer
SEEN_OF_THE_YEAR = 1.0  # of the cosine's 2, for a record to tell summer from winter
AGAINST, AGAINST_C = -0.5, 8.0  # correlation and fall over the year's seen part
HOTTEST_60_DAYS_C, HOTTEST_YEAR_C = 45.0, 37.0
"""Above the hottest month (42.3 °C, Death Valley, July 2018) and year (34.6 °C, Dallol) on
record; from memory."""
COLDEST_YEAR_C = -65.0
WHOLE_YEAR_DAYS = 330
SAME_EXTREMES_C = 0.5
READINGS_FAR_C = 12.0  # no bed lies so far from what its air allows; a wrong unit lies 14 or more
READINGS_ODD_SDS = 4.0
STUCK_C = 0.6  # a thermometer that always says the same needs no other unit
OUTLOOK_FAR_C = 20.0  # a mean of days; outbreaks of cold of a week reach 15
DEEPEST_FITTED_M = 0.3  # the fit reached 20 cm
GRIDDED_AIR = (
    "The air is a gridded stand-in, the mean of a square some 50 km wide, not a station: it can "
    "lie 1 to 2 °C (2 to 4 °F) off this place, so the interval is wider. Readings of your own soil "
    "narrow it again."
)


@cache
def _limits() -> dict[str, Floats]:
    """Return the table of limits as arrays by column."""
    rows = load_csv("air_limits.csv")
    names = ("latitude_deg", "coldest_c", "warmest_c", "widest_c")
    return {name: np.array([float(row[name]) for row in rows]) for name in names}


def _limit(name: str, latitude_deg: float) -> float:
    table = _limits()
    return float(np.interp(abs(latitude_deg), table["latitude_deg"], table[name]))


def doubt_air(air: DailyAir, latitude_deg: float) -> tuple[str, ...]:
    """Return what is strange about a record of air for its latitude, a sentence each.

    Parameters
    ----------
    air : DailyAir
        The record as it was read, NaN where unknown.
    latitude_deg : float
        Degrees north.

    Raises
    ------
    InputError
        If no place on Earth has such air, or none in this half of the Earth.
    """
    known = np.isfinite(air.mean_c)
    day, mean_c = air.day[known], air.mean_c[known]
    _refuse_heat(mean_c, whole=known.sum() >= WHOLE_YEAR_DAYS)
    _refuse_other_half(day, mean_c, latitude_deg)
    notes = []
    if air.range_c is not None and float(np.nanmedian(air.range_c)) < SAME_EXTREMES_C:
        notes.append(
            "Minimum and maximum are the same on most days: is one a copy of the other? "
            "Sun and the day's wave are guessed from their difference."
        )
    if day.size >= WHOLE_YEAR_DAYS:
        notes += _strange_year(day, mean_c, latitude_deg)
    return tuple(notes)


def _refuse_heat(mean_c: Floats, *, whole: bool) -> None:
    """Refuse air that no place on Earth has."""
    middle = float(mean_c.mean())
    most = HOTTEST_YEAR_C if whole else HOTTEST_60_DAYS_C
    if middle > most or middle < COLDEST_YEAR_C:
        raise InputError(
            f"the air's mean is {middle:.0f} °C over {mean_c.size} days; no place on Earth has "
            "that. Is the unit right? --units F, C or K says another"
        )


def _refuse_other_half(day: Ints, mean_c: Floats, latitude_deg: float) -> None:
    """Refuse a record whose summer is this latitude's winter."""
    if abs(latitude_deg) < TEMPERATE_DEG:
        return
    summer = np.cos(year_angle(day) - MIDSUMMER_ANGLE) * np.sign(latitude_deg)
    seen = float(np.ptp(summer))
    if seen < SEEN_OF_THE_YEAR or float(np.ptp(mean_c)) == 0.0:
        return
    sun, air_c = summer - summer.mean(), mean_c - mean_c.mean()
    together = float(sun @ air_c)
    slope = together / float(sun @ sun)
    alike = together / float(np.sqrt((sun @ sun) * (air_c @ air_c)))
    if alike < AGAINST and -slope * seen > AGAINST_C:
        north = latitude_deg > 0.0
        other = f"{abs(latitude_deg):g}{'S' if north else 'N'}"
        raise InputError(
            f"the air is warmest in {'January' if north else 'July'}, as it is "
            f"{'south' if north else 'north'} of the equator, but the latitude is "
            f"{latitude_deg:g}; expected --lat {other}, or another record"
        )


def _strange_year(day: Ints, mean_c: Floats, latitude_deg: float) -> list[str]:
    """Return a sentence where the year's mean or swing is of another latitude."""
    columns = harmonics(day, 1)
    wave = np.linalg.solve(columns.T @ columns, columns.T @ mean_c)
    middle, half = float(wave[0]), float(np.hypot(wave[1], wave[2]))
    coldest, warmest, widest = (
        _limit(name, latitude_deg) for name in ("coldest_c", "warmest_c", "widest_c")
    )
    place = f"at latitude {abs(latitude_deg):g}"
    ask = "Are the unit and the latitude right?"
    if middle > warmest:
        return [f"The air's yearly mean of {middle:.0f} °C is warmer than any place {place}. {ask}"]
    if middle < coldest:
        cold = f"The air's yearly mean of {middle:.0f} °C is colder than any place with gardens"
        return [f"{cold} {place}. {ask}"]
    if half > widest:
        return [
            f"The air swings by ±{half:.0f} °C over the year, more than any place {place}. {ask}"
        ]
    return []


def doubt_readings(departure_c: Floats, sd_c: Floats, temp_c: Floats) -> tuple[str, ...]:
    """Return a sentence if the readings lie oddly far from what the air allows.

    Parameters
    ----------
    departure_c : (m,) array
        Readings less what is expected of them before any was seen, °C.
    sd_c : (m,) array
        How sure that is, °C.
    temp_c : (m,) array
        The readings themselves, °C.

    Raises
    ------
    InputError
        If they lie so far off that they are of something else, or in another unit.
    """
    if not departure_c.size:
        return ()
    middle = float(np.median(departure_c))
    side = "above" if middle > 0.0 else "below"
    count = f"the reading lies {abs(middle):.0f}"
    if departure_c.size > 1:
        count = f"the readings lie {abs(middle):.0f}"
    if abs(middle) > READINGS_FAR_C:
        raise InputError(
            f"{count} °C {side} the soil that this air makes (median of {departure_c.size}); "
            f"no bed does. {_other_unit(middle, temp_c)}"
        )
    if abs(middle) > READINGS_ODD_SDS * float(np.median(sd_c)):
        said = (
            f"{count[0].upper()}{count[1:]} °C {side} the soil that this air makes (median of "
            f"{departure_c.size}), and the dates follow. Are unit, depth and thermometer right?"
        )
        return (said,)
    return ()


def unit_that_fits(temp_c: float, expected_c: float) -> str:
    """Return the unit, F or C, in which a number as it was read would fit; none if neither does."""
    tried = {"F": f_to_c(temp_c), "C": temp_c * 1.8 + 32.0}
    left = {unit: abs(value - expected_c) for unit, value in tried.items()}
    best = min(left, key=lambda unit: left[unit])
    return best if left[best] < READINGS_FAR_C / 2.0 else ""


def _other_unit(off_c: float, temp_c: Floats) -> str:
    """Return the unit that would explain readings so far off, as a remedy."""
    middle = float(np.median(temp_c))
    best = unit_that_fits(middle, middle - off_c)
    stuck = temp_c.size > 1 and float(np.ptp(temp_c)) < STUCK_C
    if best and not stuck:
        return f"They would fit as °{best}: say --readings-units {best}, or mend the heading"
    return "Check unit, depth and thermometer, and whether the log is of this place"


def doubt_outlook(departure_c: Floats) -> None:
    """Refuse a weather outlook that is no weather of this place.

    Parameters
    ----------
    departure_c : (n,) array
        Its means less what is usual on the same days, °C; NaN where unknown.

    Raises
    ------
    InputError
        If they lie more than 20 °C off.
    """
    known = departure_c[np.isfinite(departure_c)]
    if known.size and abs(float(known.mean())) > OUTLOOK_FAR_C:
        raise InputError(
            f"the outlook lies {abs(float(known.mean())):.0f} °C "
            f"{'above' if known.mean() > 0.0 else 'below'} what is usual on its days. "
            "Is its unit right, and is it of this place?"
        )


def unused_readings(
    readings: pd.DataFrame | None, day: Ints, now: np.datetime64
) -> tuple[str, ...]:
    """Return a sentence about readings that lie outside the air record, and so teach nothing.

    Parameters
    ----------
    readings : DataFrame or None
        All that were given.
    day : (n,) array
        Days of the record since 1970-01-01.
    now : datetime64[D]
        Day on which the answer is asked; later readings are left out on purpose.
    """
    if readings is None or "time" not in readings or not len(readings):
        return ()
    when = readings["time"].to_numpy().astype("datetime64[D]")
    first, last = (np.datetime64(int(day[at]), "D") for at in (0, -1))
    used = int(((when >= first) & (when <= last)).sum())
    lost = int(((when < first) | ((when > last) & (when <= now))).sum())
    outside = f"from outside the days {first} to {last} for which there is air: not used."
    if ((when > last) & (when <= now)).any():
        outside += " Get newer air, and those after it count."
    if used == 0 and len(readings) == 1:
        return (f"The reading is {outside}",)
    if used == 0:
        return (f"All {len(readings)} readings are {outside}",)
    return (f"{lost} of {len(readings)} readings are {outside}",) if lost else ()


def doubt_depth(site: Site) -> tuple[str, ...]:
    """Return a sentence where the depth lies far outside those of the fit."""
    if site.depth_m <= DEEPEST_FITTED_M:
        return ()
    said = (
        "The model was fitted 5 to 20 cm (2 to 8 in) down; deeper, the soil is reckoned by the "
        "heat equation alone."
    )
    return (said,)
