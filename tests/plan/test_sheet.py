"""The planting sheet on paper, read off the PDF as a ruler on the print would."""

import re
from collections import Counter
from functools import cache

import numpy as np
import pytest

from forecaster.charts.scatter import build_scatter, overview_feet
from forecaster.charts.sheet import LETTER_PT, PAGE_IN, build_sheet, draw_sheet, sheet_pdf
from forecaster.charts.sheet_words import how_to, string_table
from forecaster.charts.style import PAPER
from forecaster.ground.errors import InputError
from forecaster.ground.units import METRES_PER_FOOT
from forecaster.plan.layout.scatter import lay_out
from forecaster.plan.layout.shapes import circle, polygon, rectangle, strip
from forecaster.plan.layout.sheet import LEAST_GAP_IN, sheet_of
from tests.pdf_lines import pages_of

FOOT = METRES_PER_FOOT
PT_AN_INCH = 72.0


@pytest.fixture(scope="module")
def long_bed():
    counts = {"yellow": 60, "white": 40, "burgundy": 20}
    return lay_out(rectangle(4 * FOOT, 16 * FOOT), counts, 8 * 0.0254, seed=1)


@pytest.fixture(scope="module")
def pdf(long_bed):
    return sheet_pdf(long_bed, "Long bed")


@pytest.fixture(scope="module")
def pages(pdf):
    return pages_of(pdf)


BEDS = {
    "round": (circle(6 * FOOT), 40, 0.2),
    "ring": (strip(circle(3.0), 0.6), 20, 0.4),
    "wide": (rectangle(20 * FOOT, 5 * FOOT), 30, 0.3),
    "odd": (polygon([(0, 0), (5, 0), (6, 3), (1, 4)]), 30, 0.4),
    "close": (rectangle(0.6, 1.0), 20, 0.09),
    "sparse": (rectangle(9.0, 20.0), 20, 1.2),
}


@cache
def bed_of(name):
    outline, each, spacing_m = BEDS[name]
    return lay_out(outline, {"pink": each, "blue": each + 1}, spacing_m)


@pytest.fixture(params=BEDS)
def bed(request):
    return bed_of(request.param)


def test_the_printed_bar_measures_what_it_says(pages):
    """A ruler on the print: 5 in are 360 points, on every page that has the bar."""
    with_bar = [pages[0], *pages[2:]]
    assert len(with_bar) == 3
    for page in with_bar:
        assert any("12.7 cm" in words for words, *_ in page.texts)
        bar = [length for length in page.across() if 300 < length < 500]
        assert bar == pytest.approx([5 * PT_AN_INCH], abs=0.01)


def test_pages_fit_letter_and_a4_alike(pages):
    """Letter is 8.5 by 11 in, A4 210 by 297 mm (ISO 216)."""
    for page in pages:
        assert page.size == pytest.approx([side * PT_AN_INCH for side in PAGE_IN])
        assert page.size[0] <= min(8.5 * PT_AN_INCH, 210 / 25.4 * PT_AN_INCH) + 0.2
        assert page.size[1] <= min(11 * PT_AN_INCH, 297 / 25.4 * PT_AN_INCH) + 0.2


def plants_on(page) -> list[tuple[str, float, float]]:
    """Letters of plants on a page: those of the plants' own size."""
    return [
        (words, x, y)
        for words, size, x, y in page.texts
        if words in ("A", "B", "C") and size == pytest.approx(LETTER_PT)
    ]


def test_every_plant_stands_once_and_to_scale(long_bed, pages):
    """1 in of paper is 1 ft of bed: from letter to letter as many points as the bed has feet."""
    sheet = sheet_of(long_bed)
    assert sheet.feet_an_inch == 1.0
    tiles = pages[-len(sheet.tiles) :]
    seen = Counter()
    for page, tile in zip(tiles, sheet.tiles, strict=True):
        own = sheet.on(tile)
        found = plants_on(page)
        for k, letter in enumerate("ABC"):
            wanted = sheet.points_m[own[long_bed.colour[own] == k]] / FOOT * PT_AN_INCH
            drawn = np.array([(x, y) for words, x, y in found if words == letter])
            seen[letter] += len(wanted)
            assert len(wanted) > 3
            assert _matched(wanted, drawn) < 0.05, letter
    assert [seen[letter] for letter in "ABC"] == [60, 40, 20]


def _matched(wanted: np.ndarray, drawn: np.ndarray) -> float:
    """Worst distance, points, of plants wanted from those drawn; one shift for all is taken off.

    The shift is where the page begins, and half a letter.
    """
    best = np.inf
    for start in drawn:
        moved = wanted - wanted[0] + start
        apart = np.hypot(*(moved[:, None] - drawn[None]).transpose(2, 0, 1)).min(axis=1)
        best = min(best, float(apart.max()))
    return best


def test_letters_can_be_read_at_arms_length(long_bed, pages):
    """20 minutes of arc at 65 cm: 3.8 mm of capital, 0.73 of the size in this face."""
    cap_mm = 0.729 * LETTER_PT / PT_AN_INCH * 25.4
    assert cap_mm >= 2 * 650 * np.tan(np.radians(20 / 60 / 2))
    tiles = pages[-len(sheet_of(long_bed).tiles) :]
    assert sum(len(plants_on(page)) for page in tiles) >= 120


def test_no_panel_is_printed(pdf, pages):
    cream = tuple(round(int(PAPER[k : k + 2], 16) / 255, 3) for k in (1, 3, 5))
    assert all(cream not in page.fills for page in pages)


def test_the_pdf_ends_as_the_standard_asks(pdf):
    """ISO 32000-1, 7.5.5: the last line is the end-of-file marker; startxref says where xref is."""
    assert pdf.rstrip().endswith(b"%%EOF")
    at = int(re.findall(rb"startxref\s+(\d+)", pdf)[-1])
    assert pdf[at : at + 4] == b"xref"


def test_the_table_counts_every_plant_once(bed):
    sheet = sheet_of(bed)
    assert sheet.counts.sum(axis=(0, 1)).tolist() == [bed.count(name) for name in bed.names]
    heads, body, sums = string_table(sheet)
    assert (len(body.cells), len(heads)) == sheet.counts.shape[:2]
    said = Counter()
    for cell in (cell for row in body.cells for cell in row):
        for n, letter in re.findall(r"(\d+)([A-H])", cell):
            said[letter] += int(n)
    carried = Counter()
    for total in sums:
        for n, letter in re.findall(r"(\d+)([A-H])", total):
            carried[letter] += int(n)
    assert said == carried == {k: bed.count(n) for k, n in zip("AB", bed.names, strict=True)}


def test_a_plant_is_counted_in_the_square_it_stands_in(bed):
    sheet = sheet_of(bed)
    rows, columns = sheet.counts.shape[:2]
    for r in range(rows):
        for c in range(columns):
            x, y = sheet.points_m.T
            inside = (x >= sheet.columns_m[c]) & (x < sheet.columns_m[c + 1])
            inside &= (y >= sheet.rows_m[r]) & (y < sheet.rows_m[r + 1])
            assert inside.sum() == sheet.counts[r, c].sum()


def test_pages_cover_the_bed_without_lying_on_each_other(bed):
    sheet = sheet_of(bed)
    covered = np.zeros(sheet.counts.shape[:2], dtype=int)
    for tile in sheet.tiles:
        covered[tile.first[1] : tile.last[1], tile.first[0] : tile.last[0]] += 1
    assert (covered == 1).all()
    assert sorted(np.concatenate([sheet.on(tile) for tile in sheet.tiles])) == list(
        range(len(sheet.points_m))
    )


def test_neighbours_leave_room_for_letters_where_any_scale_does(bed):
    sheet = sheet_of(bed)
    assert bed.least_m / FOOT / sheet.feet_an_inch >= LEAST_GAP_IN


def test_match_marks_of_a_number_lie_at_one_place_of_the_bed():
    """Each number stands on the pages that meet there, and nowhere else."""
    found: dict[str, list[tuple[float, float]]] = {}
    figures = list(build_sheet(bed_of("round")))
    for figure in figures:
        for axes in figure.axes:
            marks = [line for line in axes.get_lines() if line.get_label() == "match"]
            numbers = [text for text in axes.texts if text.get_text().isdigit()]
            for mark, number in zip(marks, numbers, strict=True):
                (place,) = mark.get_xydata()
                found.setdefault(number.get_text(), []).append(tuple(np.round(place, 6)))
    assert found
    assert all(len(set(places)) == 1 and len(places) >= 2 for places in found.values())


def test_a_circle_is_counted_from_its_stake_in_the_centre():
    bed = bed_of("round")
    sheet = sheet_of(bed)
    assert sheet.centred
    assert 0.0 in sheet.columns_m.tolist()
    steps = " ".join(how_to(sheet))
    assert "stake in the centre" in steps
    assert "corner" not in steps
    said = " ".join(text.get_text() for text in build_scatter(bed).texts)
    assert "from the centre" in said
    assert "corner" not in said


def test_the_picture_has_a_bar_as_long_as_it_says(long_bed):
    figure = build_scatter(long_bed)
    figure.canvas.draw()
    bar = next(
        line for axes in figure.axes for line in axes.get_lines() if line.get_label() == "bar"
    )
    box = bar.get_window_extent().transformed(figure.dpi_scale_trans.inverted())
    plants = figure.axes[0]
    inch = plants.get_window_extent().transformed(figure.dpi_scale_trans.inverted()).height
    feet = np.ptp(plants.get_ylim()) / FOOT
    assert feet / inch == pytest.approx(overview_feet(long_bed))
    assert np.ptp(bar.get_xdata()) == 2.0
    said = " ".join(text.get_text() for text in figure.texts)
    assert f"{2 * overview_feet(long_bed):g} ft: 2 in (5.1 cm)" in said
    assert box.width == pytest.approx(2.0, abs=0.05)  # the line's own width is in its box


def test_sheet_and_table_are_written_and_nothing_of_others_is_lost(long_bed, tmp_path):
    path = tmp_path / "sheet.pdf"
    words = draw_sheet(long_bed, path, "Long bed").read_text(encoding="utf-8")
    assert "Print at actual size" in words
    assert "15–16" in words
    draw_sheet(long_bed, path, "Long bed")  # ours: written over
    path.write_bytes(b"%PDF-1.7 another's")
    with pytest.raises(InputError, match="not written by this command"):
        draw_sheet(long_bed, path, "Long bed")
