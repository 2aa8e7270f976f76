"""The whole page: one file that asks nothing of anywhere."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path

from forecaster.ground import files
from forecaster.report.answer import (
    buy_section,
    crops_section,
    layout_section,
    past_section,
    soil_section,
    the_sentence,
)
from forecaster.report.behind import (
    cautions_section,
    checked_section,
    known_section,
    sources_section,
)
from forecaster.report.contents import Report
from forecaster.report.markup import Piece, el
from forecaster.report.style import style_sheet
from forecaster.report.week import later_section, week_lines, week_section
from forecaster.words import place_words
from forecaster.words.phrases import say_day

NOTHING_FROM_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def report_html(report: Report) -> str:
    """Return the report as one HTML document.

    Parameters
    ----------
    report : Report

    Returns
    -------
    str
        Valid by the HTML standard; no script, nothing fetched.
    """
    main = el(
        "main",
        el(
            "div", soil_section(report), crops_section(report), week_section(report), class_="first"
        ),
        later_section(report),
        buy_section(report),
        layout_section(report),
        past_section(report),
        known_section(report),
        el(
            "div",
            checked_section(report),
            el("div", sources_section(report), cautions_section(report)),
            class_="pair",
        ),
        id="main",
    )
    body = el(
        "body",
        el("a", "Skip to the answer", href="#answer", class_="skip"),
        _header(report),
        main,
        footer(),
    )
    top = head(f"{report.heading}: planting window")
    return f"<!DOCTYPE html>\n{el('html', top, body, lang='en')}\n"


def write_report(
    report: Report,
    path: str | Path,
    *,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
) -> None:
    """Write the report to a file, whole or not at all.

    Parameters
    ----------
    report : Report
    path : str or Path
    inputs : sequence of str or Path
        What it was made from; never written over.
    force : bool
        Write over a file that is not ours.

    Raises
    ------
    InputError
        If it must not or cannot be written there.
    """
    write_page(report_html(report), path, inputs=inputs, force=force)


def write_page(
    html: str, path: str | Path, *, inputs: Sequence[str | Path] = (), force: bool = False
) -> None:
    """Write a page to a file; parameters and errors as for `write_report`."""
    read = tuple(Path(one) for one in inputs)
    target = files.Target(Path(path), files.PAGE, f"the page {str(path)!r}", read, force)
    files.write([(target, html.encode())])


def head(title: str) -> Piece:
    """Return the head of a page that asks nothing of anywhere."""
    return el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="generator", content=f"Crossday {version('crossday')}"),
        el("title", title),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", http_equiv="Content-Security-Policy", content=NOTHING_FROM_OUTSIDE),
        el("meta", name="color-scheme", content="light dark"),
        el("link", rel="icon", href="data:,"),
        el("style", Piece(style_sheet())),
    )


def _header(report: Report) -> Piece:
    told = report.told
    place = f"{told.title}. " if told.title else ""
    issued = f"{say_day(told.today, told.today)} {told.today.year}"
    where = f"{place}Soil {place_words(told.site)}. As of {issued}."
    links = [
        ("soil", "Soil and date"), ("crops", "Crops"), ("week", "This week"), ("later", "Later"),
        ("buy", "To buy"), ("layout", "Layout"), ("known", "Known and assumed"),
        ("before", "Past seasons"), ("sources", "Sources"), ("cautions", "Cautions"),
    ]  # fmt: skip
    absent = {"crops"} if report.crops is None else set()
    absent |= {"layout"} if report.layout is None else set()
    items = [el("li", el("a", words, href=f"#{to}")) for to, words in links if to not in absent]
    return el(
        "header",
        el("h1", report.heading),
        el("p", where, class_="where"),
        el("div", week_lines(report), the_sentence(report), id="answer", tabindex="-1"),
        el("nav", el("ul", *items), aria_label="On this page"),
    )


def footer() -> Piece:
    """Return the foot of every page."""
    words = f"Crossday {version('crossday')}. Dates are estimates: see the cautions."
    return el("footer", el("p", words))
