#!/usr/bin/env python3
"""Write data/air_map.csv and data/relief.csv: what the air of a place is by what lies around it.

    pip install airportsdata
    scripts/make_air_map.py DIR IRELAND

DIR is the folder of scripts/download_stations.py; IRELAND one of the same kind with daily records
of Met Éireann. Of every station the yearly mean and the median daily range are kept, with the
height of the airfields around it. Airfields stand for the heights at which people live: of each
degree of latitude and longitude within reach of a station, the lowest and the highest within 75 km.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import airportsdata
import numpy as np
import pandas as pd

from forecaster.forecast.usual import usual_of

DATA = Path(__file__).resolve().parent.parent / "data"
NEAR_KM, CELL_KM, FEWEST, REACH_KM = 50.0, 75.0, 5, 350.0
LEAST_DAYS = 1000
KM_PER_DEG = 111.2
HEADING = ("station", "latitude_deg", "longitude_deg", "height_m", "mean_c", "range_c")


def distance_km(lat: float, lon: float, lats: np.ndarray, lons: np.ndarray) -> np.ndarray:
    """Distances on a plane laid at the middle latitude; fine to a few hundred km."""
    east = (lons - lon) * np.cos(np.radians((lats + lat) / 2.0))
    return KM_PER_DEG * np.hypot(lats - lat, east)


def heights(fields: np.ndarray, lat: float, lon: float, within_km: float) -> np.ndarray | None:
    """Heights of the airfields around a point, m, at least five."""
    far = distance_km(lat, lon, fields[:, 0], fields[:, 1])
    reach = max(within_km, float(np.sort(far)[FEWEST - 1]))
    return fields[far <= reach, 2] if reach < 3.0 * within_km else None


def station_row(path: Path, lat: float, lon: float, fields: np.ndarray) -> list[object] | None:
    """Yearly mean, range and height of one station."""
    air = pd.read_csv(path, index_col=0, parse_dates=True).asfreq("D")
    spread = (air["tmax_c"] - air["tmin_c"]).to_numpy()
    mean = (air["tmax_c"] + air["tmin_c"]).to_numpy() / 2.0
    if np.isfinite(mean).sum() < LEAST_DAYS:
        return None
    day = air.index.to_numpy().astype("datetime64[D]").astype(np.int64)
    year = usual_of(day, mean, None, lat).year_c[0]
    around = heights(fields, lat, lon, NEAR_KM)
    height = float(np.median(around)) if around is not None else 0.0
    name = path.name.removesuffix(".csv.gz")
    return [
        name,
        lat,
        lon,
        round(height),
        round(float(year), 2),
        round(float(np.nanmedian(spread)), 1),
    ]


def main() -> int:
    """Write both tables."""
    known = airportsdata.load().values()
    fields = np.array([(f["lat"], f["lon"], 0.3048 * f["elevation"]) for f in known])
    rows = []
    for folder in map(Path, sys.argv[1:]):
        for place in pd.read_csv(folder / "stations.csv").itertuples():
            path = folder / f"{place.station}.csv.gz"
            row = station_row(path, place.lat, place.lon, fields) if path.exists() else None
            rows += [row] if row else []
    with (DATA / "air_map.csv").open("w", encoding="utf-8", newline="") as handle:
        table = csv.writer(handle, lineterminator="\n")
        table.writerow(
            ["station", "latitude_deg", "longitude_deg", "height_m", "mean_c", "range_c"]
        )
        table.writerows(rows)
    places = np.array([(row[1], row[2]) for row in rows], dtype=float)
    cells = []
    for lat in range(20, 61):
        for lon in range(-130, 0):
            near = distance_km(lat + 0.5, lon + 0.5, places[:, 0], places[:, 1]).min() < REACH_KM
            around = heights(fields, lat + 0.5, lon + 0.5, CELL_KM) if near else None
            if around is not None:
                cells.append([lat, lon, round(around.min()), round(around.max())])
    with (DATA / "relief.csv").open("w", encoding="utf-8", newline="") as handle:
        table = csv.writer(handle, lineterminator="\n")
        table.writerow(["south_deg", "west_deg", "low_m", "high_m"])
        table.writerows(cells)
    return 0


if __name__ == "__main__":
    sys.exit(main())
