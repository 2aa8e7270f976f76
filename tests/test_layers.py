"""Imports point down: each layer knows only what stands below it (DEVELOPERS.md, the house)."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "forecaster"
LAYERS = (
    ("ground", {"units", "errors", "site", "files"}),
    ("tables", {"ingest", "fetch", "book", "packaged"}),
    ("physics", {"soil", "chance"}),
    ("questions", {"rules"}),
    (
        "composition",
        {"forecast", "answers", "plan"},
    ),
    (
        "edges",
        {"cli", "charts", "words", "report"},
    ),
)
LEVEL = {room: level for level, (_, rooms) in enumerate(LAYERS) for room in rooms}
# The package's doors name its public rooms and the command; they belong to no layer.
DOORS = {"__init__", "__main__"}
# Rooms that get everything passed in: no files, clock, network, pictures or tables from disk.
PURE = ("soil", "chance", "rules")
PURE_MODULES = {
    "pathlib", "io", "os", "csv", "json", "sqlite3", "shutil", "tempfile", "gzip", "zipfile",
    "time", "requests", "requests_cache", "urllib", "http", "socket", "subprocess",
    "matplotlib", "rich", "click", "importlib",
}  # fmt: skip
PURE_CALLS = {"open", "print", "input"}
PURE_ATTRIBUTES = {"now", "today", "utcnow", "read_csv", "read_text", "write_text", "to_csv"}


def room_of(path: Path) -> str:
    """The module or folder right below the package."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(tree: ast.AST) -> set[str]:
    """Every dotted module name that a file imports, also inside functions."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the layer; write forecaster.…"
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif (
            isinstance(node, ast.Call)
            and ast.unparse(node.func).split(".")[-1] in {"import_module", "__import__"}
            and node.args
            and isinstance(node.args[0], ast.Constant)
        ):
            names.add(str(node.args[0].value))
    return names


def rooms_imported(tree: ast.AST) -> set[str]:
    """The rooms of this package that a file imports."""
    parts = [name.split(".") for name in imported(tree)]
    return {p[1] for p in parts if p[0] == "forecaster" and len(p) > 1 and p[1] in LEVEL}


def climbs(room: str, tree: ast.AST) -> list[str]:
    """Say which imports of a room point up."""
    return [
        f"{room} ({LAYERS[LEVEL[room]][0]}) imports {other} ({LAYERS[LEVEL[other]][0]})"
        for other in sorted(rooms_imported(tree))
        if LEVEL[other] > LEVEL[room]
    ]


def impurities(tree: ast.AST) -> list[str]:
    """Say what a file takes from the world by itself."""
    found = [f"imports {name}" for name in imported(tree) if name.split(".")[0] in PURE_MODULES]
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name) and node.func.id in PURE_CALLS:
            found.append(f"calls {node.func.id}()")
        if isinstance(node.func, ast.Attribute) and node.func.attr in PURE_ATTRIBUTES:
            found.append(f"calls {ast.unparse(node.func)}()")
        if ast.unparse(node.func).endswith("random.default_rng") and not node.args:
            found.append("draws without a seed")
    return sorted(found)


def files() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def parse(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def test_every_file_has_a_layer():
    homeless = {room_of(path) for path in files()} - set(LEVEL) - DOORS
    assert not homeless, "give the new room a place in LAYERS and in DEVELOPERS.md"


@pytest.mark.parametrize(
    "path",
    [path for path in files() if room_of(path) not in DOORS],
    ids=lambda p: p.relative_to(PACKAGE).as_posix(),
)
def test_no_import_points_up(path):
    assert climbs(room_of(path), parse(path)) == []


@pytest.mark.parametrize(
    "path",
    [path for path in files() if room_of(path) in PURE],
    ids=lambda p: p.relative_to(PACKAGE).as_posix(),
)
def test_physics_and_questions_take_nothing_from_the_world(path):
    assert impurities(parse(path)) == []


@pytest.mark.parametrize(
    ("room", "line"),
    [
        ("soil", "from forecaster.rules import crossing"),
        ("rules", "import forecaster.forecast.soil"),
        ("units", "from forecaster import packaged"),
        ("forecast", "def f():\n    from forecaster.charts import draw"),
        ("ingest", "importlib.import_module('forecaster.cli')"),
    ],
)
def test_the_check_notices_an_import_that_points_up(room, line):
    assert len(climbs(room, ast.parse(line))) == 1


@pytest.mark.parametrize("line", ["from forecaster.errors import InputError", "import numpy"])
def test_the_check_lets_imports_point_down(line):
    assert climbs("soil", ast.parse(line)) == []


@pytest.mark.parametrize(
    "line",
    [
        "from pathlib import Path",
        "open('x')",
        "datetime.now()",
        "date.today()",
        "import matplotlib.pyplot as plt",
        "import requests",
        "np.random.default_rng()",
        "pd.read_csv(x)",
    ],
)
def test_the_check_notices_a_room_that_reaches_out(line):
    assert len(impurities(ast.parse(line))) >= 1
