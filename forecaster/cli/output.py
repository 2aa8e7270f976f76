"""Where answers go: the screen, pictures, names that can be written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click


def there(path: Path, *, folder: bool = False) -> bool:
    """Whether there is such a file, or folder; a name that no file can have is not there."""
    try:
        return path.is_dir() if folder else path.exists()
    except (OSError, ValueError):
        return False


def check_picture(out: str) -> None:
    """Refuse a name that cannot be written before the long work begins."""
    from pathlib import Path

    path = Path(out)
    if path.suffix.lower() not in (".png", ".svg"):
        raise click.UsageError(f"--out {out!r}: expected a name ending in .png or .svg.")
    if not there(path.parent, folder=True):
        raise click.UsageError(
            f"--out {out!r}: there is no folder {str(path.parent)!r}; make it, or name another."
        )


def written(draw: Callable[[str], Path], out: str) -> str:
    """Draw, and return where the picture and its description are."""
    try:
        beside = draw(out)
    except OSError as error:
        raise click.UsageError(f"--out {out!r}: {error.strerror}; name another file.") from error
    return f"Picture: {out}\nIn words: {beside}"
