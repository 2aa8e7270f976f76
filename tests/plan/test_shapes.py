"""Outlines: areas and edges by hand, by theorem, and by counting."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.ground.errors import InputError
from forecaster.plan import circle, polygon, read_outline, rectangle, strip

FOOT = 0.3048
SIDE = st.floats(0.2, 50.0)


@given(SIDE, SIDE)
def test_a_rectangle_is_the_polygon_of_its_corners(width, length):
    plain, drawn = (
        rectangle(width, length),
        polygon([(0, 0), (width, 0), (width, length), (0, length)]),
    )
    assert plain.area_m2 == pytest.approx(drawn.area_m2)
    assert plain.perimeter_m == pytest.approx(drawn.perimeter_m)


@given(SIDE, SIDE, SIDE)
def test_a_strip_and_its_lawn_make_the_whole(width, length, wide):
    lawn = rectangle(width, length)
    whole = rectangle(width + 2 * wide, length + 2 * wide)
    around = strip(lawn, wide)
    assert around.area_m2 + lawn.area_m2 == pytest.approx(whole.area_m2)
    assert around.perimeter_m == pytest.approx(whole.perimeter_m + lawn.perimeter_m)


@given(SIDE, SIDE)
def test_a_ring_is_the_difference_of_two_circles(radius, wide):
    around = strip(circle(radius), wide)
    assert around.area_m2 == pytest.approx(math.pi * ((radius + wide) ** 2 - radius**2))


@given(st.integers(3, 9), st.floats(0.5, 20.0), st.floats(0.0, 6.0))
def test_area_and_edge_do_not_turn_with_the_polygon(corners, radius, angle):
    """A regular polygon by its formula, n·r²·sin(2π/n)/2, whichever way it is turned or listed."""
    at = angle + 2 * np.pi * np.arange(corners) / corners
    ring = radius * np.column_stack([np.cos(at), np.sin(at)])
    area = corners * radius**2 * math.sin(2 * math.pi / corners) / 2
    for order in (ring, ring[::-1], np.roll(ring, 2, axis=0), np.vstack([ring, ring[:1]])):
        found = polygon(order)
        assert found.area_m2 == pytest.approx(area)
        assert found.perimeter_m == pytest.approx(
            2 * corners * radius * math.sin(math.pi / corners)
        )


def test_an_l_by_hand():
    """10 × 10 less 4 × 6: 76, its edge as long as the square's."""
    bed = polygon([(0, 0), (10, 0), (10, 4), (6, 4), (6, 10), (0, 10)])
    assert bed.area_m2 == pytest.approx(76.0)
    assert bed.perimeter_m == pytest.approx(40.0)
    assert bed.inside([(1, 9), (9, 9), (9, 1), (11, 1)]).tolist() == [True, False, True, False]
    np.testing.assert_allclose(bed.edge_distance_m([(1, 9), (3, 5)]), [1.0, 3.0])


@pytest.mark.parametrize(
    "bed", [circle(2.0), strip(rectangle(3.0, 5.0), 0.7), strip(circle(2.0), 1.0)]
)
def test_points_inside_fill_the_area(bed):
    rng = np.random.default_rng(1)
    x0, y0, x1, y1 = bed.bounds_m
    points = rng.uniform((x0, y0), (x1, y1), (40_000, 2))
    share = bed.inside(points).mean() * (x1 - x0) * (y1 - y0)
    # Counting 40,000 points leaves a relative error of about 1/√40,000, here three of them.
    assert share == pytest.approx(bed.area_m2, rel=0.015)


@pytest.mark.parametrize(
    ("corners", "why"),
    [
        ([(0, 0), (1, 1), (1, 0), (0, 1)], "cross"),
        ([(0, 0), (4, 0), (4, 4), (2, 0), (0, 4)], "touch"),
        ([(0, 0), (4, 0), (2, 0), (2, 3)], "cross or touch"),
        ([(0, 0), (1, 1), (2, 2)], "one line"),
        ([(0, 0), (1, 1)], "at least 3"),
        ([(0, 0), (1, float("nan")), (2, 2)], "pairs of numbers"),
        ([1, 2, 3], "pairs of numbers"),
        ([(0, 0), (1, 2), (3,)], "pairs of numbers"),
        ([(0, 0), (1e9, 0), (0, 1)], "check the unit"),
    ],
)
def test_a_polygon_that_is_none_is_refused(corners, why):
    with pytest.raises(InputError, match=why):
        polygon(corners)


@pytest.mark.parametrize("size", [0.0, -1.0, float("nan"), float("inf"), 1e6])
def test_a_length_that_is_none_is_refused(size):
    for make in (circle, lambda s: rectangle(1.0, s), lambda s: strip(circle(1.0), s)):
        with pytest.raises(InputError, match="expected a length"):
            make(size)


def test_a_strip_around_a_polygon_is_refused():
    with pytest.raises(InputError, match="rectangle or a circle"):
        strip(polygon([(0, 0), (1, 0), (0, 1)]), 1.0)


@pytest.mark.parametrize(
    ("words", "square_feet"),
    [
        ("rectangle 4ft 25ft", 100.0),
        ("rectangle 48in × 25ft", 100.0),
        ("circle 10ft", math.pi * 25.0),
        ("strip 3ft around 20ft 30ft", 26 * 36 - 600.0),
        ("strip 3ft around circle 20ft", math.pi * (13**2 - 10**2)),
        ("polygon 0,0 10,0 10,6 0,4 ft", 50.0),
        ("Polygon 0,0 120,0 120,72 0,48 in", 50.0),
    ],
)
def test_words_for_an_outline(words, square_feet):
    assert read_outline(words).area_m2 / FOOT**2 == pytest.approx(square_feet)


@pytest.mark.parametrize(
    "words",
    ["", "square 3ft", "rectangle 4ft", "circle 4", "strip 3ft 20ft 30ft", "polygon 0,0 1,a 2,2 ft",
     "strip 3ft around", "polygon 0,0 1,0 1,1 parsec", "circle -4ft"],
)  # fmt: skip
def test_other_words_are_refused(words):
    with pytest.raises(InputError, match="not understood"):
        read_outline(words)


@settings(max_examples=50)
@given(st.text(max_size=40))
def test_any_text_is_an_outline_or_refused(words):
    try:
        area = read_outline(words).area_m2
    except InputError:
        return
    assert area > 0
