"""One crop's window at a place on a day: a pure function of what was made once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from forecaster.answers.calendar import date_of, date_or_none
from forecaster.answers.crops.needs import CropNeeds, needs_of
from forecaster.answers.crops.reasons import BEST, BEST_ADVISED, CLOSES, NEVER, OPEN_ENDED, OPENS
from forecaster.answers.crops.results import CropWindow, PlantingChances, Span, State
from forecaster.answers.crops.seasons import (
    STEP_DAYS,
    SeasonDays,
    seasons_from,
)
from forecaster.answers.crops.table import defaults
from forecaster.answers.crops.wish import Wish
from forecaster.answers.place_today import PlaceToday
from forecaster.forecast.ensemble import Crossing
from forecaster.ground.arrays import Days
from forecaster.rules.crops import Crop, PlantingSeason, Use
from forecaster.rules.crossings import NEVER as NOT_CROSSED
from forecaster.rules.emergence import emergence_index
from forecaster.rules.planting import YOUNG_FROST, Choices, outcome
from forecaster.rules.planting_window import (
    UNLIKELY,
    Chances,
    PlantingDays,
    PlantingWindow,
    Reading,
    chances,
    planting_window,
)

FAR_DAYS = 1000
LATE_DAYS = 150  # a window that is over but for the last counts as so far off
NEAR_DAYS = 60  # windows of both seasons that open so soon are both told
CHOICES = Choices()


def decide(crop: Crop, here: PlaceToday, wish: Wish) -> CropWindow:
    """Return the window of a crop: of the season wished for, or the one that is next here.

    Parameters
    ----------
    crop : Crop
    here : PlaceToday
    wish : Wish

    Raises
    ------
    InputError
        If the crop's limits leave nothing between them.
    """
    if wish.season is not None:
        return _of_season(crop, here, wish, wish.season)
    first, second = (_of_season(crop, here, wish, name) for name in _in_order(crop))
    chosen, other = sorted((first, second), key=lambda one: _soonness(one, date_of(here.today)))
    near = _soonness(other, date_of(here.today)) <= NEAR_DAYS
    return replace(chosen, other=other) if near else chosen


def _in_order(crop: Crop) -> tuple[PlantingSeason, PlantingSeason]:
    return ("autumn", "spring") if crop.crop_class == "cool" else ("spring", "autumn")


def _soonness(window: CropWindow, today: date) -> int:
    """Return the days until a window opens; one that is over or is none comes last."""
    opens = window.opens.median
    if opens is None or window.state == "closed":
        return FAR_DAYS
    if window.state == "late":
        return LATE_DAYS
    return max((opens - today).days, 0)


def _of_season(crop: Crop, here: PlaceToday, wish: Wish, name: PlantingSeason) -> CropWindow:
    """Return the crop's window in a season; in the next one where this one's is over."""
    use: Use = "seed" if wish.sown is not None else wish.use or crop.usual_use
    wants = needs_of(crop, name, use, wish)
    begins = None if wish.begins is None else np.datetime64(wish.begins, "D")
    runs, after = seasons_from(here, name, begins)
    if runs.end < here.today and not _still_possible(here, wants, runs):
        runs, after = after, runs
    made = _window(crop, use, here, wish, wants=wants, season=runs)
    over = made.state == "closed" or (made.state == "none" and runs.end < here.today)
    if over and runs.start < after.start:
        closed = made.possible_until
        made = _window(crop, use, here, wish, wants=wants, season=after)
        made = replace(made, closed_on=closed)
    return _with_emergence(made, here, wish, wants) if use == "seed" else made


def _still_possible(here: PlaceToday, wants: CropNeeds, season: SeasonDays) -> bool:
    """Return whether a planting of today still gets there, though the season's days are over."""
    today = np.array([here.index(here.today)])
    found = outcome(here.days, today, wants.needs, CHOICES)
    return bool(season.until >= here.today and found.possible.mean() >= UNLIKELY)


def _window(
    crop: Crop,
    use: Use,
    here: PlaceToday,
    wish: Wish,
    *,
    wants: CropNeeds,
    season: SeasonDays,
) -> CropWindow:
    risk = defaults()["frost_risk"].value if wish.risk is None else wish.risk
    reading = Reading(risk=risk)
    planted = season.planted(here)
    found = outcome(here.days, planted, wants.needs, CHOICES)
    days = season.among(here, planted, bears=wants.keeps_bearing)
    chance = chances(found, days, reading, STEP_DAYS)
    now = int(np.searchsorted(planted, here.index(here.today)))
    advised = _advised(here, wants, season)
    wanted = None if advised is None else int(np.searchsorted(planted, here.index(advised)))
    if wants.needs.goal == "root":
        read = planting_window(chance, days, reading, from_day=now, advised=wanted)
    else:
        read = planting_window(chance, days, reading, from_day=max(now, wanted or 0))
    day = here.first + planted
    opens_with, limit = wants.ends()
    made = CropWindow(
        crop=crop,
        season=season.name,
        use=use,
        season_start=date_of(season.start),
        season_end=date_of(season.end),
        state="none",
        opens=_nothing(chance, days),
        best=Span(None, None, None, 0.0, "there is no day that is good enough"),
        closes=Span(None, None, None, 0.0, ""),
        possible_until=None,
        open_ended=False,
        threshold=opens_with,
        limit=limit,
        hardiness=crop.stands(),
        damaging_c=wants.needs.young_c,
        accepted_risk=risk,
        frost_after=None,
        frost_bound=0.0,
        by_day=PlantingChances(day, chance.well, chance.possible),
        assumptions=wants.assumed,
    )
    if read is None:
        return made
    return replace(
        made,
        state=_state(read, day, here.today),
        opens=_opens(read, day, here),
        best=_best(read, chance, day, today=here.today, advised=advised),
        closes=_closes(read, chance, day),
        possible_until=None if read.open_ended else date_of(day[read.possible_until]),
        open_ended=read.open_ended,
        frost_after=float(chance.frost[read.best]) if here.frost_known else None,
        frost_bound=float(read.opens_because == YOUNG_FROST),
    )


def _nothing(chance: Chances, days: PlantingDays) -> Span:
    """Return the opening of a season without a window: the most chance there is, and why."""
    part = chance.well[: days.last + 1]
    if not part.size:
        return Span(None, None, None, 0.0, NEVER[0])
    top = int(part.argmax())
    return Span(None, None, None, float(chance.well[top]), NEVER[chance.reason(top)])


def _opens(read: PlantingWindow, day: Days, here: PlaceToday) -> Span:
    reason = OPENS[read.opens_because]
    if not here.frost_known:
        reason += "; frost is not reckoned with"
    return Span(
        _day(day, read.opens_early), date_of(day[read.opens]), _day(day, read.opens_late),
        read.chance, reason,
    )  # fmt: skip


def _advised(here: PlaceToday, wants: CropNeeds, season: SeasonDays) -> np.datetime64 | None:
    """Return the day on which the soil settles as advised; None where it has no say.

    It is the date that is given for the soil alone: one day, whoever asks.
    """
    roots = wants.needs.goal == "root"
    if wants.advised_c is None or (season.name == "autumn") != roots:
        return None
    return here.settled(wants.advised_c, "falling" if roots else "rising", season.start)


def _best(
    read: PlantingWindow,
    chance: Chances,
    day: Days,
    *,
    today: np.datetime64,
    advised: np.datetime64 | None,
) -> Span:
    """Return the day to plant: between two days asked of it is the day advised, or today."""
    part = chance.well[read.best : read.closes + 1]
    low = np.flatnonzero(part < 0.9 * part[0])
    last = day[read.best + (int(low[0]) - 1 if low.size else part.size - 1)]
    best, why = day[read.best], BEST
    asked = today if advised is None else max(advised, today)
    if advised is not None and best - STEP_DAYS < advised <= best:
        why = BEST_ADVISED
    if max(best - STEP_DAYS, day[read.opens] - 1) < asked <= best:
        best = asked
    return Span(date_of(best), date_of(best), date_of(max(last, best)), float(part[0]), why)


def _closes(read: PlantingWindow, chance: Chances, day: Days) -> Span:
    if read.open_ended:
        return Span(None, None, None, 0.0, OPEN_ENDED)
    after = min(read.closes + 1, chance.well.size - 1)
    return Span(
        _day(day, read.closes_early), date_of(day[read.closes]), _day(day, read.closes_late),
        1.0 - float(chance.well[after]), CLOSES[read.closes_because],
    )  # fmt: skip


def _day(day: Days, at: int | None) -> date | None:
    return None if at is None else date_of(day[at])


def _state(read: PlantingWindow, day: Days, today: np.datetime64) -> State:
    if today < day[read.opens]:
        return "ahead"
    if today <= day[read.closes]:
        return "open"
    return "late" if today <= day[read.possible_until] else "closed"


def _with_emergence(
    window: CropWindow, here: PlaceToday, wish: Wish, wants: CropNeeds
) -> CropWindow:
    """Return the window with the days on which sown seed comes up, where that can be said."""
    window = replace(window, sown=wish.sown)
    table, sown = wants.needs.emerging, wish.sown or window.best.median
    if table is None or sown is None:
        return window
    at = here.index(np.datetime64(sown, "D"))
    if not 0 <= at < here.days.days - 1:
        return window
    index = emergence_index(here.days.seedbed_c, at, table)
    dates = np.where(
        index == NOT_CROSSED, np.datetime64("NaT", "D"), here.first + np.maximum(index, 0)
    )
    came = Crossing(dates)
    early, median, late = (date_or_none(came.quantile(q)) for q in (0.1, 0.5, 0.9))
    reason = "trials at steady temperatures, summed over the soil's days at sowing depth"
    share = float(np.mean(index != NOT_CROSSED))
    return replace(window, emergence=Span(early, median, late, share, reason), sown=sown)
