"""Contrast by the formula of WCAG 2, by day and by night; the style sheet's own promises."""

import re

import pytest

from forecaster.report.style import DARK, DRAWN_ON, LIGHT, TEXT_ON, style_sheet

LEAST_TEXT, LEAST_DRAWN = 4.5, 3.0
"""WCAG 2.2, success criteria 1.4.3 (AA, text) and 1.4.11 (graphical objects)."""


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance, written here from the standard's words."""
    linear = []
    for at in (1, 3, 5):
        c = int(colour[at : at + 2], 16) / 255
        linear.append(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4)
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio: (L1 + 0.05) / (L2 + 0.05), the lighter first."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def palettes() -> dict[str, dict[str, str]]:
    """What the style sheet itself sets: by day, by night, on paper."""
    sheet = style_sheet()
    blocks = re.findall(r":root\{([^}]*)\}", sheet)
    light, dark, paper = (dict(re.findall(r"--(\w+):(#[0-9a-f]{6})", b)) for b in blocks)
    return {"day": light, "night": dark, "paper": light | paper}


def test_the_formula_gives_the_standards_own_ends():
    """Black on white is 21:1, a colour on itself 1:1 (WCAG 2.2, note to contrast ratio)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)
    assert contrast("#a9805a", "#a9805a") == 1.0


@pytest.mark.parametrize("when", ["day", "night", "paper"])
@pytest.mark.parametrize(("ink", "ground"), TEXT_ON)
def test_text_can_be_read(when, ink, ground):
    palette = palettes()[when]
    assert contrast(palette[ink], palette[ground]) >= LEAST_TEXT


@pytest.mark.parametrize("when", ["day", "night", "paper"])
@pytest.mark.parametrize(("line", "ground"), DRAWN_ON)
def test_lines_can_be_seen(when, line, ground):
    palette = palettes()[when]
    assert contrast(palette[line], palette[ground]) >= LEAST_DRAWN


def test_every_colour_of_text_was_looked_at():
    used = set(re.findall(r"[;{\s]color:var\(--(\w+)\)", style_sheet()))
    assert used <= {ink for ink, _ in TEXT_ON}
    grounds = set(re.findall(r"background:var\(--(\w+)\)", style_sheet()))
    assert grounds <= {ground for _, ground in TEXT_ON}


def test_the_bars_differ_in_lightness_alone():
    """A window possible and nearly sure: apart in grey too."""
    for palette in (LIGHT, DARK):
        steps = [luminance(palette[name]) for name in ("paper", "sand", "clay", "umber")]
        assert steps in (sorted(steps), sorted(steps, reverse=True))
        assert contrast(palette["sand"], palette["clay"]) >= 1.5


def test_every_colour_is_named_by_day_and_by_night():
    assert LIGHT.keys() == DARK.keys()
    used = set(re.findall(r"var\(--(\w+)\)", style_sheet()))
    assert used <= LIGHT.keys()


def test_paper_has_its_own_rules():
    sheet = style_sheet()
    printed = sheet[sheet.index("@media print") :]
    assert "@page{" in sheet
    assert "break-before:page" in printed
    assert "break-inside:avoid" in printed
    assert "break-after:avoid" in printed
    assert "nav" in printed.split("display:none")[0]


def test_night_is_for_screens_only():
    assert "@media screen and (prefers-color-scheme:dark)" in style_sheet()


def test_braces_balance_and_nothing_is_imported():
    sheet = style_sheet()
    assert sheet.count("{") == sheet.count("}")
    assert "@import" not in sheet
    assert "url(" not in sheet
