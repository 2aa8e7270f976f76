"""Pages of the demo garden, made once."""

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner

from forecaster.cli import main
from forecaster.packaged import data_path

AIR, LOG = str(data_path("demo/air.csv")), str(data_path("demo/readings.csv"))
PLACE = ("--lat", "36.2S", "--lon", "146.6E", "--readings", LOG)
AUTUMN = ("--today", "2026-03-16", "--season", "autumn")
SPRING = ("--today", "2025-09-20", "--season", "spring")
BED = ("--outline", "rectangle 4ft 25ft", "--fertilizer", "12-0-0", "--flow", "5gpm")
HOSTILE = """</title><script>alert("x")</script> & 'Zoë's' 🌱 bed"""


def run(*words: str):
    return CliRunner().invoke(main, list(words), catch_exceptions=False)


@pytest.fixture(scope="session")
def call() -> Callable[..., object]:
    return run


@pytest.fixture(scope="session")
def pages(tmp_path_factory) -> dict[str, Path]:
    """One page for each kind of answer."""
    folder = tmp_path_factory.mktemp("pages")
    asked = {
        "crop": (*AUTUMN, *BED, "--crop", "pansy", "--flat", "36=18.50"),
        "autumn": (*AUTUMN, *BED),
        "spring": (*SPRING, *BED, "--no-check"),
        "layout": (
            *AUTUMN,
            *BED,
            "--crop",
            "pansy",
            "--colours",
            "yellow=100,white=80",
            "--no-check",
        ),
        "hostile": (*AUTUMN, "--crop", "pansy", "--name", HOSTILE, "--no-check"),
        "late": (
            "--today",
            "2026-07-20",
            "--season",
            "autumn",
            *BED,
            "--crop",
            "pansy",
            "--no-check",
        ),
        "planted": (
            *AUTUMN[2:],
            "--today",
            "2026-04-30",
            "--planted",
            "2026-04-21",
            *BED,
            "--no-check",
        ),
        "far": ("--today", "2026-03-16", "--season", "spring", "--no-check"),
        "rest": (*AUTUMN, "--rest", "--area", "100ft2", "--show", "C", "--no-check"),
    }
    made = {}
    for name, words in asked.items():
        made[name] = folder / f"{name}.html"
        found = run("report", AIR, *PLACE, *words, "--out", str(made[name]))
        assert found.exit_code == 0, found.output
    return made


@pytest.fixture(scope="session")
def words_of() -> Callable[[Path], str]:
    """What a page says, without markup, style and pictures; blanks as one."""

    def words(path: Path) -> str:
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"<(style|svg)\b.*?</\1>", " ", text, flags=re.DOTALL)
        return " ".join(unescape(re.sub(r"<[^>]+>", "\x00", text)).replace("\x00", "").split())

    return words
