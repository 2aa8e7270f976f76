"""How words are laid out: paragraphs filled to a width, numbers held to what they count."""

from __future__ import annotations

import re
import textwrap

_TOGETHER = re.compile(
    r"(?<=\d) (?=[A-Za-z°%½])"  # 4 in, 65 °F, 16 April, 1 in; 5 and 27 April
    r"|(?<=\d in) (?=\d)"  # 1 in 2
    r"|(?<=°) (?=[NESW]\b)"  # 36.2° S
    r"|(?<=[a-z]) (?=\d{4}\b(?!-))"  # April 2026
)
"""Where a line must not break."""
_HELD = "\u00a0"
_LAST_TWO = "".join(rf"\U{plane:04x}fffe\U{plane:04x}ffff" for plane in range(17))
_NOT_TEXT = re.compile(
    rf"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef{_LAST_TWO}]"
)
"""Control characters, lone surrogates and non-characters: no HTML text holds them."""


def as_text(words: str) -> str:
    """Return words with a sign in place of what is no text: in HTML, in a picture."""
    return _NOT_TEXT.sub("\ufffd", words)


def wrap(
    text: str, width: int, indent: str = "", *, hang: str | None = None, break_long: bool = True
) -> str:
    """Return a paragraph that fits; lines already set as a table stay as they are.

    Parameters
    ----------
    text : str
        One paragraph, or several lines that are a table.
    width : int
        Columns, indent included.
    indent : str
        Before the first line.
    hang : str, optional
        Before the others; default: two deeper, or flush where a paragraph is neither indented
        nor a point of a list.
    break_long : bool
        Break a word that is longer than a line, as a path may be.

    >>> print(wrap("the soil settles below 65 °F", 26))
    the soil settles below
    65 °F
    """
    if "\n" in text:
        return "\n".join(f"{indent}{line}" for line in text.split("\n"))
    if hang is None:
        hang = indent + ("  " if indent or text.startswith("·") else "")
    filled = textwrap.fill(
        _TOGETHER.sub(_HELD, text), width, initial_indent=indent, subsequent_indent=hang,
        break_on_hyphens=False, break_long_words=break_long,
    )  # fmt: skip
    return filled.replace(_HELD, " ")
