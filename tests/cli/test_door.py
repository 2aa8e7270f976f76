"""What nobody foresaw is one line too; nothing that a terminal obeys is printed."""

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from forecaster.cli import main
from forecaster.cli.door import FAULT, STRAY, Door
from forecaster.cli.screen import Clean, clean
from forecaster.packaged import data_path

AIR = str(data_path("demo/air.csv"))


@click.group(cls=Door)
def house():
    """A house of faults."""


@house.command()
@click.argument("name")
def fall(name):
    raise {
        "overflow": OverflowError("int too large to convert to float"),
        "recursion": RecursionError("maximum recursion depth exceeded"),
        "lines": KeyError("a\nb\x1b[2J"),
        "memory": MemoryError(),
        "locked": PermissionError(13, "Permission denied", "/etc/shadow"),
        "full": OSError(28, "No space left on device"),
    }[name]


@pytest.mark.parametrize(
    ("name", "code", "said"),
    [
        ("overflow", FAULT, f"{STRAY} (OverflowError: int too large"),
        ("recursion", FAULT, "RecursionError"),
        ("lines", FAULT, "KeyError"),
        ("memory", 3, "not enough memory"),
        ("locked", 3, "/etc/shadow: Permission denied"),
    ],
)
def test_a_stray_exception_is_one_line(name, code, said):
    found = CliRunner().invoke(house, ["fall", name])
    assert found.exit_code == code
    assert found.stderr.count("\n") == 1
    assert said in found.stderr
    assert "\x1b" not in found.stderr
    assert ("CROSSDAY_TRACEBACK=1" in found.stderr) == (code == FAULT)


def test_the_way_to_it_is_shown_on_request(monkeypatch):
    monkeypatch.setenv("CROSSDAY_TRACEBACK", "1")
    found = CliRunner().invoke(house, ["fall", "overflow"])
    assert "Traceback" in found.stderr
    assert "test_door.py" in found.stderr


def shell(words, **how):
    return subprocess.run(
        [sys.executable, "-m", "forecaster", *words], stderr=subprocess.PIPE, check=False, **how
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full here")
@pytest.mark.parametrize(
    "words", [["crops", "tomato"], ["--help"], ["when", AIR, "--lat", "-36.2"]]
)
def test_an_answer_for_which_there_is_no_room(words):
    with open("/dev/full", "wb") as full:  # noqa: PTH123 - a device
        found = shell(words, stdout=full)
    assert found.returncode == 3
    assert found.stderr == b"crossday: the answer could not be written: No space left on device.\n"


@pytest.mark.skipif(os.name != "posix", reason="closes a descriptor")
def test_a_stream_that_was_closed_is_silence():
    line = f"{sys.executable} -m forecaster crops tomato"
    for end in (">&-", "2>&-", ">&- 2>&-"):
        found = subprocess.run(["sh", "-c", f"{line} {end}"], capture_output=True, check=False)
        assert found.returncode == 0, end
        assert found.stderr == b"", end


@given(st.text())
def test_what_is_printed_is_obeyed_by_no_terminal(text):
    """Controls of ISO 6429 (C0 but tab and line end, DEL, C1) and turns of direction go."""
    found = clean(text)
    assert not any(c in found for c in map(chr, [*range(9), *range(11, 32), *range(127, 160)]))
    assert not any(c in found for c in "\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2069")
    if text.isprintable() and "\u200e" not in text:
        assert found == text


@given(st.text(st.characters(codec="utf-8")))
def test_json_stays_the_same_json(text):
    """What is written out is JSON's own form of the character (RFC 8259, section 7)."""
    said = json.dumps({"name": text}, ensure_ascii=False)
    assert json.loads(clean(said)) == {"name": text}


def test_a_stream_writes_it_cleaned():
    below = io.BytesIO()
    stream = Clean(io.TextIOWrapper(below, encoding="ascii"))
    stream.write("a\x1b[31mb\u2026\udcff\n")
    stream.flush()
    assert below.getvalue() == b"a\\u001b[31mb??\n"


def test_nothing_of_a_file_reaches_the_terminal(tmp_path):
    """A station's name with a command for the terminal in it, and a file's own name."""
    rows = Path(AIR).read_text(encoding="utf-8").splitlines()[-800:]
    text = "STATION,NAME,DATE,TMIN,TMAX\n" + "".join(
        f'X1,"\x1b[2Jhere\x9b5m\u202e",{d},{low},{high}\n'
        for d, low, high, _ in (row.split(",") for row in rows)
    )
    path = tmp_path / "a\x1b]0;b.csv"
    path.write_text(text, encoding="utf-8")
    out = str(tmp_path / "o\x1b.csv")
    for words in (["when", str(path), "--lat", "-36.2", "--units", "C"],
                  ["air", "import", str(path), "--out", out, "--units", "C"],
                  ["when", str(tmp_path / "no\x1b[2J.csv"), "--lat", "1"]):  # fmt: skip
        found = CliRunner().invoke(main, words)
        assert found.exit_code in (0, 2, 3)
        assert not any(c in found.output for c in "\x1b\x9b\u202e"), words


class TestWhatWasAFault:
    """Inputs that ended in a traceback, or in no answer at all."""

    @pytest.fixture
    def air(self, tmp_path):
        rows = Path(AIR).read_text(encoding="utf-8").splitlines()
        path = tmp_path / "air.csv"
        path.write_text("\n".join([rows[0], *rows[-830:]]) + "\n", encoding="utf-8")
        return path

    def wrong(self, *words):
        found = CliRunner().invoke(main, [str(w) for w in words])
        assert found.exit_code == 2, found.output
        assert found.stderr.count("\n") == 1
        return found.stderr

    @pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
    @pytest.mark.parametrize("option", ["--planted", "--today"])
    def test_days_at_the_ends_of_the_calendar(self, air, option, day):
        said = self.wrong("plan", air, "--lat", "-36.2", option, day)
        assert "no day of the years 1700 to 2200" in said

    def test_a_narrow_strip_around_a_county(self, air):
        said = self.wrong("plan", air, "--lat", "-36.2",
                          "--outline", "strip 1in around 9999m 9999m")  # fmt: skip
        assert "places to look at" in said

    def test_a_polygon_of_thousands_of_corners(self, air):
        corners = " ".join(f"{i},{i * i % 97}" for i in range(3000))
        said = self.wrong("plan", air, "--lat", "-36.2", "--outline", f"polygon {corners} ft")
        assert "3,000 corners; expected at most 500" in said

    def test_lines_of_twenty_thousand_cells(self, tmp_path):
        head = ",".join(["date", "tmin_c", "tmax_c", *(f"c{i}" for i in range(20_000))])
        path = tmp_path / "wide.csv"
        path.write_text(f"{head}\n" + ("2026-01-01,1,9" + ",1" * 20_000 + "\n") * 5)
        assert "lines of 20,003 cells" in self.wrong("when", path, "--lat", "1")

    @pytest.mark.parametrize("text", ["[" * 100_000, '{"tasks":' + "[" * 900 + "]" * 900 + "}",
                                      '{"tasks": 1' + "0" * 5000 + "}"])  # fmt: skip
    def test_deep_and_huge_plans(self, air, tmp_path, text):
        (tmp_path / "plan.json").write_text(text)
        said = self.wrong("plan", air, "--lat", "-36.2", "--since", tmp_path / "plan.json")
        assert "this is no plan" in said
