"""The answer about crops, and what is known of one, as JSON's own types."""

from __future__ import annotations

import math
from typing import Any

from forecaster.answers.crops import CropWindow, Span
from forecaster.answers.frost import FrostChance, FrostDates
from forecaster.ground.units import c_to_f
from forecaster.rules.crops import Crop, CropThreshold, Figure
from forecaster.words.as_json import account_json, rounded
from forecaster.words.crops import CROP_CAUTIONS, CropTold, chances_of


def crops_json(told: CropTold) -> dict[str, Any]:
    """Return the answer about crops as JSON's own types; what is not known is null."""
    site, answer = told.site, told.answer
    return {
        "place": told.title,
        "today": answer.today.isoformat(),
        "site": {
            "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg,
            "depth_m": round(site.depth_m, 4),
            "soil": site.soil,
            "cover": site.cover,
        },
        "crops": [window_json(window) for window in answer.windows],
        "frost": [_frost_json(level) for level in answer.frost],
        "past_years": answer.years,
        "check_first": answer.unsure or None,
        "stale_days": answer.stale_days,
        "notes": [*told.notes, *answer.notes],
        "read": {name.lower(): account_json(account) for name, account in told.accounts.items()},
        "cautions": list(CROP_CAUTIONS),
    }


def window_json(window: CropWindow) -> dict[str, Any]:
    """Return one crop's window as JSON's own types."""
    claim = window.hardiness
    return {
        "crop": window.crop.name,
        "crop_class": window.crop.crop_class,
        "season": window.season,
        "use": window.use,
        "season_start": window.season_start.isoformat(),
        "season_end": window.season_end.isoformat(),
        "state": window.state,
        "opens": _span_json(window.opens),
        "best": _span_json(window.best),
        "closes": _span_json(window.closes),
        "possible_until": None
        if window.possible_until is None
        else window.possible_until.isoformat(),
        "open_ended": window.open_ended,
        "threshold": threshold_json(window.threshold.used),
        "other_thresholds": [threshold_json(row) for row in window.threshold.others],
        "limit": None if window.limit is None else threshold_json(window.limit.used),
        "hardiness": None
        if claim is None
        else {"class": claim.hardiness.name, "basis": claim.basis, "source": claim.source},
        **_temperature("damaging", window.damaging_c),
        "accepted_risk": window.accepted_risk,
        "frost_after_probability": _number(window.frost_after),
        "frost_decides_share": _number(window.frost_bound),
        "emergence": None if window.emergence is None else _span_json(window.emergence),
        "sown": None if window.sown is None else window.sown.isoformat(),
        "last_season_closed": None if window.closed_on is None else window.closed_on.isoformat(),
        "assumptions": list(window.assumptions),
    }


def crop_json(crop: Crop) -> dict[str, Any]:
    """Return all that is known of a crop as JSON's own types."""
    table = crop.emergence
    return {
        "crop": crop.name,
        "label": crop.label,
        "also": list(crop.also),
        "crop_class": crop.crop_class,
        "kind": crop.kind,
        "usual_use": crop.usual_use,
        "thresholds": [threshold_json(row) for row in crop.thresholds],
        "hardiness": [
            {"class": claim.hardiness.name, "basis": claim.basis, "source": claim.source}
            for claim in crop.hardiness
        ],
        "weeks_to_set_out": [_figure_json(each) for each in crop.weeks_to_set_out],
        "days_to_maturity": [_figure_json(each) for each in crop.days_to_maturity],
        "spacing_m": [_figure_json(each) for each in crop.spacing_m],
        "sowing_depth_m": [_figure_json(each) for each in crop.sowing_depth_m],
        "emergence": None
        if table is None
        else {
            "days": [
                {
                    **_temperature("soil", temp),
                    "days": _number(days),
                    "tried": not math.isnan(days),
                }
                for temp, days in zip(table.temp_c, table.days, strict=True)
            ],
            "depth_m": table.depth_m,
            "basis": table.basis,
            "source": table.source,
        },
    }


def threshold_json(row: CropThreshold) -> dict[str, Any]:
    """Return a threshold as JSON's own types."""
    return {
        "role": row.role,
        **_temperature("value", row.value_c),
        "use": row.use,
        "season": row.season,
        "depth": row.depth,
        "measured": row.measured,
        "basis": row.basis,
        "source": row.source,
    }


def _frost_json(level: FrostDates) -> dict[str, Any]:
    return {
        "name": level.name,
        **_temperature("threshold", level.threshold_c),
        "bed_offset_c": _number(level.offset_c),
        "last": _chance_json(level.last, "later"),
        "first": _chance_json(level.first, "earlier"),
        "source": level.source,
    }


def _chance_json(chance: FrostChance, way: str) -> dict[str, Any]:
    ten, half, ninety = (None if day is None else day.isoformat() for day in chances_of(chance))
    return {
        f"{way}_10": ten,
        f"{way}_50": half,
        f"{way}_90": ninety,
        "none_share": _number(chance.share_none),
        "winters": chance.winters,
    }


def _span_json(span: Span) -> dict[str, Any]:
    early, median, late = (
        None if day is None else day.isoformat() for day in (span.early, span.median, span.late)
    )
    return {
        "early": early,
        "median": median,
        "late": late,
        "probability": _number(span.probability),
        "reason": span.reason,
    }


def _figure_json(figure: Figure) -> dict[str, Any]:
    return {
        "low": _number(figure.low),
        "high": _number(figure.high),
        "basis": figure.basis,
        "source": figure.source,
    }


def _temperature(name: str, temp_c: float) -> dict[str, float | None]:
    return {f"{name}_c": _number(temp_c), f"{name}_f": _number(c_to_f(temp_c))}


def _number(value: float | None) -> float | None:
    return rounded(value)
