"""What `--json` prints against its published form: JSON Schema 2020-12, in data/schemas.

A program that reads an answer must find every key that the schema requires, and every key that
it finds must be described there; keys may be added from version to version.
"""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator, FormatChecker

from forecaster.cli import main
from forecaster.packaged import data_path
from forecaster.words.as_json import SCHEMA

FOLDER = data_path("schemas")
NAMES = sorted(path.stem for path in FOLDER.glob("*.json"))
AIR, LOG = str(data_path("demo/air.csv")), str(data_path("demo/readings.csv"))
PLACE = ("--lat", "36.2S", "--lon", "146.6E", "--json")
PLAN = ("plan", AIR, *PLACE, "--season", "autumn", "--crop", "pansy")
# A made site in the southern hemisphere: autumn 2026 to come, and the spring before it.
ASKED: dict[str, tuple[tuple[str, ...], ...]] = {
    "when": (
        ("when", AIR, *PLACE, "--readings", LOG, "--today", "2026-03-16"),
        ("when", AIR, *PLACE, "--today", "2025-10-20", "--threshold", "60F",
         "--direction", "rising"),
    ),
    "when_crops": (
        ("when", AIR, *PLACE, "--today", "2026-03-16", "--crop", "pansy", "--crop", "kale"),
        ("when", AIR, *PLACE, "--today", "2025-09-20", "--crop", "tomato", "--as", "seed"),
    ),
    "crops": (("crops", "--json"), ("crops", "pansy", "tomato", "--json")),
    "plan": (
        (*PLAN, "--today", "2026-03-16",
         "--outline", "rectangle 4ft 25ft", "--fertilizer", "12-0-0", "--flow", "5gpm"),
        ("plan", AIR, *PLACE, "--today", "2025-09-20", "--season", "spring", "--area", "100ft2"),
    ),
    "check": (("check", AIR, *PLACE, "--readings", LOG, "--seasons", "5"),),
}  # fmt: skip
ELSEWHERE = {"air_near", "region"}  # checked in tests/cli and tests/region
# In this order: each step finds what those before it left in the book.
BOOK: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("book_start", ("start", "--lat", "36.2S", "--lon", "146.6E", "--air", AIR)),
    ("book_bed", ("bed", "front", "--area", "100ft2", "--raised")),
    ("book_want", ("want", "pansy", "--colours", "yellow,white=30", "--variety", "Dusk")),
    (
        "book_want",
        (
            "want",
            "tomato",
            "--flat",
            "18=6.50",
            "--flat",
            "36",
            "--currency",
            "AUD",
            "--spare",
            "5%",
            "--weeks",
            "8-10",
            "--spacing",
            "20in",
        ),
    ),
    ("book_want", ("want", "pansy", "--variety", "Dusk", "--drop")),
    ("book_read", ("read", "61F", "--at", "2026-03-01 08:00")),
    ("book_import", ("import", LOG)),
    ("book_import", ("import", AIR, "--air")),
    ("book_planted", ("planted", "pansy", "--count", "72", "--on", "2026-03-10")),
    ("book_note", ("note", "mulched", "--on", "2026-03-11")),
    ("book_pulled", ("pulled", "kale", "--on", "2026-03-12")),
    (
        "book_outcome",
        ("outcome", "pansy", "--survived", "65", "--on", "2026-04-10", "--note", "slugs"),
    ),
    (
        "book_outcome",
        ("outcome", "pepper", "--survived", "90%", "--planted", "2024-10-20", "--on", "2025-01-10"),
    ),
    ("book_cost", ("cost", "37.50", "flats", "--on", "2026-03-01", "--bed", "front")),
    (
        "book_cost",
        (
            "cost",
            "12",
            "bark",
            "--season",
            "2026-autumn",
            "--currency",
            "AUD",
            "--on",
            "2026-03-01",
        ),
    ),
    ("book_summary", ("summary",)),
    ("book_show", ("show",)),
    ("book_season", ("season",)),
    ("book_summary", ("summary", "--season", "2026-autumn", "--bed", "front")),
    ("book_undo", ("undo",)),
    ("book_backup", ("backup", "copy.db")),
    ("book_salvage", ("salvage", "saved.db")),
    ("book_export", ("export", "tables")),
)


GARDEN = ("week", "done", "order", "plan_several")
"""Asked of the book that those steps leave."""


def answer(*words: str) -> dict[str, Any]:
    done = CliRunner().invoke(main, list(words), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    told: dict[str, Any] = json.loads(done.stdout)
    return told


@pytest.fixture(scope="module")
def answers(tmp_path_factory) -> dict[str, list[dict[str, Any]]]:
    """Every answer, asked once."""
    told = {name: [answer(*words) for words in calls] for name, calls in ASKED.items()}
    folder = tmp_path_factory.mktemp("schemas")
    early = folder / "early.json"
    early.write_text(json.dumps(answer(*PLAN, "--today", "2026-02-20")), encoding="utf-8")
    told["plan"].append(answer(*PLAN, "--today", "2026-03-16", "--since", str(early)))
    book = ("--book", str(folder / "garden.db"))
    for name, words in BOOK:
        here = [
            str(folder / word) if word in {"copy.db", "saved.db", "tables"} else word
            for word in words
        ]
        if name == "book_season":  # it follows up a forecast, so one is shown first
            answer("when", "--bed", "front", *book, "--today", "2026-03-05", "--json")
        told.setdefault(name, []).append(answer("book", *here, *book, "--json"))
    garden = ("--book", str(folder / "garden.db"), "--json")
    of_all = ("--all", "--today", "2026-03-16", *garden)
    told["plan_several"] = [answer("plan", *of_all), answer("plan", "--crop", "pansy", *of_all)]
    told["order"] = [
        answer("order", "--season", "spring", "--today", "2025-09-20", *garden),
        answer("order", "--today", "2026-03-16", "--fertilizer", "12-0-0", *garden),
    ]
    told["plan"].append(
        answer("plan", "--bed", "front", "--season", "spring", "--today", "2025-09-20", *garden)
    )
    told["week"] = [answer("week", "--today", "2026-03-16", *garden)]
    told["done"] = [answer("done", "feed", *more, *garden) for more in ((), ("--undo",))]
    again = ("import", str(folder / "tables"), "--book", str(folder / "again.db"))
    told["book_import"].append(answer("book", *again, "--json"))
    return told


def load(name: str) -> dict[str, Any]:
    schema: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    return schema


def closed(schema: Any) -> Any:
    """Return a schema that allows only the keys it describes."""
    if isinstance(schema, list):
        return [closed(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    made = {key: closed(one) for key, one in schema.items()}
    if "properties" in made:
        made.setdefault("additionalProperties", False)
    return made


def wrong(schema: dict[str, Any], told: Any) -> list[str]:
    """Say where an answer differs from a schema."""
    checker = Draft202012Validator(schema, format_checker=FormatChecker(["date"]))
    return [f"{error.json_path}: {error.message[:200]}" for error in checker.iter_errors(told)]


@pytest.mark.parametrize("name", NAMES)
def test_schema_is_one(name):
    schema = load(name)
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["description"].startswith("crossday ")
    assert schema["properties"]["schema"] == {"const": SCHEMA}


def test_every_answer_has_a_schema():
    assert sorted({*ASKED, *(name for name, _ in BOOK), *GARDEN, *ELSEWHERE}) == NAMES


@pytest.mark.parametrize("name", [name for name in NAMES if name not in ELSEWHERE])
def test_answers_are_as_described(name, answers):
    for told in answers[name]:
        assert wrong(closed(load(name)), told) == []


def spoiled(told: dict[str, Any], required: list[str]) -> Iterator[dict[str, Any]]:
    """Yield the answer without each required key, and with each of another kind."""
    for key in required:
        yield {name: value for name, value in told.items() if name != key}
        yield told | {key: "text" if isinstance(told[key], list) else [told[key]]}


@pytest.mark.parametrize("name", [name for name in NAMES if name not in ELSEWHERE])
def test_the_check_notices_a_key_that_is_missing_strange_or_of_another_kind(name, answers):
    schema, told = load(name), answers[name][0]
    required = [*schema["required"], *schema.get("anyOf", [{"required": []}])[0]["required"]]
    assert len(required) > 1
    for bad in spoiled(told, required):
        assert not Draft202012Validator(schema).is_valid(bad)
    assert wrong(closed(schema), told | {"undescribed": 1})
    assert not wrong(schema, told | {"added_in_a_later_version": 1})


def test_every_command_that_answers_a_program_is_described():
    """--json stands in the help of exactly the commands whose answers are checked."""

    def commands(group: Any, names: tuple[str, ...] = ()) -> Iterator[str]:
        context = group.make_context("crossday", [], resilient_parsing=True)
        for name in group.list_commands(context):
            command = group.get_command(context, name)
            if hasattr(command, "list_commands"):
                yield from commands(command, (*names, name))
            elif any(one.name == "as_json" for one in command.params):
                yield "_".join((*names, name))

    found = set(commands(main))
    assert found == {re.sub(r"^(when|plan)_\w+$", r"\1", name) for name in NAMES}


def test_schemas_are_packaged():
    assert Path(FOLDER).is_dir()
    assert len(NAMES) > 10
