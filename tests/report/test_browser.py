"""The page in a browser without a screen: a phone, a desk, paper."""

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from matplotlib.text import Text

from forecaster.charts import build
from forecaster.report.style import style_sheet
from tests.pdf_lines import pages_of
from tests.test_charts import picture

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--hide-scrollbars",
)  # fmt: skip
PHONE_PIXELS, DESK_PIXELS = 390, 1280
FIRST_SCREEN_PIXELS, MOST_PHONE_PIXELS = 844, 4000
LEAST_PRINTED_PT = 7.0
A4_PIXELS = 711
"""Of 188 mm between the margins."""
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


TELL = {
    "seen": "d.clientWidth",
    "needed": "d.scrollWidth",
    "long": "Math.round(d.getBoundingClientRect().height)",
    "soon": "Math.round(document.querySelector('.soon,.lead').getBoundingClientRect().bottom)",
    "soon_lines": "Math.round(document.querySelector('.soon,.lead').clientHeight/24)",
    "touching": (
        "[...document.querySelectorAll('table')].flatMap(t=>[...t.rows]).flatMap(r=>"
        "[...r.cells].slice(1).map((c,k)=>[r.cells[k],c])).filter(([a,b])=>{const w=e=>{const g="
        "document.createRange();g.selectNodeContents(e);return g.getBoundingClientRect()};"
        "return w(a).width&&w(b).width&&w(b).left-w(a).right<3}).length"
    ),
}
"""What a page says of itself, in pixels; cells touch whose words are less than 3 px apart."""


def measured(browse: Callable[..., str], folder: Path, page: Path, width: int) -> dict[str, int]:
    """What a window of that width lays out, as `TELL` asks.

    The page forbids scripts, so a copy without that rule measures itself in a frame.
    """
    text = page.read_text(encoding="utf-8")
    text = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    script = (
        "<script>addEventListener('load',()=>{const d=document.documentElement;"
        f"parent.postMessage([{','.join(TELL.values())}],'*')}})</script></head>"
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
    found = re.search(r"<p id=\"said\">([\d ]+)</p>", dom)
    assert found, dom[:500]
    return dict(zip(TELL, map(int, found[1].split()), strict=True))


@pytest.mark.parametrize("kind", [*KINDS, "layout"])
@pytest.mark.parametrize("width", [320, PHONE_PIXELS, DESK_PIXELS])
def test_it_fits_and_a_phone_has_this_week_first_and_little_to_scroll(
    pages, browse, tmp_path, kind, width
):
    found = measured(browse, tmp_path, pages[kind], width)
    assert found["seen"] == width
    assert found["needed"] <= width
    assert found["touching"] == 0
    if width == PHONE_PIXELS:
        assert found["long"] < MOST_PHONE_PIXELS
        assert found["soon"] < FIRST_SCREEN_PIXELS / 2
        assert found["soon_lines"] == 2


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


@pytest.mark.parametrize("kind", ["spring", "crop"])
def test_what_is_printed_can_be_read(pages, browse, tmp_path, kind):
    """Every word outside pictures has 7 points or more on paper."""
    sheets(browse, tmp_path, pages[kind], "A4")
    drawn = pages_of((tmp_path / "page.pdf").read_bytes())
    sizes = [size for page in drawn for words, size, *_ in page.texts]
    assert len(sizes) > 1000
    assert min(sizes) >= LEAST_PRINTED_PT - 0.01


@pytest.mark.parametrize("kind", ["autumn", "spring"])
def test_columns_do_not_touch_on_paper_or_with_all_opened(pages, browse, tmp_path, kind):
    text = pages[kind].read_text(encoding="utf-8")
    opened = text.replace("</style>", ".opens~.inside{display:block!important}</style>")
    paper = text.replace("@media print{", "@media all{", 1)
    for name, page, wide in (("opened", opened, PHONE_PIXELS), ("paper", paper, A4_PIXELS)):
        changed = tmp_path / f"{name}.html"
        changed.write_text(page, encoding="utf-8")
        assert measured(browse, tmp_path, changed, wide)["touching"] == 0
    tight = tmp_path / "tight.html"
    tight.write_text(paper.replace("</style>", "td,th{padding:0!important}</style>"), "utf-8")
    assert measured(browse, tmp_path, tight, A4_PIXELS)["touching"] > 0, "the check sees nothing"


def test_the_pictures_words_can_be_read_on_paper():
    """Letters of a picture are drawn as lines: their size is that of the figure, made smaller."""
    figure = build(picture(), titled=False)
    sheet = style_sheet()
    wide_mm = float(
        re.findall(r"\.drawn\{max-width:(\d+)mm", sheet[sheet.index("@media print") :])[0]
    )
    smaller = wide_mm / 25.4 / figure.get_figwidth()
    seen = [one for one in figure.findobj(Text) if one.get_text().strip()]
    assert min(one.get_fontsize() for one in seen) * smaller >= LEAST_PRINTED_PT


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_the_bar_of_the_printed_sheet_measures_what_it_says(pages, browse, tmp_path, size):
    """The picture says 2 in: a level line of 144 points on paper."""
    sheets(browse, tmp_path, pages["layout"], size)
    drawn = pages_of((tmp_path / "page.pdf").read_bytes())
    lengths = [page.across() for page in drawn]
    assert any(np.isclose(level, 144.0, atol=0.3).any() for level in lengths)


def test_twelve_beds_are_short_on_a_phone(browse, call, tmp_path):
    book, page = tmp_path / "twelve.db", tmp_path / "garden.html"
    script = Path(__file__).resolve().parents[2] / "scripts" / "make_twelve_beds.py"
    subprocess.run([sys.executable, script, book], capture_output=True, check=True)
    words = ("--all", "--book", str(book), "--today", "2026-03-16", "--out", str(page))
    found = call("report", *words)
    assert found.exit_code == 0, found.output
    seen = measured(browse, tmp_path, page, PHONE_PIXELS)
    assert seen["needed"] <= PHONE_PIXELS
    assert seen["long"] < MOST_PHONE_PIXELS
    assert seen["touching"] == 0
