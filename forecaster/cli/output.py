"""Where answers go: the screen, and files that are written with care."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from pathlib import Path

    from forecaster.ground.files import Mark, Target

FORCE = click.option(
    "--force", is_flag=True, help="Write over a file that this command did not write."
)
READ = ("files", "readings", "outlook", "crops", "since", "book")
"""Options that name files to be read."""


def there(path: Path, *, folder: bool = False) -> bool:
    """Whether there is such a file, or folder; a name that no file can have is not there."""
    try:
        return path.is_dir() if folder else path.exists()
    except (OSError, ValueError):
        return False


def inputs(options: Mapping[str, Any], files: Sequence[str] = ()) -> tuple[str, ...]:
    """Return the files that the options of a call name to be read."""
    named = [options.get(name) for name in READ]
    return (*files, *(one for one in named if isinstance(one, str)))


def target(
    out: str, mark: Mark, *, option: str = "--out", read: Sequence[str] = (), force: bool = False
) -> Target:
    """Return a file to be written; a name that cannot be is refused before the long work."""
    from pathlib import Path

    from forecaster.ground.files import Target

    made = Target(Path(out), mark, f"{option} {out!r}", tuple(Path(one) for one in read), force)
    made.check()
    return made


def calendar_target(ics: str, **how: Any) -> Target:
    """Return the calendar to be written; a name that cannot be is refused."""
    from pathlib import Path

    from forecaster.ground.files import CALENDAR

    if Path(ics).suffix.lower() != ".ics":
        raise click.UsageError(f"--ics {ics!r}: expected a name ending in .ics.")
    return target(ics, CALENDAR, option="--ics", **how)


def check_picture(
    out: str,
    *,
    option: str = "--out",
    read: Sequence[str] = (),
    force: bool = False,
    paper: bool = False,
) -> None:
    """Refuse a picture that cannot be written before the long work begins; `paper` allows PDF."""
    from forecaster.ground.files import picture

    for one in picture(out, f"{option} {out!r}", inputs=read, force=force, paper=paper):
        one.check()


def drawn(out: str, beside: Path) -> str:
    """Say where a picture and its description are."""
    return f"Picture: {out}\nIn words: {beside}"
