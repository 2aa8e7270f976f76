"""What more than one test needs."""

import os
import shutil
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import numpy as np
import pandas as pd
import pytest
from hypothesis import settings

# Where a change is judged the same cases are tried each time; at a desk, new ones.
settings.register_profile(
    "busy machine", deadline=None, max_examples=40, derandomize=bool(os.environ.get("CI"))
)
settings.load_profile("busy machine")

BESIDE = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session", autouse=True)
def _no_book_of_the_user(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Keep the tests away from a garden book that whoever runs them may have."""
    os.environ["CROSSDAY_BOOK"] = str(tmp_path_factory.mktemp("no-book") / "garden.db")


def leave_out(reason: str, unless: str) -> NoReturn:
    """Skip a test; fail it where everything must run, as .ci/run says by a variable."""
    if os.environ.get(unless):
        pytest.fail(f"{reason}, and {unless} is set")
    pytest.skip(reason)


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of public records that the project does not ship; CROSSDAY_DATA names another."""
    folder = Path(os.environ.get("CROSSDAY_DATA", BESIDE))
    if not folder.is_dir():
        leave_out(
            f"no folder {folder.name!r} of public records; name one in CROSSDAY_DATA",
            unless="CROSSDAY_REQUIRE_DATA",
        )
    return folder


@pytest.fixture(scope="session")
def records(shared_data) -> Callable[[str], Path]:
    """Return a finder of a folder inside the public records."""

    def find(name: str) -> Path:
        if not (shared_data / name).is_dir():
            leave_out(f"no {name} among the public records", unless="CROSSDAY_REQUIRE_DATA")
        return shared_data / name

    return find


@pytest.fixture
def browser() -> str:
    """Return the command of a browser that needs no screen."""
    for name in ("chromium", "chromium-browser"):
        if found := shutil.which(name):
            return found
    leave_out("there is no chromium on this computer", unless="CROSSDAY_REQUIRE_BROWSER")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say which tests were left out, and why."""
    skipped: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for report in terminalreporter.stats.get("skipped", ()):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        skipped[str(reason).removeprefix("Skipped: ")][report.nodeid.split("::")[0]] += 1
    if not skipped:
        return
    total = sum(sum(files.values()) for files in skipped.values())
    terminalreporter.write_sep("=", f"{total} left out")
    for reason, files in sorted(skipped.items()):
        where = ", ".join(f"{file} ({count})" for file, count in sorted(files.items()))
        terminalreporter.write_line(f"{reason}: {where}")


@pytest.fixture(scope="session")
def make_air() -> Callable[..., pd.DataFrame]:
    """Return a maker of invented daily air: a yearly wave, weather with a memory, showers.

    ``warmest`` is the day of the year of the wave's top; the values do not depend on `start`.
    """

    def make(
        days: int = 1500,
        start: str = "2019-01-01",
        *,
        seed: int = 0,
        warmest: float = 200.0,
        mean_c: float = 13.0,
        swing_c: float = 11.0,
    ) -> pd.DataFrame:
        random = np.random.default_rng(seed)
        index = pd.date_range(start, periods=days, name="date")
        weather, shocks = np.zeros(days), random.normal(size=days) * 2.8
        for t in range(1, days):
            weather[t] = 0.7 * weather[t - 1] + shocks[t]
        turn = 2.0 * np.pi * (index.day_of_year[0] + np.arange(days) - warmest) / 365.2425
        middle = mean_c + swing_c * np.cos(turn) + weather
        half = random.uniform(3.0, 9.0, days)
        rain = random.exponential(7.0, days) * (random.random(days) < 0.3)
        return pd.DataFrame(
            {"tmin_c": middle - half, "tmax_c": middle + half, "precip_mm": rain}, index=index
        )

    return make
