"""Layouts found, and tables loaded by the fast and the slow way alike."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.ground.errors import FileError
from forecaster.ingest.text import columns as col
from forecaster.ingest.text import table as table_module
from forecaster.ingest.text.bytes import Source
from forecaster.ingest.text.cells import numbers
from forecaster.ingest.text.dialect import sniff, split
from forecaster.ingest.text.grid import grid_of
from forecaster.ingest.text.strict_csv import read_strictly
from forecaster.ingest.text.table import read_table

ALL = lambda _place, _meaning: True  # noqa: E731


def source(text):
    return Source("log.csv", text.encode(), "UTF-8")


@pytest.mark.parametrize(
    ("text", "delimiter", "heading", "first", "decimal"),
    [
        ("date,t\n2024-05-01,1.5\n", ",", 1, 2, "."),
        ("Name: x\nRate: 15 min\n\ndate;t\n1.5.2024;1,5\n", ";", 4, 5, ","),
        ("date\tt\n2024-05-01\t1,5\n", "\t", 1, 2, ","),
        ("date|t\n2024-05-01|1.5\n", "|", 1, 2, "."),
        ("date t\n2024-05-01 1.5\n", r"\s+", 1, 2, "."),
        ("date        soil temp\n2024-05-01  1.5\n2024-05-02  2\n", r"\s{2,}", 1, 2, "."),
        ("date,t\nyyyy-mm-dd,degC\n2024-05-01,1.5\n", ",", 1, 3, "."),
        ("# date,t\n2024-05-01,1.5\n", ",", 1, 2, "."),
        ("2024-05-01,1.5\n2024-05-02,1.6\n", ",", 0, 1, "."),
        ("when,value read\n2024-05-01,1.5\n", ",", 1, 2, "."),
        ("YEAR,MO,DY,T2M_MAX,T2M_MIN\n2024,5,1,20.5,8.1\n", ",", 1, 2, "."),
        ("x\n" * 300 + "date,t\n2024-05-01,1.5\n", ",", 301, 302, "."),
    ],
)
def test_layouts(text, delimiter, heading, first, decimal):
    found = sniff(source(text))
    assert found.delimiter == delimiter
    assert (found.heading_line, found.first_line) == (heading, first)
    assert found.decimal == decimal


def test_units_below_the_heading_join_it():
    assert sniff(source("date,t\n-,(°C)\n2024-05-01,1.5\n")).headings == ("date (-)", "t (°C)")


def test_text_without_data_is_refused():
    with pytest.raises(FileError, match="no line with a date and a number"):
        sniff(source("some words\nand more\n"))


def test_a_heading_over_date_and_time_is_parted():
    table = read_table(source("datetime temp\n2024-05-01 07:40 1.5\n2024-05-02 07:41 2\n"), ALL)
    assert [m.role for m in table.meanings] == [col.DATE, col.TIME, col.TEMP]


def test_roles_are_corrected_by_content():
    table = read_table(source("time,t\n2024-05-01,1.5\n"), ALL)
    assert table.meanings[0].role == col.DATE
    table = read_table(source("time,t\n1714521600,1.5\n"), ALL)
    assert table.meanings[0].role == col.DATE
    table = read_table(source("date,t\n45730.5,1.5\n"), ALL)
    assert table.meanings[0].role == col.DATE
    table = read_table(source("year,month,date,t_max,t_min\n2024,5,1,9.5,1.5\n"), ALL)
    assert table.meanings[2].role == col.DAY
    table = read_table(source("date,date,t\n2024-05-01,07:40,1.5\n"), ALL)
    assert table.meanings[1].role == col.TIME
    table = read_table(source("when,temp\n2024-05-01,1.5\n"), ALL)
    assert table.meanings[0].role == col.DATE


CELL = st.sampled_from(["1.5", "-2", "", "---", "abc", "NaN", "61.5F", " 3 ", "-9999", "7,5"])
ROW = st.tuples(st.sampled_from(["2024-05-01", "2024-05-02", "", "nonsense"]), CELL, CELL)


@given(st.lists(ROW, min_size=1, max_size=12), st.sampled_from(",;\t|"))
def test_the_fast_way_and_the_slow_way_agree(rows, delimiter):
    lines = [delimiter.join(("date", "t_a", "t_b")), delimiter.join(("2024-04-01", "1", "2"))]
    lines += [delimiter.join(f'"{c}"' if delimiter in c else c for c in row) for row in rows]
    text = source("\n".join(lines) + "\n")
    fast = read_table(text, ALL)
    keep = table_module._fast, table_module.grid_of
    table_module._fast = lambda *_: None
    try:
        slow = read_table(text, ALL)
    finally:
        table_module._fast, table_module.grid_of = keep
    assert slow.tally.lines.tolist() == fast.tally.lines.tolist()
    assert fast.tally.live.all()
    assert slow.texts(0).tolist() == fast.texts(0).tolist()
    for k in (1, 2):
        one, other = numbers(slow.cells[k]), numbers(fast.cells[k])
        for name in ("value", "blank", "coded", "bad"):
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name), name)


def test_uneven_rows_are_counted_with_their_lines():
    table = read_table(
        source('date,t\n2024-05-01,1\n\n2024-05-02,2,3,4\n# note\n2024-05-03\n2024-05-04,"5\n'), ALL
    )
    assert table.tally.lines.tolist() == [2, 4, 6, 7]
    assert table.tally.live.tolist() == [True, False, True, True]
    (refusal,) = table.tally.listed()
    assert (refusal.line, refusal.reason) == (4, "more cells than the 2 expected: '4'")


def test_rows_of_nothing_but_commas_are_no_rows():
    table = read_table(source("date,t\n2024-05-01,1\n,\n,\n2024-05-02,2\n"), ALL)
    assert table.tally.lines.tolist() == [2, 5]


def test_a_trailing_delimiter_is_no_cell():
    table = read_table(source("date,t\n2024-05-01,1,\n2024-05-02,2,\n"), ALL)
    assert table.tally.live.tolist() == [True, True]
    assert table.cells[1].tolist() == [1.0, 2.0]


def test_grid_gives_the_cells():
    grid = grid_of(b"a,bb\nccc,\n,d", ",", 2)
    assert grid.column(0).tolist() == [b"a", b"ccc", b""]
    assert grid.column(1).tolist() == [b"bb", b"", b"d"]
    assert grid_of(b"a,b\nc\n", ",", 2) is None
    assert grid_of(b"a\nb,c,d\n", ",", 2) is None
    assert grid_of(b'a,"b"\n', ",", 2) is None


def test_strict_reading_refuses_what_it_would_lose():
    assert read_strictly(b"1,2\n3,4", [0, 1]).to_numpy().tolist() == [[1, 2], [3, 4]]
    for body in (b"1,2,3\n4,5,6\n", b"1,2\n3,4,5\n", b'1,"2\n3,4\n'):
        with pytest.raises(ValueError, match=r"."):
            read_strictly(body, [0, 1])


def test_splitting_one_line():
    assert split('a,"b,c", d', ",") == ["a", "b,c", "d"]
    assert split("a  b c", r"\s{2,}") == ["a", "b c"]
    assert split("a  b c", r"\s+") == ["a", "b", "c"]


def test_lines_keep_their_numbers_in_long_files():
    rows = [f"2024-05-{k % 28 + 1:02d},{k}" for k in range(5000)]
    rows[4000] = "2024-05-01,1,2"
    table = read_table(source("date,t\n" + "\n".join(rows)), ALL)
    assert np.array_equal(table.tally.lines, np.arange(5000) + 2)
    assert [r.line for r in table.tally.listed()] == [4002]
