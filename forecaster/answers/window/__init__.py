"""The planting window: typical, this season so far, and what will happen, for each threshold."""

from forecaster.answers.window.find import THRESHOLDS, find_windows, known_thresholds, windows_in
from forecaster.answers.window.results import (
    Outlook,
    Shown,
    SoFar,
    Threshold,
    Typical,
    Verdict,
    Window,
    WindowAnswer,
    Worth,
)

__all__ = [
    "THRESHOLDS",
    "Outlook",
    "Shown",
    "SoFar",
    "Threshold",
    "Typical",
    "Verdict",
    "Window",
    "WindowAnswer",
    "Worth",
    "find_windows",
    "known_thresholds",
    "windows_in",
]
