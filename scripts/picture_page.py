"""Take a picture of every view of the page, at a phone's width, a desk's, on paper and in grey.

    python scripts/picture_page.py DIR [--only today,bed]

Serves the invented garden from a book in DIR, opens it in Debian's Chromium and prints what the
browser complained of. Look at each picture: nothing here says that a view is good.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
VIEWS = {
    "today": "/",
    "read": "/read",
    "bed": "/bed",
    "week": "/week",
    "crops": "/crops?crop=tomato&crop=lettuce&crop=pansy&one=2026-04-01&two=2026-05-01",
    "materials": "/materials?outline=rectangle+1.2+8&flats=36%3D18.50,+48%3D22"
    "&fertilizer=10-10-10&colours=yellow%3D72,+white%3D72",
    "layout": "/layout?outline=rectangle+1.2+8&colours=yellow%3D72,+white%3D72",
    "order": "/order",
    "data": "/data",
    "check": "/check",
    "begin": "/begin?step=place&town=sal",
    "begin-air": "/begin?step=air",
    "begin-bed": "/begin?step=bed",
    "still": "/bed/still",
}
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}


def main() -> None:
    """Serve, look, save."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="")
    parser.add_argument("--dark", action="store_true")
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    book = options.folder / "garden.db"
    book.unlink(missing_ok=True)
    command = [sys.executable, "-m", "forecaster", "open", "--no-browser", "--book", str(book)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as page:
        try:
            address = page.stdout.readline().strip() if page.stdout else ""
            look(address, options)
        finally:
            page.terminate()


def look(address: str, options: argparse.Namespace) -> None:
    """Open every view and save its pictures."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415

    chosen = [name for name in options.only.split(",") if name] or list(VIEWS)
    root = address.partition("/enter")[0]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        context = browser.new_context(color_scheme="dark" if options.dark else "light")
        view = context.new_page()
        view.on("console", lambda said: print("console:", said.type, said.text))
        view.on("pageerror", lambda error: print("error:", error))
        view.on(
            "request",
            lambda asked: None if asked.url.startswith(root) else print("outside:", asked.url),
        )
        view.goto(address)
        view.click("text=Look at the invented garden")
        view.wait_for_load_state("networkidle")
        for name in chosen:
            for where, size in (("phone", PHONE), ("desk", DESK)):
                view.set_viewport_size(size)
                view.goto(root + VIEWS[name])
                view.wait_for_load_state("networkidle")
                wide = view.evaluate("document.documentElement.scrollWidth")
                if wide > size["width"]:
                    print(f"{name} at {size['width']}: {wide} pixels wide")
                view.screenshot(path=options.folder / f"{name}-{where}.png", full_page=True)
            view.set_viewport_size(PHONE)
            if name in ("today", "bed", "crops"):
                view.evaluate("document.documentElement.style.filter = 'grayscale(1)'")
                view.screenshot(path=options.folder / f"{name}-grey.png", full_page=True)
            if name in ("today", "week", "materials"):
                view.pdf(path=options.folder / f"{name}.pdf", format="A4")
        browser.close()


if __name__ == "__main__":
    main()
