"""`crossday` alone: how to begin, or today's answer for each bed of the garden book."""

from __future__ import annotations

import shutil

import click

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
    from forecaster.cli.place import opened

    with opened(None) as book:
        names = [bed.name for bed in kept.beds(book)]
    if not names:
        click.echo(NO_BED)
        return
    for name in names:
        _say_bed(name)
    bed = _quoted(names[0])
    click.echo(f"\nMore: crossday when --bed {bed} --full; all beds in the browser: crossday open")
    click.echo(f"After a look at the thermometer: crossday book read 61.5F --bed {bed}")


def _say_bed(name: str) -> None:
    """Say today's answer for a bed in a line or two, or why there is none."""
    from forecaster.answers.place_today import of_record
    from forecaster.answers.window import known_thresholds, windows_in
    from forecaster.cli.place import read_place
    from forecaster.ground.errors import ForecasterError
    from forecaster.words import tell
    from forecaster.words.page import bed_text

    width = shutil.get_terminal_size().columns
    try:
        record = read_place((), bed=name)
        said = bed_text(
            name, tell(windows_in(of_record(record), known_thresholds()), record), width
        )
    except ForecasterError as error:
        said = f"{name}: no answer – {error}"
    click.echo(said)


def _quoted(name: str) -> str:
    import shlex

    return shlex.quote(name)
