"""Every picture is drawn and saved here: our style, our own canvas, whole or not at all."""

from __future__ import annotations

import io
import os
import re
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from forecaster.charts.style import DOTS_PER_INCH, STYLE
from forecaster.ground import files
from forecaster.words.layout import as_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@contextmanager
def drawing() -> Iterator[None]:
    """Draw in our style; the backend that a notebook names in MPLBACKEND is not asked for."""
    named = os.environ.pop("MPLBACKEND", None)
    try:
        from matplotlib import rc_context  # noqa: PLC0415
    finally:
        if named is not None:
            os.environ["MPLBACKEND"] = named
    with rc_context(STYLE):
        yield


def save(
    figure: Figure,
    path: str | Path,
    title: str,
    words: str,
    *,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
) -> Path:
    """Save a picture, and what it shows in words beside it; return the path of the words.

    Parameters
    ----------
    figure : Figure
    path : str or Path
        Ends in ``.png`` or ``.svg``.
    title, words : str
        What it is, and what it shows, for those who cannot see it; both go into the picture too.
    inputs : sequence of str or Path
        What the picture was made from; never written over.
    force : bool
        Write over files that are not ours.

    Raises
    ------
    InputError
        If the name ends otherwise, or one of the two files must not or cannot be written.
    """
    target, beside = files.picture(path, inputs=inputs, force=force)
    target.check()
    beside.check()
    title, words = as_text(title), as_text(words)
    content = svg(figure, title, words) if target.mark == files.SVG else png(figure, title, words)
    text = f"{words}\n\n{files.WORDS.words.decode()}\n"
    files.write([(target, content), (beside, text.encode())])
    return beside.path


def png(figure: Figure, title: str, words: str) -> bytes:
    """Return a figure as PNG, with what it shows in its text chunks."""
    software = files.PNG.words.decode().split("\0")[1]
    return saved(figure, "png", {"Title": title, "Description": words, "Software": software})


def svg(figure: Figure, title: str, words: str) -> bytes:
    """Return a figure as SVG, with what a screen reader says of it."""
    text = saved(figure, "svg", {"Title": title, "Date": None}).decode()
    text = re.sub(r"<title>.*?</title>", "", text, count=1, flags=re.DOTALL)
    said = f'<title id="t">{escape(title)}</title>\n<desc id="d">{escape(words)}</desc>\n'
    return re.sub(
        r"(<svg\b[^>]*)>",
        lambda found: (
            f'{files.SVG.words.decode()}\n{found[1]} role="img" aria-labelledby="t d">\n{said}'
        ),
        text,
        count=1,
    ).encode()


def saved(figure: Figure, kind: str, metadata: dict[str, Any]) -> bytes:
    """Return a figure as the bytes of a file; what is no text in its words is shown as such."""
    from matplotlib.text import Text  # noqa: PLC0415

    for one in figure.findobj(Text):
        one.set_text(as_text(one.get_text()))
    buffer = io.BytesIO()
    with drawing(), warnings.catch_warnings():
        # A letter that the font lacks is drawn as a box; the words beside the picture have it.
        warnings.filterwarnings("ignore", "Glyph .* missing", UserWarning)
        figure.savefig(buffer, format=kind, dpi=DOTS_PER_INCH, metadata=metadata)
    return buffer.getvalue()
