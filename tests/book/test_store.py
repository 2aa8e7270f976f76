"""The book's file: recognised, checked, migrated, copied; every trouble is one clear line.

What the file must look like is SQLite's documentation: https://www.sqlite.org/fileformat2.html
"""

import contextlib
import os
import shutil
import sqlite3
import struct
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from platformdirs.macos import MacOS

from forecaster.book import (
    BookError,
    add_readings,
    batches,
    bed_readings,
    copy_book,
    costs,
    default_path,
    find_bed,
    open_book,
    outcomes,
    schema,
    store,
    sums,
    trouble,
    wants,
)
from forecaster.ground.errors import DataMissing, FileError, ForecasterError, InputError

FIXTURES = Path(__file__).parents[1] / "fixtures"


def test_header_says_what_it_is(book):
    """Bytes 60 to 63 are user_version and 68 to 71 application_id, big-endian (section 1.3)."""
    book.close()
    header = book.path.read_bytes()[:100]
    version, mark = struct.unpack(">I", header[60:64])[0], struct.unpack(">I", header[68:72])[0]
    assert (version, mark) == (schema.VERSION, schema.APPLICATION_ID)
    assert mark.to_bytes(4, "big") == b"Xday"


def test_written_ahead_with_foreign_keys_and_full_syncing(book):
    pragmas = ("journal_mode", "foreign_keys", "synchronous")
    found = [book.db.execute(f"PRAGMA {name}").fetchone()[0] for name in pragmas]
    assert found == ["wal", 1, 2]  # 2 is FULL: https://www.sqlite.org/pragma.html


def test_sqlite_finds_nothing_wrong(book, make_log):
    with book.batch("import", "log") as batch:
        add_readings(batch, "north", make_log(500))
    assert book.db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert book.db.execute("PRAGMA foreign_key_check").fetchall() == []


def test_opening_again_finds_the_same(book, make_log):
    with book.batch("import", "log") as batch:
        add_readings(batch, "north", make_log())
    book.close()
    with open_book(book.path) as again:
        assert bed_readings(again).equals(make_log())


class TestNotABook:
    """A file that is no book is recognised, and not one byte of it changes."""

    @pytest.mark.parametrize("create", [False, True])
    @pytest.mark.parametrize(
        ("content", "said"),
        [
            (b"date,temp\n2026-03-01,12\n" * 20, "another kind of file"),
            (b"short", "another kind of file"),
            (b"SQLite format 3\x00 and no more", "another kind of file"),
        ],
    )
    def test_other_file(self, tmp_path, content, said, create):
        path = tmp_path / "notes.db"
        path.write_bytes(content)
        with pytest.raises(FileError, match=said):
            open_book(path, create=create)
        assert path.read_bytes() == content
        assert [p.name for p in tmp_path.iterdir()] == ["notes.db"]

    def test_database_of_another_program(self, tmp_path):
        path = tmp_path / "other.db"
        with contextlib.closing(sqlite3.connect(path)) as db:
            db.execute("CREATE TABLE t (x)")
            db.commit()
        before = path.read_bytes()
        with pytest.raises(FileError, match="another program"):
            open_book(path, create=True)
        assert path.read_bytes() == before

    def test_empty_file_is_taken_only_to_begin_a_book(self, tmp_path):
        path = tmp_path / "new.db"
        path.touch()
        with pytest.raises(FileError, match="empty file"):
            open_book(path)
        open_book(path, create=True).close()
        open_book(path).close()

    def test_folder(self, tmp_path):
        with pytest.raises(FileError, match="a folder"):
            open_book(tmp_path, create=True)

    @pytest.mark.parametrize("name", ["", "  ", "a\0b"])
    def test_no_name(self, name):
        with pytest.raises(InputError, match="name of a file"):
            open_book(name)


def test_book_from_the_future_is_left_as_it_is(book):
    book.db.execute("PRAGMA user_version = 99")
    book.close()
    before = book.path.read_bytes()
    with pytest.raises(FileError, match="version 99, written by a later crossday"):
        open_book(book.path)
    assert book.path.read_bytes() == before


def test_damaged_book_is_noticed_on_opening(book, make_log):
    """Zeros over the pages in the middle, as a failing disk leaves them."""
    with book.batch("import", "log") as batch:
        add_readings(batch, "north", make_log(3000))
    book.close()
    size = book.path.stat().st_size
    with book.path.open("r+b") as handle:
        handle.seek(size // 2)
        handle.write(bytes(size // 4))
    with pytest.raises(FileError, match=r"damaged.*[Rr]estore a backup"):
        open_book(book.path)


class TestOutOfReach:
    def test_no_book_yet(self, tmp_path):
        with pytest.raises(DataMissing, match=r"no garden book yet.*book start"):
            open_book(tmp_path / "garden.db")
        assert list(tmp_path.iterdir()) == []

    def test_no_folder(self, tmp_path):
        with pytest.raises(DataMissing, match="no folder"):
            open_book(tmp_path / "gone" / "garden.db", create=True)

    def test_a_file_stands_where_the_folder_was(self, tmp_path):
        (tmp_path / "gone").touch()
        with pytest.raises(ForecasterError, match=r"no folder|Not a directory"):
            open_book(tmp_path / "gone" / "garden.db", create=True)

    def test_folder_vanished_while_open(self, tmp_path, make_book, make_log):
        folder = tmp_path / "stick"
        folder.mkdir()
        with make_book(folder / "garden.db") as book:
            shutil.rmtree(folder)
            with (
                pytest.raises(BookError, match=r"moved or removed|read-only, or was moved"),
                book.batch("import", "log") as batch,
            ):
                add_readings(batch, "north", make_log())

    def test_replaced_while_open(self, book, make_log):
        """Another file took the book's name: writing on would lose the rows silently."""
        book.path.rename(book.path.with_name("moved.db"))
        book.path.write_bytes(b"other")
        with pytest.raises(BookError, match="moved"), book.batch("import", "log") as batch:
            add_readings(batch, "north", make_log())

    def test_read_only(self, book, make_log):
        """Simulated by SQLite's own refusal (PRAGMA query_only): file modes do not stop root."""
        book.db.execute("PRAGMA query_only = ON")
        with pytest.raises(BookError, match="read-only"), book.batch("import", "log") as batch:
            add_readings(batch, "north", make_log())

    @pytest.mark.parametrize(
        ("writable", "said"), [(False, "is read-only"), (True, "its folder is gone")]
    )
    def test_folder_in_which_nothing_can_be_opened(self, tmp_path, monkeypatch, writable, said):
        """As SQLite reports a read-only mount; simulated, for file modes do not stop root."""
        error = sqlite3.OperationalError("unable to open database file")
        error.sqlite_errorname = "SQLITE_CANTOPEN"
        monkeypatch.setattr(trouble.os, "access", lambda *_: writable)
        assert said in str(trouble.in_words(error, tmp_path / "garden.db"))

    @pytest.mark.skipif(
        not hasattr(os, "geteuid") or os.geteuid() == 0, reason="file modes do not stop root"
    )
    def test_read_only_folder(self, tmp_path, make_book):
        folder = tmp_path / "shut"
        folder.mkdir()
        make_book(folder / "garden.db").close()
        folder.chmod(0o555)
        try:
            with pytest.raises(BookError, match=r"read-only|may not be"):
                open_book(folder / "other.db", create=True)
        finally:
            folder.chmod(0o755)


def test_full_disk_loses_nothing(book, make_log, all_rows):
    """Simulated: SQLite says SQLITE_FULL at max_page_count just as at the end of a disk."""
    before = all_rows(book)
    pages = book.db.execute("PRAGMA page_count").fetchone()[0]
    book.db.execute(f"PRAGMA max_page_count = {pages + 2}")
    with pytest.raises(BookError, match="disk is full"), book.batch("import", "log") as batch:
        add_readings(batch, "north", make_log(5000))
    assert all_rows(book) == before
    book.db.execute("PRAGMA max_page_count = 1073741823")
    with book.batch("import", "log") as batch:
        add_readings(batch, "north", make_log(5000))
    assert len(bed_readings(book)) == 5000


class TestTwoAtOnce:
    def test_locked_for_long_is_one_clear_line(self, book):
        with book.changing(), open_book(book.path, wait_s=0.05) as other:
            with pytest.raises(BookError, match="in use by another program"), other.changing():
                pass
            assert find_bed(other).name == "north", "reading goes on meanwhile"

    def test_second_waits_for_the_first(self, book, make_log):
        began, done = threading.Event(), threading.Event()

        def first():
            with open_book(book.path) as other, other.batch("import", "first") as batch:
                add_readings(batch, "north", make_log(3))
                began.set()
                time.sleep(0.3)
                done.set()

        thread = threading.Thread(target=first)
        thread.start()
        assert began.wait(10)
        with book.batch("import", "second") as batch:
            assert done.is_set()
            add_readings(batch, "north", make_log(5))
        thread.join()
        assert len(bed_readings(book)) == 5

    def test_two_processes_both_succeed(self, book):
        """Two commands write their own readings at the same moment, again and again."""
        book.close()
        code = (
            "import sys, pandas as pd\n"
            "from forecaster.book import open_book, add_readings\n"
            "k = int(sys.argv[2])\n"
            "for i in range(20):\n"
            "    t = pd.Timestamp('2026-01-01') + pd.Timedelta(hours=2 * i + k)\n"
            "    with open_book(sys.argv[1]) as book, book.batch('read', str(k)) as batch:\n"
            "        f = pd.DataFrame({'time': [t], 'temp_c': [10.0 + i], 'depth_m': [0.1]})\n"
            "        assert add_readings(batch, 'north', f).new == 1\n"
        )
        running = [
            subprocess.Popen([sys.executable, "-c", code, str(book.path), str(k)]) for k in (0, 1)
        ]
        assert [one.wait(60) for one in running] == [0, 0]
        with open_book(book.path) as after:
            assert len(bed_readings(after)) == 40
            assert len(batches(after)) == 41

    def test_two_processes_begin_the_same_book(self, tmp_path):
        code = (
            "import sys\nfrom forecaster.book import open_book\n"
            "open_book(sys.argv[1], create=True).close()"
        )
        path = str(tmp_path / "garden.db")
        running = [subprocess.Popen([sys.executable, "-c", code, path]) for _ in range(3)]
        assert [one.wait(60) for one in running] == [0, 0, 0]
        open_book(path).close()


class TestVersions:
    @pytest.mark.parametrize("version", range(1, schema.VERSION + 1))
    def test_every_releases_book_opens(self, tmp_path, version):
        path = tmp_path / "garden.db"
        shutil.copy(FIXTURES / f"book_version_{version}.db", path)
        with open_book(path) as book:
            readings = bed_readings(book, "north")
            assert readings["temp_c"].round(2).tolist() == [16.39, 15.0]
            assert readings["depth_m"].tolist() == [0.1016, 0.1016], "said, and the bed's"
            assert find_bed(book, "south").cover == "mulch"
            assert [line.kind for line in batches(book)] == ["start", "read", "note"]
            new = version >= 3
            assert [one.colours for one in wants(book)] == [(("yellow", 72), ("white", None))] * new
            assert [one.share for one in outcomes(book)] == [130 / 144] * new
            assert [one.amount for one in costs(book)] == [74.0] * new

    @pytest.fixture
    def later(self, monkeypatch):
        """A later version that adds a column, as a later release will."""

        def step(db):
            db.execute("ALTER TABLE beds ADD COLUMN slope_deg REAL")
            sums.seal_all(db)

        monkeypatch.setitem(schema.STEPS, schema.VERSION, step)
        monkeypatch.setattr(schema, "VERSION", schema.VERSION + 1)

    @pytest.mark.usefixtures("later")
    def test_migration_keeps_every_row_and_a_dated_copy(self, tmp_path):
        path = tmp_path / "garden.db"
        shutil.copy(FIXTURES / "book_version_1.db", path)
        clock = lambda: datetime(2027, 5, 1, 9, 30, tzinfo=UTC)  # noqa: E731
        with open_book(path, clock=clock) as book:
            assert book.db.execute("PRAGMA user_version").fetchone() == (schema.VERSION,)
            assert book.db.execute("SELECT slope_deg FROM beds").fetchall() == [(None,), (None,)]
            assert len(bed_readings(book, "north")) == 2
            assert book.backed_up == tmp_path / "garden.version1.2027-05-01T093000.db"
        with contextlib.closing(sqlite3.connect(book.backed_up)) as copy:
            assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            assert copy.execute("PRAGMA user_version").fetchone() == (1,)
            assert copy.execute("SELECT count(*) FROM readings").fetchone() == (2,)
        with open_book(path) as book:
            assert book.backed_up is None, "only once"

    @pytest.mark.usefixtures("later")
    def test_migration_that_fails_changes_nothing(self, tmp_path, monkeypatch):
        def fails(db):
            db.execute("DROP TABLE notes")
            db.execute("SELECT * FROM there_is_no_such_table")

        monkeypatch.setitem(schema.STEPS, schema.VERSION - 1, fails)
        path = tmp_path / "garden.db"
        shutil.copy(FIXTURES / "book_version_1.db", path)
        with pytest.raises(BookError, match="could not be used"):
            open_book(path)
        monkeypatch.setattr(schema, "VERSION", schema.VERSION - 1)
        with open_book(path) as book:
            assert book.db.execute("SELECT count(*) FROM notes").fetchone() == (1,)


class TestCopy:
    def test_copy_is_a_book_with_the_same_rows(self, book, make_log, tmp_path, all_rows):
        with book.batch("import", "log") as batch:
            add_readings(batch, "north", make_log())
        copy_book(book.path, tmp_path / "copy.db")
        with open_book(tmp_path / "copy.db") as copy:
            assert all_rows(copy) == all_rows(book)

    def test_never_over_another_file(self, book, tmp_path):
        (tmp_path / "taken.db").write_bytes(b"mine")
        with pytest.raises(InputError, match="there already"):
            copy_book(book.path, tmp_path / "taken.db")
        assert (tmp_path / "taken.db").read_bytes() == b"mine"

    def test_no_folder(self, book, tmp_path):
        with pytest.raises(InputError, match="folder is not there"):
            copy_book(book.path, tmp_path / "gone" / "copy.db")

    def test_leaves_nothing_half_made(self, book, tmp_path):
        copy_book(book.path, tmp_path / "copy.db")
        assert [p for p in tmp_path.iterdir() if "part" in p.name] == []


class TestWhereItLies:
    def test_variable_stands_above_all(self, monkeypatch):
        monkeypatch.setenv("CROSSDAY_BOOK", "/somewhere/else.db")
        assert default_path() == Path("/somewhere/else.db")

    # What 0.1.0 found by itself is where a user's book lies today.
    @pytest.mark.skipif(sys.platform != "linux", reason="the folders of Linux")
    @pytest.mark.parametrize(
        ("named", "expected"),
        [
            ("/data", Path("/data/crossday/garden.db")),
            ("relative", Path("/home/x/.local/share/crossday/garden.db")),  # to be ignored
            ("", Path("/home/x/.local/share/crossday/garden.db")),
        ],
    )
    def test_linux_has_it_where_it_was(self, monkeypatch, named, expected):
        """XDG Base Directory Specification 0.8: its default, and no relative path."""
        monkeypatch.delenv("CROSSDAY_BOOK", raising=False)
        monkeypatch.setenv("XDG_DATA_HOME", named)
        monkeypatch.setenv("HOME", "/home/x")
        assert default_path() == expected

    @pytest.mark.skipif(os.name == "nt", reason="asks for a folder of macOS")
    def test_macos_has_it_where_it_was(self, monkeypatch):
        monkeypatch.delenv("CROSSDAY_BOOK", raising=False)
        monkeypatch.delenv("XDG_DATA_HOME", raising=False)
        monkeypatch.setenv("HOME", "/home/x")
        monkeypatch.setattr("platformdirs.PlatformDirs", MacOS)
        expected = Path("/home/x/Library/Application Support/crossday/garden.db")
        assert default_path() == expected

    def test_no_home_is_told(self, monkeypatch):
        def no_home(*_, **__):
            raise RuntimeError("Could not determine home directory.")

        monkeypatch.delenv("CROSSDAY_BOOK", raising=False)
        monkeypatch.setattr(store, "user_data_path", no_home)
        with pytest.raises(InputError, match="name a file in CROSSDAY_BOOK"):
            default_path()

    def test_usual_folder_is_made(self, tmp_path, monkeypatch):
        monkeypatch.delenv("CROSSDAY_BOOK", raising=False)
        monkeypatch.setattr(store, "user_data_path", lambda *_, **__: tmp_path / "share" / "here")
        open_book(create=True).close()
        assert (tmp_path / "share" / "here" / "garden.db").is_file()


def test_a_batch_that_fails_leaves_nothing(book, make_log, all_rows):
    before = all_rows(book)

    def fails():
        with book.batch("import", "log") as batch:
            add_readings(batch, "north", make_log())
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fails()
    assert all_rows(book) == before


def test_source_with_odd_bytes_in_its_name_is_kept_readably(book, make_log):
    with book.batch("import", "log-\udcff.csv") as batch:
        add_readings(batch, "north", make_log())
    assert batches(book)[-1].source == "log-\\udcff.csv"
