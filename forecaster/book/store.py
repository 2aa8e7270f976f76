"""One SQLite file opened with care: recognised, checked, migrated, written in one transaction."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from platformdirs import user_data_path

from forecaster.book import schema
from forecaster.book.copying import copy_book, plain
from forecaster.book.trouble import BookError, damaged, not_a_book, told
from forecaster.errors import DataMissing, FileError, InputError

WAIT_S = 20.0
"""How long a command waits for another that writes; an import takes a second or two."""
_HEADER = 100  # bytes: https://www.sqlite.org/fileformat2.html#the_database_header
_MAGIC = b"SQLite format 3\x00"
_APPLICATION_ID_AT = 68


def default_path() -> Path:
    """Return where the book lies unless told otherwise.

    `CROSSDAY_BOOK` if set, else ``crossday/garden.db`` in the user's data folder of the platform.

    Raises
    ------
    InputError
        If this user has no home folder.
    """
    if told_path := os.environ.get("CROSSDAY_BOOK"):
        return Path(told_path)
    try:
        return user_data_path("crossday", appauthor=False) / "garden.db"
    except RuntimeError as error:
        raise InputError("no home folder for a book; name a file in CROSSDAY_BOOK") from error


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(slots=True)
class Batch:
    """What one command adds, to be undone as one.

    Parameters
    ----------
    book : Book
    number : int
        The batch's number, which every row of it names.
    rows : int
        Rows added so far; a batch without any is not kept.
    """

    book: Book
    number: int
    rows: int = 0

    @property
    def db(self) -> sqlite3.Connection:
        """The open connection, within the batch's transaction."""
        return self.book.db


@dataclass(slots=True)
class Book:
    """An open book. Use `open_book`, and close it, or use it in a ``with`` statement.

    Parameters
    ----------
    path : Path
    db : Connection
        SQLite's own connection; transactions are begun explicitly.
    clock : callable
        Returns the time now, with a zone.
    backed_up : Path or None
        The copy made before a migration, if there was one.
    identity : (int, int)
        Device and number of the file, to notice that it was moved.
    """

    path: Path
    db: sqlite3.Connection
    clock: Callable[[], datetime] = _now
    backed_up: Path | None = None
    identity: tuple[int, int] = (0, 0)

    def __enter__(self) -> Self:
        """Return the book itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the book."""
        self.close()

    def close(self) -> None:
        """Close the file; what was not committed is not there."""
        self.db.close()

    def stamp(self) -> str:
        """Return the time now, UTC, to the second."""
        return self.clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")

    @contextmanager
    def changing(self) -> Iterator[sqlite3.Connection]:
        """Do everything within in one transaction, or nothing of it.

        Waits for another writer; raises `BookError` if that takes too long, the disk is full,
        the file read-only, or if it is no longer where it was.
        """
        with told(self.path, system=False):
            self.db.execute("BEGIN IMMEDIATE")
            try:
                yield self.db
                self._refuse_if_moved()
                self.db.execute("COMMIT")
            finally:
                if self.db.in_transaction:
                    self.db.execute("ROLLBACK")

    @contextmanager
    def batch(self, kind: str, source: str) -> Iterator[Batch]:
        """Add rows in one transaction as one batch, which `undo` takes back as one.

        A batch that adds no row is not kept.
        """
        with self.changing() as db:
            values = (kind, plain(source), self.stamp())
            made = db.execute(
                "INSERT INTO batches (kind, source, made_at) VALUES (?, ?, ?)", values
            )
            batch = Batch(self, int(made.lastrowid or 0))
            yield batch
            if batch.rows == 0:
                db.execute("DELETE FROM batches WHERE id = ?", (batch.number,))

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Read within one view of the book, whatever others write meanwhile."""
        with told(self.path, system=False):
            nested = self.db.in_transaction
            if not nested:
                self.db.execute("BEGIN")
            try:
                yield self.db
            finally:
                if not nested and self.db.in_transaction:
                    self.db.execute("ROLLBACK")

    def _refuse_if_moved(self) -> None:
        """Refuse to commit into a file that is no longer at its path."""
        try:
            there = _identity(self.path)
        except OSError:
            there = (0, 0)
        if there != self.identity:
            raise BookError(
                f"{self.path}: the book was moved or removed while it was in use. "
                "Nothing was written; look where it is"
            )


def _identity(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_dev, found.st_ino


def open_book(
    path: Path | str | None = None,
    *,
    create: bool = False,
    wait_s: float = WAIT_S,
    clock: Callable[[], datetime] = _now,
) -> Book:
    """Open a book: recognised by its header, checked, and brought to this version.

    Parameters
    ----------
    path : path, optional
        The file; default as `default_path` says.
    create : bool
        Whether to make it if it is not there.
    wait_s : float
        Seconds to wait for another program that writes.
    clock : callable
        Tells the time now, with a zone.

    Returns
    -------
    Book

    Raises
    ------
    DataMissing
        If there is no such file, or no such folder.
    FileError
        If the file is no book, is damaged, or was written by a later version.
    BookError
        If it is locked, read-only or out of reach.
    """
    file = _place(path, create=create)
    with told(file):
        _recognise(file, create=create)
        mode = "rwc" if create else "rw"
        db = sqlite3.connect(
            f"{file.as_uri()}?mode={mode}", uri=True, timeout=wait_s, isolation_level=None
        )
        book = Book(file, db, clock)
        try:
            _settle(book, create=create)
        except BaseException:
            db.close()
            raise
    return book


def _place(path: Path | str | None, *, create: bool) -> Path:
    """Return the absolute path of a book that is there, or whose folder is."""
    if path is not None and (not str(path).strip() or "\0" in str(path)):
        raise InputError(f"--book is {str(path)!r}; expected the name of a file")
    file = (default_path() if path is None else Path(path)).absolute()
    if path is None and create and "CROSSDAY_BOOK" not in os.environ:
        with told(file):
            file.parent.mkdir(parents=True, exist_ok=True)
    with told(file):
        if file.is_dir():
            raise FileError("a folder", path=file, expected="a file that is a garden book")
        if not file.parent.is_dir():
            raise DataMissing(
                f"{file}: there is no folder {str(file.parent)!r}; make it, or name another book"
            )
        if not create and not file.exists():
            raise DataMissing(
                f"{file}: there is no garden book yet. Begin one: crossday book start --lat 36.2S"
            )
    return file


def _recognise(file: Path, *, create: bool) -> None:
    """Refuse a file that is no book before SQLite touches it."""
    if not file.exists():
        return
    with file.open("rb") as handle:
        header = handle.read(_HEADER)
    if not header:
        if create:
            return
        raise not_a_book(file, "an empty file")
    if len(header) < _HEADER or not header.startswith(_MAGIC):
        raise not_a_book(file)
    mark = int.from_bytes(header[_APPLICATION_ID_AT : _APPLICATION_ID_AT + 4], "big")
    if mark != schema.APPLICATION_ID:
        raise not_a_book(file, "a database of another program")


def _settle(book: Book, *, create: bool) -> None:
    """Make, check and migrate the tables, and set the connection up."""
    db = book.db
    version = _number(db, "user_version")
    if version == 0 and create:
        _make(book)
    else:
        _refuse_later(book.path, version)
        if (found := db.execute("PRAGMA quick_check(1)").fetchone()[0]) != "ok":
            raise damaged(book.path, str(found))
        if version < schema.VERSION:
            _migrate(book)
    book.identity = _identity(book.path)
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("PRAGMA synchronous = FULL")
    if db.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        _use_wal(db)


def _use_wal(db: sqlite3.Connection) -> None:
    """Switch to write-ahead logging; if another holds the book just now, a later opening will."""
    try:
        db.execute("PRAGMA journal_mode = WAL")
    except sqlite3.OperationalError as error:
        if not error.sqlite_errorname.startswith("SQLITE_BUSY"):
            raise


def _number(db: sqlite3.Connection, pragma: str) -> int:
    return int(db.execute(f"PRAGMA {pragma}").fetchone()[0])


def _refuse_later(path: Path, version: int) -> None:
    if version > schema.VERSION:
        raise FileError(
            f"the book has tables of version {version}, written by a later crossday",
            path=path,
            expected=f"version {schema.VERSION} or earlier",
            remedy="It was left as it is; install a newer crossday.",
        )


def _make(book: Book) -> None:
    """Make the tables in one transaction, unless another process has just done so."""
    db = book.db
    book.identity = _identity(book.path)
    with book.changing():
        if _number(db, "user_version") == 0:
            _step_up(db, 0)
            db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")


def _step_up(db: sqlite3.Connection, version: int) -> None:
    """Take the tables from a version to this one, within the caller's transaction."""
    for step in range(version, schema.VERSION):
        schema.STEPS[step](db)
    db.execute(f"PRAGMA user_version = {schema.VERSION:d}")
    if db.execute("PRAGMA foreign_key_check").fetchone() is not None:
        raise sqlite3.DatabaseError("rows refer to rows that are not there")


def _migrate(book: Book) -> None:
    """Bring an older book to this version; a dated copy is made first.

    The copy is read by a second connection while this one holds the only right to write, so
    that it is exactly what the migration starts from.
    """
    db = book.db
    book.identity = _identity(book.path)
    with book.changing():
        version = _number(db, "user_version")
        if version >= schema.VERSION:
            return
        name = f"{book.path.stem}.version{version}.{book.clock():%Y-%m-%dT%H%M%S}.db"
        copy = book.path.with_name(name)
        copy_book(book.path, copy)
        _step_up(db, version)
        book.backed_up = copy
