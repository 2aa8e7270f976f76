"""Write what pyet 1.5.0 makes of days on which our sun and evaporation are checked.

pyet keeps pandas below 3, which the package itself does not, so its answers are stored and the
comparison reads them (tests/published/test_sun.py, test_water.py). In an environment of its own:

    python -m venv /tmp/pyet && /tmp/pyet/bin/pip install pyet==1.5.0
    /tmp/pyet/bin/python scripts/make_fao_reference.py tests/published/pyet_1_5_0.csv
"""

import csv
import sys
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd
import pyet

LATITUDES_DEG = (-54.8, -33.9, 0.0, 33.4, 45.7, 64.1)
COLUMNS = (
    "date", "latitude_deg", "tmin_c", "tmax_c", "radiation_mj_m2", "daylight_hours", "hargreaves_mm"
)  # fmt: skip


def rows() -> list[list[object]]:
    """Return a row a day and latitude: every fifth day of a common and a leap year."""
    days = pd.date_range("2015-01-01", "2016-12-31", freq="D")
    random = np.random.default_rng(8)
    tmin = pd.Series(random.uniform(5.0, 18.0, days.size).round(2), days)
    tmax = (tmin + random.uniform(2.0, 18.0, days.size)).round(2)
    found: list[list[object]] = []
    for latitude in LATITUDES_DEG:
        radians = np.radians(latitude)
        radiation = pyet.extraterrestrial_r(days, radians)
        hours = pd.Series(pyet.daylight_hours(days, radians), days)
        demand = pyet.hargreaves((tmin + tmax) / 2.0, tmax, tmin, radians)
        for at in range(0, days.size, 5):
            values = (radiation.iloc[at], hours.iloc[at], demand.iloc[at])
            found.append(
                [days[at].date(), latitude, tmin.iloc[at], tmax.iloc[at]]
                + [f"{float(value):.6f}" for value in values]
            )
    return found


def main() -> None:
    """Write the table to the file named."""
    if version("pyet") != "1.5.0":
        raise SystemExit(f"pyet is {version('pyet')}; expected 1.5.0")
    with Path(sys.argv[1]).open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(rows())


if __name__ == "__main__":
    main()
