"""Files that this tool writes: whole or not at all, and never over what it did not write.

A file of ours carries a mark: words near its beginning, or its last line. What is new is written
beside its target, brought to the disk, and renamed, so that a full disk or a kill leaves the old
file as it was.
"""

from __future__ import annotations

import contextlib
import os
import stat
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from forecaster.ground.errors import InputError

_HEAD_BYTES, _TAIL_BYTES = 2048, 1024
_SQLITE = b"SQLite format 3\x00"  # https://www.sqlite.org/fileformat2.html#the_database_header
_SQLITE_BESIDE = ("-wal", "-shm", "-journal")
_LEFT_BEHIND_S = 3600.0
"""A part of a file that is older was left by a run that was killed."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How files of one kind are known as ours.

    Parameters
    ----------
    words : bytes
        What such a file holds near its beginning.
    at_end, near_end : bool
        They are its last line instead; or stand near its end, where a Parquet file has its words.
    """

    words: bytes
    at_end: bool = False
    near_end: bool = False

    def on(self, head: bytes, tail: bytes) -> bool:
        """Whether a file that begins and ends so is ours."""
        if self.at_end:
            return tail.rstrip().endswith(self.words)
        return self.words in (tail if self.near_end else head)


PNG = Mark(b"Software\x00Crossday")
SVG = Mark(b"<!-- Written by Crossday -->")
PDF = Mark(b"% Written by Crossday\n%%EOF", at_end=True)
WORDS = Mark(b"Written by Crossday.", at_end=True)
PAGE = Mark(b'<meta name="generator" content="Crossday')
TABLE = Mark(b"written_by")
PARQUET = Mark(b"Written by Crossday", near_end=True)
ANSWER = Mark(b'"written_by": "Crossday"')
CALENDAR = Mark(b"PRODID:-//Crossday//")


@dataclass(frozen=True, slots=True)
class Target:
    """A file to be written, and what it must not be.

    Parameters
    ----------
    path : Path
        A link is followed.
    mark : Mark
        Carried by what is written; a file that is there must carry it too.
    named : str
        How the user named it, for errors: ``--out 'a.png'``.
    inputs : tuple of Path
        Files and folders that are read; nothing in them is written over.
    force : bool
        Write over a file that is not ours; never over an input or a database.
    """

    path: Path
    mark: Mark
    named: str
    inputs: tuple[Path, ...] = ()
    force: bool = False

    def check(self) -> None:
        """Refuse a name that cannot be written, or should not be.

        Raises
        ------
        InputError
            Saying why, and what to do.
        """
        try:
            real = self.path.resolve()
            there = real.exists()
            if not there:
                self._check_new(real)
            elif not real.is_file():
                folder = (
                    "a folder; name a file in it"
                    if real.is_dir()
                    else "no plain file; name another"
                )
                raise InputError(f"{self.named} is {folder}")
            if any(_within(real, one, there=there) for one in self.inputs):
                raise InputError(f"{self.named} is the file to be read; name another")
            if there:
                self._check_old(real)
        except (OSError, ValueError, RuntimeError) as error:
            if isinstance(error, InputError):
                raise
            why = getattr(error, "strerror", None) or str(error)
            raise InputError(f"{self.named}: {why}; name another file") from error

    def _check_new(self, real: Path) -> None:
        if not real.parent.is_dir():
            folder = str(self.path.parent)
            raise InputError(
                f"{self.named}: there is no folder {folder!r}; make it, or name another"
            )
        if real.is_symlink():
            raise InputError(f"{self.named} is a link to itself; name another file")
        if _beside_database(real):
            raise InputError(f"{self.named} belongs to a database; name another file")

    def _check_old(self, real: Path) -> None:
        head, tail = _ends(real)
        if head.startswith(_SQLITE) or _beside_database(real):
            raise InputError(f"{self.named} is a database, as a garden book is; name another file")
        if not real.stat().st_mode & 0o222:
            raise InputError(f"{self.named} is read-only; name another file")
        if head and not self.force and not self.mark.on(head, tail):
            raise InputError(
                f"{self.named} is there and was not written by this command; "
                "name another file, or write over it with --force"
            )


def picture(
    path: str | Path,
    named: str = "",
    *,
    inputs: Sequence[str | Path] = (),
    force: bool = False,
    paper: bool = False,
) -> tuple[Target, Target]:
    """Return a picture and the text beside it as files to be written; with `paper` a PDF too.

    Raises
    ------
    InputError
        If the name ends otherwise than a picture's.
    """
    path = Path(path)
    named = named or f"the picture {str(path)!r}"
    marks = {".png": PNG, ".svg": SVG} | ({".pdf": PDF} if paper else {})
    mark = marks.get(path.suffix.lower())
    if mark is None:
        *most, last = marks
        expected = f"{', '.join(most)} or {last}"
        raise InputError(f"{named} cannot be made; expected a name ending in {expected}")
    beside = path.with_suffix(".txt")
    read = tuple(Path(one) for one in inputs)
    return (
        Target(path, mark, named, read, force),
        Target(beside, WORDS, f"{str(beside)!r}, the text beside {named},", read, force),
    )


def write(contents: Sequence[tuple[Target, bytes]]) -> None:
    """Write files, each whole or not at all; where one cannot be written, none is.

    Raises
    ------
    InputError
        If a target is refused, or the disk refuses.
    """
    for target, content in contents:
        if not target.mark.on(content[:_HEAD_BYTES], content[-_TAIL_BYTES:]):
            raise ValueError(f"what is written to {target.path} lacks the mark {target.mark}")
        target.check()
    with contextlib.ExitStack() as stack:
        parts = []
        for target, content in contents:
            with _told(target):
                parts.append(stack.enter_context(_part(target.path.resolve(), content)))
        for (target, _), part in zip(contents, parts, strict=True):
            with _told(target):
                part.replace(target.path.resolve())
                _keep_name(target.path.resolve().parent)


@contextlib.contextmanager
def _told(target: Target) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        why = error.strerror or str(error)
        raise InputError(f"{target.named} cannot be written: {why}; name another file") from error


@contextlib.contextmanager
def _part(target: Path, content: bytes) -> Iterator[Path]:
    """Write the content beside its target, with the rights of the old file if there is one."""
    _sweep(target.parent)
    part = target.with_name(f".crossday-{os.urandom(6).hex()}.part")
    try:
        with part.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(OSError):
            part.chmod(stat.S_IMODE(target.stat().st_mode))
        yield part
    finally:
        part.unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    """Take away parts that killed runs have left."""
    with contextlib.suppress(OSError):
        for old in folder.glob(".crossday-*.part"):
            if time.time() - old.stat().st_mtime > _LEFT_BEHIND_S:
                old.unlink()


def _keep_name(folder: Path) -> None:
    """Bring the renaming to the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _ends(path: Path) -> tuple[bytes, bytes]:
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
        file.seek(max(0, path.stat().st_size - _TAIL_BYTES))
        return head, file.read()


def _within(real: Path, read: Path, *, there: bool) -> bool:
    """Whether a file is one that is read, or lies in a folder that is."""
    read = read.resolve()
    if real == read or (there and read.exists() and real.samefile(read)):
        return True
    return there and read.is_dir() and real.is_relative_to(read)


def _beside_database(path: Path) -> bool:
    """Whether SQLite keeps the newest rows of a database beside it under this name."""
    for ending in _SQLITE_BESIDE:
        base = Path(str(path).removesuffix(ending))
        if base != path and base.is_file() and _ends(base)[0].startswith(_SQLITE):
            return True
    return False
