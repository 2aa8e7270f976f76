"""Windows and plans made up for these tests."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest

from forecaster.answers.decision import Decision
from forecaster.chance.days import DayChances
from forecaster.plan import Bed, FrostSpan, Plan, Wants, make_plan, rectangle


def make_decision(
    first: date = date(2026, 10, 1),
    share: tuple[float, ...] = (0.05,) * 20,
    *,
    season: str = "autumn",
) -> Decision:
    """What opens on days from `first` with these shares; the rest is never."""
    days = tuple(first + timedelta(days=k) for k in range(len(share)))
    setting = DayChances(days, share, max(0.0, 1.0 - sum(share)))
    start = date(first.year, 8, 1) if season == "autumn" else date(first.year, 2, 1)
    return Decision(
        what="Cool-season flats" if season == "autumn" else "Warm-season plants",
        season=season,
        season_start=start,
        season_end=start + timedelta(days=183),
        setting=setting,
        opens=setting.quantile(0.5),
        best=setting.quantile(0.5),
        verdict="wait",
        reason="the soil has not settled yet (99 % sure)",
    )


@pytest.fixture(scope="session")
def window() -> Callable[..., Decision]:
    return make_decision


@pytest.fixture(scope="session")
def spring() -> Decision:
    return make_decision(date(2027, 4, 10), (0.1,) * 10, season="spring")


@pytest.fixture(scope="session")
def plan(spring: Decision) -> Plan:
    return make_plan(
        make_decision(),
        Bed(name="North bed", outline=rectangle(1.2192, 7.62)),
        Wants(
            prices={36: 18.5, 48: 22.0},
            flat_sizes=(18,),
            fertilizer="12-0-0",
            flow_m3_s=3.15e-4,
            sow_weeks=(8.0, 9.0),
        ),
        today=date(2026, 9, 1),
        following=spring,
        frost=FrostSpan(date(2026, 10, 15), date(2026, 11, 1), date(2026, 11, 20)),
    )


@pytest.fixture(scope="session")
def later(plan: Plan, spring: Decision) -> Plan:
    """The same bed two weeks on, the window three days later."""
    moved = make_decision(date(2026, 10, 4))
    made = make_plan(moved, plan.bed, plan.wants, today=date(2026, 9, 15), following=spring)
    return replace(made)
