"""Forecasts kept as they were shown, and what the soil did afterwards."""

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pandas as pd
import pytest

from forecaster.book import (
    Shown,
    ShownWindow,
    keep_shown,
    season_table,
    shown_before,
    shown_forecasts,
)

WINDOW = ShownWindow(
    threshold="cool flats",
    threshold_c=18.3,
    direction="falling",
    season_start=date(2026, 1, 20),
    season_end=date(2026, 7, 20),
    early=date(2026, 3, 25),
    median=date(2026, 4, 5),
    late=None,
    never=0.04,
)


def forecast(issued="2026-03-16", days=60, window=WINDOW):
    first = pd.Timestamp(issued) + pd.Timedelta(days=1)
    mid = 22.0 - 0.1 * np.arange(days)
    soil = pd.DataFrame(
        {"low_c": mid - 1.0, "mid_c": mid, "high_c": mid + 1.0},
        index=pd.date_range(first, periods=days, name="date").as_unit("ns"),
    )
    return Shown(
        issued=date.fromisoformat(issued),
        depth_m=0.1,
        version="0.1.0",
        windows=(window,),
        soil=soil,
    )


def test_kept_as_shown(book):
    assert keep_shown(book, "north", forecast())
    (found,) = shown_forecasts(book, "north")
    assert found.windows == (WINDOW,)
    assert found.shown_at == "2026-03-17T08:00:00Z"
    pd.testing.assert_frame_equal(found.soil, forecast().soil, check_freq=False)


def test_the_same_again_is_kept_once_and_a_changed_one_anew(book):
    assert keep_shown(book, "north", forecast())
    assert not keep_shown(book, "north", forecast())
    assert keep_shown(book, "north", forecast(window=replace(WINDOW, never=0.05)))
    assert len(shown_forecasts(book, "north")) == 2


def test_the_last_one_up_to_a_day_is_found(book):
    book.clock = lambda: datetime(2026, 3, 1, tzinfo=UTC)
    for issued in ("2026-01-01", "2026-03-01", "2026-03-10"):
        keep_shown(book, "north", forecast(issued))
    assert shown_before(book, "north", date(2026, 3, 9)).issued == date(2026, 3, 1)
    assert shown_before(book, "north", date(2026, 6, 1)) is None, "too old to speak of"
    assert shown_before(book, "north", date(1, 1, 2)) is None


def test_one_on_the_screen_in_time_comes_before_one_asked_for_later(book):
    book.clock = lambda: datetime(2026, 3, 5, tzinfo=UTC)
    keep_shown(book, "north", forecast("2026-03-04"))
    book.clock = lambda: datetime(2026, 5, 1, tzinfo=UTC)
    keep_shown(book, "north", forecast("2026-03-09"))
    found = shown_before(book, "north", date(2026, 3, 10))
    assert found.issued == date(2026, 3, 4)
    assert found.was_shown_by(date(2026, 3, 10))


def test_weeks_after_a_planting_against_what_was_forecast():
    """By hand: mid falls 0.1 °C a day from 22.0 on 17 March; the soil stays at 21.0 ± 0.5."""
    soil = pd.DataFrame(
        {"soil_c": 21.0, "sd_c": 0.5}, index=pd.date_range("2026-03-01", "2026-04-06")
    )
    readings = pd.DataFrame(
        {"time": pd.to_datetime(["2026-03-17 07:00", "2026-03-23 07:00"]), "temp_c": [20.0, 21.0]}
    )
    table = season_table(forecast(days=25), soil, readings, date(2026, 3, 17), weeks=4)
    assert [f"{day:%m-%d}" for day in table.index] == ["03-17", "03-24", "03-31", "04-07"]
    # The mean of seven days is the fourth day's: 21.7, 21.0, 20.3; the fourth week has 4 days.
    assert table["mid_c"].tolist()[:3] == pytest.approx([21.7, 21.0, 20.3])
    assert np.isnan(table["mid_c"].iloc[3])
    assert table["soil_c"].tolist()[:3] == [21.0, 21.0, 21.0]
    assert np.isnan(table["soil_c"].iloc[3])
    assert table["inside"].tolist() == [True, True, True, None]
    assert table["readings"].tolist() == [2, 0, 0, 0]
    assert table["reading_c"].iloc[0] == 20.5


def test_outside_is_said():
    soil = pd.DataFrame({"soil_c": 30.0, "sd_c": 0.5}, index=pd.date_range("2026-03-17", periods=7))
    table = season_table(forecast(), soil, None, date(2026, 3, 17), weeks=1)
    assert table["inside"].tolist() == [False]
