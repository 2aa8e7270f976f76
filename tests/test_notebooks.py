"""The notebooks run from top to bottom, use public names only, and what they keep is true."""

import ast
import base64
import json
from pathlib import Path

import pytest

import forecaster
from scripts import run_notebooks

FOLDER = Path(__file__).resolve().parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def code_of(path: Path) -> list[str]:
    """The code cells of a notebook."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"]


def test_there_are_three():
    assert len(NOTEBOOKS) == 3


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_uses_public_names(path):
    for code in code_of(path):
        for node in ast.walk(ast.parse(code)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("forecaster"):
                assert node.module == "forecaster"
                assert {alias.name for alias in node.names} <= set(forecaster.__all__)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_what_is_stored_is_what_it_prints_and_draws(path):
    stored = json.loads(path.read_text(encoding="utf-8"))
    fresh = json.loads(path.read_text(encoding="utf-8"))
    for cell in fresh["cells"]:
        cell.pop("outputs", None)
    run_notebooks.run(fresh)
    assert words_of(stored) == words_of(fresh)
    assert sum("°F" in words and "°C" in words for words in words_of(stored)) >= 1
    pictures = [
        base64.b64decode(output["data"]["image/png"])
        for cell in stored["cells"]
        for output in cell.get("outputs", [])
        if "image/png" in output.get("data", {})
    ]
    assert len(pictures) == 1
    assert pictures[0].startswith(b"\x89PNG")


def words_of(notebook: dict) -> list[str]:
    """What the cells print, a text a cell."""
    return [
        "".join(
            "".join(output.get("text", output.get("data", {}).get("text/plain", [])))
            for output in cell["outputs"]
        )
        for cell in notebook["cells"]
        if cell["cell_type"] == "code"
    ]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_it_says_how_to_start_it(path):
    first = json.loads(path.read_text(encoding="utf-8"))["cells"][0]
    assert first["cell_type"] == "markdown"
    assert "jupyter notebook notebooks/" in "".join(first["source"])
