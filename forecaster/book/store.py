"""One SQLite file opened with care: recognised, checked, migrated, written in one transaction."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from platformdirs import user_data_path

from forecaster.book import schema, sums
from forecaster.book.copying import copy_book, plain, put_in_place, sweep
from forecaster.book.sound import Sound, stamp
from forecaster.book.trouble import BookError, damaged, not_a_book, told
from forecaster.ground.errors import DataMissing, FileError, InputError

WAIT_S = 20.0
"""How long a command waits for another that writes; an import takes a second or two."""
SMALL_BYTES = 8_000_000  # some hundred thousand readings
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


@dataclass(slots=True, kw_only=True)
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
    made : bool
        Whether this opening made it.
    sound : Sound or None
        Where it is remembered that the book is sound, by a program that opens it often.
    """

    path: Path
    db: sqlite3.Connection
    clock: Callable[[], datetime] = _now
    backed_up: Path | None = None
    identity: tuple[int, int] = (0, 0)
    made: bool = False
    sound: Sound | None = None
    wrote: bool = False

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
        if self.sound is not None and self.wrote:
            with suppress(OSError):
                self.sound.stamp = stamp(self.path)

    def discard_if_empty(self) -> None:
        """Close, and take away a book that this opening made and nothing was written into."""
        try:
            empty = self.made and not self.db.execute("SELECT 1 FROM batches").fetchone()
        except sqlite3.Error:
            empty = False
        self.close()
        if empty:
            self.path.unlink(missing_ok=True)

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
                self.wrote = True
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
            since = sums.last_rows(db)
            yield batch
            if batch.rows == 0:
                db.execute("DELETE FROM batches WHERE id = ?", (batch.number,))
            else:
                sums.seal(db, "batch", batch.number, since)

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
    sound: Sound | None = None,
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
    sound : Sound, optional
        For a program that opens the book often: it is added up only if it changed since.

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
        made = create and _make(file)
        _recognise(file)
        db = sqlite3.connect(
            f"{file.as_uri()}?mode=rw", uri=True, timeout=wait_s, isolation_level=None
        )
        book = Book(path=file, db=db, clock=clock, made=made, sound=sound)
        try:
            _settle(book)
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
        if file.exists() and not file.is_file():
            raise FileError(
                "a pipe or a device", path=file, expected="a file that is a garden book"
            )
        if not file.parent.is_dir():
            raise DataMissing(
                f"{file}: there is no folder {str(file.parent)!r}; make it, or name another book"
            )
        if not create and not file.exists():
            raise DataMissing(
                f"{file}: there is no garden book yet. Begin one: crossday book start --lat 36.2S"
            )
    return file


def _make(file: Path) -> bool:
    """Make an empty book where nothing is, or an empty file; return whether it was made.

    It is built aside and put in place whole, so that whoever is killed leaves no half of one.
    """
    sweep(file)  # also beside a book: who is killed between its two names leaves the other
    if file.exists() and (file.stat().st_size > 0 or not file.is_file()):
        return False
    part = file.with_name(f"{file.name}.part{os.getpid()}")
    try:
        db = sqlite3.connect(part, isolation_level=None)
        try:
            db.execute("BEGIN IMMEDIATE")
            schema.step_up(db, 0)
            db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
            db.execute("COMMIT")
        finally:
            db.close()
        if file.exists() and file.stat().st_size == 0:
            part.replace(file)
            return True
        return put_in_place(part, file)
    finally:
        part.unlink(missing_ok=True)


def _recognise(file: Path) -> None:
    """Refuse a file that is no book before SQLite touches it."""
    with file.open("rb") as handle:
        header = handle.read(_HEADER)
    if not header:
        raise not_a_book(file, "an empty file")
    if len(header) < _HEADER or not header.startswith(_MAGIC):
        raise not_a_book(file)
    mark = int.from_bytes(header[_APPLICATION_ID_AT : _APPLICATION_ID_AT + 4], "big")
    if mark != schema.APPLICATION_ID:
        raise not_a_book(file, "a database of another program")


def _settle(book: Book) -> None:
    """Check and migrate the tables, and set the connection up."""
    db = book.db
    version = _number(db, "user_version")
    _refuse_later(book.path, version)
    now = stamp(book.path)
    if book.sound is None or book.sound.stamp != now:
        _check(book, version)
        if book.sound is not None:
            book.sound.stamp = now
    if version < schema.VERSION:
        _migrate(book)
    book.identity = _identity(book.path)
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("PRAGMA synchronous = FULL")
    if db.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        _use_wal(db)


def _check(book: Book, version: int) -> None:
    """Refuse a book whose pages, tables or values are not as they were written.

    SQLite's own check and the sums of the rows each read every row. Of a large book only the
    sums are checked, and the index of its readings, so that opening it takes no longer.
    """
    db = book.db
    if version < 1 or schema.text_of(db) != schema.expected_text(version):
        raise damaged(book.path, "its tables are not declared as a book's are")
    summed = version >= schema.FIRST_WITH_SUMS
    if not summed or book.path.stat().st_size <= SMALL_BYTES:
        found = str(db.execute("PRAGMA quick_check(1)").fetchone()[0])
        if found != "ok":
            raise damaged(book.path, found)
    if not summed:
        return
    with book.reading():  # one view of the book, whoever writes meanwhile
        if sums.index_wrong(db):  # quick_check does not compare an index with its table
            raise damaged(book.path, "its index of readings does not lead to all of them")
        found = sums.wrong(db)
    if found:
        raise damaged(book.path, found)


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
        stem = f"{book.path.stem}.version{version}.{book.clock():%Y-%m-%dT%H%M%S}"
        copy = book.path.with_name(f"{stem}.db")
        again = 1
        while copy.exists():  # of a migration that failed or was killed just now
            again += 1
            copy = book.path.with_name(f"{stem}.{again}.db")
        copy_book(book.path, copy)
        schema.step_up(db, version)
        book.backed_up = copy
