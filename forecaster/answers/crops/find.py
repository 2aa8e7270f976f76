"""When crops can be planted at a place, with probabilities from one joint ensemble."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecaster.answers.calendar import date_of, date_or_none
from forecaster.answers.crops.results import CropAnswer, CropWindow, Span, State
from forecaster.answers.crops.table import defaults, hardiness_classes
from forecaster.answers.frost import frost_dates
from forecaster.errors import InputError, NotEnoughData
from forecaster.forecast.doubts import unused_readings
from forecaster.forecast.ensemble import Crossing, Day, SoilForecast, as_day
from forecaster.forecast.soil import forecast_from, known_air, until
from forecaster.forecast.understand import doubts_of, load_daily_wave, understand
from forecaster.packaged import load_csv
from forecaster.rules.crops import (
    FIRST_FROST,
    FREEZE,
    HEAT,
    SEASON_END,
    TOO_COLD,
    Choice,
    Crop,
    CropThreshold,
    HardinessClaim,
    MemberWindow,
    PlantingSeason,
    Use,
    autumn_window,
    best_days,
    spring_window,
)
from forecaster.rules.crossings import NEVER
from forecaster.rules.emergence import emergence_index
from forecaster.rules.season import Season, season_of
from forecaster.site import Site
from forecaster.soil.forcing import usual_range
from forecaster.soil.season import fit_yearly, harmonics
from forecaster.soil.wave import hour_correction, solar_noon_hour
from forecaster.units import f_to_c, f_to_c_difference

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MEMBERS = 400
OVER_BELOW = 0.05  # share of the members still open, below which the next season is meant
MOST, EVEN = 0.5, 0.5
OTHER_SEASON = np.timedelta64(180, "D")  # starts further apart are of two seasons
LONGEST_DAYS = 730

CLOSES_BECAUSE = {
    SEASON_END: "nothing closes it before the season ends",
    TOO_COLD: "after it too few days are left to root before the soil turns too cold",
    FREEZE: "after it too few days are left to root before a hard freeze",
    HEAT: "after it the soil turns too warm",
    FIRST_FROST: "after it too little time is left before the autumn's first frost",
}


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wanted of a crop's window; what is None is taken from the tables.

    Parameters
    ----------
    season : {"autumn", "spring"}, optional
        By default autumn for cool-season crops, spring for warm-season ones.
    use : {"transplant", "seed"}, optional
        By default as the crop is usually begun.
    risk : float, optional
        Chance of a later frost that is accepted, 0 to 1.
    offset_c : float, optional
        What the bed is warmer than the record's air on a frosty night, °C.
    rooting_days, season_days : int, optional
        Days to root; days that the crop needs in the bed before frost.
    source : str, optional
        Part of the name of the source whose thresholds are used where it gives one.
    sown : date, optional
        Day of sowing in the bed; makes `use` seed.
    begins : date, optional
        First day of the season that is meant, as a plan for the next one gives it; by default
        the season that runs, or comes next.
    """

    season: PlantingSeason | None = None
    use: Use | None = None
    risk: float | None = None
    offset_c: float | None = None
    rooting_days: int | None = None
    season_days: int | None = None
    source: str | None = None
    sown: date | None = None
    begins: date | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.risk is not None and not 0.0 <= self.risk <= 1.0:
            raise InputError(f"risk is {self.risk!r}; expected a probability from 0 to 1")
        for name in ("rooting_days", "season_days"):
            days = getattr(self, name)
            if days is not None and not 1 <= days <= 365:
                raise InputError(f"{name} is {days!r}; expected 1 to 365 days")


@dataclass(frozen=True, slots=True)
class _Days:
    """The members on a season's days: soil at the depth asked, and minima at the bed, °C."""

    day: NDArray[np.datetime64]
    soil_c: Floats
    least_c: Floats | None


@dataclass(frozen=True, slots=True)
class _Span:
    """A season as a stretch of days: its first, the warmest in it, and its last."""

    name: PlantingSeason
    start: np.datetime64
    turn: np.datetime64
    end: np.datetime64


def crop_windows(
    air: pd.DataFrame,
    site: Site,
    crops: Sequence[Crop],
    *,
    today: Day,
    wish: Wish | None = None,
    readings: pd.DataFrame | None = None,
    outlook: pd.DataFrame | None = None,
    members: int = MEMBERS,
    seed: int = 0,
) -> CropAnswer:
    """Return when each crop can be planted at a place, as it stands on a day.

    Soil and frost come from the same members, so a warm spring is early in both. A season
    whose window is over gives way to the next.

    Parameters
    ----------
    air, site, readings, outlook, seed
        As for `forecaster.forecast.soil.forecast_soil`; rows after `today` are ignored.
    crops : sequence of Crop
        At least one.
    today : date-like
        The day of the answer.
    wish : Wish, optional
        Season, use, accepted risk and the like, for all of the crops.
    members : int
        Draws, at least 2.

    Returns
    -------
    CropAnswer
        Dates; temperatures in °C.

    Raises
    ------
    InputError
        If no crop is given, a crop has no figure for what is asked, or an argument is out of range.
    NotEnoughData
        If the record is too short, or the soil's year has no seasons.
    """
    asked = Wish() if wish is None else wish
    if not crops:
        raise InputError("crops is empty; expected at least one, as known_crops gives")
    now = as_day(today)
    garden = _Garden(
        air,
        site,
        asked,
        readings=readings,
        outlook=outlook,
        now=now,
        members=members,
        seed=seed,
    )
    spans = [garden.spans(_season_of(crop, asked)) for crop in crops]
    garden.reach([span for span, _ in spans])
    found = [garden.window(crop, span) for crop, (span, _) in zip(crops, spans, strict=True)]
    over = [at for at, one in enumerate(found) if one.state == "closed"]
    if over:
        garden.reach([spans[at][1] for at in over])
        for at in over:
            again = garden.window(crops[at], spans[at][1])
            found[at] = replace(again, closed_on=found[at].closes.median)
    try:
        frost = frost_dates(air, today=now, offset_c=garden.offset_c)
    except NotEnoughData:
        frost = ()
    return CropAnswer(tuple(found), frost, date_of(now), garden.forecast.years, garden.notes())


def _season_of(crop: Crop, wish: Wish) -> PlantingSeason:
    return wish.season or ("autumn" if crop.crop_class == "cool" else "spring")


class _Garden:
    """A place on a day, with the forecast that all of its crops share."""

    def __init__(
        self,
        air: pd.DataFrame,
        site: Site,
        wish: Wish,
        *,
        readings: pd.DataFrame | None,
        outlook: pd.DataFrame | None,
        now: np.datetime64,
        members: int,
        seed: int,
    ) -> None:
        self.air, self.site, self.outlook = air, site, outlook
        self.now, self.members, self.seed, self.wish = now, members, seed, wish
        known = until(readings, pd.Timestamp(now))
        if known is not None and "depth_m" in known:
            known = known.assign(depth_m=known["depth_m"].fillna(site.depth_m))
        self.readings = known
        self.place = understand(known_air(air, now), site, known)
        self.doubts = (
            *doubts_of(self.place),
            *unused_readings(readings, self.place.day, now),
        )
        place = self.place
        yearly = fit_yearly(harmonics(place.day), place.soil_c, prior_sd=10.0, noise_sd=10.0)
        self.falling, self.rising = (season_of(yearly, way) for way in ("falling", "rising"))
        taken = defaults()
        self.risk = taken["frost_risk"].value if wish.risk is None else wish.risk
        offset_c = f_to_c_difference(taken["bed_offset_f"].value)
        self.offset_c = offset_c if wish.offset_c is None else wish.offset_c
        levels = {row["name"]: float(row["threshold_f"]) for row in load_csv("frost.csv")}
        self.freeze_c = f_to_c(levels["hard-freeze"])
        self.forecast: SoilForecast
        self.seedbed: dict[float, SoilForecast] = {}

    def spans(self, season: PlantingSeason) -> tuple[_Span, _Span]:
        """Return the season that runs, or comes next, and the one after it."""
        if season == "autumn":
            start = self._meant(self.falling, self.falling.containing_or_next(self.now))
            starts = (start, _next(self.falling, start))
            return _pair([_Span("autumn", s, s, s + self.falling.days) for s in starts])
        year = int(str(self.now)[:4])
        start = next(s for s in (self.rising.start(y) for y in (year, year - 1)) if s <= self.now)
        start = self._meant(self.rising, start)
        starts = (start, _next(self.rising, start))
        return _pair(
            [_Span("spring", s, s + self.rising.days, _next(self.rising, s) - 1) for s in starts]
        )

    def _meant(self, season: Season, start: np.datetime64) -> np.datetime64:
        """Return the season's start, or the next one where the wish is for that."""
        if self.wish.begins is None:
            return start
        earlier = np.datetime64(self.wish.begins, "D") - start
        return _next(season, start) if earlier > OTHER_SEASON else start

    def reach(self, spans: Sequence[_Span]) -> None:
        """Forecast from the first of some seasons to the end of the last."""
        first = max(min([self.now, *(span.start for span in spans)]), self._record_start)
        ahead = int((max(span.end for span in spans) - self.now).astype(int))
        self.forecast = self._forecast(self.site, first, ahead)
        self.seedbed = {}

    @property
    def _record_start(self) -> np.datetime64:
        return np.datetime64(int(self.place.day[0]), "D")

    def _forecast(self, site: Site, first: np.datetime64, ahead: int) -> SoilForecast:
        place = self.place
        if site is not self.site:
            place = understand(known_air(self.air, self.now), site, self.readings)
        return forecast_from(
            place,
            issued=self.now,
            start=first,
            horizon_days=min(max(ahead, 1), LONGEST_DAYS),
            members=self.members,
            outlook=self.outlook,
            seed=self.seed,
        )

    def window(self, crop: Crop, span: _Span) -> CropWindow:
        """Return the window of a crop in a season that the forecast reaches."""
        use = "seed" if self.wish.sown is not None else self.wish.use or crop.usual_use
        days = self._days(span)
        if span.name == "autumn":
            choice, limit, found, taken = self._autumn(crop, use, days)
            claim, damaging_c = crop.stands(), self.freeze_c
        else:
            claim, damaging_c = _harmed(crop)
            turn = int(np.clip((span.turn - days.day[0]).astype(int), 0, days.day.size - 2))
            choice, limit, found, taken = self._spring(
                crop, use, days, turn=turn, damaging_c=damaging_c
            )
        made = CropWindow(
            crop,
            span.name,
            use,
            date_of(span.start),
            date_of(span.end),
            threshold=choice,
            limit=limit,
            hardiness=claim,
            damaging_c=damaging_c,
            accepted_risk=self.risk,
            assumptions=taken,
            **self._answer(span, days.day, found),
        )
        return self._with_emergence(made) if use == "seed" else made

    def _days(self, span: _Span) -> _Days:
        day = self.forecast.dates.to_numpy().astype("datetime64[D]")
        inside = (day >= span.start) & (day <= span.end)
        tmin = self.forecast.tmin_c
        return _Days(
            day[inside],
            self.forecast.soil_c[:, inside],
            None if tmin is None else tmin[:, inside] + self.offset_c,
        )

    def _autumn(
        self, crop: Crop, use: Use, days: _Days
    ) -> tuple[Choice, Choice | None, MemberWindow, tuple[str, ...]]:
        if crop.crop_class == "warm":
            raise InputError(
                f"{crop.name} is a warm-season crop: no autumn window is reckoned for it; "
                "ask without a season, the answer tells when autumn's frost closes it"
            )
        source = self.wish.source
        upper = crop.first_choice(("upper_limit", "optimum_high"), "autumn", use, source)
        lower = crop.first_choice(("lower_limit", "minimum"), "autumn", use, source)
        if upper is None:
            raise InputError(_no_figure(crop, "upper_limit", "autumn"))
        lower = lower or _default_limit()
        if lower.used.value_c >= upper.used.value_c:
            raise InputError(
                f"{crop.name}: its lower limit is not below its upper one; expected the soil to "
                "suit it in between. Choose another source, or give your own figures"
            )
        needed, taken = self._rooting_days()
        found = autumn_window(
            self._as_measured(days, upper.used),
            days.least_c,
            upper_c=upper.used.value_c,
            lower_c=lower.used.value_c,
            freeze_c=self.freeze_c,
            needed_days=needed,
        )
        return upper, lower, found, (taken,)

    def _spring(
        self, crop: Crop, use: Use, days: _Days, *, turn: int, damaging_c: float
    ) -> tuple[Choice, Choice | None, MemberWindow, tuple[str, ...]]:
        source = self.wish.source
        minimum = crop.first_choice(("minimum", "lower_limit"), "spring", use, source)
        if minimum is None:
            raise InputError(_no_figure(crop, "minimum", "spring"))
        upper = crop.choose("upper_limit", "spring", use, source)
        if upper is None and use == "seed":
            upper = crop.choose("maximum", "spring", use, source)
        roots, taken = 0, []
        if crop.crop_class == "cool" and upper is not None and use != "seed":
            roots, words = self._rooting_days()
            taken.append(words)
        season_days, words = self._season_days(crop)
        found = spring_window(
            self._as_measured(days, minimum.used),
            days.least_c,
            turn=turn,
            minimum_c=minimum.used.value_c,
            damaging_c=damaging_c,
            risk=self.risk,
            season_days=season_days,
            upper_c=None if upper is None else upper.used.value_c,
            needed_days=roots,
        )
        return minimum, upper, found, (*taken, words)

    def _rooting_days(self) -> tuple[int, str]:
        taken = defaults()["rooting_days"]
        own = self.wish.rooting_days
        days, basis = (int(taken.value), taken.basis) if own is None else (own, "yours")
        return days, f"{days} days to root ({basis})"

    def _season_days(self, crop: Crop) -> tuple[int, str]:
        own = self.wish.season_days
        if own is not None:
            return own, f"{own} days in the bed before frost (yours)"
        if crop.days_to_maturity:
            figure = crop.days_to_maturity[len(crop.days_to_maturity) // 2]
            days = round(figure.middle)
            return days, f"{days} days from planting to harvest before frost ({figure.basis})"
        taken = defaults()["season_days"]
        return int(taken.value), f"{taken.value:.0f} days in the bed before frost ({taken.basis})"

    def _as_measured(self, days: _Days, threshold: CropThreshold) -> Floats:
        """Return the soil at the hour at which a threshold is meant to be read."""
        if threshold.measured not in ("morning", "midday"):
            return days.soil_c
        climate, air = self.place.modelled.climate, self.place.modelled.air
        if air.range_c is None:
            return days.soil_c
        columns = harmonics(days.day.astype(np.int64))
        middle, half = columns @ climate.mean_c, usual_range(climate, columns) / 2.0
        calendar = pd.DatetimeIndex(days.day.astype("datetime64[ns]"))
        east = self.site.longitude_deg
        found = hour_correction(
            np.full(days.day.size, defaults()[f"{threshold.measured}_hour"].value),
            self.site.depth_m,
            tmin_c=middle - half,
            tmax_c=middle + half,
            day_of_year=calendar.day_of_year.to_numpy(),
            latitude_deg=self.site.latitude_deg,
            wave=load_daily_wave(),
            solar_noon_h=12.0 if east is None else solar_noon_hour(east),
        )
        return np.asarray(days.soil_c + found.departure_c)

    def _answer(
        self, span: _Span, days: NDArray[np.datetime64], found: MemberWindow
    ) -> dict[str, Any]:
        """Return the part of the window that the members tell: dates, chances, reasons."""
        usable = found.usable
        by = found.closed_by[usable]
        main = int(np.bincount(by).argmax()) if by.size else SEASON_END
        closing = float(np.mean(usable & (found.closed_by != SEASON_END)))
        frost = self.forecast.tmin_c is not None and span.name == "spring"
        bound = float(found.frost_bound[usable].mean()) if by.size else 0.0
        reason = _opens_because(span.name, found, bound, frost=frost)
        opens = _span(found.opens, days, float(usable.mean()), reason)
        shut = found.closes[usable] if by.size else found.closes
        closes = _span(shut, days, closing, CLOSES_BECAUSE[main])
        return {
            "state": self._state(found, days, opens),
            "opens": opens,
            "best": self._best(found, days),
            "closes": closes,
            "frost_after": float(found.frost_after[usable].mean()) if frost and by.size else None,
            "frost_bound": bound,
        }

    def _best(self, found: MemberWindow, days: NDArray[np.datetime64]) -> Span:
        share = found.open_share(days.size)
        first = int(np.clip((self.now - days[0]).astype(int), 0, days.size))
        best = best_days(share, first)
        if best is None:
            return Span(None, None, None, 0.0, "it is open on no day that is left")
        early, day, late = (date_of(days[at]) for at in best)
        return Span(
            early,
            day,
            late,
            float(share[best[1]]),
            "the first day on which it is about as surely open as it gets",
        )

    def _state(self, found: MemberWindow, days: NDArray[np.datetime64], opens: Span) -> State:
        at = int((self.now - days[0]).astype(int))
        if opens.median is None:
            return "none"
        if float(np.mean(found.usable & (found.closes >= at))) < OVER_BELOW:
            return "closed"
        if 0 <= at < days.size and found.open_share(days.size)[at] >= EVEN:
            return "open"
        return "late" if opens.median <= date_of(self.now) else "ahead"

    def _with_emergence(self, window: CropWindow) -> CropWindow:
        """Return the window with the days on which sown seed comes up."""
        table, sown = window.crop.emergence, self.wish.sown or window.best.median
        if table is None or sown is None:
            return window
        begin = np.datetime64(sown, "D")
        first = max(min(begin, self.now), self._record_start)
        end = np.datetime64(window.season_end, "D")
        if not first <= begin < end:
            return window
        if table.depth_m not in self.seedbed:
            site = replace(self.site, depth_m=table.depth_m)
            last = self.forecast.dates[-1].to_datetime64().astype("datetime64[D]")
            self.seedbed[table.depth_m] = self._forecast(
                site, first, int((last - self.now).astype(int))
            )
        bed = self.seedbed[table.depth_m]
        days = bed.dates.to_numpy().astype("datetime64[D]")
        index = emergence_index(bed.soil_c, int((begin - days[0]).astype(int)), table)
        reason = "trials at steady temperatures, summed over the soil's days at sowing depth"
        came = _span(index, days, float(np.mean(index != NEVER)), reason)
        return replace(window, emergence=came, sown=sown)

    def notes(self) -> tuple[str, ...]:
        """Return what the reader of the answer should know."""
        said = [*self.doubts]
        if self.forecast.tmin_c is None:
            said.append(
                "The record holds daily means only: frost is not reckoned with. "
                "A record with daily minima would tell."
            )
        if self.forecast.years == 0:
            said.append("No past year follows this day; weather of other seasons stands in.")
        elif self.forecast.years < 10:
            said.append(
                f"The air to come is drawn from {self.forecast.years} past years: "
                "chances of frost are rough."
            )
        return tuple(said)


def _pair(spans: Sequence[_Span]) -> tuple[_Span, _Span]:
    return spans[0], spans[1]


def _next(season: Season, start: np.datetime64) -> np.datetime64:
    return season.start(int(str(start)[:4]) + 1)


def _harmed(crop: Crop) -> tuple[HardinessClaim | None, float]:
    """Return a crop's hardiness and the air temperature that harms it, °C."""
    claim = crop.stands()
    if claim is not None:
        return claim, claim.hardiness.damaging_c
    usual = "tolerant" if crop.crop_class == "cool" else "tender"
    return None, hardiness_classes()[usual].damaging_c


def _default_limit() -> Choice:
    taken = defaults()["least_limit_f"]
    used = CropThreshold("lower_limit", f_to_c(taken.value), basis=taken.basis, source=taken.source)
    return Choice(used, ())


def _no_figure(crop: Crop, role: str, season: str) -> str:
    return (
        f"{crop.name}: no figure says when the soil suits it in {season}; "
        f"give your own in a file with crop, role {role} and value_f"
    )


def _span(index: Ints, days: NDArray[np.datetime64], probability: float, reason: str) -> Span:
    dates = np.where(index == NEVER, np.datetime64("NaT", "D"), days[np.maximum(index, 0)])
    crossing = Crossing(dates)
    early, median, late = (date_or_none(crossing.quantile(q)) for q in (0.1, 0.5, 0.9))
    return Span(early, median, late, probability, reason)


def _opens_because(
    season: PlantingSeason, found: MemberWindow, frost_bound: float, *, frost: bool
) -> str:
    """Return why the window opens when it does, or why it does not."""
    limit = "below the upper limit" if season == "autumn" else "above the least temperature"
    if found.usable.mean() < MOST:
        if float(np.mean(found.settled == NEVER)) >= MOST:
            return f"the soil is not expected to settle {limit} this season"
        left = "to root" if season == "autumn" else "before frost"
        return f"once soil and frost allow it too little time is left {left}"
    already = float(np.mean(found.opens[found.usable] == 0)) >= EVEN
    soil = f"the soil lies {limit} all season" if already else f"the soil settles {limit}"
    if season == "autumn":
        return soil
    if not frost:
        return f"{soil}; frost is not reckoned with"
    if frost_bound >= EVEN:
        return "a later frost is rare enough from then on; the soil is warm enough before"
    return f"{soil}, and a later frost is rare enough"
