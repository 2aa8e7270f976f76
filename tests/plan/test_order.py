"""One order of several beds: the sums of their plans (arithmetic, by hand)."""

import csv
import io
import math
from datetime import date
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster import book as kept
from forecaster.answers.crops import find_crop
from forecaster.ground.errors import InputError
from forecaster.plan import Bed, Goes, Wants, circle, make_plan, rectangle
from forecaster.plan.history import Past, family_of, returning
from forecaster.plan.order import order_for
from forecaster.plan.several import BedPlan
from forecaster.plan.supplies.quantities import loads_together
from forecaster.plan.wanted import with_goes
from forecaster.words.orders import order_csv, order_lead, order_text
from forecaster.words.season import return_line
from tests.plan.conftest import make_decision

TODAY = date(2026, 9, 1)
OUTLINES = (rectangle(1.2192, 7.62), circle(1.8), None)
WVU = "extension.wvu.edu/lawn-gardening-pests/news/2025/06/01/crop-rotation-in-the-garden"


def bed_plan(name, outline, goes, place="garden", **wants):
    area = 9.290304 if outline is None else None
    bed = Bed(name=name, outline=outline, area_m2=area)
    plan = make_plan(make_decision(), bed, Wants(goes=tuple(goes), **wants), today=TODAY)
    return BedPlan(kept.Bed(name=name, place=place), SimpleNamespace(plan=plan))


goes = st.builds(
    Goes,
    what=st.sampled_from(["Pansy", "Viola"]),
    colours=st.sampled_from([(), (("yellow", None), ("white", None)), (("yellow", 30),)]),
    flat_sizes=st.sampled_from([(36,), (18, 36)]),
    prices=st.sampled_from([{}, {36: 18.5}, {36: 18.5, 48: 22.0}]),
    currency=st.sampled_from(["", "AUD"]),
    spare_share=st.sampled_from([0.0, 0.05, 0.1]),
)
places = st.sampled_from(["garden", "yard"])
several = st.lists(goes, min_size=1, max_size=3)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(OUTLINES), places, several), min_size=1, max_size=5))
def test_an_order_is_the_sum_of_its_beds(beds):
    """Plants bought = drawn + spare + left over; flats, loads and money are sums."""
    plans = [bed_plan(f"bed {n}", *bed[::2], place=bed[1]) for n, bed in enumerate(beds)]
    shopping = [one.whole.plan.shopping for one in plans]
    order = order_for(plans)
    assert order.plants == sum(each.plants for each in shopping)
    assert order.spare == sum(line.spare for each in shopping for line in each.lines)
    for entry in order.entries:
        assert entry.plants == sum(plants for _, plants in entry.beds)
        for flat in entry.flats:
            assert flat.flats * flat.size == entry.plants + entry.spare + flat.left_over
            assert 0 <= flat.left_over < flat.size
    money = math.fsum(order.money.values())
    apart = [entry.chosen.cost for entry in order.entries if entry.chosen.cost is not None]
    assert money == pytest.approx(math.fsum(apart))
    assert money == pytest.approx(
        sum(e.chosen.flats * e.chosen.price for e in order.entries if e.chosen.price is not None)
    )
    volume = sum(heap.volume_m3 for each in shopping for heap in each.heaps)
    assert sum(heap.volume_m3 for heap in order.heaps) == pytest.approx(volume)
    assert len(order.heaps) == 2, "bark fines and compost, each once"
    by_place = {place: [] for _, place, _ in beds}
    for (_, place, _), each in zip(beds, shopping, strict=True):
        by_place[place].extend(each.heaps)
    assert order.loads == sum(loads_together(heaps) for heaps in by_place.values())
    assert order.loads <= sum(loads_together(each.heaps) for each in shopping)
    rows = list(csv.DictReader(io.StringIO(order_csv(order))))
    assert sum(int(row["plants"]) for row in rows) == order.plants
    assert sum(float(row["cost"] or 0.0) for row in rows) == pytest.approx(money, abs=0.005)
    for row in rows:
        bought = int(row["flats"]) * int(row["flat_size"])
        assert bought == int(row["bought"])
        assert bought == int(row["plants"]) + int(row["spare"]) + int(row["left_over"])


def test_beds_with_the_same_thing_share_their_flats():
    """By hand: 222 + 222 plants are 13 flats of 36, where each bed alone needs 7."""
    pansy = Goes(what="Pansy", flat_sizes=(36,), prices={36: 18.5}, currency="AUD")
    order = order_for([bed_plan(name, OUTLINES[0], [pansy]) for name in ("front", "gate")])
    (entry,) = order.entries
    assert (entry.plants, entry.beds) == (444, (("front", 222), ("gate", 222)))
    assert (entry.chosen.flats, entry.chosen.left_over) == (13, 24)
    assert order.money == {"AUD": 240.5}
    assert order_lead(order) == "444 plants for 2 beds, 13 flats, 240.50 AUD."


def test_what_differs_is_ordered_apart():
    """Another price, colour, variety or grower's weeks is another line."""
    plain = Goes(what="Pansy", flat_sizes=(36,))
    others = [
        Goes(what="Pansy", flat_sizes=(36,), prices={36: 18.5}),
        Goes(what="Pansy", flat_sizes=(36,), variety="Dusk"),
        Goes(what="Pansy", flat_sizes=(36,), colours=(("white", None),)),
        Goes(what="Pansy", flat_sizes=(36,), weeks=(8.0, 10.0)),
    ]
    order = order_for([bed_plan(str(n), None, [each]) for n, each in enumerate([plain, *others])])
    assert len(order.entries) == 5


def test_beds_left_out_say_why_and_what_to_do():
    pansy = Goes(what="Pansy")
    unsaid, unsized = bed_plan("shed", None, []), bed_plan("gate", None, [pansy])
    unsized.whole.plan = make_plan(make_decision(), Bed(), Wants(goes=(pansy,)), today=TODAY)
    planted = bed_plan("front", None, [pansy], planted=date(2026, 8, 30))
    broken = BedPlan(kept.Bed(name="hill", place="hill"), error=InputError("no air yet"))
    order = order_for([unsaid, unsized, planted, broken])
    why = dict(order.left_out)
    assert 'crossday book want pansy --bed "shed" --season autumn' in why["shed"]
    assert 'crossday book bed "gate" --area' in why["gate"]
    assert why["front"] == "planted on 2026-08-30"
    assert why["hill"] == "no air yet"
    assert order_text(order, TODAY).startswith("Nothing to order.")
    with pytest.raises(InputError, match="no air yet"):
        order_for([broken])


def test_an_order_day_is_the_growers():
    """By hand: weeks of 10 to 12 before the early day; without them the usual 6."""
    told = bed_plan("a", None, [Goes(what="Pansy", weeks=(10.0, 12.0))])
    usual = bed_plan("b", None, [Goes(what="Pansy")])
    early = make_decision().setting.quantile(0.1)
    days = [order_for([one]).entries[0].order_by for one in (told, usual)]
    assert [(early - day).days for day in days] == [77, 42]


def test_the_words_give_alternatives_in_one_sentence():
    pansy = Goes(what="Pansy", flat_sizes=(18, 36, 48), spare_share=0.05)
    text = order_text(order_for([bed_plan("front", OUTLINES[0], [pansy])]), TODAY, 80)
    assert "Pansy: 222 plants and 12 spare" in text
    assert " ".join(text.split()).count("; or ") == 2
    assert "in front 222" in text


class TestTheBookAndTheCall:
    WANT = kept.Want(
        bed="front", season="autumn", what="pansies", spacing_m=0.2, flats=((36, 18.5),),
        colours=(("white", None),), currency="AUD", spare_share=0.05, weeks=(8.0, 9.0),
    )  # fmt: skip

    def test_what_the_book_says_goes_in(self):
        (found,) = with_goes(Wants(), [self.WANT], "autumn").goes
        assert (found.what, found.crop) == ("Pansy", find_crop("pansy"))
        assert (found.spacing_m, found.prices, found.weeks) == (0.2, {36: 18.5}, (8.0, 9.0))
        assert with_goes(Wants(), [self.WANT], "spring").goes == ()

    def test_the_call_stands_above_the_book(self):
        told = Wants(
            spacing_m=0.3, flat_sizes=(18,), colours=(("blue", 9),), currency="USD",
            spare_share=0.1, sow_weeks=(5.0, 6.0),
        )  # fmt: skip
        (found,) = with_goes(told, [self.WANT], "autumn").goes
        assert (found.spacing_m, found.flat_sizes, found.prices) == (None, (), {})
        assert (found.colours, found.currency) == ((), "")
        assert (found.spare_share, found.weeks) == (None, None)


class TestRotation:
    """Two to three years between vegetables of one family: West Virginia University Extension."""

    PEPPER = Past(planted=date(2024, 10, 20), what="peppers")

    def test_a_family_that_comes_back_too_soon(self):
        (found,) = returning([find_crop("tomato")], [self.PEPPER], date(2026, 10, 20))
        assert (found.before, found.named) == ("Pepper", "nightshade family")
        assert (found.least_years, found.most_years) == (2.0, 3.0)
        assert found.url.endswith(WVU)
        words = return_line(found, date(2026, 9, 1))
        assert "pepper, of the nightshade family too, was planted here on 20 October 2024" in words
        assert "West Virginia University Extension advises 2 to 3 years" in words

    @pytest.mark.parametrize(
        ("crop", "what", "planted"),
        [
            ("tomato", "pepper", date(2023, 10, 19)),  # more than three years ago
            ("tomato", "carrot", date(2025, 10, 20)),  # another family
            ("tomato", "mystery", date(2025, 10, 20)),  # not known by name
            ("pansy", "viola", date(2025, 10, 20)),  # no source gives years for flowers
            ("tomato", "petunia", date(2025, 10, 20)),  # of the family, but no vegetable
        ],
    )
    def test_what_is_no_return(self, crop, what, planted):
        past = [Past(planted=planted, what=what)]
        assert returning([find_crop(crop)], past, date(2026, 10, 20)) == ()

    def test_every_family_of_vegetables_has_its_years(self):
        carrot, parsnip = find_crop("carrot"), find_crop("parsnip")
        assert family_of(carrot) == family_of(parsnip) == "Apiaceae"
        past = [Past(planted=date(2025, 3, 1), what="parsnip")]
        (found,) = returning([carrot], past, date(2026, 3, 1))
        assert found.named == "same plant family"
