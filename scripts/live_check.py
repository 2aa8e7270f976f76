"""Ask the real public services a few questions, and say what each answered.

    scripts/live_check [--station USW00013739] [--lat 39.87 --lon -75.24]
                       [--contact you@example.org]

MET Norway's terms want an address of who asks: without --contact (or CROSSDAY_CONTACT) it is not
asked, and that counts as failed.

For people with a network; not part of the tests. It could not be run where it was written: there
was no way to the public network, so addresses, queries and the forms of the answers come from the
services' documentation and from memory. The tests ask a server on their own computer that answers
in those forms. If a service has changed, this script says which, and the reader to mend is named.

Kept answers go to a temporary folder and are deleted. Exit code 0 if all answered, 3 if not.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from forecaster.fetch import met, ncei, near, nws, power, uscrn
from forecaster.fetch.session import Fetcher
from forecaster.ground.errors import ForecasterError


def daily(door: Fetcher, station: str, today: date) -> str:
    """This year's daily record: days, their age, and whether flags and place came with them."""
    found = ncei.daily_summaries(door.ask, station, today - timedelta(days=365), today, today)
    account = found.table.attrs["account"]
    behind = (today - found.table.index[-1].date()).days
    return (
        f"{len(found.table)} days, the last {behind} days ago; latitude {account.latitude_deg}; "
        f"{account.units}; {' '.join(account.notes) or 'no notes'}"
    )


def lists(door: Fetcher, latitude_deg: float, longitude_deg: float, today: date) -> str:
    """The lists of stations, and the best one near a place."""
    stations = ncei.parse_stations(door.ask(ncei.stations_request()).body)
    spans = ncei.parse_inventory(door.ask(ncei.inventory_request()).body)
    best = near.rank(
        stations, spans, latitude_deg, longitude_deg,
        elevation_m=near.usual_height_m(stations, latitude_deg, longitude_deg),
        years=15, this_year=today.year - (today.month <= 2),
    )  # fmt: skip
    first = f"{best[0].station.station} {best[0].station.name}" if best else "none near"
    return f"{len(stations):,} stations, {len(spans):,} with both extremes; first: {first}"


def reference(door: Fetcher, today: date) -> str:
    """Last year's file of one station of the reference network."""
    span = (date(today.year - 1, 1, 1), date(today.year - 1, 12, 31))
    return f"{len(uscrn.daily(door.ask, 'NE_Lincoln_11_SW', *span, today).table)} days"


def forecast(door: Fetcher, latitude_deg: float, longitude_deg: float) -> str:
    """The forecast of the coming days."""
    table = nws.outlook(door.ask, latitude_deg, longitude_deg).table
    return f"{len(table)} days from {table.index[0].date()}; columns {', '.join(table.columns)}"


def gridded(door: Fetcher, latitude_deg: float, longitude_deg: float, today: date) -> str:
    """The last two months of the gridded stand-in: days, how far behind, height of the square."""
    where = power.spot(latitude_deg, longitude_deg)
    found = power.daily(door.ask, where, today - timedelta(days=60), today, today)
    behind = (today - found.table.index[-1].date()).days
    columns = ", ".join(found.table.columns)
    return f"{len(found.table)} days, the last {behind} days ago; {columns}; {found.notes[1]}"


def elsewhere(door: Fetcher, latitude_deg: float, longitude_deg: float, contact: str | None) -> str:
    """The world's forecast of the coming days."""
    found = met.outlook(door.ask, latitude_deg, longitude_deg, contact=contact)
    table = found.table
    return f"{len(table)} whole days from {table.index[0].date()}; {found.notes[0]}"


def main(arguments: list[str] | None = None) -> int:
    """Ask everyone; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--station", default="USW00013739", help="a GHCN-Daily id")
    parser.add_argument("--lat", type=float, default=39.87)
    parser.add_argument("--lon", type=float, default=-75.24)
    parser.add_argument("--contact", default=os.environ.get("CROSSDAY_CONTACT"))
    options = parser.parse_args(arguments)
    today = date.today()
    failed = 0
    with tempfile.TemporaryDirectory() as folder, Fetcher(Path(folder, "kept.sqlite")) as door:
        questions: list[tuple[str, str, Callable[[], str]]] = [
            ("Daily record", "fetch/ncei.py", lambda: daily(door, options.station, today)),
            (
                "Station lists",
                "fetch/ncei.py",
                lambda: lists(door, options.lat, options.lon, today),
            ),
            ("Reference network", "fetch/uscrn.py", lambda: reference(door, today)),
            ("Forecast", "fetch/nws.py", lambda: forecast(door, options.lat, options.lon)),
            (
                "Gridded stand-in",
                "fetch/power.py",
                lambda: gridded(door, options.lat, options.lon, today),
            ),
            (
                "Forecast of the world",
                "fetch/met.py",
                lambda: elsewhere(door, options.lat, options.lon, options.contact),
            ),
        ]
        for name, reader, ask in questions:
            start = time.monotonic()
            try:
                words = ask()
            except ForecasterError as error:
                failed += 1
                words = f"FAILED ({reader}): {error}"
            print(f"{name}: {words} [{time.monotonic() - start:.1f} s]", flush=True)
    return 3 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
