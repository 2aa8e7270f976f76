"""What a question is asked of: the record of a place as it was read, and the day of the answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from forecaster.ground.site import Site
from forecaster.ingest.account import Account

if TYPE_CHECKING:
    from forecaster.book import Bed, Outcome, Place, Planting, Want


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What the book has for a forecast of one bed.

    Parameters
    ----------
    bed : Bed
    place : Place
    site : Site
    air : DataFrame
        As `read_air` returns it.
    readings : DataFrame or None
        As `read_readings` returns them; None if there are none.
    path : Path
        The book's file.
    plantings : tuple of Planting
        What went in and came out, oldest first.
    wants : tuple of Want
        What is to go in, autumn and spring.
    outcomes : tuple of Outcome
        What came of plantings, oldest first.
    """

    bed: Bed
    place: Place
    site: Site
    air: pd.DataFrame
    readings: pd.DataFrame | None
    path: Path
    plantings: tuple[Planting, ...] = ()
    wants: tuple[Want, ...] = ()
    outcomes: tuple[Outcome, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """The record of a place, read and checked.

    Parameters
    ----------
    air : DataFrame
        As `forecaster.read_air` returns it.
    log : DataFrame or None
        As `forecaster.read_readings` returns it.
    ahead : DataFrame or None
        A weather forecast, as `forecaster.read_air` returns it.
    site : Site
    today : date
        The day of the answer; later rows are ignored.
    asked_on : date
        The day on which it is asked: later than `today` where the record ends before it.
    accounts : mapping of str to Account
        By what was read: `Air`, `Readings`, `Outlook`.
    notes : tuple of str
        What the reader of an answer should know of the record, a sentence each.
    title : str
        Name of the place, if it has one.
    held : Held or None
        What the garden book has of the bed, where it was asked.
    """

    air: pd.DataFrame
    log: pd.DataFrame | None = None
    ahead: pd.DataFrame | None = None
    site: Site
    today: date
    asked_on: date
    accounts: Mapping[str, Account] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    title: str = ""
    held: Held | None = None

    def known(self) -> tuple[pd.DataFrame, Site, pd.DataFrame | None]:
        """Return air, site and log up to the end of the day of the answer."""
        air, log = self.air.loc[: pd.Timestamp(self.today)], self.log
        if log is not None:
            log = log[log["time"] < pd.Timestamp(self.today) + pd.Timedelta(days=1)]
        return air, self.site, log
