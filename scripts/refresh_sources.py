"""Write the checksums in data/SOURCES.csv anew, keeping the words people wrote there.

    python scripts/refresh_sources.py            # update; a file without words is refused
    python scripts/refresh_sources.py --check    # change nothing, exit 1 if anything differs

A new file gets its row by hand: add ``path,,origin,licence,units,day_convention`` to the table,
then run this. Rows of files that are gone are dropped and said so.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import sys
from pathlib import Path

HEADING = ["path", "sha256", "origin", "licence", "units", "day_convention"]
TABLE = "SOURCES.csv"


def data_files(folder: Path) -> list[str]:
    """Return every file below the data folder but the table itself, as sorted posix paths."""
    found = (path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    hidden = (path for path in found if not any(part.startswith(".") for part in path.parts))
    return sorted(path.as_posix() for path in hidden if path.as_posix() != TABLE)


def sha256(path: Path) -> str:
    """Return the file's checksum in hexadecimal."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def read_table(folder: Path) -> dict[str, dict[str, str]]:
    """Return the rows of the table by path."""
    with (folder / TABLE).open(encoding="utf-8", newline="") as handle:
        return {row["path"]: row for row in csv.DictReader(handle)}


def refreshed(folder: Path) -> tuple[str, list[str], list[str]]:
    """Return the table's new text, the files that nobody described, and the rows dropped."""
    rows = read_table(folder)
    files = data_files(folder)
    undescribed = [
        name for name in files if not all(rows.get(name, {}).get(key) for key in HEADING[2:])
    ]
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, HEADING, lineterminator="\n")
    writer.writeheader()
    for name in files:
        if name in rows:
            writer.writerow(rows[name] | {"sha256": sha256(folder / name)})
    return buffer.getvalue(), undescribed, sorted(set(rows) - set(files))


def main() -> int:
    """Refresh or check the table; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="change nothing; exit 1 on any drift")
    parser.add_argument(
        "--data", type=Path, default=Path(__file__).resolve().parent.parent / "data", help="folder"
    )
    options = parser.parse_args()
    text, undescribed, dropped = refreshed(options.data)
    table = options.data / TABLE
    changed = text != table.read_text(encoding="utf-8")
    for name in undescribed:
        print(f"{name}: not described; add its origin, licence, units and day convention")
    for name in dropped:
        print(f"{name}: gone; its row {'should be' if options.check else 'was'} dropped")
    if changed and options.check:
        print("checksums differ; run python scripts/refresh_sources.py")
    elif changed:
        table.write_text(text, encoding="utf-8")
        print(f"{table.name}: written")
    return 1 if undescribed or (options.check and changed) else 0


if __name__ == "__main__":
    sys.exit(main())
