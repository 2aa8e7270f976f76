"""What to order in words: plants, flats as alternatives of one purchase, money."""

from __future__ import annotations

from collections.abc import Sequence

from forecaster.plan.supplies.lines import Line, Part
from forecaster.plan.supplies.plants import Flats
from forecaster.plan.supplies.shopping import Shopping
from forecaster.words.measures import area, small_length
from forecaster.words.phrases import count, number

FLATS_SHOWN = 4
BEGUN = {
    "seed": "seed for {}", "bulb": "{}, as bulbs or sets", "tuber": "{}, as tubers or slips",
    "crown": "{}, as crowns",
}  # fmt: skip
"""How what is not bought in flats is ordered."""


def bed_words(shopping: Shopping) -> str:
    """Return what the list is for: the bed, and how many plants where it goes by colour."""
    words = f"for {area(shopping.area_m2)}"
    if len(shopping.parts) != 1 or len(shopping.lines) < 2:
        return words
    (part,) = shopping.parts
    return f"{words}: {count(part.plants, 'plant')}{_room(part, shopping.pattern, several=False)}"


def plants_words(shopping: Shopping) -> list[str]:
    """Return what goes in, an item of the list for each thing that is bought."""
    several = len(shopping.parts) > 1
    words: list[str] = []
    for part in shopping.parts:
        for line in part.lines:
            named = several or line.variety or line.colour
            parts = (line.what, line.variety, line.colour)
            name = f"{', '.join(each for each in parts if each)}: " if named else ""
            many = how_many(line.plants, "" if line.flats else line.use)
            alone = several or len(part.lines) == 1
            room = _room(part, shopping.pattern, several=several) if alone else ""
            words.append(f"{name}{many}{_spare(line)}{room}{_in(line)}")
    return words


def how_many(plants: int, use: str) -> str:
    """Return plants as they are ordered: `72 plants`, `seed for 300 plants`."""
    if plants == 0:
        return "seed at the rate on its label"
    return BEGUN.get(use, "{}").format(count(plants, "plant"))


def _room(part: Part, pattern: str, *, several: bool) -> str:
    """Say at what spacing, how it was counted, and where other than what the bed takes."""
    apart = small_length(part.spacing_m)
    if part.plants == part.room == 0:
        return f" for {area(part.area_m2)}"
    if several:
        words = f" at {apart} on {area(part.area_m2)}, an equal part of the bed"
    else:
        how = "counted row by row in the outline" if part.by_outline else "from the area"
        words = f" at {apart}, {pattern} rows, {how}"
    if part.plants != part.room:
        words += f", where {part.room:,} would fit"
    return words


def _spare(line: Line) -> str:
    return f" and {line.spare} spare" if line.spare else ""


def _in(line: Line) -> str:
    return f": {flats_words(line.flats, line.currency)}" if line.flats else ""


def flats_words(flats: Sequence[Flats], currency: str = "") -> str:
    """Return the flats to buy, and what would do instead of them: one of these, not all."""
    priced = sum(flat.cost is not None for flat in flats)
    said = []
    for place, flat in enumerate(flats[:FLATS_SHOWN]):
        words = f"{count(flat.flats, 'flat')} of {flat.size} ({flat.left_over} left over)"
        if flat.cost is not None and flat.price_a_plant is not None:
            words += f", {money(flat.cost, currency)} in all, {flat.price_a_plant:.2f} a plant"
            set_out = f"{flat.cost_a_plant_set or 0.0:.2f}"
            if flat.cost_a_plant_set is not None and set_out != f"{flat.price_a_plant:.2f}":
                words += f", {set_out} for each one set out"
            words += ", the cheapest" if place == 0 and priced > 1 else ""
        said.append(words)
    return "; or ".join(said)


def money(amount: float, currency: str = "") -> str:
    """Return money: `129.50 USD`.

    >>> money(1129.5, "USD"), money(3.0)
    ('1,129.50 USD', '3.00')
    """
    return f"{amount:,.2f} {currency}".rstrip()


def weeks_words(weeks: tuple[float, float] | None) -> str:
    """Return the grower's weeks: `8 to 10 weeks`."""
    if weeks is None:
        return ""
    low, high = (number(each) for each in weeks)
    return f"{low} weeks" if low == high else f"{low} to {high} weeks"
