"""A place understood: its air carried down to the soil, and what its readings teach."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
import pandas as pd

from forecaster.forecast.air_days import daily_air, known_column
from forecaster.forecast.clock import solar_noon_at
from forecaster.forecast.doubts import GRIDDED_AIR, doubt_air, doubt_depth, doubt_readings
from forecaster.forecast.given import (
    check_readings,
    times_of_readings,
)
from forecaster.forecast.judge import Doubt, judge_air
from forecaster.ground import given
from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.ground.site import Site
from forecaster.ingest.account import is_gridded
from forecaster.packaged import load_csv, load_json
from forecaster.soil.forcing import DailyAir
from forecaster.soil.model import (
    Climates,
    Ground,
    Modelled,
    Network,
    SoilModel,
    at_depth,
    model_soil,
)
from forecaster.soil.readings import THERMOMETER_SD_C, Readings, daily_means, departures
from forecaster.soil.residual import (
    NO_EVIDENCE,
    REACH_MEMORIES,
    YEARLY_HARMONICS,
    Evidence,
    Posterior,
    ResidualPrior,
    weigh_outliers,
)
from forecaster.soil.season import harmonics
from forecaster.soil.wave import DailyWave

CLOCK_SD_H = 0.5  # of a zone's clock about its sun, where none is told; common sense, no source
GRIDDED_AIR_SD_C = 1.5
"""Of a gridded stand-in's air about that of a place in its square, year in, year out.

An assumption within 1 to 2 °C: at 14 stations in southern Portugal the service's maxima erred by
8 % and minima by 20 % of their means, most of it a bias (Rodrigues & Braga 2021, Agronomy 11:1207,
abstract): about 2 °C each.
"""
UNKNOWN_AIR_SD_C = 3.0  # of a reading on a day whose air range is unknown
ERRORS_TRIED_C = (0.1, 0.25, 0.5)
READINGS_TO_LEARN_ERROR = 60
READINGS_THAT_TEACH_ERROR = 200


@dataclass(frozen=True, kw_only=True)
class Place:
    """A record understood: what the model makes of it and what the readings add.

    Parameters
    ----------
    site : Site
    kind : str
        What the record holds, as ``extremes+rain``; names the fitted model.
    model, ground, modelled
        The model used, the ground as told, the record carried to the depth.
    prior : ResidualPrior
        The residual before the readings.
    evidence : Evidence
        Readings as residuals, outliers widened.
    outlier : (m,) array of bool
        Which days of the evidence the others contradict.
    least_c, most_c : (n,) array or None
        The record's daily minima and maxima, °C, NaN where unknown; None if it has too few.
    doubts : tuple of str
        What should be known of the record, a sentence each; `doubts_of` adds the readings.
    doubtful : tuple of Doubt
        What is strange about the record; no answer says "go" before it was checked.
    """

    site: Site
    kind: str
    model: SoilModel
    ground: Ground
    modelled: Modelled
    prior: ResidualPrior
    evidence: Evidence
    outlier: Bools
    least_c: Floats | None
    most_c: Floats | None
    doubts: tuple[str, ...] = ()
    doubtful: tuple[Doubt, ...] = ()

    @cached_property
    def _residual(self) -> tuple[Floats, Floats]:
        """Expected residual and its standard deviation by day; a forecast needs neither."""
        return residual_by_day(self.prior, self.evidence, self.day)

    @property
    def residual_c(self) -> Floats:
        """Expected residual by day, °C, (n,) array."""
        return self._residual[0]

    @property
    def sd_c(self) -> Floats:
        """Standard deviation of the soil temperature by day, °C, (n,) array."""
        return self._residual[1]

    @cached_property
    def settled_prior(self) -> ResidualPrior:
        """The residual with its yearly terms as the readings leave them."""
        if self.evidence.empty:
            return self.prior
        first, last = int(self.evidence.day[0]), int(self.evidence.day[-1])
        return Posterior(self.prior, self.evidence, first, last).yearly_after()

    def ground_sd_c(self, day: Ints) -> Floats:
        """Return the standard deviation, by day, of what this ground keeps every year, °C."""
        columns = harmonics(day, YEARLY_HARMONICS)
        covariance = self.settled_prior.yearly_covariance
        return np.asarray(np.sqrt(np.einsum("ni,ij,nj->n", columns, covariance, columns)))

    @property
    def outliers(self) -> tuple[str, ...]:
        """Readings that the others contradict, in words with day and size."""
        days = self.evidence.day[self.outlier]
        sizes = (self.evidence.residual_c - self.residual_c[self.evidence.day - self.day[0]])[
            self.outlier
        ]
        return tuple(
            f"{np.datetime64(int(day), 'D')}: {size:+.1f} °C from what the others foretell"
            for day, size in zip(days, sizes, strict=True)
        )

    @property
    def soil_c(self) -> Floats:
        """Expected daily mean at the depth, °C, (n,) array."""
        return self.modelled.soil_c + self.residual_c

    @property
    def day(self) -> Ints:
        """Days of the record since 1970-01-01, (n,) array."""
        return self.modelled.air.day


def understand(
    air: pd.DataFrame,
    site: Site,
    readings: pd.DataFrame | None = None,
    model: SoilModel | None = None,
) -> Place:
    """Return the record of a place carried to its depth, with what the readings teach.

    Parameters and errors as for `forecaster.forecast.soil.estimate_soil`; `model` replaces the
    packaged one, as a fit that has not seen this place does.
    """
    given.one("site", site, Site, "a Site, as Site(41.2, -96.0)")
    record, kind = daily_air(air)
    doubtful = judged(air, record, site)
    model = load_model(kind) if model is None else model
    ground = ground_at(site, model)
    gridded = is_gridded(getattr(air.attrs.get("account"), "station", ""))
    if gridded:
        unsure = float(np.hypot(ground.extra_offset_sd_c, GRIDDED_AIR_SD_C))
        ground = replace(ground, extra_offset_sd_c=unsure)
    modelled = model_soil(record, site.latitude_deg, model, ground)
    prior = model.prior_at(site.latitude_deg, site.longitude_deg, ground, modelled.climate)
    arrays = readings_as_arrays(readings, site, modelled)
    evidence, outlier = weigh_readings(
        arrays, site, modelled, ground=ground, model=model, prior=prior
    )
    return Place(
        site=site,
        kind=kind,
        model=model,
        ground=ground,
        modelled=modelled,
        prior=prior,
        evidence=evidence,
        outlier=outlier,
        least_c=known_column(air, "tmin_c"),
        most_c=known_column(air, "tmax_c"),
        doubts=((GRIDDED_AIR,) if gridded else ()) + doubt_depth(site),
        doubtful=doubtful,
    )


def judged(air: pd.DataFrame, record: DailyAir, site: Site) -> tuple[Doubt, ...]:
    """Return what is doubtful about a table of air at a place.

    Raises
    ------
    InputError
        If it cannot be of this place, or not all of it in one unit.
    """
    strange = doubt_air(record, site.latitude_deg)
    least, most, mean = (known_column(air, name) for name in ("tmin_c", "tmax_c", "tavg_c"))
    extremes = None if least is None or most is None else (least, most)
    found = judge_air(record, site.latitude_deg, site.longitude_deg, extremes, mean)
    check = "Check the unit and the latitude"
    return (*(Doubt(what="climate", sentence=s, remedy=check) for s in strange), *found)


def doubts_of(place: Place) -> tuple[str, ...]:
    """Return what is strange about a place's record and readings, a sentence each, worst first.

    Raises
    ------
    InputError
        If its readings lie so far from what its air makes that they are of something else.
    """
    evidence = place.evidence
    expected = harmonics(evidence.day, YEARLY_HARMONICS) @ place.prior.yearly_mean_c
    read_c = place.modelled.soil_c[evidence.day - place.day[0]] + evidence.residual_c
    sd_c = np.hypot(place.prior.sd_c(evidence.day), evidence.shared_sd_c)
    return (
        *(doubt.sentence for doubt in place.doubtful),
        *doubt_readings(evidence.residual_c - expected, sd_c, read_c),
        *place.doubts,
    )


@cache
def load_model(kind: str) -> SoilModel:
    """Return the model fitted for one kind of record, from the packaged data."""
    fitted = load_json("soil_model.json")
    own = fitted["kinds"][kind]
    rows = [row for row in load_csv("site_terms.csv") if row["kind"] == kind]
    terms = ("offset_c", "cos1_c", "sin1_c", "cos2_c", "sin2_c", "cos3_c", "sin3_c")
    covariance = np.array(own["yearly_covariance_c2"])
    return SoilModel(
        weights=own["weights"],
        diffusivity_m2_s=fitted["diffusivity_m2_s"],
        exchange_length_m=fitted["exchange_length_m"],
        residual=ResidualPrior(
            yearly_mean_c=np.zeros(len(covariance)),
            yearly_covariance=covariance,
            slow_sd_c=own["slow_sd_c"],
            slow_memory_days=own["slow_memory_days"],
            fast_sd_c=own["fast_sd_c"],
            fast_memory_days=own["fast_memory_days"],
            season_gain=np.array(own["season_gain"]),
        ),
        network=Network(
            np.array([float(row["latitude_deg"]) for row in rows]),
            np.array([float(row["longitude_deg"]) for row in rows]),
            np.array([[float(row[name]) for name in terms] for row in rows]),
            own["range_km"],
            own["nugget"],
        ),
        wandering_depth_m=own["wandering_depth_m"],
        apart_c_per_root_m=own["apart_c_per_root_m"],
        climates=Climates(
            np.array(own["climates"]["mean"]),
            np.array(own["climates"]["precision"]),
            own["climates"]["usual"],
        ),
    )


@cache
def load_daily_wave(site: Site) -> DailyWave:
    """Return the constants of the day's wave at a site, from the packaged data.

    Fitted are grass and bare ground; what covers the ground otherwise shifts grass as it shifts
    the year's wave. Where nobody said what clock the readings keep, the hour is less sure.
    """
    fitted = "bare" if site.cover == "bare" else "grass"
    wave = DailyWave.from_table(load_json("daily_wave.json"), fitted)
    cover = next(row for row in load_csv("covers.csv") if row["cover"] == site.cover)
    if site.cover != fitted:
        wave = replace(
            wave,
            exchange_length_m=wave.exchange_length_m * float(cover["exchange_factor"]),
            sun_gain_c_m2_day_mj=wave.sun_gain_c_m2_day_mj * float(cover["sun_factor"]),
        )
    if site.clock is None:
        wave = replace(wave, sd_phase_h=float(np.hypot(wave.sd_phase_h, CLOCK_SD_H)))
    return wave


def ground_at(site: Site, model: SoilModel) -> Ground:
    """Return the heat constants of a site: the stations', shifted by its soil and cover."""
    ground = model.ground(site.depth_m)
    if site.soil == "loam" and site.cover == "grass":
        return ground
    from forecaster.soil.properties import MIX_COLUMNS, SoilMix, shift  # noqa: PLC0415

    soils = {row["soil"]: row for row in load_csv("soils.csv")}
    cover = next(row for row in load_csv("covers.csv") if row["cover"] == site.cover)
    here, loam = (
        SoilMix(**{name: float(soils[soil][name]) for name in MIX_COLUMNS})
        for soil in (site.soil, "loam")
    )
    moved = shift(here, loam)
    unsure = np.hypot(float(soils[site.soil]["offset_sd_c"]), float(cover["offset_sd_c"]))
    return replace(
        ground,
        diffusivity_m2_s=ground.diffusivity_m2_s * moved.diffusivity,
        exchange_length_m=ground.exchange_length_m
        * moved.exchange_length
        * float(cover["exchange_factor"]),
        sun_factor=float(cover["sun_factor"]),
        extra_offset_sd_c=float(unsure),
    )


def readings_as_arrays(
    readings: pd.DataFrame | None, site: Site, modelled: Modelled
) -> Readings | None:
    """Return the readings that fall on the record's days, whole days put in one."""
    readings = times_of_readings(readings)
    if readings is None or len(readings) == 0:
        return None
    check_readings(readings)
    time = readings["time"].to_numpy().astype("datetime64[s]")
    day = time.astype("datetime64[D]")
    hour = (time - day).astype(np.int64) / 3600.0
    if "hour_known" in readings:
        hour = np.where(readings["hour_known"].to_numpy(dtype=bool), hour, np.nan)
    span = readings["span"].to_numpy() if "span" in readings else np.full(len(readings), "instant")
    whole = np.asarray(span == "day")
    depth = (
        readings["depth_m"].to_numpy(dtype=float)
        if "depth_m" in readings
        else np.full(len(readings), np.nan)
    )
    error = (
        readings["error_c"].to_numpy(dtype=float)
        if "error_c" in readings
        else np.full(len(readings), THERMOMETER_SD_C)
    )
    arrays = Readings(
        day=day.astype(np.int64),
        hour=np.where(whole, np.nan, hour),
        temp_c=readings["temp_c"].to_numpy(dtype=float),
        depth_m=np.where(np.isfinite(depth), depth, site.depth_m),
        whole_day=whole,
        error_c=error,
    )
    days = modelled.air.day
    use = np.isfinite(arrays.temp_c) & (arrays.day >= days[0]) & (arrays.day <= days[-1])
    return daily_means(arrays[use]) if use.any() else None


def weigh_readings(
    readings: Readings | None,
    site: Site,
    modelled: Modelled,
    *,
    ground: Ground,
    model: SoilModel,
    prior: ResidualPrior,
) -> tuple[Evidence, Bools]:
    """Return the readings as evidence on the residual, and which days are outliers."""
    if readings is None:
        return NO_EVIDENCE, np.zeros(0, dtype=bool)
    at = readings.day - modelled.air.day[0]
    spread = modelled.air.range_c
    half = np.full(at.size, np.nan) if spread is None else spread[at] / 2.0
    middle = modelled.air.mean_c[at]
    found = departures(
        readings,
        tmin_c=middle - half,
        tmax_c=middle + half,
        day_of_year=modelled.air.day_of_year[at],
        latitude_deg=site.latitude_deg,
        wave=load_daily_wave(site),
        solar_noon_h=solar_noon_at(site, readings.day),
    )
    known = np.isfinite(found.departure_c)
    shift = np.where(known, found.departure_c, 0.0)
    shared = np.where(known[:, None], found.shared_c, 0.0)
    own_sd = np.where(known, found.own_sd_c, UNKNOWN_AIR_SD_C)
    expected = np.empty(at.size)
    for depth in np.unique(readings.depth_m):
        here = readings.depth_m == depth
        expected[here] = at_depth(modelled, replace(ground, depth_m=float(depth)))[at[here]]
    apart = model.apart_c(readings.depth_m, site.depth_m)
    error = np.sqrt(readings.error_c**2 + own_sd**2 + apart**2)
    residual = readings.temp_c - shift - expected
    evidence = replace(
        Evidence.merged(readings.day, residual, error, shared),
        apart_c=float(np.sqrt(np.average(apart**2, weights=error**-2))),
    )
    evidence = learn_error(prior, evidence)
    return weigh_outliers(prior, evidence)


def learn_error(prior: ResidualPrior, evidence: Evidence) -> Evidence:
    """Return evidence with the thermometer's error learned, where there is enough to learn it.

    Of a few sizes the likeliest on the last readings is taken, if 60 days or more were read.
    """
    if evidence.day.size < READINGS_TO_LEARN_ERROR:
        return evidence
    besides = np.maximum(evidence.error_c**2 - THERMOMETER_SD_C**2, 0.0)
    tried = [replace(evidence, error_c=np.sqrt(besides + error**2)) for error in ERRORS_TRIED_C]
    scores = []
    for whole in tried:
        one = whole.last(READINGS_THAT_TEACH_ERROR)
        run = Posterior(prior, one, int(one.day[0]), int(one.day[-1]))
        scores.append(run.log_evidence())
    return tried[int(np.argmax(scores))]


def residual_by_day(prior: ResidualPrior, evidence: Evidence, day: Ints) -> tuple[Floats, Floats]:
    """Return the residual's mean and standard deviation on every day of a record, °C.

    Days too far from any reading for its slow part to reach get the yearly terms alone.
    """
    columns = harmonics(day, YEARLY_HARMONICS)
    if evidence.empty:
        return columns @ prior.yearly_mean_c, prior.sd_on(columns)
    reach = int(REACH_MEMORIES * prior.slow_memory_days)
    first = max(int(evidence.day[0]) - reach, int(day[0]))
    last = min(int(evidence.day[-1]) + reach, int(day[-1]))
    near = Posterior(prior, evidence, first, last)
    after = near.yearly_after()
    mean, sd = columns @ after.yearly_mean_c, after.sd_on(columns)
    inside = slice(first - int(day[0]), last - int(day[0]) + 1)
    mean[inside], sd[inside] = near.mean_c, near.sd_c
    return mean, sd
