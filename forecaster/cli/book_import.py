"""`crossday book import`: a soil log, a daily air record, or an exported book."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from forecaster.cli.bare import DEPTH
from forecaster.cli.book_shared import (
    BED,
    BOOK,
    DAY_FIRST,
    JSON,
    PLACE,
    SHOW,
    UNITS,
    bed_for,
    scale,
    tell,
)
from forecaster.cli.command import command
from forecaster.cli.options import COLUMN, PROBE, declare
from forecaster.cli.place import columns_told, opened

if TYPE_CHECKING:
    from forecaster.book import Batch, Bed


@command(name="import")
@declare(
    click.argument("file", metavar="FILE"),
    BED,
    click.option("--air", "is_air", is_flag=True, help="FILE is daily air, not a soil log."),
    PLACE,
    click.option("--depth", type=DEPTH, help="Depth of readings where FILE does not say."),
    UNITS, DAY_FIRST, COLUMN, PROBE,
    click.option("--obs-hour", type=click.IntRange(0, 23), help="Hour at which the air was read."),
    BOOK, JSON, SHOW,
)  # fmt: skip
def import_(file: str, *, is_air: bool, path: str | None, as_json: bool, **how: Any) -> None:
    """Add a soil log, a daily air record (--air), or an exported book.

    Importing the same file again adds nothing; a longer one adds what is new. A log of several
    probes goes to beds of their names; --probe takes one of them.
    """
    from pathlib import Path

    from forecaster.book import import_book, is_export
    from forecaster.words.book import air_words, readings_words
    from forecaster.words.phrases import count

    if is_export(Path(file)):
        with opened(path, create=True) as held:
            counts = import_book(held, Path(file))
            words = [f"{count(sum(counts.values()), 'row')} read back into {held.path}."]
        tell(words, {"rows": counts}, as_json=as_json)
        return
    show = scale(how["show"])
    if is_air:
        where, added_air, doubts = _import_air(file, path, how)
        words = [*air_words(added_air, where, show), *_check_first(doubts)]
        tell(words, {"place": where, "air": added_air, "doubts": doubts}, as_json=as_json)
        return
    beds, notes = _import_log(file, path, how)
    words = [line for where, added in beds for line in readings_words(added, where, show)]
    each = [{"bed": where, "readings": added} for where, added in beds]
    data = each[0] if len(each) == 1 else {"beds": each}
    tell([*words, *notes], {**data, "notes": notes}, as_json=as_json)


def _check_first(doubts: Sequence[str]) -> list[str]:
    """Return what is strange about a record just taken in, and how to take it back."""
    from forecaster.answers.at_once import UNDO

    return [f"Check first: {each}" for each in doubts] + ([f"{UNDO}."] if doubts else [])


def _import_air(
    file: str, path: str | None, how: dict[str, Any]
) -> tuple[str, Any, tuple[str, ...]]:
    from forecaster.answers.at_once import doubt_place_air
    from forecaster.answers.taken import read_air_file
    from forecaster.book import add_air, find_place

    with opened(path) as held:
        place = find_place(held, how["place"])
        hour = place.obs_hour if how["obs_hour"] is None else how["obs_hour"]
        record = read_air_file(
            file, obs_hour=hour, units=how["units"], day_first=how["day_first"],
            columns=columns_told(how["columns"])[0],
        )  # fmt: skip
        with held.batch("import", file) as batch:
            added = add_air(batch, place.name, record.table, **record.how)
            return place.name, added, doubt_place_air(held, place.name)


def _import_log(
    file: str, path: str | None, how: dict[str, Any]
) -> tuple[list[tuple[str, Any]], list[str]]:
    """Add a log to its bed, or each of its probes to the bed of its name."""
    from forecaster.book import add_readings
    from forecaster.ground.units import parse_length
    from forecaster.ingest import account_of, one_probe, read_readings

    depth_m = None if how["depth"] is None else parse_length(how["depth"])
    with opened(path) as held:
        log = read_readings(
            file, depth_m=depth_m, units=how["units"], day_first=how["day_first"],
            columns=columns_told(how["columns"])[1], probe=how["probe"],
        )  # fmt: skip
        with held.batch("import", file) as batch:
            if "probe" in log and how["bed"] is None:
                parts = [
                    (_bed_named(batch, str(name), how["place"]), some)
                    for name, some in log.groupby("probe")
                ]
            else:
                parts = [(bed_for(batch, how["bed"]), one_probe(log))]
            added = [(where.name, add_readings(batch, where.name, some)) for where, some in parts]
    account = account_of(log)
    refused = account.rows_read - account.rows_used
    notes = [f"{refused:,} of {account.rows_read:,} rows were not used."] if refused else []
    notes += [f"Suspect: {one.kind}, {one.first} to {one.last}" for one in account.suspects[:3]]
    return added, notes


def _bed_named(batch: Batch, name: str, place: str | None) -> Bed:
    """Return the bed of a probe's name; made at a place, or the only one, if the book has none."""
    from forecaster.book import Bed, add_bed, beds, find_place
    from forecaster.book.places import name_key

    for known in beds(batch.book):
        if name_key(known.name) == name_key(name):
            return known
    made = Bed(name=name, place=find_place(batch.book, place).name)
    add_bed(batch, made)
    return made
