"""The fitted model: weights of the forcing, heat constants, what is left over and where.

All numbers come from ``data/soil_model.json`` and ``data/site_terms.csv``, written by
``scripts/fit_model.py``; the composition layer loads them and passes them in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from forecaster.ground.arrays import Floats
from forecaster.ground.errors import InputError
from forecaster.ground.site import EARTH_RADIUS_KM
from forecaster.soil.forcing import (
    WEATHER_SD_C,
    Climate,
    DailyAir,
    bridge,
    describe,
    forcing_terms,
    usual_year,
)
from forecaster.soil.heat import respond, respond_yearly
from forecaster.soil.residual import YEARLY_HARMONICS, ResidualPrior
from forecaster.soil.season import fit_yearly, harmonics

FITTED_DEPTH_M = 0.10
FORCING_WAVE_SD_C = 2.0  # of a harmonic about that of usual air; common sense, no source
MEAN_SHARE = 0.3  # variance of the terms' common mean, as a share of a station's own


@dataclass(frozen=True, slots=True)
class Ground:
    """Heat constants of one place and how its cover turns air and sun into forcing.

    Parameters
    ----------
    diffusivity_m2_s : float
        κ, m²/s.
    exchange_length_m : float
        L, m.
    depth_m : float
        Depth asked about, m.
    sun_factor : float
        Solar terms relative to grass.
    extra_offset_sd_c : float
        Added uncertainty of the offset for a soil or cover unlike the stations', °C.
    """

    diffusivity_m2_s: float
    exchange_length_m: float
    depth_m: float = FITTED_DEPTH_M
    sun_factor: float = 1.0
    extra_offset_sd_c: float = 0.0


@dataclass(frozen=True, slots=True)
class Network:
    """Yearly residual terms known at stations, from which a place's are foretold.

    Parameters
    ----------
    latitude_deg, longitude_deg : (s,) array
    terms_c : (s, 7) array
        Offset and three harmonics of each station's residual, °C.
    range_km : float
        e-folding distance of the correlation.
    nugget : float
        Share of the variance that neighbours say nothing about, 0 to 1.
    """

    latitude_deg: Floats
    longitude_deg: Floats
    terms_c: Floats
    range_km: float
    nugget: float

    def foretell(self, latitude_deg: float, longitude_deg: float | None) -> tuple[Floats, float]:
        """Return expected terms at a place and the share of their variance that is left.

        Kriging with an exponential correlation of the chord distance (Cressie 1993,
        Statistics for Spatial Data, §3.2; section from memory) about a mean that the stations
        share, itself known from them alone. Without a longitude, or far from every station,
        that mean is expected and all variance is left.

        Returns
        -------
        (7,) array, float
        """
        if self.latitude_deg.size == 0:
            return np.zeros(1 + 2 * YEARLY_HARMONICS), 1.0
        to_here = np.full(self.latitude_deg.size, MEAN_SHARE)
        if longitude_deg is not None:
            here = np.array([latitude_deg]), np.array([longitude_deg])
            to_here += self._correlation(*here)[:, 0]
        weights = np.linalg.solve(self.correlation() + MEAN_SHARE, to_here)
        return np.asarray(weights @ self.terms_c), float(1.0 + MEAN_SHARE - weights @ to_here)

    def correlation(self) -> Floats:
        """Return the correlation of a term between every two stations, (s, s) array."""
        among = self._correlation(self.latitude_deg, self.longitude_deg)
        among[np.diag_indices_from(among)] = 1.0
        return among

    def _correlation(self, latitude_deg: Floats, longitude_deg: Floats) -> Floats:
        """Return the correlation of the stations, down, with other places, across."""
        apart = chord_km(self.latitude_deg, self.longitude_deg, latitude_deg, longitude_deg)
        return np.asarray((1.0 - self.nugget) * np.exp(-apart / self.range_km))


@dataclass(frozen=True, slots=True)
class Climates:
    """The climates of the stations that a model was fitted on, as a normal distribution.

    Parameters
    ----------
    mean : (k,) array
        Of what `climate_of` returns.
    precision : (k, k) array
        Inverse of its covariance.
    usual : float
        Squared Mahalanobis distance within which nineteen stations in twenty lie.
    """

    mean: Floats
    precision: Floats
    usual: float

    @classmethod
    def of(cls, stations: Floats) -> Climates:
        """Return the distribution of (s, k) stations."""
        mean = stations.mean(axis=0)
        precision = np.linalg.inv(np.atleast_2d(np.cov(stations.T)))
        apart = ((stations - mean) @ precision * (stations - mean)).sum(axis=1)
        return cls(mean, precision, float(np.quantile(apart, 0.95)))

    def strangeness(self, climate: Climate) -> float:
        """Return how far a climate lies outside, as a factor on variance, 1 inside.

        The variance of a linear prediction grows with the squared Mahalanobis distance of the
        place from those fitted (the leverage of Draper & Smith 1998, Applied Regression Analysis,
        §8.1; section from memory).
        """
        off = climate_of(climate)[: self.mean.size] - self.mean
        return max(1.0, float(off @ self.precision @ off) / self.usual)


def climate_of(climate: Climate) -> Floats:
    """Return yearly mean and amplitude of the air, °C, mean clearness and dryness, (4,) array."""
    amplitude = float(np.hypot(climate.mean_c[1], climate.mean_c[2]))
    return np.array([climate.mean_c[0], amplitude, climate.clearness[0], climate.dryness])


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilModel:
    """Everything fitted for one kind of air record.

    Parameters
    ----------
    weights : mapping of str to float
        Weight of each forcing term (`forecaster.soil.forcing.forcing_terms`).
    diffusivity_m2_s, exchange_length_m : float
        Of the stations' ground: grass on natural soil.
    residual : ResidualPrior
        What is left over, at 10 cm.
    network : Network
    wandering_depth_m : float
        e-folding depth of the residual's slow and fast parts, m.
    apart_c_per_root_m : float
        Error of a residual carried from one depth to another, °C per √m between them.
    climates : Climates, optional
        Those of the stations.
    """

    weights: Mapping[str, float]
    diffusivity_m2_s: float
    exchange_length_m: float
    residual: ResidualPrior
    network: Network
    wandering_depth_m: float
    apart_c_per_root_m: float
    climates: Climates | None = None

    def apart_c(self, depth_m: Floats | float, other_m: float) -> Floats:
        """Return the standard deviation between the residuals of two depths, °C.

        It grows with the root of the distance: from 5 to 10 cm, 10 to 20 and 5 to 20 it is 0.38,
        0.37 and 0.56 °C at the stations.
        """
        return np.asarray(self.apart_c_per_root_m * np.sqrt(np.abs(np.subtract(depth_m, other_m))))

    def ground(self, depth_m: float) -> Ground:
        """Return the stations' ground at a depth."""
        return Ground(self.diffusivity_m2_s, self.exchange_length_m, depth_m)

    def prior_at(
        self,
        latitude_deg: float,
        longitude_deg: float | None,
        ground: Ground,
        climate: Climate | None = None,
    ) -> ResidualPrior:
        """Return what is left over at a place: kriged where stations are near, wider far off.

        Wider too in a climate that none of the stations has.

        South of the equator the year is turned by half, so that signs keep their season.
        """
        mean, left = self.network.foretell(latitude_deg, longitude_deg)
        if climate is not None and self.climates is not None:
            left *= self.climates.strangeness(climate)
        covariance = left * self.residual.yearly_covariance
        covariance[0, 0] += ground.extra_offset_sd_c**2
        turn = np.ones(1 + 2 * YEARLY_HARMONICS)
        if latitude_deg < 0.0:
            turn[[1, 2, 5, 6]] = -1.0
        shallow = np.exp(-(ground.depth_m - FITTED_DEPTH_M) / self.wandering_depth_m)
        return replace(
            self.residual,
            yearly_mean_c=mean * turn,
            yearly_covariance=covariance * np.outer(turn, turn),
            slow_sd_c=self.residual.slow_sd_c * shallow,
            fast_sd_c=self.residual.fast_sd_c * shallow,
            season_gain=self.residual.season_gain * turn[:3],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Modelled:
    """A record carried down to a depth.

    Parameters
    ----------
    air : DailyAir
        The record with its gaps bridged.
    climate : Climate
    forcing_yearly_c : (5,) array
        Yearly wave of the forcing.
    departure_c : (n,) array
        Forcing less its yearly wave.
    soil_c : (n,) array
        Daily mean at the depth.
    filled_days : int
        Days whose air was bridged.
    """

    air: DailyAir
    climate: Climate
    forcing_yearly_c: Floats
    departure_c: Floats
    soil_c: Floats
    filled_days: int


def total_forcing(
    terms: Mapping[str, Floats], weights: Mapping[str, float], ground: Ground
) -> Floats:
    """Return the weighted sum of the terms, °C; the sun's share scaled by the cover.

    Raises
    ------
    InputError
        If a weight has no term: the record lacks what this model was fitted with.
    """
    missing = sorted(set(weights) - set(terms))
    if missing:
        raise InputError(f"the air record has no {', '.join(missing)}; another model is needed")
    total: Floats = np.zeros(())
    for name, weight in weights.items():
        factor = ground.sun_factor if "sun" in name else 1.0
        total = total + (weight * factor) * terms[name]
    return np.asarray(total)


def model_soil(record: DailyAir, latitude_deg: float, model: SoilModel, ground: Ground) -> Modelled:
    """Return the soil temperature that a daily record drives at a depth, without readings.

    The forcing's yearly wave goes down as a damped sinusoid in closed form, its departures by
    the same response at every other frequency.

    Parameters
    ----------
    record : DailyAir
        (n,) arrays, NaN where unknown.
    latitude_deg : float
        Degrees north.
    model : SoilModel
    ground : Ground
    """
    columns = harmonics(record.day, 2)
    climate = describe(record, latitude_deg, columns)
    air, filled = bridge(record, climate, columns)
    terms = forcing_terms(air, climate, latitude_deg, columns)
    forcing = total_forcing(terms, model.weights, ground)
    usual = _usual_forcing(climate, air, latitude_deg, model, ground)
    yearly = fit_yearly(columns, forcing, FORCING_WAVE_SD_C, WEATHER_SD_C, usual)
    departure = forcing - columns @ yearly
    soil = _carry(columns, yearly, departure, ground)
    return Modelled(
        air=air,
        climate=climate,
        forcing_yearly_c=yearly,
        departure_c=departure,
        soil_c=soil,
        filled_days=filled,
    )


def _usual_forcing(
    climate: Climate, air: DailyAir, latitude_deg: float, model: SoilModel, ground: Ground
) -> Floats:
    """Return the yearly wave of the forcing that usual air makes, °C, (5,) array."""
    year, columns = usual_year(climate, air)
    terms = forcing_terms(year, climate, latitude_deg, columns)
    forcing = total_forcing(terms, model.weights, ground)
    return fit_yearly(columns, forcing, prior_sd=np.inf, noise_sd=1.0)


def at_depth(modelled: Modelled, ground: Ground) -> Floats:
    """Return the same record carried down to another depth, °C, (n,) array."""
    columns = harmonics(modelled.air.day, 2)
    return _carry(columns, modelled.forcing_yearly_c, modelled.departure_c, ground)


def _carry(columns: Floats, yearly: Floats, departure: Floats, ground: Ground) -> Floats:
    heat = (ground.depth_m, ground.diffusivity_m2_s, ground.exchange_length_m)
    return np.asarray(columns @ respond_yearly(yearly, *heat) + respond(departure, *heat))


def chord_km(
    latitude_deg: Floats,
    longitude_deg: Floats,
    other_latitude_deg: Floats,
    other_longitude_deg: Floats,
) -> Floats:
    """Return the length of the chord between every place and every other place, km.

    Parameters
    ----------
    latitude_deg, longitude_deg : (s,) array
    other_latitude_deg, other_longitude_deg : (p,) array

    Returns
    -------
    (s, p) array
    """
    here = _on_sphere(latitude_deg, longitude_deg)
    there = _on_sphere(other_latitude_deg, other_longitude_deg)
    return np.asarray(np.linalg.norm(here[:, None, :] - there[None, :, :], axis=-1))


def _on_sphere(latitude_deg: Floats, longitude_deg: Floats) -> Floats:
    """Return positions in km from the earth's centre, (s, 3)."""
    north, east = np.radians(latitude_deg), np.radians(longitude_deg)
    return EARTH_RADIUS_KM * np.stack(
        [np.cos(north) * np.cos(east), np.cos(north) * np.sin(east), np.sin(north)], axis=1
    )
