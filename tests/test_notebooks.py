"""The notebooks run from top to bottom, use public names only and keep no output."""

import ast
import json
from pathlib import Path

import matplotlib as mpl
import pytest

import forecaster

FOLDER = Path(__file__).resolve().parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def code_of(path: Path) -> list[str]:
    """The code cells of a notebook."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"]


def test_there_are_three():
    assert len(NOTEBOOKS) == 3


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_keeps_no_output_and_uses_public_names(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    assert not any(cell.get("outputs") for cell in cells)
    for code in code_of(path):
        for node in ast.walk(ast.parse(code)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("forecaster"):
                assert node.module == "forecaster"
                assert {alias.name for alias in node.names} <= set(forecaster.__all__)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_runs(path):
    mpl.use("Agg")
    names: dict[str, object] = {}
    for code in code_of(path):
        exec(compile(code, path.name, "exec"), names)  # noqa: S102 - our own notebook
    figures = names["plt"].get_fignums()
    names["plt"].close("all")
    assert len(figures) == 1
