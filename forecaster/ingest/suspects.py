"""Values that look wrong though they are possible: jumps and stuck sensors."""

from __future__ import annotations

import numpy as np
import pandas as pd

from forecaster.ingest.account import Suspect
from forecaster.ingest.shapes import Ints


def stretches(days: Ints, step: int = 1) -> list[tuple[int, int]]:
    """Return (first, last) positions of runs whose values follow one another by `step`."""
    if not len(days):
        return []
    ends = np.flatnonzero(np.diff(days) > step)
    firsts = np.concatenate([[0], ends + 1])
    lasts = np.concatenate([ends, [len(days) - 1]])
    return [(int(a), int(b)) for a, b in zip(firsts, lasts, strict=True)]


def dates_text(first: int | np.int64, last: int | np.int64) -> tuple[str, str]:
    """Return two ISO dates from days since 1970."""
    return str(np.datetime64(int(first), "D")), str(np.datetime64(int(last), "D"))


def gaps(frame: pd.DataFrame) -> tuple[int, str]:
    """Count days without a mean or both extremes, and name the longest stretch of them."""
    both = frame["tmin_c"].notna().to_numpy() & frame["tmax_c"].notna().to_numpy()
    if "tavg_c" in frame:
        both |= frame["tavg_c"].notna().to_numpy()
    empty = np.flatnonzero(~both)
    if not len(empty):
        return 0, ""
    first, last = max(stretches(empty), key=lambda s: s[1] - s[0])
    start, end = (frame.index[empty[k]].date().isoformat() for k in (first, last))
    days = last - first + 1
    return len(empty), f"{days} day{'s' if days > 1 else ''}, {start} to {end}"


def air_suspects(frame: pd.DataFrame) -> list[Suspect]:
    """Find jumps and stuck values in a daily air record; all are kept."""
    return []


def reading_suspects(order, time, depth, value, daily):  # type: ignore
    return [], np.zeros(0, dtype=np.int64)
