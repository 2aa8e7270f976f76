"""Labels of a picture: boxes against boxes, and boxes against every line, over many days."""

from datetime import date, timedelta
from itertools import combinations

import numpy as np
import pytest
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from forecaster import Site, data_path, find_windows, known_thresholds, read_air, read_readings
from forecaster.answers.record import Record
from forecaster.charts import build, picture_of
from forecaster.packaged import load_csv
from forecaster.words import tell

SLACK_PX = 0.5
DEMO_DAYS = ("2026-03-16", "2026-04-20", "2025-09-20", "2025-11-12")
STATIONS, DAYS_EACH = 12, 5


def boxes(figure) -> list[tuple[str, Bbox]]:
    """Every text that is seen, with its box in pixels."""
    figure.canvas.draw()
    beyond = set()
    for axes in [*figure.axes, *(child for one in figure.axes for child in one.child_axes)]:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            beyond |= {
                id(label)
                for tick in axis.get_major_ticks()
                if not low <= tick.get_loc() <= high
                for label in (tick.label1, tick.label2)
            }
    seen = [one for one in figure.findobj(Text) if one.get_visible() and id(one) not in beyond]
    found = [(one.get_text(), one.get_window_extent()) for one in seen if one.get_text().strip()]
    return [(words, box.padded(-SLACK_PX)) for words, box in found if box.width > 0]


def on_boxes(figure) -> list[tuple[str, str]]:
    """Pairs of texts that lie on each other."""
    return [
        (a, b) for (a, one), (b, other) in combinations(boxes(figure), 2) if one.overlaps(other)
    ]


def on_lines(figure) -> list[tuple[str, str]]:
    """Labels of a panel that lie on one of its lines or marks, with the line's name."""
    found = []
    for axes in figure.axes[:2]:
        for label in axes.texts:
            box = label.get_window_extent().padded(-SLACK_PX)
            for line in axes.get_lines():
                points = line.get_transform().transform(line.get_xydata())
                crossed = line.get_linestyle() != "None" and line.get_path().interpolated(8)
                if crossed:
                    points = line.get_transform().transform(crossed.vertices)
                inside = box.count_contains(points[np.isfinite(points).all(axis=1)])
                if inside and line.get_label() != "_joined":
                    found.append((label.get_text(), str(line.get_label())))
    return found


def figure_of(air, site, readings, today, thresholds):
    answer = find_windows(air, site, thresholds, readings=readings, today=today)
    accounts = {"Air": air.attrs["account"]} if "account" in air.attrs else {}
    record = Record(
        air=air, site=site, log=readings, today=today, asked_on=today, accounts=accounts,
        title="Here",
    )  # fmt: skip
    return build(picture_of(answer, tell(answer, record)))


@pytest.fixture(scope="module")
def demo():
    air, log = read_air(data_path("demo/air.csv")), read_readings(data_path("demo/readings.csv"))
    return air, Site(-36.2, 146.6), log


@pytest.mark.parametrize("today", DEMO_DAYS)
def test_no_label_lies_on_another_or_on_a_line(demo, today):
    spring = today[5:7] > "08"
    figure = figure_of(
        *demo, date.fromisoformat(today), known_thresholds("warm" if spring else "cool")
    )
    assert on_boxes(figure) == []
    assert on_lines(figure) == []


def test_the_check_sees_a_label_on_another_and_on_a_line(demo):
    figure = figure_of(*demo, date(2026, 3, 16), known_thresholds("cool"))
    axes = figure.axes[0]
    line = next(one for one in axes.get_lines() if one.get_label() == "ahead, middle")
    x, y = line.get_xydata()[20]
    axes.text(x, y, "on the curve")
    axes.text(x, y, "on the words")
    assert ("on the curve", "on the words") in on_boxes(figure)
    assert ("on the curve", "ahead, middle") in on_lines(figure)


@pytest.mark.slow
def test_sixty_place_days(records):
    """Twelve stations over the climates of the United States, five days of the year each."""
    folder = records("uscrn_daily")
    paths = sorted(folder.glob("*.csv.gz"))[::6][:STATIONS]
    assert len(paths) == STATIONS
    places = {row["station"]: row for row in load_csv("stations.csv")}
    bad, pictures = [], 0
    for path in paths:
        air, row = read_air(path), places[path.name.removesuffix(".csv.gz")]
        site = Site(float(row["lat"]), float(row["lon"]))
        last = air.index[-1].date()
        for k in range(DAYS_EACH):
            today = last - timedelta(days=10 + 73 * k)
            figure = figure_of(air, site, None, today, known_thresholds())
            pictures += 1
            bad += [(path.stem, today, *pair) for pair in on_boxes(figure) + on_lines(figure)]
    assert pictures == STATIONS * DAYS_EACH
    assert bad == []
