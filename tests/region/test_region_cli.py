"""`crossday region`: files, words, exit codes, and what it leaves alone."""

import csv
import json
import subprocess
import sys

import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from forecaster.cli import main
from forecaster.packaged import data_path

ASK = ("--threshold", "18C", "--direction", "falling", "--today", "2025-09-01")


def call(*words: object, code: int = 0):
    done = CliRunner().invoke(main, ["region", *map(str, words)], catch_exceptions=False)
    assert done.exit_code == code, done.output
    return done


@pytest.fixture
def region(folder, tmp_path, monkeypatch):
    """A caller in a folder of its own: where region.csv goes unless it is said otherwise."""
    monkeypatch.chdir(tmp_path)
    return folder


def test_help_and_when_need_none_of_it():
    """Pandas brings pyarrow along by itself where it is installed; we never do."""
    code = (
        "import sys\nfrom click.testing import CliRunner\nfrom forecaster.cli import main\n"
        "from forecaster.packaged import data_path\n"
        "air = str(data_path('demo/air.csv'))\n"
        "def ask(*words):\n"
        "    assert CliRunner().invoke(main, words).exit_code == 0\n"
        "    print(*({'dask', 'distributed', 'pyarrow', 'forecaster.region'} & set(sys.modules)))\n"
        "ask('--help')\nask('region', '--help')\n"
        "sys.modules['pyarrow'] = None  # as where it is not installed\n"
        "ask('when', air, '--lat', '36.2S', '--today', '2026-03-16')"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.split() in ([], ["pyarrow"])  # the None above


def test_the_three_tables_say_the_same(region, tmp_path):
    done = call(region, *ASK, "--by", "2025-10-10")
    assert "6 places: 4 with an answer, 2 without." in done.output
    assert "No answer:" in done.output
    assert "Table: region.csv" in done.output
    call(region, *ASK, "--by", "2025-10-10", "--out", "r.json")
    call(region, *ASK, "--by", "2025-10-10", "--out", "r.parquet")
    with (tmp_path / "region.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    told = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))["places"]
    kept = pq.read_table(tmp_path / "r.parquet").to_pylist()
    assert [row["place"] for row in rows] == ["ash", "birch", "cedar", "elm", "fir", "gone"]
    for cells, values, row in zip(rows, told, kept, strict=True):
        assert cells["place"] == values["place"] == row["place"]
        day = row["median"]
        assert (cells["median"] or None) == values["median"] == (day and day.isoformat())
        assert cells["against_usual_days"] == (
            "" if day is None else str(row["against_usual_days"])
        )
        if day is not None:
            assert (
                float(cells["chance_by"]) == values["chance_by"] == pytest.approx(row["chance_by"])
            )
            assert values["threshold_f"] == pytest.approx(64.4)
    assert not list(tmp_path.glob("*.parts"))


def test_ours_is_written_over_and_others_stay(region, tmp_path):
    table = region / "one.csv"
    table.write_text("file,latitude\nash.csv,38\n", encoding="utf-8")
    for name in ("region.csv", "r.json", "r.parquet"):
        (tmp_path / name).write_text("mine\n", encoding="utf-8")
        done = call(table, *ASK, "--out", name, code=2)
        assert "was not written by this command" in done.output
        assert (tmp_path / name).read_text(encoding="utf-8") == "mine\n"
        call(table, *ASK, "--out", name, "--force")
        call(table, *ASK, "--out", name)


def test_a_table_is_no_station(region, monkeypatch):
    """In the folder of stations a table or map would be read as a station the next time."""
    monkeypatch.chdir(region)
    assert "is the file to be read" in call(".", *ASK, "--out", "ash.csv", code=2).output
    assert "is the file to be read" in call(".", *ASK, "--out", "places.csv", code=2).output
    (region / "places.csv").unlink()
    for words in ((), ("--out", "../r.csv", "--map", "m.png")):
        assert "would lie among the stations" in call(".", *ASK, *words, code=2).output


def test_json_is_the_answer_and_nothing_else(region):
    told = json.loads(call(region, *ASK, "--json").stdout)
    assert (told["schema"], told["answered"], told["no_answer"]) == (1, 4, 2)
    assert len(told["places"]) == 6
    scores = json.loads(
        call(region, *ASK, "--check", "--seasons", "2", "--leads", "0", "--json", "--anew").stdout
    )
    assert {one["region"] for one in scores["scores"]} == {"all", "east", "west"}
    assert [one["place"] for one in scores["problems"]] == ["cedar", "gone"]


@pytest.mark.parametrize(
    "more", [(), ("--crop", "pansy"), ("--check", "--seasons", "1", "--leads", "0")]
)
def test_json_is_as_described(tmp_path, more):
    """Against data/schemas/region.json: nothing missing, nothing that it does not describe."""
    schema = json.loads(data_path("schemas/region.json").read_text(encoding="utf-8"))
    for part in (schema, *(schema["properties"][k]["items"] for k in ("places", "scores"))):
        part["additionalProperties"] = False
    text = f"file,latitude\n{data_path('demo/air.csv')},-36.2\n,0\n"
    (tmp_path / "places.csv").write_text(text, encoding="utf-8")
    out = ("--out", tmp_path / "out.csv", "--json")
    told = json.loads(call(tmp_path, *out, "--today", "2026-03-16", *more).stdout)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(told)] == []
    first = next(iter(told.get("places") or told["scores"]))
    for bad in (told | {"x": 1}, told | {"answered": "1"}, {k: told[k] for k in ("schema",)}):
        assert not Draft202012Validator(schema).is_valid(bad)
    first["undescribed"] = 1
    assert not Draft202012Validator(schema).is_valid(told)


def test_a_check_says_how_far_it_missed(region):
    said = call(region, *ASK, "--check", "--seasons", "2", "--leads", "0,14").output
    assert "4 checked, 2 not." in said
    assert "all: Your threshold, autumn, WEATHER ONLY, 4 places" in said
    assert "two weeks ahead" in said


def test_the_beds_of_the_book(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    air = str(data_path("demo/air.csv"))
    for words in (("start", "--lat", "36.2S", "--air", air), ("bed", "front", "--depth", "3in")):
        assert CliRunner().invoke(main, ["book", *words, "--book", "g.db"]).exit_code == 0
    said = call("--book", "g.db", "--crop", "pansy", "--today", "2026-03-16").output
    assert "1 place: 1 with an answer." in said
    assert "Pansy" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "name PLACES"),
        (("nowhere",), "nowhere: no such folder"),
        (("HERE", "--threshold", "65F"), "--threshold needs --direction"),
        (("HERE", *ASK, "--out", "r.xls"), "expected a name in .csv, .json or .parquet"),
        (("HERE", *ASK, "--out", "no/r.csv"), "there is no folder 'no'"),
        (("HERE", *ASK, "--workers", "2", "--cluster", "tcp://127.0.0.1:1"), "give one"),
        (("HERE", *ASK, "--cluster", "no.json"), "neither an address"),
        (("HERE", "--map", "m.png"), "--map shows the dates of one question"),
        (("HERE", *ASK, "--map", "m.gif"), "expected a name ending in .png or .svg"),
        (("HERE", *ASK, "--check", "--crop", "pansy"), "do not go with --crop"),
        (("HERE", "--check", "--crop", "pansy"), "crops have no past dates"),
        (("HERE", *ASK, "--resume"), "there is no stopped run"),
        (("HERE", *ASK, "--book", "g.db"), "not both"),
    ],
)
def test_wrong_use_is_one_line(region, words, said):
    done = call(*(region if word == "HERE" else word for word in words), code=2)
    (line,) = done.output.strip().splitlines()
    assert said in line


def test_what_is_missing_is_said_with_the_remedy(region, monkeypatch):
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    assert "pip install 'crossday[region]'" in call(region, *ASK, code=2).output
