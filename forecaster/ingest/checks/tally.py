"""Keeps count of every row while a reader works, and writes the account of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from forecaster.ground.arrays import Bools, Ints
from forecaster.ingest.account import Refusal

LISTED_PER_REASON = 100
LISTED_IN_ALL = 1000


class Tally:
    """One state a row: still used, or refused for exactly one reason.

    Parameters
    ----------
    lines : array of int
        Line number of each data row, counted from 1.
    file : str
        Name of the file; shown in refusals once tallies of several files are joined.
    """

    def __init__(self, lines: Ints, file: str = "") -> None:
        self.lines = lines
        self.files: list[str] = [file]
        self.file_of = np.zeros(len(lines), dtype=np.int32)
        self.reasons: list[str] = []
        self.state = np.full(len(lines), -1, dtype=np.int16)
        self.details: dict[int, str] = {}

    @classmethod
    def join(cls, tallies: Sequence[Tally]) -> Tally:
        """Return one tally over the rows of several, in order."""
        if len(tallies) == 1:
            return tallies[0]
        joined = cls(np.concatenate([t.lines for t in tallies]))
        joined.files = [name for t in tallies for name in t.files]
        starts = np.cumsum([0] + [len(t.files) for t in tallies[:-1]])
        joined.file_of = np.concatenate(
            [t.file_of + start for t, start in zip(tallies, starts, strict=True)]
        ).astype(np.int32)
        offset = 0
        for tally in tallies:
            codes = np.array([joined._code(r) for r in tally.reasons] + [-1], dtype=np.int16)
            joined.state[offset : offset + len(tally.lines)] = codes[tally.state]
            joined.details.update({offset + k: text for k, text in tally.details.items()})
            offset += len(tally.lines)
        return joined

    def _code(self, reason: str) -> int:
        if reason not in self.reasons:
            self.reasons.append(reason)
        return self.reasons.index(reason)

    @property
    def live(self) -> Bools:
        """Which rows are still used."""
        return self.state < 0

    @property
    def rows_used(self) -> int:
        """How many rows are still used."""
        return int(np.count_nonzero(self.state < 0))

    def refuse(
        self,
        rows: Bools,
        reason: str,
        seen: Sequence[object] | NDArray[np.object_] | NDArray[np.bytes_] | None = None,
    ) -> None:
        """Refuse the rows marked, unless they were refused before; `seen` shows their cells."""
        new = np.flatnonzero(rows & self.live)
        if not len(new):
            return
        self.state[new] = self._code(reason)
        if seen is not None:
            for row in new[:LISTED_PER_REASON]:
                self.details[int(row)] = f"{reason}: {_shown(seen[row])}"

    def counts(self) -> dict[str, int]:
        """Return the number of rows refused by reason."""
        found = np.bincount(self.state[self.state >= 0], minlength=len(self.reasons))
        return {r: int(n) for r, n in zip(self.reasons, found, strict=True) if n}

    def listed(self) -> tuple[Refusal, ...]:
        """Return the first refusals, in file order."""
        rows = [
            np.flatnonzero(self.state == code)[:LISTED_PER_REASON]
            for code in range(len(self.reasons))
        ]
        if not rows:
            return ()
        several = len(self.files) > 1
        return tuple(
            Refusal(
                line=int(self.lines[row]),
                reason=self.details.get(int(row), self.reasons[self.state[row]]),
                file=self.files[self.file_of[row]] if several else "",
            )
            for row in np.sort(np.concatenate(rows))[:LISTED_IN_ALL]
        )


def _shown(cell: object) -> str:
    """Return a cell as it is shown in a message: quoted and not too long."""
    if isinstance(cell, bytes):
        cell = cell.decode("utf-8", "replace")
    text = " ".join(str(cell).split())
    return repr(text if len(text) <= 40 else text[:37] + "...")
