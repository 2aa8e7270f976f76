"""The planting window: typical, this season so far, and what will happen, for each threshold."""

from forecaster.answers.window.find import (
    THRESHOLDS,
    decided,
    find_windows,
    known_thresholds,
    notes_of,
    windows_in,
)
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
    "decided",
    "find_windows",
    "known_thresholds",
    "notes_of",
    "windows_in",
]
