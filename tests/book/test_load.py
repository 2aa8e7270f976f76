"""A book of 20 years of hourly readings of five beds, beside sqlite3 alone."""

import importlib.util
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / "scripts" / "bench_book.py"


def bench():
    spec = importlib.util.spec_from_file_location("bench_book", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_twenty_years_are_read_back_whole(tmp_path):
    found = bench().measure(tmp_path, 20)
    print(found)  # noqa: T201 - figures for DEVELOPERS.md
    assert found["rows"] == 876_600


def test_the_same_for_one_year_runs(tmp_path):
    assert bench().measure(tmp_path, 1)["rows"] == 43_830
