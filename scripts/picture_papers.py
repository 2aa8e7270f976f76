"""Take every picture and paper of the command line at phone, desk and paper size, and in grey.

    python scripts/picture_papers.py DIR [--only autumn,report]

Charts, checks, planting sheets and reports of the invented garden. Paper is a PDF; with
pypdfium2 installed its pages are pictures too. Prints what is too wide or too long. Look at
each picture: nothing here says that one is good.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path
from typing import Any

from picture_page import DESK, FLAGS, PHONE

DEMO = Path(__file__).resolve().parents[1] / "data" / "demo"
AIR, LOG = str(DEMO / "air.csv"), ("--readings", str(DEMO / "readings.csv"))
HERE = ("--lat", "36.2S", "--lon", "146.6E")
HOT = ("--threshold", "86F", "--direction", "rising")
BED = ("--outline", "rectangle 4ft 25ft", "--crop", "pansy")
MIXED = ("--colours", "yellow=80,white=60,burgundy=40")
ROUND = ("--outline", "circle 12ft", "--crop", "pansy")
ASKED: dict[str, tuple[str, ...]] = {
    "chart-autumn": ("chart", *LOG, "--today", "2026-03-16", "--crop-class", "cool"),
    "chart-late": ("chart", *LOG, "--today", "2026-04-25", "--crop-class", "cool"),
    "chart-spring": ("chart", *LOG, "--today", "2025-09-20", "--crop-class", "warm"),
    "chart-far": ("chart", "--today", "2026-01-10", "--crop-class", "warm"),
    "chart-settled": ("chart", *LOG, "--today", "2026-07-10"),
    "chart-never": ("chart", "--today", "2025-09-20", *HOT),
    "check": ("check", "--crop-class", "cool"),
    "check-warm": ("check", "--crop-class", "warm"),
    "check-readings": ("check", *LOG, "--crop-class", "cool", "--seasons", "4"),
    "sheet": ("plan", *BED, *MIXED, "--today", "2026-03-16"),
    "sheet-round": ("plan", *ROUND, "--colours", "orange=110,purple=110", "--today", "2026-03-16"),
    "report": ("report", *LOG, *BED, *MIXED, "--today", "2026-03-16", "--flat", "36=18.50"),
    "report-autumn": ("report", *LOG, *BED[:2], "--today", "2026-03-16", "--season", "autumn"),
    "report-spring": ("report", *LOG, *BED[:2], "--today", "2025-09-20", "--season", "spring"),
}  # fmt: skip
PICTURED = {"chart": "--out", "check": "--out", "plan": "--layout", "report": "--out"}
MOST_PHONE_PX = 4000


def main() -> None:
    """Make, look, save."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="", help="names or beginnings of names, by commas")
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    wanted = tuple(filter(None, options.only.split(",")))
    chosen = [name for name in ASKED if not wanted or name.startswith(wanted)]
    made = [path for name in chosen for path in make(name, options.folder)]
    look([path for path in made if path.suffix != ".pdf"])
    for paper in sorted(options.folder.glob("*.pdf")):
        if paper.name.split(".")[0] in chosen:
            pages_of(paper)


def make(name: str, folder: Path) -> list[Path]:
    """Run the command of a picture; return what it wrote."""
    command, *words = ASKED[name]
    endings = {"report": (".html",), "plan": (".png", ".pdf")}.get(command, (".png",))
    made = []
    for ending in endings:
        out = folder / f"{name}{ending}"
        call = [sys.executable, "-m", "forecaster", command, AIR, *HERE, *words]
        done = subprocess.run(
            [*call, PICTURED[command], str(out), "--force"],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            print(f"{name}: {done.stderr.strip()}")
        else:
            made.append(out)
    return made


def look(paths: list[Path]) -> None:
    """Open each at a phone's width and a desk's, in grey, and print it."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        view = browser.new_page()
        for path in paths:
            for where, size in (("phone", PHONE), ("desk", DESK)):
                view.set_viewport_size(size)
                open_at(view, path)
                shot(view, path, where, size)
            view.set_viewport_size(PHONE)
            view.evaluate("document.documentElement.style.filter = 'grayscale(1)'")
            view.screenshot(path=path.with_name(f"{path.stem}-grey.png"), full_page=True)
            if path.suffix == ".html":
                open_at(view, path)
                for paper in ("A4", "Letter"):
                    to = path.with_name(f"{path.stem}.{paper}.pdf")
                    view.pdf(path=to, format=paper, prefer_css_page_size=False)
        browser.close()


def open_at(view: Any, path: Path) -> None:
    """Open a page, or a picture as a page shows it."""
    if path.suffix == ".html":
        view.goto(path.as_uri())
        return
    view.goto("about:blank")
    view.goto(path.parent.as_uri() + "/")
    view.set_content(
        f'<meta name="viewport" content="width=device-width"><body style="margin:0">'
        f'<img src="{path.as_uri()}" style="display:block;max-width:100%">'
    )
    view.wait_for_load_state("networkidle")


def shot(view: Any, path: Path, where: str, size: dict[str, int]) -> None:
    """Take the picture, and say what is too wide or too long."""
    wide, long = view.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
    )
    if wide > size["width"]:
        print(f"{path.name} at {size['width']}: {wide} pixels wide")
    if path.suffix == ".html":
        late = " TOO LONG" if where == "phone" and long > MOST_PHONE_PX else ""
        print(f"{path.name} {where}: {long} pixels long{late}")
    view.screenshot(path=path.with_name(f"{path.stem}-{where}.png"), full_page=True)


def pages_of(paper: Path) -> None:
    """Save the pages of a PDF as pictures, where pypdfium2 is there."""
    try:
        from pypdfium2 import PdfDocument  # noqa: PLC0415
    except ImportError:
        print(f"{paper.name}: install pypdfium2 to see its pages as pictures")
        return
    document = PdfDocument(paper)
    print(f"{paper.name}: {len(document)} pages")
    for k, page in enumerate(document, 1):
        page.render(scale=110 / 72).to_pil().save(paper.with_suffix(f".page{k}.png"))


if __name__ == "__main__":
    main()
