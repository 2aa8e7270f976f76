"""Copies of the book, whole or not at all, and never over something that is there."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from forecaster.book.trouble import told
from forecaster.errors import InputError


def plain(text: str) -> str:
    """Return text as the book can keep it; half characters from odd file names are escaped."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def refuse_target(target: Path, what: str) -> None:
    """Refuse to write where something is already, or where nothing can be.

    Raises
    ------
    InputError
        With what to do about it.
    """
    said = plain(str(target))[:200]
    try:
        if "\0" in said:
            raise InputError(f"{said!r} is no name of a file; name another {what}")
        if target.is_symlink() or target.exists():
            raise InputError(f"{said!r} is there already; name a new {what}")
        if not target.parent.is_dir():
            raise InputError(f"{said!r}: its folder is not there; make it, or name another {what}")
    except OSError as error:
        raise InputError(f"{said!r}: {error.strerror}; name another {what}") from error


def copy_book(source: Path, target: Path) -> None:
    """Copy a book by SQLite's own backup, whole or not at all; never over another file.

    Raises
    ------
    InputError
        If the target is there already, or its folder is not.
    """
    refuse_target(target, "file for the copy")
    part = target.with_name(f"{target.name}.part{os.getpid()}")
    with told(target):
        try:
            with (
                closing(sqlite3.connect(f"{source.as_uri()}?mode=ro", uri=True)) as old,
                closing(sqlite3.connect(part)) as new,
            ):
                old.backup(new)
            target.touch(exist_ok=False)
            part.replace(target)
        except FileExistsError as error:
            raise InputError(f"{target} is there already; name a new file") from error
        finally:
            part.unlink(missing_ok=True)
