"""A region's map: the projection against others' numbers, the marks in grey, three regions."""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest

from forecaster.charts.projection import EARTH_KM, Projection, about, outlines
from forecaster.charts.region_map import build, draw_region
from forecaster.charts.region_marks import DARK_TO_LIGHT, groups_of
from forecaster.charts.style import SIZE_IN
from forecaster.region.parts import schema_of
from forecaster.region.row import ANSWER

REGIONS = {  # latitude and longitude, south-west and north-east
    "prairie": (36.0, -104.0, 44.0, -92.0),
    "an island": (51.6, -10.2, 55.2, -6.0),
    "the far south": (-46.5, 167.0, -34.5, 178.4),
}


def region(edges, count: int = 40, **other) -> pa.Table:
    south, west, north, east = edges
    random = np.random.default_rng(1)
    rows = [
        {
            "order": k, "key": str(k), "place": f"place {k}", "problem": "",
            "what": "Your threshold", "season": "autumn", "threshold_c": 18.0,
            "direction": "falling", "issued": date(2025, 9, 1), "never": 0.0,
            "latitude_deg": float(random.uniform(south, north)),
            "longitude_deg": float(random.uniform(west, east)),
            "median": date(2025, 9, 5) + timedelta(days=k), "against_usual_days": k - count // 2,
            "by": date(2025, 9, 20), "chance_by": k / count,
        } | other
        for k in range(count)
    ]  # fmt: skip
    rows[3] |= {"median": None, "against_usual_days": None, "never": 0.9}
    rows[4] |= {"problem": "no such file", "median": None, "against_usual_days": None}
    return pa.Table.from_pylist(rows, schema=schema_of(ANSWER))


def frame(table: pa.Table) -> pd.DataFrame:
    return table.to_pandas(date_as_object=True)


def test_lamberts_projection_is_snyders():
    """Snyder 1987, numerical examples, p. 332 (from memory): R 3, centre 40° N 100° W."""
    x, y = Projection(40.0, -100.0, 59.0)(np.array([-20.0]), np.array([-100.0]))
    c = np.radians(60.0)  # due south: 2 R sin(c/2), on the meridian
    assert x[0] == pytest.approx(0.0, abs=1e-9)
    assert y[0] == pytest.approx(-2.0 * EARTH_KM * np.sin(c / 2.0))
    # φ −20°, λ 100° E: x −4.2339303, y 4.0257775; it lies behind our paper, so by the formulas.
    k = 4.2339303**2 + 4.0257775**2
    cosine = np.sin(np.radians(40)) * np.sin(np.radians(-20)) + np.cos(np.radians(40)) * np.cos(
        np.radians(-20)
    ) * np.cos(np.radians(200))
    assert k == pytest.approx(9.0 * 2.0 * (1.0 - cosine), rel=1e-6)


@pytest.mark.parametrize("where", [Projection(40.0, -100.0, 30.0), Projection(0.0, 20.0, 170.0)])
def test_areas_are_kept(where):
    """A small square has the area of the sphere's, R² Δλ (sin φ₂ − sin φ₁), wherever it lies."""
    for lat, lon in ((35.0, -95.0), (50.0, -80.0), (25.0, -110.0)):
        d = 0.01
        at_x, at_y = where(np.array([lat, lat, lat + d, lat + d]), np.array([lon, lon + d] * 2))
        across = np.array([at_x[1] - at_x[0], at_y[1] - at_y[0]])
        up = np.array([at_x[2] - at_x[0], at_y[2] - at_y[0]])
        area = across[0] * up[1] - across[1] * up[0]
        sphere = np.radians(d) * (np.sin(np.radians(lat + d)) - np.sin(np.radians(lat)))
        assert area == pytest.approx(EARTH_KM**2 * sphere, rel=1e-3)


def test_the_middle_is_found_across_the_date_line():
    where = about(np.array([-17.0, -17.0]), np.array([178.0, -178.0]))
    assert abs(where.longitude_deg) == pytest.approx(180.0)
    assert where.reach_deg < 3.0
    assert about(np.array([10.0, -10.0]), np.array([0.0, 180.0])).whole_earth


def test_outlines_lie_where_the_coasts_are():
    """Land's End, Ireland's Malin Head, Colorado's corner: positions from memory, to 0.1°."""
    lines = outlines()
    for kind, lat, lon in (
        ("coast", 50.07, -5.72),
        ("coast", 55.38, -7.37),
        ("state", 37.0, -102.04),
    ):
        points = np.vstack([p for k, p in lines if k == kind])
        assert np.hypot(points[:, 1] - lat, points[:, 0] - lon).min() < 0.1
    assert max(np.abs(p[:, 0]).max() for _, p in lines) <= 180.0


@pytest.mark.parametrize("by", ["date", "usual"])
def test_every_place_is_in_one_group(by):
    rows = frame(region(REGIONS["prairie"]))
    groups = groups_of(rows, by)
    assert sorted(k for one in groups for k in one.rows) == list(range(40))
    looks = [(one.shape, one.fill) for one in groups]
    assert len(set(looks)) == len(looks)
    labels = {one.label: one.rows for one in groups}
    assert labels["no answer"] == (4,)
    assert labels["rather never this season"] == (3,)


def test_dates_lie_in_the_span_that_is_said():
    rows = frame(region(REGIONS["prairie"]))
    first, *_, last, _, _ = groups_of(rows, "date")
    assert first.label == "to 12 Sep"
    assert {rows["median"][k] <= date(2025, 9, 12) for k in first.rows} == {True}
    from_day = date(2025, 10, int(last.label.split()[1]))
    assert last.label == f"from {from_day.day} Oct"
    assert {rows["median"][k] >= from_day for k in last.rows} == {True}


def grey(colour: str) -> float:
    """Lightness that a grey print keeps: luma of ITU-R BT.601."""
    red, green, blue = (int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue


def test_the_fills_hold_in_grey():
    steps = np.diff([grey(one) for one in DARK_TO_LIGHT])
    assert (steps > 0.08).all()


@pytest.mark.parametrize("name", REGIONS)
def test_three_regions_are_drawn(name, tmp_path):
    table = region(REGIONS[name])
    beside = draw_region(table, tmp_path / "m.svg")
    words = beside.read_text(encoding="utf-8")
    assert "Soil settles below 64.4 °F, autumn. 40 places" in words
    assert "no answer: 1" in words
    assert "First: place 0, 5 Sep." in words
    rows = frame(table)
    figure = build(rows, groups_of(rows, "date"), "t", "u")
    assert figure.get_size_inches()[0] == SIZE_IN[0]  # no wider than a phone can show
    axes = figure.axes[0]
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    marks = [c for c in axes.collections if len(c.get_offsets()) and c.get_zorder() == 3]
    drawn = np.vstack([c.get_offsets() for c in marks])
    assert len(drawn) == 40
    assert ((drawn > [left, bottom]) & (drawn < [right, top])).all()
    coasts = axes.collections[0].get_segments()
    assert coasts or name == "prairie"
    for one in figure.findobj(lambda a: hasattr(a, "get_fontsize") and a.get_text()):
        assert one.get_fontsize() >= 12, one.get_text()


def test_the_size_grows_with_the_chance():
    rows = frame(region(REGIONS["prairie"]))
    figure = build(rows, groups_of(rows, "date"), "t", "u")
    marks = [
        c for c in figure.axes[0].collections if c.get_zorder() == 3 and len(c.get_sizes()) > 3
    ]
    for one in marks:
        assert (np.diff(one.get_sizes()) > 0).all()


def test_no_position_no_map(tmp_path):
    table = region(REGIONS["prairie"], latitude_deg=None)
    with pytest.raises(ValueError, match="no map to draw"):
        draw_region(table, tmp_path / "m.png")
