"""Copies of the book, whole or not at all, and never over something that is there."""

from __future__ import annotations

import glob
import os
import re
import sqlite3
from contextlib import closing
from pathlib import Path

from forecaster.book.trouble import told
from forecaster.ground.errors import InputError

_LEFT = re.compile(r"\.part(\d{1,9})(?:\.old)?(?:-wal|-shm|-journal)?")


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
        os.fsencode(target)
        if "\0" in said:
            raise InputError(f"{said!r} is no name of a file; name another {what}")
        if target.is_symlink() or target.exists():
            raise InputError(f"{said!r} is there already; name a new {what}")
        if not target.parent.is_dir():
            raise InputError(f"{said!r}: its folder is not there; make it, or name another {what}")
    except UnicodeEncodeError as error:
        raise InputError(f"{said!r} is no name of a file; name another {what}") from error
    except OSError as error:
        raise InputError(f"{said!r}: {error.strerror}; name another {what}") from error


def put_in_place(part: Path, target: Path) -> bool:
    """Give a finished file its name, in one step and never over another; False if there is one.

    A kill leaves the target whole or not there at all.
    """
    try:
        os.link(part, target)
    except FileExistsError:
        return False
    except OSError:  # a file system without links
        if target.exists():
            return False
        part.rename(target)
        return True
    part.unlink()
    return True


def sweep(target: Path) -> None:
    """Remove what copies to this target left behind whose programs are gone (killed)."""
    for left in target.parent.glob(f"{glob.escape(target.name)}.part*"):
        number = re.fullmatch(
            r"\.part(\d{1,9})(?:\.old)?(?:-wal|-shm|-journal)?", left.name[len(target.name) :]
        )
        if number and left.is_file() and not _runs(int(number[1])):
            left.unlink(missing_ok=True)


def _runs(process: int) -> bool:
    """Whether a process is there; where that cannot be known, yes."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def copy_book(source: Path, target: Path) -> None:
    """Copy a book by SQLite's own backup, whole or not at all; never over another file.

    Raises
    ------
    InputError
        If the target is there already, or its folder is not.
    """
    refuse_target(target, "file for the copy")
    with told(target):
        sweep(target)
        part = target.with_name(f"{target.name}.part{os.getpid()}")
        try:
            with (
                closing(sqlite3.connect(f"{source.as_uri()}?mode=ro", uri=True)) as old,
                closing(sqlite3.connect(part)) as new,
            ):
                old.backup(new)
            if not put_in_place(part, target):
                raise InputError(f"{target} is there already; name a new file")
        finally:
            part.unlink(missing_ok=True)
