"""Files are written whole or not at all, and only over files of ours."""

import errno
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from forecaster.ground import files
from forecaster.ground.errors import InputError
from forecaster.ground.files import WORDS, Mark, Target, write

OURS = b"soil 65 F\n\nWritten by Crossday.\n"
THEIRS = b"2014-03-17 65.5F\n" * 4000
POSIX = pytest.mark.skipif(os.name == "nt", reason="files of this system work otherwise")


def goal(path: Path, *inputs: Path, force: bool = False, mark: Mark = WORDS) -> Target:
    return Target(path, mark, f"--out {path.name!r}", inputs, force)


def refused(target: Target, why: str) -> None:
    with pytest.raises(InputError, match=why):
        target.check()
    with pytest.raises(InputError, match=why):
        write([(target, OURS)])


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


# --- what may be written over ---------------------------------------------------------------


def test_a_new_file_ours_and_an_empty_one_are_written(tmp_path):
    path = tmp_path / "a.txt"
    write([(goal(path), OURS)])
    write([(goal(path), b"another " + OURS)])
    assert path.read_bytes() == b"another " + OURS
    path.write_bytes(b"")
    write([(goal(path), OURS)])
    assert (path.read_bytes(), names(tmp_path)) == (OURS, ["a.txt"])


@pytest.mark.parametrize(
    "content",
    [THEIRS, b"x", OURS + b"my own remark\n", b"Written by Crossday.\n" + THEIRS, b"\n"],
    ids=["record", "letter", "edited", "mark at the wrong end", "line"],
)
def test_a_file_of_theirs_stays_unless_forced(tmp_path, content):
    path = tmp_path / "garden.txt"
    path.write_bytes(content)
    refused(goal(path), r"--out 'garden\.txt' is there and was not written .* --force")
    assert (path.read_bytes(), names(tmp_path)) == (content, ["garden.txt"])
    write([(goal(path, force=True), OURS)])
    assert path.read_bytes() == OURS


@pytest.mark.parametrize("force", [False, True])
def test_a_file_that_is_read_is_never_written_over(tmp_path, force):
    path = tmp_path / "record.txt"
    path.write_bytes(OURS)
    for read in (path, tmp_path, tmp_path / "." / "record.txt"):
        refused(goal(path, read, force=force), "is the file to be read")
    assert path.read_bytes() == OURS


@POSIX
def test_a_file_that_is_read_by_another_name(tmp_path):
    path = tmp_path / "record.txt"
    path.write_bytes(OURS)
    (tmp_path / "link.txt").symlink_to(path)
    (tmp_path / "hard.txt").hardlink_to(path)
    for name in ("link.txt", "hard.txt"):
        refused(goal(tmp_path / name, path), "is the file to be read")
        refused(goal(path, tmp_path / name), "is the file to be read")


def test_a_file_to_be_made_by_the_same_call_is_no_target(tmp_path):
    refused(goal(tmp_path / "a.csv", tmp_path / "a.csv"), "is the file to be read")


@pytest.mark.parametrize("force", [False, True])
def test_databases_are_never_written_over(tmp_path, force):
    path = tmp_path / "garden.db"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE t (x)")
    db.close()
    refused(goal(path, force=force), "is a database")
    refused(goal(tmp_path / "garden.db-wal", force=force), "belongs to a database")
    (tmp_path / "garden.db-journal").write_bytes(THEIRS)
    refused(goal(tmp_path / "garden.db-journal", force=force), "is a database")
    assert path.read_bytes().startswith(b"SQLite format 3")


def test_names_that_no_file_can_have(tmp_path):
    refused(goal(tmp_path), "is a folder")
    refused(goal(tmp_path / "gone" / "a.txt"), "there is no folder")
    refused(goal(tmp_path / ("a" * 300)), "too long")
    refused(goal(tmp_path / "a\0b"), "null")
    (tmp_path / "file").write_bytes(OURS)
    refused(goal(tmp_path / "file" / "a.txt"), "Not a directory|no folder")
    assert names(tmp_path) == ["file"]


@POSIX
@pytest.mark.parametrize("force", [False, True])
def test_what_is_no_plain_file_stays(tmp_path, force):
    os.mkfifo(tmp_path / "pipe")
    refused(goal(tmp_path / "pipe", force=force), "no plain file")
    refused(goal(Path(os.devnull), force=force), "no plain file")
    assert not Path(os.devnull).is_file()


@POSIX
def test_a_link_stays_a_link_and_its_file_is_judged(tmp_path):
    (tmp_path / "own").mkdir()
    real, link = tmp_path / "own" / "a.txt", tmp_path / "a.txt"
    link.symlink_to(real)
    write([(goal(link), OURS)])
    assert (link.is_symlink(), real.read_bytes()) == (True, OURS)
    real.write_bytes(THEIRS)
    refused(goal(link), "was not written")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    refused(goal(tmp_path / "loop"), "[Ll]oop|link to itself")
    lost = tmp_path / "lost"
    lost.symlink_to(tmp_path / "nowhere" / "a.txt")
    refused(goal(lost), "there is no folder")


@POSIX
def test_rights_are_kept_and_read_only_is_heeded(tmp_path):
    path = tmp_path / "a.txt"
    before = os.umask(0o027)
    try:
        write([(goal(path), OURS)])
    finally:
        os.umask(before)
    assert path.stat().st_mode & 0o777 == 0o640
    path.chmod(0o604)
    write([(goal(path), b"more " + OURS)])
    assert path.stat().st_mode & 0o777 == 0o604
    path.chmod(0o444)
    refused(goal(path, force=True), "is read-only")


def test_what_lacks_its_mark_is_our_own_mistake(tmp_path):
    with pytest.raises(ValueError, match="lacks the mark"):
        write([(goal(tmp_path / "a.txt"), THEIRS)])
    assert names(tmp_path) == []


def test_the_text_beside_a_picture_is_looked_at_too(tmp_path):
    (tmp_path / "garden.txt").write_bytes(THEIRS)
    drawing, beside = files.picture(tmp_path / "garden.png")
    drawing.check()
    refused(beside, r"garden\.txt', the text beside the picture .*garden\.png")
    with pytest.raises(InputError, match="the text beside"):
        write([(drawing, b"\x89PNG Software\0Crossday"), (beside, OURS)])
    assert names(tmp_path) == ["garden.txt"]


# --- full disks, folders that refuse, kills -----------------------------------------------------


@pytest.mark.parametrize("why", [errno.ENOSPC, errno.EROFS, errno.EACCES, errno.EIO])
def test_where_the_disk_refuses_the_old_files_stay(tmp_path, monkeypatch, why):
    one, two = tmp_path / "a.txt", tmp_path / "b.txt"
    one.write_bytes(OURS)
    two.write_bytes(OURS)
    synced = []

    def sync(handle):
        synced.append(handle)
        if len(synced) == 2:
            raise OSError(why, os.strerror(why))

    monkeypatch.setattr("os.fsync", sync)
    with pytest.raises(InputError, match=rf"'b\.txt' cannot be written: {os.strerror(why)}"):
        write([(goal(one), b"new " + OURS), (goal(two), b"new " + OURS)])
    assert (one.read_bytes(), two.read_bytes()) == (OURS, OURS)
    assert names(tmp_path) == ["a.txt", "b.txt"]


@POSIX
def test_a_disk_that_fills_while_writing(tmp_path):
    """The system's own limit on a file's size, which fails in the middle of a write."""
    path = tmp_path / "a.txt"
    path.write_bytes(OURS)
    code = (
        "import resource\nfrom pathlib import Path\nfrom forecaster.ground.files import *\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))\n"
        f"text = b'x' * 200_000 + {OURS!r}\n"
        f"try: write([(Target(Path({str(path)!r}), WORDS, 'it'), text)])\n"
        "except Exception as error: print(type(error).__name__, error)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "InputError it cannot be written: File too large; name another file\n"
    assert (path.read_bytes(), names(tmp_path)) == (OURS, ["a.txt"])


@POSIX
@pytest.mark.skipif(os.name != "nt" and os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written(tmp_path):
    path = tmp_path / "a.txt"
    path.write_bytes(OURS)
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(InputError, match="Permission denied"):
            write([(goal(path), b"new " + OURS)])
    finally:
        tmp_path.chmod(0o755)
    assert (path.read_bytes(), names(tmp_path)) == (OURS, ["a.txt"])


KILLS, SIZE = 25, 300_000
WRITER = """
import itertools, sys
from pathlib import Path
from forecaster.ground.files import WORDS, Target, write
one, two = (Target(Path(name), WORDS, name) for name in sys.argv[1:])
for k in itertools.count():
    text = b"%d " % (k % 10) * {size} + b"\\nWritten by Crossday.\\n"
    write([(one, text), (two, text)])
    if k == 0:
        print("begun", flush=True)
"""


@POSIX
def test_killed_at_any_point_a_file_is_whole(tmp_path):
    one, two = tmp_path / "a.txt", tmp_path / "b.txt"
    whole = {b"%d " % k * SIZE + b"\nWritten by Crossday.\n" for k in range(10)}
    draw = random.Random(11)  # noqa: S311 - moments, no secrets
    code = WRITER.format(size=SIZE)
    for _ in range(KILLS):
        command = [sys.executable, "-c", code, str(one), str(two)]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as writer:
            assert writer.stdout.readline() == b"begun\n"
            time.sleep(draw.uniform(0.0, 0.03))
            writer.send_signal(signal.SIGKILL)
        assert one.read_bytes() in whole
        assert two.read_bytes() in whole


def test_parts_that_kills_have_left_are_swept_once_they_are_old(tmp_path):
    old, new, other = (
        tmp_path / name for name in (".crossday-0a.part", ".crossday-0b.part", ".own.part")
    )
    for path in (old, new, other):
        path.write_bytes(THEIRS)
    for path in (old, other):
        os.utime(path, (0, 0))
    write([(goal(tmp_path / "a.txt"), OURS)])
    assert names(tmp_path) == [".crossday-0b.part", ".own.part", "a.txt"]
