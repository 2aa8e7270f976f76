"""The same answer for a program: ISO dates, SI numbers with the unit in the key, °F beside."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from forecaster.answers.window import Outlook, SoFar, Typical, Window, Worth
from forecaster.ground.units import c_to_f, c_to_f_difference
from forecaster.ingest.account import Account

DECIMALS = 4
SCHEMA = 1
"""Number of the answers' form; it grows when a key goes or changes its meaning."""


def json_text(answer: Mapping[str, Any]) -> str:
    """Return an answer as `--json` prints it; ``data/schemas`` describes each command's form."""
    told = {"schema": SCHEMA, **answer}
    return json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False)


def to_json(window: Window) -> dict[str, Any]:
    """Return one window as JSON's own types; what is not known is null."""
    threshold = window.threshold
    return {
        "threshold": {
            "name": threshold.name,
            "label": threshold.label,
            "direction": threshold.direction,
            **_temperature("threshold", threshold.threshold_c),
            "basis": threshold.basis,
            "source": threshold.source,
        },
        "season_start": _day(window.season_start),
        "season_end": _day(window.season_end),
        "verdict": window.verdict,
        "reason": window.reason,
        "outlook": _outlook(window.outlook),
        "typical": _typical(window.typical),
        "so_far": _so_far(window.so_far),
        "next_reading": None if window.worth is None else _worth(window.worth),
    }


def _outlook(outlook: Outlook) -> dict[str, Any]:
    return {
        "settled_median": _day(outlook.median),
        "settled_early_10": _day(outlook.early),
        "settled_late_90": _day(outlook.late),
        "never_probability": rounded(outlook.never),
        "first_touch_median": _day(outlook.first_touch),
        "last_touch_median": _day(outlook.last_touch),
        "thermometer_settles": [
            {"hour_standard_time": rounded(one.hour), "median": _day(one.median)}
            for one in outlook.shown
        ],
        "settled_by": [
            {"date": _day(day), "probability": rounded(chance)} for day, chance in outlook.by_week
        ],
        "settled_on": [
            {"date": _day(day), "probability": rounded(share)}
            for day, share in zip(outlook.day, outlook.share, strict=True)
            if share > 0.0
        ],
    }


def _typical(typical: Typical) -> dict[str, Any]:
    return {
        "settled_median": _day(typical.median),
        "settled_early_10": _day(typical.early),
        "settled_late_90": _day(typical.late),
        "seasons": [{"year": year, "settled": _day(settled)} for year, settled in typical.dates],
        "never_years": list(typical.never_years),
        "already_years": list(typical.already_years),
        "ground_days": rounded(typical.ground_days),
    }


def _so_far(so_far: SoFar) -> dict[str, Any]:
    return {
        "last_day": _day(so_far.last_day),
        **_temperature("soil", so_far.soil_c),
        "sd_c": rounded(so_far.sd_c),
        "sd_f": rounded(c_to_f_difference(so_far.sd_c)),
        "trend_c_per_week": rounded(so_far.trend_c_per_week),
        "trend_f_per_week": rounded(c_to_f_difference(so_far.trend_c_per_week)),
        "first_touch": _day(so_far.first_touch),
        "past_touches": so_far.touches,
        "past_touches_that_came_back": so_far.came_back,
        "settled_probability": rounded(so_far.settled_chance),
        "stale_days": so_far.stale_days,
        "go_c": rounded(so_far.go_c),
    }


def _worth(worth: Worth) -> dict[str, Any]:
    return {
        "width_now_days": rounded(worth.now_days),
        "width_after_one_today_days": rounded(worth.one_today_days),
        "width_after_four_weekly_days": rounded(worth.weekly_days),
        "best_hour_standard_time": rounded(worth.best_hour),
        "best_depth_m": rounded(worth.best_depth_m),
    }


def account_json(account: Account) -> dict[str, Any]:
    """Return the account of one file as JSON's own types."""
    return {
        **asdict(account),
        "latitude_deg": rounded(account.latitude_deg),
        "longitude_deg": rounded(account.longitude_deg),
    }


def _temperature(name: str, temp_c: float) -> dict[str, float | None]:
    return {f"{name}_c": rounded(temp_c), f"{name}_f": rounded(c_to_f(temp_c))}


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def rounded(value: float | None) -> float | None:
    """Return a number for JSON; what is not known is null."""
    return None if value is None or not math.isfinite(value) else round(float(value), DECIMALS)
