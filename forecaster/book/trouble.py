"""What can go wrong with the book's file, in one line each."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from forecaster.ground.errors import FileError, ForecasterError


class BookError(ForecasterError, RuntimeError):
    """The book's file could not be read or written for a reason outside the program."""


# Primary result codes and their meaning: https://www.sqlite.org/rescode.html
_SAID = {
    "SQLITE_BUSY": "is in use by another program, and stayed so. Nothing was written; try again",
    "SQLITE_LOCKED": "is in use by another program, and stayed so. Nothing was written; try again",
    "SQLITE_FULL": "cannot grow: the disk is full. Nothing of this was written; make room",
    "SQLITE_READONLY": "cannot be written: it, or its folder, is read-only, or was moved. "
    "Nothing was written; allow writing there, or name another with --book",
    "SQLITE_CANTOPEN": "cannot be opened: its folder is gone, or may not be read or written. "
    "Look whether it is there, or name another with --book",
    "SQLITE_IOERR": "cannot be read or written: the disk fails, or went away. "
    "Nothing of this was written; look after the disk",
    "SQLITE_PERM": "may not be opened: permission is refused",
    "SQLITE_AUTH": "may not be opened: permission is refused",
}
_ROOM_BYTES = 65_536  # less than a log of what is being written takes
_DAMAGED = (
    "Restore a backup (crossday book backup makes them), or save what can be read: "
    "crossday book salvage NEW.db"
)


@contextmanager
def told(path: Path, *, system: bool = True) -> Iterator[None]:
    """Turn what SQLite, and the system if asked, say about a book into one clear error.

    Raises
    ------
    FileError
        If the file is no book, or damaged.
    BookError
        If it is locked, read-only, out of reach, or the disk is full.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise in_words(error, path) from error
    except OSError as error:
        if not system:
            raise
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise BookError(f"{path}: the disk is full. Nothing was written; make room") from error
        raise BookError(f"{path}: {error.strerror or error}. Nothing was written") from error


def in_words(error: sqlite3.Error, path: Path) -> ForecasterError:
    """Return the error that says in plain words what SQLite reports."""
    name = getattr(error, "sqlite_errorname", "") or ""
    primary = "_".join(name.split("_")[:2])
    if (
        primary == "SQLITE_CANTOPEN"
        and path.parent.is_dir()
        and not os.access(path.parent, os.W_OK)
    ):
        primary = "SQLITE_READONLY"  # beside the book lies the log of what is being written
    if primary == "SQLITE_IOERR" and _full(path):
        primary = "SQLITE_FULL"
    if primary in _SAID:
        return BookError(f"{path}: the book {_SAID[primary]}")
    if primary == "SQLITE_NOTADB":
        return not_a_book(path)
    if primary == "SQLITE_CORRUPT" or "decode to UTF-8" in str(error):
        return damaged(path, str(error))
    return BookError(f"{path}: the book could not be used: {error}. Nothing was written")


def _full(path: Path) -> bool:
    """Whether the disk has no room: SQLite may take that for a failing one."""
    try:
        return shutil.disk_usage(path.parent).free < _ROOM_BYTES
    except OSError:
        return False


def not_a_book(path: Path, seen: str = "another kind of file") -> FileError:
    """Return the error for a file that is no book."""
    return FileError(
        f"{seen}, not a garden book",
        path=path,
        remedy="It was left as it is; name a book with --book, or a new file with book start.",
    )


def damaged(path: Path, found: str) -> FileError:
    """Return the error for a book that fails SQLite's own check."""
    return FileError(f"the book is damaged: {found}", path=path, remedy=_DAMAGED)
