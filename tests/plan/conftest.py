"""Windows and plans made up for these tests."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest

from forecaster.answers.window import Outlook, SoFar, Threshold, Typical, Window
from forecaster.plan import Bed, FrostSpan, Plan, Wants, make_plan, rectangle
from forecaster.units import f_to_c

FALL = Threshold("cool-65", "Cool-season flats", f_to_c(65.0), "falling")
RISE = Threshold("warm-65", "Warm-season plants", f_to_c(65.0), "rising")


def make_window(
    first: date = date(2026, 10, 1),
    share: tuple[float, ...] = (0.05,) * 20,
    *,
    direction: str = "falling",
) -> Window:
    """A window that opens on days from `first` with these shares; the rest is never."""
    days = tuple(first + timedelta(days=k) for k in range(len(share)))
    never = max(0.0, 1.0 - sum(share))

    def by(q: float) -> date | None:
        total = 0.0
        for day, part in zip(days, share, strict=True):
            total += part
            if total >= q - 1e-9:
                return day
        return None

    outlook = Outlook(by(0.5), by(0.1), by(0.9), never, (), days, share)
    start = date(first.year, 8, 1) if direction == "falling" else date(first.year, 2, 1)
    return Window(
        FALL if direction == "falling" else RISE,
        start,
        start + timedelta(days=183),
        Typical((), None, None, None, (), (), float("nan")),
        SoFar(date(2026, 9, 1), 20.0, 0.8, -1.2, None, 0, 0, 0.0),
        outlook,
        "wait",
        "it has not settled yet (99 chances in 100)",
        None,
    )


@pytest.fixture(scope="session")
def window() -> Callable[..., Window]:
    return make_window


@pytest.fixture(scope="session")
def spring() -> Window:
    return make_window(date(2027, 4, 10), (0.1,) * 10, direction="rising")


@pytest.fixture(scope="session")
def plan(spring: Window) -> Plan:
    return make_plan(
        make_window(),
        Bed("North bed", outline=rectangle(1.2192, 7.62)),
        Wants(
            prices={36: 18.5, 48: 22.0},
            flat_sizes=(18,),
            fertilizer="12-0-0",
            flow_m3_s=3.15e-4,
            sow_weeks=(8.0, 9.0),
        ),
        today=date(2026, 9, 1),
        next_window=spring,
        frost=FrostSpan(date(2026, 10, 15), date(2026, 11, 1), date(2026, 11, 20)),
    )


@pytest.fixture(scope="session")
def later(plan: Plan, spring: Window) -> Plan:
    """The same bed two weeks on, the window three days later."""
    moved = make_window(date(2026, 10, 4))
    made = make_plan(moved, plan.bed, plan.wants, today=date(2026, 9, 15), next_window=spring)
    return replace(made)
