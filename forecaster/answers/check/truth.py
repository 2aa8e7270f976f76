"""What came true in past seasons: from the user's own soil record, or else from the model."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecaster.answers.check.results import TruthKind
from forecaster.answers.window import Threshold
from forecaster.forecast.understand import Place, doubts_of, readings_as_arrays, understand
from forecaster.ground.arrays import Floats
from forecaster.ground.errors import NotEnoughData
from forecaster.ground.site import Site
from forecaster.rules.past import LEAST_SEASONS, PastSeason, past_seasons
from forecaster.rules.season import season_of
from forecaster.soil.model import SoilModel
from forecaster.soil.residual import YEARLY_HARMONICS
from forecaster.soil.season import fit_yearly, harmonics

SAME_DEPTH_M = 0.025  # a thermometer this close to the depth asked about speaks for it
SPIN_UP_DAYS = 30  # of a record, before the model's soil can be trusted


@dataclass(frozen=True, slots=True)
class Truth:
    """Settled dates of past seasons.

    Parameters
    ----------
    kind : {"readings", "model"}
    place : Place
        The whole record understood.
    seasons : mapping of str to list of PastSeason
        By the threshold's name; thresholds that cannot be checked are left out.
    notes : tuple of str
        Why a threshold is left out.
    """

    kind: TruthKind
    place: Place
    seasons: Mapping[str, list[PastSeason]]
    notes: tuple[str, ...]


def what_came_true(
    air: pd.DataFrame,
    site: Site,
    readings: pd.DataFrame | None,
    thresholds: Sequence[Threshold],
    model: SoilModel | None = None,
) -> Truth:
    """Return the settled dates of past seasons.

    They come from daily soil readings within 2.5 cm of the depth where those cover five
    seasons, nine days in ten and no gap above five days; otherwise from the model driven by
    the observed air.

    Raises
    ------
    NotEnoughData
        If no threshold has five past seasons in which the soil crosses it as a rule.
    """
    place = understand(air, site, readings, model)
    doubts = doubts_of(place)
    measured = _measured(readings, site, place)
    for kind, soil in (("readings", measured), ("model", place.soil_c)):
        if soil is None:
            continue
        seasons, notes = _seasons(place, soil, thresholds, modelled=kind == "model")
        if seasons:
            return Truth(
                "readings" if kind == "readings" else "model", place, seasons, (*doubts, *notes)
            )
    raise NotEnoughData(f"nothing to check: {' '.join(notes)}")


def _measured(readings: pd.DataFrame | None, site: Site, place: Place) -> Floats | None:
    """Return daily means read at the depth, by day of the record, NaN where not; None if none."""
    arrays = readings_as_arrays(readings, site, place.modelled)
    if arrays is None:
        return None
    apart = np.abs(arrays.depth_m - site.depth_m)
    use = arrays.whole_day & (apart <= SAME_DEPTH_M)
    if not use.any():
        return None
    use &= apart <= apart[use].min() + 1e-6
    at = arrays.day[use] - place.day[0]
    count = np.bincount(at, minlength=place.day.size)
    total = np.bincount(at, arrays.temp_c[use], place.day.size)
    soil = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    soil[place.evidence.day[place.outlier] - place.day[0]] = np.nan
    return soil


def _seasons(
    place: Place, soil: Floats, thresholds: Sequence[Threshold], *, modelled: bool
) -> tuple[dict[str, list[PastSeason]], tuple[str, ...]]:
    """Return past seasons by threshold, and why thresholds are left out.

    The season's first and last day in the calendar come from the model without readings, so
    that no later reading moves a question asked earlier.
    """
    before = harmonics(place.day, YEARLY_HARMONICS) @ place.prior.yearly_mean_c
    yearly = fit_yearly(
        harmonics(place.day), place.modelled.soil_c + before, prior_sd=10.0, noise_sd=10.0
    )
    skip = SPIN_UP_DAYS if modelled else 0
    found, notes = {}, []
    for threshold in thresholds:
        season = season_of(yearly, threshold.direction)
        past = past_seasons(
            place.day[skip:], soil[skip:], season, threshold.threshold_c, threshold.direction
        )
        why = _why_not(past)
        if why:
            notes.append(f"{threshold.label} cannot be checked: {why}.")
        else:
            found[threshold.name] = past
    return found, tuple(notes)


def _why_not(past: Sequence[PastSeason]) -> str:
    """Say why seasons cannot be scored; empty if they can."""
    if len(past) < LEAST_SEASONS:
        return f"{len(past)} past seasons are known whole, {LEAST_SEASONS} are needed"
    usual = float(np.median([one.censored for one in past]))
    if usual <= 0.0:
        return "the soil is usually past the threshold when the season begins"
    if usual >= past[0].days:
        return "the soil usually never gets there"
    return ""
