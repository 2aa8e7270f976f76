"""What the answer about crops holds: plain frozen values, SI inside."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from forecaster.answers.frost import FrostDates
from forecaster.rules.crops import Choice, Crop, HardinessClaim, PlantingSeason, Use

State = Literal["open", "ahead", "late", "closed", "none"]


@dataclass(frozen=True, slots=True)
class Span:
    """A date that is not sure.

    Parameters
    ----------
    early, median, late : date or None
        10, 50 and 90 %: dates by which that share of all members has it; None where that
        share never has. When a window closes: of the members that have one. For the best
        day: the stretch that is about as good, and the day.
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


@dataclass(frozen=True, slots=True)
class CropWindow:
    """When a crop can be planted in one season, from the joint ensemble.

    Parameters
    ----------
    crop : Crop
    season : {"autumn", "spring"}
        Soil falling or rising.
    use : {"transplant", "seed"}
        Set out as a plant, or sown in the bed.
    season_start, season_end : date
        From the warmest day of the soil's year to the coldest, or from the coldest to the next.
    state : {"open", "ahead", "late", "closed", "none"}
        Today: open in most members; still to come; opened, and over in most of them; over in
        all but a few; in most members there is none.
    opens : Span
        Its probability: that there is a window at all this season.
    best : Span
        Its probability: that the window is open on the best day left. Dates None if none is.
    closes : Span
        Its probability: that cold, frost or heat closes it before the season ends.
    threshold : Choice
        Soil temperature that opens it, and what other sources say.
    limit : Choice or None
        Soil temperature that ends it, if there is one.
    hardiness : HardinessClaim or None
    damaging_c : float
        Air temperature taken to harm the crop (spring), or to end its rooting (autumn), °C.
    accepted_risk : float
        Chance of a later frost that was accepted (spring).
    frost_after : float or None
        Chance that a frost that harms the crop comes after the opening, in the members that
        have a window; None in autumn, or where the record has no minima.
    frost_bound : float
        Share of those members in which frost, not soil, decides the opening.
    emergence : Span or None
        When seed sown on `sown` comes up; probability that it does within the season.
    sown : date or None
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
    threshold: Choice
    limit: Choice | None
    hardiness: HardinessClaim | None
    damaging_c: float
    accepted_risk: float
    frost_after: float | None
    frost_bound: float
    emergence: Span | None = None
    sown: date | None = None
    closed_on: date | None = None
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
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
    """

    windows: tuple[CropWindow, ...]
    frost: tuple[FrostDates, ...]
    today: date
    years: int
    notes: tuple[str, ...]
