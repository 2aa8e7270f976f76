"""The page in a real browser: a whole first visit, on a phone and at a desk.

`scripts/picture_page.py` takes the pictures that people look at.
"""

import json
import os
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from forecaster import book as kept
from forecaster.packaged import data_path

if os.environ.get("CROSSDAY_REQUIRE_BROWSER"):
    import playwright.sync_api as play_api
else:
    play_api = pytest.importorskip("playwright.sync_api")

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("ignore::ResourceWarning")]

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
VIEWS = (
    "/", "/read", "/bed", "/week", "/crops?crop=lettuce&crop=tomato", "/data", "/check", "/begin",
    "/materials?outline=rectangle+1.2+8&colours=yellow%3D72,+white%3D72", "/bed/still",
    "/order", "/begin?step=place&town=Sal", "/begin?step=air", "/begin?step=bed",
)  # fmt: skip


class Seen:
    """What a browser did that it should not."""

    def __init__(self, root: str) -> None:
        self.root, self.outside, self.said = root, [], []  # type: ignore[var-annotated]

    def watch(self, view: Any) -> None:
        view.on("console", lambda one: self.said.append(f"{one.type}: {one.text}"))
        view.on("pageerror", lambda error: self.said.append(str(error)))
        view.on("request", self._asked)

    def _asked(self, request: Any) -> None:
        if not request.url.startswith((self.root, "data:", "blob:")):
            self.outside.append(request.url)

    def nothing(self) -> None:
        assert self.outside == []
        assert self.said == []


@contextmanager
def visit(command: str, address: str, **how: Any) -> Iterator[tuple[Any, str, Seen]]:
    """A window on the page, opened by its one-time address."""
    root = address.partition("/enter")[0]
    seen = Seen(root)
    with play_api.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=command, args=FLAGS)
        context = browser.new_context(**({"viewport": PHONE} | how))
        context.set_default_timeout(60_000)
        view = context.new_page()
        seen.watch(view)
        view.goto(address)
        yield view, root, seen
        browser.close()


def record_until_yesterday(make_air, folder: Path) -> tuple[Path, float]:
    """Ten invented years that end yesterday, in °C; and the mean of the last three weeks."""
    days = 3650
    air = make_air(days, (pd.Timestamp.now().normalize() - pd.Timedelta(days=days)).isoformat())
    table = pd.DataFrame({"Date": air.index, "Tmin (C)": air["tmin_c"], "Tmax (C)": air["tmax_c"]})
    table.to_csv(folder / "valley.csv", index=False, float_format="%.1f")
    return folder / "valley.csv", float(air[["tmin_c", "tmax_c"]].tail(21).to_numpy().mean())


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_first_visit_from_an_empty_folder(browser, served, tmp_path, make_air, size):
    """From nothing to a forecast, a reading that is answered, and back; nothing goes out."""
    air, mean_c = record_until_yesterday(make_air, tmp_path)
    with visit(browser, served(tmp_path / "garden.db"), viewport=size) as (view, root, seen):
        view.fill("#town", "Salem, OR")
        view.wait_for_selector("text=Which one?")
        view.click("text=Use this town")
        view.set_input_files("#file", str(air))
        view.click("text=Read it")
        view.wait_for_selector("text=3,650 new days of air")
        view.click("text=Go on")
        view.fill("#bedname", "long bed")
        view.click("text=Make the bed")
        view.wait_for_selector(".big")
        before = view.inner_text(".said")
        assert "°F" in before, "a bare number here means what Oregon uses"
        view.goto(f"{root}/read")
        view.fill("#temperature", f"{mean_c * 1.8 + 32.0 + 7.0:.1f}")
        view.click("text=Write it down")
        view.wait_for_selector("text=Take it back")
        assert "The likely day" in view.inner_text("main")
        view.goto(root)
        assert view.inner_text(".card") != ""
        view.goto(f"{root}/data")
        view.click('button[aria-label^="Take back: read"]')
        view.goto(root)
        view.wait_for_selector(".said")
        assert view.inner_text(".said") == before
        seen.nothing()


def test_stale_air_shows_no_dates_as_if_of_today(browser, served, tmp_path):
    air = tmp_path / "valley.csv"
    air.write_bytes(data_path("demo/air.csv").read_bytes())
    with visit(browser, served(tmp_path / "garden.db")) as (view, root, seen):
        view.fill("#north", "36.2S")
        view.fill("#east", "146.6E")
        view.click("text=Use this position")
        view.set_input_files("#file", str(air))
        view.click("text=Read it")
        view.click("text=Go on")
        view.fill("#bedname", "long bed")
        view.click("text=Make the bed")
        view.wait_for_selector(".big")
        assert view.locator('[role="alert"]').first.inner_text().startswith("The air record ends")
        assert view.locator(".dates").count() == 0
        assert view.locator(".task").count() == 0
        view.goto(f"{root}/week")
        assert view.locator(".task").count() == 0
        seen.nothing()


def test_a_tick_survives_the_program(browser, served, tmp_path):
    book = tmp_path / "garden.db"
    with visit(browser, served(book)) as (view, root, seen):
        view.click("text=Look at the invented garden")
        view.wait_for_selector(".big")
        view.goto(f"{root}/week")
        view.click('button[aria-label^="Done: Order flats,"]')
        view.wait_for_selector("text=done on 16 March")
        seen.nothing()
    served.running[0].send_signal(signal.SIGKILL)
    with visit(browser, served(book)) as (view, root, seen):
        view.goto(f"{root}/week")
        assert "done on 16 March" in view.inner_text("main")
        seen.nothing()


def test_a_spoiled_file_is_told(browser, served, tmp_path):
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe0" + bytes(range(256)) * 40)
    with visit(browser, served(tmp_path / "garden.db")) as (view, root, seen):
        view.click("text=Look at the invented garden")
        view.goto(f"{root}/data")
        view.set_input_files("#file", str(photo))
        view.click("text=Read it")
        view.wait_for_selector("text=photo.jpg was not taken")
        assert "Nothing was written" in view.inner_text("main")
        seen.nothing()


def test_the_chart_lives(browser, served, tmp_path):
    """The pointer says the day; another threshold changes the chances without a new page."""
    with visit(browser, served(tmp_path / "garden.db")) as (view, root, seen):
        view.click("text=Look at the invented garden")
        view.wait_for_selector(".big")
        view.goto(f"{root}/bed")
        view.wait_for_selector("#chart canvas")
        today = view.inner_text("#under")
        assert today.startswith("16 March · soil")
        box = view.locator("#chart .u-over").bounding_box()
        view.mouse.move(box["x"] + box["width"] * 0.9, box["y"] + 40)
        later = view.inner_text("#under")
        assert later != today
        assert "settled by then" in later
        first = view.inner_text("#chances")
        view.evaluate(
            "() => { const t = document.getElementById('threshold'); t.value = 12;"
            "t.dispatchEvent(new Event('input', { bubbles: true })); }"
        )
        view.wait_for_selector("#chances >> text=Your threshold")
        assert view.inner_text("#chances") != first
        seen.nothing()


def test_the_chart_is_dragged(browser, served, tmp_path):
    """The soil to reach and the day, by pointer and by keyboard; the answer below follows."""

    def drag(grip: str, right: float, down: float) -> None:
        box = view.locator(grip).bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        view.mouse.move(x, y)
        view.mouse.down()
        view.mouse.move(x + right / 2, y + down / 2)
        view.mouse.move(x + right, y + down)
        with view.expect_response("**/bed/soil.json?**"):
            view.mouse.up()

    with visit(browser, served(tmp_path / "garden.db")) as (view, root, seen):
        view.click("text=Look at the invented garden")
        view.wait_for_selector(".big")
        view.goto(f"{root}/bed")
        view.wait_for_selector(".grip.day")
        drag(".grip.day", -50, 0)
        assert view.input_value("#issued") < "2026-03-01"
        view.wait_for_function("document.querySelector('#under').innerText.includes('February')")
        assert "Your threshold" not in view.inner_text("#chances"), "the day alone was moved"
        before = float(view.input_value("#threshold"))
        drag(".grip.reach", 0, 40)
        assert float(view.input_value("#threshold")) < before - 2.0
        view.wait_for_selector("#chances >> text=Your threshold")
        day, grip = view.input_value("#issued"), view.locator(".grip.day")
        grip.focus()
        with view.expect_response("**/bed/soil.json?**"):
            view.keyboard.press("ArrowLeft")
        view.wait_for_function("document.activeElement.dataset.grip === 'day'")
        assert pd.Timestamp(view.input_value("#issued")) == pd.Timestamp(day) - pd.Timedelta(days=1)
        assert "February" in grip.get_attribute("aria-valuetext")
        seen.nothing()


def axe_source() -> str:
    """The rules of axe-core as its package carries them."""
    spec = find_spec("axe_playwright_python")
    assert spec is not None
    assert spec.origin is not None
    folder = Path(spec.origin).parent
    return next(folder.rglob("axe.min.js")).read_text(encoding="utf-8")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(browser, served, tmp_path, scheme):
    """WCAG 2.2 A and AA as axe-core checks them: names, contrast, structure."""
    rules = axe_source()
    found = []
    with visit(browser, served(tmp_path / "garden.db"), color_scheme=scheme, bypass_csp=True) as (
        view,
        root,
        _,
    ):
        view.click("text=Look at the invented garden")
        view.wait_for_selector(".big")
        for size in (PHONE, DESK):
            view.set_viewport_size(size)
            for path in VIEWS:
                view.goto(root + path)
                view.wait_for_load_state("networkidle")
                view.evaluate(rules)
                told = view.evaluate(
                    "() => axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a',"
                    "'wcag21aa', 'wcag22aa', 'best-practice']})"
                )
                assert told["passes"], "axe looked at nothing"
                found += [
                    (path, one["id"], one["nodes"][0]["html"][:160]) for one in told["violations"]
                ]
    assert found == [], json.dumps(found, indent=1)


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_nothing_scrolls_sideways(browser, served, tmp_path, width):
    wide = []
    with visit(
        browser, served(tmp_path / "garden.db"), viewport={"width": width, "height": 800}
    ) as (view, root, seen):
        view.click("text=Look at the invented garden")
        view.wait_for_selector(".big")
        for path in VIEWS:
            view.goto(root + path)
            view.wait_for_load_state("networkidle")
            needed = view.evaluate("document.documentElement.scrollWidth")
            if needed > width:
                wide.append((path, needed))
        seen.nothing()
    assert wide == []


def test_it_works_without_scripts(browser, served, tmp_path):
    with visit(browser, served(tmp_path / "garden.db"), java_script_enabled=False) as (
        view,
        root,
        seen,
    ):
        view.click("text=Look at the invented garden")
        assert "80\u00a0% chance" in view.inner_text("main")
        view.goto(f"{root}/read")
        view.fill("#temperature", "19")
        view.click("text=Write it down")
        assert "Written down" in view.inner_text("h1")
        view.goto(f"{root}/bed")
        assert view.locator("noscript img, img.still").count() >= 1
        view.goto(f"{root}/week")
        view.click('button[aria-label^="Done: Order flats,"]')
        assert "done on 16 March" in view.inner_text("main")
        seen.nothing()


def test_the_keyboard_is_enough(browser, served, tmp_path):
    """Tab reaches the skip link first; a reading is written without a pointer."""
    with visit(browser, served(tmp_path / "garden.db"), viewport=DESK) as (view, root, seen):
        view.click("text=Look at the invented garden")
        view.wait_for_selector(".big")
        view.goto(f"{root}/week")
        view.keyboard.press("Tab")
        assert view.evaluate("document.activeElement.className") == "skip"
        view.goto(f"{root}/read")
        assert view.evaluate("document.activeElement.id") == "temperature"
        view.keyboard.type("19")
        view.keyboard.press("Enter")
        view.wait_for_selector("text=Written down")
        seen.nothing()


def test_ctrl_c_ends_it_and_the_book_is_whole(served, tmp_path):
    book = tmp_path / "garden.db"
    kept.open_book(book, create=True).close()
    served(book)
    page = served.running[0]
    time.sleep(2.0)  # its start has passed; then it answers Ctrl-C as anyone's would
    page.send_signal(signal.SIGINT)
    page.wait(10)
    assert page.returncode == 0
    kept.open_book(book).close()
