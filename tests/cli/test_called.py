"""How commands are called: help under headings, bare numbers, words given twice, nothing typed."""

import re

import click
import pytest
from click.testing import CliRunner

from forecaster.cli import main
from forecaster.cli.command import EXAMPLES, FIRST, HEADINGS, Asked
from forecaster.packaged import data_path

AIR = str(data_path("demo/air.csv"))
US = ("--lat", "39.1N", "--lon", "96.6W")
AUSTRALIA = ("--lat", "36.2S", "--lon", "146.6E")
DAY = ("--today", "2026-03-16")


def run(*words: str, book: str = "/nowhere/none.db", code: int = 0):
    env = {"COLUMNS": "80", "CROSSDAY_BOOK": book}
    found = CliRunner(env=env).invoke(main, [*words])
    assert found.exit_code == code, found.output
    return found


def the(name: str) -> click.Command:
    command = main.get_command(click.Context(main), name)
    assert command is not None
    return command


@pytest.mark.parametrize("name", FIRST)
def test_help_begins_with_the_five_options_that_matter(name):
    command = the(name)
    assert isinstance(command, Asked)
    said = run(name, "--help").stdout
    first = said[said.index("What matters most:") :].split("\n\n")[0]
    flags = re.findall(r"^  (--[\w-]+)", first, re.MULTILINE)
    known = {p.name: p.opts[0] for p in command.params}
    assert flags == [known[each] for each in FIRST[name]]
    assert len(flags) == 5


@pytest.mark.parametrize("name", FIRST)
def test_every_option_of_help_has_its_heading(name):
    placed = {each for names in (*HEADINGS.values(), FIRST[name]) for each in names}
    loose = [
        p.name for p in the(name).params if isinstance(p, click.Option) and p.name not in placed
    ]
    assert loose == []


@pytest.mark.parametrize("path", EXAMPLES)
def test_the_example_of_an_error_calls_what_there_is(path):
    words = EXAMPLES[path].split()
    assert words[0] == "crossday"
    command: click.Command = main
    for word in path.split():
        assert isinstance(command, click.Group)
        found = command.get_command(click.Context(command), word)
        assert found is not None
        command = found
    assert " ".join(words[1:]).startswith(path)
    flags = {opt for p in command.params for opt in p.opts}
    assert {word for word in words if word.startswith("--")} <= flags


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((*AUSTRALIA, "--depth", "10"), "--depth 10 was taken as 10cm; write 10in if that is"),
        ((*AUSTRALIA, "--show", "F", "--depth", "4"), "--depth 4 was taken as 4in; write 4cm"),
        (("--lat", "36.2S", "--depth", "4"), "--depth 4 was taken as 4in; write 4cm"),
        ((*AUSTRALIA, "--today", "16/3/2026"), "--today 16/3/2026 was taken as 2026-03-16"),
        ((*AUSTRALIA, "--today", "3/16/2026"), "--today 3/16/2026 was taken as 2026-03-16"),
        ((*AUSTRALIA, "--today", "4/3/2026"), "--today 4/3/2026 was taken as 2026-03-04"),
        ((*AUSTRALIA, "--threshold", "16", "--direction", "falling"), "16 was taken as 16C"),
    ],
)
def test_a_bare_number_is_what_the_place_uses_and_is_said(words, said):
    found = run("when", AIR, *DAY, "--brief", *words)
    assert said in found.stderr
    assert found.stdout.startswith(("Cool-season flats:", "Your threshold:"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--depth", "4"), "4in"), (("--area", "100"), "100ft2"), (("--bag", "2"), "2cuft"),
        (("--load", "2"), "2yd3"), (("--payload", "1500"), "1500lb"), (("--flow", "5"), "5gpm"),
        (("--spacing", "8"), "8in"), (("--today", "9/2/2025"), "2025-09-02"),
    ],
)  # fmt: skip
def test_in_the_united_states_it_is_of_feet_and_months_come_first(words, said):
    refused = run("plan", AIR, *US, *words, code=2).stderr  # the air is of the other half
    assert f"{words[1]} was taken as {said}" in refused
    assert "south of the equator" in refused


def test_soil_is_named_in_any_case():
    asked = ("when", AIR, *AUSTRALIA, *DAY, "--brief", "--soil")
    assert run(*asked, "Clay").stdout == run(*asked, "clay").stdout


def test_a_word_given_twice_is_said():
    found = run("when", AIR, *AUSTRALIA, *DAY, "--brief", "--depth", "2in", "--depth", "4in")
    assert found.stderr == "--depth was given 2 times: the last counts.\n"


def test_alone_it_says_how_to_begin_or_today_s_answer_for_each_bed(tmp_path):
    begin = run().stdout
    for words in re.findall(r"^  crossday (\w+)", begin, re.MULTILINE):
        assert the(words) is not None
    assert len(begin.splitlines()) < 20

    book = str(tmp_path / "garden.db")
    run("book", "start", *AUSTRALIA, "--air", AIR, book=book)
    assert "has no bed yet" in run(book=book).stdout
    for bed in ("north", "long bed"):
        run("book", "bed", bed, book=book)
    said = run("book", "read", "19.5", "--bed", "north", "--at", "13/3/2026 14:15", book=book)
    assert "19.5 was taken as 19.5C" in said.stderr
    assert "67.1 °F (19.5 °C) in 'north'" in said.stdout
    text = run(book=book).stdout
    assert text.index("north: Cool-season flats:") < text.index("long bed: Cool-season flats:")
    assert text.count("The air record ends on 16 March 2026") == 1, "what holds for all, once"
    assert "crossday when --bed north" in text
    brief = " ".join(run("when", "--bed", "north", "--brief", book=book).stdout.split())
    line = " ".join(text[text.index("north: ") : text.index("long bed: ")].split())
    assert line.removeprefix("north: ") in brief, "one answer, said the same"
