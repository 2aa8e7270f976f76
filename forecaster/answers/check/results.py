"""What a hindcast found: one row a forecast, one cell a threshold and lead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Literal

import numpy as np
import pandas as pd

from forecaster.answers.window import Threshold
from forecaster.chance.scores import brier
from forecaster.chance.summary import ReliabilityBin, reliability, skill, skill_interval

TruthKind = Literal["readings", "model"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One forecast of a past season and what came true.

    Parameters
    ----------
    threshold : str
        Its short name.
    year : int
        Year in which the season starts.
    lead_days : int
        Days from the day of issue to the usual date.
    issued, usual : date
        Day of issue, and the median date of the other seasons.
    settled : date or None
        What came true; None for never.
    early, median, late : date or None
        10, 50 and 90 % of the members; None where that share never settles.
    never : float
        Probability of never that was given.
    crps_days, climatology_crps_days : float
        Score of the members, and of the other seasons' dates as members; days. Never counts
        as the season's last day.
    miss_days : float
        Median less truth, days: positive if the forecast was late.
    inside : bool
        Whether the truth lay within early to late.
    width_days : float
        From early to late.
    checks : tuple of (date, float, bool)
        Days fixed beforehand: the probability given of having settled by then, and whether.
    """

    threshold: str
    year: int
    lead_days: int
    issued: date
    usual: date
    settled: date | None
    early: date | None
    median: date | None
    late: date | None
    never: float
    crps_days: float
    climatology_crps_days: float
    miss_days: float
    inside: bool
    width_days: float
    checks: tuple[tuple[date, float, bool], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """Scores of one threshold at one lead.

    Parameters
    ----------
    threshold : str
    lead_days : int
    n : int
        Seasons.
    mae_days, bias_days : float
        Mean size, and mean, of median less truth, days.
    inside : int
        Seasons whose truth lay in the 80 % window.
    width_days : float
        Mean width of that window.
    crps_days, climatology_crps_days : float
        Mean scores, days; lower is better.
    skill, skill_low, skill_high : float
        1 − ratio of the two, with the middle 80 % of a bootstrap by year.
    brier : float
        Of the probabilities at days fixed beforehand; NaN if there are none.
    """

    threshold: str
    lead_days: int
    n: int
    mae_days: float
    bias_days: float
    inside: int
    width_days: float
    crps_days: float
    climatology_crps_days: float
    skill: float
    skill_low: float
    skill_high: float
    brier: float

    @property
    def coverage(self) -> float:
        """Share of seasons whose truth lay in the 80 % window."""
        return self.inside / self.n


@dataclass(frozen=True, slots=True, kw_only=True)
class Hindcast:
    """Forecasts of past seasons, scored: dates as settled dates, scores in days.

    Parameters
    ----------
    thresholds : tuple of Threshold
        Those that could be checked.
    rows : tuple of Row
    cells : tuple of Cell
        By threshold, then lead.
    truth : {"readings", "model"}
        Where the true dates come from: the user's own daily soil readings; or the model driven
        by observed air, and then only the weather part of the forecast is checked.
    members : int
        Draws of each forecast.
    complete : bool
        False if it was stopped before the end.
    notes : tuple of str
        What the reader should know, a sentence each.
    """

    thresholds: tuple[Threshold, ...]
    rows: tuple[Row, ...]
    cells: tuple[Cell, ...]
    truth: TruthKind
    members: int
    complete: bool
    notes: tuple[str, ...]

    def reliability(self, lead_days: int | None = None) -> tuple[ReliabilityBin, ...]:
        """Return how often seasons had settled by days that were given a probability.

        All thresholds together, of one lead or of all.
        """
        checks = [
            (chance, came)
            for row in self.rows
            if lead_days in (None, row.lead_days)
            for _, chance, came in row.checks
        ]
        if not checks:
            return ()
        given, came = zip(*checks, strict=True)
        return reliability(given, came)

    def to_frame(self) -> pd.DataFrame:
        """Return the rows as a table, without the checks."""
        rows = [asdict(row) for row in self.rows]
        return pd.DataFrame(rows).drop(columns="checks", errors="ignore")


def cells_of(
    rows: Sequence[Row], thresholds: Sequence[Threshold], random: np.random.Generator
) -> tuple[Cell, ...]:
    """Return the scores by threshold and lead; cells without a row are left out."""
    found = []
    for threshold in thresholds:
        for lead in sorted({row.lead_days for row in rows}):
            some = [r for r in rows if r.threshold == threshold.name and r.lead_days == lead]
            if some:
                found.append(_cell(threshold.name, lead, some, random))
    return tuple(found)


def _cell(name: str, lead: int, rows: Sequence[Row], random: np.random.Generator) -> Cell:
    miss = np.array([row.miss_days for row in rows])
    crps = np.array([row.crps_days for row in rows])
    usual = np.array([row.climatology_crps_days for row in rows])
    low, high = skill_interval(crps, usual, [row.year for row in rows], random)
    checks = [(chance, came) for row in rows for _, chance, came in row.checks]
    return Cell(
        threshold=name,
        lead_days=lead,
        n=len(rows),
        mae_days=float(np.abs(miss).mean()),
        bias_days=float(miss.mean()),
        inside=sum(row.inside for row in rows),
        width_days=float(np.mean([row.width_days for row in rows])),
        crps_days=float(crps.mean()),
        climatology_crps_days=float(usual.mean()),
        skill=skill(crps, usual),
        skill_low=low,
        skill_high=high,
        brier=float(brier(*np.array(checks, dtype=float).T).mean()) if checks else float("nan"),
    )
