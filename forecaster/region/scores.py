"""A region's check summed: how far its forecasts missed, by region, season and lead."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecaster.chance.summary import skill, skill_interval

ALL = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """Scores of a region's forecasts of one kind.

    Parameters
    ----------
    region : str
        As the table of places says, or "all".
    what, season, truth : str
        What was asked, of which season; "readings" where the true dates are of daily soil
        readings, "model" where the weather part alone is checked.
    lead_days : int
    places, n : int
        Places and forecasts.
    mae_days, bias_days, width_days : float
        Mean size and mean of median less truth; mean width of the 80 % window; days.
    coverage : float
        Share of forecasts whose window held the truth.
    crps_days, climatology_crps_days : float
        Mean scores; the second of the place's other seasons.
    skill, skill_low, skill_high : float
        1 − their ratio, and the middle 80 % of a bootstrap that keeps years whole, since
        neighbours share their weather.
    """

    region: str
    what: str
    season: str
    truth: str
    lead_days: int
    places: int
    n: int
    mae_days: float
    bias_days: float
    width_days: float
    coverage: float
    crps_days: float
    climatology_crps_days: float
    skill: float
    skill_low: float
    skill_high: float


def summed(rows: pd.DataFrame) -> list[Score]:
    """Return the scores of all regions together, then of each that has a name.

    Parameters
    ----------
    rows : DataFrame
        As a check's run keeps them; those of places without an answer are left out.
    """
    known = rows[rows["problem"] == ""]
    found = list(_by_kind(ALL, known))
    named = known[known["region"] != ""]
    for region, some in named.groupby("region", sort=True):
        found += _by_kind(str(region), some)
    return found


def _by_kind(region: str, rows: pd.DataFrame) -> Iterator[Score]:
    for _, some in rows.groupby(["what", "season", "truth", "lead_days"], sort=True):
        kind = some.iloc[0]
        ours, usual = (some[f"{name}crps_days"].to_numpy() for name in ("", "climatology_"))
        miss = some["miss_days"].to_numpy()
        low, high = skill_interval(ours, usual, some["year"].to_numpy(), np.random.default_rng(0))
        yield Score(
            region=region,
            what=kind["what"],
            season=kind["season"],
            truth=kind["truth"],
            lead_days=int(kind["lead_days"]),
            places=some["key"].nunique(),
            n=len(some),
            mae_days=float(np.abs(miss).mean()),
            bias_days=float(miss.mean()),
            width_days=float(some["width_days"].mean()),
            coverage=float(some["inside"].astype(float).mean()),
            crps_days=float(ours.mean()),
            climatology_crps_days=float(usual.mean()),
            skill=skill(ours, usual),
            skill_low=low,
            skill_high=high,
        )
