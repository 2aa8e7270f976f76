"""The planting sheet to take outside: pages to a round scale, joined at marks, with a table.

Pages fit Letter and A4 alike, so that "actual size" is true on both; a bar on each can be measured.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from forecaster.charts.save import drawing
from forecaster.charts.scatter import colour_drawn, describe_scatter, remarks_of
from forecaster.charts.sheet_words import LETTERS, how_to, names_of, string_table, table_text
from forecaster.charts.style import INK
from forecaster.ground import files
from forecaster.ground.arrays import Floats, Ints
from forecaster.ground.units import METRES_PER_FOOT
from forecaster.plan.layout.scatter import Scatter
from forecaster.plan.layout.sheet import FIELD_IN, Sheet, Tile, sheet_of
from forecaster.words.layout import as_text, wrap
from forecaster.words.phrases import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PAGE_IN = (8.27, 11.0)
"""The narrower width of A4, the lesser height of Letter."""
LEFT_IN, LOW_IN = 0.75, 1.0
"""Of the field, from the paper's edge."""
LETTER_PT = 15.0
"""Cap height 3.9 mm: 20 minutes of arc at 65 cm, which ISO 9241-303 prefers (from memory)."""
RING_IN = 0.36
BAR_IN = 5.0
WHITE, LINE = "#ffffff", "#8a8a8a"
TABLE_ROWS, TABLE_COLUMNS = 34, 7


def draw_sheet(
    layout: Scatter,
    path: str | Path,
    title: str = "",
    *,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
) -> Path:
    """Write the sheet as a PDF and the same in words beside it; return the words' path.

    Raises
    ------
    InputError
        If the name ends otherwise, or a file is there that is not ours.
    """
    target, beside = files.picture(path, inputs=inputs, force=force, paper=True)
    target.check()
    beside.check()
    words = as_text(describe_sheet(layout, title))
    text = f"{words}\n\n{files.WORDS.words.decode()}\n"
    files.write([(target, sheet_pdf(layout, title)), (beside, text.encode())])
    return beside.path


def sheet_pdf(layout: Scatter, title: str = "") -> bytes:
    """Return the sheet as a PDF of several pages."""
    from matplotlib.backends.backend_pdf import PdfPages  # noqa: PLC0415

    about = {"Title": as_text(title) or "Planting sheet", "Creator": "Crossday"}
    buffer = io.BytesIO()
    with drawing(), PdfPages(buffer, metadata=about | {"CreationDate": None}) as pages:
        for figure in build_sheet(layout, title):
            pages.savefig(figure)
    return buffer.getvalue().replace(b"\n%%EOF", b"\n" + files.PDF.words)


def describe_sheet(layout: Scatter, title: str = "") -> str:
    """Return what the sheet says, in words: how to use it, and what stands in each square."""
    sheet = sheet_of(layout)
    parts = [describe_scatter(layout, title), *how_to(sheet), table_text(sheet)]
    return "\n\n".join(parts)


def build_sheet(layout: Scatter, title: str = "") -> Iterator[Figure]:
    """Return the pages: how to use them, what stands in each square, the bed itself."""
    sheet = sheet_of(layout)
    with drawing():
        yield _first_page(sheet, title)
        yield from _table_pages(sheet, title)
        for tile in sheet.tiles:
            yield _tile_page(sheet, tile, title)


def _page(heading: str) -> Figure:
    from matplotlib.figure import Figure  # noqa: PLC0415

    figure = Figure(figsize=PAGE_IN, facecolor=WHITE)
    _text(figure, LEFT_IN, PAGE_IN[1] - 0.4, heading, va="top", fontsize=15, fontweight="bold")
    return figure


def _text(figure: Figure, x_in: float, y_in: float, words: str, **style: object) -> None:
    """Write words at a place on the page, inches from its lower left."""
    figure.text(x_in / PAGE_IN[0], y_in / PAGE_IN[1], words, color=INK, **style)  # type: ignore[arg-type]


def _field(figure: Figure, box_in: tuple[float, float, float, float]) -> Axes:
    """Return axes at left, low, width and height in inches."""
    left, low, width, height = box_in
    wide, tall = PAGE_IN
    axes = figure.add_axes((left / wide, low / tall, width / wide, height / tall))
    axes.set_facecolor(WHITE)
    axes.tick_params(length=0, labelsize=12, labelcolor=INK)
    for spine in axes.spines.values():
        spine.set_visible(False)
    return axes


def _bar(figure: Figure, sheet: Sheet) -> None:
    """Draw a bar of five inches, to be measured."""
    axes = _field(figure, (LEFT_IN, 0.28, BAR_IN, 0.2))
    axes.set_xlim(0.0, BAR_IN)
    axes.set_ylim(0.0, 1.0)
    axes.axis("off")
    axes.plot([0.0, BAR_IN], [0.5, 0.5], color=INK, lw=2.0, clip_on=False, label="bar")
    for at in np.arange(BAR_IN + 1):
        axes.plot([at, at], [0.1, 0.9], color=INK, lw=1.2, clip_on=False)
    feet = number(BAR_IN * sheet.feet_an_inch, 2)
    words = f"5 in (12.7 cm) of paper,\n{feet} ft of bed"
    _text(figure, LEFT_IN + BAR_IN + 0.15, 0.38, words, va="center", fontsize=11)


def _first_page(sheet: Sheet, title: str) -> Figure:
    """Say how to use the sheet, name the letters, show how the pages lie."""
    layout = sheet.layout
    figure = _page(f"{title}: " * bool(title) + "planting sheet")
    top = PAGE_IN[1] - 0.95
    lines = [wrap(step, 72) for step in how_to(sheet)]
    _text(figure, LEFT_IN, top, "\n".join(lines), va="top", fontsize=12.5, linespacing=1.35)
    low = top - 0.235 * sum(text.count("\n") + 1 for text in lines) - 0.25
    key = _field(figure, (LEFT_IN, low - 0.5 * _key_rows(layout), FIELD_IN[0], 0.0001))
    key.axis("off")
    for k, name in enumerate(layout.names):
        x, y = LEFT_IN + 0.2 + 2.4 * (k % 3), low - 0.25 - 0.5 * (k // 3)
        at = np.array([[x - LEFT_IN, y - low + 0.5 * _key_rows(layout)]])
        _plants(key, at, name, k)
        _text(figure, x + 0.3, y, f"{name}, {layout.count(name)}", va="center", fontsize=14)
    key.set_xlim(0.0, FIELD_IN[0])
    key.set_ylim(0.0, 0.0001)
    low -= 0.5 * _key_rows(layout) + 0.15
    remarks = wrap(remarks_of(layout), 84)
    if remarks:
        _text(figure, LEFT_IN, low, remarks, va="top", fontsize=11, linespacing=1.3)
        low -= 0.2 * (remarks.count("\n") + 1) + 0.15
    _plan_of_pages(figure, sheet, low - 0.2)
    _bar(figure, sheet)
    return figure


def _key_rows(layout: Scatter) -> int:
    return -(-len(layout.names) // 3)


def _plan_of_pages(figure: Figure, sheet: Sheet, top_in: float) -> None:
    """Draw the bed small, with the number of the page that shows each part."""
    wide, tall = float(np.ptp(sheet.columns_m)), float(np.ptp(sheet.rows_m))
    scale = min(FIELD_IN[0] / wide, (top_in - 1.1) / tall)
    axes = _field(figure, (LEFT_IN, top_in - tall * scale, wide * scale, tall * scale))
    axes.set_xlim(sheet.columns_m[0], sheet.columns_m[-1])
    axes.set_ylim(sheet.rows_m[0], sheet.rows_m[-1])
    axes.set_xticks([])
    axes.set_yticks([])
    _outline(axes, sheet)
    first = 2 + len(list(_blocks(sheet)))
    for k, tile in enumerate(sheet.tiles):
        x, y = _lines(sheet, tile)
        box = np.array([(x[0], y[0]), (x[-1], y[0]), (x[-1], y[-1]), (x[0], y[-1]), (x[0], y[0])])
        axes.plot(box[:, 0], box[:, 1], color=LINE, lw=1.0, clip_on=False)
        axes.text(
            (x[0] + x[-1]) / 2.0, (y[0] + y[-1]) / 2.0, f"page\n{first + k}", ha="center",
            va="center", fontsize=12, color=INK,
        )  # fmt: skip


def _table_pages(sheet: Sheet, title: str) -> Iterator[Figure]:
    """Draw what stands in each square, as the bed lies: the far end at the top."""
    heads, body, sums = string_table(sheet)
    for rows, columns in _blocks(sheet):
        last = columns.stop >= len(heads)
        figure = _page(f"{title}: " * bool(title) + "what stands in each square")
        top, step = PAGE_IN[1] - 1.2, 0.262
        shown = heads[columns]
        _text(figure, LEFT_IN, top + 0.05, "feet", fontsize=11)
        wide = min(1.6, (FIELD_IN[0] - 0.9 - 1.5 * last) / max(len(shown), 1))
        for c, head in enumerate(shown):
            _text(figure, LEFT_IN + 0.95 + c * wide, top + 0.05, head, fontsize=11)
        if last:
            x = LEFT_IN + 0.95 + len(shown) * wide
            _text(figure, x, top + 0.05, "carry to the row", fontsize=11, fontweight="bold")
        for r, (name, cells, carried) in enumerate(
            zip(body.names[rows], body.cells[rows], sums[rows], strict=True)
        ):
            y = top - 0.28 - r * step
            _text(figure, LEFT_IN, y, name, fontsize=11)
            for c, cell in enumerate(cells[columns]):
                _text(figure, LEFT_IN + 0.95 + c * wide, y, cell, fontsize=13, fontweight="bold")
            if last:
                _text(figure, LEFT_IN + 0.95 + len(shown) * wide, y, carried, fontsize=12)
            _rule(figure, y - 0.07, heavy=(r % 5 == 4))
        _rule(figure, top, heavy=True)
        yield figure


def _rule(figure: Figure, y_in: float, *, heavy: bool) -> None:
    from matplotlib.lines import Line2D  # noqa: PLC0415

    x = [LEFT_IN / PAGE_IN[0], (LEFT_IN + FIELD_IN[0]) / PAGE_IN[0]]
    y = [y_in / PAGE_IN[1]] * 2
    figure.add_artist(Line2D(x, y, color=INK if heavy else LINE, lw=1.0 if heavy else 0.5))


def _blocks(sheet: Sheet) -> Iterator[tuple[slice, slice]]:
    """Return the rows and columns of the table that a page has room for."""
    rows, columns, colours = sheet.counts.shape
    broad = max(2, min(TABLE_COLUMNS, int(14 / min(colours, 4))))
    for low in range(0, rows, TABLE_ROWS):
        for left in range(0, columns, broad):
            yield slice(low, low + TABLE_ROWS), slice(left, left + broad)


def _tile_page(sheet: Sheet, tile: Tile, title: str) -> Figure:
    """Draw a part of the bed to scale, with strings, match marks and the bar."""
    at = 2 + len(list(_blocks(sheet))) + sheet.tiles.index(tile)
    pages = 1 + len(list(_blocks(sheet))) + len(sheet.tiles)
    figure = _page(f"{title}: " * bool(title) + f"page {at} of {pages}")
    x, y = _lines(sheet, tile)
    side_in = sheet.square_m / METRES_PER_FOOT / sheet.feet_an_inch
    size = side_in * (len(x) - 1), side_in * (len(y) - 1)
    axes = _field(figure, (LEFT_IN, LOW_IN, *size))
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(y[0], y[-1])
    across, along = names_of(sheet)
    axes.set_xticks(x, across[tile.first[0] : tile.last[0] + 1])
    axes.set_yticks(y, along[tile.first[1] : tile.last[1] + 1])
    axes.tick_params(pad=17)  # clear of the match marks
    for value in x:
        axes.axvline(value, color=LINE, lw=1.4 if abs(value) < 1e-9 else 0.7, zorder=1)
    for value in y:
        axes.axhline(value, color=LINE, lw=1.4 if abs(value) < 1e-9 else 0.7, zorder=1)
    _outline(axes, sheet)
    own = sheet.on(tile)
    reach = RING_IN / 2.0 * sheet.feet_an_inch * METRES_PER_FOOT
    for colour, name in enumerate(sheet.layout.names):
        ours = sheet.layout.colour == colour
        beside = np.setdiff1d(_within(sheet, x, y, reach), own)
        _plants(axes, sheet.points_m[beside[ours[beside]]], name, colour, own=False)
        _plants(axes, sheet.points_m[own[ours[own]]], name, colour)
    _key_line(figure, sheet.layout)
    _marks(axes, sheet, tile)
    _bar(figure, sheet)
    return figure


def _lines(sheet: Sheet, tile: Tile) -> tuple[Floats, Floats]:
    """Return the strings of a page, both ways."""
    return (
        sheet.columns_m[tile.first[0] : tile.last[0] + 1],
        sheet.rows_m[tile.first[1] : tile.last[1] + 1],
    )


def _within(sheet: Sheet, x: Floats, y: Floats, reach_m: float) -> Ints:
    """Return the plants whose rings reach into a page."""
    low, high = np.array([x[0], y[0]]) - reach_m, np.array([x[-1], y[-1]]) + reach_m
    inside = (sheet.points_m >= low) & (sheet.points_m <= high)
    return np.flatnonzero(inside.all(axis=1))


def _key_line(figure: Figure, layout: Scatter) -> None:
    """Say under the heading which letter is which colour."""
    words = "   ".join(f"{LETTERS[k]} {name}" for k, name in enumerate(layout.names))
    _text(figure, LEFT_IN, PAGE_IN[1] - 0.68, words, va="top", fontsize=12)


def _outline(axes: Axes, sheet: Sheet) -> None:
    for ring in sheet.rings_m:
        closed = np.vstack([ring, ring[:1]])
        axes.plot(closed[:, 0], closed[:, 1], color=INK, lw=2.2, zorder=2)


def _plants(axes: Axes, points: Floats, name: str, k: int, *, own: bool = True) -> None:
    """Draw plants as rings of their colour around their letter, dark on white.

    Of those that stand on the page beside, only what reaches over the line is drawn.
    """
    outer = 72.0 * RING_IN
    for size, face, edge in ((outer, colour_drawn(name), 0.8), (0.72 * outer, WHITE, 0.0)):
        axes.plot(
            points[:, 0], points[:, 1], "o", ms=size, mfc=face, mec=INK, mew=edge, ls="none",
            clip_on=not own, zorder=4, label=name if edge and own else "_beside",
        )  # fmt: skip
    for x, y in points:
        axes.text(
            x, y, LETTERS[k], fontsize=LETTER_PT, fontweight="bold", color=INK, ha="center",
            va="center_baseline", zorder=5, clip_on=not own,
        )  # fmt: skip


def _marks(axes: Axes, sheet: Sheet, tile: Tile) -> None:
    """Draw a cross with a number at each corner that another page has too."""
    on_pages = [_corners(one) for one in sheet.tiles]
    corners = sorted(set.union(*on_pages))
    for at, (column, row) in enumerate(corners, 1):
        if (column, row) not in _corners(tile) or sum((column, row) in c for c in on_pages) < 2:
            continue
        x, y = sheet.columns_m[column], sheet.rows_m[row]
        axes.plot([x], [y], "+", ms=30, mew=1.6, color=INK, clip_on=False, zorder=6, label="match")
        side = 1 if column == tile.last[0] else -1
        up = 1 if row == tile.last[1] else -1
        axes.annotate(
            str(at), (x, y), (14 * side, 14 * up), textcoords="offset points", fontsize=15,
            fontweight="bold", ha="center", va="center", color=INK, annotation_clip=False,
        )  # fmt: skip


def _corners(tile: Tile) -> set[tuple[int, int]]:
    """Return the corners of a page, as string across and along."""
    return {(c, r) for c in (tile.first[0], tile.last[0]) for r in (tile.first[1], tile.last[1])}
