"""Every public function, misused: a ForecasterError that says what is wrong, or a right answer.

Each argument is replaced by each wrong value that fits its kind, one at a time, and then pairs of
them by a seed. What comes out is an answer or a ForecasterError with a message of one line.
"""

import warnings
from datetime import date

import numpy as np
import pandas as pd
import pytest

import forecaster
from forecaster import (
    ForecasterError,
    InputError,
    Site,
    Threshold,
    Wish,
    crop_windows,
    estimate_soil,
    find_crop,
    find_windows,
    forecast_soil,
    frost_dates,
    hindcast,
    known_crops,
    known_thresholds,
    read_air,
    read_readings,
)

DAYS = 1000
TODAY = date(2021, 9, 10)
SITE = Site(40.0, -100.0)
ODD_NUMBERS = [
    *(float("nan"), float("inf"), np.float32("nan"), -1, -1e9, 1e308, 1.5, 1 + 2j),
    *("7", b"3", None, True, [3], np.array([1.0, 2.0]), pd.NA, pd.NaT, {}, object()),
]
ODD_WORDS = ["", "falling ", "up", None, 3, ["falling"], b"falling", float("nan"), {}]
ODD_DAYS = [
    *("", "soon", "0000-00-00", "9999-12-31", "1500-01-01", "2021-13-40", b"2021-09-10"),
    *(None, float("nan"), pd.NaT, 10**20, [TODAY], {}, pd.Timestamp("2021-09-10", tz="UTC")),
]
ODD_ITEMS = [None, 3, "x", [], {}, [1], object(), np.zeros(3), pd.DataFrame(), [None]]


@pytest.fixture(scope="module")
def air(make_air):
    return make_air(days=DAYS)


@pytest.fixture(scope="module")
def log(air):
    time = air.index[-200:-20:7] + pd.Timedelta(hours=9)
    middle = (air["tmin_c"] + air["tmax_c"]).rolling(20).mean().loc[time.normalize()] / 2.0
    return pd.DataFrame({"time": time, "temp_c": middle.to_numpy(), "depth_m": 0.1})


def odd_airs(air):
    """Tables of air that are none."""
    values = air.to_numpy()
    spoiled = {
        "empty": air.iloc[:0],
        "no columns": air[[]],
        "one day": air.iloc[:1],
        "all unknown": air * np.nan,
        "infinite": air.assign(tmax_c=np.inf),
        "one infinite": air.assign(tmax_c=np.where(np.arange(DAYS) == 900, np.inf, air["tmax_c"])),
        "words": air.assign(tmin_c="cold"),
        "some words": air.astype(object).assign(tmin_c=["a", *air["tmin_c"].iloc[1:]]),
        "complex": air.assign(tmin_c=air["tmin_c"] + 1j),
        "swapped": air.rename(columns={"tmin_c": "tmax_c", "tmax_c": "tmin_c"}),
        "unsorted": air.iloc[::-1],
        "shuffled": air.sample(frac=1.0, random_state=1),
        "twice": pd.concat([air, air]),
        "one twice": pd.concat([air.iloc[:500], air.iloc[499:]]),
        "a hole": air.drop(air.index[500]),
        "zone": air.tz_localize("UTC"),
        "numbered": air.reset_index(drop=True),
        "written dates": air.set_axis(air.index.astype(str)),
        "unknown date": air.set_axis([pd.NaT, *air.index[1:]]),
        "hours": air.set_axis(air.index + pd.Timedelta(hours=13)),
        "months": air.set_axis(pd.period_range("2019-01", periods=DAYS, freq="M")),
        "column twice": pd.concat([air, air[["tmin_c"]]], axis=1),
        "two headings": pd.concat({"a": air}, axis=1),
        "negative rain": air.assign(precip_mm=-5.0),
        "kelvin": air.assign(tmin_c=air["tmin_c"] + 273.15, tmax_c=air["tmax_c"] + 273.15),
        "years ahead": air.set_axis(air.index + pd.Timedelta(days=36500)),
    }
    return [*spoiled.values(), None, 3, "air.csv", values, [1, 2], {}, air["tmin_c"]]


def odd_logs(log):
    """Tables of readings that are none."""
    spoiled = {
        "empty": log.iloc[:0],
        "no columns": pd.DataFrame(),
        "unknown": log.assign(temp_c=np.nan),
        "infinite": log.assign(temp_c=np.inf),
        "hot": log.assign(temp_c=900.0),
        "words": log.assign(temp_c="warm"),
        "complex": log.assign(temp_c=1j),
        "zone": log.assign(time=log["time"].dt.tz_localize("Europe/Berlin")),
        "written": log.assign(time=log["time"].astype(str)),
        "no times": log.assign(time="noon"),
        "numbers": log.assign(time=range(len(log))),
        "some unknown times": log.assign(time=[pd.NaT, *log["time"].iloc[1:]]),
        "deep": log.assign(depth_m=-1.0),
        "deeper": log.assign(depth_m=1e6),
        "depth in words": log.assign(depth_m="4in"),
        "span": log.assign(span="week"),
        "spans": log.assign(span=3),
        "hour": log.assign(hour_known="yes"),
        "error": log.assign(error_c=-1.0),
        "unknown error": log.assign(error_c=np.nan),
        "backwards": log.iloc[::-1],
        "twice": pd.concat([log, log]),
        "by date": log.set_index("time"),
        "two headings": pd.concat({"a": log}, axis=1),
    }
    return [*spoiled.values(), 3, "log.csv", log.to_numpy(), [1], {}, log["temp_c"]]


def odd_sites():
    return [None, 40.0, (40.0, -100.0), "40N", {"latitude_deg": 40.0}, object()]


@pytest.fixture(scope="module")
def calls(air, log):
    """By function: the arguments of a right call, and the wrong values of each."""
    cold, warm = known_thresholds("cool"), known_thresholds()
    record = {"air": (air, odd_airs(air)), "site": (SITE, odd_sites())}
    held = record | {"readings": (log, odd_logs(log)), "seed": (0, ODD_NUMBERS)}
    ahead = {"outlook": (None, odd_airs(air))}
    day = {"today": (TODAY, ODD_DAYS)}
    sure = forecast_soil(air, SITE, issued=TODAY, members=20, horizon_days=60)
    crossing = sure.crossing(12.0, "falling")
    season = {"first": (None, ODD_DAYS), "last": (None, ODD_DAYS)}
    of_threshold = {"threshold_c": (12.0, ODD_NUMBERS), "direction": ("falling", ODD_WORDS)}
    numbers, words, days = (
        dict.fromkeys(names.split(), (None, odd))
        for names, odd in (
            ("risk offset_c rooting_days season_days", ODD_NUMBERS),
            ("season use source", ODD_WORDS),
            ("sown begins", ODD_DAYS),
        )
    )
    wishes = numbers | words | days
    paths = [None, 3, "", [], [None], {}, "none.csv", b"x", float("nan")]
    return {
        estimate_soil: {k: v for k, v in held.items() if k != "seed"},
        forecast_soil: held | ahead | {
            "issued": (TODAY, ODD_DAYS), "start": (None, ODD_DAYS),
            "horizon_days": (30, ODD_NUMBERS), "members": (20, ODD_NUMBERS)},
        find_windows: held | ahead | day | {
            "thresholds": (cold, [*ODD_ITEMS, cold[0]]), "asked_on": (None, ODD_DAYS)},
        crop_windows: held | ahead | day | {
            "crops": ([find_crop("pansy")], [*ODD_ITEMS, find_crop("pansy")]),
            "wish": (None, ODD_ITEMS), "members": (20, ODD_NUMBERS)},
        frost_dates: {"air": record["air"], **day, "offset_c": (0.0, ODD_NUMBERS)},
        hindcast: held | {
            "thresholds": (warm[:1], ODD_ITEMS), "leads_days": ((30,), ODD_ITEMS),
            "members": (20, ODD_NUMBERS), "seasons": (1, ODD_NUMBERS)},
        known_thresholds: {"crop_class": (None, ODD_WORDS)},
        known_crops: {"crop_class": (None, ODD_WORDS), "own": (None, [3, "none.csv", [], ""])},
        find_crop: {"name": ("pansy", ODD_WORDS), "crops": (None, [3, "x", [], {}])},
        read_air: {"path": ("air.csv", paths),
                   "obs_hour": (None, ODD_NUMBERS), "units": (None, ODD_WORDS)},
        read_readings: {"path": ("a.csv", paths),
                        "depth_m": (None, ODD_NUMBERS), "units": (None, ODD_WORDS)},
        Site: {"latitude_deg": (40.0, ODD_NUMBERS), "longitude_deg": (-100.0, ODD_NUMBERS),
               "depth_m": (0.1, ODD_NUMBERS), "soil": ("loam", ODD_WORDS),
               "cover": ("grass", ODD_WORDS)},
        Threshold: {"name": ("a", ODD_WORDS), "label": ("a", ODD_WORDS), **of_threshold},
        Wish: wishes,
        sure.crossing: {**of_threshold, **season, "kind": ("settled", ODD_WORDS)},
        crossing.quantile: {"q": (0.5, ODD_NUMBERS)},
        crossing.probability_by: {"day": (TODAY, ODD_DAYS)},
    }  # fmt: skip


def foreign(function, given):
    """What went wrong that no one meant to say; nothing if all is well."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            function(**given)
    except ForecasterError as error:
        said = str(error)
        return "" if said and "\n" not in said else f"says {said!r}"
    except Exception as error:  # noqa: BLE001 - that is what is looked for
        return f"{type(error).__name__}: {error}"
    return ""


def shown(value):
    return f"{type(value).__name__} {str(value)[:40]!r}".replace("\n", " ")


def test_one_argument_wrong(calls):
    found, tried = [], 0
    for function, arguments in calls.items():
        right = {name: value for name, (value, _) in arguments.items()}
        for name, (_, wrong) in arguments.items():
            for at, value in enumerate(wrong):
                tried += 1
                if said := foreign(function, right | {name: value}):
                    found.append(f"{function.__name__} {name}[{at}]={shown(value)}: {said[:150]}")
    assert tried > 900
    assert found == [], "\n".join([f"{len(found)} of {tried}", *found])


def test_two_arguments_wrong(calls):
    random = np.random.default_rng(11)
    found, tried = [], 0
    quick = [one for one in calls if one is not hindcast]
    for _ in range(300):
        function = quick[int(random.integers(len(quick)))]
        arguments = calls[function]
        given = {name: value for name, (value, _) in arguments.items()}
        names = list(arguments)
        for name in random.choice(names, min(2, len(names)), replace=False):
            wrong = arguments[name][1]
            given[name] = wrong[int(random.integers(len(wrong)))]
        tried += 1
        if said := foreign(function, given):
            found.append(f"{function.__name__}: {said[:150]}")
    assert found == [], "\n".join([f"{len(found)} of {tried}", *found])


def test_every_public_function_is_misused(calls):
    tried = {one.__name__ for one in calls}
    public = {
        name
        for name in forecaster.__all__
        if callable(getattr(forecaster, name)) and not name.startswith("_")
    }
    results = {"Crossing", "SoilForecast", "Hindcast"}  # made by the package, not by a caller
    errors = {"ForecasterError", "InputError"}
    beside = {"account_of", "data_path"}  # tables and paths: tested where they live
    assert public - tried - results - errors - beside == set()


# --- the wrong answers that were given -------------------------------------------------------


def test_an_unknown_threshold_gives_no_date(air):
    forecast = forecast_soil(air, SITE, issued=TODAY, members=20, horizon_days=60)
    with pytest.raises(InputError, match="threshold_c is nan"):
        forecast.crossing(float("nan"), "falling")


def test_times_with_a_zone_are_no_standard_time(air, log):
    zoned = log.assign(time=log["time"].dt.tz_localize("Europe/Berlin"))
    with pytest.raises(InputError, match="time zone"):
        estimate_soil(air, SITE, zoned)


@pytest.mark.parametrize("function", [estimate_soil, frost_dates])
def test_extremes_the_wrong_way_round_are_refused(function, air):
    swapped = air.rename(columns={"tmin_c": "tmax_c", "tmax_c": "tmin_c"})
    with pytest.raises(InputError, match="minimum lies above the maximum"):
        function(**({"air": swapped} | ({} if function is frost_dates else {"site": SITE})))


def test_frost_dates_want_a_record(air):
    with pytest.raises(InputError, match="time zone"):
        frost_dates(air.tz_localize("UTC"))
    with pytest.raises(InputError, match="do not follow"):
        frost_dates(air.iloc[::-1])
    with pytest.raises(InputError, match="offset_c"):
        frost_dates(air, offset_c=float("nan"))


def test_right_calls_answer(calls):
    """The harness itself: right calls are no misuse."""
    right = {
        function: {name: value for name, (value, _) in arguments.items()}
        for function, arguments in calls.items()
    }
    for function in (estimate_soil, find_windows, crop_windows, frost_dates, Site, Wish):
        assert function(**right[function]) is not None
