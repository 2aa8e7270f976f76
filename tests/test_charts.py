"""The picture: what is plotted, in which units, and what it says without being seen."""

import re
import struct
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.dates import num2date
from matplotlib.text import Text

from forecaster.charts import ChartData, Mark, build, describe, dots, draw, style
from forecaster.charts.describe import heading
from forecaster.ground.errors import InputError
from forecaster.ground.units import c_to_f, f_to_c

TODAY = date(2026, 3, 27)
NOW = np.datetime64(TODAY, "D")
PHONE_PIXELS = 390


def mark(**changes) -> Mark:
    day = NOW + np.arange(40)
    share = np.zeros(40)
    share[[10, 15, 20, 25, 30]] = (0.1, 0.2, 0.4, 0.2, 0.05)
    whole = Mark(
        label="Cool-season flats", short="cool-65", threshold_c=f_to_c(65.0), falling=True,
        early=date(2026, 4, 6), median=date(2026, 4, 16), late=date(2026, 4, 26),
        first_touch=date(2026, 3, 21), never=0.05, day=day, share=share, usual=date(2026, 4, 14),
        sentence="Cool-season flats: most likely about 16 April.",
    )  # fmt: skip
    return replace(whole, **changes)


def picture(**changes) -> ChartData:
    day = np.arange(NOW - 120, NOW + 120)
    ago = (day - NOW).astype(float)
    past = day <= NOW
    soil = 21.0 - 0.12 * ago
    fan = soil + np.array([-1.3, -0.7, 0.0, 0.7, 1.3])[:, None] * np.sqrt(np.maximum(ago, 0) + 1)
    whole = ChartData(
        title="Some terrace (invented)", place="4 in (10 cm) down, 36.2° S 146.6° E", today=TODAY,
        day=day, soil_c=np.where(past, soil, np.nan), sd_c=np.where(past, 0.8, np.nan), fan_c=fan,
        usual_c=soil + np.array([-2.5, 0.2, 2.5])[:, None], usual_years=12,
        reading_day=NOW - np.array([60, 30, 3]), reading_c=np.array([28.0, 29.0, 21.0]),
        reading_outlier=np.array([False, True, False]),
        typed_day=NOW - np.array([60, 30, 3]), typed_c=np.array([24.0, 33.0, 21.5]),
        marks=(mark(),),
    )  # fmt: skip
    return replace(whole, **changes)


def panels(data: ChartData):
    figure = build(data)
    FigureCanvasAgg(figure).draw()
    return figure, figure.axes[0], figure.axes[1]


def line(axes, label: str):
    return next(item for item in axes.get_lines() if item.get_label() == label)


def days_of(item) -> np.ndarray:
    return np.array(item.get_xdata(), dtype="datetime64[D]")


def test_a_picture_from_gridded_air_says_so():
    for gridded in (False, True):
        data = picture(gridded=gridded)
        said = [text.get_text() for text in panels(data)[0].texts]
        assert any("a gridded stand-in for air" in words for words in said) is gridded
        assert ("gridded stand-in" in describe(data)) is gridded


def test_temperatures_are_plotted_in_fahrenheit_with_celsius_at_the_right():
    data = picture()
    figure, above, _ = panels(data)
    so_far = line(above, "estimate so far")
    assert days_of(so_far)[-1] == NOW
    assert so_far.get_ydata()[-1] == pytest.approx(c_to_f(21.0))
    ahead = line(above, "ahead, middle")
    assert days_of(ahead)[0] == NOW
    assert ahead.get_ydata()[10] == pytest.approx(c_to_f(21.0 - 1.2))
    assert above.get_ylabel() == "soil, °F"
    right = above.child_axes[0]
    assert right.get_ylabel() == "soil, °C"
    assert right.get_ylim() == pytest.approx(tuple(f_to_c(v) for v in above.get_ylim()))
    assert figure.axes[0].get_shared_x_axes().joined(*figure.axes[:2])


def test_bands_hold_what_they_say():
    _, above, _ = panels(picture())
    bands = {item.get_label(): item for item in above.collections}
    four_in_five = bands["estimate, 4 in 5"].get_paths()[0].vertices
    today = four_in_five[np.isclose(four_in_five[:, 0], NOW.astype(int)), 1]
    assert np.ptp(today) == pytest.approx(2 * 1.2816 * 0.8 * 1.8)
    for label, half in (("ahead, 4 in 5", 1.3), ("ahead, 1 in 2", 0.7)):
        shape = bands[label].get_paths()[0].vertices
        at = shape[np.isclose(shape[:, 0], NOW.astype(int) + 8), 1]
        assert np.ptp(at) == pytest.approx(2 * half * 3.0 * 1.8)
    assert "past years, 8 in 10" in bands


def test_readings_are_points_and_contradicted_ones_hollow():
    _, above, _ = panels(picture())
    kept, odd = line(above, "readings"), line(above, "contradicted readings")
    assert kept.get_ydata() == pytest.approx(c_to_f(np.array([24.0, 21.5])))
    assert line(above, "corrected").get_ydata() == pytest.approx(c_to_f(picture().reading_c))
    assert days_of(odd).tolist() == [(NOW - 30).item()]
    assert to_rgb(odd.get_markerfacecolor()) == to_rgb(style.PAPER)
    assert to_rgb(kept.get_markerfacecolor()) == to_rgb(style.INK)


def test_a_loggers_many_readings_are_drawn_as_daily_means():
    day = NOW - np.arange(50)
    data = picture(
        reading_day=day, reading_c=np.full(50, 20.0), reading_outlier=np.zeros(50, bool),
        typed_day=day, typed_c=np.full(50, 25.0),
    )  # fmt: skip
    figure, above, _ = panels(data)
    assert set(line(above, "readings").get_ydata()) == {c_to_f(20.0)}
    assert "readings" in [text.get_text() for text in figure.legends[0].get_texts()]


def test_where_the_air_ends_before_today_the_futures_begin_there():
    data = picture()
    known = data.day <= NOW - 20
    data = replace(data, soil_c=np.where(known, data.soil_c, np.nan))
    _, above, _ = panels(data)
    assert days_of(line(above, "ahead, middle"))[0] == NOW - 20
    assert "air ends 7 Mar" in [text.get_text() for text in above.texts]


def test_the_crossing_is_marked_and_dated():
    _, above, _ = panels(picture())
    assert days_of(line(above, "date, middle")).tolist() == [date(2026, 4, 16)]
    assert line(above, "date, middle").get_ydata() == pytest.approx([65.0])
    assert days_of(line(above, "date, 4 in 5")).tolist() == [date(2026, 4, 6), date(2026, 4, 26)]
    said = [text.get_text() for text in above.texts]
    assert {"below 65 °F", "16 Apr", "touched 21 Mar", "today, 27 Mar 2026"} <= set(said)


def test_dots_are_one_chance_in_twenty_each():
    when, never = dots(mark())
    assert never == 1
    assert [(d - TODAY).days for d in when] == [10] * 2 + [15] * 4 + [20] * 8 + [25] * 4 + [30]
    assert dots(mark(share=np.full(40, 0.025)))[1] == 0
    assert dots(mark(share=np.zeros(40))) == ([], 20)
    assert dots(mark(day=NOW + np.arange(0), share=np.zeros(0))) == ([], 0)


def test_the_date_panel_stacks_the_dots_on_the_same_time_axis():
    _, above, below = panels(picture())
    stack = line(below, "date dots")
    days = days_of(stack)
    assert len(days) == 19
    peak = days[np.argmax(np.asarray(stack.get_ydata()))]
    assert abs((peak - (NOW + 20)).astype(int)) <= 3
    assert line(below, "never").get_ydata().size == 1
    assert above.get_xlim() == below.get_xlim()
    first, last = (num2date(v).date() for v in below.get_xlim())
    assert first <= date(2026, 3, 21) - timedelta(days=10)
    assert last >= date(2026, 4, 26)


def test_two_thresholds_have_a_strip_each():
    warmer = mark(short="warm-70", threshold_c=f_to_c(70.0))
    _, above, below = panels(picture(marks=(mark(), warmer)))
    low, high = (item.get_ydata() for item in below.get_lines() if item.get_label() == "date dots")
    assert max(low) < min(high)
    assert [name.get_text() for name in below.get_yticklabels()] == ["65 °F", "70 °F"]
    assert "below 70 °F" in {text.get_text() for text in above.texts}


def test_the_title_says_verdict_year_and_both_thresholds():
    warmer = mark(short="warm-70", threshold_c=f_to_c(70.0), median=date(2026, 4, 20))
    assert heading(picture(marks=(mark(verdict="wait"),))) == (
        "Wait. Cool-season flats:\nsoil below 65 °F from about 16 April 2026"
    )
    assert heading(picture(marks=(mark(verdict="wait"), warmer))) == (
        "Wait. Soil below 65 °F from about 16 April,\n70 °F about 20 April 2026"
    )
    past = mark(verdict="late", median=date(2025, 12, 30), late=date(2026, 1, 9))
    assert "Late. Soil below 65 °F since about 30 December 2025," in heading(
        picture(marks=(past, warmer))
    )


def test_a_soil_that_never_gets_there_is_drawn_so():
    never = mark(median=None, early=None, late=None, share=np.zeros(40), never=1.0)
    figure, above, below = panels(picture(marks=(never,)))
    assert "more than 99 % chance that it never settles" in [t.get_text() for t in above.texts]
    assert line(below, "never").get_ydata().size == 20
    assert "never settles below 65 °F" in figure.texts[0].get_text()


def test_every_mark_is_in_the_legend():
    odd = mark(never=0.3, share=mark().share * 0.7)
    figure, above, below = panels(picture(marks=(odd,)))
    named = [text.get_text() for text in figure.legends[0].get_texts()]
    assert {"threshold", "first touch", "1 chance in 20 of the date", "usual date here"} <= set(
        named
    )
    assert "1 chance in 20 of never" in named
    assert "their day's mean" in named
    ours = {str(i.get_label()) for axes in (above, below) for i in axes.get_lines()}
    said = {label for label in ours if not label.startswith("_")}
    assert said <= {
        "past years, middle", "estimate so far", "ahead, middle", "readings", "corrected",
        "contradicted readings", "threshold", "date, 4 in 5", "date, middle", "first touch",
        "date dots", "never", "usual date here",
    }  # fmt: skip


def seen_texts(figure):
    return [
        item
        for item in figure.findobj(Text)
        if item.get_visible() and item.get_text().strip() and item.get_window_extent().width > 0
    ]


@pytest.mark.parametrize(
    "marks",
    [
        (mark(),),
        (mark(median=None, early=None, late=None, never=float("nan")),),
        (mark(label="Heat-loving plants", median=date(2026, 9, 28), late=None),),
        (mark(median=None, early=None, late=None, share=np.zeros(40), never=1.0),),
    ],
)
def test_every_word_is_inside_and_large_enough_on_a_phone(marks):
    figure, *_ = panels(picture(marks=marks, title="Eddermarl Terrace kitchen garden (invented)"))
    box = figure.bbox
    for item in seen_texts(figure):
        extent = item.get_window_extent()
        inside = box.x0 <= extent.x0 and extent.x1 <= box.x1 and box.y0 <= extent.y0
        outside_axes = item.axes is not None and not item.axes.bbox.overlaps(extent)
        assert inside or outside_axes, item.get_text()
        pixels = item.get_fontsize() / 72.0 * PHONE_PIXELS / style.SIZE_IN[0]
        assert pixels >= 9.0, f"{item.get_text()!r} is {pixels:.1f} px high on a phone"


def lightness(colour: str) -> float:
    """Relative luminance, 0 to 1 (WCAG 2, from memory)."""
    rgb = np.array(to_rgb(colour))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def contrast(one: str, other: str) -> float:
    high, low = sorted((lightness(one), lightness(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_it_works_in_grey():
    """Neighbouring bands differ in lightness alone; lines and words stand out."""
    order = [style.PAPER, style.CHALK, style.SAND, style.CLAY, style.UMBER]
    light = [lightness(colour) for colour in order]
    assert light == sorted(light, reverse=True)
    assert all(contrast(a, b) >= 1.2 for a, b in pairwise(order))
    assert contrast(style.INK, style.PAPER) >= 7.0
    assert contrast(style.MOSS, style.PAPER) >= 4.5
    _, above, _ = panels(picture())
    styles = [
        line(above, label).get_linestyle()
        for label in ("estimate so far", "ahead, middle", "past years, middle")
    ]
    patterns = [line(above, label)._unscaled_dash_pattern for label in (
        "estimate so far", "ahead, middle", "past years, middle")]  # fmt: skip
    assert len(styles) == 3
    assert len({str(pattern) for pattern in patterns}) == 3


def test_the_legend_names_what_is_there():
    figure, *_ = panels(picture())
    words = [text.get_text() for text in figure.legends[0].get_texts()]
    assert "12 past years: middle, 80 %" in words
    assert "contradicted by the others" in words
    none = picture(
        reading_day=NOW + np.arange(0), reading_c=np.zeros(0), reading_outlier=np.zeros(0, bool),
        usual_c=np.full((3, 240), np.nan), usual_years=0, typed_day=NOW + np.arange(0),
        typed_c=np.zeros(0),
    )  # fmt: skip
    figure, *_ = panels(none)
    words = " ".join(text.get_text() for text in figure.legends[0].get_texts())
    assert "readings" not in words
    assert "past years" not in words


def test_the_description_says_the_same():
    words = describe(picture())
    assert "On 27 March the estimate is 69.8 °F (21 °C)." in words
    assert "Cool-season flats: most likely about 16 April." in words
    assert "8 in 10 of 12 past years" in words
    assert "3 thermometer readings are marked as typed" in words
    assert "1 of them hollow" in words
    assert "19 dots show the date's chances, 5 % each, between 6 and 26 April" in words
    assert "1 more stands for never" in words
    assert "nan" not in words


def test_the_description_leaves_out_what_is_not_there():
    bare = picture(
        soil_c=np.full(240, np.nan), sd_c=np.full(240, np.nan), usual_years=0,
        reading_day=NOW + np.arange(0), reading_c=np.zeros(0), reading_outlier=np.zeros(0, bool),
        typed_day=NOW + np.arange(0), typed_c=np.zeros(0),
        marks=(mark(share=np.zeros(40), median=None, early=None, late=None),),
    )  # fmt: skip
    words = describe(bare)
    assert "estimate" not in words
    assert "dots" not in words
    assert "nan" not in words
    build(bare)


def test_png_and_its_description_are_written(tmp_path):
    beside = draw(picture(), tmp_path / "soil.png")
    content = (tmp_path / "soil.png").read_bytes()
    assert content.startswith(b"\x89PNG")
    width, height = struct.unpack(">II", content[16:24])
    assert width == round(style.SIZE_IN[0] * style.DOTS_PER_INCH)
    assert height > width
    assert b"Description" in content
    assert beside == tmp_path / "soil.txt"
    assert beside.read_text(encoding="utf-8") == describe(picture()) + "\n\nWritten by Crossday.\n"


def test_svg_tells_a_screen_reader_what_it_shows(tmp_path):
    draw(picture(place="<4 in> & down"), tmp_path / "soil.svg")
    root = ET.parse(tmp_path / "soil.svg").getroot()  # noqa: S314 - our own file
    space = "{http://www.w3.org/2000/svg}"
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "t d"
    titles = root.findall(f"{space}title")
    assert [title.get("id") for title in titles] == ["t"]
    assert titles[0].text == "Cool-season flats: soil below 65 °F from about 16 April 2026"
    assert root.find(f"{space}desc").text == describe(picture(place="<4 in> & down"))


@pytest.mark.parametrize(
    "name", ["a$b_c$d", "$\\frac{", "bell\x07esc\x1b[31m", "花园 🌱", "a<b>&\"c'--d", "\ufffe"]
)
def test_any_name_of_a_place_can_be_drawn(tmp_path, name):
    figure = build(picture(title=name))
    shown = [text.get_text().split("\n")[0] for text in figure.texts]
    assert name in shown
    draw(picture(title=name, place=name), tmp_path / "a.png")
    draw(picture(title=name, place=name), tmp_path / "a.svg")
    said = ET.parse(tmp_path / "a.svg").getroot().find("{*}desc").text  # noqa: S314 - our own
    assert re.sub("[\x00-\x1f\ufffe]", "\ufffd", name) in said


def test_the_same_picture_is_the_same_file(tmp_path):
    for name in ("a.svg", "b.svg"):
        draw(picture(), tmp_path / name)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


def test_other_kinds_of_picture_are_refused(tmp_path):
    with pytest.raises(InputError, match=r"soil\.pdf.*\.png or \.svg"):
        draw(picture(), tmp_path / "soil.pdf")
    assert list(tmp_path.iterdir()) == []
