"""Rooms stay small: modules of at most 450 lines, functions of at most 60 (DEVELOPERS.md).

What is longer today is listed by name with its length: the lists may only shrink.
"""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "forecaster"
MODULE_LINES, FUNCTION_LINES = 450, 60
KEYWORDS_FROM = 6  # fields of a dataclass from which they are named when it is made
# A place is said as latitude, longitude and depth, in every program written so far.
POSITIONAL = {"ground/site.py:Site"}
LONG_MODULES: dict[str, int] = {}
LONG_FUNCTIONS: dict[str, int] = {}
COMMANDS = {"command", "group", "option", "argument"}


def is_command(node: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    """Whether a function declares a command: its options are arguments, a line each."""
    called = [one.func if isinstance(one, ast.Call) else one for one in node.decorator_list]
    return any(ast.unparse(one).split(".")[-1] in COMMANDS for one in called)


def body_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function from its first statement on; what its docstring says is free."""
    body = node.body[1:] if ast.get_docstring(node) is not None else node.body
    return node.end_lineno - body[0].lineno + 1 if body and node.end_lineno else 0


def long_functions(name: str, tree: ast.Module) -> dict[str, int]:
    """The functions of a module that are too long, with their lines."""
    return {
        f"{name}:{node.name}": body_lines(node)
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and not is_command(node)
        and body_lines(node) > FUNCTION_LINES
    }


def files() -> dict[str, Path]:
    return {path.relative_to(PACKAGE).as_posix(): path for path in sorted(PACKAGE.rglob("*.py"))}


def still_long(found: dict[str, int], listed: dict[str, int]) -> list[str]:
    """What is longer than it may be, or listed though it is long no more."""
    grown = [f"{name} has {n} lines" for name, n in found.items() if n > listed.get(name, 0)]
    done = [f"{name} is short now: unlist it" for name in listed if name not in found]
    return grown + done


def test_modules_stay_small():
    lines = {name: len(path.read_text("utf-8").splitlines()) for name, path in files().items()}
    long = {name: count for name, count in lines.items() if count > MODULE_LINES}
    assert still_long(long, LONG_MODULES) == []


def test_functions_stay_small():
    found: dict[str, int] = {}
    for name, path in files().items():
        found |= long_functions(name, ast.parse(path.read_text("utf-8")))
    assert still_long(found, LONG_FUNCTIONS) == []


@pytest.mark.parametrize("head", ["def f():", "async def f():", "def f():\n  '''Says.'''"])
def test_the_check_notices_a_long_function(head):
    indented = head + "\n" + "  x = 1\n" * (FUNCTION_LINES + 1)
    assert long_functions("m", ast.parse(indented)) == {"m:f": FUNCTION_LINES + 1}
    command = "@main.command()\n" + indented
    assert long_functions("m", ast.parse(command)) == {}


def test_the_check_lets_nothing_grow_and_nothing_linger():
    assert still_long({"a": 500}, {}) == ["a has 500 lines"]
    assert still_long({"a": 500}, {"a": 499}) == ["a has 500 lines"]
    assert still_long({"a": 500}, {"a": 500}) == []
    assert still_long({}, {"a": 500}) == ["a is short now: unlist it"]


def second_homes(tree: ast.Module) -> list[str]:
    """Names of arrays that a module gives by itself, though `forecaster.ground.arrays` has them."""
    known = {"Floats", "Ints", "Bools", "Days"}
    return [
        ast.unparse(node)
        for node in tree.body
        if isinstance(node, ast.Assign)
        and (known & {ast.unparse(target) for target in node.targets})
    ]


def test_arrays_have_one_home():
    found = {
        name: second_homes(ast.parse(path.read_text("utf-8"))) for name, path in files().items()
    }
    assert {name for name, those in found.items() if those} == {"ground/arrays.py"}
    assert second_homes(ast.parse("Floats = NDArray[np.float64]")) == [
        "Floats = NDArray[np.float64]"
    ]


def positional_dataclasses(name: str, tree: ast.Module) -> list[str]:
    """Dataclasses of six fields or more that may be made without naming the fields."""
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.ClassDef):
            continue
        how = [ast.unparse(one) for one in node.decorator_list if "dataclass" in ast.unparse(one)]
        own = [one for one in node.body if isinstance(one, ast.AnnAssign)]
        count = sum("ClassVar" not in ast.unparse(one.annotation) for one in own)
        if how and count >= KEYWORDS_FROM and "kw_only=True" not in how[0]:
            if f"{name}:{node.name}" in POSITIONAL:
                continue
            found.append(f"{name}:{node.name} has {count} fields")
    return found


def test_many_fields_are_named():
    found = []
    for name, path in files().items():
        found += positional_dataclasses(name, ast.parse(path.read_text("utf-8")))
    assert found == []


def test_the_check_notices_many_fields_in_a_row():
    fields = "".join(f"  f{n}: int\n" for n in range(KEYWORDS_FROM))
    many = f"@dataclass(frozen=True)\nclass Many:\n{fields}"
    assert positional_dataclasses("m", ast.parse(many)) == ["m:Many has 6 fields"]
    assert positional_dataclasses("m", ast.parse(many.replace("frozen", "kw_only"))) == []
