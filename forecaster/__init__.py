"""Crossday: when the soil will be right to plant, and how sure we are.

Names are loaded when first used, so that ``crossday --help`` stays quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOME = {
    "Crossing": "forecaster.forecast.ensemble",
    "ForecasterError": "forecaster.errors",
    "Hindcast": "forecaster.answers.check",
    "InputError": "forecaster.errors",
    "Site": "forecaster.site",
    "SoilForecast": "forecaster.forecast.ensemble",
    "crop_windows": "forecaster.answers.crops",
    "data_path": "forecaster.packaged",
    "estimate_soil": "forecaster.forecast.soil",
    "find_crop": "forecaster.answers.crops",
    "find_windows": "forecaster.answers.window",
    "forecast_soil": "forecaster.forecast.soil",
    "frost_dates": "forecaster.answers.frost",
    "hindcast": "forecaster.answers.check",
    "known_crops": "forecaster.answers.crops",
    "known_thresholds": "forecaster.answers.window",
    "read_air": "forecaster.ingest",
    "read_readings": "forecaster.ingest",
}

__all__ = list(_HOME)


def __getattr__(name: str) -> Any:
    """Import a public name from its home when it is first asked for (PEP 562)."""
    if name not in _HOME:
        raise AttributeError(f"module 'forecaster' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    """List the public names."""
    return __all__
