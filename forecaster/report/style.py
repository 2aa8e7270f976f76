"""How the page looks: the palette of the charts, by day, by night and on paper."""

from __future__ import annotations

from importlib import resources

from forecaster.charts.style import CHALK, CLAY, INK, MOSS, PAPER, SAND, UMBER

LIGHT = {
    "paper": PAPER, "ink": INK, "umber": UMBER, "clay": CLAY, "sand": SAND, "chalk": CHALK,
    "moss": MOSS, "soft": "#5d5145",
}  # fmt: skip
DARK = {
    "paper": "#1d1914", "ink": "#efe7d9", "umber": "#f0d9b8", "clay": "#8d6845",
    "sand": "#57432f", "chalk": "#332c23", "moss": "#a5c9ab", "soft": "#c0b3a1",
}  # fmt: skip
TEXT_ON = (
    ("ink", "paper"), ("soft", "paper"), ("moss", "paper"), ("umber", "paper"), ("ink", "chalk"),
    ("moss", "chalk"), ("umber", "chalk"), ("soft", "chalk"),
)  # fmt: skip
"""Pairs of text and ground that the page uses; WCAG 2 asks a contrast of 4.5."""
DRAWN_ON = (("umber", "paper"), ("moss", "paper"), ("umber", "sand"), ("soft", "paper"))
"""Pairs of line and ground that carry meaning; WCAG 2 asks a contrast of 3."""


def variables(palette: dict[str, str]) -> str:
    """Return a palette as CSS custom properties."""
    return "".join(f"--{name}:{colour};" for name, colour in palette.items())


def style_sheet() -> str:
    """Return the whole style sheet of the page: the palettes, then ``page.css``."""
    rules = resources.files("forecaster.report").joinpath("page.css").read_text(encoding="utf-8")
    return (
        f":root{{color-scheme:light dark;{variables(LIGHT)}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root{{{variables(DARK)}}}}}\n"
        f"{rules}"
    )
