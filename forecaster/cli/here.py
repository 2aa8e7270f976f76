"""`crossday` alone: how to begin, or today's answer for each bed of the garden book."""

from __future__ import annotations

import shlex
import shutil
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from forecaster.answers.several import Beds
    from forecaster.book import Book

BEGIN = """\
There is no garden book here yet. To begin, type one of these:

  crossday demo                      the answer for an invented garden
  crossday open                      a page in your browser: all of it, no more typing
  crossday when air.csv --lat 39.1N  the answer for a file of daily air of your own

To be remembered from year to year (stations near you, their air, a book):

  crossday air near --lat 39.1N --lon 96.6W
  crossday air fetch STATION --out air.csv
  crossday book start --lat 39.1N --lon 96.6W --air air.csv

All commands: crossday --help"""
NO_BED = "The garden book has no bed yet. Begin one: crossday book bed north --depth 4in"


def say_here() -> None:
    """Say what can be done here now."""
    from forecaster.book import default_path

    if not default_path().exists():
        click.echo(BEGIN)
        return
    from forecaster import book as kept
    from forecaster.answers.several import Beds
    from forecaster.cli.book_shared import today_here
    from forecaster.cli.place import opened

    width = shutil.get_terminal_size().columns
    doubts: dict[str, list[str]] = {}
    with opened(None) as book:
        names = [bed.name for bed in kept.beds(book)]
        shared = Beds(today_here())
        for name in names:
            for doubt in _say_bed(book, shared, name, width):
                doubts.setdefault(doubt, []).append(name)
    if not names:
        click.echo(NO_BED)
        return
    _say_doubts(doubts, len(names), width)
    bed = shlex.quote(names[0])
    for before, words in (
        ("\nMore of a bed:   ", f"when --bed {bed}"),
        ("What is due:     ", "week"),
        ("A reading:       ", f"book read 61.5F --bed {bed}"),
        ("All in a browser:", "open"),
    ):
        click.echo(f"{before} crossday {words}")


def _say_bed(book: Book, shared: Beds, name: str, width: int) -> tuple[str, ...]:
    """Say today's answer for a bed, or why there is none; return what is doubtful."""
    from forecaster.answers.window import decided, known_thresholds
    from forecaster.ground.errors import ForecasterError
    from forecaster.words.page import bed_text, doubt_words

    try:
        record = shared.record(book, name)
        here = shared.here(record)
        first = decided(here, known_thresholds(), thermometer=False)[0]
    except ForecasterError as error:
        click.echo(f"{name}: no answer – {error}")
        return ()
    click.echo(bed_text(name, first, record.today, width))
    return doubt_words(first, here.place.doubtful)


def _say_doubts(doubts: dict[str, list[str]], beds: int, width: int) -> None:
    """Say what is doubtful once, and of which beds."""
    from forecaster.words.layout import wrap
    from forecaster.words.phrases import listed

    for doubt, names in doubts.items():
        of = "" if len(names) == beds else f"{listed(names)}: "
        click.echo(f"\n{wrap(of + doubt, width)}")
