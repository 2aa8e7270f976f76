"""Units by evidence: taken only where the other scales make a place that does not exist."""

import numpy as np
import pytest

from forecaster.ground.errors import FileError, InputError
from forecaster.ingest.checks.scale import air_unit, option, soil_unit

NOTHING = np.array([np.nan])


def year(high, low):
    return np.linspace(high - 30, high, 365), np.linspace(low, low + 30, 365)


@pytest.mark.parametrize(
    ("high", "low", "days", "tenths", "unit"),
    [
        (*year(35.0, -10.0), 365, False, "C"),
        (*year(95.0, 10.0), 365, False, "F"),
        (*year(308.0, 263.0), 365, False, "K"),
        (*year(52.0, 5.0), 365, False, None),  # the hottest desert, or a cold coast
        (*year(35.0, -10.0), 100, False, None),
        (np.arange(100.0, 300.0), np.arange(0.0, 200.0), 200, True, "T"),
        (np.arange(10.0, 40.0), np.arange(0.0, 30.0), 30, True, None),
        (NOTHING, NOTHING, 0, False, None),
        (np.linspace(60, 95, 365), NOTHING, 365, False, "F"),
    ],
)
def test_air(high, low, days, tenths, unit):
    if unit is None:
        with pytest.raises(FileError, match="--units F"):
            air_unit("x", high, low, days, tenths=tenths)
    else:
        assert air_unit("x", high, low, days, tenths=tenths)[0] == unit


@pytest.mark.parametrize(
    ("values", "unit"),
    [
        ([52, 55, 61], "F"),
        ([35, 50, 80, 30, 72], "F"),
        ([10, 12, 15], "C"),
        ([285, 290, 300], "K"),
        ([np.nan], "C"),
        ([33, 34, 36], None),
    ],
)
def test_soil(values, unit):
    if unit is None:
        with pytest.raises(FileError, match="--units F"):
            soil_unit("x", np.array(values, dtype=float))
    else:
        assert soil_unit("x", np.array(values, dtype=float))[0] == unit


def test_spellings_of_the_option():
    assert option(None) is None
    spelled = ("f", "°F", "Fahrenheit", "degF", "C", "celsius", "K", "tenths")
    assert [option(s) for s in spelled] == ["F", "F", "F", "F", "C", "C", "K", "T"]
    with pytest.raises(InputError, match="expected F, C or K"):
        option("warm")
