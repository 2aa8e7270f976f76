"""A book found sound is not added up again while nobody has written into its files.

For a program that opens a book many times, as the page does. What changes in a file without its
times, as a failing disk may do it, is noticed by the next program, or at the next change.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

Stamp = tuple[tuple[int, int, int, int], ...]


@dataclass(slots=True)
class Sound:
    """How the files of a book stood when they were last found sound, or written by ourselves."""

    stamp: Stamp = ()


def stamp(path: Path) -> Stamp:
    """Return by which a change of a book's files is known: which they are, how long, how old."""
    found = []
    for file in (path, path.with_name(f"{path.name}-wal")):
        try:
            told = file.stat()
        except FileNotFoundError:
            continue
        if told.st_size or file == path:
            found.append((told.st_dev, told.st_ino, told.st_size, told.st_mtime_ns))
    return tuple(found)
