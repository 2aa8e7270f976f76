"""Arrays by what they hold, for signatures; their shapes stand in the docstrings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Days = NDArray[np.datetime64]
"""Days without a time zone, datetime64[D]."""
