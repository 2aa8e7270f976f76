"""The attack itself: its cases are drawn by the seed, and it notices what it looks for."""

import importlib.util
import os
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="runs commands in forks")


@pytest.fixture(scope="module")
def attack():
    pytest.importorskip("resource", reason="measures memory as Unix does")
    spec = importlib.util.spec_from_file_location("attack", ROOT / "scripts" / "attack.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["attack"] = module
    spec.loader.exec_module(module)
    return module


def test_the_same_seed_spoils_the_same(attack):
    made = [
        [attack.spoiled(b"date,1\n" * 50, random.Random(k)) for k in range(40)]  # noqa: S311
        for _ in range(2)
    ]
    assert made[0] == made[1]
    assert len(set(made[0])) > 35


@pytest.mark.parametrize(
    ("code", "out", "err", "memory", "column"),
    [
        (70, "", "crossday: a fault\n", 0, "faults"),
        (2, "", "Traceback\n", 0, "faults"),
        (2, "", "two\nlines\n", 0, "wrong"),
        (0, "\x1b[2J", "", 0, "wrong"),
        (0, "", "", 2_000_000_000, "over 1 GB"),
        (-24, "", "", 0, "hangs"),
    ],
)
def test_what_must_not_be_is_counted(attack, code, out, err, memory, column):  # noqa: PLR0917
    tally = attack.Tally()
    tally.judge(attack.Found(code, out, err, memory), "x")
    assert tally.counts[column] == 1
    good = attack.Tally()
    good.judge(attack.Found(0, "fine\n", "", 1000), "x")
    assert sum(good.counts[c] for c in ("wrong", "lost", "faults", "hangs", "over 1 GB")) == 0


def run(**cases):
    words = [w for name, many in cases.items() for w in (f"--{name}", str(many))]
    return subprocess.run(
        [sys.executable, ROOT / "scripts" / "attack.py", *words],
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def columns(found):
    """The table's rows by class, as numbers."""
    rows = [re.split(r"\s*\|\s*", line.strip("| ")) for line in found.stdout.splitlines()]
    return {r[0]: r[1:] for r in rows if r[0] in ("kills", "files", "texts", "answers")}


@pytest.mark.slow
@needs_fork
def test_a_small_attack_finds_nothing():
    found = run(kills=4, files=12, reads=50, texts=12, answers=6)
    assert found.returncode == 0, found.stdout + found.stderr
    table = columns(found)
    assert {kind: int(row[0]) >= 4 for kind, row in table.items()} == dict.fromkeys(table, True)
    assert len(table) == 4


@needs_fork
@pytest.mark.slow
def test_a_larger_attack_finds_nothing():
    found = run(kills=16, files=120, reads=500, texts=60, answers=60, minutes=1)
    print(found.stdout)  # noqa: T201 - figures for DEVELOPERS.md
    assert found.returncode == 0, found.stdout + found.stderr
