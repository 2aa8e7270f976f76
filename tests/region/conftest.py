"""Places of an invented region: a folder of station files with a table of places."""

from datetime import date
from pathlib import Path

import pytest

from forecaster.answers.window import Threshold
from forecaster.region import Question

COOL = Threshold(name="cool", label="Cool-season flats", threshold_c=18.0, direction="falling")
NAMES = ("ash", "birch", "cedar", "elm", "fir")
ISSUED = date(2025, 9, 1)


@pytest.fixture(scope="session")
def question() -> Question:
    return Question(thresholds=(COOL,), now=ISSUED, today=ISSUED, by=date(2025, 10, 10))


@pytest.fixture
def folder(tmp_path, make_air) -> Path:
    """Five stations, the third of which is rubbish, and one whose file is not there."""
    made = tmp_path / "stations"
    made.mkdir()
    lines = ["name,file,latitude,longitude,depth,soil,region"]
    for k, name in enumerate(NAMES):
        air = make_air(2500, "2018-11-01", seed=k, mean_c=10.0 + k, swing_c=12.0)
        air.round(1).to_csv(made / f"{name}.csv")
        side = "west" if k < 2 else "east"
        lines.append(f"{name},{name}.csv,{38 + k},{-100 + 3 * k},{4 + k % 2}in,loam,{side}")
    (made / "cedar.csv").write_text("this is\nno record of air\n", encoding="utf-8")
    lines.append("gone,gone.csv,40,-99,,,east")
    (made / "places.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return made
