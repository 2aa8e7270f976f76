"""What commands write: never over a file that is read, a book, kept answers, or another's file."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from forecaster.cli import main
from forecaster.packaged import data_path

AIR, LOG = data_path("demo/air.csv"), data_path("demo/readings.csv")
AT = ("--lat", "36.2S", "--lon", "146.6E", "--today", "2026-03-16")
SHEET = ("--outline", "circle 4ft", "--colours", "white=6")


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words], catch_exceptions=False)


@pytest.fixture
def here(tmp_path, monkeypatch) -> Path:
    """A folder with a gardener's files under names that pictures like too."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(AIR, "garden.txt")
    shutil.copy(AIR, "garden.html")
    shutil.copy(AIR, "garden.ics")
    shutil.copy(LOG, "north-bed.txt")
    shutil.copy(AIR, "garden.png")
    assert run("book", "start", "--air", "garden.txt", "--lat", "36.2S", "--book", "garden.db")
    assert run("air", "import", "garden.txt", "--out", "plain.csv").exit_code == 0
    Path("kept.sqlite").write_bytes(Path("garden.db").read_bytes())
    Path("plan.json").write_text("{}")
    return tmp_path


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


REFUSED = (
    (("chart", "garden.txt", *AT, "--out", "garden.svg"), "the file to be read"),
    (("chart", "garden.txt", *AT, "--out", "garden.svg", "--force"), "the file to be read"),
    (("chart", AIR, *AT, "--readings", "north-bed.txt", "--out", "north-bed.png"), "to be read"),
    (("chart", AIR, *AT, "--out", "north-bed.png"), "was not written by this command"),
    (("chart", AIR, *AT, "--out", "garden.png"), "was not written by this command"),
    (("chart", AIR, *AT, "--out", "garden.db"), "expected a name ending in"),
    (("check", "garden.txt", *AT, "--out", "garden.svg"), "the file to be read"),
    (("check", AIR, *AT, "--out", "garden.svg"), "was not written by this command"),
    (("plan", "garden.txt", *AT, *SHEET, "--layout", "garden.svg"), "the file to be read"),
    (("plan", AIR, *AT, *SHEET, "--layout", "north-bed.svg"), "was not written by this command"),
    (("plan", AIR, *AT, "--ics", "garden.ics"), "was not written by this command"),
    (("plan", "garden.ics", *AT, "--ics", "garden.ics"), "the file to be read"),
    (("report", AIR, *AT, "--out", "garden.html"), "was not written by this command"),
    (("report", "garden.html", *AT, "--out", "garden.html", "--force"), "the file to be read"),
    (("air", "import", "garden.txt", "--out", "garden.db"), "is a database"),
    (("air", "import", "garden.txt", "--out", "garden.db", "--force"), "is a database"),
    (("air", "import", "garden.txt", "--out", "garden.txt"), "the file to be read"),
    (("air", "import", ".", "--out", "plain.csv"), "the file to be read"),
    (("air", "import", "garden.txt", "--out", "north-bed.txt"), "was not written by"),
    (("air", "outlook", "--lat", "41N", "--lon", "88W", "--out", "garden.txt"), "was not written"),
    (("air", "outlook", "--lat", "41N", "--lon", "88W", "--out", "plain.csv"), "was not written"),
    (("air", "outlook", "--lat", "41N", "--lon", "88W", "--out", "kept.sqlite"), "is a database"),
    (("air", "fetch", "USC00310001", "--out", "garden.txt"), "was not written by crossday air"),
    (("air", "fetch", "USC00310001", "--out", "garden.db"), "is a database"),
    (("air", "fetch", "USC00310001", "--cache", "a.db", "--out", "a.db"), "the file to be read"),
)  # fmt: skip


@pytest.mark.parametrize(("words", "why"), REFUSED)
def test_a_file_that_is_not_this_commands_own_stays(here, words, why):
    before = content(here)
    found = run(*words)
    assert found.exit_code == 2, found.output
    assert why in found.stderr
    assert found.stderr.count("\n") == 1
    assert content(here) == before


def test_what_a_command_wrote_it_writes_again(here):
    words = (
        ("chart", AIR, *AT, "--out", "a.png"),
        ("chart", AIR, *AT, "--out", "a.svg"),
        ("plan", AIR, *AT, *SHEET, "--layout", "b.svg", "--ics", "b.ics"),
        ("report", AIR, *AT, "--no-check", "--out", "c.html"),
        ("air", "import", AIR, "--out", "plain.csv"),
    )
    for call in words:
        first, again = run(*call), run(*call)
        assert (first.exit_code, again.exit_code) == (0, 0), again.output
        assert first.output == again.output
    assert not [name for name in content(here) if name.endswith(".part")]


def test_force_writes_over_a_file_of_another(here):
    assert run("chart", AIR, *AT, "--out", "garden.png", "--force").exit_code == 0
    assert Path("garden.png").read_bytes().startswith(b"\x89PNG")
    assert Path("garden.txt").read_text(encoding="utf-8").endswith("Written by Crossday.\n")


def test_an_imported_record_reads_back_as_it_was(here):
    from forecaster.ingest import account_of, read_air  # noqa: PLC0415

    plain, own = read_air("plain.csv"), read_air(AIR)
    pd.testing.assert_frame_equal(plain, own, check_freq=False, atol=0.005)
    assert account_of(plain).rows_used == account_of(own).rows_used


@pytest.mark.parametrize(
    "backend",
    [
        "module://matplotlib_inline.backend_inline",
        pytest.param("nonsense", marks=pytest.mark.slow),
        pytest.param("", marks=pytest.mark.slow),
    ],
)
def test_pictures_are_drawn_whatever_backend_a_notebook_names(tmp_path, backend):
    code = (
        "import os\nfrom forecaster.cli import main\n"
        f"try: main(['chart', {str(AIR)!r}, *{AT!r}, '--out', 'a.png'])\n"
        "except SystemExit as end: assert end.code == 0, end.code\n"
        "import matplotlib\n"
        f"assert os.environ['MPLBACKEND'] == {backend!r}\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False,
        env=os.environ | {"MPLBACKEND": backend},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "a.png").stat().st_size > 10_000
