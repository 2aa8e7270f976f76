"""What an answer about a bed rests on: any change of it is seen, one of another bed is not.

And a book that is opened often is added up again when its files have changed, and only then.
"""

from datetime import date, datetime
from time import sleep

import numpy as np
import pandas as pd
import pytest

from forecaster import book as kept
from forecaster.book import Book, KnownLogs, Touched, sums
from forecaster.ground.errors import FileError

DAY = date(2026, 3, 16)


@pytest.fixture
def book(tmp_path, make_air):
    """Two beds in one place, a third in another."""
    with kept.open_book(tmp_path / "garden.db", create=True) as opened:
        with opened.batch("start", "x") as batch:
            for name in ("near", "far"):
                kept.add_place(batch, kept.Place(name=name, latitude_deg=45.0))
            for name, place in (("one", "near"), ("two", "near"), ("three", "far")):
                kept.add_bed(batch, kept.Bed(name=name, place=place))
        yield opened


def read(book: Book, bed: str, hour: int = 8) -> int:
    row = {"time": [pd.Timestamp(datetime(2026, 3, 15, hour))], "temp_c": [12.0]}
    with book.batch("read", "by hand") as batch:
        kept.add_readings(batch, bed, pd.DataFrame(row))
    return batch.number


def air(book: Book, place: str, make_air) -> None:
    with book.batch("import", "x") as batch:
        kept.add_air(batch, place, make_air(10), source="x")


def note(book: Book, bed: str | None) -> None:
    with book.batch("note", "x") as batch:
        kept.add_note(batch, kept.Note(DAY, "rain", bed))


def planted(book: Book, bed: str) -> None:
    with book.batch("planted", "x") as batch:
        kept.add_planting(batch, kept.Planting(bed, DAY, "planted", "lettuce"))


CHANGES = {
    "a reading": (lambda book, _: read(book, "one"), {"one"}),
    "another's": (lambda book, _: read(book, "three"), {"three"}),
    "a bed's soil": (lambda book, _: kept.change_bed(book, "two", soil="sand"), {"two"}),
    "air": (lambda book, make_air: air(book, "near", make_air), {"one", "two"}),
    "a note": (lambda book, _: note(book, "one"), {"one"}),
    "a note of no bed": (lambda book, _: note(book, None), {"one", "two", "three"}),
    "a planting": (lambda book, _: planted(book, "two"), {"two"}),
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_is_seen_where_it_is_and_nowhere_else(book, make_air, name):
    change, expected = CHANGES[name]
    known = Touched()
    beds = [bed.name for bed in kept.beds(book)]
    before = {bed: known.state(book, bed) for bed in beds}
    change(book, make_air)
    after = {bed: known.state(book, bed) for bed in beds}
    assert {bed for bed in beds if after[bed] != before[bed]} == expected
    assert after == {bed: Touched().state(book, bed) for bed in beds}, "as if looked at anew"
    kept.undo(book, kept.batches(book)[-1].number)
    assert {bed: known.state(book, bed) for bed in beds} == before


def test_what_comes_after_an_undo_is_told_apart(book):
    """Row numbers are used again after an undo; a batch's number never is."""
    known = Touched()
    first = read(book, "one")
    seen = known.state(book, "one")
    kept.undo(book, first)
    read(book, "one", hour=9)
    assert known.state(book, "one") != seen


def test_the_air_of_a_place_is_its_own(book, make_air):
    known = Touched()
    before = [known.place_state(book, place) for place in ("near", "far")]
    read(book, "one")
    assert [known.place_state(book, place) for place in ("near", "far")] == before
    air(book, "near", make_air)
    near, far = (known.place_state(book, place) for place in ("near", "far"))
    assert near != before[0]
    assert far == before[1]


def test_a_log_read_before_is_read_on(book):
    """Readings added in any order, undone and added again: as if all were read anew."""
    known = KnownLogs()
    rng = np.random.default_rng(3)
    taken: list[int] = []
    for hour in rng.permutation(24)[:12].tolist():
        taken.append(read(book, "one", hour=int(hour)))
        if len(taken) % 3 == 0:
            kept.undo(book, taken.pop(int(rng.integers(len(taken)))))
        if len(taken) % 2:
            read(book, "two", hour=int(hour))
        mine, anew = kept.bed_readings(book, "one", known), kept.bed_readings(book, "one")
        pd.testing.assert_frame_equal(mine, anew)
        assert len(mine) == len(taken)
        assert mine["time"].is_monotonic_increasing


def test_another_file_is_another_book(book, tmp_path):
    known = Touched()
    seen = known.state(book, "one")
    with kept.open_book(tmp_path / "other.db", create=True) as other:
        with other.batch("start", "x") as batch:
            kept.add_place(batch, kept.Place(name="near", latitude_deg=45.0))
            kept.add_bed(batch, kept.Bed(name="one", place="near"))
        assert known.state(other, "one") != seen


@pytest.fixture
def counted(monkeypatch):
    """How often a book was added up."""
    calls = []
    real = sums.wrong
    monkeypatch.setattr(sums, "wrong", lambda db: calls.append(1) or real(db))
    return calls


def test_a_sound_book_is_added_up_once(book, tmp_path, counted):
    path, sound = tmp_path / "garden.db", kept.Sound()
    book.close()
    for _ in range(3):
        kept.open_book(path, sound=sound).close()
    assert len(counted) == 1
    with kept.open_book(path, sound=sound) as mine:
        read(mine, "one")
    kept.open_book(path, sound=sound).close()
    assert len(counted) == 1, "what this program wrote is sound"
    with kept.open_book(path) as another:
        read(another, "two")
    assert len(counted) == 2
    kept.open_book(path, sound=sound).close()
    assert len(counted) == 3, "what another wrote is added up"


def test_damage_is_seen_by_a_program_that_knew_the_book(book, tmp_path):
    path, sound = tmp_path / "garden.db", kept.Sound()
    read(book, "one")
    book.close()
    kept.open_book(path, sound=sound).close()
    content = path.read_bytes()
    sleep(0.02)  # a file's time has a grain
    path.write_bytes(content.replace(b"by hand", b"by hamd"))
    with pytest.raises(FileError):
        kept.open_book(path, sound=sound)
