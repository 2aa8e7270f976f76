"""The page served: on this computer alone, on a free port, until it is stopped."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from typing import Any

from forecaster.page.app import make_app
from forecaster.page.door import LONGEST_UPLOAD_BYTES, Keys
from forecaster.page.garden import Garden
from forecaster.page.towns import towns

HERE = "127.0.0.1"
THREADS = 6
LEAVE_S = 0.5  # for what is being answered when the page is ended
IDLE_S = 30  # a sender who sends nothing for so long is hung up on


@dataclass(slots=True)
class Page:
    """A page that is served.

    Parameters
    ----------
    address : str
        Opens it once.
    run : callable
        Serves until stopped.
    stop : callable
        Ends it at once; what was written is written.
    """

    address: str
    run: Callable[[], None]
    stop: Callable[[], None]


def open_page(garden: Garden, port: int = 0) -> Page:
    """Return the page of a garden, listening already, on a port or on any free one.

    Raises
    ------
    OSError
        If the port is taken.
    """
    from waitress.server import create_server

    door = socket.create_server((HERE, port))
    number = door.getsockname()[1]
    keys = Keys(hosts={f"{HERE}:{number}"})
    app = make_app(garden, keys)
    server: Any = create_server(
        app,
        sockets=[door],
        threads=THREADS,
        ident=None,
        channel_timeout=IDLE_S,
        cleanup_interval=IDLE_S,
        max_request_body_size=LONGEST_UPLOAD_BYTES,
        connection_limit=200,
        expose_tracebacks=False,
        clear_untrusted_proxy_headers=True,
    )
    tasks = server.task_dispatcher
    tasks.shutdown = partial(tasks.shutdown, timeout=LEAVE_S)
    threading.Thread(target=_warm, daemon=True).start()
    return Page(f"http://{HERE}:{number}/enter?key={keys.entry}", server.run, server.close)


def _warm() -> None:
    """Load what the first answer needs, while the browser still starts."""
    for name in ("answers.bed", "answers.crops", "plan", "words.plan", "words.book"):
        import_module(f"forecaster.{name}")
    towns()
