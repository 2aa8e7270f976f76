"""A phone beside the bed: brought by a code that serves once, let in on the computer alone."""

import re
import socket

import pytest

from forecaster.ground.errors import DataMissing
from forecaster.page import serve
from forecaster.page.door import MOST_GUESTS

from .conftest import HOST

LAN = "192.0.2.7:8123"  # of TEST-NET-1, RFC 5737


@pytest.fixture
def shared(example):
    example.keys.hosts.add(LAN)
    example.keys.guest_key = "once"
    return example


def phone(shared):
    """Another browser."""
    return shared.client.application.test_client()


def test_a_phone_waits_until_it_is_let_in(shared):
    other = phone(shared)
    assert other.get("/knock?key=once", base_url=f"http://{LAN}").status_code == 303
    waits = other.get("/knock/wait", base_url=f"http://{LAN}").text
    number = re.search(r"<strong>(\d{4})</strong>", waits)
    assert number
    assert other.get("/", base_url=f"http://{LAN}").status_code == 403
    assert number[1] in shared.get("/share").text
    shared.post("/share", number=number[1], what="let in")
    assert other.get("/", base_url=f"http://{LAN}").status_code == 200
    assert other.get("/share", base_url=f"http://{LAN}").status_code == 403
    shared.post("/share", number=number[1], what="away")
    assert other.get("/", base_url=f"http://{LAN}").status_code == 403


def test_a_code_serves_once_and_only_when_shared(shared):
    assert phone(shared).get("/knock?key=once", base_url=f"http://{LAN}").status_code == 303
    assert phone(shared).get("/knock?key=once", base_url=f"http://{LAN}").status_code == 403
    shared.keys.guest_key = ""
    assert phone(shared).get("/knock?key=", base_url=f"http://{LAN}").status_code == 403
    assert "not shared" in shared.get("/share").text


def test_a_guest_lets_nobody_in(shared):
    first, second = phone(shared), phone(shared)
    first.get("/knock?key=once", base_url=f"http://{LAN}")
    second.get(f"/knock?key={shared.keys.guest_key}", base_url=f"http://{LAN}")
    guest, other = shared.keys.guests.items()
    guest[1].let_in = True
    answer = first.post(
        "/share",
        base_url=f"http://{LAN}",
        data={"token": shared.keys.token(guest[0]), "number": other[1].number, "what": "let in"},
        headers={"Origin": f"http://{LAN}"},
    )
    assert answer.status_code == 403
    assert not other[1].let_in


def test_the_door_is_not_crowded(shared):
    for _ in range(MOST_GUESTS + 3):
        phone(shared).get(f"/knock?key={shared.keys.guest_key}", base_url=f"http://{LAN}")
    assert len(shared.keys.guests) == MOST_GUESTS


def test_the_code_is_the_address(shared):
    page = shared.get("/share").text
    assert f"http://{LAN}/knock?key=once" in page
    assert "<svg" in page
    assert not re.search(r"\sstyle=", page)


def test_unless_shared_it_listens_here_alone(tmp_path, visitor):
    page = serve.open_page(visitor.garden)
    try:
        port = int(page.address.split(":")[2].split("/")[0])
        assert page.address.startswith("http://127.0.0.1:")
        try:
            outside = serve.on_the_network()
        except DataMissing:
            pytest.skip("this computer is on no network")
        with socket.socket() as caller:
            caller.settimeout(2.0)
            assert caller.connect_ex((outside, port)) != 0
    finally:
        page.stop()
    assert HOST not in page.address
