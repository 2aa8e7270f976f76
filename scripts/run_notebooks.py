"""Run the notebooks from top to bottom and store what they print and draw in them.

    python scripts/run_notebooks.py            # needs no notebook server

Output is stored as the notebook format 4.5 has it: words, the last value of a cell, pictures.
"""

from __future__ import annotations

import ast
import base64
import contextlib
import io
import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[1] / "notebooks"
PICTURE_DPI = 80


def main() -> None:
    """Run every notebook and write it again with its output."""
    for path in sorted(FOLDER.glob("*.ipynb")):
        notebook = json.loads(path.read_text(encoding="utf-8"))
        run(notebook)
        path.write_text(json.dumps(notebook, indent=1, ensure_ascii=False) + "\n", "utf-8")
        print(path.name)


def run(notebook: dict[str, Any]) -> None:
    """Run the code cells in order and put their output in them."""
    import matplotlib as mpl  # noqa: PLC0415

    mpl.use("Agg")
    names: dict[str, Any] = {}
    cells = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    for number, cell in enumerate(cells, 1):
        cell["execution_count"] = number
        cell["outputs"] = outputs_of("".join(cell["source"]), names, number)


def outputs_of(code: str, names: dict[str, Any], number: int) -> list[dict[str, Any]]:
    """Run one cell among the names of those before it; return its outputs."""
    from matplotlib import pyplot as plt  # noqa: PLC0415

    body = ast.parse(code)
    last = body.body.pop() if body.body and isinstance(body.body[-1], ast.Expr) else None
    said, value = io.StringIO(), None
    with contextlib.redirect_stdout(said):
        exec(compile(body, f"cell {number}", "exec"), names)  # noqa: S102 - our own notebook
        if isinstance(last, ast.Expr):
            value = eval(  # noqa: S307
                compile(ast.Expression(last.value), f"cell {number}", "eval"), names
            )
    outputs: list[dict[str, Any]] = []
    if said.getvalue():
        outputs.append({"output_type": "stream", "name": "stdout", "text": lines(said.getvalue())})
    figures = [plt.figure(k) for k in plt.get_fignums()]
    if value is not None and not figures:
        outputs.append(
            {"output_type": "execute_result", "execution_count": number, "metadata": {},
             "data": {"text/plain": lines(repr(value))}}
        )  # fmt: skip
    for figure in figures:
        drawn = io.BytesIO()
        figure.savefig(drawn, dpi=PICTURE_DPI, bbox_inches="tight", metadata={"Software": None})
        png = base64.b64encode(drawn.getvalue()).decode()
        outputs.append(
            {"output_type": "display_data", "metadata": {},
             "data": {"image/png": png, "text/plain": ["<Figure>"]}}
        )  # fmt: skip
    plt.close("all")
    return outputs


def lines(text: str) -> list[str]:
    """Return text as the format keeps it: lines with their ends."""
    return text.splitlines(keepends=True)


if __name__ == "__main__":
    main()
