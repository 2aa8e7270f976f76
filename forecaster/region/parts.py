"""What a run keeps as it goes: rows in Parquet parts, and what was asked, to go on from.

A run's folder stands beside its table until the table is whole. A part is written whole or not
at all, so that whatever ends a run leaves rows that are right, and none twice.
"""

from __future__ import annotations

import io
import json
import shutil
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from forecaster.ground import files
from forecaster.ground.errors import FileError, InputError
from forecaster.region.row import Row

ROWS_A_PART, SECONDS_A_PART = 500, 5.0
TOLD = "run.json"
_TYPES: Mapping[type, Any] = {
    int: pa.int64(), float: pa.float64(), str: pa.string(), date: pa.date32(), bool: pa.bool_(),
}  # fmt: skip


def schema_of(columns: Mapping[str, type]) -> Any:
    """Return the columns as Parquet has them."""
    return pa.schema([(name, _TYPES[kind]) for name, kind in columns.items()])


def parquet_bytes(table: Any) -> bytes:
    """Return a table as the bytes of a Parquet file with our mark."""
    buffer = io.BytesIO()
    with pq.ParquetWriter(buffer, table.schema, compression="zstd", store_schema=False) as writer:
        writer.write_table(table)
        writer.add_key_value_metadata({"crossday": files.PARQUET.words.decode()})
    return buffer.getvalue()


@dataclass(slots=True)
class Parts:
    """The folder of a run.

    Parameters
    ----------
    folder : Path
    columns : mapping of str to type
        Of its rows.
    """

    folder: Path
    columns: Mapping[str, type]
    _rows: list[Row] = field(default_factory=list)
    _count: int = 0
    _written_s: float = field(default_factory=time.monotonic)

    def begin(self, told: Mapping[str, Any]) -> None:
        """Make the folder, with what was asked in it."""
        self.folder.mkdir(exist_ok=True)
        self._write(TOLD, json.dumps({**told, **_BY}, indent=2).encode(), files.ANSWER)

    def told(self) -> dict[str, Any]:
        """Return what was asked when the run began.

        Raises
        ------
        FileError
            If that cannot be read.
        """
        path = self.folder / TOLD
        try:
            found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            raise FileError(
                "what was asked when the run began cannot be read",
                path=path,
                remedy="Begin again with --anew",
            ) from error
        return found

    @property
    def any(self) -> bool:
        """Whether a run has left rows here."""
        return bool(self._files())

    def done(self) -> dict[str, bool]:
        """Return the keys of the places whose rows are here, and whether each has an answer."""
        self._count = max((int(one.stem.split("-")[1]) for one in self._files()), default=-1) + 1
        keys: dict[str, bool] = {}
        for one in self._files():
            table = pq.read_table(one, columns=["key", "problem"])
            for key, problem in zip(*(c.to_pylist() for c in table.columns), strict=True):
                keys[key] = not problem
        return keys

    def add(self, rows: Sequence[Row]) -> None:
        """Take the rows of a place; write a part when there are many, or it has been long."""
        self._rows += rows
        late = time.monotonic() - self._written_s > SECONDS_A_PART
        if len(self._rows) >= ROWS_A_PART or late:
            self.flush()

    def flush(self) -> None:
        """Write what was taken since the last part."""
        if self._rows:
            table = pa.Table.from_pylist(self._rows, schema=schema_of(self.columns))
            self._write(f"part-{self._count:06d}.parquet", parquet_bytes(table), files.PARQUET)
            self._count += 1
            self._rows = []
        self._written_s = time.monotonic()

    def table(self, keys: Sequence[str] | None = None) -> Any:
        """Return all rows in the order of the places; of those keys only, if they are given."""
        found = [pq.read_table(one) for one in self._files()]
        if not found:
            return pa.Table.from_pylist([], schema=schema_of(self.columns))
        whole = pa.concat_tables(found)
        if keys is not None:
            whole = whole.filter(pa.compute.is_in(whole["key"], value_set=pa.array(keys)))
        return whole.sort_by([("order", "ascending")])

    def remove(self) -> None:
        """Take the folder away: its rows stand in the table."""
        shutil.rmtree(self.folder)

    def _files(self) -> list[Path]:
        return sorted(self.folder.glob("part-*.parquet"))

    def _write(self, name: str, content: bytes, mark: files.Mark) -> None:
        path = self.folder / name
        files.write([(files.Target(path, mark, repr(str(path))), content)])


_BY = {"written_by": "Crossday"}


def parts_beside(out: Path, columns: Mapping[str, type]) -> Parts:
    """Return the folder of the run whose table this is, there or not.

    Raises
    ------
    InputError
        If something else has its name.
    """
    folder = out.with_name(f"{out.name}.parts")
    if folder.exists() and not (folder / TOLD).is_file():
        raise InputError(
            f"{folder} is there and is no unfinished run; move it, or name another --out"
        )
    return Parts(folder, columns)
