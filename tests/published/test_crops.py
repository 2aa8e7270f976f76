"""Crop figures against the printed tables; each case says where the number stands.

The tables were read as pages quote them, except Harrington's germination temperatures (read as
Oregon State University Extension prints them), the Illinois list of annuals and the Maine
planting chart.
"""

from datetime import date, timedelta

import numpy as np
import pytest

from forecaster.answers.crops import find_crop, known_crops
from forecaster.ground.units import METRES_PER_INCH, c_to_f, f_to_c
from forecaster.packaged import load_csv
from forecaster.rules.emergence import emergence_index
from forecaster.rules.frost import FrostSample
from forecaster.rules.season import Season

HARRINGTON, MCLAURIN, KANSAS = "Harrington", "McLaurin 2000", "Kansas State"
LISTS, OREGON, GEORGIA = "Oklahoma and Georgia", "Oregon State", "Success with Pansies"


@pytest.mark.parametrize(
    ("crop", "role", "use", "value_f", "source"),
    [
        # Harrington, vegetable seed germination, as printed by Oregon State University Extension
        ("snap bean", "minimum", "seed", 60, HARRINGTON),
        ("snap bean", "optimum", "seed", 80, HARRINGTON),
        ("beet", "optimum_low", "seed", 50, HARRINGTON),
        ("cabbage", "optimum_high", "seed", 95, HARRINGTON),
        ("cabbage", "maximum", "seed", 100, HARRINGTON),
        ("carrot", "optimum", "seed", 80, HARRINGTON),
        ("sweet corn", "minimum", "seed", 50, HARRINGTON),
        ("cucumber", "maximum", "seed", 105, HARRINGTON),
        ("eggplant", "optimum_low", "seed", 75, HARRINGTON),
        ("lettuce", "minimum", "seed", 35, HARRINGTON),
        ("lettuce", "optimum_high", "seed", 80, HARRINGTON),
        ("cantaloupe", "optimum", "seed", 90, HARRINGTON),
        ("onion", "minimum", "seed", 35, HARRINGTON),
        ("parsley", "maximum", "seed", 90, HARRINGTON),
        ("pea", "optimum", "seed", 75, HARRINGTON),
        ("pepper", "optimum_low", "seed", 65, HARRINGTON),
        ("pumpkin", "maximum", "seed", 100, HARRINGTON),
        ("radish", "optimum_high", "seed", 90, HARRINGTON),
        ("spinach", "optimum", "seed", 70, HARRINGTON),
        ("squash", "optimum_low", "seed", 70, HARRINGTON),
        ("tomato", "minimum", "seed", 50, HARRINGTON),
        ("turnip", "optimum_high", "seed", 105, HARRINGTON),
        ("watermelon", "optimum", "seed", 95, HARRINGTON),
        ("okra", "optimum_low", "seed", 70, "ANR-1061"),
        # McLaurin 2000, three mornings running
        ("tomato", "minimum", "transplant", 60, MCLAURIN),
        ("snap bean", "minimum", "seed", 60, MCLAURIN),
        ("lima bean", "minimum", "seed", 65, MCLAURIN),
        ("pepper", "minimum", "transplant", 70, MCLAURIN),
        ("southern pea", "minimum", "seed", 70, MCLAURIN),
        ("okra", "minimum", "seed", 75, MCLAURIN),
        ("sweet potato", "minimum", "transplant", 75, MCLAURIN),
        # Kansas State, spring
        ("tomato", "minimum", "transplant", 55, KANSAS),
        ("petunia", "minimum", "transplant", 65, KANSAS),
        ("snapdragon", "optimum_low", "transplant", 65, KANSAS),
        ("vinca", "minimum", "transplant", 68, KANSAS),
        ("zinnia", "optimum_low", "transplant", 70, KANSAS),
        # Oregon State, at midday
        ("tomato", "minimum", "transplant", 70, OREGON),
        # Workable minimum lists
        ("carrot", "minimum", "both", 45, LISTS),
        ("turnip", "minimum", "both", 50, LISTS),
        ("chard", "minimum", "both", 54, LISTS),
        ("cucumber", "minimum", "both", 64, LISTS),
        ("cantaloupe", "minimum", "both", 68, LISTS),
        ("okra", "minimum", "both", 73, LISTS),
        ("pumpkin", "minimum", "both", 75, LISTS),
        # University of Georgia, pansies in the winter landscape
        ("pansy", "lower_limit", "transplant", 45, GEORGIA),
        ("viola", "upper_limit", "transplant", 65, GEORGIA),
    ],
)
def test_threshold_is_the_printed_one(crop, role, use, value_f, source):
    rows = [
        round(c_to_f(row.value_c), 6)
        for row in find_crop(crop).thresholds
        if (row.role, row.use) == (role, use) and source in row.source
    ]
    assert rows == [value_f]


@pytest.mark.parametrize(
    ("crop", "hardiness", "source"),
    [
        ("pea", "very hardy", "VC-14"),
        ("pansy", "very hardy", "VC-14"),
        ("broccoli", "tolerant", "HO-203"),
        ("dianthus", "tolerant", "HO-203"),
        ("tomato", "tender", "VC-14"),
        ("petunia", "tender", "VC-14"),
        ("okra", "warm-loving", "VC-14"),
        ("celosia", "warm-loving", "VC-14"),
        # read: extension.illinois.edu/flowers/annuals
        ("petunia", "tolerant", "Flowers: Annuals"),
        ("calendula", "very hardy", "Flowers: Annuals"),
        ("vinca", "tender", "Flowers: Annuals"),
    ],
)
def test_hardiness_is_the_printed_one(crop, hardiness, source):
    claims = find_crop(crop).hardiness
    assert [c.hardiness.name for c in claims if source in c.source] == [hardiness]


@pytest.mark.parametrize(
    ("crop", "field", "low", "high", "source"),
    [
        ("snapdragon", "weeks_to_set_out", 8, 10, "Iowa State"),
        ("zinnia", "weeks_to_set_out", 5, 7, "as KCII radio prints it"),
        ("gomphrena", "weeks_to_set_out", 7, 8, "Iowa State"),
        ("squash", "weeks_to_set_out", 3, 4, "Iowa State"),
        ("pansy", "weeks_to_set_out", 8, 9, "CIS 1209"),
        ("tomato", "weeks_to_set_out", 5, 9, "CIS 1209"),
        ("pansy", "spacing_m", 6 * METRES_PER_INCH, 10 * METRES_PER_INCH, "Pansies"),
        ("tomato", "spacing_m", 18 * METRES_PER_INCH, 36 * METRES_PER_INCH, "Maine"),
        ("snap bean", "sowing_depth_m", METRES_PER_INCH, METRES_PER_INCH, "Maine"),
    ],
)
def test_figure_is_the_printed_one(crop, field, low, high, source):
    found = [f for f in getattr(find_crop(crop), field) if source in f.source]
    assert [(f.low, f.high) for f in found] == [(pytest.approx(low), pytest.approx(high))]


# Harrington & Minges 1954, days to emergence half an inch deep, in Knott's Handbook for
# Vegetable Growers 1997: temperature (°F) and days as printed; 0 stands for "none".
EMERGENCE = [
    ("snap bean", 59, 16), ("snap bean", 86, 6), ("snap bean", 50, 0), ("lima bean", 59, 31),
    ("beet", 41, 42), ("cabbage", 68, 6), ("carrot", 41, 51), ("carrot", 95, 9),
    ("cauliflower", 50, 20), ("sweet corn", 50, 22), ("cucumber", 59, 13), ("eggplant", 77, 8),
    ("lettuce", 32, 49), ("lettuce", 95, 0), ("cantaloupe", 86, 3), ("okra", 104, 7),
    ("onion", 32, 136), ("parsley", 50, 29), ("parsnip", 86, 32), ("pea", 41, 36),
    ("pepper", 59, 25), ("radish", 68, 4), ("spinach", 32, 63), ("tomato", 50, 43),
    ("tomato", 68, 8), ("turnip", 77, 1), ("watermelon", 68, 12),
]  # fmt: skip


@pytest.mark.parametrize(("crop", "temp_f", "days"), EMERGENCE)
def test_steady_soil_comes_up_after_the_printed_days(crop, temp_f, days):
    table = find_crop(crop).emergence
    soil = np.full((1, 200), f_to_c(float(temp_f)))
    found = int(emergence_index(soil, 3, table)[0])
    assert found == (3 + days if days else -1)  # whole days: no rounding to allow for


def test_every_node_of_the_emergence_table_is_reproduced():
    for row in load_csv("emergence.csv"):
        table = find_crop(row["crop"]).emergence
        for head, cell in row.items():
            if head.startswith("f") and cell not in ("N", "–"):
                rate = float(table.rate(np.array([f_to_c(float(head[1:]))]))[0])
                assert rate == pytest.approx(1 / float(cell), rel=1e-12), (row["crop"], head)


def test_every_row_rises_from_least_to_most():
    """One row does not: the printed optimum of pumpkin, 95, lies above its range, 70–90."""
    order = ("minimum", "optimum_low", "optimum", "optimum_high", "maximum")
    checked, out_of_order = 0, set()
    for crop in known_crops().values():
        for source in crop.sources:
            rows = {
                row.role: row.value_c
                for row in crop.thresholds
                if row.source == source and row.measured == "trial"
            }
            if not set(order) <= rows.keys():  # a trial of one figure
                continue
            checked += 1
            least, low, best, high, most = (rows[role] for role in order)
            assert least <= low < high <= most
            assert least < best <= most
            if not low <= best <= high:
                out_of_order.add(crop.name)
    assert checked == 22  # 21 of Harrington's and okra; of lettuce the maximum is corrected apart
    assert out_of_order == {"pumpkin"}


def test_every_basis_is_named_and_every_figure_has_a_source():
    bases = {"published", "quoted", "from memory", "common practice", "assumption"}
    for name in ("crop_thresholds", "crop_hardiness", "crop_numbers", "emergence"):
        for row in load_csv(f"{name}.csv"):
            assert row["basis"] in bases
            assert row["source"]
    for crop in known_crops().values():
        assert crop.thresholds
        assert crop.hardiness
    assert len(known_crops()) >= 45


# US climate normals, freeze probabilities: P10, P50, P90 (Lupton: P10, P20, P50) as printed for
# Lupton MI USC00204967 and Albany NY USW00014735.
NORMALS = [
    ("Lupton", "last", ((0.1, "06-05"), (0.2, "05-31"), (0.5, "05-21"))),
    ("Lupton", "first", ((0.1, "09-15"), (0.2, "09-20"), (0.5, "09-29"))),
    ("Albany, 32 °F", "last", ((0.1, "05-11"), (0.5, "04-27"), (0.9, "04-16"))),
    ("Albany, 32 °F", "first", ((0.1, "10-03"), (0.5, "10-15"), (0.9, "11-01"))),
    ("Albany, 28 °F", "last", ((0.1, "04-28"), (0.5, "04-16"), (0.9, "04-03"))),
    ("Albany, 28 °F", "first", ((0.1, "10-11"), (0.5, "10-28"), (0.9, "11-10"))),
]


@pytest.mark.parametrize(("place", "side", "printed"), NORMALS, ids=lambda v: str(v)[:14])
def test_chances_mean_what_the_normals_mean(place, side, printed):
    """The daily records behind a printed row are not here; its meaning is.

    Thirty-nine winters are laid out so that the printed share of them has a frost beyond each
    printed date, at the dates' plotting positions. Asked for the same chances, the sample
    must give the printed dates back: later ones for rarer frosts in spring, earlier ones in
    autumn. A reading the other way round would exchange the 10 % and 90 % dates.
    """
    falling = Season("falling", 7, 20, 184)
    start = falling.start(2001)
    year = {"last": 2002, "first": 2001}[side]
    when = [
        int((np.datetime64(date.fromisoformat(f"{year}-{text}")) - start).astype(int))
        for _, text in printed
    ]
    chance = [share for share, _ in printed]
    share_before = [1 - c if side == "last" else c for c in chance]
    order = np.argsort(share_before)
    known, dates = np.array(share_before)[order], np.array(when)[order]
    position = np.arange(1, 40) / 40
    slope = np.diff(dates)[[0, -1]] / np.diff(known)[[0, -1]]
    laid = np.interp(position, known, dates)
    laid = np.where(position < known[0], dates[0] + slope[0] * (position - known[0]), laid)
    laid = np.where(position > known[-1], dates[-1] + slope[1] * (position - known[-1]), laid)
    sample = FrostSample(side, tuple(range(39)), np.round(laid).astype(np.int64))
    for share, day in zip(chance, when, strict=True):
        found = sample.day_at(share)
        assert abs(found - day) <= 1, (place, start + timedelta(days=found))  # whole days twice
