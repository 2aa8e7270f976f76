"""Every packaged data file is listed with its source and is byte for byte what was listed."""

import csv
import importlib.util
import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from forecaster import packaged as reference
from forecaster.ground.errors import DataMissing, FileError

ROOT = Path(__file__).resolve().parents[1]
DATA = ROOT / "data"
SCRIPT = ROOT / "scripts" / "refresh_sources.py"

_spec = importlib.util.spec_from_file_location("refresh_sources", SCRIPT)
sources = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sources)


def listed() -> dict[str, dict[str, str]]:
    return sources.read_table(DATA)


def test_list_and_folder_name_the_same_files():
    assert sorted(listed()) == sources.data_files(DATA)


@pytest.mark.parametrize("name", sources.data_files(DATA))
def test_file_is_described_and_unchanged(name):
    row = listed()[name]
    assert row["sha256"] == sources.sha256(DATA / name), (
        f"{name} changed; if that was meant, run python scripts/refresh_sources.py"
    )
    for key in ("origin", "licence", "units", "day_convention"):
        assert row[key].strip(), f"{name}: {key} is empty"


def test_table_is_what_its_script_writes():
    text, undescribed, dropped = sources.refreshed(DATA)
    assert undescribed == dropped == []
    assert text == (DATA / "SOURCES.csv").read_text(encoding="utf-8")


# Others' files stay byte for byte as they were released; packed tables and pictures are no text.
OURS = [
    n
    for n in sources.data_files(DATA)
    if not (n.startswith("page/") or n.endswith((".gz", ".png")))
]


@pytest.mark.parametrize("name", OURS)
def test_file_is_text_without_machine_paths(name):
    text = (DATA / name).read_text(encoding="utf-8")
    assert text.endswith("\n")
    assert "\r" not in text
    assert not re.search(r"(?<![\w.])/(work|home|root|tmp|Users)/", text)


@pytest.mark.parametrize("name", [n for n in sources.data_files(DATA) if n.endswith(".json")])
def test_json_loads(name):
    assert reference.load_json(name) == json.loads((DATA / name).read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "name",
    [n for n in sources.data_files(DATA) if n.endswith(".csv") and not n.startswith("demo/")],
)
def test_csv_loads_with_as_many_cells_as_headings(name):
    rows = reference.load_csv(name)
    assert rows
    assert all(
        set(row) == set(rows[0]) and all(isinstance(v, str) for v in row.values()) for row in rows
    )


def test_reference_agrees_with_an_independent_reading():
    text = (DATA / "stations.csv").read_text(encoding="utf-8")
    assert reference.load_csv("stations.csv") == list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("name", ["no_such_file.csv", "../pyproject.toml", "demo/none.json"])
def test_a_name_that_is_not_there_is_said_so(name):
    with pytest.raises(DataMissing, match=re.escape(repr(name))):
        reference.data_path(name)


@pytest.fixture
def other_data(tmp_path, monkeypatch):
    monkeypatch.setattr(reference, "_PACKAGE", tmp_path)
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "SOURCES.csv").touch()
    return tmp_path / "data"


def test_remarks_and_empty_lines_are_passed_over(other_data):
    (other_data / "t.csv").write_text('# a remark, with commas\na_m,b\n\n1,"x\ny"\n# more\n2,z\n')
    assert reference.load_csv("t.csv") == [{"a_m": "1", "b": "x\ny"}, {"a_m": "2", "b": "z"}]


def test_a_row_of_another_length_is_named_by_its_line(other_data):
    (other_data / "t.csv").write_text("# remark\na,b\n1,2\n3\n")
    with pytest.raises(FileError, match=r"t\.csv, line 4: 1 cells; expected 2"):
        reference.load_csv("t.csv")


def test_broken_json_is_named_by_line_and_column(other_data):
    (other_data / "t.json").write_text('{"a": 1,\n oops}')
    with pytest.raises(FileError, match=r"t\.json, line 2, column 2"):
        reference.load_json("t.json")


def test_an_installation_without_data_is_said_so(tmp_path, monkeypatch):
    monkeypatch.setattr(reference, "_PACKAGE", tmp_path / "forecaster")
    with pytest.raises(DataMissing, match="Install crossday again"):
        reference.data_folder()


def test_refresh_keeps_words_updates_sums_and_names_the_undescribed(tmp_path):
    (tmp_path / "a.csv").write_text("x\n1\n")
    (tmp_path / "new.csv").write_text("y\n")
    (tmp_path / "SOURCES.csv").write_text(
        "path,sha256,origin,licence,units,day_convention\n"
        'a.csv,old,"ours, really",MIT,m,none\ngone.csv,1,2,3,4,5\n'
    )
    run = subprocess.run(
        [sys.executable, SCRIPT, "--data", tmp_path], capture_output=True, text=True, check=False
    )
    assert run.returncode == 1
    assert "new.csv: not described" in run.stdout
    assert "gone.csv: gone" in run.stdout
    rows = sources.read_table(tmp_path)
    assert set(rows) == {"a.csv"}
    assert rows["a.csv"]["origin"] == "ours, really"
    # printf 'x\n1\n' | sha256sum
    assert rows["a.csv"]["sha256"] == (
        "daff832f802000e645771a60983c76c963f6ee602a6230e45237bd360e91cc1a"
    )


def test_importing_reference_does_not_pull_in_pandas():
    code = "import sys, forecaster.packaged; print(*sorted({'pandas', 'numpy'} & set(sys.modules)))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == ""
