"""The file of kept answers: only a file of ours, and never waited for without end."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from requests_cache.backends.base import BaseCache
from requests_cache.backends.sqlite import SQLiteCache, SQLiteDict

from forecaster.ground.errors import InputError

WAIT_S = 10.0
"""How long a command waits for another that writes there; it takes a fraction of a second."""
_TABLES = {"responses", "redirects"}
_MAGIC = b"SQLite format 3\x00"


class _Dict(SQLiteDict):
    """A table of the file; the library's own waits for a locked file for ever."""

    @contextmanager
    def _acquire_sqlite_lock(self) -> Iterator[None]:
        until = time.monotonic() + WAIT_S
        with self._lock:
            db = self._connection
            assert db is not None  # noqa: S101 - for the type checker; `connection` has made it
            while True:
                try:
                    db.execute("BEGIN IMMEDIATE")
                    break
                except sqlite3.OperationalError as error:
                    busy = getattr(error, "sqlite_errorname", "").startswith("SQLITE_BUSY")
                    if not busy or time.monotonic() > until:
                        raise
                    time.sleep(0.02)
            self._active_transaction = True
            try:
                yield
                db.commit()
            finally:
                self._active_transaction = False
                if db.in_transaction:
                    db.rollback()


class KeptAnswers(SQLiteCache):
    """Kept answers in one SQLite file, as JSON text."""

    def __init__(self, path: Path) -> None:
        BaseCache.__init__(self, cache_name=str(path))
        how: dict[str, Any] = {"decode_content": False, "timeout": 0.5}
        self.responses = _Dict(path, table_name="responses", serializer="json", **how)
        self.redirects = _Dict(
            path,
            table_name="redirects",
            lock=self.responses._lock,  # noqa: SLF001 - as the library
            serializer=None,
            **how,
        )


def refuse_other_file(path: Path) -> None:
    """Refuse a file that holds something else than kept answers, before a table is added to it.

    Raises
    ------
    InputError
        If it does.
    """
    if not path.exists():
        return
    if not path.is_file():
        raise InputError(f"{path}: a folder, a pipe or a device; name a file with --cache")
    with path.open("rb") as handle:
        head = handle.read(100)
    other = InputError(
        f"{path}: not a file of kept answers; it was left as it is. Name another with --cache"
    )
    if head and (not head.startswith(_MAGIC) or head[68:72] != bytes(4)):
        raise other
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, timeout=WAIT_S)) as db:
        rows = db.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
    if not {row[0] for row in rows if not row[0].startswith("sqlite_")} <= _TABLES:
        raise other
