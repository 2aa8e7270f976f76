"""`crossday report` as it is called: names, refusals, a bed of the book, time."""

import subprocess
import sys

import pytest

from tests.report.conftest import AIR, AUTUMN, PLACE

LEAST_RATIO = 3.0


def test_it_says_where_the_page_is(call, tmp_path):
    out = tmp_path / "page.html"
    found = call("report", AIR, *PLACE, *AUTUMN, "--crop", "pansy", "--no-check", "--out", str(out))
    assert found.exit_code == 0
    assert found.stdout == f"Page: {out}\n"
    assert found.stderr == ""


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "page.pdf"), "ending in .html"),
        (("--out", "nowhere/page.html"), "there is no folder"),
        (("--colours", "yellow=", "--area", "9m2"), "not understood"),
        (("--colours", "yellow=9"), "outline"),
    ],
)
def test_what_cannot_be_made_is_refused_in_one_line(call, tmp_path, words, said, monkeypatch):
    monkeypatch.chdir(tmp_path)
    found = call("report", AIR, *PLACE, *AUTUMN, *words)
    assert found.exit_code == 2
    assert said in found.stderr
    assert found.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_crop_beside_the_file_is_the_crop(call, tmp_path, words_of):
    out = tmp_path / "page.html"
    words = ("--today", "2026-03-16", "--no-check", "--out", str(out))
    assert call("report", "tomato", "pepper", AIR, *PLACE, *words).exit_code == 0
    said = words_of(out)
    assert "spring 2026" in said
    assert "Tomato" in said
    assert "Pepper" in said
    assert "Chard" not in said


def test_crops_of_both_seasons_keep_their_own(call, tmp_path, words_of):
    out = tmp_path / "page.html"
    words = ("--today", "2026-03-16", "--no-check", "--out", str(out))
    found = call("report", AIR, *PLACE, "--crop", "pansy", "--crop", "pepper", *words)
    assert found.exit_code == 0, found.output
    said = words_of(out)
    assert "Bed, autumn 2026" in said
    assert "Pansy, set out as plants: opens" in said
    assert "Pepper, set out as plants: opens" in said


def test_a_bed_of_the_book_is_named_and_the_forecast_kept(call, tmp_path, words_of):
    book = ("--book", str(tmp_path / "garden.db"))
    out = tmp_path / "page.html"
    begun = call("book", "start", "--lat", "36.2S", "--lon", "146.6E", "--air", AIR, *book)
    assert begun.exit_code == 0, begun.output
    made = call("book", "bed", "Zoë & <b>", "--area", "100ft2", *book)
    assert made.exit_code == 0, made.output
    asked = ("report", "--bed", "Zoë & <b>", *book, *AUTUMN, "--crop", "pansy", "--out", str(out))
    found = call(*asked)
    assert found.exit_code == 0, found.output
    said = words_of(out)
    assert "Zoë & <b>, autumn 2026" in said
    assert "No reading of your own soil" in said
    assert "<b>, autumn" not in out.read_text(encoding="utf-8")


def test_a_short_record_is_answered_without_a_check(call, tmp_path, words_of):
    from pathlib import Path  # noqa: PLC0415

    lines = Path(AIR).read_text(encoding="utf-8").splitlines()
    head = next(at for at, line in enumerate(lines) if line[:1].isdigit())
    short = tmp_path / "short.csv"
    short.write_text("\n".join([*lines[:head], *lines[-800:]]) + "\n", encoding="utf-8")
    out = tmp_path / "page.html"
    words = ("--lat", "36.2S", *AUTUMN, "--crop", "pansy", "--out", str(out))
    found = call("report", str(short), *words)
    assert found.exit_code == 0, found.output
    assert "Not done:" in words_of(out)


def test_help_loads_nothing_heavy():
    code = (
        "import sys\nfrom forecaster.cli import main\n"
        "try:\n    main(['report', '--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({'numpy', 'pandas', 'matplotlib', 'scipy'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
