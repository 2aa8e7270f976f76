"""What goes in, what came of it and what it cost: kept, replaced, taken back, added up."""

import contextlib
import sqlite3
import struct
from dataclasses import replace
from datetime import date

import pytest

from forecaster.answers.summary import summarise
from forecaster.book import (
    Cost,
    Note,
    Outcome,
    Planting,
    Want,
    add_cost,
    add_done,
    add_note,
    add_outcome,
    add_planting,
    add_readings,
    add_want,
    costs,
    drop_want,
    open_book,
    outcomes,
    salvage_book,
    season_of,
    undo,
    wants,
)
from forecaster.ground.errors import FileError, InputError, NotEnoughData
from forecaster.plan.history import last_planting, past_of

PANSY = Want(
    bed="north",
    season="autumn",
    what="pansy",
    variety="Dusk",
    colours=(("yellow", 72), ("white", None)),
    spacing_m=0.2032,
    flats=((36, 18.5), (48, None)),
    currency="AUD",
    spare_share=0.05,
    weeks=(8.0, 10.0),
)
SEEN = Outcome(
    bed="north",
    what="pansy",
    planted=date(2026, 4, 20),
    seen=date(2026, 6, 1),
    how_many=144,
    survived=108,
    note="slugs",
)


def put(book, *things):
    """Each thing in a batch of its own."""
    add = {Want: add_want, Outcome: add_outcome, Cost: add_cost, Note: add_note}
    for one in things:
        with book.batch("test", "test") as batch:
            (add.get(type(one)) or add_planting)(batch, one)


def test_what_goes_in_reads_back_and_the_latest_word_counts(book):
    put(book, PANSY)
    assert wants(book) == [PANSY]
    put(book, replace(PANSY, what="Pansy ", spacing_m=0.25), replace(PANSY, season="spring"))
    assert [(one.season, one.spacing_m) for one in wants(book)] == [
        ("autumn", 0.25), ("spring", 0.2032),
    ]  # fmt: skip
    assert wants(book, "north", "spring") == [replace(PANSY, season="spring")]
    undo(book, 3)
    assert wants(book, season="autumn") == [PANSY], "the word before counts again"
    with book.batch("want", "pansy") as batch:
        drop_want(batch, "north", "autumn", "PANSY", "dusk")
    assert wants(book, season="autumn") == []
    undo(book)
    assert wants(book, season="autumn") == [PANSY]


def test_what_is_not_wanted_cannot_be_dropped(book):
    put(book, PANSY)
    said = "'kale' is not wanted in 'north' in autumn; pansy is"
    with pytest.raises(InputError, match=said), book.batch("want", "kale") as batch:
        drop_want(batch, "north", "autumn", "kale")
    assert wants(book) == [PANSY]


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: replace(PANSY, season="winter"), "autumn or spring"),
        (lambda: replace(PANSY, what=" "), "what goes in"),
        (lambda: replace(PANSY, plants=0), "expected 1 to 200,000"),
        (lambda: replace(PANSY, spacing_m=0.0), "above 0"),
        (lambda: replace(PANSY, flats=((0, None),)), "a flat of 0"),
        (lambda: replace(PANSY, spare_share=1.5), "0 to 1"),
        (lambda: replace(PANSY, weeks=(9.0, 8.0)), "weeks are"),
        (lambda: replace(SEEN, survived=145), "145 survived of 144"),
        (lambda: replace(SEEN, how_many=None), "of how many"),
        (lambda: replace(SEEN, seen=date(2026, 4, 1)), "before it was planted"),
        (lambda: replace(SEEN, survived=None, share=None, note=""), "what came of it"),
        (lambda: replace(SEEN, survived=None, share=1.2), "0 to 1"),
        (lambda: Cost(season="2026", day=SEEN.seen, what="x", amount=1.0), "2026-autumn"),
        (lambda: Cost(season="2026-autumn", day=SEEN.seen, what="x", amount=0.0), "money"),
        (lambda: Cost(season="2026-autumn", day=SEEN.seen, what="", amount=1.0), "paid for"),
    ],
)
def test_what_cannot_be_is_refused(make, said):
    with pytest.raises(InputError, match=said):
        make()


def test_outcomes_and_costs_read_back_and_are_taken_back(book):
    cost = Cost(season="2026-autumn", day=date(2026, 3, 1), what="flats", amount=74.0, bed="north")
    put(book, SEEN, cost, replace(cost, bed=None, season="2026-spring"))
    assert outcomes(book) == [SEEN]
    assert outcomes(book)[0].share == 0.75
    assert costs(book, "2026-autumn") == [cost]
    assert costs(book, bed="north") == [cost]
    undo(book)
    undo(book)
    assert costs(book) == []
    undo(book)
    assert outcomes(book) == []


def test_an_outcome_outlives_the_planting_that_is_undone(book):
    put(book, Planting("north", SEEN.planted, "planted", "pansy", 144), SEEN)
    undo(book, 2)
    assert outcomes(book) == [SEEN]


def test_a_bed_is_not_undone_under_them(book):
    for one in (PANSY, SEEN, Cost(season="2026-autumn", day=SEEN.seen, what="x", amount=1.0,
                                  bed="north")):  # fmt: skip
        put(book, one)
        with pytest.raises(InputError, match="later entries belong to"):
            undo(book, 1)
        undo(book)


def test_the_halves_of_the_year():
    """By hand: January to June is spring in the north and autumn in the south."""
    assert season_of(date(2026, 6, 30), 41.0) == "2026-spring"
    assert season_of(date(2026, 7, 1), 41.0) == "2026-autumn"
    assert season_of(date(2026, 6, 30), -36.0) == "2026-autumn"
    assert season_of(date(2026, 7, 1), -36.0) == "2026-spring"


def test_an_index_of_a_small_book_that_leads_elsewhere_is_refused(book, make_log):
    """The index's copy of a time changed alone: SQLite's quick check does not look there."""
    with book.batch("import", "log.csv") as batch:
        add_readings(batch, "north", make_log(50))
    book.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    root = book.db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'readings_once'")
    page, size = root.fetchone()[0], book.db.execute("PRAGMA page_size").fetchone()[0]
    time = book.db.execute("SELECT max(time_s) FROM readings").fetchone()[0]
    book.close()
    data = bytearray(book.path.read_bytes())
    at = data.index(struct.pack(">i", time), (page - 1) * size, page * size)
    data[at + 3] ^= 1
    book.path.write_bytes(data)
    with contextlib.closing(sqlite3.connect(book.path)) as db:
        assert db.execute("PRAGMA quick_check").fetchone() == ("ok",)
    with pytest.raises(FileError, match="index of readings"):
        open_book(book.path)


class TestPast:
    def test_the_last_word_on_each_planting(self, book):
        first = Planting("north", date(2025, 4, 20), "planted", "Pansy", 100)
        put(book, first, SEEN, replace(SEEN, seen=date(2026, 8, 1), survived=72))
        put(book, Planting("north", SEEN.planted, "planted", "pansy"))
        found = past_of([first, Planting("north", SEEN.planted, "planted", "pansy")],
                        outcomes(book), before=date(2027, 1, 1))  # fmt: skip
        assert [(one.what, one.how_many) for one in found] == [("Pansy", 100), ("pansy", 144)]
        assert found[0].outcome is None
        assert found[1].outcome.survived == 72
        assert past_of([first], outcomes(book), before=date(2025, 1, 1)) == ()

    def test_the_last_planting_is_found_by_the_crops_other_names(self, book):
        put(book, Planting("north", date(2025, 4, 20), "planted", "pansies", 100))
        put(book, Planting("north", date(2025, 9, 20), "planted", "tomato"))
        assert last_planting(book, "north", "pansy", date(2026, 1, 1)).how_many == 100
        assert last_planting(book, "north", "pansy", date(2025, 1, 1)) is None
        assert last_planting(book, "north", "kale", date(2026, 1, 1)) is None


class TestSummary:
    def test_it_adds_up(self, book):
        """By hand: 144 plants, 108 of 144 alive, 74 + 12.5 in one currency and 3 in another."""
        flats = Cost(
            season="2026-autumn", day=SEEN.seen, what="flats", amount=74.0, currency="AUD",
            bed="north",
        )  # fmt: skip
        put(book, Planting("north", SEEN.planted, "planted", "pansy"), SEEN, flats)
        put(book, replace(flats, amount=12.5, bed=None), replace(flats, amount=3.0, currency=""))
        put(book, replace(flats, season="2025-autumn"), Note(SEEN.seen, "mulched", "north"))
        with book.batch("done", "by hand") as batch:
            add_done(batch, "north", "2026-autumn/feed", "Feed", SEEN.seen)
        found = summarise(book)
        assert found.season == "2026-autumn"
        assert (found.plants, found.seen) == (144, (108, 144))
        assert found.money == {"": 3.0, "AUD": 86.5}
        (bed,) = found.beds
        assert (bed.tasks_done, [one.text for one in bed.notes]) == (1, ["mulched"])
        assert summarise(book, "2024-spring").beds[0].quiet

    def test_what_is_no_season_is_refused(self, book):
        with pytest.raises(NotEnoughData, match="nothing was planted yet"):
            summarise(book)
        with pytest.raises(InputError, match="expected it as 2026-autumn"):
            summarise(book, "2026")


def test_salvage_keeps_them(book, tmp_path):
    put(book, PANSY, SEEN, Cost(season="2026-autumn", day=SEEN.seen, what="flats", amount=1.0))
    book.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    book.close()
    found = salvage_book(book.path, tmp_path / "saved.db")
    assert found.troubles == ()
    assert [found.rows[name] for name in ("wants", "outcomes", "costs")] == [1, 1, 1]
    with open_book(tmp_path / "saved.db") as saved:
        assert (wants(saved), outcomes(saved)) == ([PANSY], [SEEN])
