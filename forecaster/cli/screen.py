r"""What is printed: nothing that a terminal would obey, and nothing lost in silence.

Names, notes and cells come from files and services, and a terminal takes some characters for
commands. Every word of ours passes here, where such characters become ``\u001b``: in an answer
for a program that is how JSON writes the same character.
"""

from __future__ import annotations

import io
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TextIO

# Controls of ISO 6429 but tab and line end; marks that turn the order of letters (UAX #9).
_OBEYED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def clean(text: str) -> str:
    r"""Return text with every character that a terminal would obey written out.

    >>> clean("\x1b[2Jnorth\n")
    '\\u001b[2Jnorth\n'
    """
    return _OBEYED.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


class Clean(io.TextIOWrapper):
    """A stream of text that passes on nothing that a terminal would obey."""

    def __init__(self, plain: io.TextIOWrapper) -> None:
        super().__init__(
            plain.buffer,
            encoding=plain.encoding,
            # A letter that the terminal does not have, or a name that is no text, is no error.
            errors="replace",
            line_buffering=plain.line_buffering,
        )
        self.plain = plain

    def write(self, text: str, /) -> int:
        """Write text, cleaned."""
        super().write(clean(text))
        return len(text)


@contextmanager
def screen() -> Iterator[None]:
    """Print cleanly within; a stream that was closed swallows what is printed."""
    before = sys.stdout, sys.stderr
    with open(os.devnull, "w", encoding="utf-8") as nowhere:  # noqa: PTH123 - a name of the system
        sys.stdout, sys.stderr = (_opened(stream, nowhere) for stream in before)
        try:
            yield
        finally:
            made = sys.stdout, sys.stderr
            sys.stdout, sys.stderr = before
            for stream in made:
                if isinstance(stream, Clean):
                    with suppress(OSError, ValueError):  # said already, where it was written
                        stream.flush()
                    with suppress(OSError, ValueError):
                        stream.detach()


def _opened(stream: TextIO | None, nowhere: TextIO) -> TextIO:
    if stream is None or stream.closed:  # closed by whoever called: nobody wants to see it
        return nowhere
    if not isinstance(stream, io.TextIOWrapper):
        return stream
    with suppress(OSError):
        stream.flush()
    return Clean(stream)


def give_up_stdout() -> None:
    """Lead the rest of the output nowhere, so that Python's own last flush stays quiet."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def uncleaned(stream: TextIO) -> TextIO:
    """Return the stream below, for a bar that moves by what a terminal obeys."""
    return stream.plain if isinstance(stream, Clean) else stream
