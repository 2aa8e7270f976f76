"""Make data/outlines.csv.gz, the coasts and borders of a region's map.

    npm pack world-atlas@2.0.2 us-atlas@3.0.1
    python scripts/make_outlines.py world-atlas-2.0.2.tgz us-atlas-3.0.1.tgz

Coasts and borders of countries: Natural Earth 1:50m, public domain, as the npm package world-atlas
carries it (ISC licence). Borders of the states of the US: the Census Bureau's cartographic
boundary files of 2017, public domain, as us-atlas carries them (ISC). Both are TopoJSON: lines
shared by two areas are borders, the others coasts. Lines are thinned so that none moves by more
than 0.02° (some 2 km), and islands smaller than 0.1° are left out. A row is a line: its kind, and
its points in hundredths of a degree as differences, longitude and latitude in turn.
"""

from __future__ import annotations

import csv
import gzip
import io
import json
import sys
import tarfile
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np

OUT = Path(__file__).resolve().parent.parent / "data" / "outlines.csv.gz"
MOVES_DEG, SMALL_DEG, STEP_DEG = 0.02, 0.1, 0.01


def load(package: str, name: str) -> dict:
    """Return one file of an npm package as it comes."""
    with tarfile.open(package) as archive:
        return json.load(archive.extractfile(f"package/{name}"))


def arcs_of(atlas: dict) -> list[np.ndarray]:
    """Return a topology's lines in degrees: they are stored as whole steps, as differences."""
    scale, start = (np.array(atlas["transform"][key]) for key in ("scale", "translate"))
    return [np.cumsum(np.array(arc), axis=0) * scale + start for arc in atlas["arcs"]]


def uses(geometry: dict) -> Iterator[int]:
    """Yield the lines that an object's areas use; one that runs backward counts as itself."""
    for one in geometry.get("geometries", [geometry]):
        stack = [one.get("arcs", [])]
        while stack:
            top = stack.pop()
            if isinstance(top, int):
                yield top if top >= 0 else ~top
            else:
                stack += top


def thinned(line: np.ndarray) -> np.ndarray:
    """Return a line without the points that its neighbours foretell (Douglas & Peucker 1973)."""
    keep = np.zeros(len(line), dtype=bool)
    keep[[0, -1]] = True
    closed = np.array_equal(line[0], line[-1])
    if closed:
        keep[int(np.argmax(np.hypot(*(line - line[0]).T)))] = True
    ends = np.flatnonzero(keep)
    stack = list(pairwise(ends))
    while stack:
        first, last = stack.pop()
        if last - first < 2:
            continue
        way = line[last] - line[first]
        apart = line[first + 1 : last] - line[first]
        off = np.abs(way[0] * apart[:, 1] - way[1] * apart[:, 0]) / max(np.hypot(*way), 1e-9)
        worst = int(np.argmax(off))
        if off[worst] > MOVES_DEG:
            middle = first + 1 + worst
            keep[middle] = True
            stack += [(first, middle), (middle, last)]
    return line[keep]


def rows_of(atlas: dict, areas: str, *, edge: str, shared: str) -> Iterator[tuple[str, str]]:
    """Yield a row for each line: `shared` where two areas meet, else `edge`; "" leaves it out."""
    count = Counter(uses(atlas["objects"][areas]))
    for at, line in enumerate(arcs_of(atlas)):
        kind = {1: edge, 2: shared}.get(count[at], "")
        if not kind or np.ptp(line, axis=0).max() < SMALL_DEG:
            continue
        steps = np.round(thinned(line) / STEP_DEG).astype(int)
        steps = steps[np.append(True, np.any(np.diff(steps, axis=0) != 0, axis=1))]
        if len(steps) > 1:
            told = np.vstack([steps[:1], np.diff(steps, axis=0)]).ravel()
            yield kind, " ".join(map(str, told))


def main() -> None:
    """Write the table; the same packages give the same bytes."""
    world, states = sys.argv[1:]
    rows = list(
        rows_of(load(world, "countries-50m.json"), "countries", edge="coast", shared="country")
    )
    rows += rows_of(load(states, "states-10m.json"), "states", edge="", shared="state")
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(("kind", "points"))
    table.writerows(rows)
    OUT.write_bytes(gzip.compress(text.getvalue().encode(), 9, mtime=0))
    print(f"{OUT.name}: {len(rows):,} lines, {OUT.stat().st_size:,} bytes")


if __name__ == "__main__":
    main()
