"""What is ordered holds together: plants drawn, spare ones, flats, money (arithmetic, by hand)."""

import math
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from forecaster.answers.crops import find_crop
from forecaster.ground.errors import InputError
from forecaster.plan import Bed, Goes, Wants, circle, rectangle, scattered, shopping_for, strip
from forecaster.plan.layout.scatter import lay_out
from forecaster.plan.supplies.lines import split
from forecaster.plan.supplies.plants import positions
from forecaster.words.plan import shopping_words

OUTLINES = (rectangle(1.2192, 7.62), circle(1.8), strip(rectangle(2.0, 3.0), 0.9))
NAMES = ("yellow", "white", "purple")
BORDER = Bed(outline=rectangle(1.2192, 7.62))

colours = st.lists(
    st.tuples(st.sampled_from(NAMES), st.none() | st.integers(1, 40)),
    max_size=3,
    unique_by=lambda pair: pair[0],
).map(tuple)
goes = st.builds(
    Goes,
    what=st.sampled_from(["Pansy", "Viola", "Lettuce"]),
    colours=colours,
    spacing_m=st.sampled_from([0.15, 0.2032, 0.3]),
    flat_sizes=st.lists(st.sampled_from([4, 18, 36, 48]), min_size=1, unique=True).map(tuple),
    prices=st.dictionaries(st.sampled_from([18, 36]), st.floats(0.0, 99.0), max_size=2),
    spare_share=st.sampled_from([0.0, 0.05, 0.1, 1.0]),
)


@cache
def rows(outline, spacing_m):
    return len(positions(outline, spacing_m))


def _short(outline, goes, many):
    """Whether more is told of some colours than the part takes with one of each other."""
    told = [count for _, count in goes.colours]
    others = told.count(None)
    left = rows(outline, goes.spacing_m) // many - sum(count or 0 for count in told)
    return others > 0 and left < others


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(OUTLINES), st.lists(goes, min_size=1, max_size=4))
def test_plants_flats_and_money_add_up(outline, several):
    """Bought = drawn + spare + left over, for every line and every size of flat."""
    bed, wants = Bed(outline=outline), Wants(goes=tuple(several))
    if any(_short(outline, each, len(several)) for each in several):
        with pytest.raises(InputError, match="too few for"):
            shopping_for(bed, wants, "autumn")
        return
    found = shopping_for(bed, wants, "autumn")
    assert [part.what for part in found.parts] == [each.what for each in several]
    assert found.plants == sum(part.plants for part in found.parts)
    for part, each in zip(found.parts, several, strict=True):
        assert part.room == rows(outline, each.spacing_m) // len(several)
        told = [many for _, many in each.colours]
        expected = part.room if None in told or not told else sum(told)
        assert part.plants == expected
        for line in part.lines:
            assert line.spare == math.ceil(round(line.plants * each.spare_share, 9))
            assert {flat.size for flat in line.flats} == {*each.flat_sizes, *each.prices}
            for flat in line.flats:
                assert flat.plants == flat.flats * flat.size
                assert flat.plants == line.plants + line.spare + flat.left_over
                assert 0 <= flat.left_over < flat.size
                if flat.price is None:
                    assert flat.cost is None
                else:
                    assert flat.cost == pytest.approx(flat.flats * flat.price)
            costs = [flat.cost for flat in line.flats if flat.cost is not None]
            assert costs == sorted(costs), "the cheapest first"


@pytest.mark.parametrize("outline", OUTLINES)
@pytest.mark.parametrize("told", ["yellow,white", "yellow,white,purple"])
def test_what_is_bought_is_what_is_drawn(outline, told):
    """231 were bought and 130 drawn; 222 counted at 8 in stood closer on the sheet."""
    bed = Bed(outline=outline)
    wants = Wants(colours=tuple((name, None) for name in told.split(",")))
    shopping = shopping_for(bed, wants, "autumn")
    drawn = scattered(bed, shopping, 0)
    assert {line.colour: line.plants for line in shopping.lines} == {
        name: drawn.count(name) for name in drawn.names
    }
    assert len(drawn.points_m) == shopping.plants == len(positions(outline, shopping.spacing_m))
    assert drawn.least_m >= drawn.spacing_m, "no closer than they were counted"
    assert drawn.in_rows


def test_colours_told_by_number_are_what_is_bought():
    wants = Wants(colours=(("yellow", 65), ("white", 65)))
    shopping = shopping_for(BORDER, wants, "autumn")
    assert (shopping.plants, shopping.parts[0].room) == (130, 222)
    drawn = scattered(BORDER, shopping, 0)
    assert len(drawn.points_m) == 130
    assert drawn.least_m >= drawn.spacing_m


def test_fewer_than_rows_hold_stand_wider():
    """By hand: 1.2 m × 8 m at 8 in holds 5 × 39; 144 plants stand wider, the gaps spread."""
    found = lay_out(rectangle(1.2, 8.0), {"white": 72, "yellow": 72}, 0.2032)
    assert found.in_rows
    assert len(found.points_m) == 144
    assert 0.2032 < found.least_m < 0.25
    apart = np.asarray(cKDTree(found.points_m).query(found.points_m, k=2)[0])[:, 1]
    assert apart.min() == pytest.approx(found.least_m)


def test_more_than_rows_hold_is_said_to_stand_closer():
    found = lay_out(rectangle(1.2192, 7.62), {"white": 260}, 0.2032)
    assert not found.in_rows
    assert found.least_m < 0.2032


def test_four_vegetables_are_four_things_to_buy():
    """Each has its own plants and its own flats; what is sown comes in none."""
    four = [find_crop(name) for name in ("tomato", "pepper", "basil", "carrot")]
    found = shopping_for(BORDER, Wants(), "spring", four)
    assert [line.what for line in found.lines] == ["Tomato", "Pepper", "Basil", "Carrot"]
    assert [bool(line.flats) for line in found.lines] == [True, True, True, False]
    assert found.flats == (), "no flat holds them all"
    with pytest.raises(InputError, match="colours are of one thing"):
        shopping_for(BORDER, Wants(colours=(("white", None),)), "spring", four)
    with pytest.raises(InputError, match="drawn of one crop"):
        scattered(BORDER, found, 0)


def test_a_lawn_is_sown_by_its_labels_rate_and_not_counted():
    found = shopping_for(BORDER, Wants(), "autumn", [find_crop("tall fescue")])
    (line,) = found.lines
    assert (line.plants, line.flats) == (0, ())
    assert "seed at the rate on its label" in shopping_words(found)[1]


def test_a_split_is_even_and_whole():
    """By hand: 223 over three colours is 75, 74 and 74; with 100 told, 62 and 61 are left."""
    even = split(223, [(name, None) for name in NAMES])
    assert list(even.values()) == [75, 74, 74]
    told = split(223, [("yellow", 100), ("white", None), ("purple", None)])
    assert list(told.values()) == [100, 62, 61]
    with pytest.raises(InputError, match="too few"):
        split(40, [("yellow", 40), ("white", None)])
