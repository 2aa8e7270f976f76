"""The door to the services, against a real server on loopback that behaves well and badly."""

import gzip
import sqlite3
import subprocess
import sys
import threading
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from forecaster.fetch import ncei
from forecaster.fetch.ask import (
    LONGEST_WAIT_S,
    TRIES,
    NoAnswer,
    Refused,
    Request,
    check_base,
    check_url,
    keep_days,
    next_wait,
    retry_after,
    spoken,
)
from forecaster.fetch.session import Fetcher, default_cache, user_agent
from forecaster.ground.errors import DataMissing, InputError

from . import service
from .conftest import STATION

HERE = Path(__file__).parent
TODAY = date(2024, 6, 15)


def past() -> Request:
    return ncei.daily_request(STATION, date(2020, 1, 1), date(2020, 12, 31), TODAY)


def present() -> Request:
    return ncei.daily_request(STATION, date(2024, 1, 1), date(2024, 12, 31), TODAY)


def age_kept(tmp_path: Path, hours: float) -> None:
    """Make every kept answer older: rewrite its times in the file, as time itself would."""
    import json  # noqa: PLC0415

    past_time = (datetime.now(UTC) - timedelta(hours=hours)).isoformat()
    with sqlite3.connect(tmp_path / "kept.sqlite") as connection:
        rows = connection.execute("select key, value from responses").fetchall()
        for key, value in rows:
            told = json.loads(value)
            told["created_at"] = past_time
            if told.get("expires"):
                told["expires"] = past_time
            connection.execute(
                "update responses set value = ?, expires = case when expires is null then null "
                "else 1 end where key = ?",
                (json.dumps(told), key),
            )
    connection.close()


def test_a_good_answer_comes_whole_with_its_age(open_door, server):
    answer = open_door().ask(past())
    assert answer.body.count(b"\n") == 367  # a heading and a leap year's days
    assert not answer.stale
    assert answer.age < timedelta(seconds=30)
    assert server.headers[0]["User-Agent"] == user_agent()
    assert server.headers[0]["User-Agent"].startswith("crossday/")
    assert server.headers[0]["Accept-Encoding"] == "gzip"


def test_the_second_call_asks_nobody_and_neither_does_the_next_session(open_door, server):
    door = open_door()
    first = door.ask(past())
    assert door.ask(past()).body == first.body
    assert open_door().ask(past()).body == first.body
    assert len(server.asked) == 1


def test_past_years_never_expire_and_this_year_does_after_hours(open_door, server, tmp_path):
    door = open_door()
    door.ask(past())
    door.ask(present())
    door.close()
    age_kept(tmp_path, hours=24 * 365)
    later = open_door()
    old = later.ask(past())
    assert len(server.asked) == 2
    assert not old.stale, "what cannot change is never stale"
    assert later.ask(present()).age < timedelta(minutes=1)
    assert len(server.asked) == 3


def test_an_unchanged_answer_is_confirmed_with_304(open_door, server, tmp_path):
    server.etag = '"v1"'
    door = open_door()
    first = door.ask(present())
    door.close()
    age_kept(tmp_path, hours=48)
    again = open_door().ask(present())
    assert again.body == first.body
    assert server.headers[1]["If-None-Match"] == '"v1"'
    assert again.age < timedelta(minutes=1), "confirmed now, so as old as now"
    assert not again.stale
    third = open_door().ask(present())
    assert len(server.asked) == 2, "fresh again after the confirmation"
    assert third.age < timedelta(minutes=1)


@pytest.mark.parametrize(
    "misdeed",
    [service.status(503), service.hangs_up, service.cut, service.says("text/html", b"<html>")],
    ids=["503", "hangs up", "cut", "page"],
)
def test_an_older_answer_serves_when_the_service_fails(open_door, server, tmp_path, misdeed):
    door = open_door()
    first = door.ask(present())
    door.close()
    age_kept(tmp_path, hours=72)
    server.always = misdeed
    answer = open_door().ask(present())
    assert answer.body == first.body
    assert answer.stale
    assert timedelta(hours=71.9) < answer.age < timedelta(hours=72.1)
    assert answer.why
    server.always = None
    assert not open_door().ask(present()).stale, "a bad answer must not have replaced the good one"


def test_offline_asks_nobody(open_door, server, tmp_path):
    with pytest.raises(DataMissing, match="--offline asks nobody"):
        open_door(offline=True).ask(present())
    assert server.asked == []
    open_door().ask(present())
    assert not open_door(offline=True).ask(present()).stale
    age_kept(tmp_path, hours=48)
    answer = open_door(offline=True).ask(present())
    assert (answer.stale, answer.why) == (True, "offline")
    assert len(server.asked) == 1


def test_not_found_is_an_error_or_an_answer_as_asked(open_door, server):
    missing = Request(
        service="Some lists",
        host=ncei.NCEI_HOST,
        path="/nothing.txt",
        kinds=("text/plain",),
        keep=None,
    )
    with pytest.raises(DataMissing, match=r"Some lists .*answered 404") as told:
        open_door().ask(missing)
    assert "\n" not in str(told.value)
    assert len(server.asked) == 1, "not found is not tried again"
    fine = Request(
        service="Some lists",
        host=ncei.NCEI_HOST,
        path="/nothing.txt",
        kinds=("text/plain",),
        keep=None,
        absent_ok=True,
    )
    assert open_door().ask(fine).absent


def test_too_many_requests_waits_as_asked(open_door, server, waits):
    date_text = (datetime.now(UTC) + timedelta(seconds=20)).strftime("%a, %d %b %Y %H:%M:%S GMT")
    server.misdeeds = [
        service.status(429, Retry_After="7"),
        service.status(429, Retry_After=date_text),
    ]
    assert open_door().ask(past()).body
    assert waits[0] == 7.0
    assert 15.0 < waits[1] <= 20.0
    assert len(server.asked) == 3


def test_a_wait_longer_than_we_have_is_told_at_once(open_door, server, waits):
    server.always = service.status(429, Retry_After="86400")
    with pytest.raises(DataMissing, match=r"answered 429.*asking to wait 86,400 s"):
        open_door().ask(past())
    assert (waits, len(server.asked)) == ([], 1)


def test_a_failing_server_is_tried_again_with_longer_waits(open_door, server, waits):
    server.misdeeds = [service.status(500), service.status(502)]
    assert open_door().ask(past()).body
    assert waits == [1.0, 2.0]


def test_a_server_that_stays_broken_is_given_up(open_door, server, waits):
    server.always = service.status(500)
    with pytest.raises(DataMissing, match=r"answered 500.*no older answer is kept"):
        open_door().ask(past())
    assert len(server.asked) == TRIES
    assert waits == [1.0, 2.0, 4.0]


def test_a_service_that_is_down_costs_its_waits_once(open_door, server, waits):
    door = open_door()
    server.always = service.status(503)
    for request in (past(), present()):
        with pytest.raises(DataMissing, match="answered 503"):
            door.ask(request)
    assert waits == [1.0, 2.0, 4.0]
    assert len(server.asked) == TRIES + 1


def test_two_at_once_share_what_is_kept(open_door, server):
    """Two programs fetch into one file at the same time: both get all, none fails."""
    doors, failures = [open_door(), open_door()], []

    def work(door):
        try:
            for year in range(2015, 2024):
                span = (date(year, 1, 1), date(year, 12, 31))
                door.ask(ncei.daily_request(STATION, *span, TODAY))
            door.close()
        except Exception as error:  # noqa: BLE001 - the main thread looks at it
            failures.append(error)

    threads = [threading.Thread(target=work, args=(door,)) for door in doors]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
    assert failures == []
    sent = len(server.asked)
    for year in (2020, 2021, 2022):
        span = (date(year, 1, 1), date(year, 12, 31))
        open_door().ask(ncei.daily_request(STATION, *span, TODAY))
    assert len(server.asked) == sent


def test_a_silent_server_is_left_in_time(open_door, server):
    server.always = service.stalls
    with pytest.raises(DataMissing, match="did not answer in time"):
        open_door(silence_s=0.1).ask(past())
    assert len(server.asked) == TRIES


def test_a_body_that_drips_for_ever_is_left_in_time(open_door, server):
    server.always = service.drips
    with pytest.raises(DataMissing, match=r"was not done after 0\.5 s"):
        open_door(whole_s=0.5).ask(past())
    assert len(server.asked) == 1, "another try would drip as long"


def test_a_body_cut_short_is_tried_again(open_door, server, waits):
    server.misdeeds = [service.cut]
    assert open_door().ask(past()).body.count(b"\n") == 367
    assert len(waits) == 1


def test_a_connection_refused_is_told_in_one_line(tmp_path, waits):
    with service.Service() as gone:
        base = gone.base
    door = Fetcher(tmp_path / "k.sqlite", base=base, sleep=waits.append)
    with door, pytest.raises(DataMissing, match="cannot be reached") as told:
        door.ask(past())
    assert "\n" not in str(told.value)


@pytest.mark.parametrize(
    ("misdeed", "words"),
    [
        (service.says("image/png", b"\x89PNG"), "'image/png' instead of 'text/csv'"),
        (service.says("text/csv", b"<!DOCTYPE html><title>Oops</title>"), "a web page"),
        (service.says("text/plain", b"  <html>Service down</html>"), "a web page"),
        (service.says("text/html; charset=utf-8", b"<html>down</html>"), "'text/html'"),
        (service.says("text/csv", b"hello\n"), "without the headings"),
        (service.says("text/csv", b"not packed", Content_Encoding="gzip"), "cannot be unpacked"),
    ],
    ids=["picture", "page as csv", "page as text", "page", "other text", "bad gzip"],
)
def test_what_is_no_table_is_refused_and_not_kept(open_door, server, misdeed, words):
    server.always = misdeed
    door = open_door()
    with pytest.raises(DataMissing, match=words):
        door.ask(past())
    server.always = None
    assert door.ask(past()).body.startswith(b'"STATION"')


def test_a_label_left_out_is_judged_by_the_body(open_door, server):
    server.misdeeds = [
        service.says(None, b'"STATION","DATE","TMAX","TMIN"\n"USW00013739","2020-01-01",1,0\n')
    ]
    assert open_door().ask(past()).body.startswith(b'"STATION"')


def test_an_empty_answer_is_no_days_and_not_kept(open_door, server):
    server.misdeeds = [
        service.says("text/csv", b""),
        service.says("text/csv", b'"STATION","DATE"\n'),
    ]
    door = open_door()
    assert door.ask(past()).body == b""
    assert door.ask(past()).body == b"", "a heading alone is empty too"
    assert door.ask(past()).body.count(b"\n") == 367, "asked again: nothing was kept"


def test_a_packed_answer_is_unpacked(open_door, server):
    server.misdeeds = [service.packed]
    door = open_door()
    assert door.ask(past()).body.count(b"\n") == 367
    assert door.ask(past()).body.count(b"\n") == 367
    assert len(server.asked) == 1


def test_half_a_gigabyte_announced_is_refused_unread(open_door, server):
    server.always = service.announces(500_000_000)
    with pytest.raises(DataMissing, match="announced 500 MB; expected at most 10 MB"):
        open_door().ask(past())
    assert len(server.asked) == 1


def test_a_stream_without_end_is_stopped_at_the_limit(open_door, server):
    server.always = service.endless
    small = Request(
        service="S",
        host=ncei.NCEI_HOST,
        path="/x",
        kinds=("text/csv",),
        keep=None,
        largest_bytes=20_000_000,
    )
    with pytest.raises(DataMissing, match="more than 20 MB; stopped reading"):
        open_door().ask(small)
    assert server.sent_bytes < 60_000_000, "what the sockets hold beside the limit"


def test_a_small_body_that_unpacks_to_half_a_gigabyte_is_stopped(open_door, server):
    bomb = gzip.compress(bytes(500_000_000), 1)
    assert len(bomb) < 3_000_000
    server.always = service.says("text/csv", bomb, Content_Encoding="gzip")
    small = Request(
        service="S",
        host=ncei.NCEI_HOST,
        path="/x",
        kinds=("text/csv",),
        keep=None,
        largest_bytes=20_000_000,
    )
    with pytest.raises(DataMissing, match="more than 20 MB"):
        open_door().ask(small)


@pytest.mark.parametrize(
    "to",
    ["http://127.0.0.2:9/x", "https://elsewhere.example/x", "file:///etc/passwd", "//[::1]:1/x"],
)
def test_a_redirect_to_another_host_is_refused(open_door, server, to):
    server.always = service.redirects(to)
    with pytest.raises(DataMissing, match=r"refused to go to|cannot be asked"):
        open_door().ask(past())
    assert len(server.asked) == 1


def test_a_redirect_within_the_host_is_followed(open_door, server):
    server.misdeeds = [service.redirects("/moved.csv")]
    server.pages["/moved.csv"] = (
        "text/csv",
        b'"STATION","DATE","TMAX","TMIN"\n"USW00013739","2020-01-01",1,0\n',
    )
    door = open_door()
    assert door.ask(past()).body.endswith(b"1,0\n")
    assert door.ask(past()).body.endswith(b"1,0\n")
    assert len(server.asked) == 2, "kept under the first address"


def test_a_redirect_loop_ends(open_door, server):
    server.always = service.redirects("/round")
    with pytest.raises(DataMissing, match="redirected more than 5 times"):
        open_door().ask(past())
    assert len(server.asked) == 6


def test_the_services_own_words_are_told_without_control_characters(open_door, server):
    told = b'{"errorMessage": "bad \\u001b[31m station\\nnow", "errorCode": 400}'
    server.always = lambda h: h.give(400, "application/json", told)
    with pytest.raises(DataMissing, match=r"answered 400 Bad Request \(bad  ?\[31m station now\)"):
        open_door().ask(past())


def test_a_cache_that_is_none_is_the_users_to_mend(tmp_path):
    file = tmp_path / "kept.sqlite"
    file.write_bytes(b"this is no database " * 100)
    with pytest.raises(InputError, match="not a file of kept answers"):
        Fetcher(file)
    (tmp_path / "flat").write_text("")
    with pytest.raises(InputError, match="cannot be used"):
        Fetcher(tmp_path / "flat" / "kept.sqlite")
    for name in ("\0", " "):
        with pytest.raises(InputError, match="expected the name of a file"):
            Fetcher(name)


def test_a_kept_answer_that_was_damaged_counts_as_none(open_door, server, tmp_path):
    open_door().ask(past())
    with sqlite3.connect(tmp_path / "kept.sqlite") as connection:
        connection.execute("update responses set value = '{\"_content\": 3}'")
    connection.close()
    assert open_door().ask(past()).body.count(b"\n") == 367
    assert len(server.asked) == 2


def test_a_cache_with_a_damaged_page_is_the_users_to_mend(open_door, tmp_path):
    door = open_door()
    for year in (2020, 2021, 2022):
        door.ask(ncei.daily_request(STATION, date(year, 1, 1), date(year, 12, 31), TODAY))
    door.close()
    file = tmp_path / "kept.sqlite"
    whole = file.read_bytes()
    file.write_bytes(whole[:8192] + b"\xa5" * (len(whole) - 8192))
    with pytest.raises(InputError, match=r"cannot be used .*or delete the file"):
        open_door().ask(past())


def test_no_home_is_told(monkeypatch):
    def no_home(*_, **__):
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr("forecaster.fetch.session.user_cache_path", no_home)
    with pytest.raises(InputError, match="no home folder"):
        default_cache()


def test_kept_answers_are_text_and_never_code(open_door, tmp_path):
    open_door().ask(past())
    with sqlite3.connect(tmp_path / "kept.sqlite") as connection:
        (value,) = connection.execute("select value from responses").fetchone()
    connection.close()
    assert value.lstrip().startswith("{"), "JSON, not a pickle"


def test_only_listed_hosts_over_https_pass():
    check_url("https://www.ncei.noaa.gov/x")
    check_url("https://api.weather.gov:443/points/1,2")
    for bad in (
        "http://www.ncei.noaa.gov/x", "https://www.ncei.noaa.gov.evil.example/", "ftp://x",
        "https://user:pw@api.weather.gov/", "https://api.weather.gov:8443/", "https://evil.example",
        "https://api.weather.gov@evil.example/", "http://127.0.0.1:80/", "https://[bad", "",
    ):  # fmt: skip
        with pytest.raises(Refused):
            check_url(bad)


def test_another_base_is_plain_http_on_this_computer_only():
    assert check_base("http://127.0.0.1:8000") == "http://127.0.0.1:8000"
    for bad in ("http://example.org:80", "https://127.0.0.1:80", "http://127.0.0.1", "ftp://::1",
                "http://127.0.0.1:80/path", "http://u:p@127.0.0.1:80"):  # fmt: skip
        with pytest.raises(InputError):
            check_base(bad)


def test_certificates_are_verified(open_door):
    door = open_door()
    with pytest.raises(Refused, match="certificate"):
        door._session.get(f"{door._base}/x", verify=False)


def test_the_waits_a_header_asks_for():
    now = datetime(2015, 10, 21, 7, 27, 30, tzinfo=UTC)
    assert retry_after("120", now) == 120.0
    assert retry_after("Wed, 21 Oct 2015 07:28:00 GMT", now) == 30.0  # RFC 9110's own example date
    assert retry_after("Wed, 21 Oct 2015 07:20:00 GMT", now) == 0.0
    for none in (None, "", "soon", "-5", "1e9", "99999999999999999999"):
        assert retry_after(none, now) is None


def test_no_wait_is_longer_than_the_cap():
    slow = NoAnswer("x", again=True, wait_s=LONGEST_WAIT_S + 1)
    assert next_wait(slow, 1) is None
    assert next_wait(NoAnswer("x", again=True, wait_s=LONGEST_WAIT_S), 1) == LONGEST_WAIT_S
    assert next_wait(NoAnswer("x"), 1) is None
    assert next_wait(NoAnswer("x", again=True), TRIES) is None


def test_what_is_settled_keeps_for_ever():
    assert keep_days(date(2023, 12, 31), date(2024, 2, 14)) is None
    assert keep_days(date(2023, 12, 31), date(2024, 2, 13)) is not None, "45 days are not over"


def test_foreign_words_fit_one_line():
    assert spoken("a\x1b[0m\nb\tc") == "a [0m b c"
    assert len(spoken("x" * 999)) == 160


@pytest.mark.skipif(sys.platform != "linux", reason="the folders of Linux")
def test_the_cache_lies_where_this_system_keeps_caches(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert default_cache() == tmp_path / "crossday" / "fetched.sqlite"
    monkeypatch.setenv("XDG_CACHE_HOME", "relative/is/ignored")
    assert default_cache() == Path.home() / ".cache" / "crossday" / "fetched.sqlite"


def test_what_fetches_nothing_imports_no_network():
    """Help and the readers stay quick: requests is imported by the door alone."""
    code = (
        "import sys, forecaster.cli, forecaster.cli.air, forecaster.ingest; "
        "from forecaster.fetch import ncei, nws, uscrn, near, record; "
        "print(sorted({'requests', 'requests_cache', 'urllib3'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
