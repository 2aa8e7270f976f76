"""The stand-in for the public services (service.py) on this computer, and doors to it."""

import threading
from collections.abc import Callable, Iterator
from datetime import date

import pytest

from forecaster.fetch.session import Fetcher

from .service import Service

STATION = "USW00013739"


@pytest.fixture
def server() -> Iterator[Service]:
    """A server that answers; it holds some years of one station."""
    with Service() as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        running.put_days(STATION, date(2019, 12, 1), 1500)
        yield running
        running.done.set()
        running.shutdown()
        thread.join()


@pytest.fixture
def waits() -> list[float]:
    """Seconds that a door would have waited, in turn."""
    return []


@pytest.fixture
def open_door(server, tmp_path, waits) -> Iterator[Callable[..., Fetcher]]:
    """Return a maker of doors to the server, all with the same kept answers."""
    opened: list[Fetcher] = []

    def make(**options: object) -> Fetcher:
        usual = {"base": server.base, "sleep": waits.append, "silence_s": 3.0}
        opened.append(Fetcher(tmp_path / "kept.sqlite", **usual | options))
        return opened[-1]

    yield make
    for door in opened:
        door.close()


@pytest.fixture
def door(open_door) -> Fetcher:
    """One door to the server."""
    return open_door()
