"""An answer's bytes → daily air through the file readers, with the service named in errors."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pandas as pd

from forecaster.fetch.ask import Answer, NoDays
from forecaster.ground.errors import DataMissing, FileError
from forecaster.ingest import account_of, read_air


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """A checked table from a public service, and how old it is.

    Parameters
    ----------
    table : DataFrame
        Daily index, ``tmin_c`` and ``tmax_c`` in °C, ``precip_mm`` where there is any;
        ``attrs["account"]`` says how it was understood.
    source : str
        Who was asked for what, in words.
    fetched : datetime
        When the oldest answer that can still change was last given or confirmed (UTC).
    age : timedelta
        Time since then.
    stale : bool
        Whether an older answer serves because the service did not.
    why : str
        Why, "" where it is fresh.
    notes : tuple of str
        Anything else the user should know, a sentence each.
    """

    table: pd.DataFrame
    source: str
    fetched: datetime
    age: timedelta
    stale: bool = False
    why: str = ""
    notes: tuple[str, ...] = ()


def air_of(bodies: Sequence[bytes], source: str, *, units: str | None = None) -> pd.DataFrame:
    """Read answers of one station as `read_air` reads its files.

    Raises
    ------
    DataMissing
        If they hold no daily air.
    """
    filled = [body for body in bodies if body.strip()]
    if not filled:
        raise NoDays(f"{source}: the service has no days; check the station and the years")
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for number, body in enumerate(filled):
            paths.append(Path(folder, f"{number:04d}.txt"))
            paths[-1].write_bytes(body)
        try:
            table = read_air(list(paths), units=units)
        except FileError as error:
            problem = error.problem + (f"; expected {error.expected}" if error.expected else "")
            raise DataMissing(f"{source}: the answer cannot be used: {problem}") from error
    account = account_of(table)
    table.attrs["account"] = replace(
        account,
        path=source,
        files=(),
        refused=tuple(replace(refusal, file="") for refusal in account.refused),
    )
    return table


def combine(
    table: pd.DataFrame, answers: Sequence[Answer], source: str, notes: Sequence[str] = ()
) -> Fetched:
    """Join a table with the age of the answers it was made from.

    Answers that are fresh for ever do not make a record old; the youngest answer among the fresh
    ones and the oldest among the stale ones do.
    """
    stale = [answer for answer in answers if answer.stale]
    oldest = max(stale or answers, key=lambda a: a.age) if stale else min(
        answers, key=lambda a: a.age
    )  # fmt: skip
    return Fetched(
        table=table,
        source=source,
        fetched=oldest.fetched,
        age=oldest.age,
        stale=bool(stale),
        why=oldest.why,
        notes=tuple(notes),
    )


def between(table: pd.DataFrame, first: date, last: date) -> pd.DataFrame:
    """Return the days asked for, with the same account."""
    found = table.loc[pd.Timestamp(first) : pd.Timestamp(last)]
    found.attrs["account"] = table.attrs["account"]
    return found
