"""The time of a hand reading: as a person says it → local standard time."""

import time
from datetime import date, datetime

import pytest

from forecaster.book.moments import day_of, moment
from forecaster.ground.errors import InputError

NOW = datetime(2026, 3, 17, 12, 0)


@pytest.fixture
def zone(monkeypatch):
    if not hasattr(time, "tzset"):
        pytest.skip("this system cannot change its zone")

    def set_to(name):
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield set_to
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("7:40", "2026-03-17 07:40"),
        ("7.40", "2026-03-17 07:40"),
        ("7:40 am", "2026-03-17 07:40"),
        ("7am", "2026-03-17 07:00"),
        ("12:05 a.m.", "2026-03-17 00:05"),
        ("2026-03-16 7:40pm", "2026-03-16 19:40"),
        ("2026-03-16T19:40", "2026-03-16 19:40"),
        ("2026-03-16 19:40:30", "2026-03-16 19:40"),
    ],
)
def test_times_are_understood(zone, text, expected):
    zone("UTC")
    found = moment(text, NOW)
    assert f"{found.standard:%Y-%m-%d %H:%M}" == expected
    assert found.hour_known


def test_a_day_alone_has_no_hour():
    found = moment("2026-03-16", NOW)
    assert (found.standard, found.hour_known) == (datetime(2026, 3, 16), False)


def test_now(zone):
    zone("UTC")
    assert moment(None, NOW).standard == NOW


@pytest.mark.parametrize(
    ("text", "standard"),
    [("2026-03-16 7:40", "06:40"), ("2025-07-01 7:40", "07:40")],
)
def test_summer_time_is_taken_off(zone, text, standard):
    """Melbourne's clocks go back on 5 April 2026 (the zone's own rule, written out)."""
    zone("AEST-10AEDT,M10.1.0,M4.1.0/3")
    found = moment(text, NOW)
    assert f"{found.standard:%H:%M}" == standard
    assert ("standard time" in found.said) == (standard == "06:40")


@pytest.mark.parametrize(
    ("name", "day", "standard"),
    [
        # Offsets as the IANA time zone database has them (files europe, africa, australasia).
        ("Europe/Berlin", "2025-07-01", "06:40"),
        ("Europe/Berlin", "2025-01-01", "07:40"),
        ("America/New_York", "2025-07-01", "06:40"),
        ("Australia/Melbourne", "2025-01-15", "06:40"),
        ("Australia/Melbourne", "2025-07-15", "07:40"),
        ("Australia/Lord_Howe", "2025-01-15", "07:10"),  # half an hour
        ("America/Santiago", "2025-01-15", "06:40"),
        ("Europe/Dublin", "2025-07-01", "06:40"),  # by law standard in summer, an hour less after
        ("Europe/Dublin", "2025-01-01", "07:40"),
        ("Africa/Casablanca", "2025-07-01", "06:40"),  # an hour less in Ramadan only
        ("Africa/Casablanca", "2025-03-15", "07:40"),
        ("Africa/Windhoek", "2010-01-15", "06:40"),
        ("Africa/Windhoek", "2010-07-15", "07:40"),
        ("Asia/Kolkata", "2025-07-01", "07:40"),
        ("Pacific/Apia", "2011-12-31", "06:40"),  # the day after a whole day was left out
    ],
)
def test_one_clock_the_whole_year(zone, name, day, standard):
    zone(name)
    found = moment(f"{day} 7:40", NOW)
    assert f"{found.standard:%H:%M}" == standard
    assert f"{found.wall:%H:%M}" == "07:40"


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "7",
        "noon",
        "25:00",
        "7:61",
        "13pm",
        "0am",
        "2026-13-01",
        "2026-02-30 7:40",
        "=1+1",
        "7:40 2026-03-16",
    ],
)
def test_what_is_no_time_is_refused(text):
    with pytest.raises(InputError, match=r"not understood|is no day"):
        moment(text, NOW)


@pytest.mark.parametrize("text", ["14:00", "2200-01-01", "2026-03-18 7:40", "1800-01-01 7:40"])
def test_the_future_and_the_far_past_are_refused(text):
    with pytest.raises(InputError, match=r"still to come|is no day from 1900"):
        moment(text, NOW)


def test_days():
    assert day_of(None, date(2026, 3, 17)) == date(2026, 3, 17)
    assert day_of("2026-03-01", date(2026, 3, 17)) == date(2026, 3, 1)
