"""`crossday order` and the book's seasons as they are called, on a book of the demo garden."""

import json

import pytest
from click.testing import CliRunner

from forecaster.cli import main
from forecaster.packaged import data_path

AIR = str(data_path("demo/air.csv"))
AS_OF = ("--today", "2026-03-16")


def run(*words):
    return CliRunner().invoke(main, list(words), catch_exceptions=False)


@pytest.fixture(scope="module")
def garden(tmp_path_factory) -> str:
    path = str(tmp_path_factory.mktemp("garden") / "garden.db")
    for words in (
        ("start", "--lat", "36.2S", "--lon", "146.6E", "--air", AIR),
        ("bed", "front", "--outline", "rectangle 4ft 25ft"),
        ("bed", "ring", "--outline", "strip 1ft around circle 8ft"),
        ("bed", "kitchen", "--area", "100ft2"),
        ("want", "pansy", "--bed", "front", "--bed", "ring", "--colours", "yellow,white", "--flat",
         "36=18.50", "--currency", "AUD", "--spare", "5%"),
        ("want", "tomato", "--bed", "kitchen", "--spacing", "20in"),
        ("planted", "peppers", "--bed", "kitchen", "--count", "12", "--on", "2024-10-20"),
        ("planted", "pansy", "--bed", "front", "--count", "200", "--on", "2025-04-20"),
        ("outcome", "pansy", "--bed", "front", "--survived", "180", "--on", "2025-08-01"),
    ):  # fmt: skip
        found = run("book", *words, "--book", path)
        assert found.exit_code == 0, found.output
    return path


@pytest.fixture
def asked(garden):
    def ask(*words, code=0):
        found = run(*words, "--book", garden)
        assert found.exit_code == code, found.output
        return found

    return ask


@pytest.mark.slow
def test_order_plan_and_sheet_count_alike(asked, tmp_path):
    order = json.loads(asked("order", *AS_OF, "--json").stdout)
    sheet, counted = tmp_path / "ring.png", {}
    for bed, more in (("front", ()), ("ring", ("--layout", str(sheet)))):
        plan = json.loads(asked("plan", "--bed", bed, *AS_OF, "--json", *more).stdout)
        counted[bed] = {line["colour"]: line["plants"] for line in plan["shopping"]["lines"]}
    words = sheet.with_suffix(".txt").read_text(encoding="utf-8")
    assert all(f"{many} {colour} plants" in words for colour, many in counted["ring"].items())
    for item in order["items"]:
        counts = {one["bed"]: one["plants"] for one in item["beds"]}
        assert counts == {bed: lines[item["colour"]] for bed, lines in counted.items()}
    assert order["plants"] == sum(sum(lines.values()) for lines in counted.values())
    assert [one["bed"] for one in order["left_out"]] == ["kitchen"]


def test_the_crop_that_the_book_names_decides_as_if_it_were_named(asked):
    words = ("plan", "--bed", "front", *AS_OF, "--season", "autumn", "--json")
    of_book, named = (json.loads(asked(*words, *more).stdout) for more in ((), ("--crop", "pansy")))
    assert of_book["plants"] == named["plants"] == ["Pansy"]
    days = [{task["key"]: task["likely"] for task in told["tasks"]} for told in (of_book, named)]
    assert days[0] == days[1]


def test_a_threshold_of_ones_own_stands_above_the_books_crop(asked):
    words = ("plan", "--bed", "front", *AS_OF, "--season", "autumn", "--threshold", "60F")
    told = json.loads(asked(*words, "--json").stdout)
    assert told["threshold"] == "yours"
    assert len(told["shopping"]["lines"]) == 2


def test_what_was_planted_stands_beside_the_forecast(asked):
    text = asked("plan", "--bed", "front", *AS_OF).stdout
    said = " ".join(text.split())
    assert "This bed before" in said
    assert "200 pansy; 180 survived, 90 % of them, seen 1 August 2025" in said
    (past,) = json.loads(asked("plan", "--bed", "front", *AS_OF, "--json").stdout)["history"]
    assert (past["how_many"], past["survived"], past["share"]) == (200, 180, 0.9)
    assert 10.0 < past["soil_c"] < 25.0


def test_a_family_that_returns_is_said(asked):
    words = ("plan", "--bed", "kitchen", "--season", "spring", "--today", "2025-09-20")
    assert "Too soon for tomato: pepper, of the nightshade family" in " ".join(
        asked(*words).stdout.split()
    )
    (one,) = json.loads(asked(*words, "--json").stdout)["returns"]
    assert one["before"] == "Pepper"


def test_what_is_said_for_all_beds_stands_above_the_book(asked):
    told = json.loads(asked("order", *AS_OF, "--flat", "48=20", "--spare", "10%", "--json").stdout)
    assert {flat["size"] for item in told["items"] for flat in item["flats"]} == {48}
    assert told["spare"] > 0


def test_a_bed_told_in_words_is_one_told_by_option(asked):
    told = json.loads(asked("book", "show", "--json").stdout)["beds"]
    assert [bed["shape"] for bed in told] == [
        "rectangle 4ft 25ft", "strip 1ft around circle 8ft", "",
    ]  # fmt: skip
    whole = ("plan", AIR, "--lat", "36.2S", "--lon", "146.6E", *AS_OF, "--season", "autumn")
    named = json.loads(
        run(*whole, "--crop", "pansy", "--outline", "strip 1ft around circle 8ft", "--json").stdout
    )["shopping"]
    booked = json.loads(asked("plan", "--bed", "ring", *AS_OF, "--json").stdout)["shopping"]
    assert (named["plants"], named["area_m2"]) == (booked["plants"], booked["area_m2"])


def test_an_area_takes_the_place_of_an_outline_and_undo_brings_it_back(tmp_path):
    path = ("--book", str(tmp_path / "garden.db"))
    run("book", "start", "--lat", "36.2S", *path)

    def bed(*words):
        return json.loads(run("book", *words, *path, "--json").stdout)["bed"]

    made = bed("bed", "front", "--outline", "0,0 4,0 4,2.5 0,2.5")
    assert (made["outline"][2], made["shape"], made["area_m2"]) == ([4.0, 2.5], "", 10.0)
    made = bed("bed", "front", "--outline", "circle 10ft")
    assert (made["outline"], made["shape"]) == ([], "circle 10ft")
    made = bed("bed", "front", "--area", "9m2")
    assert (made["outline"], made["shape"], made["area_m2"]) == ([], "", 9.0)
    run("book", "undo", *path)
    (held,) = json.loads(run("book", "show", *path, "--json").stdout)["beds"]
    assert held["shape"] == "circle 10ft"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("want", "mystery"), "--season autumn or --season spring"),
        (
            ("want", "pansy", "--colours", "mauvish", "--bed", "front"),
            "colour 'mauvish' is not known",
        ),
        (("want", "kale", "--drop", "--bed", "front"), "'kale' is not wanted in 'front'"),
        (("outcome", "kale", "--survived", "3", "--bed", "front"), "no planting of 'kale'"),
        (("outcome", "pansy", "--survived", "lots", "--bed", "front"), "write 130, or 90%"),
        (("outcome", "pansy", "--survived", "300", "--bed", "front"), "300 survived of 200"),
        (("outcome", "pansy", "--bed", "front"), "what came of it"),
        (("cost", "cheap", "flats"), "write it as 42.50"),
        (("cost", "3", "flats", "--season", "spring"), "expected it as 2026-autumn"),
        (("summary", "--season", "spring"), "expected it as 2026-autumn"),
        (("bed", "front", "--area", "9m2", "--outline", "circle 9ft"), "give one of them"),
    ],
)
def test_wrong_use_is_one_clear_line(asked, words, why):
    found = asked("book", *words, code=2)
    assert why in found.stderr
    assert found.stderr.count("\n") == 1
