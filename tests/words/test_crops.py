"""Crops as they are said: page, table, list, JSON and the command."""

import json
import math
import re
from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from forecaster.answers.crops import Wish, crop_windows, find_crop, known_crops
from forecaster.cli import main
from forecaster.ground.site import Site
from forecaster.packaged import data_path, load_json
from forecaster.words.crop_card import crop_list, crop_text
from forecaster.words.crops import CropTold, crops_text
from forecaster.words.crops_json import crop_json, crops_json

GARDEN = load_json("demo/garden.json")
AIR = str(data_path("demo/air.csv"))
PLACE = (AIR, "--lat", "-36.2", "--today", GARDEN["today"])
UNSAID = re.compile(r"\b(nan|None|NaT|inf|null)\b")


def run(*words: str, columns: int = 80):
    return CliRunner(env={"COLUMNS": str(columns)}).invoke(main, list(words))


def said(*words: str, columns: int = 80) -> str:
    found = run(*words, columns=columns)
    assert found.exit_code == 0, found.output
    return found.stdout


@pytest.fixture(scope="module")
def told(make_air):
    air = make_air(days=8 * 365)
    names = ["tomato", "pansy", "snap bean", "sweet potato"]
    crops = [find_crop(name) for name in names]
    answer = crop_windows(air, Site(45.0), crops, today=date(2026, 3, 15), members=80)
    return CropTold(answer, Site(45.0))


@pytest.mark.parametrize("width", [30, 60, 88])
@pytest.mark.parametrize("show", ["F", "C"])
def test_a_page_fits_and_says_no_missing_value(told, width, show):
    page = crops_text(told, width, show)
    assert not UNSAID.search(page)
    other = "°C" if show == "F" else "°F"
    assert other not in page.split("Cautions")[0].replace("Soil", "")
    prose = [line for line in page.splitlines() if "  " not in line.strip()]
    assert max(map(len, prose)) <= width


def test_a_page_names_threshold_source_basis_and_assumptions(told):
    page = " ".join(crops_text(told, 88, level="full").split())
    for words in ("60 °F", "McLaurin 2000", "quoted", "55 °F", "--source chooses",
                  "best until", "Taken for granted", "early variety", "that a planting goes well",
                  "Cautions"):  # fmt: skip
        assert words in page


def test_less_is_said_where_less_is_asked(told):
    brief, default, full = (
        crops_text(told, 88, level=each) for each in ("brief", "default", "full")
    )
    assert len(brief) < len(default) < len(full)
    for page in (brief, default, full):
        assert "best until about" in " ".join(page.split())
        assert page.count("set out as plants in spring") >= 1


def test_a_day_of_sowing_outside_the_season_is_said(told):
    window = replace(told.answer.windows[2], emergence=None, sown=date(2027, 11, 3))
    page = crops_text(replace(told, answer=replace(told.answer, windows=(window,))), 300)
    said = " ".join(page.split())
    assert "The day of sowing, 3 November 2027, lies outside the season answered here" in said
    assert "comes up cannot be said: it is outside the days forecast." in said


def test_json_is_strict_and_complete(told):
    text = json.dumps(crops_json(told), allow_nan=False)
    found = json.loads(text)
    assert [each["crop"] for each in found["crops"]] == [
        "tomato", "pansy", "snap bean", "sweet potato",
    ]  # fmt: skip
    first = found["crops"][0]
    assert first["threshold"]["value_f"] == 50.0  # the lowest minimum that a service prints
    assert {"opens", "best", "closes", "possible_until", "open_ended"} <= set(first)
    assert date.fromisoformat(first["opens"]["median"])
    assert found["frost"][1]["threshold_f"] == 32.0
    assert found["frost"][1]["last"]["later_10"] > found["frost"][1]["last"]["later_90"]


def test_missing_frosts_and_windows_are_said_in_words(told):
    window = told.answer.windows[0]
    none = replace(window.opens, early=None, median=None, late=None, probability=0.0)
    gone = replace(window, state="none", opens=none, closes=none, best=none, emergence=None)
    few = told.answer.frost[0]
    empty = replace(few.last, chance_10=None, chance_50=None, chance_90=None,
                    share_none=math.nan, winters=0)  # fmt: skip
    answer = replace(told.answer, windows=(gone,), frost=(replace(few, last=empty, first=empty),))
    page = crops_text(replace(told, answer=answer), level="full")
    assert "no window is to be expected" in page
    assert "too few for dates" in page
    assert not UNSAID.search(page)
    json.dumps(crops_json(replace(told, answer=answer)), allow_nan=False)


def test_the_list_and_each_crop_can_be_said():
    table = crop_list(known_crops().values())
    assert len(table.splitlines()) == len(known_crops()) + 1
    for crop in known_crops().values():
        page = crop_text(crop, 60, "C")
        assert not UNSAID.search(page), crop.name
        assert max(map(len, page.splitlines())) <= 60
        json.dumps(crop_json(crop), allow_nan=False)
        assert all(row.source.split()[0] in page for row in crop.thresholds)


# --- the command ----------------------------------------------------------------------------


def test_when_answers_for_crops_named_as_options_or_words():
    option = said("when", *PLACE, "--crop", "pansy", "--crop", "Kale")
    words = said("when", "pansy", "kale", *PLACE)
    assert option == words
    assert option.index("Pansy,") < option.index("Kale,")


def test_when_lists_a_class_as_a_table():
    page = said("when", *PLACE, "--crop", "all", "--crop-class", "warm", columns=88)
    rows = [line for line in page.splitlines() if re.search(r"  (spring|autumn)  ", line)]
    assert len(rows) == len(known_crops("warm"))
    assert "Pansy" not in page


def test_when_answers_a_program_about_crops():
    found = json.loads(
        said("when", *PLACE, "--crop", "snap bean", "--sown", "2026-03-20", "--json")
    )
    (bean,) = found["crops"]
    assert (bean["sown"], bean["use"]) == ("2026-03-20", "seed")
    assert bean["emergence"]["median"] > "2026-03-20"
    assert found["read"]["air"]["rows_used"] > 0


def test_own_figures_source_and_risk_reach_the_answer(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text("crop,role,value_f\npansy,upper_limit,60\n", encoding="utf-8")
    page = said("when", *PLACE, "--crop", "pansy", "--crops", str(path))
    assert "Threshold 60 °F (yours: your own file)" in " ".join(page.split())
    asked = ("--source", "kansas", "--risk", "20%", "--full")
    kansas = said("when", *PLACE, "--crop", "tomato", *asked)
    assert "Threshold 55 °F (quoted: Kansas" in " ".join(kansas.split())
    assert "accepted 20 %" in " ".join(kansas.split())
    hollow = said("when", *PLACE, "--crop", "tomato", "--bed-offset", "-3F", "--full")
    assert "3 °F colder than that air" in " ".join(hollow.split())


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("--crop", "tomatto"), "did you mean tomato"),
        (("--season", "spring"), "--season belongs to --crop"),
        (("--crop", "tomato", "--risk", "400"), "write a chance"),
        (("--crop", "tomato", "--bed-offset", "3X"), "write a difference"),
        (("--crop", "tomato", "--threshold", "60F"), "do not go with --crop"),
        (("--crop", "tomato", "--crops", "none.csv"), "none.csv: cannot be read"),
    ],
)
def test_wrong_use_is_one_clear_line(words, line):
    found = run("when", *PLACE, *words)
    assert found.exit_code == 2
    assert found.stdout == ""
    assert line in found.stderr
    assert found.stderr.count("\n") == 1


def test_crops_lists_and_tells():
    assert said("crops").count("\n") == len(known_crops()) + 1
    assert said("crops", "--crop-class", "cool").count("\n") == len(known_crops("cool")) + 1
    page = said("crops", "tomatoes", "--show", "C")
    assert "Tomato" in page
    assert "– used" in page
    assert "18–36" in page  # spacing, in: University of Maine's planting chart
    found = json.loads(said("crops", "okra", "--json"))["crops"]
    assert found[0]["crop"] == "okra"
    assert run("crops", "nothing").exit_code == 2


def test_a_file_named_as_a_crop_stays_a_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("pansy").write_text(Path(AIR).read_text(encoding="utf-8"), encoding="utf-8")
    page = said("when", "pansy", "--lat", "-36.2", "--today", GARDEN["today"])
    assert "Cool-season flats:" in page


def test_wish_defaults_are_open():
    assert all(getattr(Wish(), field.name) is None for field in fields(Wish))
