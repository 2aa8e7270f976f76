"""`crossday week`, `crossday done`, and `plan` of several beds, on a book of the demo garden."""

import csv
import io
import json
import re
from datetime import date
from pathlib import Path

import html5lib
import pytest
from click.testing import CliRunner
from icalendar import Calendar

from forecaster.cli import main
from forecaster.packaged import data_path
from forecaster.plan.hours import TABLE
from forecaster.words.phrases import short_day

AIR, LOG = (str(data_path(f"demo/{name}.csv")) for name in ("air", "readings"))
AS_OF = ("--today", "2026-03-16")


def run(*words):
    return CliRunner().invoke(main, list(words), catch_exceptions=False)


@pytest.fixture(scope="module")
def garden(tmp_path_factory) -> str:
    path = str(tmp_path_factory.mktemp("garden") / "garden.db")
    where = ("--lat", "36.2S", "--lon", "146.6E")
    for words in (
        ("start", *where, "--air", AIR, "--bed", "north bed"),
        ("import", LOG, "--bed", "north bed"),
        ("bed", "long bed", "--area", "100ft2", "--soil", "clay"),
        ("bed", "round bed", "--area", "20ft2", "--soil", "clay"),
    ):
        assert run("book", *words, "--book", path).exit_code == 0
    return path


@pytest.fixture
def asked(garden):
    def ask(*words, code=0):
        found = run(*words, "--book", garden)
        assert found.exit_code == code, found.output
        return found

    return ask


def test_all_beds_stand_in_one_list(asked):
    text = asked("week", *AS_OF).stdout
    assert re.match(r"16 Mar to 22 Mar 2026: \d+ tasks due in 3 beds", text)
    assert "long bed and round bed" in text
    assert "Hours are an assumption" in text
    told = json.loads(asked("week", *AS_OF, "--json").stdout)
    assert told["beds"] == ["north bed", "long bed", "round bed"]
    assert [task["due"] for task in told["tasks"]] == sorted(task["due"] for task in told["tasks"])


def test_each_bed_stands_there_as_by_itself(asked):
    """What is worked out once for several beds is what each would get alone."""
    every = json.loads(asked("week", *AS_OF, "--json").stdout)["tasks"]
    for bed in ("north bed", "round bed"):
        alone = json.loads(asked("week", *AS_OF, "--bed", bed, "--json").stdout)["tasks"]
        assert alone == [task for task in every if task["bed"] == bed]
        planned = json.loads(asked("plan", *AS_OF, "--bed", bed, "--json").stdout)["tasks"]
        ours = {task["key"]: task["likely"] for task in alone}
        assert ours == {t["key"]: t["likely"] for t in planned if t["key"] in ours}


def test_a_task_is_ticked_and_the_tick_taken_back(asked):
    def order():
        told = json.loads(asked("week", *AS_OF, "--json").stdout)["tasks"]
        return {t["bed"]: t["when"] for t in told if t["key"] == "2026-autumn/order"}

    assert set(order().values()) == {"late"}
    said = asked("done", "order", code=2).stderr
    assert "open in 3 beds" in said
    assert "--all" in said
    assert "Order flats, long bed" in asked("done", "order", "--bed", "long bed").stdout
    assert order() == {"north bed": "late", "long bed": "done", "round bed": "late"}
    both = ("--bed", "long bed", "--bed", "north bed")
    assert "not open in 'long bed'" in asked("done", "2026-autumn/order", *both, code=2).stderr
    assert "done already" in asked("done", "order", "--bed", "long bed", code=2).stderr
    assert "[order]" in asked("week", *AS_OF).stdout
    told = json.loads(asked("done", "ORDER", "--all", "--on", "2026-03-14", "--json").stdout)
    assert [one["bed"] for one in told["ticks"]] == ["north bed", "round bed"]
    assert "[order]" not in asked("week", *AS_OF, "--weeks", "10").stdout
    assert "expected one of" in asked("done", "dance", code=2).stderr
    assert "did you mean feed?" in asked("done", "fee", code=2).stderr
    assert "north bed" in asked("done", "order", "--undo").stdout
    assert "long bed" in asked("done", "order", "--undo", "--bed", "long bed").stdout
    assert set(order().values()) == {"late"}
    assert "was not ticked" in asked("done", "order", "--undo", code=2).stderr


def test_plans_of_several_beds(asked, tmp_path):
    ics = tmp_path / "garden.ics"
    found = asked("plan", "--all", *AS_OF, "--csv", "--ics", str(ics))
    rows = list(csv.DictReader(io.StringIO(found.stdout)))
    assert {row["bed"] for row in rows} == {"north bed", "long bed", "round bed"}
    assert len({(row["bed"], row["key"]) for row in rows}) == len(rows)
    events = Calendar.from_ical(ics.read_bytes()).walk("VEVENT")
    assert len(events) == sum(row["when"] in ("week", "ahead") for row in rows)
    assert len({event["uid"] for event in events}) == len(events)
    assert all(str(event.decoded("dtstart")) >= "2026-03-16" for event in events)
    alone = tmp_path / "one.ics"
    asked("plan", "--bed", "long bed", *AS_OF, "--ics", str(alone))
    ours = {event["uid"] for event in Calendar.from_ical(alone.read_bytes()).walk("VEVENT")}
    assert ours < {event["uid"] for event in events}, "one bed's file updates the garden's"
    told = json.loads(asked("plan", "--bed", "long bed", "--bed", "north bed", "--json").stdout)
    assert [bed["bed"] for bed in told["beds"]] == ["long bed", "north bed"]
    text = asked("plan", "--all", *AS_OF).stdout
    assert text.count("autumn 2026: ") == 3


def test_crops_and_flats_are_asked_of_every_bed(asked):
    told = json.loads(asked("plan", "--all", *AS_OF, "--crop", "pansy", "--json").stdout)
    assert {tuple(bed["plants"]) for bed in told["beds"]} == {("Pansy",)}


@pytest.mark.parametrize(
    "words",
    [
        ("chart",), ("check",), ("book", "read", "61F"), ("book", "planted", "kale"),
        ("book", "note", "x"), ("book", "show"), ("book", "import", LOG), ("book", "season"),
    ],
)  # fmt: skip
def test_a_second_bed_is_never_dropped(asked, words):
    said = asked(*words, "--bed", "north bed", "--bed", "long bed", code=2).stderr
    assert "--bed stands here 2 times" in said


def test_when_answers_for_each_bed_named(asked):
    text = asked("when", "--brief", "--bed", "north bed", "--bed", "long bed", *AS_OF).stdout
    assert text.index("north bed, 16 March 2026") < text.index("long bed, 16 March 2026")
    assert text.count("Cool-season flats: wait") == 2
    said = asked("when", "--json", "--bed", "north bed", "--bed", "long bed", code=2).stderr
    assert "--json answers for one bed" in said


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--area", "9m2"), "--area is said of one bed"),
        (("--colours", "white=3"), "--colours is said of one bed"),
        (("--lat", "3N"), "--lat belongs to FILE"),
        ((AIR,), "not both"),
    ],
)
def test_what_is_of_one_bed_is_refused_for_several(asked, words, why):
    assert why in asked("plan", "--all", *words, code=2).stderr


def test_a_bed_that_cannot_be_planned_is_said_and_the_others_answer(tmp_path):
    path = ("--book", str(tmp_path / "two.db"))
    for words in (
        ("--lat", "36.2S", "--air", AIR, "--bed", "near"),
        ("--lat", "40N", "--bed", "off"),
    ):
        assert run("book", "start", *words, "--name", words[-1], *path).exit_code == 0
    found = run("week", *AS_OF, *path)
    assert found.exit_code == 0
    assert "Not listed: off. " in " ".join(found.stdout.split())
    assert "[read-soil]" in found.stdout
    assert run("week", *AS_OF, "--bed", "off", *path).exit_code == 2


def test_rain_foretold_is_reckoned_with_and_is_of_one_place(asked, tmp_path):
    ahead = tmp_path / "ahead.csv"
    rows = [f"2026-03-{day},9,18,{60 if day == 18 else 0}" for day in range(17, 22)]
    ahead.write_text("\n".join(["date,tmin_c,tmax_c,precip_mm", *rows]) + "\n", encoding="utf-8")
    told = json.loads(asked("week", *AS_OF, "--outlook", str(ahead), "--json").stdout)["tasks"]
    plain = json.loads(asked("week", *AS_OF, "--json").stdout)["tasks"]
    wet = {task["bed"] for task in told if task["too_wet"]}
    assert wet >= {task["bed"] for task in plain if task["too_wet"]}


def test_a_book_without_a_bed_says_how_to_make_one(tmp_path):
    path = ("--book", str(tmp_path / "none.db"))
    run("book", "start", "--lat", "36.2S", *path)
    found = run("week", *path)
    assert found.exit_code == 2
    assert "crossday book bed" in found.stderr


def test_old_air_tells_no_one_what_to_do(asked):
    """The computer's day lies long after the demo's air."""
    found = asked("week")
    assert "no bed can be told what to do" in found.stdout
    assert "[set-out]" not in found.stdout


def test_own_hours_are_written_once_and_read(asked, garden):
    own = Path(garden).parent / TABLE
    try:
        assert str(own) in asked("week", "--own-hours").stdout
        assert "of your own already" in asked("week", "--own-hours", code=2).stderr
        before = json.loads(asked("week", *AS_OF, "--json").stdout)["hours"]
        own.write_text("task,a_bed,a_m2,a_plant\nread-soil,5,0,0\n", encoding="utf-8")
        assert json.loads(asked("week", *AS_OF, "--json").stdout)["hours"] > before + 4.0
    finally:
        own.unlink()


def test_one_page_of_all_beds(asked, tmp_path):
    """Valid by the standard's own parser, no id twice, every bed in it, nothing from outside."""
    out = tmp_path / "garden.html"
    asked("report", "--all", *AS_OF, "--out", str(out))
    text = out.read_text(encoding="utf-8")
    html5lib.HTMLParser(strict=True).parse(text)
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert not re.search(r'(?:src|href)="(?!#|data:)', text)
    assert [text.count(f"<h3>{bed}</h3>") for bed in ("north bed", "long bed", "round bed")] == [
        1
    ] * 3
    rows = re.findall(r"<tr><th[^>]*>([^<]+)</th><td>garden</td>(.*?)</tr>", text)
    assert [row[0] for row in rows] == ["north bed", "long bed", "round bed"]
    told = json.loads(asked("plan", "--all", *AS_OF, "--json").stdout)["beds"]
    for (_, cells), bed in zip(rows, told, strict=True):
        out_day = next(t["likely"] for t in bed["tasks"] if t["key"] == "2026-autumn/set-out")
        assert short_day(date.fromisoformat(out_day)) in cells
    assert (
        "--colours is said of one bed"
        in asked(
            "report", "--all", "--colours", "white=3", "--out", str(tmp_path / "no.html"), code=2
        ).stderr
    )
