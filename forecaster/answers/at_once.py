"""What is doubted at once, while a record or a reading goes into the garden book."""

from __future__ import annotations

import numpy as np
import pandas as pd

from forecaster import book as kept
from forecaster.forecast.air_days import daily_air
from forecaster.forecast.doubts import READINGS_FAR_C, unit_that_fits
from forecaster.forecast.understand import judged, understand
from forecaster.ground.errors import NotEnoughData
from forecaster.ground.site import Site
from forecaster.soil.season import fit_yearly, harmonics

UNDO = "If so: crossday book undo"
MEMORY_DAYS = 20.0  # e-folding time of the soil's departure from its season


def doubt_place_air(book: kept.Book, place: str) -> tuple[str, ...]:
    """Return what is strange about a place's air as the book has it now, a sentence each.

    Raises
    ------
    InputError
        If it cannot be of this place, or not all of it in one unit.
    """
    here = kept.find_place(book, place)
    air = kept.place_air(book, here.name)
    try:
        record, _ = daily_air(air)
    except NotEnoughData:
        return ()
    found = judged(air, record, Site(here.latitude_deg, here.longitude_deg))
    return tuple(doubt.sentence for doubt in found)


def doubt_reading(
    book: kept.Book,
    bed: str,
    time: pd.Timestamp,
    temp_c: float,
    air: pd.DataFrame | None = None,
) -> str:
    """Return a sentence if a reading lies where no bed does by its air; else nothing.

    `air` is that of its place, where it was read already.

    The soil expected is the model's on that day, or after the record's end its season's usual
    with the last departure fading.
    """
    here = kept.find_bed(book, bed)
    try:
        air = kept.place_air(book, here.place) if air is None else air
        place = understand(air, kept.bed_site(book, here.name))
    except NotEnoughData:
        return ""
    day = int(np.datetime64(time, "D").astype(np.int64))
    at = day - int(place.day[0])
    if at < 0:
        return ""
    columns = harmonics(np.array([day, int(place.day[-1])]))
    yearly = fit_yearly(harmonics(place.day), place.soil_c, prior_sd=10.0, noise_sd=10.0)
    usual_c, last_c = (float(value) for value in columns @ yearly)
    fades = float(np.exp(-max(at - place.day.size + 1, 0) / MEMORY_DAYS))
    expected_c = usual_c + (float(place.soil_c[-1]) - last_c) * fades
    if at < place.day.size:
        expected_c = float(place.soil_c[at])
    off_c = temp_c - expected_c
    if abs(off_c) <= READINGS_FAR_C:
        return ""
    unit = unit_that_fits(temp_c, expected_c)
    fits = f"; as °{unit} it would fit" if unit else ""
    side = "above" if off_c > 0.0 else "below"
    return (
        f"That is {abs(off_c):.0f} °C {side} the soil that the air makes, and every answer would "
        f"refuse it{fits}. Was it meant otherwise? {UNDO}"
    )
