"""From a path to text: unpack, find the encoding, refuse what is no table.

What a file is called does not matter; its first bytes do.
"""

from __future__ import annotations

import io
import os
import zipfile
import zlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from forecaster.ground.errors import FileError
from forecaster.ingest.text.lexicon import WEATHER_SIGNS

LARGEST_BYTES, MOST_LINES = 200_000_000, 1_500_000
"""All sources together, packed or unpacked: reading them then takes at most 1 GB of memory."""

PathLike = str | os.PathLike[str]
Paths = PathLike | Sequence[PathLike]

_GZIP = b"\x1f\x8b"
_ZIP = (b"PK\x03\x04", b"PK\x05\x06")
_SIGNATURES = (
    (b"%PDF", "a PDF document"),
    (b"\xd0\xcf\x11\xe0", "a spreadsheet workbook or office document"),
    (b"SQLite format 3", "a database"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"PAR1", "a Parquet file"),
    (b"\x89HDF", "an HDF5 or netCDF-4 file"),
    (b"CDF", "a netCDF file"),
)
_AS_CSV = "Save the table as text with one row a line (CSV) and give that file."


@dataclass(frozen=True, slots=True)
class Source:
    r"""One file's text, ready to be understood.

    Parameters
    ----------
    path : str
        The file as the user named it, with the member's name for one inside an archive.
    data : bytes
        The text in UTF-8 without byte-order mark, lines ending in ``\n``.
    encoding : str
        The encoding it came in.
    """

    path: str
    data: bytes
    encoding: str

    def head(self, lines: int = 400, size: int = 200_000) -> list[str]:
        """Return the first lines, without their ends."""
        start = self.data[:size]
        found = start.decode("utf-8", "ignore").split("\n", lines)
        if len(found) > lines:
            return found[:lines]
        cut = len(self.data) > size and len(found) > 1
        return found[:-1] if cut or found[-1] == "" else found


def open_sources(path: Paths) -> list[Source]:
    """Return the text of a file, of every file in a folder or archive, or of a list of files.

    Parameters
    ----------
    path : path or sequence of paths
        Plain, gzip or zip files, or one folder. Hidden files in a folder are passed over.

    Raises
    ------
    FileError
        If something is missing, empty, unreadable, too large, or no text.
    """
    paths = _files(path)
    room, lines = LARGEST_BYTES, MOST_LINES
    sources: list[Source] = []
    for one in paths:
        for name, raw in _unpack(str(one), _read(one), room):
            room -= len(raw)
            lines -= raw.count(b"\n")
            if lines < 0:
                raise _too_large(name, f"more than {MOST_LINES:,} lines")
            sources.append(_decode(name, raw))
    return sources


def tables_among(
    sources: list[Source], is_table: Callable[[Source], bool]
) -> tuple[list[Source], list[str]]:
    """Leave out files of a folder or archive that hold no table, and return notes of them.

    A single file, or files of which none is a table, are all left in: the reader says why.
    """
    found = [source for source in sources if len(sources) == 1 or is_table(source)]
    if not found:
        return sources, []
    gone = [source.path for source in sources if source not in found]
    return found, [f"{path} holds no table and was passed over." for path in gone]


def _files(path: Paths) -> list[Path]:
    """List the files meant by `path`."""
    if isinstance(path, str | os.PathLike):
        return _folder_or_file(Path(path))
    items = list(path) if isinstance(path, Iterable) else [path]
    if wrong := [item for item in items if not isinstance(item, str | os.PathLike)]:
        said = " ".join(repr(wrong[0]).split())[:60]
        raise FileError(f"{said} is no path", expected="a file, a folder or a list of files")
    found = [file for item in items for file in _folder_or_file(Path(item))]
    if not found:
        raise FileError("an empty list of files", expected="at least one file")
    return found


def _folder_or_file(path: Path) -> list[Path]:
    try:
        if path.is_dir():
            inside = sorted(p for p in path.iterdir() if p.is_file() and not p.name.startswith("."))
            if not inside:
                raise FileError(
                    "the folder holds no files",
                    path=path,
                    expected="one file a year, or one file",
                    remedy="Name the folder or file that holds the record.",
                )
            return inside
        if not path.exists():
            raise FileError(
                "there is no such file", path=path, remedy="Check the name and the folder."
            )
        if not path.is_file():
            raise FileError("this is not a regular file", path=path, expected="a file or folder")
    except (OSError, ValueError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(f"the name cannot be used: {_words(error)}", path=path) from error
    return [path]


def _read(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise _too_large(str(path))
        return path.read_bytes()
    except OSError as error:
        raise FileError(
            f"it cannot be read: {_words(error)}", path=path, remedy="Check its permissions."
        ) from error


def _words(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)


def _too_large(path: str, what: str = "") -> FileError:
    return FileError(
        what or f"larger than {LARGEST_BYTES / 1e6:g} MB unpacked",
        path=path,
        expected="a table of daily or hourly values",
        remedy="Cut it down to the place and the years that you need.",
    )


def _unpack(path: str, raw: bytes, room: int, depth: int = 0) -> list[tuple[str, bytes]]:
    """Open gzip and zip layers, at most three deep."""
    if depth < 3 and raw.startswith(_GZIP):
        return _unpack(path, _gunzip(path, raw, room), room, depth + 1)
    if depth < 3 and raw.startswith(_ZIP):
        found: list[tuple[str, bytes]] = []
        for name, member in _members(path, raw, room):
            opened = _unpack(name, member, room, depth + 1)
            room -= sum(len(data) for _, data in opened)
            found += opened
        return found
    return [(path, raw)]


def _gunzip(path: str, raw: bytes, room: int) -> bytes:
    """Unpack every member of a gzip stream (RFC 1952), never past `room` bytes."""
    parts: list[bytes] = []
    while raw.startswith(_GZIP):
        engine = zlib.decompressobj(wbits=31)
        try:
            part = engine.decompress(raw, room + 1)
        except zlib.error as error:
            raise FileError(
                f"the gzip data are damaged ({error})", path=path, remedy="Fetch the file again."
            ) from error
        room -= len(part)
        if room < 0:
            raise _too_large(path)
        if not engine.eof:
            raise FileError(
                "the gzip data stop before their end", path=path, remedy="Fetch the file again."
            )
        parts.append(part)
        raw = engine.unused_data
    return b"".join(parts)


def _members(path: str, raw: bytes, room: int) -> list[tuple[str, bytes]]:
    """Read the files inside a zip archive, never past `room` bytes."""
    found: list[tuple[str, bytes]] = []
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            names = [item for item in archive.infolist() if not item.is_dir()]
            if any(item.filename == "[Content_Types].xml" for item in names):
                raise FileError(
                    "this is a spreadsheet workbook or office document", path=path, remedy=_AS_CSV
                )
            for item in names:
                if _hidden(item.filename):
                    continue
                with archive.open(item) as stream:
                    data = stream.read(room + 1)
                room -= len(data)
                if room < 0:
                    raise _too_large(path)
                found.append((f"{path}:{item.filename}", data))
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
        raise FileError(
            f"the zip archive is damaged ({error})", path=path, remedy="Fetch the file again."
        ) from error
    except (RuntimeError, NotImplementedError, ValueError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(
            f"the zip archive cannot be opened ({error})",
            path=path,
            remedy="Unpack it and give the file inside.",
        ) from error
    if not found:
        raise FileError("the zip archive holds no files", path=path, expected="a table inside")
    if len(found) == 1:
        return [(path, found[0][1])]
    return found


def _hidden(name: str) -> bool:
    return name.startswith("__MACOSX/") or name.rsplit("/", 1)[-1].startswith(".")


def _decode(path: str, raw: bytes) -> Source:
    """Turn bytes into UTF-8 text with plain line ends, or say why they are no table."""
    for signature, what in _SIGNATURES:
        if raw.startswith(signature):
            raise FileError(f"this is {what}", path=path, expected="text", remedy=_AS_CSV)
    data, encoding = _to_utf8(raw)
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    _refuse_what_is_no_table(path, data)
    return Source(path, data, encoding)


def _to_utf8(raw: bytes) -> tuple[bytes, str]:
    """Return the text in UTF-8 and the name of the encoding it came in."""
    if raw.startswith(b"\xef\xbb\xbf"):
        raw = raw[3:]
    elif wide := _utf16(raw):
        try:
            return raw.decode(wide).lstrip("\ufeff").encode(), "UTF-16"
        except UnicodeError:
            return raw, "binary"
    return (raw, "ASCII") if raw.isascii() else _of_eight_bits(raw)


def _of_eight_bits(raw: bytes) -> tuple[bytes, str]:
    """Return text that is not plain ASCII in UTF-8, and the name of its encoding."""
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        pass
    else:
        return raw, "UTF-8"
    if found := _east_asian(raw):
        return found
    try:
        return raw.decode("cp1252").encode(), "Windows-1252"
    except UnicodeDecodeError:
        return raw.decode("latin-1").encode(), "Latin-1"


def _east_asian(raw: bytes) -> tuple[bytes, str] | None:
    """Read Japanese, Korean or Chinese text, known right by the words for weather in it."""
    start = raw[:20_000].rsplit(b"\n", 1)[0]
    for codec, name in (("cp932", "Shift-JIS"), ("cp949", "EUC-KR"), ("gb18030", "GB 18030")):
        text = start.decode(codec, "ignore")
        if any(sign in text for sign in WEATHER_SIGNS):
            try:
                return raw.decode(codec).encode(), name
            except UnicodeDecodeError:
                continue
    return None


def _utf16(raw: bytes) -> str:
    """Name the UTF-16 order if there is a mark, or if every other byte of the start is zero."""
    if raw[:2] == b"\xff\xfe":
        return "utf-16-le"
    if raw[:2] == b"\xfe\xff":
        return "utf-16-be"
    start = raw[:2000]
    if len(start) < 4 or len(raw) % 2:
        return ""
    even, odd = start[0::2], start[1::2]
    if odd.count(0) > 0.8 * len(odd) and even.count(0) == 0:
        return "utf-16-le"
    if even.count(0) > 0.8 * len(even) and odd.count(0) == 0:
        return "utf-16-be"
    return ""


_CONTROL = bytes(set(range(32)) - {9, 10, 12, 13, 26})


def _refuse_what_is_no_table(path: str, data: bytes) -> None:
    if not data.strip():
        raise FileError("the file is empty", path=path, expected="a table with dates and numbers")
    if b"\x00" in data:
        line = data.count(b"\n", 0, data.index(b"\x00")) + 1
        raise FileError(
            "a NUL byte: this is not text, or the file is damaged",
            path=path,
            line=line,
            expected="text",
            remedy=_AS_CSV,
        )
    start = data[:20_000]
    if len(start) - len(start.translate(None, _CONTROL)) > 0.02 * len(start):
        raise FileError("this is not text", path=path, expected="a table", remedy=_AS_CSV)
    opening = start.lstrip()[:300].lower()
    if opening.startswith((b"<!doctype", b"<html", b"<?xml", b"<head", b"<body", b"<svg")):
        raise FileError(
            "this is a web page or XML, not a table",
            path=path,
            line=1,
            remedy="The server may have answered with an error page; fetch the data again.",
        )
    if opening.startswith((b"{", b"[{", b"[[")):
        raise FileError("this is JSON, not a table", path=path, line=1, remedy=_AS_CSV)
