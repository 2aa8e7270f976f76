"""The chart as a part of the page: no outside names, its colours those of the page."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from forecaster.charts import build, describe, picture_of
from forecaster.charts.data import ChartData
from forecaster.charts.save import saved
from forecaster.report.contents import Report
from forecaster.report.markup import Piece, el, text
from forecaster.report.style import LIGHT

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from forecaster.plan.layout.scatter import Scatter


def chart_data(report: Report) -> ChartData:
    """Return what is drawn; the place's name stands on the page, in the reader's own letters."""
    drawn = picture_of(report.answer, _told(report))
    return replace(drawn, title="")


def _told(report: Report) -> Any:
    """Return the answer with the plan's window first: its season is drawn."""
    first = report.window
    others = [window for window in report.told.windows if window is not first]
    return replace(report.told, windows=(first, *others))


def chart(report: Report, name: str = "chart") -> tuple[Piece, str]:
    """Return the picture of the plan's window, and what it shows in words; `name` as `inline`."""
    data = chart_data(report)
    words = describe(data)
    title = "Soil temperature and the date's chances"
    return inline(build(data, titled=False), name, title, words), words


def planting_sheet(layout: Scatter) -> tuple[Piece, str]:
    """Return the sheet that says where each plant goes, and the same in words."""
    from forecaster.charts.scatter import build_scatter, describe_scatter  # noqa: PLC0415

    words = describe_scatter(layout)
    drawn = inline(build_scatter(layout), "sheet", "Where each plant goes", words, own_paper=True)
    return drawn, words


def inline(figure: Figure, name: str, title: str, words: str, *, own_paper: bool = False) -> Piece:
    """Return a figure as SVG within the page.

    Parameters
    ----------
    figure : Figure
    name : str
        Put before every id, so that two pictures do not share one.
    title, words : str
        For those who cannot see it.
    own_paper : bool
        Keep its own colours, as a sheet of paper; else they follow the page's.
    """
    svg = saved(figure, "svg", {"Date": None}).decode()
    start = re.search(r"<svg\b[^>]*>", svg)
    box = re.search(r'viewBox="([^"]+)"', svg)
    if start is None or box is None:
        raise RuntimeError("the picture has no viewBox")
    inside = svg[start.end() : svg.rindex("</svg>")]
    for part in (r"<metadata>.*?</metadata>", r"<style\b.*?</style>", r"<!--.*?-->"):
        inside = re.sub(part, "", inside, flags=re.DOTALL)
    inside = re.sub(r'\bid="', f'id="{name}-', inside)
    inside = re.sub(r'xlink:href="#', f'href="#{name}-', inside)
    inside = inside.replace("url(#", f"url(#{name}-")
    inside = re.sub(r"\s*\n\s*", "\n", inside)
    if not own_paper:
        inside = in_page_colours(inside)
    said = el("title", title, id=f"{name}-title") + el("desc", words, id=f"{name}-desc")
    return Piece(
        f'<svg class="drawn" viewBox="{text(box[1])}" role="img" '
        f'aria-labelledby="{name}-title" aria-describedby="{name}-desc">{said}{inside}</svg>'
    )


def in_page_colours(svg: str) -> str:
    """Return a picture whose palette follows the page's, light or dark."""
    named = {colour: f"var(--{name})" for name, colour in LIGHT.items()}
    return re.sub(r"#[0-9a-f]{6}\b", lambda found: named.get(found[0], found[0]), svg)
