"""Crops: what is known of each, when it can be planted here, and the frosts of the record."""

from forecaster.crops.find import Wish, crop_windows
from forecaster.crops.frost import frost_dates
from forecaster.crops.results import CropAnswer, CropWindow, FrostChance, FrostDates, Span
from forecaster.crops.table import Default, defaults, find_crop, hardiness_classes, known_crops
from forecaster.rules.crops import Crop, CropThreshold, Figure, Hardiness

__all__ = [
    "Crop",
    "CropAnswer",
    "CropThreshold",
    "CropWindow",
    "Default",
    "Figure",
    "FrostChance",
    "FrostDates",
    "Hardiness",
    "Span",
    "Wish",
    "crop_windows",
    "defaults",
    "find_crop",
    "frost_dates",
    "hardiness_classes",
    "known_crops",
]
