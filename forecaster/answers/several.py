"""Several beds of the garden book asked at once: what they share is worked out once.

Beds of one place share its air, that of the futures too. Beds whose ground and day are the same,
as beds without a thermometer of their own often are, share the whole understanding.
"""

from __future__ import annotations

from collections.abc import Hashable
from datetime import date
from typing import Any

import pandas as pd

from forecaster import book as kept
from forecaster.answers.bed import ask_bed
from forecaster.answers.place_today import PlaceToday, of_record
from forecaster.answers.record import Record
from forecaster.forecast.air_ahead import SharedAir
from forecaster.ground.errors import InputError

LONGEST_AHEAD_DAYS = 16
"""Days that a record may run past today: a weather forecast was appended to it."""


class Beds:
    """The beds of a book as they stand on one day; the book must not change meanwhile.

    Parameters
    ----------
    now : date
        Today where the beds lie.
    issued : date, optional
        Ask as of that day instead: later rows are not looked at.
    ahead : DataFrame, optional
        A weather forecast, as `read_air` returns it: of the place where all of the beds lie.
    logs : KnownLogs, optional
        What was read before of their readings.
    """

    def __init__(
        self,
        now: date,
        issued: date | None = None,
        ahead: pd.DataFrame | None = None,
        logs: kept.KnownLogs | None = None,
    ) -> None:
        self.now = now if issued is None else issued
        self._issued, self._ahead, self._logs = issued, ahead, logs
        self._air: dict[str, pd.DataFrame] = {}
        self._shared: dict[str, SharedAir] = {}
        self._heres: dict[Hashable, PlaceToday] = {}

    def air(self, book: kept.Book, place: str) -> pd.DataFrame:
        """Return the air of a place, read once.

        Raises
        ------
        NotEnoughData
            If the book has none.
        """
        if place not in self._air:
            self._air[place] = kept.place_air(book, place)
        return self._air[place]

    def record(self, book: kept.Book, bed: str) -> Record:
        """Return the record of a bed.

        Raises
        ------
        ForecasterError
            If there is no such bed, no air for its place, or an outlook of another place.
        """
        where = kept.find_bed(book, bed).place
        if self._ahead is not None and self._air.keys() - {where}:
            raise InputError(
                "the outlook is of one place, the beds lie at several; name beds of one, with --bed"
            )
        held = ask_bed(book, bed, self.air(book, where), self._logs)
        last: date = held.air.dropna(how="all").index[-1].date()
        notes: tuple[str, ...] = ()
        today, asked = last, max(last, self.now)
        if self._issued is not None:
            today = asked = self._issued
        elif (last - self.now).days > LONGEST_AHEAD_DAYS:
            asked = last
            notes = (f"The air record ends on {last}, after today: days to come are no record.",)
        return Record(
            air=held.air,
            log=held.readings,
            ahead=self._ahead,
            site=held.site,
            today=today,
            asked_on=asked,
            accounts={"Air": held.air.attrs["account"]},
            notes=notes,
            title=f"{held.place.name}, {held.bed.name}",
            held=held,
        )

    def here(self, record: Record, **how: Any) -> PlaceToday:
        """Return the place of a record on its day, as `of_record` does; the same is made once."""
        held = record.held
        if held is None or record.air is not self._air.get(held.place.name):
            return of_record(record, **how)
        air = self._shared.setdefault(held.place.name, SharedAir())
        if record.log is not None:
            return of_record(record, shared=air, **how)
        key = (held.place.name, record.site, record.today, record.asked_on, *sorted(how.items()))
        if key not in self._heres:
            self._heres[key] = of_record(record, shared=air, **how)
        return self._heres[key]
