"""What the user says of a file's columns, and which probe of a log is meant."""

import json

import pytest
from click.testing import CliRunner

from forecaster.cli import main
from forecaster.cli.place import columns_told
from forecaster.packaged import data_path

AIR = str(data_path("demo/air.csv"))
AT = ("--lat", "-36.2", "--lon", "146.6", "--today", "2026-03-16")
ROWS = [
    f"2026-02-{day:02d} 14:00,{bed},{(75 if bed == 'north' else 72) + day / 10}"
    for day in range(1, 28, 3)
    for bed in ("north", "south")
]


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("time,bed,soil 4 in (°F)\n" + "\n".join(ROWS), encoding="utf-8")
    return str(path)


def call(*words):
    return CliRunner().invoke(main, words)


def test_kinds_go_to_the_file_that_has_them():
    told = columns_told(("soil10=T_north", "time=When", "tmax= Hi "))
    assert told == ({"tmax": "Hi"}, {"soil10": "T_north", "time": "When"})
    assert columns_told(("date=When", "tmin=Lo"))[0] == {"date": "When", "tmin": "Lo"}


def test_a_log_of_two_beds_asks_which(log):
    refused = call("when", AIR, *AT, "--readings", log)
    assert refused.exit_code == 2
    assert "2 probes: north, south" in refused.stderr
    assert "--probe north" in refused.stderr
    assert refused.stderr.count("\n") == 1
    found = call("when", AIR, *AT, "--readings", log, "--probe", "south", "--json")
    assert found.exit_code == 0, found.output
    account = json.loads(found.stdout)["read"]["readings"]
    assert any("only 'south' was taken: 9 of 18" in note for note in account["notes"])
    assert [c["taken"] or c["why"] for c in account["columns"]][:2] == ["date", "name of the probe"]


def test_a_told_column_stands_above_the_heading(log):
    found = call(
        "when", AIR, *AT, "--readings", log, "--column", "soil5in=3", "--column", "probe=2",
        "--probe", "north", "--readings-units", "F", "--json",
    )  # fmt: skip
    assert found.exit_code == 0, found.output
    taken = [c["taken"] for c in json.loads(found.stdout)["read"]["readings"]["columns"]]
    assert "soil temperature at 12.7 cm, °F" in taken[2]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--column", "tmax"), "expected KIND=NAME"),
        (("--column", "tmax=Nope"), "no column 'Nope' for tmax"),
        (("--column", "snow=1"), "a column cannot be told as 'snow'"),
    ],
)
def test_wrong_use_is_one_line(words, said):
    refused = call("when", AIR, *AT, *words)
    assert refused.exit_code == 2
    assert said in refused.stderr
    assert refused.stderr.count("\n") == 1


def test_probes_go_to_beds_of_their_names(log, tmp_path):
    book = ("--book", str(tmp_path / "garden.db"))
    assert call("book", "start", "--lat", "36.2S", "--air", AIR, *book).exit_code == 0
    found = call("book", "import", log, *book)
    assert found.exit_code == 0, found.output
    assert "9 new readings for 'north'." in found.stdout
    assert "9 new readings for 'south'." in found.stdout
    again = call("book", "import", log, "--bed", "north", "--probe", "north", *book, "--json")
    assert json.loads(again.stdout)["readings"]["new"] == 0
    both = call("book", "import", log, "--bed", "north", *book)
    assert both.exit_code == 2
    assert "--probe north" in both.stderr


def test_probes_go_to_new_beds_of_the_place_named_where_there_are_several(log, tmp_path):
    book = ("--book", str(tmp_path / "garden.db"))
    assert call("book", "start", "--lat", "36.2S", "--name", "here", *book).exit_code == 0
    second = ("--lat", "40N", "--name", "there", "--bed", "South")
    assert call("book", "start", *second, *book).exit_code == 0
    which = call("book", "import", log, *book)
    assert which.exit_code == 2
    assert "say which, with --place: 'here', 'there'" in which.stderr
    assert call("book", "show", *book).stdout.count("no reading") == 1, "nothing was kept"
    found = call("book", "import", log, "--place", "here", *book)
    assert found.exit_code == 0, found.output
    beds = json.loads(call("book", "show", *book, "--json").stdout)["beds"]
    assert {bed["name"]: bed["place"] for bed in beds} == {"South": "there", "north": "here"}
    assert [bed["readings"] for bed in beds] == [9, 9]
