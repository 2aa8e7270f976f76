"""Dates of the answer from days of the arrays."""

from __future__ import annotations

from datetime import date

import numpy as np


def date_of(day: np.datetime64) -> date:
    """Return a day as a date."""
    found = day.astype("datetime64[D]").item()
    assert isinstance(found, date)  # noqa: S101 - for the type checker
    return found


def date_or_none(day: np.datetime64) -> date | None:
    """Return a day as a date, None for never."""
    return None if np.isnat(day) else date_of(day)
