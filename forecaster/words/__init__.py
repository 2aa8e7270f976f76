"""What the tool says: results → plain words and JSON. °F and inches live at this edge."""

from __future__ import annotations

from forecaster.words.account import account_words
from forecaster.words.as_json import account_json, to_json
from forecaster.words.check import Checked, checked_json, checked_text
from forecaster.words.page import CAUTIONS, Told, place_words, tell, told_json, told_text
from forecaster.words.window import lead, window_words

__all__ = [
    "CAUTIONS",
    "Checked",
    "Told",
    "account_json",
    "account_words",
    "checked_json",
    "checked_text",
    "lead",
    "place_words",
    "tell",
    "to_json",
    "told_json",
    "told_text",
    "window_words",
]
