"""Examples in docstrings print what they say."""

import doctest
import importlib
import pkgutil

import pytest

import forecaster

MODULES = sorted(
    module.name for module in pkgutil.walk_packages(forecaster.__path__, "forecaster.")
)


@pytest.mark.parametrize("name", ["forecaster", *MODULES])
def test_examples_of_a_module(name):
    flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    assert doctest.testmod(importlib.import_module(name), optionflags=flags).failed == 0
