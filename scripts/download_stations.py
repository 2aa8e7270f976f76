"""Download the public station files that the soil model was fitted on.

    python scripts/download_stations.py DIR [--years 2002-2024] [--stations NAME ...]

For each station of data/stations.csv the yearly daily01 files of the US Climate Reference Network
are fetched into DIR/raw (kept, so that a second run asks only for what is missing), and one
DIR/NAME.csv.gz is written with
    date,tmax_c,tmin_c,tavg_c,soil5_c,soil10_c,soil20_c,precip_mm
where a missing value is blank and the day is local standard time; DIR/stations.csv gives name,
latitude and longitude. The data are in the public domain. Cite Diamond et al. 2013 (doi
10.1175/BAMS-D-12-00170.1) and Bell et al. 2013 (doi 10.1175/JHM-D-12-0146.1).

One file at a time, with a pause between requests; a year a station did not run (404) is skipped
and counted; other failures are tried again, then end the run with exit code 3.

Tested: the conversion against yearly files of the network as they were published and daily tables
made from them by others; fetching, retrying, skipping and resuming against a server on this
computer. Not tested: the public server itself. Its address and file names are as the network
publishes them; a change there would show as every year being skipped, which is an error here.
"""

from __future__ import annotations

import argparse
import csv
import gzip
import http.client
import io
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterable, Iterator
from http import HTTPStatus
from pathlib import Path

BASE = "https://www.ncei.noaa.gov/pub/data/uscrn/products/daily01"
USER_AGENT = "crossday-download-stations/0.1 (python urllib; one file at a time)"
STATIONS = Path(__file__).resolve().parent.parent / "data" / "stations.csv"
HEADING = ("date", "tmax_c", "tmin_c", "tavg_c", "soil5_c", "soil10_c", "soil20_c", "precip_mm")
# Field numbers of daily01, counted from 1 as its documentation does. Field 8 is (max+min)/2.
DATE_FIELD, VALUE_FIELDS, FIELDS = 2, (6, 7, 9, 24, 25, 26, 10), 28
# The codes are −9999.0 and −99.000; nothing measured here lies below −90.
MISSING_BELOW = -90.0


class FetchError(RuntimeError):
    """The server did not answer as it should."""


def convert(lines: Iterable[str], name: str = "daily01") -> Iterator[tuple[str, ...]]:
    """Yield one row of text cells a day from the lines of a daily01 file, missing values blank."""
    for number, line in enumerate(lines, start=1):
        fields = line.split()
        if not fields:
            continue
        if len(fields) != FIELDS:
            raise ValueError(f"{name}, line {number}: {len(fields)} fields; expected {FIELDS}")
        day = fields[DATE_FIELD - 1]
        values = (fields[field - 1] for field in VALUE_FIELDS)
        cells = ("" if float(value) < MISSING_BELOW else value for value in values)
        yield (f"{day[:4]}-{day[4:6]}-{day[6:]}", *cells)


def station_gz(texts: Iterable[tuple[str, str]]) -> bytes:
    """Return the packed table of one station from (file name, text) of its years."""
    rows = {row[0]: row for name, text in texts for row in convert(text.splitlines(), name)}
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(HEADING)
    writer.writerows(rows[day] for day in sorted(rows))
    return gzip.compress(buffer.getvalue().encode(), mtime=0)


def fetch(url: str, *, tries: int = 4, pause_s: float = 2.0) -> bytes | None:
    """Return what an address holds, or None if the server says there is nothing there."""
    request = urllib.request.Request(url, headers={"User-Agent": USER_AGENT})  # noqa: S310
    reason: Exception | None = None
    for attempt in range(tries):
        if attempt:
            time.sleep(pause_s * 2 ** (attempt - 1))
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310
                body: bytes = answer.read()
        except urllib.error.HTTPError as error:
            error.close()
            if error.code == HTTPStatus.NOT_FOUND:
                return None
            reason = error
            if error.code < HTTPStatus.INTERNAL_SERVER_ERROR and error.code != (
                HTTPStatus.TOO_MANY_REQUESTS
            ):
                break
        except (OSError, http.client.HTTPException) as error:  # refused, slow or cut short
            reason = error
        else:
            return body
    raise FetchError(f"{url}: {reason}")


def _write(path: Path, content: bytes) -> None:
    """Write a file whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(path.name + ".part")
    part.write_bytes(content)
    part.replace(path)


def download_station(
    name: str, years: Iterable[int], folder: Path, *, base: str = BASE, pause_s: float = 0.5
) -> tuple[int, int]:
    """Fetch a station's years into folder/raw and write its table.

    Returns the number of years found and of years the server does not have.
    """
    texts, absent = [], 0
    for year in years:
        file_name = f"CRND0103-{year}-{name}.txt"
        kept = folder / "raw" / name / file_name
        if not kept.exists():
            body = fetch(f"{base}/{year}/{file_name}", pause_s=4 * pause_s)
            time.sleep(pause_s)
            if body is None:
                absent += 1
                continue
            _write(kept, body)
        texts.append((file_name, kept.read_text(encoding="ascii")))
    if texts:
        _write(folder / f"{name}.csv.gz", station_gz(texts))
    return len(texts), absent


def _years(text: str) -> range:
    first, _, last = text.partition("-")
    return range(int(first), int(last or first) + 1)


def main(arguments: list[str] | None = None) -> int:
    """Download what was asked for; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, metavar="DIR")
    parser.add_argument("--years", type=_years, default=range(2002, 2025), help="as 2009-2024")
    parser.add_argument("--stations", nargs="+", help="only these names of data/stations.csv")
    parser.add_argument("--base", default=BASE, help="address of the daily01 folder")
    parser.add_argument("--pause", type=float, default=0.5, help="seconds between requests")
    options = parser.parse_args(arguments)
    with STATIONS.open(encoding="utf-8", newline="") as handle:
        known = {row["station"]: row for row in csv.DictReader(handle)}
    names = options.stations or list(known)
    if unknown := sorted(set(names) - set(known)):
        print(f"not in {STATIONS.name}: {', '.join(unknown)}", file=sys.stderr)
        return 2
    empty = []
    for count, name in enumerate(names, start=1):
        try:
            found, absent = download_station(
                name, options.years, options.folder, base=options.base, pause_s=options.pause
            )
        except (FetchError, ValueError) as error:
            print(f"{name}: {error}", file=sys.stderr)
            return 3
        print(f"{count}/{len(names)} {name}: {found} years, {absent} not there", flush=True)
        empty += [] if found else [name]
    if empty:
        print(
            f"nothing found for {', '.join(empty)}; does {options.base} still hold daily01?",
            file=sys.stderr,
        )
        return 3
    table = "station,lat,lon\n" + "".join(
        f"{name},{known[name]['lat']},{known[name]['lon']}\n" for name in names
    )
    _write(options.folder / "stations.csv", table.encode())
    return 0


if __name__ == "__main__":
    sys.exit(main())
