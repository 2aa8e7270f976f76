"""A place on a day: its record understood, and one forecast that serves every question.

It is made once, whatever is asked: the same members for every crop, in any company and order.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from forecaster.answers.record import Record
from forecaster.forecast.air_ahead import SharedAir
from forecaster.forecast.doubts import unused_readings
from forecaster.forecast.ensemble import SoilForecast
from forecaster.forecast.judge import must_check
from forecaster.forecast.soil import forecast_from, known_air, until
from forecaster.forecast.understand import Place, doubts_of, understand
from forecaster.ground.arrays import Days
from forecaster.ground.errors import NotEnoughData
from forecaster.ground.given import one
from forecaster.ground.site import Site
from forecaster.rules.crossings import Direction
from forecaster.rules.growing_days import GrowingDays
from forecaster.rules.season import Season, season_of
from forecaster.soil.season import fit_yearly, harmonics
from forecaster.soil.sun import daylight_hours

MEMBERS = 400
PLANTED_MEMBERS = 100  # of them, whose plantings are followed: chances, not tails, are read off
BACK_DAYS = 210  # a season that runs may have begun so long ago
AHEAD_DAYS = 560  # the season after the next, and time to grow in it
SEEDBED_DEPTH_M = 0.0127  # half an inch, the depth of the emergence trials
LEAST_SWING_C = 1.0  # of the year's usual air, for it to have seasons
STALE_AFTER_DAYS = 7  # air that ends longer before the day asked about tells no one to go
STALE = "the air and the readings end too long ago; read the soil now, or get newer air"
NO_FROST_C = 99.0  # stands for minima that the record does not hold


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilToday:
    """The soil of a place as it stands on a day: all that a threshold asks about.

    Parameters
    ----------
    today, first : datetime64[D]
        The day of the answer, and the first of the days of the forecast.
    asked_on : datetime64[D]
        The day on which it is asked: later than `today` where the record ends before it.
    forecast : SoilForecast
        From the past months to the season after the next.
    coldest, warmest : int
        Days of the year, from 0 for 1 January, of the usual air's least and most.
    falling, rising : Season
        The soil's own seasons.
    doubts : tuple of str
        What is strange about record and readings, a sentence each.
    """

    today: np.datetime64
    first: np.datetime64
    asked_on: np.datetime64
    forecast: SoilForecast
    coldest: int
    warmest: int
    falling: Season
    rising: Season
    doubts: tuple[str, ...]

    @property
    def place(self) -> Place:
        """What the records say."""
        return self.forecast.place

    @property
    def stale_days(self) -> int:
        """How long ago air and readings end, where that is too long to go by; else 0."""
        newest = max([int(self.place.day[-1]), *self.place.evidence.day[-1:].tolist()])
        behind = int(self.asked_on.astype(np.int64)) - newest
        return behind if behind > STALE_AFTER_DAYS else 0

    @property
    def unsure(self) -> str:
        """Why no one is told to go, whatever the dates say; empty if nothing speaks against."""
        if self.stale_days:
            return STALE
        if must_check(self.place.doubtful):
            remedy = self.place.doubtful[0].remedy
            return f"the record must be checked first: {remedy[0].lower()}{remedy[1:]}"
        return ""

    def season(self, direction: Direction) -> Season:
        """Return the season in which the soil falls, or rises."""
        return self.falling if direction == "falling" else self.rising


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceToday(SoilToday):
    """A place as it stands on a day: its soil, and what plantings meet.

    Parameters
    ----------
    days : GrowingDays
        The first of the same members as plantings meet them, frost at the bed.
    offset_c : float
        What the bed is taken to be warmer than the record's air on a frosty night, °C.
    """

    days: GrowingDays
    offset_c: float

    @property
    def frost_known(self) -> bool:
        """Whether the record holds minima."""
        return self.forecast.tmin_c is not None

    def settled(
        self, threshold_c: float, direction: Direction, near: np.datetime64
    ) -> np.datetime64 | None:
        """Return the middle date on which the soil settles past a threshold, of all members.

        It is that of the season that starts nearest to a day; None where half never get there.
        """
        season, year = self.season(direction), int(near.astype("datetime64[Y]").astype(int)) + 1970
        starts = [season.start(each) for each in range(year - 1, year + 2)]
        start = min(starts, key=lambda each: abs(int((each - near).astype(int))))
        last = np.datetime64(self.forecast.dates[-1].date(), "D")
        if start + season.days <= self.first or start > last:
            return None

        def found() -> Days:
            end = start + season.days
            crossing = self.forecast.crossing(threshold_c, direction, first=start, last=end)
            return np.array([crossing.quantile(0.5)], dtype="datetime64[D]")

        date = self.days.keep(("settled", threshold_c, direction, int(start.astype(int))), found)[0]
        return None if np.isnat(date) else date

    def index(self, day: np.datetime64) -> int:
        """Return the place of a day among its days; outside them it is below 0 or too large."""
        return int((day - self.first).astype(int))


def bed_of(site: Site) -> Site:
    """Return a site as an annual bed: its soil bare, where grass would be taken."""
    return replace(site, cover="bare") if site.cover == "grass" else site


def place_today(
    air: pd.DataFrame,
    site: Site,
    *,
    today: np.datetime64,
    asked_on: np.datetime64 | None = None,
    readings: pd.DataFrame | None = None,
    outlook: pd.DataFrame | None = None,
    members: int = MEMBERS,
    seed: int = 0,
    offset_c: float = 0.0,
    shared: SharedAir | None = None,
) -> PlaceToday:
    """Return a place as it stands on a day; rows of after it are not looked at.

    Parameters
    ----------
    air, readings, outlook, members, seed, shared
        As for `forecaster.forecast.soil.forecast_soil` and `forecast_from`.
    site : Site
        As it is asked about: a bed, or a lawn.
    today, asked_on : datetime64[D]
        The day of the answer, and the day on which it is asked, where that is later.
    offset_c : float
        What the bed is warmer than the record's air on a frosty night, °C.

    Raises
    ------
    InputError
        If a column is missing, or `today` lies before the record or long after it.
    NotEnoughData
        If the record is too short, or its year has no seasons.
    """
    soil = soil_today(
        air, site, today=today, asked_on=asked_on, readings=readings, outlook=outlook,
        members=members, seed=seed, plantings=True, shared=shared,
    )  # fmt: skip
    return PlaceToday(
        **{one.name: getattr(soil, one.name) for one in fields(soil)},
        days=_growing(soil.forecast, site.latitude_deg, offset_c),
        offset_c=offset_c,
    )


def soil_today(
    air: pd.DataFrame,
    site: Site,
    *,
    today: np.datetime64,
    asked_on: np.datetime64 | None = None,
    readings: pd.DataFrame | None = None,
    outlook: pd.DataFrame | None = None,
    members: int = MEMBERS,
    seed: int = 0,
    plantings: bool = False,
    shared: SharedAir | None = None,
) -> SoilToday:
    """Return the soil of a place as it stands on a day: the same members, without plantings.

    Parameters and errors as for `place_today`; with `plantings` the members also carry the
    seed bed and the air's extremes.
    """
    one("site", site, Site, "a Site, as Site(41.2, -96.0)")
    known = until(readings, pd.Timestamp(today))
    if known is not None and "depth_m" in known:
        known = known.assign(depth_m=known["depth_m"].fillna(site.depth_m))
    place = understand(known_air(air, today), site, known)
    coldest, warmest = _turns(place)
    yearly = fit_yearly(harmonics(place.day), place.soil_c, prior_sd=10.0, noise_sd=10.0)
    first = max(today - BACK_DAYS, np.datetime64(int(place.day[0]), "D"))
    forecast = forecast_from(
        place,
        issued=today,
        start=first,
        horizon_days=AHEAD_DAYS,
        members=members,
        outlook=outlook,
        seed=seed,
        seedbed_depth_m=SEEDBED_DEPTH_M if plantings else None,
        extremes=plantings,
        shared=shared,
    )
    return SoilToday(
        today=today,
        first=first,
        asked_on=today if asked_on is None else asked_on,
        forecast=forecast,
        coldest=coldest,
        warmest=warmest,
        falling=season_of(yearly, "falling"),
        rising=season_of(yearly, "rising"),
        doubts=(
            *doubts_of(place),
            *unused_readings(readings, place.day, today if asked_on is None else asked_on),
        ),
    )


def of_record(
    record: Record,
    *,
    offset_c: float = 0.0,
    lawn: bool = False,
    shared: SharedAir | None = None,
) -> PlaceToday:
    """Return the place of a record as it stands on its day: its bed, or the lawn around it."""
    return place_today(
        record.air,
        replace(record.site, cover="grass") if lawn else record.site,
        today=np.datetime64(record.today, "D"),
        asked_on=np.datetime64(record.asked_on, "D"),
        readings=record.log,
        outlook=record.ahead,
        offset_c=offset_c,
        shared=shared,
    )


def soil_of_record(record: Record) -> SoilToday:
    """Return the soil of a record's place as it stands on its day."""
    return soil_today(
        record.air,
        record.site,
        today=np.datetime64(record.today, "D"),
        asked_on=np.datetime64(record.asked_on, "D"),
        readings=record.log,
        outlook=record.ahead,
    )


def _growing(forecast: SoilForecast, latitude_deg: float, offset_c: float) -> GrowingDays:
    """Return a forecast's members as plantings meet them."""
    few = slice(PLANTED_MEMBERS)
    seedbed = forecast.soil_c if forecast.seedbed_c is None else forecast.seedbed_c
    least, most, mean = forecast.tmin_c, forecast.tmax_c, forecast.air_c[few]
    return GrowingDays(
        soil_c=forecast.soil_c[few],
        seedbed_c=seedbed[few],
        least_c=np.full(mean.shape, NO_FROST_C) if least is None else least[few] + offset_c,
        most_c=mean if most is None else most[few],
        air_c=mean,
        light_h=daylight_hours(forecast.dates.day_of_year.to_numpy(), latitude_deg),
    )


def _turns(place: Place) -> tuple[int, int]:
    """Return the days of the year of the usual air's least and most, from 0 for 1 January.

    Raises
    ------
    NotEnoughData
        If they hardly differ.
    """
    year = np.arange("2023-01-01", "2024-01-01", dtype="datetime64[D]").astype(np.int64)
    usual = harmonics(year) @ place.modelled.climate.mean_c
    if usual.max() - usual.min() < LEAST_SWING_C:
        raise NotEnoughData(
            f"the usual air swings by {usual.max() - usual.min():.1f} °C over the year: "
            "it has no seasons to plant by"
        )
    return int(usual.argmin()), int(usual.argmax())
