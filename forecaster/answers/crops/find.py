"""When crops can be planted at a place, with chances from one joint ensemble."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from forecaster.answers.calendar import date_of
from forecaster.answers.crops.decide import decide
from forecaster.answers.crops.results import CropAnswer, CropWindow
from forecaster.answers.crops.table import defaults
from forecaster.answers.crops.wish import Wish
from forecaster.answers.frost import frost_dates
from forecaster.answers.place_today import MEMBERS, PlaceToday, bed_of, of_record, place_today
from forecaster.answers.record import Record
from forecaster.forecast.ensemble import Day, as_day
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.ground.given import one, several
from forecaster.ground.site import Site
from forecaster.ground.units import f_to_c_difference
from forecaster.rules.crops import Crop

GROUND = "A bed is taken to be bare soil, warmer in summer than grass; say if it is mulched."


def crop_windows(
    air: pd.DataFrame,
    site: Site,
    crops: Sequence[Crop],
    *,
    today: Day,
    wish: Wish | None = None,
    readings: pd.DataFrame | None = None,
    outlook: pd.DataFrame | None = None,
    members: int = MEMBERS,
    seed: int = 0,
) -> CropAnswer:
    """Return when each crop can be planted at a place, as it stands on a day.

    Of every planting day and every member it is asked whether the planting goes well (see
    `forecaster.rules.planting`); soil, air and frost come from the same members, which are the
    same whatever else is asked. A season whose window is over gives way to the next.

    Parameters
    ----------
    air, readings, outlook, seed
        As for `forecaster.forecast.soil.forecast_soil`; rows after `today` are ignored.
    site : Site
        Grass, the default cover, is taken as bare soil: crops stand in beds, but for lawns.
    crops : sequence of Crop
        At least one.
    today : date-like
        The day of the answer.
    wish : Wish, optional
        Season, use, accepted risk and the like, for all of the crops.
    members : int
        Draws, at least 2.

    Returns
    -------
    CropAnswer
        Dates; temperatures in °C.

    Raises
    ------
    InputError
        If no crop is given, a crop's limits leave nothing, or an argument is out of range.
    NotEnoughData
        If the record is too short, or its year has no seasons.
    """
    asked: Wish = Wish() if wish is None else one("wish", wish, Wish, "a Wish")
    crops = several("crops", crops, Crop, "at least one Crop, as known_crops gives")
    one("site", site, Site, "a Site, as Site(41.2, -96.0)")
    now = as_day(today)
    offset_c = bed_offset_c(asked)

    def place(ground: Site) -> PlaceToday:
        return place_today(
            air, ground, today=now, readings=readings, outlook=outlook, members=members,
            seed=seed, offset_c=offset_c,
        )  # fmt: skip

    lawns = [crop for crop in crops if crop.kind == "lawn"]
    bed = place(bed_of(site)) if len(lawns) < len(crops) else None
    lawn = place(site) if lawns else None
    return crop_windows_in(bed, crops, asked, air=air, lawn=lawn)


def crop_windows_in(
    bed: PlaceToday | None,
    crops: Sequence[Crop],
    wish: Wish,
    *,
    air: pd.DataFrame,
    lawn: PlaceToday | None = None,
) -> CropAnswer:
    """Return when each crop can be planted at a place on its day.

    Parameters
    ----------
    bed, lawn : PlaceToday
        Where crops grow, and where lawns do; one of them may be left out if nothing asked
        about grows there.
    crops : sequence of Crop
    wish : Wish
    air : DataFrame
        The record, for its frost dates.
    """
    windows = tuple(_decided(crop, bed, lawn, wish) for crop in crops)
    here = bed or lawn
    assert here is not None  # noqa: S101 - one of the two was made, since there is a crop
    try:
        frost = frost_dates(air, today=here.today, offset_c=here.offset_c)
    except NotEnoughData:
        frost = ()
    return CropAnswer(
        windows=windows,
        frost=frost,
        today=date_of(here.today),
        years=here.forecast.years,
        notes=_notes(here),
        unsure=here.unsure,
        stale_days=here.stale_days,
        last_day=date_of(here.place.day.astype("datetime64[D]")[-1]),
    )


def _decided(crop: Crop, bed: PlaceToday | None, lawn: PlaceToday | None, wish: Wish) -> CropWindow:
    here = lawn if crop.kind == "lawn" else bed
    assert here is not None  # noqa: S101 - made above for every kind there is
    return decide(crop, here, wish)


def crop_windows_of(record: Record, crops: Sequence[Crop], wish: Wish) -> CropAnswer:
    """Return when each crop can be planted, of a record as it stands on its day."""
    if not crops:
        raise InputError("crops is empty; expected at least one, as known_crops gives")
    offset_c = bed_offset_c(wish)
    lawns = [crop for crop in crops if crop.kind == "lawn"]
    bed = of_record(record, offset_c=offset_c) if len(lawns) < len(crops) else None
    lawn = of_record(record, offset_c=offset_c, lawn=True) if lawns else None
    return crop_windows_in(bed, crops, wish, air=record.air, lawn=lawn)


def bed_offset_c(wish: Wish) -> float:
    """Return what the bed is taken to be warmer than the record's air on a frosty night, °C."""
    usual = f_to_c_difference(defaults()["bed_offset_f"].value)
    return usual if wish.offset_c is None else wish.offset_c


def _notes(here: PlaceToday) -> tuple[str, ...]:
    """Return what the reader of the answer should know."""
    said = [*here.doubts]
    if here.place.site.cover == "bare":
        said.append(GROUND)
    if not here.frost_known:
        said.append(
            "The record holds daily means only: frost is not reckoned with. "
            "A record with daily minima would tell."
        )
    years = here.forecast.years
    if years == 0:
        said.append("No past year follows this day; weather of other seasons stands in.")
    elif years < 10:
        said.append(
            f"The air to come is drawn from {years} past years: chances of frost are rough."
        )
    return tuple(said)
