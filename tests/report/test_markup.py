"""Text becomes markup in one place, and nothing in it can become more than text."""

import html5lib
from hypothesis import given
from hypothesis import strategies as st

from forecaster.report.markup import Piece, bullets, el, folded, section, table, text


def parsed(piece: str):
    page = (
        f'<!DOCTYPE html><html lang="en"><head><title>t</title></head><body>{piece}</body></html>'
    )
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)


@given(st.text(min_size=1))
def test_any_text_reads_back_and_makes_no_element(words):
    body = parsed(el("p", words, title=words)).find("body")
    (paragraph,) = list(body)
    assert list(paragraph) == []
    assert paragraph.attrib.keys() == {"title"}
    kept = words.replace("\r\n", "\n").replace("\r", "\n")
    shown = paragraph.text
    assert len(shown) == len(kept)
    same = [b in {a, "\ufffd"} for a, b in zip(kept, shown, strict=True)]
    assert all(same)


def test_pieces_are_not_escaped_twice():
    assert el("p", text("a & b"), el("b", "<")) == "<p>a &amp; b<b>&lt;</b></p>"
    assert isinstance(el("p"), Piece)


def test_attributes_are_left_out_stand_alone_or_have_a_value():
    assert el("a", "x", class_="c", aria_label='"', hidden=True, id=None, open=False) == (
        '<a class="c" aria-label="&quot;" hidden>x</a>'
    )


def test_nothing_to_say_makes_no_section_and_no_list():
    assert section("a", "A", bullets([]), None) == ""
    assert bullets(["", "x"]) == "<ul><li>x</li></ul>"


def test_a_table_names_its_rows_columns_and_itself():
    made = parsed(table("Chances", ("Day", "Chance"), [("1 May", "5 %")]))
    assert made.find(".//caption").text == "Chances"
    assert [th.attrib["scope"] for th in made.iter("th")] == ["col", "col", "row"]
    assert [td.text for td in made.iter("td")] == ["5 %"]


def test_what_is_folded_has_a_summary():
    assert folded("More", el("p", "x")) == "<details><summary>More</summary><p>x</p></details>"
