"""Only a whole answer is kept: to what was asked, in the right unit, with its end seen.

The answers come from a server on this computer (service.py), well made and spoiled.
"""

import gzip
import os
import sqlite3
import time
import zlib
from contextlib import closing
from urllib.parse import parse_qs, urlsplit

import pytest

from forecaster.book import open_book
from forecaster.fetch import kept, ncei, nws, uscrn
from forecaster.fetch.session import Fetcher
from forecaster.ground.errors import DataMissing, InputError

from . import service
from .conftest import STATION
from .test_session import TODAY, past, present

OTHER = "USW00094728"


def good(handler):
    """The answer that the server would give, as bytes."""
    return handler.server.daily_csv(parse_qs(urlsplit(handler.path).query))[2]


def unannounced(change=lambda body: body, **headers):
    """Send a body whose length is not said, and close."""

    def misdeed(handler):
        handler.send_response(200)
        handler.send_header("Content-Type", "text/csv")
        for name, value in headers.items():
            handler.send_header(name.replace("_", "-"), value)
        handler.send_header("Connection", "close")
        handler.end_headers()
        handler.wfile.write(change(good(handler)))

    return misdeed


def announced(change):
    return lambda handler: handler.give(200, "text/csv", change(good(handler)))


def of_another(handler):
    handler.give(200, "text/csv", good(handler).replace(STATION.encode(), OTHER.encode()))


def in_fahrenheit(body):
    head, *rows = body.decode().splitlines()
    turned = []
    for row in rows:
        cells = row.split(",")
        for at in (-4, -2):
            cells[at] = f'"{float(cells[at].strip(chr(34))) * 1.8 + 32:.1f}"'
        turned.append(",".join(cells))
    return "\n".join([head, *turned, ""]).encode()


SPOILED = {
    "cut in a line, no length": unannounced(lambda body: body[: len(body) // 2]),
    "cut after a line, no length": unannounced(
        lambda body: b"".join(body.splitlines(keepends=True)[:200])
    ),
    "gzip cut": unannounced(lambda body: gzip.compress(body)[:-300], Content_Encoding="gzip"),
    "gzip without its sum": unannounced(
        lambda body: gzip.compress(body)[:-8], Content_Encoding="gzip"
    ),
    "gzip with a wrong sum": unannounced(
        lambda body: gzip.compress(body)[:-8] + bytes(8), Content_Encoding="gzip"
    ),
    "something after the gzip": unannounced(
        lambda body: gzip.compress(body) + b"and more", Content_Encoding="gzip"
    ),
    "packed otherwise": unannounced(zlib.compress, Content_Encoding="deflate"),
    "another station": of_another,
    "junk after the heading": announced(lambda body: body.split(b"\n")[0] + b"\n{}\n<oops>\n"),
    "junk at the end": announced(lambda body: body + b"Internal error\n"),
    "two answers in one": announced(lambda body: body + body),
    "in °F": announced(in_fahrenheit),
    "days not asked for": announced(lambda body: body.replace(b"2020-03-", b"2031-03-")),
    "a day twice": announced(lambda body: body.replace(b"2020-03-02", b"2020-03-01")),
    "not confirmed, but 304": lambda handler: handler.give(304, None, b""),
    "to no address": service.redirects("http://[::1"),
    "to nowhere": service.redirects("https://\x7f\xff/"),
    "to an endless name": service.redirects("http://" + "a" * 3000 + ".b"),
}


@pytest.mark.parametrize("name", SPOILED)
def test_a_bad_answer_is_said_and_never_kept(open_door, server, name):
    server.always = SPOILED[name]
    with pytest.raises(DataMissing, match=r"NCEI Access Data Service .*no older answer is kept"):
        open_door().ask(past())
    server.always = None
    whole = open_door().ask(past())
    assert whole.body.count(b"\n") == 367
    assert not whole.stale


@pytest.mark.parametrize(
    "misdeed",
    [
        unannounced(),  # the last day that was asked for stands at its end
        unannounced(gzip.compress, Content_Encoding="gzip"),
        announced(lambda body: body),
    ],
)
def test_a_whole_answer_is_kept_however_it_comes(open_door, server, misdeed):
    server.misdeeds = [misdeed]
    open_door().ask(past())
    assert open_door().ask(past()).body.count(b"\n") == 367
    assert len(server.asked) == 1


def test_this_year_may_come_without_a_length(open_door, server):
    """It is asked for again within hours."""
    server.misdeeds = [unannounced()]
    assert open_door().ask(present()).body.endswith(b"\n")


def spoil_kept(path, change):
    """Change every kept body in the file."""
    import base64  # noqa: PLC0415
    import json  # noqa: PLC0415

    with closing(sqlite3.connect(path)) as db:
        for key, value in db.execute("SELECT key, value FROM responses").fetchall():
            told = json.loads(value)
            body = base64.b64decode(told["_content"])
            told["_content"] = base64.b64encode(change(body)).decode()
            db.execute("UPDATE responses SET value = ? WHERE key = ?", (json.dumps(told), key))
        db.commit()


@pytest.mark.parametrize(
    "change",
    [
        lambda body: zlib.compress(zlib.decompress(body)[:5000]),
        lambda body: zlib.compress(zlib.decompress(body).replace(STATION.encode(), b"X" * 11)),
        lambda body: body[:-20],
        lambda _: zlib.compress(bytes(200_000_000)),
        lambda _: b"",
    ],
)
def test_a_kept_answer_that_is_not_whole_is_dropped_and_asked_again(
    open_door, server, tmp_path, change
):
    one = open_door()
    one.ask(past())
    one.close()
    spoil_kept(tmp_path / "kept.sqlite", change)
    assert open_door().ask(past()).body.count(b"\n") == 367
    assert len(server.asked) == 2


def test_refresh_asks_anew_and_falls_back(open_door, server):
    open_door().ask(past())
    open_door(refresh=True).ask(past())
    assert len(server.asked) == 2
    server.always = service.status(503)
    old = open_door(refresh=True).ask(past())
    assert old.stale
    assert "503" in old.why
    with pytest.raises(InputError, match="leave one of them out"):
        open_door(refresh=True, offline=True)


@pytest.mark.parametrize("packing", ["gzip", None])
def test_what_grows_without_end_is_refused(open_door, server, packing):
    """10 MB of gzip that would be 10 GB: stopped at the size that was allowed."""
    engine = zlib.compressobj(9, wbits=31)
    bomb = b"".join(engine.compress(bytes(1 << 24)) for _ in range(30)) + engine.flush()

    def misdeed(handler):
        headers = {"Content-Encoding": packing} if packing else {}
        handler.give(200, "text/csv", bomb if packing else bytes(12_000_000), headers)

    server.always = misdeed
    with pytest.raises(DataMissing, match=r"10 MB"):
        open_door().ask(past())


def drips_headers(handler):
    """Send a heading a letter at a time, for ever."""
    handler.wfile.write(b"HTTP/1.1 200 OK\r\n")
    while not handler.server.done.wait(0.02):
        handler.wfile.write(b"X")
        handler.wfile.flush()


def test_headers_that_drip_end_with_the_whole_time(open_door, server):
    server.always = drips_headers
    start = time.monotonic()
    with pytest.raises(DataMissing, match=r"was not done after 0\.5 s"):
        open_door(whole_s=0.5).ask(past())
    assert time.monotonic() - start < 60, "bounded, however slow this machine"


def test_no_name_and_password_of_the_user_goes_out(open_door, server, tmp_path, monkeypatch):
    """A default line of .netrc is for every host (GNU inetutils, The .netrc file)."""
    netrc = tmp_path / "netrc"
    netrc.write_text("default login me password secret\n")
    netrc.chmod(0o600)
    monkeypatch.setenv("NETRC", str(netrc))
    one = open_door()
    one._session.trust_env = True  # as it is with the services
    server.misdeeds = [service.redirects("/access/services/data/v1?x=1"), None]
    with pytest.raises(DataMissing):
        one.ask(past())
    one.ask(present())
    assert len(server.headers) >= 3
    assert not any("Authorization" in headers for headers in server.headers)


class TestTheFileOfKeptAnswers:
    def test_a_book_is_left_as_it_is(self, tmp_path, server):
        open_book(tmp_path / "garden.db", create=True).close()
        before = (tmp_path / "garden.db").read_bytes()
        with pytest.raises(InputError, match="not a file of kept answers"):
            Fetcher(tmp_path / "garden.db", base=server.base)
        assert (tmp_path / "garden.db").read_bytes() == before

    @pytest.mark.parametrize("content", [b"date,tmin\n" * 30, b"SQLite format 3\x00 no more"])
    def test_another_file_is_left_as_it_is(self, tmp_path, content):
        (tmp_path / "x.db").write_bytes(content)
        with pytest.raises(InputError, match=r"kept answers"):
            Fetcher(tmp_path / "x.db")
        assert (tmp_path / "x.db").read_bytes() == content

    def test_a_database_of_another_program(self, tmp_path):
        with closing(sqlite3.connect(tmp_path / "x.db")) as db:
            db.execute("CREATE TABLE t (x)")
            db.commit()
        with pytest.raises(InputError, match="not a file of kept answers"):
            Fetcher(tmp_path / "x.db")

    def test_a_pipe(self, tmp_path):
        if not hasattr(os, "mkfifo"):
            pytest.skip("no pipes with names here")
        os.mkfifo(tmp_path / "x.db")
        with pytest.raises(InputError, match="a pipe or a device"):
            Fetcher(tmp_path / "x.db")

    def test_one_that_is_locked_is_waited_for_only_so_long(self, open_door, tmp_path, monkeypatch):
        monkeypatch.setattr(kept, "WAIT_S", 0.2)
        one = open_door()
        one.ask(past())
        one.close()
        with closing(sqlite3.connect(tmp_path / "kept.sqlite", isolation_level=None)) as other:
            other.execute("BEGIN EXCLUSIVE")
            with pytest.raises(InputError, match="in use by another program"):
                open_door().ask(past())
            other.execute("ROLLBACK")


def test_checks_of_the_other_services():
    """Fields as the readme of daily01 has them; a square as the service's own documentation."""
    line = b"94996 20200101  2.422  -96.85   40.69" + b" 1.0" * 23
    asked = uscrn.year_request("NE_Lincoln_11_SW", 2020, TODAY)
    assert asked.check(line + b"\n") == ""
    assert "27 fields" in asked.check(line[:-4] + b"\n")
    assert "not of 2020" in asked.check(line.replace(b"2020", b"2021"))
    assert "several stations" in asked.check(line + b"\n" + line.replace(b"94996", b"94995"))
    grid = nws.grid_request(nws.Square("TOP", 31, 80, "America/Chicago"))
    assert grid.check(b'{"properties": {"gridId": "TOP", "gridX": 31}}') == ""
    assert "another square" in grid.check(b'{"properties": {"gridX": 32}}')
    list_ = ncei.stations_request()
    assert list_.check(service.STATIONS.encode()) == ""
    assert "cut short" in list_.check(service.STATIONS.encode()[:-70])
