"""A page of a book of its own, asked without a browser; and one that is served."""

import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from forecaster.page.app import make_app
from forecaster.page.door import Keys
from forecaster.page.garden import Garden

HOST = "127.0.0.1:8123"
NOW = datetime(2026, 3, 16, 9, 30)


@dataclass
class Visitor:
    """A browser that was let in, without a window."""

    client: FlaskClient
    keys: Keys
    garden: Garden

    def get(self, path: str, **more: Any) -> TestResponse:
        answer = self.client.get(path, base_url=f"http://{HOST}", **more)
        answer.get_data()
        answer.close()
        return answer

    def post(self, path: str, **fields: Any) -> TestResponse:
        """Send a form as the page would."""
        data = {"token": self.keys.token(self.keys.session), **fields}
        return self.client.post(
            path, base_url=f"http://{HOST}", data=data, headers={"Origin": f"http://{HOST}"}
        )

    def batch(self, path: str) -> str:
        """The first entry that a page offers to take back."""
        found = re.search(r'name="batch" value="(\d+)"', self.get(path).text)
        assert found
        return found[1]


@pytest.fixture
def stranger(tmp_path) -> Visitor:
    """A page whose visitor has not come in yet."""
    garden = Garden(path=tmp_path / "garden.db", now=lambda: NOW)
    keys = Keys(hosts={HOST})
    return Visitor(make_app(garden, keys).test_client(), keys, garden)


@pytest.fixture
def visitor(stranger) -> Visitor:
    """A visitor with the cookie, before an empty book."""
    assert stranger.get(f"/enter?key={stranger.keys.entry}").status_code == 303
    return stranger


@pytest.fixture
def example(visitor) -> Visitor:
    """A visitor of the invented garden."""
    assert visitor.post("/begin/example").status_code == 303
    return visitor


def _hear_ctrl_c() -> None:
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.fixture
def served() -> Iterator[Callable[..., str]]:
    """Return a starter of `crossday open`: its one-time address."""
    running: list[subprocess.Popen[str]] = []

    def start(book: Path, *words: str) -> str:
        command = [sys.executable, "-m", "forecaster", "open", "--no-browser", "--book", str(book)]
        # A shell that runs these tests in its background has Ctrl-C ignored, and so would the page.
        page = subprocess.Popen(
            [*command, *words],
            stdout=subprocess.PIPE,
            text=True,
            preexec_fn=_hear_ctrl_c,  # noqa: PLW1509 - no other thread here
        )
        running.append(page)
        assert page.stdout is not None
        return page.stdout.readline().strip()

    start.running = running  # type: ignore[attr-defined]
    yield start
    for page in running:
        page.terminate()
        page.wait(10)
        if page.stdout is not None:
            page.stdout.close()
