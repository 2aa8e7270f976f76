"""Bytes to text: archives, encodings, and what is no table."""

import gzip
import io
import zipfile

import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest.text import bytes as text
from forecaster.ingest.text.bytes import open_sources

TABLE = "date,tmax_c,tmin_c\n2024-05-01,20.5,8.1\n2024-05-02,21.0,9.0\n"


def write(folder, name, data):
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def zipped(**members):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return buffer.getvalue()


@pytest.mark.parametrize("name", ["a.csv", "a.gz", "noname", "a.zip"])
def test_the_name_does_not_matter(tmp_path, name):
    for data in (TABLE.encode(), gzip.compress(TABLE.encode()), zipped(x=TABLE)):
        (source,) = open_sources(write(tmp_path, name, data))
        assert source.data == TABLE.encode()


@pytest.mark.parametrize(
    ("encoding", "named"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8"),
        ("utf-16", "UTF-16"),
        ("utf-16-le", "UTF-16"),
        ("utf-16-be", "UTF-16"),
        ("mark-be", "UTF-16"),
        ("cp1252", "Windows-1252"),
    ],
)
def test_encodings(tmp_path, encoding, named):
    words = "date,T (°C)\n2024-05-01,20.5\n"
    data = (
        b"\xfe\xff" + words.encode("utf-16-be") if encoding == "mark-be" else words.encode(encoding)
    )
    (source,) = open_sources(write(tmp_path, "a", data))
    assert source.data.decode() == words
    assert source.encoding == named


def test_bytes_that_windows_1252_leaves_undefined_are_latin_1(tmp_path):
    (source,) = open_sources(write(tmp_path, "a", b"date,t\x81\n2024-05-01,20.5\n"))
    assert source.encoding == "Latin-1"


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_line_ends_become_one_kind(tmp_path, end):
    (source,) = open_sources(write(tmp_path, "a", TABLE.replace("\n", end)))
    assert source.data == TABLE.encode()


def test_a_gzip_of_several_members_is_read_to_its_end(tmp_path):
    data = gzip.compress(TABLE[:30].encode()) + gzip.compress(TABLE[30:].encode())
    assert open_sources(write(tmp_path, "a", data))[0].data == TABLE.encode()


def test_a_zip_of_several_files_is_a_folder(tmp_path):
    path = write(tmp_path, "a", zipped(one=TABLE, two=TABLE, **{"__MACOSX/x": "junk", ".x": "j"}))
    assert [s.path.rsplit(":", 1)[1] for s in open_sources(path)] == ["one", "two"]


def test_a_folder_is_its_files_in_order_without_hidden_ones(tmp_path):
    for name in ("2002", "2001", ".hidden"):
        write(tmp_path, name, TABLE)
    assert [s.path[-4:] for s in open_sources(tmp_path)] == ["2001", "2002"]
    assert len(open_sources([tmp_path / "2001", tmp_path])) == 3


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b" \n\n \r\n", "empty"),
        (b"\x00\x01\x02\x03" * 50, "NUL"),
        (bytes(range(1, 256)) * 4, "not text"),
        (b"date,t\n2024-05-01,\x00\n", "line 2"),
        (gzip.compress(TABLE.encode() * 500)[:-20], "stop before their end"),
        (b"\x1f\x8b\x08\x00" + b"\xff" * 40, "damaged"),
        (zipped(x=TABLE)[:-30], "damaged"),
        (zipped(), "holds no files"),
        (zipped(**{"[Content_Types].xml": "<x/>", "xl/a.xml": "<y/>"}), "workbook"),
        (b"<!DOCTYPE html><html><body>503</body></html>", "web page"),
        (b'{"error": "no such station"}', "JSON"),
        (b"%PDF-1.7 ...", "PDF"),
        (b"\xff\xfe\x00\xd8\x00\xd8", "NUL"),
        (b"\xd0\xcf\x11\xe0" + b"a" * 99, "workbook"),
    ],
)
def test_what_is_no_table_is_refused_in_one_line(tmp_path, data, said):
    path = write(tmp_path, "a", data)
    with pytest.raises(FileError, match=said) as caught:
        open_sources(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    assert "\n" not in message


def test_an_empty_zip_archive_is_refused(tmp_path):
    with pytest.raises(FileError, match="holds no files"):
        open_sources(write(tmp_path, "a", zipped(**{".x": "hidden"})))


def test_an_encrypted_zip_is_refused(tmp_path):
    data = bytearray(zipped(x=TABLE))
    for mark, flags in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(mark) + flags] |= 1
    with pytest.raises(FileError, match="cannot be opened"):
        open_sources(write(tmp_path, "a", bytes(data)))


@pytest.mark.parametrize("pack", [gzip.compress, lambda b: zipped(x=b, y=b), lambda b: b])
def test_nothing_is_unpacked_past_the_limit(tmp_path, monkeypatch, pack):
    monkeypatch.setattr(text, "LARGEST_BYTES", 10_000)
    with pytest.raises(FileError, match="larger than"):
        open_sources(write(tmp_path, "a", pack(b"0" * 20_000)))


def test_lines_are_bounded_too(tmp_path, monkeypatch):
    """Memory goes with the rows: a small packed file may hold millions of short ones."""
    monkeypatch.setattr(text, "MOST_LINES", 900)
    data = gzip.compress(b"2024-05-01,1\n" * 500)
    paths = [write(tmp_path, name, data) for name in "ab"]
    assert open_sources(paths[0])
    with pytest.raises(FileError, match="more than 900 lines"):
        open_sources(paths)


def test_several_files_share_one_limit(tmp_path, monkeypatch):
    monkeypatch.setattr(text, "LARGEST_BYTES", 10_000)
    data = gzip.compress(b"2024-05-01,1\n" * 500)
    paths = [write(tmp_path, name, data) for name in "ab"]
    assert open_sources(paths[0])
    with pytest.raises(FileError, match="larger than"):
        open_sources(paths)


def test_missing_things_are_named(tmp_path):
    with pytest.raises(FileError, match="no such file"):
        open_sources(tmp_path / "absent.csv")
    with pytest.raises(FileError, match="holds no files"):
        open_sources(tmp_path)
    with pytest.raises(FileError, match="empty list"):
        open_sources([])
    with pytest.raises(FileError, match="cannot be used"):
        open_sources("x" * 5000)
    with pytest.raises(FileError, match="is no path"):
        open_sources(3)
    with pytest.raises(FileError, match="not a regular file"):
        open_sources("/dev/null")


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    path = write(tmp_path, "a", TABLE)

    def refuse(_self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "read_bytes", refuse)
    with pytest.raises(FileError, match="Permission denied"):
        open_sources(path)


def test_no_path_with_a_nul_byte():
    with pytest.raises(FileError):
        open_sources("a\x00b")


def test_head_gives_whole_lines_only(tmp_path):
    (source,) = open_sources(write(tmp_path, "a", TABLE))
    assert source.head() == TABLE.splitlines()
    assert source.head(2) == TABLE.splitlines()[:2]
    assert source.head(9, size=25) == ["date,tmax_c,tmin_c"]
