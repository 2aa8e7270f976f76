"""The reading that decides: the soil of today from which on it is sure that it has settled."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from forecaster.answers.window.worth import soil_that_decides
from forecaster.forecast.ensemble import Crossing

NOW = np.datetime64("2026-10-05", "D")
SOIL = np.random.default_rng(3).permutation(np.linspace(15.0, 21.0, 400))


def decides(settled, direction, soil=SOIL):
    """The answer where so many members have settled before today, the others a week from now."""
    forecast = SimpleNamespace(
        dates=pd.DatetimeIndex(["2026-10-04", "2026-10-05", "2026-10-06"]),
        soil_c=np.column_stack([soil + 9.0, soil, soil - 9.0]),
    )
    crossing = Crossing(np.where(settled, NOW - 3, NOW + 7))
    return soil_that_decides(crossing, forecast, NOW, direction=direction, sure=0.8)


def test_it_is_where_four_in_five_members_of_that_soil_have_settled():
    """Settled below 17 °C: of forty in a row 32 are below it where the middle is 12 from there."""
    step = 6.0 / 399.0
    assert decides(SOIL < 17.0, "falling") == pytest.approx(17.0 - 12 * step, abs=2 * step)
    assert decides(SOIL > 19.0, "rising") == pytest.approx(19.0 + 12 * step, abs=2 * step)


def test_none_where_the_soil_of_today_tells_nothing():
    even = np.arange(400) % 2 == 0
    assert decides(even, "falling") is None
    assert decides(SOIL > 18.0, "falling") is None, "the wrong way round is no rule"
