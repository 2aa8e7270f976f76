"""What a hostile page, name or file could try.

The attacks are those that the cheat sheets of the Open Worldwide Application Security Project
name for local servers: forged requests, DNS rebinding, script in data, endless uploads (from
memory).
"""

import io
import re
import socket
import threading

import pytest

from forecaster import book as kept
from forecaster.ground.errors import NotEnoughData
from forecaster.page import door
from forecaster.page.garden import Garden

from .conftest import HOST

PAGES = ("/", "/read", "/bed", "/week", "/crops", "/materials", "/data", "/check", "/begin")


@pytest.mark.parametrize("path", [*PAGES, "/bed/soil.json", "/data/export", "/data/backup"])
def test_nobody_comes_in_without_the_cookie(stranger, path):
    answer = stranger.get(path)
    assert answer.status_code == 403
    assert "address that the program printed" in answer.text


def test_the_address_opens_once(stranger):
    key = stranger.keys.entry
    first, second = stranger.get(f"/enter?key={key}"), stranger.get(f"/enter?key={key}")
    assert (first.status_code, second.status_code) == (303, 403)
    cookie = first.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


@pytest.mark.parametrize("key", ["", "x", "%00", "é"])
def test_a_wrong_key_opens_nothing(stranger, key):
    assert stranger.get(f"/enter?key={key}").status_code == 403
    assert stranger.keys.entry


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost:8123", "127.0.0.1", "127.0.0.1:80", "[::1]:8123"]
)
def test_another_name_for_this_computer_is_refused(example, host):
    assert example.client.get("/", base_url=f"http://{host}").status_code == 400


def _forged(visitor, headers, token=None):
    data = {"bed": "north bed", "temperature": "20"}
    if token is not None:
        data["token"] = token
    return visitor.client.post("/read", base_url=f"http://{HOST}", data=data, headers=headers)


def test_a_change_must_come_from_our_own_form(example):
    right = example.keys.token(example.keys.session)
    ours = {"Origin": f"http://{HOST}"}
    with example.garden.open() as book:
        before = len(kept.batches(book))
    refused = [
        _forged(example, {"Origin": "http://evil.example"}, right),
        _forged(example, {"Origin": "null"}, right),
        _forged(example, {"Origin": f"https://{HOST}"}, right),
        _forged(example, {"Origin": "http://127.0.0.1:9999"}, right),
        _forged(example, {"Sec-Fetch-Site": "cross-site"}, right),
        _forged(example, {}, right),
        _forged(example, ours),
        _forged(example, ours, "0" * 64),
    ]
    assert {answer.status_code for answer in refused} == {403}
    with example.garden.open() as book:
        assert len(kept.batches(book)) == before
    assert _forged(example, ours, right).status_code == 200


@pytest.mark.parametrize("path", ["/read", "/undo", "/week/done", "/data/drop", "/begin/place"])
def test_nothing_changes_by_following_a_link(example, path):
    with example.garden.open() as book:
        before = kept.batches(book)
    example.get(f"{path}?batch=1&temperature=20&key=x")
    with example.garden.open() as book:
        assert kept.batches(book) == before


HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>"


def test_a_script_in_a_name_stays_text(example):
    assert example.post("/begin/bed", name=HOSTILE, soil="loam", cover="bare").status_code == 303
    for path in (*PAGES, "/?wait=1"):
        text = example.get(path).text
        assert "<script>alert" not in text, path
        assert "<img src=x" not in text, path
    assert "&lt;script&gt;alert" in example.get("/?wait=1").text


@pytest.mark.parametrize("path", PAGES)
def test_no_script_or_style_stands_in_a_page(example, path):
    answer = example.get(path)
    assert answer.status_code == 200
    rules = answer.headers["Content-Security-Policy"]
    assert "script-src 'self'" in rules
    assert "unsafe" not in rules
    scripts = re.findall(r"<script\b([^>]*)>(.*?)</script>", answer.text, re.DOTALL)
    assert scripts
    assert all("src=" in how and not inside.strip() for how, inside in scripts)
    assert not re.search(r"<style\b|\sstyle=|\son\w+=", answer.text)
    assert not re.search(r"(?:src|href|action)=\"(?:https?:)?//", answer.text)


def test_a_file_too_large_is_refused_before_it_is_read(example, monkeypatch):
    monkeypatch.setitem(example.client.application.config, "MAX_CONTENT_LENGTH", 50_000)
    big = (io.BytesIO(b"date,tmin,tmax\n" * 10_000), "air.csv")
    answer = example.post("/data/drop", file=big, what="air")
    assert answer.status_code == 413
    assert "larger than" in answer.text


@pytest.mark.parametrize("name", ["../../evil.csv", "/etc/passwd", "C:\\x\\y.csv", "a\0b.csv"])
def test_a_file_is_never_written_under_its_own_name(example, tmp_path, name):
    sent = (io.BytesIO(b"no table at all"), name)
    before = {path.name for path in tmp_path.iterdir()}
    answer = example.post("/data/drop", file=sent, what="air")
    assert answer.status_code in (200, 422)
    assert "crossday-" not in answer.text
    assert "/tmp" not in answer.text  # noqa: S108 - that it is not said
    assert {path.name for path in tmp_path.iterdir()} - before <= {
        "garden.db-wal", "garden.db-shm",
    }  # fmt: skip


@pytest.mark.parametrize("path", ["/vendored/../door.py", "/vendored/%2e%2e/SOURCES.csv"])
def test_no_path_reaches_the_file_system(visitor, path):
    assert visitor.get(path).status_code == 404


def test_the_way_back_leads_to_our_own_pages(example):
    for back in ("http://evil.example", "//evil.example", "/\\evil.example", "javascript:x"):
        answer = example.post("/scale", scale="F", back=back)
        assert answer.headers["Location"] == "/"


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        ("/read", {"temperature": "hot"}),
        ("/read", {"temperature": "900"}),
        ("/read", {"temperature": "20", "day": "soon"}),
        ("/read", {"temperature": "20", "bed": "nowhere"}),
        ("/undo", {"batch": "1; drop"}),
        ("/undo", {"batch": "999999999999999999999999"}),
        ("/week/done", {"bed": "north bed", "key": "../x"}),
        ("/begin/place", {"north": "far", "east": "12"}),
        ("/begin/place", {"north": "95", "east": "12"}),
        ("/begin/bed", {"name": "b", "soil": "gold"}),
        ("/begin/bed", {"name": "\x00"}),
        ("/data/drop", {}),
    ],
)
def test_a_wrong_field_is_a_sentence(example, path, fields):
    answer = example.post(path, **fields)
    assert answer.status_code == 422
    said = re.search(r'role="alert">([^<]+)<', answer.text)
    assert said
    assert not re.search(r"--\w|Traceback|Error\b|crossday \w", said[1])


@pytest.mark.parametrize(
    "path",
    [
        "/bed?threshold=hot", "/bed?issued=2999-01-01", "/bed?direction=up", "/bed?threshold=500",
        "/bed?bed=nowhere", "/crops?crop=unobtainium", "/crops?one=soon&crop=tomato",
        "/bed/still?issued=1066-01-01", "/layout?outline=&colours=red=3",
        "/layout?outline=circle+2&colours=red=", "/layout?outline=circle+2", "/check/picture",
    ],
)  # fmt: skip
def test_a_wrong_address_is_a_sentence(example, path):
    answer = example.get(path)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text


def test_many_at_once_lose_nothing(example, monkeypatch):
    """Two hundred requests, thirty of them readings, from eight threads."""
    errors: list[object] = []

    def ask(first: int) -> None:
        for number in range(first, 200, 8):
            if number % 7 == 0:
                answer = example.client.application.test_client()
                answer.set_cookie(
                    door.cookie_name(example.keys), example.keys.session, domain="127.0.0.1"
                )
                done = answer.post(
                    "/read",
                    base_url=f"http://{HOST}",
                    data={
                        "token": example.keys.token(example.keys.session),
                        "temperature": "22",
                        "day": f"2026-0{1 + number % 2}-{1 + number // 8:02d}",
                        "hour": f"{number % 8 + 6:02d}:00",
                    },
                    headers={"Origin": f"http://{HOST}"},
                )
            else:
                answer = example.client.application.test_client()
                answer.set_cookie(
                    door.cookie_name(example.keys), example.keys.session, domain="127.0.0.1"
                )
                done = answer.get("/data", base_url=f"http://{HOST}")
            if done.status_code != 200:
                errors.append((number, done.status_code, done.text[-600:]))

    monkeypatch.setattr(Garden, "whole", _no_forecast)
    threads = [threading.Thread(target=ask, args=(first,)) for first in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    with example.garden.open() as book:
        written = [one for one in kept.batches(book) if one.kind == "read"]
    assert len(written) == len(range(0, 200, 7))


def _no_forecast(garden, book, bed):
    raise NotEnoughData("left out: this test is about the book")


def told(port, head, megabytes=0):
    """What the server says to a request as it is; a body in chunks as long as it listens."""
    sent = 0
    with socket.create_connection(("127.0.0.1", port)) as line:
        line.settimeout(20.0)
        try:
            line.sendall(head)
            for _ in range(megabytes):
                line.sendall(b"100000\r\n" + bytes(0x100000) + b"\r\n")
                sent += 1
        except OSError:
            pass  # it hung up, as it should
        try:
            answer = line.recv(200)
        except OSError:
            answer = b""
    return answer, sent


def test_the_server_bounds_what_it_reads(served, tmp_path):
    """A body of 2 GB told, one without end, a header without end; it goes on answering."""
    address = served(tmp_path / "garden.db")
    port = int(address.split(":")[2].split("/")[0])
    host = f"Host: 127.0.0.1:{port}\r\n".encode()
    post = b"POST /data/drop HTTP/1.1\r\n" + host
    answer, _ = told(port, post + b"Content-Length: 2000000000\r\n\r\nabc")
    assert answer.startswith(b"HTTP/1.1 413")
    _, sent = told(port, post + b"Transfer-Encoding: chunked\r\n\r\n", megabytes=200)
    assert sent < 60, "it stopped reading soon after 40 MB"
    answer, _ = told(port, b"GET / HTTP/1.1\r\n" + host + b"X: " + b"a" * 400_000 + b"\r\n\r\n")
    assert b" 431 " in answer
    answers: list[bytes] = []
    ask = b"GET /begin HTTP/1.1\r\n" + host + b"Connection: close\r\n\r\n"
    callers = [
        threading.Thread(target=lambda: answers.append(told(port, ask)[0][:12])) for _ in range(200)
    ]
    for caller in callers:
        caller.start()
    for caller in callers:
        caller.join()
    assert answers == [b"HTTP/1.1 403"] * 200
