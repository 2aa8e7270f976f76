"""Crops: what is known of each, and when it can be planted here."""

from forecaster.answers.crops.find import crop_windows, crop_windows_in, crop_windows_of
from forecaster.answers.crops.results import CropAnswer, CropWindow, Span
from forecaster.answers.crops.table import (
    defaults,
    find_crop,
    hardiness_classes,
    known_crops,
)
from forecaster.answers.crops.wish import Wish
from forecaster.rules.crops import Crop, CropThreshold, Figure, Hardiness

__all__ = [
    "Crop",
    "CropAnswer",
    "CropThreshold",
    "CropWindow",
    "Figure",
    "Hardiness",
    "Span",
    "Wish",
    "crop_windows",
    "crop_windows_in",
    "crop_windows_of",
    "defaults",
    "find_crop",
    "hardiness_classes",
    "known_crops",
]
