"""Frost dates from a record, against the winters that came after it."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from forecaster.answers.frost import frost_dates

FIRST_YEAR, LAST_YEAR = 2017, 2024


@pytest.fixture(scope="module")
def later(shared_data):
    """For each chance, whether the next last freeze came later than its date."""
    found: dict[str, list[bool]] = {"chance_10": [], "chance_50": [], "chance_90": []}
    for path in sorted((shared_data / "uscrn_daily").glob("*.csv.gz"))[::4]:
        table = pd.read_csv(path, parse_dates=[0], index_col=0)
        air = table[["tmin_c", "tmax_c"]].asfreq("D")
        for year in range(FIRST_YEAR, LAST_YEAR):
            spring = air["tmin_c"].loc[f"{year}-01-20" : f"{year}-07-20"]
            if air.index[0] > pd.Timestamp(2011, 1, 1) or spring.notna().sum() < 170:
                continue
            freeze = next(
                level
                for level in frost_dates(air, today=date(year, 1, 20))
                if level.name == "freeze"
            )
            cold = spring.index[(spring <= 0.0).to_numpy()]
            last = cold[-1].date() if len(cold) else date(year, 1, 20)
            for name, seen in found.items():
                if (day := getattr(freeze.last, name)) is not None:
                    seen.append(last > day)
    return found


@pytest.mark.parametrize(("name", "chance"), [("chance_10", 0.1), ("chance_50", 0.5)])
def test_last_freezes_come_later_as_often_as_said(later, name, chance):
    """Years of one winter are alike at many stations: about 20 count, so the bound is 2 sd."""
    assert len(later[name]) > 60
    assert np.mean(later[name]) == pytest.approx(
        chance, abs=2 * np.sqrt(chance * (1 - chance) / 20)
    )


def test_the_nine_in_ten_date_is_mostly_passed(later):
    assert np.mean(later["chance_90"]) > 0.75
