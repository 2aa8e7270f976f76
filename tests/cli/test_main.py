"""The command as a user meets it: answers, exit codes, one line where something is wrong."""

import csv
import json
import os
import re
import signal
import subprocess
import sys
import time
from datetime import date, timedelta
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from forecaster.cli import main
from forecaster.cli.crops import OPTIONS as CROP_OPTIONS
from forecaster.cli.degrees import Degrees
from forecaster.cli.place import clock_of
from forecaster.ground.errors import DataMissing
from forecaster.packaged import data_path, load_json

GARDEN = load_json("demo/garden.json")
AIR = str(data_path("demo/air.csv"))
LOG = str(data_path("demo/readings.csv"))
AT = ("--lat", "-36.2", "--lon", "146.6")
HEAVY = {"numpy", "pandas", "scipy", "matplotlib", "rich"}


def run(*words: str, columns: int = 80):
    return CliRunner(env={"COLUMNS": str(columns)}).invoke(main, list(words))


def wrong(*words: str) -> str:
    """Run a command that should be refused as wrong use; return its one line."""
    found = run(*words)
    assert found.exit_code == 2, found.output
    assert found.stdout == ""
    assert found.stderr.startswith("crossday: ")
    assert found.stderr.count("\n") == 1
    return found.stderr


def answer(*words: str) -> dict:
    found = run("when", *words, "--json")
    assert found.exit_code == 0, found.output
    return json.loads(found.stdout)


def shell(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "forecaster", *words], capture_output=True, text=True, cwd=cwd,
        check=False,
    )  # fmt: skip


@pytest.fixture(scope="module")
def short_air(tmp_path_factory) -> Path:
    """Two years of the demo garden's air, ending yesterday."""
    path = tmp_path_factory.mktemp("air") / "air.csv"
    with Path(AIR).open(encoding="utf-8", newline="") as handle:
        rows = list(csv.reader(handle))
    kept = rows[-760:]
    shift = date.today() - timedelta(days=1) - date.fromisoformat(kept[-1][0])
    moved = [[(date.fromisoformat(r[0]) + shift).isoformat(), *r[1:]] for r in kept]
    with path.open("w", encoding="utf-8", newline="") as handle:
        csv.writer(handle).writerows([rows[0], *moved])
    return path


# --- help and names ------------------------------------------------------------------------


def every_command():
    for name in main.list_commands(None):
        command = main.get_command(None, name)
        yield (name,), command
        yield from (((name, inner), one) for inner, one in getattr(command, "commands", {}).items())


@pytest.mark.parametrize(("words", "command"), list(every_command()))
def test_every_command_and_option_has_help(words, command):
    assert command.help
    options = [p for p in command.params if isinstance(p, click.Option)]
    assert [p.name for p in options if not p.help] == []
    found = run(*words, "--help")
    assert found.exit_code == 0
    assert "Usage:" in found.stdout


def test_help_says_the_defaults_that_are_used():
    from forecaster.answers.crops.table import defaults  # noqa: PLC0415
    from forecaster.packaged import load_values  # noqa: PLC0415

    said = {
        param.name: getattr(param, "show_default", None)
        for name in ("plan", "when")
        for param in main.get_command(None, name).params
    }
    plan = {name: one.value for name, one in load_values("plan_defaults.csv").items()}
    assert said["risk"] == f"{defaults()['frost_risk'].value:.0%}"
    assert float(said["late_weight"]) == plan["pull_late_weight"]
    assert said["depth_of_renewal"] == f"{plan['renewal_depth_m'] / 0.0254:.0f}in"
    assert float(said["nitrogen"]) == pytest.approx(plan["nitrogen_kg_m2"] / 0.0488243, rel=0.01)


def test_when_and_chart_take_the_same_inputs():
    names = [[p.name for p in main.get_command(None, c).params] for c in ("when", "chart")]
    own = {"as_json", "brief", "full", "beds", *CROP_OPTIONS}
    assert set(names[0]) - own == set(names[1]) - {"out", "force", "bed"}


def test_help_needs_nothing_heavy():
    code = (
        "import sys\nfrom forecaster.cli import main\n"
        "try: main(['--help'])\nexcept SystemExit as end: assert end.code == 0\n"
        f"print(sorted({HEAVY!r} & set(sys.modules)), file=sys.stderr)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stderr.strip() == "[]"
    assert "when" in found.stdout


def test_when_loads_no_pictures():
    code = (
        "import sys\nfrom forecaster.cli import main\n"
        f"try: main(['when', {AIR!r}, '--lat', '-36.2'])\n"
        "except SystemExit as end: assert end.code == 0\n"
        "print(sorted({'matplotlib', 'rich'} & set(sys.modules)), file=sys.stderr)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stderr.strip() == "[]"


def test_version():
    found = run("--version")
    assert found.exit_code == 0
    assert re.fullmatch(r"crossday \d+\.\d+\.\d+\n", found.stdout)


# --- answers -------------------------------------------------------------------------------


def test_when_leads_with_the_next_window():
    found = run("when", AIR, *AT, "--readings", LOG, "--today", GARDEN["today"])
    assert found.exit_code == 0, found.output
    order = ["Cool-season flats:", "Warm-season plants:", "From", "Estimates:", "More: --full"]
    assert sorted(order, key=found.stdout.index) == order
    assert "readings.csv (21 rows)" in " ".join(found.stdout.split())
    assert len(found.stdout.splitlines()) < 40
    full = run("when", AIR, *AT, "--readings", LOG, "--today", GARDEN["today"], "--full").stdout
    assert full.splitlines()[:3] == found.stdout.splitlines()[:3]
    assert "Readings: " in full[full.index("What was read") :]
    brief = run("when", AIR, *AT, "--readings", LOG, "--today", GARDEN["today"], "--brief").stdout
    assert brief.startswith("Cool-season flats: wait; the soil settles below 65 °F about")
    assert len(brief) < len(found.stdout) < len(full)
    spring = run("when", AIR, *AT, "--today", "2025-10-15").stdout
    assert spring.index("Warm-season plants:") < spring.index("Cool-season flats:")


@pytest.mark.parametrize("columns", [60, 100])
def test_the_answer_fits_the_terminal(columns):
    found = run("when", AIR, *AT, "--crop-class", "cool", columns=columns)
    assert max(len(line) for line in found.stdout.splitlines()) <= min(88, columns)


def test_json_is_for_programs():
    found = answer(AIR, *AT, "--readings", LOG, "--today", GARDEN["today"])
    assert found["today"] == GARDEN["today"]
    assert found["site"]["latitude_deg"] == -36.2
    assert found["site"]["depth_m"] == 0.1016
    assert {window["threshold"]["name"] for window in found["windows"]} >= {"cool-65", "warm-65"}
    chances = [week["probability"] for week in found["windows"][0]["outlook"]["settled_by"]]
    assert chances == sorted(chances)
    assert set(found["read"]) == {"air", "readings"}


def test_the_forecast_is_issued_on_the_records_last_day_by_default():
    found = answer(AIR, *AT, "--crop-class", "cool")
    with Path(AIR).open(encoding="utf-8", newline="") as handle:
        last = list(csv.reader(handle))[-1][0]
    assert found["today"] == last


def test_an_old_record_is_said_to_be_old(short_air):
    (old,) = answer(AIR, *AT, "--crop-class", "cool")["windows"]
    assert old["so_far"]["stale_days"] > 100
    assert old["verdict"] == "unsure"
    fresh = answer(str(short_air), *AT, "--crop-class", "cool")
    assert fresh["today"] == (date.today() - timedelta(days=1)).isoformat()
    assert fresh["windows"][0]["so_far"]["stale_days"] == 0


def test_no_one_is_told_to_go_on_air_that_ended_weeks_ago(tmp_path):
    lines = Path(AIR).read_text(encoding="utf-8").splitlines(keepends=True)
    cut = tmp_path / "air.csv"
    cut.write_text("".join(one for one in lines if one[:10] <= "2025-05-09" or one[0] == "D"))
    asked = (str(cut), "--lat", "36.2S", "--crop-class", "cool", "--today")
    assert "Cool-season flats: plant now" in run("when", *asked, "2025-05-10").stdout
    page = run("when", *asked, "2025-05-20").stdout
    assert "plant now" not in page
    assert page.index("11 days before the day asked") < page.index("If the weather since")
    (tmp_path / "log.txt").write_text("2025-05-18 7:40 55F 4in\n")
    read = run("when", *asked, "2025-05-20", "--readings", str(tmp_path / "log.txt")).stdout
    assert "no reading is newer" not in read


def test_a_reading_newer_than_the_air_is_not_dropped_in_silence(tmp_path):
    log = tmp_path / "log.txt"
    log.write_text("2026-03-13 7:40 72F 4in\n2026-03-20 7:40 71F 4in\n")
    said = "1 of 2 readings are from outside the days 2014-03-17 to 2026-03-16 for which there is"
    asked = ("when", AIR, *AT, "--crop-class", "cool", "--brief", "--readings", str(log))
    assert f"{said} air: not used. Get newer air," in " ".join(run(*asked).stdout.split())
    assert "not used" not in run(*asked, "--today", "2026-03-16").stdout, "left out on purpose"


def test_a_given_day_needs_no_clock():
    notes = answer(AIR, *AT, "--today", GARDEN["today"], "--crop-class", "cool")["notes"]
    assert not any("days ago" in note for note in notes)


def test_rows_after_today_change_nothing(tmp_path):
    lines = Path(AIR).read_text(encoding="utf-8").splitlines()
    cut = next(k for k, line in enumerate(lines) if line.startswith("2025-10-15"))
    changed = [
        line if k <= cut else re.sub(r",.*", ",10.0,40.0,0.0", line) for k, line in enumerate(lines)
    ]
    other = tmp_path / "air.csv"
    other.write_text("\n".join(changed) + "\n", encoding="utf-8")
    words = (*AT, "--today", "2025-10-15", "--crop-class", "warm", "--readings", LOG)
    assert answer(str(other), *words)["windows"] == answer(AIR, *words)["windows"]


def test_your_own_threshold():
    words = (AIR, *AT, "--today", GARDEN["today"])
    (window,) = answer(*words, "--threshold", "60F", "--direction", "falling")["windows"]
    assert window["threshold"]["threshold_f"] == 60.0
    assert window["threshold"]["basis"] == "yours"
    (window,) = answer(*words, "--threshold", "16C", "--crop-class", "warm")["windows"]
    assert window["threshold"]["direction"] == "rising"


@pytest.mark.parametrize(
    "at", [("--lat", "-36.2"), ("--lat=-36.2",), ("--lat", "36.2S"), ("--lat", "36.2 s")]
)
def test_south_can_be_written_in_several_ways(at):
    assert answer(AIR, *at, "--crop-class", "cool")["site"]["latitude_deg"] == -36.2


@given(st.floats(0, 90).map(lambda x: round(x, 4)))
def test_degrees_with_a_letter_or_a_sign_are_the_same(value):
    kind = Degrees("N", "S", 90.0)
    assert kind.convert(f"{value}S", None, None) == kind.convert(f"-{value}", None, None) == -value
    assert kind.convert(f"{value}n", None, None) == kind.convert(str(value), None, None) == value


def test_depth_scale_and_ground_reach_the_answer():
    words = ("when", AIR, *AT, "--crop-class", "cool", "--depth", "20cm", "--show", "c")
    found = run(*words, "--soil", "sand", "--cover", "bare")
    assert found.exit_code == 0, found.output
    assert "(20 cm) down" in found.stdout
    assert "settles below 18.3 °C" in found.stdout
    assert "°F" not in found.stdout.split("What was read")[0]


def test_coordinates_in_the_file_serve(tmp_path):
    with Path(AIR).open(encoding="utf-8", newline="") as handle:
        rows = list(csv.reader(handle))[1:][-800:]
    path = tmp_path / "station.csv"
    with path.open("w", encoding="utf-8", newline="") as handle:
        table = csv.writer(handle)
        table.writerow(["STATION", "DATE", "LATITUDE", "LONGITUDE", "TMIN (°C)", "TMAX (°C)"])
        table.writerows(["X1", r[0], "-36.2", "146.6", r[1], r[2]] for r in rows)
    found = answer(str(path), "--crop-class", "cool")["site"]
    assert (found["latitude_deg"], found["longitude_deg"]) == (-36.2, 146.6)
    near = answer(str(path), "--lat", "-36.1", "--crop-class", "cool")["site"]
    assert (near["latitude_deg"], near["longitude_deg"]) == (-36.1, 146.6)
    far = answer(str(path), "--lat", "40S", "--crop-class", "cool")
    assert far["site"]["longitude_deg"] is None
    assert any("is it the right record" in note for note in far["notes"])


def test_a_weather_outlook_is_used(tmp_path):
    path = tmp_path / "outlook.csv"
    day = date.fromisoformat(GARDEN["today"])
    rows = [f"{day + timedelta(days=k)},1.0,9.0" for k in range(1, 11)]
    path.write_text("\n".join(["date,tmin_c,tmax_c", *rows]) + "\n", encoding="utf-8")
    words = (AIR, *AT, "--today", GARDEN["today"], "--crop-class", "cool")
    cold, plain = answer(*words, "--outlook", str(path)), answer(*words)
    assert set(cold["read"]) == {"air", "outlook"}
    median = [found["windows"][0]["outlook"]["settled_median"] for found in (cold, plain)]
    assert median[0] < median[1]


def test_readings_without_a_depth_are_taken_at_the_depth_asked(tmp_path):
    log = tmp_path / "log.txt"
    log.write_text("3/14/2026 7:40 68.5F\n3/21/2026 8:00 66.5F\n3/25/2026 7:30 65F\n", "utf-8")
    words = (AIR, *AT, "--today", GARDEN["today"], "--readings", str(log), "--month-first")
    assert any("(--depth)" in note for note in answer(*words, "--crop-class", "cool")["notes"])


# --- pictures ------------------------------------------------------------------------------


def test_chart_writes_a_picture_and_its_words(tmp_path):
    out = tmp_path / "mine.svg"
    found = run("chart", AIR, *AT, "--readings", LOG, "--today", GARDEN["today"], "--out", str(out))
    assert found.exit_code == 0, found.output
    assert found.stdout == f"Picture: {out}\nIn words: {tmp_path / 'mine.txt'}\n"
    assert "<svg" in out.read_text(encoding="utf-8")
    assert "Cool-season flats" in (tmp_path / "mine.txt").read_text(encoding="utf-8")


def test_demo_answers_and_draws(tmp_path):
    found = run("demo", "--south", "--out", str(tmp_path))
    assert found.exit_code == 0, found.output
    assert found.stdout.startswith(GARDEN["name"])
    assert "(invented)" in found.stdout
    assert {path.name for path in tmp_path.iterdir()} == {"soil-window.png", "soil-window.txt"}
    assert str(tmp_path / "soil-window.png") in found.stdout


def test_demo_writes_to_the_current_folder(tmp_path):
    found = shell("demo", cwd=tmp_path)
    assert (found.returncode, found.stderr) == (0, "")
    assert (tmp_path / "soil-window.png").is_file()
    assert found.stdout.endswith("Picture: soil-window.png\nIn words: soil-window.txt\n")


# --- what can go wrong ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("whn",), "there is no command 'whn'; did you mean when?"),
        (("when", AIR, *AT, "--dpeth", "4in"), "Did you mean"),
        (("when", AIR, *AT, "--soil", "caly"), "Did you mean clay? For example: crossday when"),
        (("when",), "name a FILE"),
        (("when", "nothing.csv", *AT), "nothing.csv"),
        (("when", AIR), "no latitude in the file; expected --lat"),
        (("when", AIR, "--lat", "99"), "'99' is not understood"),
        (("when", AIR, "--lat", "-36.2S"), "'-36.2S' is not understood"),
        (("when", AIR, "--lat", "north"), "'north' is not understood"),
        (("when", AIR, *AT, "--depth", "4ins"), "length '4ins' not understood"),
        (("when", AIR, *AT, "--depth", "3m"), "depth_m is 3.0"),
        (("when", AIR, *AT, "--today", "soon"), "'soon'"),
        (("when", AIR, *AT, "--today", "1990-01-01"), "1990-01-01"),
        (("when", AIR, *AT, "--threshold", "60F"), "needs --direction"),
        (("when", AIR, *AT, "--threshold", "60X", "--direction", "falling"), "temperature '60X'"),
        (("when", AIR, *AT, "--direction", "falling"), "belongs to --threshold"),
        (
            (
                "when", AIR, *AT, "--threshold", "60F", "--crop-class", "cool", "--direction",
                "rising",
            ),
            "means a falling soil",
        ),
        (("when", AIR, *AT, "--readings", "nothing.csv"), "nothing.csv"),
        (("when", AIR, *AT, "--obs-hour", "24"), "24"),
        (("when", AIR, *AT, "--units", "R"), "'R'"),
        (("chart", AIR, *AT, "--out", "soil.pdf"), ".png or .svg"),
        (("chart", AIR, *AT, "--out", "no/such/folder/soil.png"), "no folder"),
    ],
)  # fmt: skip
def test_wrong_use_is_one_clear_line(words, said):
    assert said in wrong(*words)


def test_a_broken_file_is_one_line_with_its_place(tmp_path):
    path = tmp_path / "air.csv"
    path.write_text("date,tmin_c,tmax_c\nyesterday,cold,warm\n", encoding="utf-8")
    assert str(path) in wrong("when", str(path), *AT)


def test_a_picture_that_cannot_be_written_is_wrong_use(tmp_path):
    (tmp_path / "soil.png").mkdir()
    found = run("chart", AIR, *AT, "--crop-class", "cool", "--out", str(tmp_path / "soil.png"))
    assert found.exit_code == 2
    assert found.stderr.count("\n") == 1


def test_missing_data_is_three(monkeypatch):
    def gone(_name):
        raise DataMissing("the packaged data is not there")

    monkeypatch.setattr("forecaster.packaged.load_json", gone)
    found = run("demo")
    assert found.exit_code == 3
    assert found.stderr == "crossday: the packaged data is not there\n"


def test_a_fault_of_ours_is_not_hidden(monkeypatch):
    def broken(*_args, **_options):
        raise ZeroDivisionError

    monkeypatch.setattr("forecaster.answers.of_files.read_air", broken)
    found = run("when", AIR, *AT)
    assert found.exit_code == 70
    assert "ZeroDivisionError" in found.stderr


def test_interrupted_is_130_and_quiet(monkeypatch):
    def stopped(*_args, **_options):
        raise KeyboardInterrupt

    monkeypatch.setattr("forecaster.answers.of_files.read_air", stopped)
    found = run("when", AIR, *AT)
    assert found.exit_code == 130
    assert found.stderr.strip() == ""


@pytest.mark.skipif(os.name == "nt", reason="signals differ")
def test_ctrl_c_stops_a_running_command():
    code = (
        "import forecaster.ingest, signal, time, sys\n"
        # A caller that ignores Ctrl-C hands that down.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "def slow(*a, **k):\n"
        "    print('reading', file=sys.stderr, flush=True)\n    time.sleep(60)\n"
        "forecaster.ingest.read_air = slow\n"
        "from forecaster.cli import main\nmain(['when', 'x.csv', '--lat', '1'])"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as running:
        assert running.stderr.readline() == "reading\n"
        time.sleep(0.05)
        running.send_signal(signal.SIGINT)
        _, err = running.communicate(timeout=30)
    assert running.returncode == 130
    assert err.strip() == ""


@pytest.mark.skipif(os.name == "nt", reason="pipes differ")
def test_a_reader_that_has_enough_is_no_error():
    command = [sys.executable, "-m", "forecaster", "when", AIR, *AT, "--json"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        running.stdout.close()
        err = running.stderr.read()
        running.wait(timeout=60)
    assert err == b""
    assert running.returncode == 0


@pytest.mark.parametrize(
    ("words", "code"), [(("--help",), 0), (("when", "nothing.csv", "--lat", "1"), 2)]
)
def test_exit_codes_reach_the_shell(words, code):
    found = shell(*words)
    assert found.returncode == code
    assert "Traceback" not in found.stderr


def test_a_terminal_without_the_letter_is_no_error():
    found = subprocess.run(
        [sys.executable, "-m", "forecaster", "when", AIR, *AT, "--crop-class", "cool",
         "--today", "2026-03-16"],
        capture_output=True, env=os.environ | {"PYTHONIOENCODING": "latin-1"}, check=False,
    )  # fmt: skip
    assert (found.returncode, found.stderr) == (0, b"")
    assert b"Cool-season flats: wait ? the" in found.stdout


@pytest.mark.parametrize(
    ("words", "clock"),
    [("-6", -6.0), ("+5:30", 5.5), ("−3", -3.0), ("Europe/Dublin", "Europe/Dublin"), (None, None)],
)
def test_a_clock_is_hours_or_a_zone(words, clock):
    assert clock_of(words) == clock


def test_the_clock_of_a_log_counts_and_a_wrong_one_is_refused(tmp_path):
    log = tmp_path / "log.txt"
    log.write_text("2026-03-14 8:00 68F 4in\n2026-03-07 8:00 69F 4in\n")
    asked = (AIR, *AT, "--today", "2026-03-16", "--crop-class", "cool", "--readings", str(log))
    early, late = (answer(*asked, "--clock", hours) for hours in ("8", "12"))
    assert early["windows"][0]["so_far"]["soil_c"] != late["windows"][0]["so_far"]["soil_c"]
    wrong = run("when", *asked, "--clock", "Nowhere/Land")
    assert wrong.exit_code == 2
    assert "Nowhere/Land" in wrong.stderr
