"""Cells to numbers."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.ingest.text.cells import MISSING_TENTHS, cells_to_celsius, numbers, parse_cell


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("61.5F", (61.5, "F")),
        ("16,5 °C", (16.5, "C")),
        ("52 deg F", (52.0, "F")),
        ("52 degrees Fahrenheit", (52.0, "F")),
        ("~52", (52.0, "")),
        ("52?", (52.0, "")),
        ("−3.5", (-3.5, "")),
        ("61.5°", (61.5, "")),
        ("288.1 K", (288.1, "K")),
        ("+4", (4.0, "")),
        (".5", (0.5, "")),
        ("1e1", (10.0, "")),
        ("abc", None),
        ("12 cats", None),
        ("1.2.3", None),
        ("", None),
    ],
)
def test_one_cell(cell, expected):
    assert parse_cell(cell) == expected


def test_a_column_counts_what_it_cannot_use():
    column = pd.Series(["1.5", None, "---", "-9999", "cat", "50F", "inf"], dtype=object)
    found = numbers(column)
    assert found.value[[0, 5]].tolist() == [1.5, 50.0]
    assert found.blank.tolist() == [False, True, True, False, False, False, False]
    assert found.coded.tolist() == [False, False, False, True, False, False, False]
    assert found.bad.tolist() == [False, False, False, False, True, False, True]
    assert np.isnan(found.value).sum() == 5
    assert cells_to_celsius(found, "C")[[0, 5]].tolist() == [1.5, 10.0]


def test_truth_values_are_no_numbers():
    assert numbers(pd.Series([True, False])).bad.all()


def test_minus_99_is_a_code_in_degrees_but_not_in_tenths():
    column = pd.Series([-99.0, -9999.0, 20.0])
    assert np.isnan(numbers(column).value).tolist() == [True, True, False]
    assert np.isnan(numbers(column, MISSING_TENTHS).value).tolist() == [False, True, False]


@given(st.floats(-90, 140).map(lambda x: round(x, 2)), st.sampled_from(["F", "C", "K", ""]))
def test_numbers_with_units_read_back(value, unit):
    for spelled in (f"{value}{unit}", f"{value} °{unit}", str(value).replace(".", ",") + unit):
        assert parse_cell(spelled) == (value, unit)
