"""`crossday open`: the page, on this computer, in the browser."""

from __future__ import annotations

from typing import Any

import click

from forecaster.cli.book_shared import BOOK
from forecaster.cli.command import command
from forecaster.cli.options import declare


@command(name="open")
@declare(
    click.option(
        "--browser/--no-browser", default=True, help="Show it in the browser, or print its address."
    ),
    click.option(
        "--port", type=click.IntRange(0, 65535), default=0, metavar="N",
        help="Port to listen on; by default any that is free.",
    ),
    click.option(
        "--share", is_flag=True,
        help="Listen on the local network too, for a phone that is let in on the page; not "
        "encrypted, so only on a network that you trust.",
    ),
    BOOK,
)  # fmt: skip
def open_(*, browser: bool, port: int, share: bool, path: str | None) -> None:
    """Open the page: the whole job in a browser, on this computer alone.

    Its address opens it once. Ctrl-C ends it; what was written stays.
    """
    from datetime import datetime
    from pathlib import Path

    from forecaster.ground.errors import DataMissing
    from forecaster.page.garden import Garden
    from forecaster.page.serve import open_page

    garden = Garden(path=None if path is None else Path(path), now=datetime.now)
    try:
        page = open_page(garden, port, shared=share)
    except (OSError, ValueError) as error:  # waitress says so where this computer has no address
        why = getattr(error, "strerror", None) or str(error).rstrip(".")
        raise DataMissing(f"port {port}: {why}; leave out --port for a free one") from error
    click.echo(page.address)
    if browser:
        _show(page.address)
        click.echo("Shown in your browser. Ctrl-C ends it.", err=True)
    _run(page)


def _show(address: str) -> None:
    import webbrowser

    if not webbrowser.open(address):
        click.echo("No browser could be started; open the address above in one.", err=True)


def _run(page: Any) -> None:
    """Serve until Ctrl-C, then leave at once: every write is whole or not there."""
    try:
        page.run()
    except KeyboardInterrupt:
        click.echo(err=True)
    finally:
        page.stop()


open = open_  # noqa: A001 - the command's own name
