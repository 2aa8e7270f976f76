"""The window benchmark's own arithmetic, by hand, and one station from end to end."""

import sys
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
try:
    import benchmark_windows as bench
finally:
    sys.path.remove(str(ROOT / "scripts"))


def row(first, last, season="spring"):
    return SimpleNamespace(first=first, last=last, season=season)


def test_a_row_by_hand():
    ours = bench.Days(date(2023, 4, 1), date(2023, 4, 30))
    found = bench.against(ours, row("04-11", "05-20"))
    assert (found["opening"], found["closing"]) == (-10, -20)
    assert found["inside"]  # the middle is 30 April
    assert found["overlap"] == pytest.approx(20 / 50)
    assert not bench.against(ours, row("05-01", "05-31"))["inside"]  # 16 May is past the grace


def test_a_window_over_the_new_year_and_one_that_needs_no_end():
    ours = bench.Days(date(2022, 9, 20), None)
    found = bench.against(ours, row("09-01", "02-28", "autumn"))
    assert found["opening"] == 19
    assert "closing" not in found
    assert found["inside"]
    assert found["overlap"] == pytest.approx(61 / 181)
    none = bench.against(bench.Days(None, None), row("04-11", "05-20"))
    assert none == {"inside": False, "overlap": 0.0}


def test_one_station_from_end_to_end(make_air, tmp_path):
    air = make_air(days=8 * 365, start="2015-06-01")
    air.rename_axis("date").to_csv(tmp_path / "A.csv")
    (tmp_path / "stations.csv").write_text("station,lat,lon\nA,45.0,-95.0\n", encoding="utf-8")
    printed = pd.DataFrame(
        [("A", "tomato", "transplant", "spring", "05-01", "05-31"),
         ("B", "pea", "seed", "spring", "04-01", None)],
        columns=["station", "crop", "use", "season", "first", "last"],
    )  # fmt: skip
    rows = bench.score(printed, tmp_path, members=20)
    assert rows["crop"].tolist() == ["tomato"]  # B has no record
    table = bench.summary(rows)
    assert table.index.tolist() == ["spring warm food", "all"]
    assert table.loc["all", "rows"] == 1.0
