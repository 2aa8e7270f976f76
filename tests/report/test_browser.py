"""The page in a browser without a screen: a phone, a desk, paper."""

import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.pdf_lines import pages_of

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--hide-scrollbars",
)  # fmt: skip
PHONE_PIXELS, DESK_PIXELS = 390, 1280
KINDS = ("crop", "autumn", "spring", "hostile", "late", "planted", "rest")

pytestmark = pytest.mark.slow


@pytest.fixture
def browse(browser) -> Callable[..., str]:
    """Return a caller of the browser with a profile in a folder: what it prints."""

    def call(folder: Path, *words: str) -> str:
        command = [browser, *FLAGS, f"--user-data-dir={folder / 'profile'}", *words]
        done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
        return done.stdout

    return call


def measured(browse: Callable[..., str], folder: Path, page: Path, width: int) -> dict[str, int]:
    """Widths of a page as a window of that width lays it out: seen and needed, pixels.

    The page forbids scripts, so a copy without that rule measures itself in a frame.
    """
    text = page.read_text(encoding="utf-8")
    text = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    script = (
        "<script>addEventListener('load',()=>{const d=document.documentElement;"
        "parent.postMessage([d.clientWidth,d.scrollWidth],'*')})</script></head>"
    )
    inner, outer = folder / "inner.html", folder / "outer.html"
    inner.write_text(text.replace("</head>", script, 1), encoding="utf-8")
    outer.write_text(
        "<!DOCTYPE html><title>t</title><p id=said>nothing</p><script>addEventListener('message',"
        "e=>{document.getElementById('said').textContent=e.data.join(' ')})</script>"
        f'<iframe src="{inner.name}" style="border:0;width:{width}px;height:3000px"></iframe>',
        encoding="utf-8",
    )
    dom = browse(
        folder, "--allow-file-access-from-files", "--virtual-time-budget=4000", "--dump-dom",
        outer.as_uri(),
    )  # fmt: skip
    found = re.search(r"<p id=\"said\">(\d+) (\d+)</p>", dom)
    assert found, dom[:500]
    return {"seen": int(found[1]), "needed": int(found[2])}


@pytest.mark.parametrize("kind", [*KINDS, "layout"])
@pytest.mark.parametrize("width", [320, PHONE_PIXELS, DESK_PIXELS])
def test_nothing_scrolls_sideways(pages, browse, tmp_path, kind, width):
    found = measured(browse, tmp_path, pages[kind], width)
    assert found["seen"] == width
    assert found["needed"] <= width


def sheets(browse: Callable[..., str], folder: Path, page: Path, size: str) -> int:
    """How many sheets of a size the page prints on."""
    copy = folder / "copy.html"
    text = page.read_text(encoding="utf-8")
    copy.write_text(text.replace("@page{", f"@page{{size:{size};", 1), encoding="utf-8")
    out = folder / "page.pdf"
    browse(folder, "--no-pdf-header-footer", f"--print-to-pdf={out}", copy.as_uri())
    return len(re.findall(rb"/Type\s*/Page\b", out.read_bytes()))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("size", ["A4", "letter"])
def test_it_prints_on_two_sheets(pages, browse, tmp_path, kind, size):
    assert sheets(browse, tmp_path, pages[kind], size) == 2


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_where_each_plant_goes_has_a_sheet_of_its_own(pages, browse, tmp_path, size):
    assert sheets(browse, tmp_path, pages["layout"], size) == 3


@pytest.mark.parametrize("dark", [False, True])
def test_it_can_be_pictured(pages, browse, tmp_path, dark):
    out = tmp_path / "page.png"
    look = ["--force-dark-mode"] if dark else []
    page = pages["autumn"].as_uri()
    browse(tmp_path, *look, f"--screenshot={out}", "--window-size=1280,2400", page)
    assert out.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_the_bar_of_the_printed_sheet_measures_what_it_says(pages, browse, tmp_path, size):
    """The picture says 2 in: a level line of 144 points on paper."""
    sheets(browse, tmp_path, pages["layout"], size)
    drawn = pages_of((tmp_path / "page.pdf").read_bytes())
    lengths = [page.across() for page in drawn]
    assert any(np.isclose(level, 144.0, atol=0.3).any() for level in lengths)
