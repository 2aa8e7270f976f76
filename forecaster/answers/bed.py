"""A bed of the garden book and its forecasts: what is asked of it, kept, and followed up."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from importlib.metadata import version

import numpy as np
import pandas as pd

from forecaster import book as kept
from forecaster.answers.record import Held
from forecaster.answers.window import WindowAnswer
from forecaster.forecast.soil import estimate_soil
from forecaster.ground.errors import NotEnoughData
from forecaster.rules.crossings import NEVER, crossing_index

SHOWN_DAYS = 120
"""Days of a forecast's soil that are kept, so that a planting weeks later can be compared."""


def ask_bed(
    book: kept.Book,
    bed: str | None = None,
    air: pd.DataFrame | None = None,
    logs: kept.KnownLogs | None = None,
) -> Held:
    """Return what the book has for a forecast of a bed, or of the only one.

    Parameters
    ----------
    book : Book
    bed : str, optional
    air : DataFrame, optional
        The air of its place, where it was read already.
    logs : KnownLogs, optional
        What was read before of readings.

    Raises
    ------
    InputError
        If there is no such bed, or several and none is named.
    NotEnoughData
        If the book has no air for its place.
    """
    here = kept.find_bed(book, bed)
    log = kept.bed_readings(book, here.name, logs)
    return Held(
        bed=here,
        place=kept.find_place(book, here.place),
        site=kept.bed_site(book, here.name),
        air=kept.place_air(book, here.place) if air is None else air,
        readings=log if len(log) else None,
        path=book.path,
        plantings=tuple(kept.plantings(book, here.name)),
        wants=tuple(kept.wants(book, here.name)),
        outcomes=tuple(kept.outcomes(book, here.name)),
    )


def keep_answer(
    held: Held, answer: WindowAnswer, issued: date, depth_m: float, book: kept.Book | None = None
) -> bool:
    """Keep in the book a forecast that is shown for a bed; False if it has the same already.

    The book is opened for it, unless it is given open.

    Raises
    ------
    ForecasterError
        If the book cannot be opened or written.
    """
    windows = tuple(
        kept.ShownWindow(
            threshold=one.threshold.name,
            threshold_c=one.threshold.threshold_c,
            direction=one.threshold.direction,
            season_start=one.season_start,
            season_end=one.season_end,
            early=one.outlook.early,
            median=one.outlook.median,
            late=one.outlook.late,
            never=one.outlook.never,
        )
        for one in answer.windows
    )
    day, now = answer.day.astype("datetime64[D]"), np.datetime64(issued, "D")
    ahead = (day > now) & (day <= now + SHOWN_DAYS)
    soil = pd.DataFrame(
        answer.fan_c[[0, 2, 4]][:, ahead].T,
        index=pd.DatetimeIndex(day[ahead].astype("datetime64[ns]"), name="date"),
        columns=["low_c", "mid_c", "high_c"],
    )
    shown = kept.Shown(
        issued=issued, depth_m=depth_m, version=version("crossday"), windows=windows, soil=soil
    )
    if book is not None:
        return kept.keep_shown(book, held.bed.name, shown)
    with kept.open_book(held.path) as opened:
        return kept.keep_shown(opened, held.bed.name, shown)


@dataclass(frozen=True, slots=True)
class Came:
    """A window as it was shown, and its settled date as the soil is known now.

    Parameters
    ----------
    window : ShownWindow
    settled : date or None
        None if the soil has not settled.
    over : bool
        Whether its season is wholly known; until then the date may move.
    """

    window: kept.ShownWindow
    settled: date | None
    over: bool


@dataclass(frozen=True, slots=True)
class Followed:
    """A planting followed: the forecast of that time, and what came of it.

    Parameters
    ----------
    planted : Planting
    shown : Shown
    table : DataFrame
        A row a week, as `season_table` returns it, °C.
    came : tuple of Came
    """

    planted: kept.Planting
    shown: kept.Shown
    table: pd.DataFrame
    came: tuple[Came, ...]


def follow_planting(
    book: kept.Book, bed: str | None = None, day: date | None = None, weeks: int = kept.WEEKS
) -> Followed:
    """Return a planting of a bed, the forecast of its time, and what the soil did since.

    Parameters
    ----------
    book : Book
    bed : str, optional
        May be left out where the book has only one.
    day : date, optional
        Day of the planting; by default the last.
    weeks : int
        Weeks after it.

    Raises
    ------
    NotEnoughData
        If nothing was planted, or no forecast was shown in the 60 days before.
    """
    here = kept.find_bed(book, bed)
    name = kept.say_name(here.name)
    done = [one for one in kept.plantings(book, here.name) if one.action == "planted"]
    if day is not None:
        done = [one for one in done if one.day == day]
    if not done:
        raise NotEnoughData(
            f"no planting in bed {name}{f' on {day}' if day else ''}; "
            "write one down: crossday book planted lettuce"
        )
    planting = done[-1]
    shown = kept.shown_before(book, here.name, planting.day)
    if shown is None:
        raise NotEnoughData(
            f"no forecast was shown for bed {name} in the {kept.LATEST_DAYS} days before "
            f"{planting.day}; crossday when --bed keeps each that it shows"
        )
    held = ask_bed(book, here.name)
    soil = estimate_soil(held.air, held.site, held.readings)
    known = soil.loc[: pd.Timestamp(held.air.dropna(how="all").index[-1])]
    table = kept.season_table(shown, known, held.readings, planting.day, weeks)
    return Followed(planting, shown, table, tuple(_came(one, known) for one in shown.windows))


def _came(window: kept.ShownWindow, soil: pd.DataFrame) -> Came:
    """Return a window with its settled date as the soil is known now."""
    first, last = pd.Timestamp(window.season_start), pd.Timestamp(window.season_end)
    inside = soil.loc[first:last]
    over = bool(len(soil)) and soil.index[-1] >= last
    if inside.empty:
        return Came(window, None, over)
    values = inside["soil_c"].to_numpy(dtype=float)
    index = int(crossing_index(values, window.threshold_c, window.direction, "settled"))
    return Came(window, None if index == NEVER else inside.index[index].date(), over)
