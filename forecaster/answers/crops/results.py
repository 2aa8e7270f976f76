"""What the answer about crops holds: plain frozen values, SI inside."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from forecaster.answers.frost import FrostDates
from forecaster.ground.arrays import Days, Floats
from forecaster.rules.crops import Choice, Crop, HardinessClaim, PlantingSeason, Use

State = Literal["open", "ahead", "late", "closed", "none"]


@dataclass(frozen=True, slots=True)
class Span:
    """A date that is not sure.

    Parameters
    ----------
    early, median, late : date or None
        For the opening: from when the chance is 1 in 5, even, and 4 in 5; for the closing: to
        when it is 4 in 5, even, and 1 in 5. None where it never is. For the best day: the day,
        twice, and the last that is about as good. For emergence: by when a tenth, half and
        nine tenths of all members have come up.
    probability : float
        Of what the reason says, 0 to 1.
    reason : str
        Why then, without units.
    """

    early: date | None
    median: date | None
    late: date | None
    probability: float
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class PlantingChances:
    """The chances of a season's planting days, (k,) arrays.

    Parameters
    ----------
    day : (k,) array of datetime64[D]
    well, possible : (k,) array
        That a planting goes well; that it gets where it is wanted, worth it or not. 0 to 1.
    """

    day: Days
    well: Floats
    possible: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class CropWindow:
    """When a crop can be planted in one season, from the joint ensemble.

    Parameters
    ----------
    crop : Crop
    season : {"autumn", "spring"}
    use : str
        ``transplant``, ``seed``, ``bulb``, ``tuber`` or ``crown``: as it goes into the bed.
    season_start, season_end : date
        Spring: from the coldest day of the usual year to the longest; autumn: from there to
        the next coldest. The window begins between them.
    state : {"open", "ahead", "late", "closed", "none"}
        Today: within it; before it; after the last day that is worth it, but not of the last
        that is possible; after that; there is none.
    opens : Span
        The first day on which a planting goes well at even odds. Its probability: that one on
        the best day goes well.
    best : Span
        The first day, of those left, on which a planting goes about as surely well as it can.
        Its probability: that it does. Dates None if there is no window.
    closes : Span
        The last day on which a planting is still worth it at even odds: best until. Its
        probability: that one right after it is not. Dates None where no closing day is needed.
    possible_until : date or None
        The last day on which a planting gets where it is wanted at even odds, worth it or not.
    open_ended : bool
        No closing day is needed.
    threshold : Choice
        Soil temperature from which it can go in (for what is to root before winter: below
        which), and what other sources say.
    limit : Choice or None
        Soil temperature at its other end, if there is one.
    hardiness : HardinessClaim or None
    damaging_c : float
        Minimum of the air that kills it when it is just set or just up, °C.
    accepted_risk : float
        Chance of such a frost that was accepted.
    frost_after : float or None
        That chance for a planting on the best day; None where the record has no minima.
    frost_bound : float
        1 where such frost, and nothing else, decides the opening, else 0.
    by_day : PlantingChances
        The season's planting days with their chances: what the dates are read off.
    other : CropWindow or None
        The other season's window, where that is near too and no season was asked for.
    emergence : Span or None
        When seed sown on `sown` comes up; probability that it does within the season.
    sown : date or None
        The day asked about, else the best; without `emergence` nothing can be said of it.
    closed_on : date or None
        When this season's window closed (median), if the answer is about the next one.
    assumptions : tuple of str
        What was taken for granted, a sentence each.
    """

    crop: Crop
    season: PlantingSeason
    use: Use
    season_start: date
    season_end: date
    state: State
    opens: Span
    best: Span
    closes: Span
    possible_until: date | None
    open_ended: bool
    threshold: Choice
    limit: Choice | None
    hardiness: HardinessClaim | None
    damaging_c: float
    accepted_risk: float
    frost_after: float | None
    frost_bound: float
    by_day: PlantingChances = field(compare=False, repr=False)
    other: CropWindow | None = None
    emergence: Span | None = None
    sown: date | None = None
    closed_on: date | None = None
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CropAnswer:
    """Windows of all crops asked about, and the frosts of the place.

    Parameters
    ----------
    windows : tuple of CropWindow
        In the order asked.
    frost : tuple of FrostDates
        Empty where the record has no minima.
    today : date
        Day of the answer.
    years : int
        Distinct past years drawn on for the air to come.
    notes : tuple of str
        What the reader should know, a sentence each.
    unsure : str
        Why no one is told to go, whatever the dates say; empty if nothing speaks against.
    stale_days : int
        How long ago air and readings end, where that is too long to go by; else 0.
    last_day : date or None
        The last day of the record.
    """

    windows: tuple[CropWindow, ...]
    frost: tuple[FrostDates, ...]
    today: date
    years: int
    notes: tuple[str, ...]
    unsure: str = ""
    stale_days: int = 0
    last_day: date | None = None
