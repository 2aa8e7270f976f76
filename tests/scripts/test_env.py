"""What the two commands say when a computer has no fit Python, before anything is installed."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
OLD = '#!/bin/sh\n[ "$1" = --version ] && { echo "Python 3.9.2"; exit 0; }\nexit 1\n'
NO_VENV = '#!/bin/sh\ncase "$*" in *"import venv"*) exit 1;; esac\nexec "{python}" "$@"\n'


@pytest.fixture
def checkout(tmp_path) -> Path:
    """A checkout in which no environment was made yet."""
    shutil.copytree(ROOT / "scripts", tmp_path / "checkout" / "scripts")
    shutil.copy2(ROOT / "pyproject.toml", tmp_path / "checkout")
    return tmp_path / "checkout"


@pytest.fixture
def call(checkout, tmp_path):
    """Run a script with nothing on the path but a shell's needs and the Python given."""
    tools = tmp_path / "bin"
    tools.mkdir()
    for name in ("bash", "dirname", "basename"):
        (tools / name).symlink_to(shutil.which(name))

    def run(script: str, python: str | None) -> subprocess.CompletedProcess[str]:
        if python is not None:
            (tools / "python3").write_text(python)
            (tools / "python3").chmod(0o755)
        return subprocess.run(
            [checkout / "scripts" / script],
            cwd=tmp_path, env={"PATH": str(tools)}, capture_output=True, text=True, check=False,
            stdin=subprocess.DEVNULL, timeout=60,
        )  # fmt: skip

    return run


@pytest.mark.parametrize("script", ["test", "demo", "bench"])
@pytest.mark.parametrize(
    ("python", "words"),
    [
        (None, "needs Python 3.11 or newer; found none"),
        (OLD, "needs Python 3.11 or newer; found python3 (Python 3.9.2)"),
        (NO_VENV.format(python=sys.executable), "has no venv module; install it"),
    ],
    ids=["none", "old", "no venv"],
)
def test_a_computer_without_a_fit_python_is_told_what_to_do(call, checkout, script, python, words):
    done = call(script, python)
    assert done.returncode == 3
    assert done.stdout.startswith("This ")
    assert done.stderr.count("\n") == 1, "one line, no traceback"
    assert done.stderr.startswith(f"{script}: ")
    assert words in done.stderr
    assert not (checkout / ".venv").exists()


@pytest.mark.parametrize("script", ["scripts/test", "scripts/demo", "scripts/bench", ".ci/run"])
def test_commands_can_be_run_and_are_sound_bash(script):
    assert os.access(ROOT / script, os.X_OK)
    subprocess.run(["bash", "-n", ROOT / script], check=True)


@pytest.mark.skipif(shutil.which("git") is None, reason="asks git what it sees")
def test_the_demo_leaves_nothing_where_git_looks(checkout):
    """The whole script in a repository of its own, with this Python as its environment."""
    shutil.copy2(ROOT / ".gitignore", checkout)
    for words in (("init", "-q"), ("add", "-A")):
        subprocess.run(["git", *words], cwd=checkout, check=True)
    made = checkout / ".venv" / "bin" / "python"
    made.parent.mkdir(parents=True)
    made.write_text(f'#!/bin/sh\nexec "{sys.executable}" "$@"\n')
    made.chmod(0o755)
    stamp = 'source scripts/_env.sh; fingerprint "$VENV/bin/python" >"$VENV/.crossday-run"'
    subprocess.run(["bash", "-c", stamp], cwd=checkout, check=True)
    done = subprocess.run(
        [checkout / "scripts" / "demo"], cwd=checkout, capture_output=True, text=True, check=True
    )
    picture = checkout / "demo" / "soil-window.png"
    assert f"Picture: {picture}\n" in done.stdout
    assert picture.is_file()
    left = subprocess.run(
        ["git", "status", "--porcelain", "--untracked-files=all"],
        cwd=checkout, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert [line for line in left.stdout.splitlines() if line.startswith("??")] == []
