"""A crop's figures, and the window in which it can be planted, member by member.

Every source's figure is kept; the middle one is used unless another is asked for. Autumn
windows open when the soil settles below an upper limit and close when too few days to root
are left. Spring windows open when the soil has settled above a minimum and a later frost is
rare enough, and close when heat or the autumn's first frost leaves too little time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecaster.errors import InputError
from forecaster.rules.crossings import NEVER, crossing_index
from forecaster.rules.emergence import Emergence
from forecaster.rules.frost import frost_index, frost_safe_index

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
CropClass = Literal["cool", "warm"]
Use = Literal["transplant", "seed", "both"]
PlantingSeason = Literal["autumn", "spring"]
Role = Literal[
    "minimum", "optimum_low", "optimum", "optimum_high", "maximum", "lower_limit", "upper_limit"
]
Measured = Literal["mean", "morning", "midday", "trial", "unsaid"]

BASES = ("published", "quoted", "from memory", "common practice", "assumption", "yours")
LEAST_ROLES = ("minimum", "optimum_low", "lower_limit")
"""Of these the higher of two middle figures is used: the safer one."""

SEASON_END, TOO_COLD, FREEZE, HEAT, FIRST_FROST = range(5)
"""What closes a member's window."""


@dataclass(frozen=True, slots=True)
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
        if not 0.0 < self.low <= self.high or self.basis not in BASES:
            raise InputError(f"{self.low:g} to {self.high:g} ({self.basis}) is no span")

    @property
    def middle(self) -> float:
        """Middle of the span."""
        return (self.low + self.high) / 2.0


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True)
class Crop:
    """What is known of a crop, every source kept.

    Parameters
    ----------
    name, label : str
        Name that finds it, and name that is shown.
    also : tuple of str
        Other names.
    crop_class : {"cool", "warm"}
    kind : {"flower", "vegetable", "herb"}
    usual_use : {"transplant", "seed"}
        How it is usually begun in the bed.
    thresholds : tuple of CropThreshold
    hardiness : tuple of HardinessClaim
    weeks_to_set_out, days_to_maturity : tuple of Figure
        Weeks from sowing to setting out; days from planting to harvest.
    spacing_m, sowing_depth_m : tuple of Figure
        m.
    emergence : Emergence or None
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


@dataclass(frozen=True, slots=True)
class MemberWindow:
    """Window of each member, in days of its season.

    Parameters
    ----------
    opens, closes : (members,) array of int
        −1 in both for a member in which there is no window.
    settled : (members,) array of int
        When the soil settles past the threshold, −1 for never.
    frost_bound : (members,) array of bool
        Where frost, not soil, decides when it opens.
    frost_after : (members,) array of bool
        Where a frost that harms the crop comes after it opens.
    closed_by : (members,) array of int
        `SEASON_END`, `TOO_COLD`, `FREEZE`, `HEAT` or `FIRST_FROST`.
    """

    opens: Ints
    closes: Ints
    settled: Ints
    frost_bound: Bools
    frost_after: Bools
    closed_by: Ints

    @property
    def usable(self) -> Bools:
        """Members in which there is a window."""
        return np.asarray(self.opens != NEVER)

    def open_share(self, days: int) -> Floats:
        """Return the share of members whose window is open on each day of the season."""
        day = np.arange(days)
        is_open = (self.opens[:, None] <= day) & (day <= self.closes[:, None])
        return np.asarray((is_open & self.usable[:, None]).mean(axis=0))


def autumn_window(
    soil_c: Floats,
    tmin_c: Floats | None,
    *,
    upper_c: float,
    lower_c: float,
    freeze_c: float,
    needed_days: int,
) -> MemberWindow:
    """Return the members' windows in a falling season.

    Opens when the soil settles below `upper_c`. Closes on the last day after which, before
    the soil settles below `lower_c` or a hard freeze comes, `needed_days` days have soil
    between the two.

    Parameters
    ----------
    soil_c : (members, n) array
        Daily means of the falling season, °C.
    tmin_c : (members, n) array or None
        Daily minima of the air, °C.
    upper_c, lower_c, freeze_c : float
        °C.
    needed_days : int
        Days that roots need.
    """
    days = soil_c.shape[1]
    settled = crossing_index(soil_c, upper_c, "falling")
    cold = _or_end(crossing_index(soil_c, lower_c, "falling"), days)
    freeze = np.full(cold.shape, days)
    if tmin_c is not None:
        freeze = _or_end(frost_index(tmin_c, freeze_c, "first"), days)
    end = np.minimum(cold, freeze)
    within = (soil_c >= lower_c) & (soil_c <= upper_c)
    closes = _last_with(within, end, needed_days)
    closed_by = np.where(end == days, SEASON_END, np.where(freeze < cold, FREEZE, TOO_COLD))
    none = np.zeros(settled.shape, dtype=bool)
    return _window(settled, closes, settled, closed_by, frost_bound=none, frost_after=none)


def spring_window(
    soil_c: Floats,
    tmin_c: Floats | None,
    *,
    turn: int,
    minimum_c: float,
    damaging_c: float,
    risk: float,
    season_days: int,
    upper_c: float | None = None,
    lower_c: float | None = None,
    needed_days: int = 0,
) -> MemberWindow:
    """Return the members' windows in a rising season and the falling one after it.

    Opens when the soil has settled above `minimum_c` and the chance of a later frost at
    `damaging_c`, among members whose spring is as early, is at most `risk`. Closes when the
    autumn's first such frost leaves fewer than `season_days`, or when the soil settles above
    `upper_c`: at once, or `needed_days` of soil between `lower_c` and it before.

    Parameters
    ----------
    soil_c : (members, n) array
        Daily means, °C, from the coldest day to the next.
    tmin_c : (members, n) array or None
        Daily minima of the air, °C; without them frost has no say.
    turn : int
        Index of the warmest day.
    minimum_c, damaging_c : float
        °C.
    risk : float
        0 to 1.
    season_days : int
        Days that the crop needs in the bed before frost.
    upper_c, lower_c : float, optional
        °C.
    needed_days : int
        Days that roots need before the heat.
    """
    days = soil_c.shape[1]
    rising = soil_c[:, : turn + 1]
    settled = crossing_index(rising, minimum_c, "rising")
    safe = last = np.full(settled.shape, NEVER)
    first = np.full(settled.shape, days + season_days)
    if tmin_c is not None:
        last = frost_index(tmin_c[:, : turn + 1], damaging_c, "last")
        safe = frost_safe_index(_spring_index(rising, last), last, risk)
        autumn = frost_index(tmin_c[:, turn + 1 :], damaging_c, "first")
        first = np.where(autumn == NEVER, days + season_days, turn + 1 + autumn)
    opens = np.where(settled == NEVER, NEVER, np.maximum(settled, safe))
    closes = np.minimum(first - season_days, days - 1)
    closed_by = np.where(first < days, FIRST_FROST, SEASON_END)
    if upper_c is not None:
        hot = crossing_index(rising, upper_c, "rising")
        cut = hot
        if needed_days:
            within = rising <= upper_c
            within &= rising >= (minimum_c if lower_c is None else lower_c)
            cut = _last_with(within, np.where(hot == NEVER, turn, hot), needed_days)
        heat = (hot != NEVER) & (cut < closes)
        closes = np.where(heat, cut, closes)
        closed_by = np.where(heat, HEAT, closed_by)
    return _window(
        opens, closes, settled, closed_by, frost_bound=safe > settled, frost_after=last > opens
    )


def best_days(share: Floats, first: int) -> tuple[int, int, int] | None:
    """Return the days between which the window is about as surely open as it gets.

    Early is better, for roots in autumn and for growth in spring. So the best day is the
    first whose share is within a twentieth of the most; less than that the members of a few
    past years cannot tell apart.

    Parameters
    ----------
    share : (n,) array
        Share of members whose window is open on each day.
    first : int
        Earlier days are past.

    Returns
    -------
    (int, int, int) or None
        First day of the stretch, the best day, last day of the stretch: the share is nowhere
        below nine tenths of the most. None if it is open in no member on any day left.
    """
    left = share[first:]
    if left.size == 0 or left.max() <= 0.0:
        return None
    best = int(np.argmax(left >= 0.95 * left.max()))
    low = left < 0.9 * left.max()
    before, after = np.flatnonzero(low[:best]), np.flatnonzero(low[best:])
    start = int(before[-1]) + 1 if before.size else 0
    stop = best + int(after[0]) - 1 if after.size else left.size - 1
    return first + start, first + best, first + stop


def _window(
    opens: Ints,
    closes: Ints,
    settled: Ints,
    closed_by: Ints,
    *,
    frost_bound: Bools,
    frost_after: Bools,
) -> MemberWindow:
    """Return the members' windows, those that close before they open taken out."""
    there = (opens != NEVER) & (closes >= opens)
    return MemberWindow(
        np.where(there, opens, NEVER),
        np.where(there, closes, NEVER),
        settled,
        frost_bound & there,
        frost_after & there,
        closed_by,
    )


def _spring_index(rising_c: Floats, last_frost: Ints) -> Ints:
    """Return how early each member's spring is, whatever the crop wants.

    It is the day on which the soil settles above what the members' mean soil has on the
    median day of the last frost. So crops of one garden share what its springs say of frost.
    """
    dates = last_frost[last_frost != NEVER]
    if dates.size == 0:
        return np.zeros(last_frost.shape, dtype=np.int64)
    usual_c = float(rising_c[:, int(np.median(dates))].mean())
    return crossing_index(rising_c, usual_c, "rising")


def _or_end(index: Ints, days: int) -> Ints:
    return np.where(index == NEVER, days, index)


def _last_with(within: Bools, end: Ints, needed: int) -> Ints:
    """Return the last day after which, up to `end`, enough days lie within; −1 for none."""
    total = np.cumsum(within, axis=1)
    to_end = np.take_along_axis(total, np.minimum(end, total.shape[1] - 1)[:, None], axis=1)
    return np.asarray((total <= to_end - needed).sum(axis=1) - 1)
