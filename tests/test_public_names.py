"""Every public name exists, is described with its units, and is imported only when asked for."""

import ast
import importlib
import importlib.metadata
import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

import forecaster

UNIT = re.compile(
    r"°[CF]|\bmm?\b|\bcm\b|\bm²/s\b|\bmetres?\b|\bdegrees?\b|\bdays?\b|\bdates?\b|\bJ\b|\bW\b"
    r"|\bs\b|\brad\b|\b0 to 1\b|\b0–1\b|\bprobabilit"
)


WITHOUT_QUANTITY = {"account_of", "data_path"}  # neither takes nor returns one


def is_error(value: object) -> bool:
    return inspect.isclass(value) and issubclass(value, Exception)


def test_every_public_name_exists():
    broken = {}
    for name in forecaster.__all__:
        try:
            getattr(forecaster, name)
        except (ImportError, AttributeError) as error:
            broken[name] = str(error)
    assert broken == {}


def test_the_names_others_rely_on_are_public():
    """The public interface others call; the set may grow."""
    assert {"Site", "read_air", "read_readings", "estimate_soil"} <= set(forecaster.__all__)


CALLABLE = [name for name in forecaster.__all__ if name != "__version__"]


@pytest.mark.parametrize("name", CALLABLE)
def test_public_name_is_described(name):
    value = getattr(forecaster, name)
    text = inspect.getdoc(value) or ""
    first = text.split("\n", 1)[0]
    assert first.endswith("."), f"{name} needs one line that says what it is"
    assert not first.startswith(f"{name}("), f"{name} has only a generated docstring"
    if callable(value) and not is_error(value) and name not in WITHOUT_QUANTITY:
        assert UNIT.search(text), f"{name}: say the units of what goes in and comes out"


@pytest.mark.parametrize("name", [n for n in CALLABLE if not n.endswith("Error")])
def test_every_parameter_is_described(name):
    value = getattr(forecaster, name)
    text = inspect.getdoc(value) or ""
    parameters = [p for p in inspect.signature(value).parameters if p not in {"args", "kwargs"}]
    # "name : type", "one, other : type", or "one, other" where the next line says where they are.
    lines = re.findall(r"^(\w+(?:, \w+)*)(?: : .*)?$", text, re.MULTILINE)
    described = {word for line in lines for word in line.split(", ")}
    assert set(parameters) <= described, f"{name}: numpydoc line 'name : type' missing"


def test_unknown_names_are_refused():
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = forecaster.no_such_name


def test_dir_lists_the_public_names():
    assert dir(forecaster) == sorted(forecaster.__all__)


def test_version_is_the_installed_one():
    assert forecaster.__version__ == importlib.metadata.version("crossday")


def test_type_checkers_see_the_same_names_at_the_same_homes():
    """The TYPE_CHECKING block and the table of homes say one thing twice; they must agree."""
    tree = ast.parse(Path(forecaster.__file__).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    assert ast.unparse(block.test) == "TYPE_CHECKING"
    seen = {
        alias.asname: node.module
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.asname == alias.name
    }
    assert seen == forecaster._HOME


def test_importing_the_package_is_cheap():
    """Names load when first used, so that the command's help stays quick."""
    code = (
        "import sys, forecaster; "
        "print(*sorted({'numpy', 'pandas', 'scipy', 'matplotlib'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == ""


def test_running_as_a_module_is_the_same_command():
    door = importlib.import_module("forecaster.__main__")
    cli = importlib.import_module("forecaster.cli")
    assert door.main is cli.main
