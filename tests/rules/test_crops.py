"""Crop windows on invented members, each case worked by hand or a property of the definition."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.errors import InputError
from forecaster.rules.crops import (
    FIRST_FROST,
    FREEZE,
    HEAT,
    SEASON_END,
    TOO_COLD,
    Crop,
    CropThreshold,
    Figure,
    autumn_window,
    best_days,
    spring_window,
)

MILD = 5.0


def falling(days: int = 180, start: float = 30.0, per_day: float = 0.2) -> np.ndarray:
    """One member whose soil falls evenly: 30.0, 29.8, …"""
    return start - per_day * np.arange(days)[None, :]


def autumn(soil, tmin=None, *, upper=20.1, lower=10.1, needed=10):
    return autumn_window(
        soil, tmin, upper_c=upper, lower_c=lower, freeze_c=-2.0, needed_days=needed
    )


def year(days: int = 360, mean: float = 12.0, swing: float = 12.0) -> np.ndarray:
    """One member from the coldest day to the next: warmest on day 180."""
    return mean - swing * np.cos(2.0 * np.pi * np.arange(days) / days)[None, :]


def spring(soil, tmin=None, *, minimum=15.0, risk=0.1, season_days=60, **more):
    return spring_window(
        soil, tmin, turn=180, minimum_c=minimum, damaging_c=0.0, risk=risk,
        season_days=season_days, **more,
    )  # fmt: skip


def test_autumn_window_by_hand():
    """30 − 0.2·d is last above 20.1 on day 49 and above 10.1 on day 99.

    Within the limits are days 50 to 99. After day 89 ten are left, 90 to 99.
    """
    found = autumn(falling())
    assert (found.opens[0], found.closes[0]) == (49, 89)
    assert found.closed_by[0] == TOO_COLD


def test_hard_freeze_comes_first():
    """A freeze on day 79: the last ten days of 50 to 79 begin on day 70."""
    tmin = np.full((1, 180), MILD)
    tmin[0, 79] = -2.0
    found = autumn(falling(), tmin)
    assert (found.opens[0], found.closes[0]) == (49, 69)
    assert found.closed_by[0] == FREEZE


def test_no_window_where_roots_have_no_time_or_the_soil_stays_warm():
    assert not autumn(falling(), needed=51).usable.any()
    assert autumn(falling(), needed=50).usable.all()
    warm = autumn(falling(), upper=-10.0, lower=-20.0)
    assert not warm.usable.any()
    assert warm.open_share(180).max() == 0.0


def test_soil_that_never_turns_cold_is_open_until_the_season_leaves_too_few_days():
    found = autumn(falling(per_day=0.1, days=150))  # ends at 15.1
    assert found.closed_by[0] == SEASON_END
    assert found.closes[0] == 139  # ten days, 140 to 149, are left


def test_spring_window_by_hand():
    """12 − 12·cos x passes 15 where cos x = −1/4: x = 1.8235, day 104.5.

    The last frost is on day 120, the first on day 300: open on 120, and sixty days before
    the first, 240.
    """
    tmin = np.full((1, 360), MILD)
    tmin[0, [20, 120, 300, 310]] = 0.0
    found = spring(year(), tmin)
    assert (found.opens[0], found.closes[0]) == (120, 240)
    assert found.settled[0] == 104
    assert found.frost_bound[0]
    assert not found.frost_after[0]
    assert found.closed_by[0] == FIRST_FROST


def test_without_minima_soil_alone_decides():
    found = spring(year())
    assert (found.opens[0], found.closes[0]) == (104, 359)
    assert found.closed_by[0] == SEASON_END
    assert not found.frost_bound.any()


def test_heat_closes_a_spring_window():
    """The wave passes 20 where cos x = −2/3: x = 2.3005, day 131.8."""
    found = spring(year(), upper_c=20.0)
    assert (found.opens[0], found.closes[0]) == (104, 131)
    assert found.closed_by[0] == HEAT
    roots = spring(year(), upper_c=20.0, needed_days=10)
    assert roots.closes[0] == 121  # 122 to 131 are ten


def test_no_time_left_is_no_window():
    tmin = np.full((1, 360), MILD)
    tmin[0, [150, 200]] = 0.0
    assert not spring(year(), tmin).usable.any()


# --- properties -----------------------------------------------------------------------------


def members(seed: int, count: int = 60, *, apart: float = 0.5) -> tuple[np.ndarray, np.ndarray]:
    """Members some days early or late, in soil and frost alike, with weather on the frost."""
    random = np.random.default_rng(seed)
    order = random.permutation(np.arange(count)) - count / 2
    day = np.arange(360)[None, :] - order[:, None] * apart
    wave = -np.cos(2.0 * np.pi * day / 360)
    return 12.0 + 12.0 * wave, 6.0 + 9.0 * wave + random.normal(0.0, 2.0, wave.shape)


@given(st.integers(0, 50), st.floats(0.0, 4.0), st.sampled_from([0.02, 0.1, 0.3]))
def test_colder_soil_never_opens_a_warm_window_earlier(seed, colder, risk):
    soil, tmin = members(seed)
    early = spring(soil, tmin, season_days=1, risk=risk)
    late = spring(soil - colder, tmin, season_days=1, risk=risk)
    assert (late.settled >= early.settled).all()
    assert (late.opens >= early.opens).all()


@given(st.integers(0, 50), st.floats(6.0, 15.0), st.floats(0.0, 4.0))
def test_a_crop_that_wants_warmer_soil_never_opens_earlier(seed, minimum, warmer):
    soil, tmin = members(seed)
    one, other = (
        spring(soil, tmin, minimum=least, season_days=1) for least in (minimum, minimum + warmer)
    )
    assert (other.opens >= one.opens).all()


@given(st.integers(0, 50), st.floats(0.0, 4.0))
def test_without_frost_colder_soil_opens_no_member_earlier(seed, colder):
    soil, _ = members(seed)
    assert (spring(soil - colder).opens >= spring(soil).opens).all()


@given(st.integers(0, 50), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_more_risk_never_opens_later(seed, one, other):
    soil, tmin = members(seed)
    low, high = sorted((one, other))
    careful, bold = (spring(soil, tmin, season_days=1, risk=risk) for risk in (low, high))
    assert (bold.opens <= careful.opens).all()


@pytest.mark.parametrize("risk", [0.05, 0.1, 0.25])
def test_the_accepted_risk_is_kept_in_the_members(risk):
    soil, tmin = members(1, count=400, apart=0.05)
    found = spring(soil, tmin, minimum=5.0, season_days=1, risk=risk)
    assert found.usable.all()
    assert found.frost_bound.mean() > 0.9
    # a quarter of 400 members decides each: a chance is off by a few in a hundred at most
    assert found.frost_after.mean() == pytest.approx(risk, abs=0.03)


def test_where_springs_differ_much_the_accepted_risk_is_not_exceeded():
    """The quarter of the members about each then holds later springs too: careful, not bold."""
    soil, tmin = members(1, count=400, apart=0.5)
    found = spring(soil, tmin, minimum=5.0, season_days=1, risk=0.1)
    assert found.frost_after.mean() < 0.13


def test_soil_and_frost_are_taken_together():
    """Frosts of other springs than the members' own open early springs later."""
    random = np.random.default_rng(3)
    count = 400
    early = np.arange(count) // 4  # days by which a spring is late
    soil = year() + np.zeros((count, 1))
    soil = np.stack([np.roll(soil[i], early[i] // 2) for i in range(count)])
    tmin = np.full((count, 360), MILD)
    tmin[np.arange(count), 90 + early // 2] = -1.0
    together = spring(soil, tmin)
    apart = spring(soil, tmin[random.permutation(count)])
    first = slice(0, count // 4)
    assert together.opens[first].max() < apart.opens[first].min()


@given(st.integers(0, 50), st.integers(1, 40), st.integers(0, 20))
def test_more_days_to_root_never_close_later(seed, needed, more):
    random = np.random.default_rng(seed)
    soil = falling() + random.normal(0.0, 1.0, (8, 180))
    short, long = (autumn(soil, needed=n) for n in (needed, needed + more))
    both = long.usable
    assert (short.usable | ~both).all()
    assert (long.closes[both] <= short.closes[both]).all()


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=60), st.integers(0, 60))
def test_best_days_hold_what_they_say(share, first):
    found = best_days(np.array(share), first)
    left = share[first:]
    if not left or max(left) == 0.0:
        assert found is None
        return
    start, best, stop = found
    assert first <= start <= best <= stop < len(share)
    assert share[best] >= 0.95 * max(left)
    assert min(share[start : stop + 1]) >= 0.9 * max(left)


# --- the figures of a crop ------------------------------------------------------------------


def crop(*values: float, role: str = "minimum", basis: str = "quoted") -> Crop:
    rows = tuple(CropThreshold(role, v, basis=basis, source=f"source {v:g}") for v in values)
    return Crop("x", "X", "warm", "vegetable", "transplant", thresholds=rows)


def test_the_middle_figure_is_used_and_the_safer_of_two():
    assert crop(12.0, 20.0, 15.0).choose("minimum", "spring", "seed").used.value_c == 15.0
    two = crop(12.0, 15.0).choose("minimum", "spring", "seed")
    assert two.used.value_c == 15.0
    assert [row.value_c for row in two.others] == [12.0]
    most = crop(12.0, 15.0, role="upper_limit").choose("upper_limit", "autumn", "seed")
    assert most.used.value_c == 12.0


def test_a_source_is_chosen_and_your_own_comes_first():
    many = crop(12.0, 20.0, 15.0)
    assert many.choose("minimum", "spring", "seed", "SOURCE 12").used.value_c == 12.0
    assert many.choose("minimum", "spring", "seed", "nobody").used.value_c == 15.0
    own = Crop(
        "x", "X", "warm", "vegetable", "transplant",
        thresholds=(CropThreshold("minimum", 25.0), *many.thresholds),
    )  # fmt: skip
    assert own.choose("minimum", "spring", "seed").used.value_c == 25.0
    assert many.choose("maximum", "spring", "seed") is None


@pytest.mark.parametrize(
    "make",
    [
        lambda: CropThreshold("minimum", 150.0),
        lambda: CropThreshold("minimum", 15.0, basis="hearsay"),
        lambda: Figure(3.0, 2.0, "quoted", "s"),
        lambda: Figure(0.0, 2.0, "quoted", "s"),
    ],
)
def test_figures_that_cannot_be_are_refused(make):
    with pytest.raises(InputError):
        make()
