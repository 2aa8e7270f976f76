"""Quantities against figures that others print.

Tolerances are half the last printed digit unless a sentence says otherwise.
"""

import pytest

from forecaster.ground.units import (
    CUBIC_METRES_PER_CUBIC_YARD,
    CUBIC_METRES_PER_GALLON,
    KILOGRAMS_PER_POUND,
    METRES_PER_INCH,
    SQUARE_METRES_PER_SQUARE_FOOT,
)
from forecaster.plan.supplies.plants import plants_by_area, plants_of_code
from forecaster.plan.supplies.quantities import feed, nitrogen_share, renewal, water

BED_M2 = 100.0 * SQUARE_METRES_PER_SQUARE_FOOT


def cubic_yards(area_ft2: float, depth_in: float) -> float:
    heaps = renewal(area_ft2 * SQUARE_METRES_PER_SQUARE_FOOT, depth_in * METRES_PER_INCH)
    return sum(heap.volume_m3 for heap in heaps) / CUBIC_METRES_PER_CUBIC_YARD


def test_cubic_yards_of_a_bed():
    """Square feet × inches / 324: 100 ft² × 3 in, by hand 300/324."""
    assert cubic_yards(100.0, 3.0) == pytest.approx(0.9259, abs=0.00005)


def test_a_cubic_yard_covers_324_square_feet_an_inch_deep():
    """Deschutes Recycling, composting page: "Divide 324 by the depth in inches"; 1/3 in: 972."""
    assert cubic_yards(972.0, 1.0 / 3.0) == pytest.approx(1.0, rel=1e-9)


def test_two_thousand_square_feet_a_quarter_inch_deep():
    """The same page: 2000 sf × ¼ in × 0.0031 = 1.6 cubic yards (printed to a tenth)."""
    assert cubic_yards(2000.0, 0.25) == pytest.approx(1.6, abs=0.06)  # its 0.0031 is 1/324 rounded


@pytest.mark.parametrize(
    ("spacing_in", "plants_a_ft2"), [(6, 4.0), (8, 2.25), (10, 1.44), (12, 1.0)]
)
def test_plants_a_square_foot_on_a_square_grid(spacing_in, plants_a_ft2):
    """Iowa State University Extension's table of plants a square foot by spacing."""
    plants = plants_by_area(BED_M2, spacing_in * METRES_PER_INCH)
    assert plants == pytest.approx(100.0 * plants_a_ft2, abs=0.5)


@pytest.mark.parametrize(("spacing_in", "plants"), [(6, 462), (8, 260), (10, 167)])
def test_staggered_rows_take_a_seventh_more(spacing_in, plants):
    """By hand: 144/s² × 100 / 0.8660, the next whole plant: 461.9, 259.8, 166.3."""
    assert plants_by_area(BED_M2, spacing_in * METRES_PER_INCH, "staggered") == plants


def test_staggered_rows_gain_fifteen_and_a_half_percent():
    """Triangular packing: 2/√3 = 1.1547 of the square grid."""
    many = 1000.0 * BED_M2
    ratio = plants_by_area(many / 10, 0.1524, "staggered") / plants_by_area(many / 10, 0.1524)
    assert ratio == pytest.approx(1.1547, abs=0.00005)


@pytest.mark.parametrize(
    ("product", "label", "pounds"),
    [("blood meal", "12-0-0", 1.7), ("cottonseed meal", "6-2-1", 3.3)],
)
def test_pounds_of_fertilizer_for_a_fifth_of_a_pound_of_nitrogen(product, label, pounds):
    """0.2 lb of nitrogen per 100 ft² (from memory), by hand: 0.2/0.12 and 0.2/0.06 lb."""
    target = 0.2 * KILOGRAMS_PER_POUND / BED_M2
    for words in (product, label):
        found = feed(BED_M2, nitrogen_share(words), target).mass_kg / KILOGRAMS_PER_POUND
        assert found == pytest.approx(pounds, abs=0.05)


@pytest.mark.parametrize(("code", "plants"), [("606", 36), ("806", 48), ("1801", 18)])
def test_flats_by_their_trade_code(code, plants):
    """As growers' pages quote the code."""
    assert plants_of_code(code) == plants


def test_gallons_of_an_inch_of_water_on_a_square_foot():
    """144 in³ over the gallon's 231 in³: 0.6234, as extension tables print it."""
    litres = water(SQUARE_METRES_PER_SQUARE_FOOT, METRES_PER_INCH).volume_m3
    assert litres / CUBIC_METRES_PER_GALLON == pytest.approx(0.6234, abs=0.00005)


def test_a_pickup_load_of_wet_compost_by_weight():
    """By hand: 1 yd³ at 1600 lb is over a rating of 1500 lb: two loads, though one holds it."""
    compost = renewal(
        324.0 * SQUARE_METRES_PER_SQUARE_FOOT,
        METRES_PER_INCH,
        parts=(0.0, 1.0),
        load_volume_m3=2.0 * CUBIC_METRES_PER_CUBIC_YARD,
        load_mass_kg=1500.0 * KILOGRAMS_PER_POUND,
    )[1]
    assert compost.volume_m3 == pytest.approx(CUBIC_METRES_PER_CUBIC_YARD)
    assert compost.mass_kg[2] / KILOGRAMS_PER_POUND == pytest.approx(1600.0, abs=5.0)  # 950 kg/m³
    assert compost.loads == 2
    assert compost.loads_by_volume == pytest.approx(0.5)
