"""Anything typed at the book's commands: an exit code as documented, one line, no stray file."""

import os
import re
from io import StringIO
from unittest.mock import patch

import click
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forecaster.cli import main
from forecaster.cli.book import book as commands
from forecaster.packaged import data_path

ODD = (
    "", " ", "-", "--", "=1+1", "'", '"', "a\nb", "../../x", "🌱", "\x1b[2J", "\udcff", "\0", "%s",
    "1e999", "nan", "-0", "9" * 40, "1800-01-01", "2200-12-31", "2026-02-30", "91", "-91", "10m",
    "0in", "4in", "61.5F", "288K", "61.5", "north", "NORTH", "x" * 5000, "0", "-5", "5%", "100ft2",
    "0,0 1,0 1,1", "7:40", "25:00", ".", "..", "/", "/dev/null", "out", "out.json", "con", "\u202e",
)  # fmt: skip
FILES = ("air.csv", "log.csv", "other.csv", "empty.csv", "kelvin.csv", "jump.csv", "bytes.bin",
         "export", "export.json", "garden.db")  # fmt: skip


def material(folder):
    """Files to be named: good ones, and what people really give."""
    air = data_path("demo/air.csv").read_text(encoding="utf-8").splitlines()
    (folder / "air.csv").write_text("\n".join(air[:400]), encoding="utf-8")
    (folder / "log.csv").write_bytes(data_path("demo/readings.csv").read_bytes())
    (folder / "other.csv").write_text("what,=1\n🌱,2\n", encoding="utf-8")
    (folder / "empty.csv").touch()
    kelvin = ["date,tmin,tmax"] + [
        f"2025-01-{d:02d},{280 + d / 10},{290 + d / 10}" for d in range(1, 32)
    ]
    (folder / "kelvin.csv").write_text("\n".join(kelvin))
    # Clocks went back: 2:00 to 2:59 came twice.
    jump = ["time,soil_c"] + [
        f"2026-04-05 {h:02d}:30,{15 + k / 10}" for k, h in enumerate([0, 1, 2, 2, 3, 4])
    ]
    (folder / "jump.csv").write_text("\n".join(jump))
    (folder / "bytes.bin").write_bytes(bytes(range(256)) * 20)


def run(words):
    out, err = StringIO(), StringIO()
    with patch("sys.stdout", out), patch("sys.stderr", err), pytest.raises(SystemExit) as end:
        main([str(word) for word in words], prog_name="crossday")
    return end.value.code, err.getvalue()


@st.composite
def lines(draw):
    name = draw(st.sampled_from(sorted(commands.commands)))
    command = commands.commands[name]
    word = st.one_of(
        st.sampled_from(ODD), st.sampled_from(FILES),
        st.text(st.characters(codec="utf-8"), max_size=12),
    )  # fmt: skip
    words = ["book", name]
    for parameter in command.params:
        if isinstance(parameter, click.Argument):
            words.append(draw(word))
        elif parameter.name != "path" and draw(st.integers(0, 3)) == 0:
            words.append(draw(st.sampled_from([*parameter.opts, *parameter.secondary_opts])))
            if not parameter.is_flag:
                choices = getattr(parameter.type, "choices", None)
                words.append(draw(st.sampled_from(list(choices)) | word if choices else word))
    if draw(st.integers(0, 9)) == 0:
        words.insert(draw(st.integers(1, len(words))), draw(word))
    return words


def attack(tmp_path_factory, monkeypatch, cases):
    folder = tmp_path_factory.mktemp("fuzz")
    here = folder / "here"
    here.mkdir()
    material(here)
    monkeypatch.chdir(here)
    monkeypatch.setenv("CROSSDAY_BOOK", str(here / "garden.db"))
    assert run(["book", "start", "--lat", "-36.2", "--air", "air.csv", "--bed", "north"])[0] == 0
    assert run(["book", "export", "export"])[0] == run(["book", "export", "export.json"])[0] == 0
    tried = []

    @settings(max_examples=cases, database=None, suppress_health_check=list(HealthCheck))
    @given(lines())
    def one(words):
        before = {p.name for p in here.iterdir()}
        code, err = run(words)
        tried.append(code)
        assert code in (0, 2, 3), (words, code)
        assert "Traceback" not in err
        if code:
            *notes, last = err.splitlines()
            assert last.startswith("crossday: ")
            assert all(re.search(r" was (given \d+ times|taken as) ", one) for one in notes), notes
        new = {p.name for p in here.iterdir()} - before - {"garden.db-wal", "garden.db-shm"}
        assert all(any(os.path.basename(w) == n for w in words) for n in new), (words, new)  # noqa: PTH119
        assert {p.name for p in folder.iterdir()} - {"here", *map(os.path.basename, words)} == set()

    one()
    assert run(["book", "show"])[0] == 0, "the book is still whole"
    return tried


def test_odd_words(tmp_path_factory, monkeypatch):
    assert len(attack(tmp_path_factory, monkeypatch, 150)) >= 100


@pytest.mark.slow
def test_many_odd_words(tmp_path_factory, monkeypatch):
    tried = attack(tmp_path_factory, monkeypatch, 5000)
    print({code: tried.count(code) for code in sorted(set(tried))})  # noqa: T201
    assert len(tried) >= 5000
