"""The public questions as a program asks them: days in any form, empty lists, tables back."""

from datetime import date, datetime

import numpy as np
import pandas as pd
import pytest

from forecaster import (
    Site,
    Threshold,
    crop_windows,
    find_crop,
    find_windows,
    forecast_soil,
    frost_dates,
    hindcast,
)
from forecaster.forecast.soil import forecast_from
from forecaster.forecast.understand import understand
from forecaster.ground.errors import InputError

SITE = Site(45.0)
TODAY = date(2022, 8, 20)
FORMS = {
    "text": "2022-08-20",
    "time of day": datetime(2022, 8, 20, 9, 30),
    "pandas": pd.Timestamp("2022-08-20"),
    "numpy": np.datetime64("2022-08-20"),
}
COOL = Threshold(name="cool", label="Cool things", threshold_c=18.0, direction="falling")


@pytest.fixture(scope="module")
def air(make_air):
    return make_air()


@pytest.fixture(scope="module")
def windows(air):
    return find_windows(air, SITE, [COOL], today=TODAY)


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS)
class TestADayInAnyForm:
    def test_windows(self, air, form, windows):
        assert find_windows(air, SITE, [COOL], today=form).windows == windows.windows

    def test_crops(self, air, form):
        assert crop_windows(air, SITE, [find_crop("kale")], today=form, members=50) == crop_windows(
            air, SITE, [find_crop("kale")], today=TODAY, members=50
        )

    def test_frost(self, air, form):
        assert frost_dates(air, today=form) == frost_dates(air, today=TODAY)

    def test_forecast(self, air, form):
        asked = {"horizon_days": 5, "members": 3}
        one, other = (forecast_soil(air, SITE, issued=day, **asked) for day in (form, TODAY))
        np.testing.assert_array_equal(one.soil_c, other.soil_c)


@pytest.mark.parametrize(
    "ask",
    [
        lambda air, day: find_windows(air, SITE, [COOL], today=day),
        lambda air, day: crop_windows(air, SITE, [find_crop("kale")], today=day),
        lambda air, day: frost_dates(air, today=day),
        lambda air, day: forecast_soil(air, SITE, issued=day),
    ],
    ids=["windows", "crops", "frost", "forecast"],
)
def test_what_is_no_day_is_refused(air, ask):
    with pytest.raises(InputError, match="'soon' is not a date"):
        ask(air, "soon")


def test_nothing_asked_is_refused(air):
    with pytest.raises(InputError, match="thresholds is empty"):
        find_windows(air, SITE, [], today=TODAY)
    with pytest.raises(InputError, match="crops is empty"):
        crop_windows(air, SITE, [], today=TODAY)
    with pytest.raises(InputError, match="thresholds is empty"):
        hindcast(air, SITE, thresholds=[])


def test_a_forecast_from_a_place_is_the_forecast_of_its_rows(air):
    known = air.loc[: pd.Timestamp(TODAY)]
    asked = {"issued": TODAY, "horizon_days": 9, "members": 4, "seed": 3}
    one = forecast_from(understand(known, SITE), **asked)
    other = forecast_soil(air, SITE, **asked)
    np.testing.assert_array_equal(one.soil_c, other.soil_c)
    np.testing.assert_array_equal(one.tmin_c, other.tmin_c)


def test_a_place_that_knows_the_future_is_refused(air):
    with pytest.raises(InputError, match="expected none after the day of issue, 2022-08-20"):
        forecast_from(understand(air, SITE), issued=TODAY)


def test_a_forecast_as_a_table(air):
    forecast = forecast_soil(air, SITE, issued=TODAY, horizon_days=30, members=40)
    table = forecast.to_frame()
    assert table.columns.tolist() == ["soil_c", "sd_c", "low_c", "mid_c", "high_c"]
    pd.testing.assert_index_equal(table.index, forecast.dates.rename("date"))
    ordered = table[["low_c", "mid_c", "high_c"]].to_numpy()
    assert (np.diff(ordered, axis=1) >= 0.0).all()
    # The middle 80 % of forty members holds thirty-two of them, ties aside.
    inside = (forecast.soil_c >= ordered[:, 0]) & (forecast.soil_c <= ordered[:, 2])
    assert (inside.sum(axis=0) == 32).mean() > 0.9
    np.testing.assert_allclose(table["soil_c"], forecast.soil_c.mean(axis=0))


def test_windows_as_a_table(air):
    warm = Threshold(name="warm", label="Warm things", threshold_c=16.0, direction="rising")
    answer = find_windows(air, SITE, [warm, COOL], today=TODAY)
    table = answer.to_frame()
    assert table["threshold"].tolist() == [one.threshold.name for one in answer.windows]
    row = table.set_index("threshold").loc["cool"]
    (window,) = (one for one in answer.windows if one.threshold == COOL)
    assert (row["early"], row["median"], row["late"]) == (
        window.outlook.early, window.outlook.median, window.outlook.late,
    )  # fmt: skip
    assert row["verdict"] == window.verdict
    assert row["never"] == pytest.approx(window.outlook.never)
    assert row["usual"] == window.typical.median
