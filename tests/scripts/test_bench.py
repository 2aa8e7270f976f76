"""The bench measures what it says; how fast the tool is, nobody decides here."""

import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
try:
    import bench
finally:
    sys.path.remove(str(ROOT / "scripts"))


def test_measure_runs_each_in_turn_and_leaves_out_the_first_round():
    seen = []
    calls = [lambda: seen.append("a"), lambda: (seen.append("b"), time.sleep(0.01))]
    first, second = bench.measure(calls, 3)
    assert seen == ["a", "b"] * 4
    assert len(first.wall_s) == len(second.cpu_s) == 3
    assert min(second.wall_s) >= 0.01 > min(first.wall_s)
    assert max(second.cpu_s) < 0.01, "sleeping costs the processor nothing"


def test_report_prints_both_ratios_and_whether_the_target_is_met(capsys):
    subject, base = bench.Times([0.3, 0.2, 0.9], []), bench.Times([0.1, 0.1, 0.2], [])
    bench.report("x : y", 2.0, subject, base)
    assert "ratio    min 2.00×   median 3.00×   meets the target" in capsys.readouterr().out
    bench.report("x : y", 1.6, subject, base)
    assert "misses it by 25%" in capsys.readouterr().out


def run(*words: str) -> str:
    command = [sys.executable, str(ROOT / "scripts" / "bench.py"), *words]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def test_help_is_compared_with_click():
    assert re.search(r"crossday --help : import click.*ratio +min \d", run(
        "--only", "help", "--repeats", "1"), re.DOTALL)  # fmt: skip


@pytest.mark.slow
def test_every_comparison_runs():
    text = run("--repeats", "1")
    assert len(re.findall(r"^    ratio ", text, re.MULTILINE)) == 6
    assert text.count("equal if linear") == 4
