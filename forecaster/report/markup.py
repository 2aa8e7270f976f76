"""HTML in small pieces: text is escaped unless it is a piece already."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from forecaster.words.layout import as_text

VOID = frozenset({"meta", "link", "br", "hr", "input"})


class Piece(str):
    """Markup that is ready; every other string is text and gets escaped."""

    __slots__ = ()


def text(words: object) -> Piece:
    """Return words as markup that shows them.

    >>> text("Tom & <script>")
    'Tom &amp; &lt;script&gt;'
    """
    if isinstance(words, Piece):
        return words
    return Piece(escape(as_text(str(words)), quote=True))


def el(tag: str, *children: object, **attributes: object) -> Piece:
    """Return an element.

    Parameters
    ----------
    tag : str
    *children : object
        Pieces as they are, anything else as text; None is left out.
    **attributes : object
        `class_` for class; an underscore stands for a hyphen; None and False are left out, True
        stands without a value.

    >>> el("p", "a < b", class_="lead")
    '<p class="lead">a &lt; b</p>'
    """
    parts = [tag]
    for name, value in attributes.items():
        if value is None or value is False:
            continue
        key = name.rstrip("_").replace("_", "-")
        parts.append(key if value is True else f'{key}="{text(value)}"')
    start = f"<{' '.join(parts)}>"
    if tag in VOID:
        return Piece(start)
    return Piece(f"{start}{joined(children)}</{tag}>")


def joined(pieces: Iterable[object], between: str = "") -> Piece:
    """Return pieces one after the other; what is no piece is escaped."""
    return Piece(between.join(text(piece) for piece in pieces if piece is not None))


def bullets(lines: Iterable[object], class_: str | None = None) -> Piece:
    """Return a list; empty if there is nothing to list."""
    items = [el("li", line) for line in lines if line]
    return el("ul", *items, class_=class_) if items else Piece("")


def paragraphs(lines: Iterable[object], class_: str | None = None) -> Piece:
    """Return a paragraph for each line."""
    return joined(el("p", line, class_=class_) for line in lines if line)


def table(
    caption: str, heads: Sequence[str], rows: Iterable[Sequence[object]], class_: str | None = None
) -> Piece:
    """Return a table that scrolls by itself where it is too wide; first cells head their rows."""
    body = [
        el("tr", el("th", row[0], scope="row"), *(el("td", cell) for cell in row[1:]))
        for row in rows
    ]
    head = el("tr", *(el("th", words, scope="col") for words in heads))
    made = el("table", el("caption", caption), el("thead", head), el("tbody", *body), class_=class_)
    return el("div", made, class_="wide", tabindex="0", role="region", aria_label=caption)


def folded(summary: str, *children: object) -> Piece:
    """Return what is shown only when it is asked for."""
    return el("details", el("summary", summary), *children)


def closed(name: str, summary: str, *children: object) -> Piece:
    """Return what a phone shows only when it is asked for; a desk and paper show it always.

    A box to tick and its label, since the inside of `details` cannot be shown on paper everywhere.
    """
    inside = joined(children)
    if not inside:
        return inside
    box = el("input", type="checkbox", id=f"{name}-open", class_="opens")
    label = el("label", summary, for_=f"{name}-open")
    return el("div", box, label, el("div", inside, class_="inside"), class_="closed")


def section(name: str, heading: str, *children: object, class_: str | None = None) -> Piece:
    """Return a section with its heading; empty if there is nothing in it."""
    inside = joined(children)
    if not inside:
        return inside
    title = el("h2", heading, id=f"{name}-title")
    return el("section", title, inside, id=name, aria_labelledby=f"{name}-title", class_=class_)
