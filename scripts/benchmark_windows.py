#!/usr/bin/env python3
"""Score crop windows against published planting windows, beside the rule of thumb.

    scripts/benchmark_windows.py WINDOWS STATIONS [--members 150] [--out FILE]

WINDOWS: a CSV with the columns station, crop, use (transplant, seed or sets), season (spring or
autumn), first, last (month-day, either may be empty). STATIONS: a folder of one CSV a station
(date, tmax_c, tmin_c, tavg_c, precip_mm) with stations.csv (station, lat, lon), as
scripts/download_stations.py writes it. Each season is asked about before it begins: spring on 1
January 2023, autumn on 1 June 2022, from the record to that day.

Printed for each group of crops and for all: rows, the share with a window, days by which our
opening and our last day worth it lie off the printed ones (median of the sizes, and the median),
the share of printed middles inside our window with a week's grace, the overlap over the union;
then the same of the rule: so many weeks round the median last freeze (University of Illinois
VC-14 and Purdue HO-203), or before the median first one (common practice).
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from forecaster.answers.crops import Wish, find_crop
from forecaster.answers.crops.decide import decide
from forecaster.answers.place_today import PlaceToday, bed_of, place_today
from forecaster.ground.site import Site
from forecaster.rules.crops import Crop

ASKED = {"spring": date(2023, 1, 1), "autumn": date(2022, 6, 1)}
GRACE, OPEN_ENDED = timedelta(days=7), timedelta(days=60)
WRAPPED = timedelta(days=45)  # an end before its beginning is the next one about so much later
MIDDLE = {"spring": (4, 15), "autumn": (9, 15)}
WEEKS = {"very hardy": (-6, -2), "tolerant": (-3, 0), "tender": (0, 3), "warm-loving": (1, 4)}
LEAST_FREEZES = 7
COLUMNS = ["tmin_c", "tmax_c", "tavg_c", "precip_mm"]


@dataclass(frozen=True, slots=True)
class Days:
    """A window as two days; None for an end that is not told, or not needed."""

    first: date | None
    last: date | None


def main() -> None:
    """Read the tables, score every row, print the groups."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=Raw)
    parser.add_argument("windows", type=Path)
    parser.add_argument("stations", type=Path)
    parser.add_argument("--members", type=int, default=150)
    parser.add_argument("--out", type=Path, help="write the rows here, as CSV")
    asked = parser.parse_args()
    printed = pd.read_csv(asked.windows, dtype=str)
    rows = score(printed, asked.stations, asked.members)
    with pd.option_context("display.width", 200, "display.max_columns", 20):
        print(summary(rows).to_string())
    if asked.out:
        rows.to_csv(asked.out, index=False)


class Raw(argparse.RawDescriptionHelpFormatter):
    """Keeps the paragraphs of the help."""


def score(printed: pd.DataFrame, stations: Path, members: int) -> pd.DataFrame:
    """Return a row of scores for each printed window whose station is in the folder."""
    places = pd.read_csv(stations / "stations.csv").set_index("station")
    rows = []
    for (station, season), group in printed.groupby(["station", "season"]):
        air = record(stations, str(station))
        if air is None:
            continue
        at = places.loc[station]
        site = Site(float(at["lat"]), float(at["lon"]))
        today = ASKED[str(season)]
        known = air.loc[: pd.Timestamp(today)]
        here = place_today(known, bed_of(site), today=np.datetime64(today), members=members)
        freeze = median_freeze(known, str(season))
        rows += [score_row(row, here, freeze) for row in group.itertuples()]
    return pd.DataFrame(rows)


def record(stations: Path, station: str) -> pd.DataFrame | None:
    """Return a station's daily air from its first maximum on, None if it is not there."""
    found = sorted(stations.glob(f"{station}.csv*"))
    if not found:
        return None
    air = pd.read_csv(found[0], parse_dates=["date"]).set_index("date").asfreq("D")
    start = air["tmax_c"].first_valid_index()
    return air.loc[start:, [name for name in COLUMNS if name in air]]


def score_row(row: Any, here: PlaceToday, freeze: int | None) -> dict[str, Any]:
    """Return one printed window beside ours and the rule's."""
    crop = find_crop(row.crop)
    use = row.use if row.use in ("transplant", "seed") else None
    window = decide(crop, here, Wish(season=row.season, use=use))
    ours = Days(window.opens.median, window.closes.median)
    thumb = rule(crop, row.season, freeze)
    kind = "flowers" if crop.kind == "flower" else "food"
    return {
        "group": f"{row.season} {crop.crop_class} {kind}",
        "station": row.station,
        "crop": row.crop,
        "window": ours.first is not None,
        **against(ours, row),
        **{f"rule_{name}": value for name, value in against(thumb, row).items()},
    }


def against(ours: Days, row: Any) -> dict[str, Any]:
    """Return how a window stands beside the printed one."""
    year = ASKED[row.season].year
    usual = date(year, *MIDDLE[row.season])
    first = near(ours.first or usual, row.first)
    last = near(ours.last or ours.first or usual, row.last)
    if first and last and last < first:
        last = near(first + WRAPPED, row.last)
    found: dict[str, Any] = {}
    if ours.first and first:
        found["opening"] = (ours.first - first).days
    if ours.last and last:
        found["closing"] = (ours.last - last).days
    if first and last:
        middle = first + (last - first) / 2
        found["inside"] = bool(
            ours.first
            and ours.first - GRACE <= middle
            and (ours.last is None or middle <= ours.last + GRACE)
        )
        found["overlap"] = overlap(ours, Days(first, last))
    return found


def overlap(ours: Days, printed: Days) -> float:
    """Return the days that both have over the days that either has."""
    if ours.first is None or printed.first is None or printed.last is None:
        return 0.0
    end = ours.last or ours.first + OPEN_ENDED
    both = (min(end, printed.last) - max(ours.first, printed.first)).days + 1
    either = (max(end, printed.last) - min(ours.first, printed.first)).days + 1
    return max(both, 0) / either


def near(day: date, month_day: Any) -> date | None:
    """Return a month and day of the year in which it lies nearest to a day."""
    if not isinstance(month_day, str):
        return None
    month, number = (int(part) for part in month_day.split("-"))
    years = (day.year - 1, day.year, day.year + 1)
    return min((date(y, month, number) for y in years), key=lambda d: abs((d - day).days))


def median_freeze(air: pd.DataFrame, season: str) -> int | None:
    """Return the median day of the year of the last or first freeze, None where few have one."""
    cold = air.index[air["tmin_c"] <= 0.0]
    half = cold[cold.month < 7] if season == "spring" else cold[cold.month > 7]
    days = pd.Series(half.day_of_year, index=half.year).groupby(level=0)
    found = days.max() if season == "spring" else days.min()
    return int(found.median()) if found.size >= LEAST_FREEZES else None


def rule(crop: Crop, season: str, freeze: int | None) -> Days:
    """Return the window that the rule of thumb gives, none without freezes."""
    if freeze is None:
        return Days(None, None)
    anchor = date(ASKED[season].year, 1, 1) + timedelta(days=freeze - 1)
    if season == "spring":
        claim = crop.stands()
        name = claim.hardiness.name if claim else "tender"
        first, last = (7 * weeks for weeks in WEEKS[name])
    elif crop.kind == "flower" or crop.life == "bulb":
        first, last = -28, -7
    else:
        first, last = -100, -45
    return Days(anchor + timedelta(days=first), anchor + timedelta(days=last))


def summary(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the scores of each group and of all."""
    named = [*rows.groupby("group"), ("all", rows)]
    return pd.DataFrame({name: scores(group) for name, group in named}).T


def scores(rows: pd.DataFrame) -> dict[str, float]:
    """Return the scores of some rows."""
    found: dict[str, float] = {"rows": len(rows), "window": rows["window"].mean()}
    for who in ("", "rule_"):
        for name in ("opening", "closing"):
            days = rows[who + name] if who + name in rows else pd.Series(dtype=float)
            found[who + name] = days.abs().median()
            if not who:
                found[f"{name}_bias"] = days.median()
        for name in ("inside", "overlap"):
            found[who + name] = rows[who + name].dropna().astype(float).mean()
    return {name: round(float(value), 2) for name, value in found.items()}


if __name__ == "__main__":
    main()
