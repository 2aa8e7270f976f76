#!/usr/bin/env python3
"""Spoil records of air as people spoil them, and count what an answer says of it.

    scripts/spoil_air.py DIR [--stations N] [--days N] [--seed N]

DIR holds records as scripts/download_stations.py writes them. Every way of spoiling below is tried
on stations and days drawn by the seed, through the reader and the answer, and a table printed: how
many were refused, doubted or passed, and by how many days the worst date moved unsaid. The true
records are asked as well: none may be refused, few doubted.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from forecaster import Site, find_windows, known_thresholds, read_air
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.packaged import load_csv

MONTH_DAYS = 30
SENTINEL_C = -17.8  # 0 °F
SENTINEL_SHARE = 0.05
MOVED_DAYS = 10
NEIGHBOUR_C = -1.0  # what beds beside each other may differ by; common practice, no source


@dataclass(frozen=True)
class Case:
    """A record up to a day, another place's that is colder, and its own soil; daily tables."""

    air: pd.DataFrame
    colder: pd.DataFrame
    soil_c: pd.Series


def as_celsius_in_fahrenheit(air: pd.DataFrame, days: int) -> pd.DataFrame:
    """The last days in °C in a file that is in °F, as it is understood."""
    spoiled = air.copy()
    rows = spoiled.index[-days:]
    spoiled.loc[rows, ["tmin_c", "tmax_c"]] = (air.loc[rows, ["tmin_c", "tmax_c"]] - 32.0) / 1.8
    return spoiled


def rows_of(air: pd.DataFrame, other: pd.DataFrame, *, this_year: bool) -> pd.DataFrame:
    """The rows of this year, or of all years before, from another place."""
    same = air.index.year == air.index[-1].year
    take = same if this_year else ~same
    spoiled = air.copy()
    theirs = other.reindex(air.index)[list(air.columns)]
    spoiled.loc[take] = theirs.loc[take]
    return spoiled


def month_late(air: pd.DataFrame) -> pd.DataFrame:
    """Every row dated a month after its day."""
    moved = air.shift(MONTH_DAYS, freq="D")
    return moved[moved.index <= air.index[-1]]


def sentinel(air: pd.DataFrame) -> pd.DataFrame:
    """One number for missing, on scattered days."""
    spoiled = air.copy()
    lost = np.random.default_rng(0).random(len(air)) < SENTINEL_SHARE
    spoiled.loc[lost, ["tmin_c", "tmax_c"]] = SENTINEL_C
    return spoiled


def mean_as_maximum(air: pd.DataFrame) -> pd.DataFrame:
    """The mean under the maximum's heading."""
    return air.assign(tmax_c=(air["tmin_c"] + air["tmax_c"]) / 2.0)


def soil_as_air(case: Case) -> pd.DataFrame:
    """The soil at 10 cm under the air's heading."""
    return pd.DataFrame({"tavg_c": case.soil_c.reindex(case.air.index)})


SPOILED: dict[str, Callable[[Case], pd.DataFrame]] = {
    "last 10 days in °C": lambda c: as_celsius_in_fahrenheit(c.air, 10),
    "last 90 days in °C": lambda c: as_celsius_in_fahrenheit(c.air, 90),
    "this year colder": lambda c: rows_of(c.air, c.colder, this_year=True),
    "past years colder": lambda c: rows_of(c.air, c.colder, this_year=False),
    "all 6.5 °C colder": lambda c: shifted(c.air, -6.5, -6.5),
    "mean as maximum": lambda c: mean_as_maximum(c.air),
    "soil as air": soil_as_air,
    "dates a month late": lambda c: month_late(c.air),
    "all 4 °C warmer": lambda c: shifted(c.air, 4.0, 4.0),
    "-17.8 for missing": lambda c: sentinel(c.air),
    "thermometer in the sun": lambda c: shifted(c.air, 0.0, 6.0),
    "maximum is a copy": lambda c: c.air.assign(tmax_c=c.air["tmin_c"]),
}


def shifted(air: pd.DataFrame, low_c: float, high_c: float) -> pd.DataFrame:
    """Minimum and maximum moved by so much."""
    return air.assign(tmin_c=air["tmin_c"] + low_c, tmax_c=air["tmax_c"] + high_c)


@dataclass(frozen=True)
class Outcome:
    """What became of a record: refused, doubted, or a date for each threshold."""

    refused: str
    doubts: tuple[str, ...]
    dates: dict[str, date | None]
    go: bool


def weekly_log(case: Case, off_c: float) -> pd.DataFrame:
    """Half a year of weekly readings of the soil at 10 cm, moved by so much."""
    soil_c = case.soil_c[: case.air.index[-1]].dropna().iloc[-182::7]
    return pd.DataFrame(
        {"time": soil_c.index, "temp_c": soil_c.to_numpy() + off_c, "depth_m": 0.10, "span": "day"}
    )


def ask(
    air: pd.DataFrame, site: Site, today: date, folder: Path, log: pd.DataFrame | None = None
) -> Outcome:
    """Write a record to a file, read it and ask for its windows."""
    path = folder / "air.csv"
    air.round(1).to_csv(path, index_label="date")
    try:
        read = read_air(path, units="C")
        answer = find_windows(read, site, known_thresholds(), readings=log, today=today)
    except (InputError, NotEnoughData) as error:
        return Outcome(str(error).replace(str(path), "FILE"), (), {}, go=False)
    return Outcome(
        "",
        tuple(doubt.sentence for doubt in answer.doubtful),
        {w.threshold.name: w.outlook.median for w in answer.windows},
        any(w.verdict == "go" for w in answer.windows),
    )


def moved_days(true: Outcome, spoiled: Outcome) -> int:
    """By how many days the threshold that moved most has moved."""
    both = [
        min(days, abs(365 - days))  # of the season that runs, or of the next
        for name, day in true.dates.items()
        if day is not None
        and (other := spoiled.dates.get(name)) is not None
        and (days := abs((day - other).days)) >= 0
    ]
    return max(both, default=0)


def read_station(path: Path) -> tuple[pd.DataFrame, pd.Series]:
    """Return a station's air, without its true mean, and its soil at 10 cm."""
    table = pd.read_csv(path, index_col=0, parse_dates=True).asfreq("D")
    table.index.name = "date"
    return table[["tmin_c", "tmax_c", "precip_mm"]], table["soil10_c"]


def colder_one(name: str, means: dict[str, float], by_c: float = 6.0) -> str:
    """Return the station whose mean lies nearest to so much below."""
    return min(means, key=lambda other: abs(means[other] - (means[name] - by_c)))


@dataclass(frozen=True)
class Tried:
    """One case and what became of it."""

    station: str
    today: date
    how: str
    moved: int
    outcome: Outcome

    @property
    def unsaid(self) -> bool:
        """Whether an answer was given with nothing said against the record."""
        return not self.outcome.refused and not self.outcome.doubts


def battery(folder: Path, stations: list[str], days: list[date]) -> list[Tried]:
    """Try every way of spoiling on every station and day; the true record is "as it is"."""
    paths = {path.name.removesuffix(".csv.gz"): path for path in folder.glob("*.csv.gz")}
    places = {row["station"]: row for row in load_csv("stations.csv")}
    records = {name: read_station(path) for name, path in sorted(paths.items()) if name in places}
    means = {n: float(air[["tmin_c", "tmax_c"]].mean().mean()) for n, (air, _) in records.items()}
    tried = []
    with tempfile.TemporaryDirectory() as where:
        for name in stations:
            site = Site(float(places[name]["lat"]), float(places[name]["lon"]))
            for today in days:
                air, soil_c = records[name]
                air = air[: pd.Timestamp(today)]
                case = Case(air, records[colder_one(name, means)][0], soil_c)
                true = ask(air, site, today, Path(where))
                tried.append(Tried(name, today, "as it is", 0, true))
                for how, spoil in SPOILED.items():
                    found = ask(spoil(case), site, today, Path(where))
                    tried.append(Tried(name, today, how, moved_days(true, found), found))
                own, theirs = (
                    ask(air, site, today, Path(where), weekly_log(case, off_c))
                    for off_c in (0.0, NEIGHBOUR_C)
                )
                moved = moved_days(own, theirs)
                tried.append(Tried(name, today, "a neighbour's log", moved, theirs))
    return tried


def table(tried: list[Tried]) -> str:
    """The table of what became of the cases, by the way of spoiling."""
    head = (
        f"{'spoiled':<24}{'cases':>6}{'refused':>9}{'doubted':>9}{'unsaid':>8}{'moved':>7}{'go':>4}"
    )
    lines = [f"{head}   (worst days moved, and go, unsaid)"]
    for how in dict.fromkeys(each.how for each in tried):
        here = [each for each in tried if each.how == how]
        quiet = [each for each in here if each.unsaid]
        lines.append(
            f"{how:<24}{len(here):>6}{sum(bool(e.outcome.refused) for e in here):>9}"
            f"{sum(bool(e.outcome.doubts) for e in here):>9}{len(quiet):>8}"
            f"{max((e.moved for e in quiet), default=0):>7}{sum(e.outcome.go for e in quiet):>4}"
        )
    return "\n".join(lines)


def main() -> int:
    """Draw stations and days, try all and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--stations", type=int, default=3)
    parser.add_argument("--days", type=int, default=3)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--list", action="store_true", help="also the cases that moved unsaid")
    given = parser.parse_args()
    random = np.random.default_rng(given.seed)
    named = sorted(path.name.removesuffix(".csv.gz") for path in given.folder.glob("*.csv.gz"))
    stations = sorted(random.choice(named, given.stations, replace=False))
    first = np.datetime64("2015-01-01")
    days = [(first + int(d)).astype(object) for d in random.integers(0, 3300, given.days)]
    tried = battery(given.folder, stations, days)
    print(table(tried))
    if given.list:
        for each in tried:
            said = each.outcome.refused or " | ".join(each.outcome.doubts)
            if (each.how == "as it is" and said) or (each.unsaid and each.moved > MOVED_DAYS):
                print(each.station, each.today, each.how, each.moved, said)
    return 0


if __name__ == "__main__":
    sys.exit(main())
