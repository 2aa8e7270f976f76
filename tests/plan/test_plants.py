"""Plants, flats and heaps: counts, rests and prices."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from forecaster.ground.errors import InputError
from forecaster.packaged import load_values
from forecaster.plan import Bed, Wants, circle, rectangle, shopping_for, strip
from forecaster.plan.supplies.plants import (
    compare_flats,
    flats_for,
    plants_by_area,
    plants_of_code,
    positions,
    usual_flats,
)
from forecaster.plan.supplies.quantities import (
    chips,
    feed,
    loads_together,
    materials,
    nitrogen_share,
    renewal,
    water,
)


def test_both_edge_rows_are_counted():
    """By hand: 10 ft at 6 in, plants on the edge itself: 21 along each side."""
    assert len(positions(rectangle(3.048, 3.048), 0.1524, edge_m=0.0)) == 21 * 21


def test_rows_half_a_spacing_from_the_edge():
    """By hand: 4 ft × 25 ft at 6 in: 8 rows of 50, as many as the area's 400."""
    assert len(positions(rectangle(1.2192, 7.62), 0.1524)) == 400


def test_a_last_row_that_does_not_fit_is_not_planted():
    """By hand: 4 ft × 25 ft at 8 in: 6 rows of 37 = 222, where the area says 225."""
    assert len(positions(rectangle(1.2192, 7.62), 0.2032)) == 222
    assert plants_by_area(1.2192 * 7.62, 0.2032) == 225


@settings(max_examples=25, deadline=None)
@given(st.floats(1.0, 4.0), st.floats(0.15, 0.4), st.sampled_from(["square", "staggered"]))
def test_places_lie_inside_and_apart(radius, spacing, pattern):
    for bed in (circle(radius), strip(rectangle(radius, 2 * radius), 0.9)):
        found = positions(bed, spacing, pattern)
        assert bed.inside(found).all()
        assert (bed.edge_distance_m(found) >= spacing / 2 - 1e-9).all()
        if len(found) > 1:
            assert cKDTree(found).query(found, k=2)[0][:, 1].min() >= spacing * (1 - 1e-9)
        # Every plant owns its cell, and the bed is no larger than its area and its edge.
        cell = spacing**2 * (0.8660 if pattern == "staggered" else 1.0)
        assert len(found) * cell <= bed.area_m2 + bed.perimeter_m * spacing


@given(st.integers(0, 5000), st.integers(1, 200))
def test_flats_hold_enough_and_none_is_needless(plants, size):
    found = flats_for(plants, size)
    assert found.plants - plants == found.left_over
    assert 0 <= found.left_over < size
    assert found.flats * size == found.plants


def test_prices_are_compared_by_what_the_bed_takes():
    """By hand: 225 plants: 5 × 48 at 22 = 110; 7 × 36 at 18.50 = 129.50; 13 × 18 unpriced."""
    found = compare_flats(225, (18, 36, 48), {36: 18.5, 48: 22.0})
    assert [flat.size for flat in found] == [48, 36, 18]
    assert found[0].cost == pytest.approx(110.0)
    assert found[1].price_a_plant == pytest.approx(18.5 / 36)
    assert found[1].cost_a_plant_set == pytest.approx(129.5 / 225)
    assert found[2].cost is None


def test_a_cheaper_plant_can_be_the_dearer_flat():
    """One flat of 100 at 30 is 0.30 a plant, yet 20 plants cost less as 18 + 18 at 8."""
    assert compare_flats(20, (), {100: 30.0, 18: 8.0})[0].size == 18


def test_usual_flats_are_their_codes():
    assert usual_flats() == (18, 36, 48)


@pytest.mark.parametrize("code", ["", "6", "60", "abc", "600", "-606", "6O6", "٣٠٦", "999999"])
def test_a_code_that_is_none_is_refused(code):
    with pytest.raises(InputError):
        plants_of_code(code)


@given(st.floats(0.5, 500.0), st.floats(0.01, 0.3), st.floats(0.1, 9.0), st.floats(0.1, 9.0))
def test_heaps_add_up(area, depth, bark, compost):
    one, two = renewal(area, depth, parts=(bark, compost))
    assert one.volume_m3 + two.volume_m3 == pytest.approx(area * depth)
    assert one.volume_m3 * compost == pytest.approx(two.volume_m3 * bark)
    for heap in (one, two):
        assert (heap.bags - 1) * heap.bag_m3 < heap.volume_m3 * (1 + 1e-6)
        assert heap.bags * heap.bag_m3 >= heap.volume_m3 * (1 - 1e-6)
        assert heap.loads >= max(heap.loads_by_volume, heap.loads_by_weight) * (1 - 1e-6)
        assert heap.mass_kg[0] <= heap.mass_kg[1] <= heap.mass_kg[2]
    assert loads_together((one, two)) <= one.loads + two.loads


def test_two_parts_to_one_unless_told():
    bark, compost = renewal(10.0)
    assert bark.volume_m3 == pytest.approx(2 * compost.volume_m3)


def test_minutes_at_a_flow():
    """By hand: 10 m² × 12 mm = 120 L at 20 L/min: 6 minutes."""
    assert water(10.0, 0.012, 0.02 / 60).minutes == pytest.approx(6.0)
    assert water(10.0, 0.012).minutes is None


@pytest.mark.parametrize("label", ["", "12", "0-10-10", "60-30-30", "twelve", "blood", "12-0"])
def test_a_label_that_is_none_is_refused(label):
    with pytest.raises(InputError, match="fertilizer"):
        nitrogen_share(label)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_numbers_that_are_none_are_named(bad):
    for call in (
        lambda: renewal(bad), lambda: renewal(1.0, bad), lambda: chips(bad), lambda: water(bad),
        lambda: water(1.0, 0.1, bad), lambda: feed(bad, 0.1), lambda: feed(1.0, bad),
        lambda: plants_by_area(bad, 0.2), lambda: plants_by_area(1.0, bad),
        lambda: positions(rectangle(1.0, 1.0), bad), lambda: Bed(area_m2=bad),
        lambda: renewal(1.0, load_mass_kg=bad),
    ):  # fmt: skip
        with pytest.raises(InputError, match="expected a number above 0"):
            call()


def test_other_nonsense_is_refused():
    with pytest.raises(InputError, match="share from 0 to 1"):
        feed(1.0, 12.0)
    with pytest.raises(InputError, match="two numbers"):
        renewal(1.0, parts=(1.0, 2.0, 3.0))
    with pytest.raises(InputError, match="square, staggered"):
        plants_by_area(1.0, 0.2, "hexagonal")
    with pytest.raises(InputError, match="Check the unit"):
        plants_by_area(1e6, 0.01)
    with pytest.raises(InputError, match="whole numbers"):
        flats_for(10, 0)
    with pytest.raises(InputError, match="sow_weeks"):
        Wants(sow_weeks=(9.0, 8.0))


def test_bark_is_bought_in_autumn_only_and_chips_for_a_rest():
    bed = Bed(area_m2=9.29)
    assert len(shopping_for(bed, Wants(), "autumn").heaps) == 2
    assert shopping_for(bed, Wants(), "spring").heaps == ()
    rest = shopping_for(Bed(area_m2=9.29, replanted=False), Wants(), "autumn")
    assert [heap.material.name for heap in rest.heaps] == ["wood chips"]
    assert rest.plants == 0
    assert shopping_for(Bed(), Wants(), "autumn") is None


def test_densities_lie_between_dry_chips_and_water():
    """Plausibility: loose organic material floats, and is heavier than 100 kg/m³."""
    for material in materials().values():
        low, usual, high = material.density_kg_m3
        assert 100.0 < low < usual < high < 1000.0


@pytest.mark.parametrize("table", ["plan_defaults.csv", "young_plants.csv"])
def test_every_value_says_how_well_it_is_known(table):
    for value in load_values(table).values():
        assert value.basis in {
            "published",
            "quoted",
            "from memory",
            "common practice",
            "assumption",
        }
        assert value.source
        assert np.isfinite(value.value)
