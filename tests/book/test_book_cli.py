"""`crossday book …` as its user meets it: sentences, JSON, exit codes, and forecasts for a bed."""

import json
import shlex
import shutil
import subprocess
import sys
import time
from io import StringIO
from pathlib import Path
from unittest.mock import patch

import pytest
from click.testing import CliRunner

from forecaster import book as kept
from forecaster.book import BookError, bed_readings, find_bed, open_book, place_air, shown_forecasts
from forecaster.cli import main
from forecaster.fetch.record import HEADING
from forecaster.packaged import data_path

AIR, LOG = str(data_path("demo/air.csv")), str(data_path("demo/readings.csv"))


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setenv("CROSSDAY_BOOK", str(tmp_path / "garden.db"))
    return tmp_path / "garden.db"


def call(*words):
    """The command's exit code and what it printed, out and err."""
    out, err = StringIO(), StringIO()
    with patch("sys.stdout", out), patch("sys.stderr", err), pytest.raises(SystemExit) as end:
        main([*map(str, words)], prog_name="crossday")
    return end.value.code, out.getvalue(), err.getvalue()


def ok(*words):
    code, out, err = call(*words)
    assert (code, err) == (0, ""), (code, err)
    return out


def wrong(*words, code=2):
    found, out, err = call(*words)
    assert found == code, (found, out, err)
    assert err.count("\n") == 1, err
    assert err.startswith("crossday: ")
    return err


@pytest.fixture
def begun(path):
    ok("book", "start", "--lat", "-36.2", "--lon", "146.6", "--air", AIR)
    return path


class TestFirstAnswer:
    """Three commands from nothing to a forecast."""

    @pytest.mark.usefixtures("path")
    def test_three_commands(self):
        said = ok("book", "start", "--lat", "36.2S", "--air", AIR)
        assert "4,366 new days of air for 'garden'" in said
        said = ok("book", "read", "73.5F", "--bed", "north", "--at", "2026-03-13 14:15")
        assert "Written down: 73.5 °F (23.1 °C) in 'north', 4 in (10 cm) down" in said
        said = ok("when", "--bed", "north", "--full")
        assert said.startswith("garden, north, ")
        assert "Cool-season flats:" in said
        assert "Garden book, bed north – 1 by hand" in said

    @pytest.mark.usefixtures("begun")
    def test_the_only_bed_need_not_be_named(self):
        ok("book", "read", "73.5F", "--at", "2026-03-13 14:15")
        assert ok("when").startswith("garden, bed, ")

    @pytest.mark.usefixtures("begun")
    def test_a_reading_added_changes_the_answer(self):
        def median():
            windows = json.loads(ok("when", "--bed", "north", "--json"))["windows"]
            return next(
                w["outlook"]["settled_median"] for w in windows
                if w["threshold"]["direction"] == "falling"
            )  # fmt: skip

        ok("book", "read", "66F", "--bed", "north", "--at", "2026-03-10 8:00")
        cold = median()
        ok("book", "undo")
        ok("book", "read", "80F", "--bed", "north", "--at", "2026-03-10 8:00")
        assert cold < median(), "a colder soil crosses earlier on its way down"

    @pytest.mark.usefixtures("begun")
    def test_same_as_from_the_files(self):
        """The book answers as the files do that it was filled from."""
        ok("book", "import", LOG, "--bed", "north")
        from_book = json.loads(ok("when", "--bed", "north", "--json"))
        files = ("--lat", "-36.2", "--lon", "146.6", "--readings", LOG, "--json")
        from_files = json.loads(ok("when", AIR, *files))
        assert from_book["windows"] == from_files["windows"]

    @pytest.mark.usefixtures("begun")
    def test_chart(self, tmp_path):
        ok("book", "import", LOG, "--bed", "north")
        ok("chart", "--bed", "north", "--out", tmp_path / "x.png")
        assert (tmp_path / "x.png").stat().st_size > 10_000


class TestForABed:
    @pytest.mark.usefixtures("begun")
    def test_depth_can_be_asked_otherwise(self):
        ok("book", "bed", "north", "--depth", "6in", "--soil", "sand")
        assert json.loads(ok("when", "--json"))["site"]["soil"] == "sand"
        assert json.loads(ok("when", "--depth", "2in", "--json"))["site"]["depth_m"] == 0.0508

    def test_a_forecast_shown_is_kept_once(self, begun):
        ok("book", "bed", "north")
        ok("when", "--bed", "north")
        ok("when", "--bed", "north", "--json")
        with open_book(begun) as book:
            (shown,) = shown_forecasts(book, "north")
        assert shown.issued.isoformat() == "2026-03-16"
        falling = [w for w in shown.windows if w.direction == "falling"]
        assert falling
        assert all(w.early <= w.median <= w.late for w in falling)
        assert len(shown.soil) == 120
        assert (shown.soil["low_c"] < shown.soil["high_c"]).all()

    @pytest.mark.usefixtures("begun")
    def test_a_forecast_that_cannot_be_kept_is_still_shown(self, monkeypatch):
        ok("book", "bed", "north")

        def full(*_):
            raise BookError("the disk is full")

        monkeypatch.setattr(kept, "keep_shown", full)
        code, out, err = call("when", "--bed", "north")
        assert code == 0
        assert "Cool-season flats" in out
        assert err == "crossday: this forecast was not kept in the book: the disk is full\n"

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("when", AIR, "--bed", "north"), "not both"),
            (("when", "--bed", "noth"), "no bed 'noth'"),
            (("when", "--bed", "north", "--lat", "3"), "--lat belongs to FILE"),
            (("when", "--bed", "north", "--readings", LOG), "--readings belongs to FILE"),
        ],
    )
    @pytest.mark.usefixtures("begun")
    def test_wrong_use(self, words, said):
        ok("book", "bed", "north")
        assert said in wrong(*words)

    @pytest.mark.usefixtures("path")
    def test_no_book(self):
        assert "no garden book yet" in wrong("when", "--bed", "north", code=3)
        assert "name a FILE" in wrong("when")

    @pytest.mark.usefixtures("path")
    def test_no_air_yet(self):
        ok("book", "start", "--lat", "-36.2", "--bed", "north")
        assert "no air record yet" in wrong("when", "--bed", "north")


class TestEntries:
    @pytest.mark.usefixtures("begun")
    def test_everything_in_json(self):
        ok("book", "bed", "north", "--area", "100ft2", "--organic", "5%", "--raised")
        ok("book", "planted", "=lettuce", "--count", "36", "--on", "2026-03-14")
        ok("book", "pulled", "beans", "--on", "2026-03-13")
        ok("book", "note", "--on", "2026-03-12", "--", "-- wet 🌧\n../soil")
        held = json.loads(ok("book", "show", "--json"))
        assert held["beds"][0]["area_m2"] == pytest.approx(9.290304)  # 100 × 0.3048²
        assert held["beds"][0]["raised"] is True
        assert [p["what"] for p in held["plantings"]] == ["beans", "=lettuce"]
        assert held["notes"][0]["text"] == "-- wet 🌧\n../soil"
        assert len(held["batches"]) == 5

    @pytest.mark.usefixtures("begun")
    def test_show_says_it_in_lines(self):
        ok("book", "read", "61.5F", "--bed", "north", "--at", "2026-03-10 7:40")
        ok("book", "planted", "lettuce", "--count", "36", "--on", "2026-03-14")
        said = ok("book", "show")
        assert "4,366 days of air, 2014-03-17 to 2026-03-16" in said
        assert "1 reading, the last 61.5 °F on 2026-03-10 07:40" in said
        assert "planted 36 lettuce in 'north'" in said
        assert "2. read by hand: 1 reading and 1 bed" in said

    def test_bed_is_changed_only_where_said(self, begun):
        ok("book", "bed", "north", "--soil", "sand", "--outline", "0,0 4,0 4,2.5 0,2.5")
        ok("book", "bed", "North", "--cover", "mulch")
        with open_book(begun) as book:
            bed = find_bed(book, "north")
        assert (bed.soil, bed.cover, bed.area_m2) == ("sand", "mulch", 10.0)

    def test_import_twice_and_undo(self, begun):
        assert "21 new readings" in ok("book", "import", LOG, "--bed", "north")
        again = ok("book", "import", LOG, "--bed", "north")
        assert "0 new readings" in again
        assert "21 readings in the book already" in again
        assert "21 readings" in ok("book", "undo")
        with open_book(begun) as book:
            assert kept.beds(book) == [], "the bed was made by the import, and went with it"
            assert len(place_air(book)) >= 4366

    @pytest.mark.usefixtures("begun")
    def test_contradictions_are_shown(self, tmp_path):
        ok("book", "import", LOG, "--bed", "north")
        text = data_path("demo/readings.csv").read_text(encoding="utf-8")
        (tmp_path / "other.csv").write_text(text.replace("49.0", "59.0"), encoding="utf-8")
        said = ok("book", "import", tmp_path / "other.csv")
        assert "1 reading contradicts the book, which keeps its own" in said
        assert "2025-09-25 07:40, 4 in (10 cm): kept 49 °F, not 59 °F" in said

    def test_a_contradicting_reading_is_refused(self, begun):
        ok("book", "read", "61.5F", "--bed", "north", "--at", "2026-03-10 7:40")
        said = wrong("book", "read", "71.5F", "--at", "2026-03-10 7:40")
        assert "kept 61.5 °F, not 71.5 °F" in said
        with open_book(begun) as book:
            assert len(bed_readings(book)) == 1

    def test_export_import_backup(self, begun, tmp_path):
        ok("book", "import", LOG, "--bed", "north")
        ok("book", "export", tmp_path / "out")
        ok("book", "import", tmp_path / "out", "--book", tmp_path / "new.db")
        ok("book", "backup", tmp_path / "copy.db")
        held = [
            json.loads(ok("book", "show", "--json", "--book", p)) | {"book": ""}
            for p in (begun, tmp_path / "new.db", tmp_path / "copy.db")
        ]
        assert held[0] == held[1] == held[2]

    @pytest.mark.usefixtures("path")
    def test_air_later(self):
        ok("book", "start", "--lat", "-36.2", "--bed", "north")
        assert "4,366 new days" in ok("book", "import", AIR, "--air")
        assert "0 new days" in ok("book", "import", AIR, "--air")

    def test_a_fetched_record_corrects_and_marks(self, path, tmp_path):
        """As `crossday air fetch` writes it: a day that was provisional comes back corrected."""
        rows = [
            f"X1,-36.2,146.6,2026-01-{d:02d},{d}.0,{d + 9}.0,,0.0,"
            f"{'final' if d < 30 else 'provisional'},"
            for d in range(1, 32)
        ]
        record, heading = tmp_path / "x1.csv", ",".join(HEADING)
        record.write_text("\n".join([heading, *rows]) + "\n")
        ok("book", "start", "--lat", "-36.2", "--air", record, "--obs-hour", "0")
        assert "31 days of air, 2026-01-01 to 2026-01-31, 2 provisional" in ok("book", "show")
        rows[4] = rows[4].replace(",5.0,", ",4.0,")
        text = "\n".join([heading, *rows]).replace("provisional", "final") + "\n"
        record.write_text(text)
        said = ok("book", "import", record, "--air")
        assert "1 day corrected; undo brings the old ones back." in said
        assert "2026-01-05 tmin: 41 °F became 39.2 °F" in said
        assert "2 days completed" in said
        shown = ok("book", "show")
        assert "provisional" not in shown
        assert "1 day of air corrected by" in shown
        with open_book(path) as book:
            assert place_air(book)["tmin_c"].iloc[4] == 4.0

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("start", "--lat", "91"), "91"),
            (("start",), "say where the garden is"),
            (("start", "--lat", "-36.2"), "already"),
            (("bed", ""), "name is ''"),
            (("bed", "north", "--depth", "10m"), "depth_m is 10"),
            (("bed", "north", "--area", "100x"), "area"),
            (("bed", "north", "--outline", "0,0 x"), "'0,0 x' not understood"),
            (("bed", "north", "--organic", "much"), "--organic"),
            (("bed", "north", "--place", "hill"), "no place 'hill'"),
            (("read", "61.5X", "--bed", "north"), "write its unit"),
            (("read", "610F", "--bed", "north"), "no soil's temperature"),
            (("read", "61.5F", "--at", "soon"), "not understood"),
            (("planted", " "), "what was it"),
            (("planted", "x", "--on", "1800-01-01"), "1800-01-01 is no day"),
            (("planted", "x", "--count", "0"), "0"),
            (("note", ""), "empty"),
            (("note", "a\x1bb"), "control character"),
            (("import", "there-is-no.csv"), "there-is-no.csv"),
            (("undo", "--batch", "9"), "no batch 9"),
            (("show", "--bed", "north"), "no bed yet"),
            (("season",), "no bed yet"),
        ],
    )
    @pytest.mark.usefixtures("begun")
    def test_wrong_use_is_one_clear_line(self, words, said):
        assert said in wrong("book", *words)

    def test_one_line_even_for_a_file_that_is_no_book(self, path):
        path.write_text("notes")
        assert "not a garden book" in wrong("book", "show")
        assert path.read_text() == "notes"


class TestSafety:
    """Nothing of the user's is lost, nothing half made is left."""

    @pytest.mark.parametrize("text", ['{"tables": {', '{"tables": {}, "format": "x"}'])
    def test_a_failed_import_leaves_no_empty_book(self, tmp_path, text):
        (tmp_path / "x.json").write_text(text)
        wrong("book", "import", tmp_path / "x.json", "--book", tmp_path / "new.db")
        assert [p.name for p in tmp_path.iterdir()] == ["x.json"]

    def test_a_failed_start_leaves_no_empty_book(self, path, tmp_path):
        wrong("book", "start", "--lat", "-36.2", "--name", "a\x01b")
        wrong("book", "start", "--lat", "-36.2", "--air", tmp_path / "gone.csv")
        assert not path.exists()

    def test_undo_takes_back_the_change_of_a_bed(self, begun):
        ok("book", "read", "61.5F", "--at", "2026-03-10 7:40", "--bed", "north")
        ok("book", "bed", "north", "--depth", "8in", "--soil", "clay")
        assert "2 bed settings" in ok("book", "undo")
        with open_book(begun) as book:
            assert (find_bed(book, "north").soil, len(bed_readings(book))) == ("loam", 1)

    @pytest.mark.usefixtures("begun")
    def test_a_reading_typed_in_and_in_a_log_is_one(self, tmp_path, monkeypatch):
        """7:40 in Melbourne's summer, 6:40 by standard time."""
        if not hasattr(time, "tzset"):
            pytest.skip("this system cannot change its zone")
        monkeypatch.setenv("TZ", "Australia/Melbourne")
        time.tzset()
        try:
            said = ok("book", "read", "61.5F", "--at", "2026-01-15 7:40", "--bed", "north")
            assert "kept as 06:40 standard time" in said
            log = tmp_path / "log.csv"
            log.write_text("time,soil_f\n2026-01-15 7:40,61.5\n2026-01-22 7:40,62.0\n")
            said = ok("book", "import", log, "--bed", "north")
            assert "1 new reading" in said
            assert "1 reading in the book already" in said
        finally:
            monkeypatch.undo()
            time.tzset()

    def test_salvage(self, begun, tmp_path):
        data = bytearray(begun.read_bytes())
        at = data.index(b"CREATE TABLE notes")
        data[at : at + 6] = b"CREAXE"
        begun.write_bytes(data)
        assert "crossday book salvage NEW.db" in wrong("book", "show")
        said = ok("book", "salvage", tmp_path / "saved.db")
        assert "Nothing was missing" in said
        assert "4,366 days of air" in ok("book", "show", "--book", tmp_path / "saved.db")


@pytest.mark.usefixtures("begun")
def test_season_after_a_planting():
    """Forecast shown on 1 February, planting on 10 February; the record goes on to 16 March."""
    ok("book", "import", LOG, "--bed", "north")
    ok("when", "--bed", "north", "--today", "2026-02-01")
    assert "no planting" in wrong("book", "season")
    ok("book", "planted", "lettuce", "--on", "2026-02-10")
    said = ok("book", "season", "--weeks", "6")
    assert "10 February 2026: planted lettuce in 'north'. Forecast issued 1 February 2026" in said
    assert "2026-02-10" in said
    assert "not known yet" in said, "the sixth week is not over"
    assert "Inside the forecast in" in said
    found = json.loads(ok("book", "season", "--json"))
    assert found["issued"] == "2026-02-01"
    assert len(found["weeks"]) == 8
    assert found["weeks"][0]["low_c"] < found["weeks"][0]["high_c"]
    assert "no planting in bed 'north' on 2026-02-11" in wrong(
        "book", "season", "--planted", "2026-02-11"
    )


def test_help_is_quick_and_lists_every_command():
    found = CliRunner().invoke(main, ["book", "--help"])
    for name in ("start", "bed", "read", "import", "planted", "pulled", "note", "show", "undo",
                 "export", "backup", "season"):  # fmt: skip
        assert f"  {name} " in found.output
    code = (
        "import sys, forecaster.cli.book; "
        "print(*sorted({'numpy', 'pandas', 'sqlite3', 'scipy'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == ""


def test_the_readmes_three_commands_print_what_it_shows(path, tmp_path, monkeypatch):
    """The block under the garden book's heading, line by line; … stands for what is left out."""
    root = Path(__file__).parents[2]
    shutil.copy(root / "data" / "demo" / "north" / "air.csv", tmp_path / "my-air.csv")
    monkeypatch.chdir(tmp_path)
    text = (root / "README.md").read_text(encoding="utf-8").split("## The garden book")[1]
    calls, shown = (block.strip("\n").split("\n") for block in text.split("```")[1:4:2])
    assert len(calls) == 3
    printed = [line for call in calls for line in ok(*shlex.split(call)[1:]).splitlines()]
    assert path.exists()
    assert [line for line in shown if line != "…" and line not in printed] == []


@pytest.mark.usefixtures("begun")
def test_nothing_is_said_of_one_bed_where_another_is_unknown():
    ok("book", "bed", "north")
    asked = ("when", "--bed", "north", "--bed", "nowhere")
    for more in ((), ("--crop", "pansy")):
        code, out, err = call(*asked, *more)
        assert (code, out) == (2, "")
        assert "nowhere" in err


@pytest.mark.usefixtures("begun")
def test_check_of_a_bed():
    ok("book", "import", LOG, "--bed", "north")
    words = ("check", "--bed", "north", "--seasons", "1", "--leads", "0", "--json")
    code, out, _ = call(*words)  # its progress goes to stderr
    assert code == 0
    assert json.loads(out)


class TestPlanted:
    """What the book says was planted ends the tasks that it ends; what follows counts from it."""

    ASKED = ("--bed", "north", "--today", "2026-04-20", "--season", "autumn", "--json")

    def tasks(self, *words):
        found = json.loads(ok("plan", *self.ASKED, *words))
        ours = [task for task in found["tasks"] if "autumn" in task["key"]]
        return {task["key"].split("/")[1]: task for task in ours}

    @pytest.fixture(autouse=True)
    def bed(self, begun):
        assert begun.exists()
        ok("book", "bed", "north", "--place", "garden")
        assert "pull" in self.tasks()
        ok("book", "planted", "pansies", "--bed", "north", "--on", "2026-04-09")

    def test_nothing_that_it_ends_is_asked_for(self):
        tasks = self.tasks()
        assert not {"pull", "renew", "order", "sow", "edge"} & set(tasks)
        assert tasks["set-out"]["likely"] == "2026-04-09"
        assert tasks["feed"]["likely"] > tasks["first-look"]["likely"] > "2026-04-09"

    def test_the_crop_asked_for_may_be_the_one_planted_or_another(self):
        assert self.tasks("--crop", "pansy")["set-out"]["likely"] == "2026-04-09"
        assert "pull" in self.tasks("--crop", "snapdragon")

    def test_what_was_pulled_again_counts_no_more(self):
        ok("book", "pulled", "pansies", "--bed", "north", "--on", "2026-04-15")
        assert "pull" in self.tasks()
