"""`crossday plan` on the demo garden: the answer, its forms, and what is refused."""

import csv
import io
import json
import subprocess
import sys

import pytest
from click.testing import CliRunner
from icalendar import Calendar

from forecaster.cli import main
from forecaster.packaged import data_path

AIR = str(data_path("demo/air.csv"))
LOG = str(data_path("demo/readings.csv"))
AT = ("--lat", "36.2S", "--lon", "146.6E", "--readings", LOG, "--today", "2026-03-16")
WHOLE = (
    "--season", "autumn", "--area", "100ft2", "--crop", "pansy", "--flat", "36=18.50", "--flat",
    "48=22", "--flow", "5gpm", "--fertilizer", "blood meal", "--name", "North",
)  # fmt: skip


def run(*words):
    return CliRunner().invoke(main, ["plan", *words], catch_exceptions=False)


def answer(*words):
    found = run(AIR, *AT, *words)
    assert found.exit_code == 0, found.stderr
    return found


@pytest.fixture(scope="module")
def whole():
    return json.loads(answer(*WHOLE, "--json").stdout)


def test_first_line_answers_the_question():
    first = answer(*WHOLE).stdout.splitlines()[0]
    assert first.startswith("North, autumn 2026: set out about ")


def test_the_whole_job_is_in_it(whole):
    names = {task["key"].split("/")[1] for task in whole["tasks"]}
    assert {"order", "sow", "pull", "renew", "set-out", "first-look", "watch-frost"} <= names
    assert whole["shopping"]["plants"] == 225
    assert whole["shopping"]["flats"][0]["size"] == 48
    assert whole["feel_the_soil"]["years"] >= 10
    assert whole["pull"]["best"] < next(
        task["likely"] for task in whole["tasks"] if task["key"].endswith("autumn/set-out")
    )
    assert any(task["key"].startswith("2026-spring/") for task in whole["tasks"])


def test_the_season_that_comes_next_is_planned_unless_told(whole):
    assert json.loads(answer("--json").stdout)["key"] == whole["key"]


def test_spring_has_no_bark_and_asks_of_frost():
    made = json.loads(answer("--season", "spring", "--area", "9m2", "--json").stdout)
    assert made["key"] == "2026-spring"
    assert made["threshold"] == "warm-65"
    assert made["shopping"]["bulk"] == []
    frost = [task for task in made["tasks"] if task["key"].endswith("watch-frost")]
    assert frost or any("frost" in note for note in made["notes"])


def test_own_threshold_of_a_season():
    made = json.loads(answer("--season", "autumn", "--threshold", "60F", "--json").stdout)
    assert made["threshold"] == "yours"


def test_a_resting_bed():
    out = answer("--season", "autumn", "--rest", "--area", "100ft2").stdout
    assert "wood chips" in out
    assert "Set out" not in out


def test_calendar_file_and_table(tmp_path):
    path = tmp_path / "north.ics"
    found = answer(*WHOLE, "--csv", "--ics", str(path))
    rows = list(csv.DictReader(io.StringIO(found.stdout)))
    events = Calendar.from_ical(path.read_bytes()).walk("VEVENT")
    assert {row["bed"] for row in rows} == {"North"}
    open_ = [row for row in rows if row["when"] in ("week", "ahead")]
    assert [str(e.decoded("dtstart")) for e in events] == [row["due"] for row in open_]
    assert "Calendar:" in found.stderr


def test_layout_picture(tmp_path):
    path = tmp_path / "sheet.png"
    found = answer(
        "--outline", "rectangle 4ft 8ft", "--colours", "yellow=30,purple=30", "--layout", str(path)
    )
    assert path.stat().st_size > 10_000
    assert "Purple will hardly show" in path.with_suffix(".txt").read_text(encoding="utf-8")
    assert f"Picture: {path}" in found.stdout


def test_what_moved_since_an_earlier_plan(tmp_path):
    old = tmp_path / "old.json"
    early = run(AIR, *AT[:-1], "2026-02-20", "--season", "autumn", "--json")
    old.write_text(early.stdout, encoding="utf-8")
    out = answer("--season", "autumn", "--since", str(old)).stdout
    assert "What moved" in out
    same = tmp_path / "same.json"
    same.write_text(answer("--season", "autumn", "--json").stdout, encoding="utf-8")
    assert "Nothing moved." in answer("--season", "autumn", "--since", str(same)).stdout
    moved = json.loads(answer("--season", "autumn", "--since", str(old), "--json").stdout)["moved"]
    assert {row["what"] for row in moved} <= {"moved", "new", "gone"}


def test_nothing_after_today_is_looked_at(tmp_path, whole):
    """The same plan from a record cut off at today."""
    text = data_path("demo/air.csv").read_text(encoding="utf-8").splitlines()
    cut = [line for line in text if not ("2026-03-17" <= line[:10] <= "2099")]
    assert len(cut) > 4000
    path = tmp_path / "cut.csv"
    path.write_text("\n".join(cut) + "\n", encoding="utf-8")
    found = run(str(path), *AT, *WHOLE, "--json")
    assert json.loads(found.stdout)["tasks"] == whole["tasks"]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--area", "100ft"), "area '100ft' not understood"),
        (("--spacing", "8x"), "length '8x' not understood"),
        (("--flow", "5 per hour"), "flow '5 per hour' not understood"),
        (("--outline", "blob 3ft"), "outline 'blob 3ft' not understood"),
        (("--flat", "36=x"), "--flat '36=x' is not understood"),
        (("--price", "3"), "--price needs one --flat"),
        (("--ratio", "2"), "--ratio '2' is not understood"),
        (("--sow-weeks", "8"), "--sow-weeks '8' is not understood"),
        (("--sow-weeks", "9-8"), "sow_weeks is 9 to 8"),
        (("--crop", "pansey"), "crop 'pansey' is not known"),
        (("--fertilizer", "12"), "fertilizer '12' not understood"),
        (("--planted", "2026-03-20"), "up to today"),
        (("--ics", "plan.txt"), "expected a name ending in .ics"),
        (("--ics", "no/such/folder/plan.ics"), "there is no folder"),
        (("--layout", "a.png", "--outline", "circle 9ft"), "needs --colours"),
        (("--layout", "a.png", "--colours", "red=3"), "needs --outline"),
        (("--colours", "red=3"), "needs --outline or --area"),
        (("--colours", "red=,white", "--outline", "circle 9ft"), "not understood"),
        (("--layout", "a.png", "--colours", "mauvish=3", "--outline", "circle 9ft"), "mauvish"),
        (("--since", "none.json"), "No such file"),
        (("--json", "--csv"), "two answers"),
        (("--season", "autumn", "--threshold", "60F", "--direction", "rising"), "means a falling"),
        (("--threshold", "60F"), "--threshold needs --season"),
        (("--season", "spring", "--crop-class", "cool"), "not planted in spring"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_one_line(words, why):
    found = run(AIR, *AT, *words)
    assert found.exit_code == 2
    assert why in found.stderr
    assert len(found.stderr.strip().splitlines()) == 1
    assert found.stdout == ""


def test_help_loads_nothing_heavy():
    code = (
        "import sys\nfrom forecaster.cli import main\n"
        "try:\n    main(['plan', '--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({'pandas', 'numpy', 'scipy', 'icalendar', 'matplotlib'} & set(sys.modules)),"
        " file=sys.stderr)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stderr.strip() == "[]"


def test_the_calendar_package_is_loaded_only_for_a_calendar():
    code = (
        "import sys\nfrom forecaster.cli import main\n"
        f"try:\n    main(['plan', {AIR!r}, '--lat', '36.2S', '--csv'])\n"
        "except SystemExit:\n    pass\n"
        "print({'icalendar', 'matplotlib'} & set(sys.modules), file=sys.stderr)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stderr.strip() == "set()"
