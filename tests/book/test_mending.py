"""Damage: seen on opening, said, and what can still be read saved; nothing half made stays.

The damage is made here, byte by byte, in books written here; a page's form is SQLite's
documentation: https://www.sqlite.org/fileformat2.html
"""

import contextlib
import errno
import os
import random
import re
import shutil
import signal
import sqlite3
import struct
import subprocess
import sys
from pathlib import Path

import pytest

from forecaster.book import (
    Bed,
    BookError,
    add_bed,
    add_readings,
    batches,
    bed_readings,
    beds,
    change_bed,
    copy_book,
    find_bed,
    notes,
    open_book,
    salvage_book,
    schema,
    store,
    sums,
    trouble,
    undo,
)
from forecaster.ground.errors import FileError, ForecasterError, InputError

FIXTURES = Path(__file__).parents[1] / "fixtures"


@pytest.fixture
def full(book, make_log, tmp_path):
    """A closed book of 3,000 readings, its log of what is being written worked in."""
    with book.batch("import", "log.csv") as batch:
        add_readings(batch, "north", make_log(3000))
    book.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    book.close()
    return book.path


class TestSums:
    def test_a_changed_value_in_a_sound_page_is_noticed(self, full):
        """One reading of 15.4 °C turned into 25.4: SQLite's own check finds nothing wrong."""
        data = full.read_bytes()
        old, new = struct.pack(">d", 15.4), struct.pack(">d", 25.4)  # section 2.1: big-endian
        assert data.count(old) > 3
        full.write_bytes(data.replace(old, new, 1))
        with contextlib.closing(sqlite3.connect(full)) as db:
            assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        with pytest.raises(FileError, match=r"values in readings.*batch 2.*salvage"):
            open_book(full)

    def test_a_changed_letter_is_noticed(self, full):
        data = full.read_bytes()
        full.write_bytes(data.replace(b"log.csv", b"lag.csv", 1))
        with pytest.raises(FileError, match=r"values in batches"):
            open_book(full)

    def test_sums_are_those_of_python(self, book, make_log):
        """The rule of sums.py once more, in Python over whole rows."""
        with book.batch("import", "log") as batch:
            add_readings(batch, "north", make_log(50))
        total = 0
        for id_, bed, time_s, temp, depth, span, known, batch_id, wall, said in book.db.execute(
            "SELECT * FROM readings WHERE batch_id = 2"
        ):
            values = (id_, bed, time_s, int(temp * 1e6), int(depth * 1e6), int(span != "day"),
                      known, batch_id, wall, said)  # fmt: skip
            times = (3, 5, 7, 11, 13, 17, 19, 23, 29, 31)
            total += sum(v * t for v, t in zip(values, times, strict=True))
        kept = book.db.execute(
            "SELECT total FROM sums WHERE owner = 'batch' AND number = 2 AND part = 'readings'"
        ).fetchone()
        assert kept == (total,)

    def test_every_column_counts(self, book, make_log):
        """Change each cell of a row on its own: the sum is another."""
        with book.batch("import", "log") as batch:
            add_readings(batch, "north", make_log(3))
        assert sums.wrong(book.db) == ""
        book.db.execute("PRAGMA foreign_keys = OFF")
        for part in sums.PARTS:
            for _, name, *_ in book.db.execute(f"PRAGMA table_info({part.table})").fetchall():
                if not book.db.execute(f"SELECT 1 FROM {part.table}").fetchone():  # noqa: S608
                    continue
                book.db.execute("BEGIN")
                book.db.execute("PRAGMA ignore_check_constraints = ON")
                book.db.execute(
                    f"UPDATE {part.table} SET {name} = CASE {name} WHEN 7 THEN 8 ELSE 7 END "  # noqa: S608
                    f"WHERE rowid = (SELECT max(rowid) FROM {part.table})"
                )
                assert sums.wrong(book.db), (part.table, name)
                book.db.execute("ROLLBACK")

    def test_a_large_book_is_checked_by_its_sums(self, full, monkeypatch):
        monkeypatch.setattr(store, "SMALL_BYTES", 0)
        open_book(full).close()
        data = full.read_bytes()
        full.write_bytes(data.replace(struct.pack(">d", 15.4), struct.pack(">d", 25.4), 1))
        with pytest.raises(FileError, match="values in readings"):
            open_book(full)
        full.write_bytes(data)
        with contextlib.closing(sqlite3.connect(full)) as db:
            root = db.execute(
                "SELECT rootpage FROM sqlite_master WHERE name = 'readings_once'"
            ).fetchone()[0]
        changed = bytearray(data)
        at = data.index(struct.pack(">i", 1772354400), 4096 * root)  # 2026-03-01 08:40
        changed[at + 3] ^= 4
        full.write_bytes(changed)
        with pytest.raises(FileError, match="damaged"):
            open_book(full)

    def test_they_hold_through_undo_and_copy(self, book, make_log, tmp_path):
        for k in range(3):
            with book.batch("import", "log") as batch:
                add_readings(batch, "north", make_log(5 + 5 * k))
        undo(book, 3)
        with book.batch("bed", "south") as batch:
            add_bed(batch, Bed(name="south", place="Eddermarl Terrace"))
        change_bed(book, "south", soil="clay")
        undo(book)
        copy_book(book.path, tmp_path / "copy.db")
        book.close()
        for path in (book.path, tmp_path / "copy.db"):
            open_book(path).close()


@pytest.mark.parametrize("seed", range(12))
def test_a_damaged_book_never_shows_other_values(tmp_path, full, make_log, monkeypatch, seed):
    """Bytes turned at random: opened with the same rows, or refused in one line."""
    if seed % 2:
        monkeypatch.setattr(store, "SMALL_BYTES", 0)  # as a large one
    rng = random.Random(seed)  # noqa: S311 - seeded, to be repeated
    expected = make_log(3000)
    for k in range(6):
        data = bytearray(full.read_bytes())
        for _ in range(rng.choice([1, 1, 4, 40])):
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        path = tmp_path / f"spoiled{k}.db"
        path.write_bytes(data)
        try:
            with open_book(path) as book:
                found = bed_readings(book, "north")
                lines = batches(book)
        except ForecasterError:
            continue
        # The sums keep a measure's millionths (sums.py): less is no other value.
        assert found["temp_c"].tolist() == pytest.approx(expected["temp_c"].tolist(), abs=1e-6)
        assert found["time"].tolist() == expected["time"].tolist()
        assert [line.source for line in lines][-1] == "log.csv"


@pytest.mark.parametrize("create", [False, True])
def test_damaged_declarations_are_said(full, create):
    data = full.read_bytes()
    full.write_bytes(data.replace(b"temp_c REAL", b"temp_c_REAL", 1))
    with pytest.raises(FileError, match=r"damaged.*salvage"):
        open_book(full, create=create)


class TestSalvage:
    def test_a_sound_book_comes_out_whole(self, full, tmp_path, make_log):
        before = full.read_bytes()
        found = salvage_book(full, tmp_path / "new.db")
        assert found.troubles == ()
        assert found.rows["readings"] == 3000
        with open_book(tmp_path / "new.db") as new:
            assert bed_readings(new)["temp_c"].tolist() == make_log(3000)["temp_c"].tolist()
            assert notes(new)[0].text == "Salvaged from 'garden.db'."
        assert full.read_bytes() == before
        assert {p.name for p in tmp_path.iterdir()} >= {"garden.db", "new.db"}
        assert [p for p in tmp_path.iterdir() if "part" in p.name] == []

    def test_all_but_the_lost_page_is_saved(self, full, tmp_path):
        """Zeros over one page of readings: about a hundred rows are lost, the rest is there."""
        size = 4096
        data = bytearray(full.read_bytes())
        pages = [at for at in range(0, len(data), size) if data[at] == 13]  # leaves, section 1.6
        at = pages[len(pages) // 2]
        data[at : at + size] = bytes(size)
        full.write_bytes(data)
        with pytest.raises(FileError, match="damaged"):
            open_book(full)
        found = salvage_book(full, tmp_path / "new.db")
        assert 2800 <= found.rows["readings"] < 3000
        assert any(
            re.search(r"Could not be read.* rows of readings", said) for said in found.troubles
        )
        assert any("Batch 2 is not whole" in said for said in found.troubles)
        with open_book(tmp_path / "new.db") as new:
            assert len(bed_readings(new, "north")) == found.rows["readings"]

    def test_a_changed_value_is_named(self, full, tmp_path):
        data = full.read_bytes()
        full.write_bytes(data.replace(struct.pack(">d", 15.4), struct.pack(">d", 25.4), 1))
        found = salvage_book(full, tmp_path / "new.db")
        assert found.rows["readings"] == 3000
        assert len(found.troubles) == 1
        assert "Batch 2 is not whole or not as it was written" in found.troubles[0]

    def test_declarations_are_put_right(self, full, tmp_path):
        data = full.read_bytes()
        full.write_bytes(data.replace(b"CREATE TABLE readings", b"CREATE TABLE xxxxings", 1))
        with pytest.raises(FileError, match="damaged"):
            open_book(full)
        assert salvage_book(full, tmp_path / "new.db").rows["readings"] == 3000

    def test_an_earlier_version(self, tmp_path):
        shutil.copy(FIXTURES / "book_version_1.db", tmp_path / "old.db")
        found = salvage_book(tmp_path / "old.db", tmp_path / "new.db")
        assert found.troubles == ()
        with open_book(tmp_path / "new.db") as new:
            assert len(bed_readings(new, "north")) == 2

    @pytest.mark.parametrize("content", [b"", b"date,temp\n2026-03-01,12\n" * 200])
    def test_what_is_no_book_is_refused(self, tmp_path, content):
        (tmp_path / "x.db").write_bytes(content)
        with pytest.raises(ForecasterError, match=r"not a garden book|nothing of it"):
            salvage_book(tmp_path / "x.db", tmp_path / "new.db")
        assert [p.name for p in tmp_path.iterdir()] == ["x.db"]

    def test_never_over_a_file(self, full):
        with pytest.raises(InputError, match="there already"):
            salvage_book(full, full)

    @pytest.mark.parametrize("seed", range(8))
    def test_anything_that_can_be_opened_again(self, full, tmp_path, seed):
        """Whatever comes out is a sound book, or nothing comes out and one line says so."""
        rng = random.Random(seed)  # noqa: S311 - seeded, to be repeated
        data = bytearray(full.read_bytes())
        for _ in range(rng.choice([1, 20, 400])):
            at = rng.randrange(100, len(data))
            data[at : at + 8] = rng.randbytes(8)
        full.write_bytes(data)
        try:
            salvage_book(full, tmp_path / "new.db")
        except ForecasterError:
            assert not (tmp_path / "new.db").exists()
            return
        open_book(tmp_path / "new.db").close()


class TestUndoTakesTheLastChange:
    def test_a_bed_that_was_changed(self, book, make_log):
        """The reading stays; the change of the bed goes."""
        with book.batch("read", "by hand") as batch:
            add_readings(batch, "north", make_log(1))
        before = find_bed(book, "north")
        change_bed(book, "north", depth_m=0.2032, soil="clay")
        assert (find_bed(book, "north").depth_m, find_bed(book, "north").soil) == (0.2032, "clay")
        assert undo(book).batch.rows == {"bed setting": 2}
        assert find_bed(book, "north") == before
        assert len(bed_readings(book)) == 1

    def test_a_change_in_the_middle(self, book):
        change_bed(book, "north", soil="clay", cover="mulch")
        change_bed(book, "north", soil="sand")
        undo(book, 2)
        assert (find_bed(book, "north").soil, find_bed(book, "north").cover) == ("sand", "bare")
        undo(book)
        assert find_bed(book, "north").soil == "loam"

    def test_nothing_changed_is_no_batch(self, book):
        change_bed(book, "north", soil="loam")
        assert len(batches(book)) == 1

    def test_a_bed_is_not_undone_under_its_changes(self, book):
        change_bed(book, "north", soil="clay")
        with pytest.raises(InputError, match="later entries belong to"):
            undo(book, 1)
        undo(book)
        undo(book)
        assert beds(book) == []

    def test_a_depth_that_changes_leaves_readings_where_they_were(self, book, make_log):
        log = make_log(4).drop(columns="depth_m")
        with book.batch("import", "log") as batch:
            add_readings(batch, "north", log)
        before = bed_readings(book)["depth_m"].tolist()
        change_bed(book, "north", depth_m=0.3)
        assert bed_readings(book)["depth_m"].tolist() == before
        with book.batch("import", "log") as batch:
            again = add_readings(batch, "north", log)
        assert (again.new, again.same, again.conflicts) == (0, 4, 0)


class TestOneReading:
    """The same reading, typed in and in a log, on a clock that was put forward."""

    @pytest.fixture
    def typed(self, make_log):
        return make_log(1, "2026-01-15 06:40").assign(
            wall=make_log(1, "2026-01-15 07:40")["time"], depth_m=float("nan")
        )

    @pytest.fixture
    def in_a_log(self, make_log):
        return make_log(1, "2026-01-15 07:40").drop(columns="depth_m")

    @pytest.mark.parametrize("typed_first", [True, False])
    def test_is_one(self, book, typed, in_a_log, typed_first):
        for frame in (typed, in_a_log)[:: 1 if typed_first else -1]:
            with book.batch("x", "x") as batch:
                added = add_readings(batch, "north", frame)
        assert (added.new, added.same, added.conflicts) == (0, 1, 0)
        assert len(bed_readings(book)) == 1

    def test_with_the_depth_said_in_one_of_them(self, book, typed, in_a_log):
        for frame in (typed, in_a_log.assign(depth_m=0.1016)):
            with book.batch("x", "x") as batch:
                add_readings(batch, "north", frame)
        assert len(bed_readings(book)) == 1

    def test_another_value_is_another_reading(self, book, typed, in_a_log):
        for frame in (typed, in_a_log.assign(temp_c=17.0)):
            with book.batch("x", "x") as batch:
                add_readings(batch, "north", frame)
        assert len(bed_readings(book)) == 2


class TestBeginning:
    def test_a_pipe_is_refused_at_once(self, tmp_path):
        if not hasattr(os, "mkfifo"):
            pytest.skip("no pipes with names here")
        os.mkfifo(tmp_path / "pipe.db")
        for create in (False, True):
            with pytest.raises(FileError, match="a pipe or a device"):
                open_book(tmp_path / "pipe.db", create=create)

    def test_a_second_name_left_by_a_kill_is_swept(self, tmp_path):
        path = tmp_path / "garden.db"
        open_book(path, create=True).close()
        gone = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"],
                              capture_output=True, check=True)  # fmt: skip
        left = path.with_name(f"garden.db.part{int(gone.stdout)}")
        os.link(path, left)
        open_book(path, create=True).close()
        assert not left.exists()
        open_book(path).close()

    @pytest.mark.slow
    @pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked processes")
    def test_killed_at_every_call_of_a_first_start(self, tmp_path):
        """Ended before each call that the beginning makes: no file, or a book; none unusable."""
        code = (
            "import os, sys\n"
            "from forecaster.book import open_book\n"
            "at, path, calls = int(sys.argv[1]), sys.argv[2], 0\n"
            "def look(frame, event, what):\n"
            "    global calls\n"
            "    calls += event in ('call', 'c_call')\n"
            "    if calls >= at: os.kill(os.getpid(), 9)\n"
            "sys.setprofile(look)\n"
            "open_book(path, create=True).close()\n"
            "sys.setprofile(None)\n"
            "print('done')\n"
        )
        ends = []
        for at in (*range(5, 400, 12), *range(400, 4000, 300)):
            path = tmp_path / f"{at}.db"
            run = subprocess.run(
                [sys.executable, "-c", code, str(at), str(path)], capture_output=True, check=False
            )
            ends.append(run.returncode)
            open_book(path, create=True).close()
            assert [p.name for p in tmp_path.glob(f"{at}.db.part*")] == [], "swept"
        assert ends.count(-signal.SIGKILL) > 20
        assert ends[-1] == 0 or ends[-1] == -signal.SIGKILL


def test_a_killed_backup_does_not_block_the_next(book, tmp_path):
    dead = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"],
                          capture_output=True, text=True, check=True).stdout.strip()  # fmt: skip
    for end in ("", "-journal"):
        (tmp_path / f"copy.db.part{dead}{end}").write_bytes(b"half")
    (tmp_path / "copy.db.partner").write_bytes(b"not ours")
    copy_book(book.path, tmp_path / "copy.db")
    assert sorted(p.name for p in tmp_path.glob("copy*")) == ["copy.db", "copy.db.partner"]


class TestFullDisk:
    def test_of_the_system(self, tmp_path):
        with pytest.raises(BookError, match="the disk is full"), trouble.told(tmp_path / "x"):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    @pytest.mark.parametrize(("free", "said"), [(0, "disk is full"), (10**9, "the disk fails")])
    def test_that_sqlite_takes_for_a_failing_one(self, monkeypatch, tmp_path, free, said):
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorname = "SQLITE_IOERR_WRITE"
        usage = shutil.disk_usage(tmp_path)._replace(free=free)
        monkeypatch.setattr(trouble.shutil, "disk_usage", lambda _: usage)
        assert said in str(trouble.in_words(error, tmp_path / "x.db"))


def test_declared_as_written():
    """The tables of a fixture are declared as the steps of this version declare them."""
    for version in range(1, schema.VERSION + 1):
        with contextlib.closing(sqlite3.connect(FIXTURES / f"book_version_{version}.db")) as db:
            assert schema.text_of(db) == schema.expected_text(version)
