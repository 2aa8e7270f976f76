"""A crop's figures as its sources give them; every source is kept.

The middle one is used unless another is asked for: of thresholds the middle row, of other
figures the middle of those that are best founded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median
from typing import Literal

from forecaster.ground.errors import InputError
from forecaster.rules.emergence import Emergence

CropClass = Literal["cool", "warm"]
Use = Literal["transplant", "seed", "bulb", "tuber", "crown", "both"]
PlantingSeason = Literal["autumn", "spring"]
Role = Literal[
    "minimum", "optimum_low", "optimum", "optimum_high", "maximum", "lower_limit", "upper_limit"
]
Measured = Literal["mean", "morning", "midday", "trial", "unsaid"]

BASES = ("published", "quoted", "from memory", "common practice", "assumption", "yours")
LEAST_ROLES = ("minimum", "optimum_low", "lower_limit")
"""Of these the higher of two middle figures is used: the safer one."""

FOUNDED = (("published", "quoted"), ("from memory", "common practice"), ("assumption", "yours"))
"""Kinds of basis, the best founded first: figures of the first kind that there is are used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CropThreshold:
    """A soil temperature that one source gives for a crop.

    Parameters
    ----------
    role : str
        ``minimum``, ``optimum_low``, ``optimum``, ``optimum_high``, ``maximum`` or, for
        growing roots, ``lower_limit`` and ``upper_limit``.
    value_c : float
        °C.
    use : {"transplant", "seed", "both"}
    season : {"autumn", "spring", "any"}
    depth : str
        Depth at which it is measured, as the source says it; may be empty.
    measured : {"mean", "morning", "midday", "trial", "unsaid"}
        Mean of the day, three mornings running, at midday, a steady temperature in a trial.
    basis, source : str
        How well it is known, and from where.
    """

    role: Role
    value_c: float
    use: Use = "both"
    season: Literal["autumn", "spring", "any"] = "any"
    depth: str = ""
    measured: Measured = "unsaid"
    basis: str = "yours"
    source: str = "your own file"

    def __post_init__(self) -> None:
        """Refuse a basis that has no name here and a soil that there is not."""
        if self.basis not in BASES:
            raise InputError(f"basis is {self.basis!r}; expected one of {', '.join(BASES)}")
        if not -10.0 <= self.value_c <= 60.0:
            raise InputError(f"a soil temperature of {self.value_c:g} °C; expected −10 to 60 °C")


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure or span that one source gives, in the unit that its field names.

    Parameters
    ----------
    low, high : float
    basis, source : str
    """

    low: float
    high: float
    basis: str
    source: str

    def __post_init__(self) -> None:
        """Refuse a span that ends before it begins."""
        if not self.low <= self.high or self.basis not in BASES:
            raise InputError(f"{self.low:g} to {self.high:g} ({self.basis}) is no span")

    @property
    def middle(self) -> float:
        """Middle of the span."""
        return (self.low + self.high) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardiness:
    """A class of crops that stand the same cold.

    Parameters
    ----------
    name : str
        ``very hardy``, ``tolerant``, ``tender`` or ``warm-loving``.
    weeks_low, weeks_high : float
        Planting after (+) or before (−) the frost-free date, weeks.
    damaging_c : float
        Air temperature from which the class is taken to be harmed, °C.
    weeks_basis, weeks_source, damaging_basis, damaging_source : str
    """

    name: str
    weeks_low: float
    weeks_high: float
    weeks_basis: str
    weeks_source: str
    damaging_c: float
    damaging_basis: str
    damaging_source: str


@dataclass(frozen=True, slots=True)
class HardinessClaim:
    """The hardiness class that one source puts a crop in."""

    hardiness: Hardiness
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class Choice:
    """The figure used and the others that could have been.

    Parameters
    ----------
    used : CropThreshold
    others : tuple of CropThreshold
        Other sources' figures for the same, from low to high.
    """

    used: CropThreshold
    others: tuple[CropThreshold, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """What is known of a crop, every source kept.

    Parameters
    ----------
    name, label : str
        Name that finds it, and name that is shown.
    also : tuple of str
        Other names.
    crop_class : {"cool", "warm"}
    kind : str
        ``flower``, ``vegetable``, ``herb``, ``fruit``, ``lawn``, ``cover crop``, or ``yours``.
    usual_use : {"transplant", "seed", "bulb", "tuber", "crown"}
        How it is usually begun in the bed.
    thresholds : tuple of CropThreshold
    hardiness : tuple of HardinessClaim
    weeks_to_set_out, days_to_maturity : tuple of Figure
        Weeks from sowing to setting out; days from planting to harvest.
    spacing_m, sowing_depth_m : tuple of Figure
        m.
    emergence : Emergence or None
    germination : tuple of (float, float)
        Soil temperature, °C, and the share of normal seedlings in trials at it; rising.
    life : str
        ``annual`` (or grown as one), ``biennial``, ``perennial``, ``bulb``, ``tuber``.
    heat : str
        What warm weather does to it: ``bolts``, ``stops``, ``no head``, ``no set``,
        ``no tubers``, ``poor roots``, ``stands``.
    figures : mapping of str to tuple of Figure
        What else is known, by name with its unit, as ``survives_young_c``; every source kept.
    """

    name: str
    label: str
    crop_class: CropClass
    kind: str
    usual_use: Use
    also: tuple[str, ...] = ()
    thresholds: tuple[CropThreshold, ...] = ()
    hardiness: tuple[HardinessClaim, ...] = ()
    weeks_to_set_out: tuple[Figure, ...] = ()
    days_to_maturity: tuple[Figure, ...] = ()
    spacing_m: tuple[Figure, ...] = ()
    sowing_depth_m: tuple[Figure, ...] = ()
    emergence: Emergence | None = None
    germination: tuple[tuple[float, float], ...] = ()
    life: str = "annual"
    heat: str = "stands"
    figures: Mapping[str, tuple[Figure, ...]] = field(default_factory=dict, hash=False)

    def figure(self, name: str) -> Figure | None:
        """Return a figure: the middle of what the best founded of its sources say.

        Parameters
        ----------
        name : str
            As in `figures`.

        Returns
        -------
        Figure or None
            Middles of the lows and of the highs; basis and source of the one nearest to it.
        """
        return self.best_founded(self.figures.get(name, ()))

    @staticmethod
    def best_founded(rows: tuple[Figure, ...]) -> Figure | None:
        """Return the middle of what the best founded of some figures say, None of none."""
        among = next(
            (fit for kinds in FOUNDED if (fit := [r for r in rows if r.basis in kinds])), None
        )
        if among is None:
            return None
        low, high = median(r.low for r in among), median(r.high for r in among)
        nearest = min(among, key=lambda r: abs(r.low - low) + abs(r.high - high))
        return Figure(low, high, nearest.basis, nearest.source)

    def hottest_seedbed_c(self, share: float) -> float | None:
        """Return the soil above which less than a share of the seed comes up, °C, if known."""
        if not self.germination:
            return None
        most = max(range(len(self.germination)), key=lambda at: self.germination[at][1])
        for (cold_c, more), (hot_c, less) in pairwise(self.germination[most:]):
            if less < share <= more:
                return cold_c + (more - share) / (more - less) * (hot_c - cold_c)
        return None

    def choose(
        self, role: Role, season: PlantingSeason, use: Use, source: str | None = None
    ) -> Choice | None:
        """Return the figure for a role, the middle one of those that sources give.

        Your own figure comes before others'. Of two middle ones the safer is used: the higher
        for a least, the lower for a most.

        Parameters
        ----------
        role : str
        season : {"autumn", "spring"}
        use : {"transplant", "seed"}
        source : str, optional
            Part of a source's name; its figure is used where it gives one.
        """
        fit = [
            row
            for row in self.thresholds
            if row.role == role and row.season in (season, "any") and row.use in (use, "both")
        ]
        if not fit:
            return None
        fit.sort(key=lambda row: (row.value_c, row.measured != "trial"))
        asked = [row for row in fit if source and source.casefold() in row.source.casefold()]
        own = [row for row in fit if row.basis == "yours"]
        among = asked or own or fit
        middle = len(among) // 2 if role in LEAST_ROLES else (len(among) - 1) // 2
        used = among[middle]
        return Choice(used, tuple(row for row in fit if row is not used))

    def first_choice(
        self,
        roles: tuple[Role, ...],
        season: PlantingSeason,
        use: Use,
        source: str | None = None,
    ) -> Choice | None:
        """Return the choice for the first of some roles that has a figure, this use first."""
        other: Use = "seed" if use == "transplant" else "transplant"
        for each in (use, other):
            for role in roles:
                if (found := self.choose(role, season, each, source)) is not None:
                    return found
        return None

    def stands(self) -> HardinessClaim | None:
        """Return the hardiness used: the middle of what sources say, the tenderer of two."""
        ranked = sorted(self.hardiness, key=lambda claim: claim.hardiness.weeks_low)
        return ranked[len(ranked) // 2] if ranked else None

    @property
    def sources(self) -> tuple[str, ...]:
        """Sources of its thresholds, each once."""
        return tuple(dict.fromkeys(row.source for row in self.thresholds))
