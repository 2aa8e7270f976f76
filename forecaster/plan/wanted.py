"""What the garden book says goes into a bed, as a plan takes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from forecaster.answers.crops import Crop, find_crop
from forecaster.book import Want
from forecaster.ground.errors import InputError
from forecaster.plan.bed import Goes, Wants


def with_goes(wants: Wants, held: Sequence[Want], season: str) -> Wants:
    """Return what is wanted with what the book says goes in that season.

    What is asked for in `wants` itself, as on the command line, stands above the book.
    """
    mine = [one for one in held if one.season == season]
    if wants.goes or not mine:
        return wants
    return replace(wants, goes=tuple(_goes(one, wants) for one in mine))


def crops_of(goes: Sequence[Goes]) -> tuple[Crop, ...]:
    """Return the crops that go in, each once; none where one of them is not known by name."""
    crops = [one.crop for one in goes if one.crop is not None]
    return tuple(dict.fromkeys(crops)) if len(crops) == len(goes) else ()


def known_crop(what: str) -> Crop | None:
    """Return the crop that words name; None if none is known by them."""
    try:
        return find_crop(what)
    except InputError:
        return None


def _goes(want: Want, told: Wants) -> Goes:
    crop = known_crop(want.what)
    sized = bool(told.flat_sizes or told.prices)
    return Goes(
        what=want.what if crop is None else crop.label,
        crop=crop,
        variety=want.variety,
        colours=() if told.colours else want.colours,
        plants=None if told.colours else want.plants,
        spacing_m=None if told.spacing_m is not None else want.spacing_m,
        flat_sizes=() if sized else tuple(size for size, _ in want.flats),
        prices={} if sized else {size: price for size, price in want.flats if price is not None},
        currency="" if told.currency else want.currency,
        spare_share=None if told.spare_share else want.spare_share,
        weeks=None if told.sow_weeks is not None else want.weeks,
    )
