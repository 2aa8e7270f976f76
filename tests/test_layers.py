"""Imports point down: each layer knows only what stands below it (DEVELOPERS.md, the house)."""

import ast
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "forecaster"
LAYERS = (
    ("ground", {"ground"}),
    ("tables", {"ingest", "fetch", "book", "packaged"}),
    ("physics", {"soil", "chance"}),
    ("questions", {"rules"}),
    (
        "composition",
        {"forecast", "answers", "plan", "region"},
    ),
    (
        "edges",
        {"cli", "charts", "words", "report", "page"},
    ),
)
LEVEL = {room: level for level, (_, rooms) in enumerate(LAYERS) for room in rooms}
# The package's doors name its public rooms and the command; they belong to no layer.
DOORS = {"__init__", "__main__"}
# Rooms that get everything passed in, and all that they may import from outside: no files, clock,
# network, pictures or tables from disk. Of this package they know one another alone.
PURE = {
    "ground": set(),
    "ground.errors": {"pathlib"},  # a path is said, never opened
    "ground.units": {"numpy", "re", "typing"},
    "ground.arrays": {"numpy"},
    "ground.given": {"collections", "math", "typing"},
    "ground.site": {"dataclasses", "typing"},
    "soil": {"collections", "dataclasses", "functools", "numpy", "scipy", "typing"},
    "rules": {"collections", "dataclasses", "itertools", "numpy", "statistics", "typing"},
    "chance": {"collections", "dataclasses", "datetime", "numpy", "scipy"},
}
PURE_CALLS = {"open", "print", "input"}
PURE_ATTRIBUTES = {"now", "today", "utcnow", "read_csv", "read_text", "write_text", "to_csv"}


def room_of(path: Path) -> str:
    """The module or folder right below the package."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def list_of(parts: tuple[str, ...]) -> str:
    """The name in PURE by which a module goes: its room, on the ground itself (`files` writes)."""
    return ".".join(parts[:2]) if parts[0] == "ground" else parts[0]


def list_for(path: Path) -> str:
    """The name in PURE by which a file goes."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return list_of(parts[:-1] if parts[-1] == "__init__" and parts[1:] else parts)


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


def impurities(room: str, tree: ast.AST) -> list[str]:
    """Say what a file of a pure room takes from the world by itself."""
    allowed = PURE[room] | {"__future__", "forecaster"}
    found = [f"imports {name}" for name in imported(tree) if name.split(".")[0] not in allowed]
    parts = [tuple(name.split(".")) for name in imported(tree)]
    others = {
        list_of(p[1:]) for p in parts if p[0] == "forecaster" and len(p) > 1 and p[1] in LEVEL
    }
    found += [f"imports forecaster.{other}" for other in others - set(PURE)]
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


@cache
def parse(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def name_of(path: Path) -> str:
    """The dotted name of a module; a folder's __init__ is the folder's."""
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def known_imports(modules: dict[str, ast.Module]) -> dict[str, set[str]]:
    """Which of some modules each of them imports, at its top or inside a function.

    ``from forecaster.soil import heat`` is an import of ``forecaster.soil.heat`` if there is such
    a module, and of ``forecaster.soil`` otherwise.
    """
    graph: dict[str, set[str]] = {}
    for name, tree in modules.items():
        found: set[str] = set()
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                found |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                below = {f"{node.module}.{alias.name}" for alias in node.names}
                found |= below & set(modules)
                found |= {node.module} if below - set(modules) else set()
        graph[name] = found & set(modules)
    return graph


def circle(graph: dict[str, set[str]]) -> list[str]:
    """A circle of imports, from a module back to itself; empty if there is none."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_rooms_and_layers_name_the_same():
    rooms = {room_of(path) for path in files()} - DOORS
    assert rooms == set(LEVEL), "give a new room a place in LAYERS and in DEVELOPERS.md"


# What the page may ask, and who may open it.
PAGE_ASKS = {
    "answers", "book", "plan", "words", "charts", "packaged", "ground", "ingest",
}  # fmt: skip


def test_the_page_asks_answers_and_the_book_alone():
    for path in files():
        if room_of(path) == "page":
            assert rooms_imported(parse(path)) - {"page"} <= PAGE_ASKS, path.name


def test_only_its_command_opens_the_page():
    doors = [
        path.relative_to(PACKAGE).as_posix()
        for path in files()
        if room_of(path) != "page" and "page" in rooms_imported(parse(path))
    ]
    assert doors == ["cli/open.py"]


def test_only_a_region_needs_the_packages_of_its_extra():
    extra = {"dask", "distributed", "pyarrow"}
    users = {
        room_of(path)
        for path in files()
        if extra & {name.split(".")[0] for name in imported(parse(path))}
    }
    assert users == {"region"}


def test_no_circle_of_imports():
    # The package's own door names all public homes, for type checkers; nothing imports it.
    modules = {name_of(path): parse(path) for path in files() if room_of(path) not in DOORS}
    assert len(modules) > 100
    assert circle(known_imports(modules)) == []


@pytest.mark.parametrize(
    "sources",
    [
        {"a": "import b", "b": "import a"},
        {"a": "from b import thing", "b": "def f():\n    from c import d", "c": "import a"},
        {"p": "from p.one import x", "p.one": "from p import two", "p.two": "from p import x"},
    ],
    ids=["two", "inside a function", "a folder's own door"],
)
def test_the_check_notices_a_circle(sources):
    found = circle(known_imports({name: ast.parse(text) for name, text in sources.items()}))
    assert len(found) > 2
    assert found[0] == found[-1]


def test_the_check_lets_a_folder_gather_its_modules():
    sources = {"p": "from p.one import x", "p.one": "from p import two", "p.two": "import os"}
    assert circle(known_imports({name: ast.parse(text) for name, text in sources.items()})) == []


@pytest.mark.parametrize(
    "path",
    [path for path in files() if room_of(path) not in DOORS],
    ids=lambda p: p.relative_to(PACKAGE).as_posix(),
)
def test_no_import_points_up(path):
    assert climbs(room_of(path), parse(path)) == []


@pytest.mark.parametrize(
    "path",
    [path for path in files() if list_for(path) in PURE],
    ids=lambda p: p.relative_to(PACKAGE).as_posix(),
)
def test_physics_and_questions_take_nothing_from_the_world(path):
    assert impurities(list_for(path), parse(path)) == []


@pytest.mark.parametrize(
    ("room", "line"),
    [
        ("soil", "from forecaster.rules import crossing"),
        ("rules", "import forecaster.forecast.soil"),
        ("ground", "from forecaster import packaged"),
        ("forecast", "def f():\n    from forecaster.charts import draw"),
        ("ingest", "importlib.import_module('forecaster.cli')"),
    ],
)
def test_the_check_notices_an_import_that_points_up(room, line):
    assert len(climbs(room, ast.parse(line))) == 1


@pytest.mark.parametrize(
    "line", ["from forecaster.ground.errors import InputError", "import numpy"]
)
def test_the_check_lets_imports_point_down(line):
    assert climbs("soil", ast.parse(line)) == []


@pytest.mark.parametrize("room", PURE)
@pytest.mark.parametrize(
    "line",
    [
        "from pathlib import PurePath, Path; Path('x').read_text()",
        "open('x')",
        "datetime.now()",
        "date.today()",
        "import matplotlib.pyplot as plt",
        "import requests",
        "import some_package_of_next_year",
        "import pandas as pd",
        "def f():\n    import sqlite3",
        "from forecaster.packaged import load_csv",
        "from forecaster.ground.files import write",
        "from forecaster.forecast.soil import forecast_soil",
        "np.random.default_rng()",
        "pd.read_csv(x)",
    ],
)
def test_the_check_notices_a_room_that_reaches_out(room, line):
    assert len(impurities(room, ast.parse(line))) >= 1


@pytest.mark.parametrize("room", PURE)
def test_the_check_lets_a_pure_room_be(room):
    line = "from __future__ import annotations\nfrom forecaster.ground.errors import InputError"
    assert impurities(room, ast.parse(line)) == []


def test_no_permission_is_left_over():
    """What a room may import, one of its files does."""
    used: dict[str, set[str]] = {room: set() for room in PURE}
    for path in files():
        if list_for(path) in PURE:
            used[list_for(path)] |= {name.split(".")[0] for name in imported(parse(path))}
    assert {
        room: allowed - used[room] for room, allowed in PURE.items() if allowed - used[room]
    } == {}
