"""The scatter: counts kept, distance kept, inside the bed, no clump; colours against the soil."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import pdist

from forecaster.charts.scatter import (
    build_scatter,
    describe_scatter,
    draw_scatter,
    vanishing_words,
)
from forecaster.ground.errors import InputError
from forecaster.plan import circle, polygon, rectangle, strip
from forecaster.plan.layout.lightness import colours, lightness, seen, srgb_of
from forecaster.plan.layout.scatter import (
    chance_share,
    largest_clump,
    lay_out,
    neighbours,
    same_share,
)

BORDER = rectangle(1.2192, 7.62)
CORNER = polygon([(0, 0), (4, 0), (0, 4)])
THREE = {"yellow": 72, "purple": 72, "white": 81}


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from([circle(1.5), BORDER, strip(rectangle(3, 4), 0.8), CORNER]),
    st.lists(st.integers(1, 25), min_size=1, max_size=4),
    st.integers(0, 99),
)  # fmt: skip
def test_counts_places_and_distances_are_kept(bed, numbers, seed):
    counts = {f"#{k:02x}0000": n for k, n in enumerate(numbers)}
    found = lay_out(bed, counts, 0.2, seed=seed)
    assert {name: found.count(name) for name in counts} == counts
    assert bed.inside(found.points_m).all()
    assert (bed.edge_distance_m(found.points_m) >= 0.1 - 1e-9).all()
    assert found.least_m <= 0.2
    if len(found.points_m) > 1:
        assert pdist(found.points_m).min() >= found.least_m * (1 - 1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_no_clump_stands_out(seed):
    """The criterion, measured anew on draws of this test's own."""
    found = lay_out(BORDER, THREE, 0.2032, seed=seed)
    pairs = neighbours(found.points_m)
    rng = np.random.default_rng(1000 + seed)
    draws = [rng.permutation(found.colour) for _ in range(200)]
    chance = np.mean([same_share(draw, pairs) for draw in draws])
    clumps = [largest_clump(draw, pairs) for draw in draws]
    assert found.even
    assert same_share(found.colour, pairs) <= chance + 0.01
    assert largest_clump(found.colour, pairs) <= np.quantile(clumps, 0.25)


def test_as_many_as_a_square_grid_stand_nearly_as_far_apart():
    """Measured: 225 plants where a grid at 8 in holds 222; above three quarters of it is kept."""
    found = lay_out(BORDER, THREE, 0.2032, seed=3)
    assert found.least_m >= 0.75 * 0.2032


def test_rows_do_not_show():
    """No lines are drawn up: across the bed plants stand at many heights, not in 37 rows."""
    found = lay_out(BORDER, THREE, 0.2032, seed=3)
    phase = np.exp(2j * np.pi * found.points_m[:, 1] / 0.2032)
    assert abs(phase.mean()) < 0.3


def test_same_seed_same_scatter_other_seed_another():
    one, again, other = (
        lay_out(circle(1.0), {"red": 12, "white": 9}, 0.2, seed=s) for s in (4, 4, 5)
    )
    assert np.array_equal(one.points_m, again.points_m)
    assert np.array_equal(one.colour, again.colour)
    assert not np.array_equal(one.points_m, other.points_m)


def test_share_by_chance_by_hand():
    """Two of each of two colours: of six pairs two match."""
    colour = np.array([0, 0, 1, 1])
    assert chance_share(colour) == pytest.approx(1 / 3)
    square = np.array([[0, 1], [1, 2], [2, 3], [0, 3]])
    assert same_share(colour, square) == pytest.approx(0.5)
    assert largest_clump(np.array([0, 0, 0, 1]), square) == 3


def test_neighbours_of_plants_in_one_line():
    line = np.column_stack([np.arange(5.0), np.zeros(5)])
    assert neighbours(line).tolist() == [[0, 1], [1, 2], [2, 3], [3, 4]]


@pytest.mark.parametrize(
    ("counts", "why"),
    [({}, "0 plants"), ({"red": 0}, "whole number"), ({"red": 2.5}, "whole number"),
     ({"red": 9999}, "expected 1 to"), ({"red": 900}, "do not fit")],
)  # fmt: skip
def test_what_cannot_be_laid_out_is_refused(counts, why):
    with pytest.raises(InputError, match=why):
        lay_out(circle(1.0), counts, 0.2)


# --- lightness ---


@pytest.mark.parametrize(
    ("srgb", "printed"),
    [("#ffffff", 100.0), ("#000000", 0.0), ("#ff0000", 53.24), ("#00ff00", 87.73),
     ("#0000ff", 32.30), ("#808080", 53.59), ("#777777", 50.03)],
)  # fmt: skip
def test_lightness_of_known_colours(srgb, printed):
    """CIE L* of sRGB primaries and greys as colour tables print them (from memory)."""
    # Tables take the luminance weights with more digits than the standard's four: 0.008 apart.
    assert lightness(srgb) == pytest.approx(printed, abs=0.015)


def test_lightness_rises_with_grey():
    greys = [lightness(f"#{k:02x}{k:02x}{k:02x}") for k in range(256)]
    assert (np.diff(greys) > 0).all()


def test_ground_is_as_dark_as_its_munsell_value():
    """Munsell value 3 is L* 30.4 and 2.5 is 25.5 by the polynomial of ASTM D1535 (from memory)."""
    for name, value in (("soil", 3.0), ("bark", 2.5)):
        y = 1.1914 * value - 0.22533 * value**2 + 0.23352 * value**3
        y += -0.020484 * value**4 + 0.00081939 * value**5
        by_munsell = 116.0 * (y / 100.0) ** (1 / 3) - 16.0
        # A drawn colour is whole steps of 1/255 in each channel, and the value itself is rough.
        assert lightness(colours("ground")[name]) == pytest.approx(by_munsell, abs=1.5)


def test_dark_colours_vanish_and_light_ones_do_not():
    assert [seen(name).vanishes for name in ("purple", "burgundy", "white", "yellow")] == [
        True, True, False, False,
    ]  # fmt: skip
    assert seen("#ffffff", "#ffffff").vanishes


@pytest.mark.parametrize("name", ["", "mauve-ish", "#12345", "#gggggg", "red; drop"])
def test_a_colour_that_is_none_is_refused(name):
    with pytest.raises(InputError):
        srgb_of(name)


def test_an_unknown_ground_is_refused():
    with pytest.raises(InputError, match="ground 'moss'"):
        seen("red", "moss")


# --- the sheet ---


@pytest.fixture(scope="module")
def layout():
    return lay_out(circle(1.5), {"yellow": 30, "burgundy": 20, "white": 25}, 0.2, seed=7)


def test_the_sheet_shows_every_plant_where_it_stands(layout):
    figure = build_scatter(layout, "Round bed")
    axes = figure.axes[0]
    for k, name in enumerate(layout.names):
        (line,) = [line for line in axes.lines if line.get_label() == name]
        from_centre = layout.points_m[layout.colour == k] - 1.5
        np.testing.assert_allclose(line.get_xydata(), from_centre, atol=1e-9)
    shapes = {line.get_marker() for line in axes.lines if line.get_label() in layout.names}
    assert len(shapes) == 3, "in grey only shapes tell colours apart"


def test_the_sheet_is_to_scale(layout):
    """A foot is as long across as along, and as long as the sheet says."""
    figure = build_scatter(layout)
    axes = figure.axes[0]
    figure.canvas.draw()
    inches = axes.get_window_extent().transformed(figure.dpi_scale_trans.inverted())
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    across, along = inches.width / (x1 - x0), inches.height / (y1 - y0)
    assert across == pytest.approx(along)
    said = " ".join(text.get_text() for text in figure.texts)
    assert f"{2 / across / 0.3048:.1f} ft: 2 in (5.1 cm)".replace(".0 ft", " ft") in said


def test_a_long_bed_stands_upright():
    bed = rectangle(9.0, 1.5)
    wide = lay_out(bed, {"white": 40}, 0.3)
    axes = build_scatter(wide).axes[0]
    assert np.diff(axes.get_ylim())[0] > 3 * np.diff(axes.get_xlim())[0]
    turned = np.column_stack([1.5 - wide.points_m[:, 1], wide.points_m[:, 0]])
    np.testing.assert_allclose(axes.lines[-1].get_xydata(), turned)


@pytest.mark.parametrize("corners", [[(0, 0), (9, 0), (9, 2), (0, 5)], [(1, 2), (3, 2), (2, 9)]])
def test_a_bed_is_turned_but_never_mirrored(corners):
    """The outline runs round the same way on the sheet: the sign of its shoelace area is kept."""
    bed = lay_out(polygon(corners), {"white": 12}, 0.3)
    outline = next(
        line.get_xydata()[:-1]
        for line in build_scatter(bed).axes[0].lines
        if len(line.get_xydata()) == len(corners) + 1 and line.get_label().startswith("_")
    )

    def signed(ring):
        x, y = np.asarray(ring, dtype=float).T
        return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2

    assert signed(outline) == pytest.approx(signed(corners))


@pytest.mark.parametrize("ending", [".png", ".svg"])
def test_sheet_and_words_are_written(layout, tmp_path, ending):
    path = tmp_path / f"sheet{ending}"
    beside = draw_scatter(layout, path, "Round bed")
    assert path.stat().st_size > 10_000
    words = beside.read_text(encoding="utf-8")
    assert "30 yellow plants, 20 burgundy plants and 25 white plants" in words
    assert "Burgundy will hardly show" in words
    assert "nan" not in words.lower()


def test_words_and_sheet_of_one_plant():
    one = lay_out(circle(0.5), {"white": 1}, 0.2)
    assert "1 white plant," in describe_scatter(one)
    assert vanishing_words(one) == ""
    build_scatter(one)


def test_sheets_that_cannot_be_drawn_are_refused(layout, tmp_path):
    with pytest.raises(InputError, match=r"\.png or \.svg"):
        draw_scatter(layout, tmp_path / "sheet.gif")
    many = lay_out(circle(1.0), {f"#{k}0{k}0{k}0": 1 for k in range(9)}, 0.2)
    with pytest.raises(InputError, match="9 colours"):
        build_scatter(many)
