"""Reading a long log beside `pandas.read_csv` alone on the same file, in one run."""

import time

import numpy as np
import pandas as pd
import pytest

from forecaster.ingest import account_of, read_readings

ROWS = 300_000


def quickest(call, times=3):
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return best


@pytest.mark.slow
@pytest.mark.parametrize("style", ["%Y-%m-%d %H:%M:%S", "%m/%d/%Y %I:%M:%S %p", "%d.%m.%Y %H:%M"])
def test_300_000_rows_take_at_most_three_times_as_long(tmp_path, style):
    times = pd.date_range("2016-03-01", periods=ROWS, freq="15min")
    noise = np.random.default_rng(1).normal(0, 1, ROWS)
    value = np.round(12 + 10 * np.sin(np.arange(ROWS) / 5577) + noise, 2)
    path = tmp_path / "log.csv"
    frame = pd.DataFrame({"timestamp": times.strftime(style), "soil 10 cm (°C)": value})
    frame.to_csv(path, index=False)
    found = read_readings(path)
    assert len(found) == account_of(found).rows_read == ROWS
    np.testing.assert_array_equal(found["time"], times)
    np.testing.assert_array_equal(found["temp_c"], value)
    ratio = quickest(lambda: read_readings(path)) / quickest(lambda: pd.read_csv(path))
    assert ratio <= 3.0
