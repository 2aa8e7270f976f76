"""The page served: on this computer alone, on a free port, until it is stopped."""

from __future__ import annotations

import logging
import secrets
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from typing import Any

from forecaster.answers.towns import towns
from forecaster.ground.errors import DataMissing
from forecaster.page.app import make_app
from forecaster.page.door import LONGEST_UPLOAD_BYTES, Keys
from forecaster.page.garden import Garden

HERE = "127.0.0.1"
THREADS = 6
LEAVE_S = 0.5  # for what is being answered when the page is ended
WARM_AFTER_S = 0.4  # the first page comes before what its answers need
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


def open_page(garden: Garden, port: int = 0, *, shared: bool = False) -> Page:
    """Return the page of a garden, listening already, on a port or on any free one.

    Parameters
    ----------
    garden : Garden
    port : int
        0 for any that is free.
    shared : bool
        Listen on the local network too, for devices that are let in one by one.

    Raises
    ------
    OSError
        If the port is taken.
    """
    from waitress.server import create_server

    door = socket.create_server((HERE, port))
    number = door.getsockname()[1]
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # how many wait is no news
    doors, keys = [door], Keys(hosts={f"{HERE}:{number}"})
    if shared:
        here = on_the_network()
        doors.append(socket.create_server((here, number)))
        keys.hosts.add(f"{here}:{number}")
        keys.guest_key = secrets.token_urlsafe(16)
    app = make_app(garden, keys)
    server: Any = create_server(
        app,
        sockets=doors,
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
    garden.warm = False
    later = threading.Timer(WARM_AFTER_S, _warm, (garden,))
    later.daemon = True
    later.start()
    return Page(f"http://{HERE}:{number}/enter?key={keys.entry}", server.run, server.close)


def on_the_network() -> str:
    """Return this computer's address on the local network; nothing is sent to find it.

    Raises
    ------
    DataMissing
        If it is on none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))  # TEST-NET-1, RFC 5737: only the route is looked up
            found = str(asked.getsockname()[0])
        except OSError:
            found = HERE
    if found.startswith("127.") or found == "0.0.0.0":  # noqa: S104 - what is refused
        raise DataMissing("this computer is on no network that a phone could share with it")
    return found


def _warm(garden: Garden) -> None:
    """Load what the first answer needs, while the browser still starts."""
    for name in ("answers.bed", "answers.crops", "plan", "words.plan", "words.book"):
        import_module(f"forecaster.{name}")
    towns()
    garden.warm = True
