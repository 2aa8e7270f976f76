"""One wrapper for every text: what fits, what stays together, what stays as it was."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.words.layout import wrap

WORDS = (
    "the",
    "soil",
    "settles",
    "between",
    "about",
    "most",
    "likely",
    "and",
    "(at",
    "dawn);",
    "x",
)
UNITS = (
    "°F", "°C", "%", "in", "ft", "cm", "m", "mm", "lb", "cu ft", "days", "weeks", "April", "May",
    "plants", "readings", "flats", "minutes",
)  # fmt: skip
NUMBERS = st.one_of(
    st.integers(0, 999).map(str),
    st.decimals(-40, 120, places=1).map(str),
    st.integers(1, 30).map(lambda n: f"±{n}"),
)
MEASURES = st.builds(lambda number, unit: f"{number} {unit}", NUMBERS, st.sampled_from(UNITS))
CHANCES = st.builds(
    lambda n, of: f"{n} in {of}", st.integers(0, 9), st.sampled_from((2, 5, 10, 20, 100))
)
HELD = st.one_of(MEASURES, CHANCES)
TEXTS = st.lists(st.one_of(st.sampled_from(WORDS), HELD), min_size=1, max_size=40)


@given(TEXTS, st.integers(30, 88), st.sampled_from(("", "  ", "    ")), st.booleans())
def test_a_number_stays_with_its_unit_and_a_chance_whole(parts, width, indent, point):
    text = ("· " if point else "") + " ".join(parts)
    lines = wrap(text, width, indent).split("\n")
    assert " ".join(line.strip() for line in lines) == text
    assert all(len(line) <= width for line in lines)
    assert all(line.startswith(indent) for line in lines)
    for part in parts:
        if re.search(r"\d", part):
            held = part.replace("cu ft", "cu")  # what is counted is one word
            assert any(held in line for line in lines), part


@given(st.text(st.characters(exclude_categories=("C", "Z")), min_size=1), st.integers(30, 88))
def test_one_word_is_one_line_unless_it_is_longer(word, width):
    lines = wrap(word, width).split("\n")
    assert len(lines) == -(-len(word) // width)
    assert wrap(word, width, break_long=False) == word


@pytest.mark.parametrize(
    ("text", "held"),
    [
        ("Settles below 65 °F: 99 chances in 100.", ("65 °F:", "99 chances")),
        ("Usually 12 April, 8 in 10 between 5 and 19.", ("12 April,", "8 in 10", "5 and")),
        ("It is ±1.9 °F (4 in 5), falling.", ("±1.9 °F", "(4 in 5),")),
        ("Soil 4 in (10 cm) down, 36.2° S 146.6° E.", ("4 in", "(10 cm)", "36.2° S", "146.6° E.")),
        ("Worth most at 15:00 standard time, 6 in down.", ("6 in",)),
        ("Issued 16 March 2026.", ("16 March 2026.",)),
    ],
)  # fmt: skip
def test_sentences_of_ours_at_every_width(text, held):
    for width in range(16, 88):
        lines = wrap(text, width).split("\n")
        assert [part for part in held if not any(part in line for line in lines)] == [], width


def test_hanging_lines():
    text = "one two three four five six"
    assert wrap(text, 14) == "one two three\nfour five six"
    assert wrap(text, 14, "  ") == "  one two\n    three four\n    five six"
    assert wrap(f"· {text}", 14) == "· one two\n  three four\n  five six"
    assert wrap(text, 14, hang=" ") == "one two three\n four five six"


def test_a_table_stays_as_it_is():
    table = "a    1\nbb  22 °F and more than fits into the width"
    assert wrap(table, 12, "  ") == "  " + table.replace("\n", "\n  ")
