"""Documentation that cannot drift: commands have help and a README line; none is made up."""

import os
import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from forecaster.cli import main

ROOT = Path(__file__).resolve().parents[1]
README = ROOT / "README.md"


def commands(group: click.Command = main, path: tuple[str, ...] = ()) -> dict[str, click.Command]:
    """Every command by the words that call it, subcommands of groups included."""
    found: dict[str, click.Command] = {}
    if isinstance(group, click.Group):
        context = click.Context(group)
        for name in group.list_commands(context):
            command = group.get_command(context, name)
            assert command is not None
            words = (*path, name)
            inner = commands(command, words)
            found |= inner or {" ".join(words): command}
    return found


def calls(text: str) -> list[list[str]]:
    """The words after `crossday` wherever a Markdown text shows a call: in code, not in prose."""
    blocks = re.findall(r"^```[^\n]*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    prose = re.sub(r"^```[^\n]*\n.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    lines = [line for block in blocks for line in block.replace("\\\n", " ").splitlines()]
    lines += re.findall(r"`([^`\n]+)`", prose)
    found = []
    for line in lines:
        match = re.match(
            r"\s*(?:[$>] )?(?:python -m forecaster|(?:\S*/)?crossday)(?: (.*))?$", line
        )
        if match:
            found.append(shlex.split((match[1] or "").split(" #")[0], posix=True))
    return found


def fences(text: str) -> list[list[str]]:
    """The lines of each fenced block."""
    found = re.findall(r"^```[^\n]*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    return [fence.splitlines() for fence in found]


def made_up(shown: list[str], printed: str) -> list[str]:
    """Lines shown as output that were not printed; commands, cuts (…), and paths apart."""
    real = {line.strip() for line in printed.splitlines()}
    aside = re.compile(
        r"[$>] |…$|\.\.\.$|This makes |Environment: |(Air|Readings|Picture|In words): "
    )
    lines = [line.strip() for line in shown]
    return [line for line in lines if line and not aside.match(line) and line not in real]


def resolve(words: list[str]) -> tuple[str, click.Command, list[str]]:
    """The command that words call, with what follows it."""
    command: click.Command = main
    path: list[str] = []
    rest = list(words)
    while isinstance(command, click.Group) and rest and not rest[0].startswith("-"):
        inner = command.get_command(click.Context(command), rest[0])
        assert inner is not None, f"crossday {' '.join([*path, rest[0]])}: there is no such command"
        path.append(rest.pop(0))
        command = inner
    return " ".join(path), command, rest


def readme() -> str:
    if not README.exists():
        pytest.skip("README.md is not written yet")
    return README.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", commands())
def test_command_has_help(name):
    command = commands()[name]
    assert command.help, f"crossday {name} needs a docstring"
    assert len(command.help.strip().split("\n")[0]) > 15
    for parameter in command.params:
        if isinstance(parameter, click.Option) and not parameter.hidden:
            assert parameter.help, f"crossday {name} {parameter.opts[-1]} needs help"


@pytest.mark.parametrize("name", commands())
def test_command_has_a_readme_line(name):
    shown = {resolve(words)[0] for words in calls(readme())}
    assert name in shown, f"README.md shows no call of crossday {name}"


def test_readme_calls_only_what_exists():
    for words in calls(readme()):
        _, command, rest = resolve([w for w in words if w not in {"…", "..."}])
        if isinstance(command, click.Group):
            assert rest in ([], ["--help"], ["--version"]), words
        options = {o for p in command.params for o in (*p.opts, *p.secondary_opts)} | {"--help"}
        used = [w.split("=")[0] for w in rest if w.startswith("--")]
        assert set(used) <= options, f"crossday {' '.join(words)}"


def test_readme_shows_what_the_demo_prints(tmp_path):
    """A block with the demo's first line holds only lines that the demo prints today."""
    text = readme()
    done = CliRunner().invoke(main, ["demo", "--out", str(tmp_path)], catch_exceptions=False)
    assert done.exit_code == 0
    first = done.output.splitlines()[0].strip()
    blocks = [block for block in fences(text) if first in (line.strip() for line in block)]
    assert blocks, f"README.md shows no output of the demo; its first line is {first!r}"
    for block in blocks:
        assert made_up(block, done.output) == [], "paste the demo's output anew"


def test_a_made_up_line_of_output_would_be_noticed():
    shown = ["$ ./scripts/demo", "Environment: made.", "A  ", "  B", "…", "", "C"]
    assert made_up(shown, "A\nB\nD\n") == ["C"]


def test_readme_links_lead_somewhere():
    targets = re.findall(r"\]\(([^)#\s]+)", readme())
    local = [t for t in targets if not re.match(r"[a-z]+:", t)]
    assert [t for t in local if not (ROOT / t).exists()] == []


def test_scripts_named_in_the_readme_exist_and_can_be_run():
    named = set(re.findall(r"(?<![\w/])\.?/?(scripts/\w[\w.]*)", readme()))
    assert {"scripts/test", "scripts/demo"} <= named
    for name in named:
        assert (ROOT / name).is_file(), name
        if not name.endswith(".py"):
            assert os.access(ROOT / name, os.X_OK), name


def test_calls_are_found_in_code_and_not_in_prose():
    """The finder itself: fences with prompts, continued lines, inline code, no prose."""
    text = (
        "crossday is prose\n```console\n$ crossday when a.csv \\\n  --depth 4in # note\nout\n```\n"
        "and `crossday demo --out x`, `.venv/bin/crossday chart`, `crossday`, not `crossdays no`\n"
    )
    assert calls(text) == [
        ["when", "a.csv", "--depth", "4in"],
        ["demo", "--out", "x"],
        ["chart"],
        [],
    ]


def test_a_made_up_command_would_be_noticed():
    with pytest.raises(AssertionError, match="there is no such command"):
        resolve(["no-such-command"])


def test_the_first_screen_of_the_readme_says_what_it_is_and_how_to_try_it():
    """What stands above Install: a screen of about forty lines of a hundred letters."""
    first = readme().split("\n## ")[0]
    assert sum(-(-len(line) // 100) or 1 for line in first.splitlines()) <= 40
    for words in ("./scripts/demo", "(#install)", "(#limits-and-cautions)", "how sure"):
        assert words in first
    headings = {
        re.sub(r"[^\w\- ]", "", line[3:].lower()).replace(" ", "-")
        for line in readme().splitlines()
        if line.startswith("## ")
    }
    assert set(re.findall(r"\]\(#([\w-]+)\)", readme())) <= headings


ELSEWHERE = {"open", "air", "region"}  # a server, a network, files of many places


@pytest.mark.slow
def test_the_examples_of_the_readme_work_in_their_order(tmp_path, monkeypatch):
    """From "With your own file" on, each as printed, in one folder and one book; Python too."""
    own = readme().split("## With your own file\n")[1]
    demo = ROOT / "data" / "demo" / "north"
    for made, found in (("my-air.csv", "air.csv"), ("my-log.csv", "readings.csv")):
        assert f"cp data/demo/north/{found} {made}" in own
        (tmp_path / made).write_bytes((demo / found).read_bytes())
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CROSSDAY_BOOK", str(tmp_path / "garden.db"))
    shown = [
        words for block in fences(own) for words in calls("```\n" + "\n".join(block) + "\n```")
    ]
    tried = [words for words in shown if words[0] not in ELSEWHERE and "air.csv" not in words]
    assert len(tried) > 25
    for words in tried:
        done = CliRunner().invoke(main, words, catch_exceptions=False)
        assert done.exit_code == 0, f"crossday {' '.join(words)}: {done.output}"
    python = own.split("```python\n")[1].split("```")[0]
    exec(compile(python, "README.md", "exec"), {})  # noqa: S102 - our own example
