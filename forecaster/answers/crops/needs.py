"""What a crop needs of the days, put together from its figures; what is missing is assumed.

Of a range of days to harvest the short end is used, an early variety; of a heat that spoils,
the upper end, from which it surely does. A crop without a figure gets that of its class
(`data/crop_defaults.csv`), and the answer says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from forecaster.answers.crops.table import defaults
from forecaster.answers.crops.wish import Wish
from forecaster.ground.errors import InputError
from forecaster.ground.units import f_to_c
from forecaster.rules.crops import Choice, Crop, CropThreshold, Figure, PlantingSeason, Use
from forecaster.rules.emergence import Emergence, HeatSum
from forecaster.rules.planting import Growth, Needs

STAND = 0.25
"""Share of the seed that must come up; thicker sowing makes up for the rest. A choice."""
OVERWINTERS = ("perennial", "bulb")
PLANTED: Use = "transplant"
"""Thresholds of bulbs, tubers and crowns stand under this use."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CropNeeds:
    """A crop's needs, and the figures behind them that an answer shows.

    Parameters
    ----------
    needs : Needs
    least, most : Choice or None
        Soil temperatures from which, and up to which, it can go in.
    advised_c : float or None
        Soil from which most sources advise it, where that is above the least, °C; for what is
        to root before winter, soil below which it goes in.
    keeps_bearing : bool
        It bears or blooms until something ends it, so a later planting bears less.
    assumed : tuple of str
        What was taken for granted, a phrase each.
    """

    needs: Needs
    least: Choice | None
    most: Choice | None
    advised_c: float | None
    keeps_bearing: bool
    assumed: tuple[str, ...]

    def ends(self) -> tuple[Choice, Choice | None]:
        """Return the soil temperature that opens the window, and the one at its other end."""
        falls = self.needs.goal == "root"
        one, two = (self.most, self.least) if falls else (self.least, self.most)
        if one is not None:
            return one, two
        assert two is not None  # noqa: S101 - needs_of refuses a crop that has neither
        return two, None


KEEPS_BEARING_WEEKS = 3.0


@dataclass(slots=True)
class _Figures:
    """A crop's figures, with those of its class where it has none, which are noted."""

    crop: Crop
    assumed: list[str] = field(default_factory=list)

    def known(self, name: str) -> Figure | None:
        return self.crop.figure(name)

    def of(self, name: str, words: str, *, high: bool = False) -> float:
        """Return an end of a figure, or the class's, in °C where it is a temperature."""
        found = self.known(name)
        if found is not None:
            return found.high if high else found.low
        in_f = f"{name[:-2]}_f"
        taken = defaults()
        for key in (f"{self.crop.crop_class}_{name}", f"{self.crop.crop_class}_{in_f}"):
            if key in taken:
                self.assumed.append(f"{words} as usual for its class ({taken[key].basis})")
                value = taken[key].value
                return f_to_c(value) if key.endswith("_f") else value
        raise InputError(f"{self.crop.name}: no figure for {name}")


def needs_of(crop: Crop, season: PlantingSeason, use: Use, wish: Wish) -> CropNeeds:
    """Return what a crop, begun in some way in a season, needs of the days.

    Parameters
    ----------
    crop : Crop
    season : {"autumn", "spring"}
    use : str
    wish : Wish
        Its source, rooting days and season days count before the tables.

    Raises
    ------
    InputError
        If its least and most soil temperatures leave nothing between them.
    """
    figures = _Figures(crop)
    overwinters = _overwinters(crop, season)
    least, most = _least(crop, season, use, wish), _most(crop, season, use, wish, overwinters)
    if least is None and most is None:
        raise InputError(
            f"{crop.name}: no figure says when the soil suits it in {season}; "
            "give your own in a file with crop, role minimum and value_f"
        )
    _check_between(crop, least, most)
    days = _days_to_harvest(figures, use, wish)
    weeks = figures.of("harvest_weeks", "weeks of harvest")
    roots = figures.known("roots_least_c")
    rooting = figures.known("rooting_weeks")
    taken = defaults()
    rooting_days = taken["rooting_days"].value if rooting is None else 7.0 * rooting.middle
    heat = figures.known("heat_mean_c")
    set_heat = figures.known("heat_max_c")
    sets = crop.heat == "no set" and set_heat is not None
    made = Needs(
        goal="root" if overwinters else "bear",
        soil_least_c=None if least is None or overwinters else least.used.value_c,
        soil_most_c=None if most is None else most.used.value_c,
        emerging=_emerging(figures, use),
        keeps=use in ("bulb", "tuber", "crown"),
        young_c=figures.of("survives_young_c", "frost a young plant stands"),
        grown_c=figures.of("survives_grown_c", "frost a grown plant stands"),
        harvest_frost_c=figures.of("harvest_frost_c", "frost that ends the harvest"),
        growth=Growth(
            base_c=figures.of("growth_base_c", "growth by temperature"),
            best_c=figures.of("growth_best_c", "growth by temperature"),
        ),
        days=days,
        harvest_days=0.0 if wish.season_days is not None else 7.0 * weeks,
        heat_c=None if heat is None or sets else heat.high,
        heat_most_c=set_heat.high if sets and set_heat is not None else None,
        heat_ends=crop.heat == "stops",
        roots_least_c=f_to_c(taken["least_limit_f"].value) if roots is None else roots.low,
        roots_days=round(rooting_days if wish.rooting_days is None else wish.rooting_days),
    )
    said = _said(made, wish, figures.assumed)
    return CropNeeds(
        needs=made,
        least=least,
        most=most,
        advised_c=made.soil_most_c if overwinters else _advised_c(crop, season, use, wish),
        keeps_bearing=weeks >= KEEPS_BEARING_WEEKS and not overwinters,
        assumed=said,
    )


def _overwinters(crop: Crop, season: PlantingSeason) -> bool:
    """Return whether it is planted to root before winter, not to be harvested before it."""
    hardy = crop.crop_class == "cool"
    lasting = crop.life in OVERWINTERS and crop.kind not in ("herb", "lawn")
    return hardy and (lasting or (crop.kind == "flower" and season == "autumn"))


def _of_use(use: Use) -> Use:
    return "seed" if use == "seed" else PLANTED


def _least(crop: Crop, season: PlantingSeason, use: Use, wish: Wish) -> Choice | None:
    """Return the soil from which it can go in: the user's figure, else the lowest advised."""
    as_used = _of_use(use)
    limit = crop.choose("lower_limit", season, as_used, wish.source)
    advised = crop.choose("minimum", season, as_used, wish.source)
    asked = [c for c in (advised, limit) if c is not None and _chosen(c.used, wish)]
    used = next(iter(asked), limit or advised)
    if used is None:
        other: Use = "seed" if as_used == PLANTED else PLANTED
        return crop.choose("lower_limit", season, other) or crop.choose("minimum", season, other)
    rows = [row for c in (limit, advised) if c is not None for row in (c.used, *c.others)]
    return Choice(used.used, tuple(row for row in rows if row is not used.used))


def _advised_c(crop: Crop, season: PlantingSeason, use: Use, wish: Wish) -> float | None:
    advised = crop.choose("minimum", season, _of_use(use), wish.source)
    return None if advised is None else advised.used.value_c


def _most(
    crop: Crop, season: PlantingSeason, use: Use, wish: Wish, overwinters: bool
) -> Choice | None:
    """Return the soil up to which it can go in; None for a plant that hot soil does not stop."""
    as_used = _of_use(use)
    told = crop.choose("upper_limit", season, as_used, wish.source)
    own = told is not None and _chosen(told.used, wish)
    if overwinters:
        below = crop.figure("plant_below_c")
        if below is None or own:
            return told
        used = CropThreshold(
            role="upper_limit",
            value_c=below.high,
            use=PLANTED,
            season="autumn",
            depth="planting depth",
            measured="mean",
            basis=below.basis,
            source=below.source,
        )
        return Choice(used, () if told is None else (told.used, *told.others))
    if as_used != "seed":
        return told if own else None
    stands_c = crop.hottest_seedbed_c(STAND)
    if own or not crop.germination:
        return told
    if stands_c is None:
        return None
    used = CropThreshold(
        role="upper_limit",
        value_c=stands_c,
        use="seed",
        season="any",
        depth="sowing depth",
        measured="trial",
        basis="quoted",
        source="Harrington & Minges 1954: a quarter come up",
    )
    return Choice(used, ())


def _chosen(row: CropThreshold, wish: Wish) -> bool:
    asked = wish.source is not None and wish.source.casefold() in row.source.casefold()
    return asked or row.basis == "yours"


def _check_between(crop: Crop, least: Choice | None, most: Choice | None) -> None:
    if least is not None and most is not None and least.used.value_c >= most.used.value_c:
        raise InputError(
            f"{crop.name}: its lower limit is not below its upper one; expected the soil to "
            "suit it in between. Choose another source, or give your own figures"
        )


def _days_to_harvest(figures: _Figures, use: Use, wish: Wish) -> float:
    """Return days to the first harvest in good weather: the user's, or an early variety's."""
    if wish.season_days is not None:
        return float(wish.season_days)
    crop = figures.crop
    sown, planted = crop.figure("days_from_seed"), crop.best_founded(crop.days_to_maturity)
    own, other = (sown, planted) if use == "seed" else (planted, sown)
    found = own or other
    if found is None:
        return figures.of("days", "days to harvest")
    return found.low


def _emerging(figures: _Figures, use: Use) -> Emergence | HeatSum | None:
    """Return how fast it comes up: the table of days, the heat sum, or the class's."""
    crop = figures.crop
    if use == "seed" and crop.emergence is not None:
        return crop.emergence
    if use not in ("seed", "tuber"):
        return None
    if use == "tuber" and crop.figure("emergence_sum_c_d") is None:
        return None
    words = "warmth that seed needs to come up"
    base_c = figures.of("emergence_base_c", words)
    best = crop.choose("optimum_high", "spring", "seed")
    most_c = defaults()[f"{crop.crop_class}_emergence_most_c"].value
    if best is not None:
        most_c = best.used.value_c
    found = crop.figure("emergence_sum_c_d")
    return HeatSum(
        base_c,
        figures.of("emergence_sum_c_d", words),
        max(most_c, base_c + 1.0),
        "assumption" if found is None else found.basis,
        "usual for its class" if found is None else found.source,
    )


def _said(needs: Needs, wish: Wish, assumed: list[str]) -> tuple[str, ...]:
    if needs.goal == "root":
        basis = "assumption" if wish.rooting_days is None else "yours"
        said = f"{needs.roots_days} days to root ({basis})"
    else:
        basis = "an early variety" if wish.season_days is None else "yours"
        said = f"{needs.days:.0f} days of good weather to the first harvest ({basis})"
    return (said, *dict.fromkeys(assumed))
