"""When one thing goes into a bed: decided once, read by every plan, page, picture and file.

A decision is made from a soil threshold's window (flats and plants in general) or from a
crop's window (that crop). Both give the same: the chances of the day from which planting goes
well, the day to set out, until when it is worth it, one verdict and its reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from forecaster.answers.crops.results import CropWindow
from forecaster.answers.window import Verdict, Window
from forecaster.chance.days import DayChances
from forecaster.rules.crops import Crop, PlantingSeason

SEASONS: dict[str, PlantingSeason] = {"falling": "autumn", "rising": "spring"}
STATES: dict[str, Verdict] = {
    "open": "go", "ahead": "wait", "late": "late", "closed": "no season", "none": "no season",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """When one thing goes into a bed.

    Parameters
    ----------
    what : str
        As it is said: `Cool-season flats`, `Tomato`.
    crop : Crop or None
        None where a threshold decides.
    threshold : str
        Name of the soil threshold that decides; empty where a crop does.
    use : str
        As it goes into the bed: ``transplant``, ``seed``, ``bulb``, ``tuber`` or ``crown``.
    season : {"autumn", "spring"}
    season_start, season_end : date
    setting : DayChances
        Of the day to set out, as it may still move: soil that settles sooner or later, a
        crop's best day with its opening. The rest is the chance that there is none.
    opens : date or None
        The first day on which planting goes well at even odds.
    best : date or None
        The day to set out; none that is past.
    best_until : date or None
        The last day on which it is worth it; None where no closing day is known or needed.
    possible_until : date or None
        The last day on which it is possible, worth it or not.
    verdict : {"go", "wait", "late", "no season", "unsure"}
    reason : str
    check_first : str
        Why no one is told to go, whatever the dates say; empty if nothing speaks against.
    stale_days : int
        How long ago air and readings end, where that is too long to go by; else 0.
    """

    what: str
    crop: Crop | None = None
    threshold: str = ""
    use: str = "transplant"
    season: PlantingSeason
    season_start: date
    season_end: date
    setting: DayChances
    opens: date | None
    best: date | None
    best_until: date | None = None
    possible_until: date | None = None
    verdict: Verdict
    reason: str
    check_first: str = ""
    stale_days: int = 0

    @property
    def year(self) -> int:
        """The year in which the middle of the season lies: what the season is called by."""
        return (self.season_start + (self.season_end - self.season_start) / 2).year

    @property
    def never(self) -> float:
        """Chance that planting does not go well on any day of the season."""
        return self.setting.never

    @property
    def hopeless(self) -> bool:
        """Whether there is nothing to plan on: fewer than one in ten futures open."""
        return self.verdict == "no season" or self.setting.quantile(0.1) is None


def by_threshold(window: Window, today: date, unsure: str = "") -> Decision:
    """Return what a soil threshold decides: to set out on the day it settles, or today."""
    out = window.outlook
    opening = DayChances(out.day, out.share, max(0.0, 1.0 - sum(out.share)))
    return Decision(
        what=window.threshold.label,
        threshold=window.threshold.name,
        season=SEASONS[window.threshold.direction],
        season_start=window.season_start,
        season_end=window.season_end,
        setting=opening,
        opens=out.median,
        best=None if out.median is None else max(out.median, today),
        verdict=window.verdict,
        reason=window.reason,
        check_first=unsure,
        stale_days=window.so_far.stale_days,
    )


def by_crop(window: CropWindow, *, unsure: str = "", stale_days: int = 0) -> Decision:
    """Return what a crop's window decides.

    Parameters
    ----------
    window : CropWindow
    unsure : str
        Why no one is told to go, if so: what to check first.
    stale_days : int
    """
    verdict, reason = STATES[window.state], window.opens.reason
    if verdict == "late":
        reason = window.closes.reason
    if (unsure and verdict == "go") or (stale_days and verdict != "no season"):
        verdict, reason = "unsure", unsure
    closes = window.closes.median
    return Decision(
        what=window.crop.label,
        crop=window.crop,
        use=window.use,
        season=window.season,
        season_start=window.season_start,
        season_end=window.season_end,
        setting=_setting(window),
        opens=window.opens.median,
        best=window.best.median,
        best_until=closes,
        possible_until=window.possible_until,
        verdict=verdict,
        reason=reason,
        check_first=unsure,
        stale_days=stale_days,
    )


def _setting(window: CropWindow) -> DayChances:
    """Return the chances of a crop's day to set out.

    The chance of a day, the most so far, is the share of futures in which planting goes well
    from there on; its spread, laid about the best day, says how far that may still move. Where
    even the best day is not sure, the rest is the chance of never.
    """
    last = window.best.late or window.best.median or window.season_end
    inside = window.by_day.day <= np.datetime64(last, "D")
    if window.best.median is None or not inside.any():
        return DayChances((), (), 1.0)
    so_far = np.maximum.accumulate(window.by_day.well[inside])
    share = np.diff(so_far, prepend=0.0)
    there = share > 0.0
    days: list[date] = window.by_day.day[inside][there].astype("datetime64[D]").tolist()
    kept = list(zip(days, share[there].tolist(), strict=True))
    never = max(0.0, 1.0 - sum(part for _, part in kept))
    opening = DayChances(tuple(d for d, _ in kept), tuple(p for _, p in kept), never)
    middle = opening.if_ever().quantile(0.5)
    assert middle is not None  # noqa: S101 - a window with a best day has chances
    return opening.shifted((window.best.median - middle).days)
