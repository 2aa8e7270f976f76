"""Crossday: when the soil will be right to plant, and how sure we are.

Names are loaded when first used, so that ``crossday --help`` stays quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the same names for type checkers, which import nothing
    from forecaster.answers.check import Hindcast as Hindcast
    from forecaster.answers.check import hindcast as hindcast
    from forecaster.answers.crops import Wish as Wish
    from forecaster.answers.crops import crop_windows as crop_windows
    from forecaster.answers.crops import find_crop as find_crop
    from forecaster.answers.crops import known_crops as known_crops
    from forecaster.answers.frost import frost_dates as frost_dates
    from forecaster.answers.window import Threshold as Threshold
    from forecaster.answers.window import find_windows as find_windows
    from forecaster.answers.window import known_thresholds as known_thresholds
    from forecaster.forecast.ensemble import Crossing as Crossing
    from forecaster.forecast.ensemble import SoilForecast as SoilForecast
    from forecaster.forecast.soil import estimate_soil as estimate_soil
    from forecaster.forecast.soil import forecast_soil as forecast_soil
    from forecaster.ground.errors import ForecasterError as ForecasterError
    from forecaster.ground.errors import InputError as InputError
    from forecaster.ground.site import Site as Site
    from forecaster.ingest import account_of as account_of
    from forecaster.ingest import read_air as read_air
    from forecaster.ingest import read_readings as read_readings
    from forecaster.packaged import data_path as data_path

    __version__: str

_HOME = {
    "Crossing": "forecaster.forecast.ensemble",
    "ForecasterError": "forecaster.ground.errors",
    "Hindcast": "forecaster.answers.check",
    "InputError": "forecaster.ground.errors",
    "Site": "forecaster.ground.site",
    "SoilForecast": "forecaster.forecast.ensemble",
    "Threshold": "forecaster.answers.window",
    "Wish": "forecaster.answers.crops",
    "account_of": "forecaster.ingest",
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

__all__ = ["__version__", *_HOME]  # noqa: PLE0604 - the table's keys are text

if not TYPE_CHECKING:

    def __getattr__(name: str) -> object:
        """Import a public name from its home when it is first asked for (PEP 562)."""
        if name == "__version__":
            return import_module("importlib.metadata").version("crossday")
        if name not in _HOME:
            raise AttributeError(f"module 'forecaster' has no attribute {name!r}")
        return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    """List the public names."""
    return list(__all__)
