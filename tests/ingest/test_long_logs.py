"""A long log is read whole and exactly; how fast is measured by scripts/bench."""

import numpy as np
import pandas as pd
import pytest

from forecaster.ingest import account_of, read_readings

ROWS = 300_000


@pytest.mark.slow
@pytest.mark.parametrize("style", ["%Y-%m-%d %H:%M:%S", "%m/%d/%Y %I:%M:%S %p", "%d.%m.%Y %H:%M"])
def test_each_of_300_000_rows_is_read(tmp_path, style):
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
