"""The air commands from the words typed to the file written, against a server on loopback."""

import csv
import datetime as dt
import importlib.util
import json
import math
import sys
import threading
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from forecaster.cli import air as air_cli
from forecaster.cli import main
from forecaster.ingest import read_air
from forecaster.packaged import load_json
from forecaster.words.fetched import age_words

HERE = Path(__file__).parents[1]
STATION = "USW00013739"
PARIS = ("--lat", "48.85", "--lon", "2.35")
TODAY = dt.date.today()


def load_service():
    spec = importlib.util.spec_from_file_location("service", HERE / "fetch" / "service.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["service"] = module
    spec.loader.exec_module(module)
    return module


service = load_service()


@pytest.fixture
def server(monkeypatch, tmp_path):
    from forecaster.fetch.session import Fetcher  # noqa: PLC0415

    with service.Service() as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        kept = tmp_path / "cache" / "kept.sqlite"

        def here(cache, **how):
            return Fetcher(cache or kept, base=running.base, sleep=lambda _: None, **how)

        monkeypatch.setattr(air_cli, "_fetcher", here)
        monkeypatch.chdir(tmp_path)
        monkeypatch.setenv("COLUMNS", "400")
        yield running
        running.done.set()
        running.shutdown()
        thread.join()


def call(*words: str, code: int = 0) -> str:
    """Run the command as a shell would, and return what it printed."""
    done = CliRunner().invoke(main, ["air", *words])
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert done.exit_code == code, done.output
    if code:
        assert done.stdout == "", "nothing but the error"
        assert done.stderr.startswith("crossday: ")
        assert done.stderr.count("\n") == 1, "one line"
        return done.stderr
    return done.stdout


def rows(path: str) -> dict[str, dict[str, str]]:
    with Path(path).open(newline="", encoding="utf-8") as handle:
        return {row["date"]: row for row in csv.DictReader(handle)}


NEAR = ("near", "--lat", "39.95N", "--lon", "75.165W")


def test_near_ranks_and_says_how(server):
    service.put_lists(server, TODAY.year)
    told = call(*NEAR, "--elev", "40ft")
    lines = told.splitlines()
    assert [line.split()[1] for line in lines[1:4]] == ["USC00310001", "USC00310003", "USC00310002"]
    assert "+1,305 ft" in lines[3]
    assert f"1951–{TODAY.year}" in lines[1]
    assert "elevation matters more than distance" in told
    assert "330 ft of height (about 1.2 °F) count as much as 50 mi" in told
    assert "that is an assumption" in told
    assert "Station list fetched just now." in told
    assert told.endswith("Next: crossday air fetch USC00310001 --out air.csv\n")


def test_sentences_fit_the_terminal(server, monkeypatch):
    service.put_lists(server, TODAY.year)
    monkeypatch.setenv("COLUMNS", "72")
    told = call(*NEAR)
    sentences = told.split("\n\n", 1)[1].splitlines()
    assert max(map(len, sentences)) <= 72


def test_near_without_a_height_says_what_it_took(server):
    service.put_lists(server, TODAY.year)
    told = call(*NEAR, "--show", "C")
    assert "Your height was taken as 11 m" in told
    assert "100 m of height (about 0.65 °C) count as much as 80 km" in told


def test_near_for_a_program(server):
    service.put_lists(server, TODAY.year)
    told = json.loads(call(*NEAR, "--elev", "12m", "--json", "--count", "2"))
    assert [one["station"] for one in told["stations"]] == ["USC00310001", "USC00310003"]
    assert told["stations"][0]["height_difference_m"] == -2.0
    assert told["stations"][0]["share_of_days"] is None
    Draft202012Validator(load_json("schemas/air_near.json")).validate(told)


def test_near_can_check_how_complete_a_record_is(server):
    service.put_lists(server, TODAY.year)
    start = dt.date(TODAY.year - 1, 1, 1)
    half = (TODAY - start).days // 2
    server.put_days("USC00310004", start, half)
    told = call(*NEAR, "--elev", "12m", "--years", "2", "--check", "1")
    assert "50% of the last 2 years" in told or "49% of the last 2 years" in told


def test_near_where_there_is_nothing_says_what_else_there_is(server):
    service.put_lists(server, TODAY.year)
    told = call("near", "--lat", "0", "--lon", "0")
    assert "No station within 186 mi has 15 years" in told
    assert "national meteorological services" in told


def test_near_offline_serves_what_was_kept(server):
    service.put_lists(server, TODAY.year)
    assert "asks nobody" in call(*NEAR, "--offline", code=3)
    call(*NEAR)
    asked = len(server.asked)
    call(*NEAR, "--offline")
    assert len(server.asked) == asked


def test_fetch_writes_a_record_that_when_can_read(server):
    server.put_days(STATION, TODAY - dt.timedelta(days=900), 899)
    first = (TODAY - dt.timedelta(days=800)).isoformat()
    told = call("fetch", STATION, "--from", first, "--out", "air.csv")
    assert "NCEI Access Data Service, daily-summaries of USW00013739" in told
    assert "Added 799 days." in told
    assert "Marked provisional: 43 days; the service" in told
    assert "Record fetched just now." in told
    assert told.endswith("Next: crossday when air.csv\n")
    table = read_air("air.csv")
    assert len(table) == 799
    assert table.attrs["account"].latitude_deg == 39.95


def test_fetch_again_adds_only_what_is_new_and_notes_what_changed(server, tmp_path):
    server.put_days(STATION, TODAY - dt.timedelta(days=400), 395)
    words = ("fetch", STATION, "--from", (TODAY - dt.timedelta(days=390)).isoformat())
    call(*words, "--out", "air.csv")
    old = rows("air.csv")
    changed = TODAY - dt.timedelta(days=10)
    settled = TODAY - dt.timedelta(days=200)
    server.put_days(STATION, TODAY - dt.timedelta(days=5), 4)
    for day in (changed, settled):
        _, low, rain, flags = server.stations[STATION][day]
        server.stations[STATION][day] = ("39.9", low, rain, flags)
    told = call(*words, "--out", "air.csv", "--cache", "fresh.sqlite")
    assert "Added 4 days." in told
    assert f"Corrected {changed}: high 104 °F, was" in told
    new = rows("air.csv")
    assert new[changed.isoformat()]["tmax_c"] == "39.9"
    assert "tmax_c was" in new[changed.isoformat()]["note"]
    assert new[settled.isoformat()] == old[settled.isoformat()], "settled days are not asked again"
    assert not list(tmp_path.glob(".*.part"))


def test_fetch_serves_an_older_answer_and_says_so(server, tmp_path):
    server.put_days(STATION, TODAY - dt.timedelta(days=100), 99)
    words = ("fetch", STATION, "--from", (TODAY - dt.timedelta(days=90)).isoformat())
    call(*words, "--out", "a.csv")
    import sqlite3  # noqa: PLC0415

    long_ago = (dt.datetime.now(dt.UTC) - dt.timedelta(hours=71)).isoformat()
    with sqlite3.connect(tmp_path / "cache" / "kept.sqlite") as connection:
        for key, value in connection.execute("select key, value from responses").fetchall():
            told = json.loads(value) | {"created_at": long_ago, "expires": long_ago}
            connection.execute(
                "update responses set value = ?, expires = 1 where key = ?", (json.dumps(told), key)
            )
    connection.close()
    server.always = service.status(503)
    told = call(*words, "--out", "b.csv")
    assert "Record fetched 2 days ago: an older answer, because the service answered 503" in told
    assert "because --offline asks nobody" in call(*words, "--out", "c.csv", "--offline")


def test_fetch_leaves_a_file_of_someone_else_alone(server, tmp_path):
    (tmp_path / "mine.csv").write_text("date,tmax\n2024-01-01,3\n")
    told = call("fetch", STATION, "--out", "mine.csv", code=2)
    assert "not written by crossday air fetch; nothing was changed" in told
    assert server.asked == [], "refused before anyone was asked"
    assert (tmp_path / "mine.csv").read_text() == "date,tmax\n2024-01-01,3\n"


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("fetch", "nowhere", "--out", "a.csv"), 2, "is no GHCN-Daily id"),
        (("fetch", "../../../../x", "--out", "a.csv"), 2, "is no GHCN-Daily id"),
        (("fetch", STATION, "--out", "gone/a.csv"), 2, "there is no folder 'gone'"),
        (("fetch", STATION, "--out", "."), 2, "is a folder"),
        (("fetch", STATION, "--from", "2030-01-01", "--out", "a.csv"), 2, "swap them"),
        (("fetch", STATION, "--from", "1701-01-01", "--out", "a.csv"), 2, "before any record"),
        (("fetch", STATION, "--out", "a.csv"), 3, "has no days"),
        (("fetch", "NE_Nowhere_1_N", "--from", "2023-01-01", "--out", "a.csv"), 3, "no files"),
        (("near", "--lat", "91", "--lon", "0"), 2, "is not understood"),
        (("near", "--lat", "40", "--lon", "-75", "--elev", "high"), 2, "length 'high'"),
        (("near", "--lat", "40", "--lon", "-75"), 3, "answered 404"),
        (("outlook", *PARIS, "--out", "o.csv"), 2, "give yours with --contact"),
        (("outlook", *PARIS, "--contact", "me", "--out", "o.csv"), 2, "an e-mail or web address"),
        (("outlook", *PARIS, "--service", "us", "--out", "o.csv"), 3, "United States"),
        (("outlook", *PARIS, "--contact", "a@b.org", "--clock", "Mars", "--out", "o.csv"), 2,
         "clock is 'Mars'"),
        (("grid", *PARIS, "--from", "1970-01-01", "--out", "a.csv"), 2, "begins on 1981-01-01"),
        (("grid", *PARIS, "--from", "2030-01-01", "--out", "a.csv"), 2, "swap them"),
        (("import", "gone.csv", "--out", "a.csv"), 2, "no such file"),
    ],
)  # fmt: skip
def test_what_goes_wrong_is_one_line_and_a_code(server, tmp_path, words, code, says):
    assert says in call(*words, code=code)
    assert {p.name for p in tmp_path.iterdir()} <= {"cache"}, "no file is left behind"


def test_outlook_writes_what_when_reads(server, tmp_path):
    service.put_forecast(server, TODAY)
    place = ("--lat", "39.7456", "--lon", "-97.0892")
    told = call("outlook", *place, "--out", "ahead.csv")
    assert "gridpoint TOP 31,80: 7 days ahead" in told
    assert "40 °F to 59 °F" in told
    assert "Forecast fetched just now." in told
    assert len(read_air("ahead.csv")) == 7
    # The record ends two days before the forecast begins, as public records do.
    start = TODAY - dt.timedelta(days=1500)
    for k in range(0, 1498, 30):  # a year with seasons
        warm = 12.0 * math.cos((start + dt.timedelta(days=k)).timetuple().tm_yday / 58.1 - 3.4)
        length = min(30, 1498 - k)
        server.put_days(
            STATION, start + dt.timedelta(days=k), length, tmax=16.0 + warm, tmin=4.0 + warm
        )
    call("fetch", STATION, "--from", start.isoformat(), "--out", "air.csv")
    done = CliRunner().invoke(main, ["when", "air.csv", "--outlook", "ahead.csv"])
    assert done.exit_code == 0, done.output
    assert "ahead.csv" in done.output


def test_an_outlook_without_a_whole_day_writes_nothing(server, monkeypatch):
    from forecaster.fetch import nws  # noqa: PLC0415

    found = nws.outlook

    def without_minima(*asked):
        answer = found(*asked)
        answer.table["tmin_c"] = float("nan")
        return answer

    monkeypatch.setattr(nws, "outlook", without_minima)
    service.put_forecast(server, TODAY)
    place = ("--lat", "39.7456", "--lon", "-97.0892")
    assert "no day with both extremes" in call("outlook", *place, "--out", "ahead.csv", code=3)
    assert not Path("ahead.csv").exists()


def test_import_writes_any_record_plainly(server, tmp_path):
    (tmp_path / "in.csv").write_text("Date,High (F),Low (F)\n2024-01-01,50,32\n2024-01-02,52,30\n")
    told = call("import", "in.csv", "--out", "out.csv")
    assert "2 of 2 rows used, 2024-01-01 to 2024-01-02" in told
    assert read_air("out.csv")["tmax_c"].tolist() == [10.0, 11.11]
    assert "is the file to be read" in call("import", "in.csv", "--out", "in.csv", code=2)


def test_ages_are_said_in_words():
    hours = [0.01, 0.5, 1.0, 3.0, 47.9, 48.0, 24 * 40]
    assert [age_words(dt.timedelta(hours=h)) for h in hours] == [
        "just now", "30 minutes ago", "60 minutes ago", "3 hours ago", "47 hours ago",
        "2 days ago", "40 days ago",
    ]  # fmt: skip


def test_a_cache_without_a_name_is_refused_and_leaves_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    found = CliRunner().invoke(
        main, ["air", "fetch", "--offline", "--cache", "", "USW00013739", "--out", "new.csv"]
    )
    assert found.exit_code == 2
    assert "--cache names nothing" in found.stderr
    assert list(tmp_path.iterdir()) == []


GRID = ("grid", "--lat", "52.37N", "--lon", "4.9E")


def test_a_gridded_stand_in_says_so_wherever_it_goes(server, tmp_path):
    server.behind = TODAY - dt.timedelta(days=4)
    first = (TODAY - dt.timedelta(days=1500)).isoformat()
    told = call(*GRID, "--from", first, "--out", "air.csv")
    assert "A gridded stand-in, not a station" in told
    assert "Data: NASA Langley Research Center POWER Project" in told
    assert "443 m (1,453 ft)" in told
    assert "those of the last 120 are asked for again" in told
    assert told.endswith("Next: crossday when air.csv\n")
    kept = rows("air.csv")
    assert len(kept) == 1496
    assert {row["station"] for row in kept.values()} == {"gridded NASA POWER 52.37 4.9"}
    done = CliRunner().invoke(main, ["when", "air.csv"])
    assert done.exit_code == 0, done.output
    plain = " ".join(done.stdout.split())
    assert "The air is a gridded stand-in" in plain
    assert "(station gridded NASA POWER 52.37 4.9, 1,496 rows)" in plain
    refused = call("import", "air.csv", "--out", "other.csv", code=2)
    assert "no longer say that it is no station" in refused
    book = ["book", "start", "--air", "air.csv", "--book", "garden.db", "--bed", "north"]
    assert CliRunner().invoke(main, [*book, "--station", "mine"]).exit_code == 0
    asked = CliRunner().invoke(main, ["when", "--book", "garden.db"])
    assert "The air is a gridded stand-in" in " ".join(asked.stdout.split()), asked.output


def test_a_gridded_stand_in_is_brought_up_to_date(server):
    server.behind = TODAY - dt.timedelta(days=10)
    words = (*GRID, "--from", (TODAY - dt.timedelta(days=400)).isoformat(), "--out", "air.csv")
    call(*words)
    server.behind = TODAY - dt.timedelta(days=4)
    told = call(*words, "--cache", "fresh.sqlite")
    assert "Added 6 days." in told
    assert f"start={TODAY - dt.timedelta(days=119):%Y%m%d}" in server.asked[-1]


def test_a_station_and_a_square_do_not_mix(server):
    server.put_days(STATION, TODAY - dt.timedelta(days=100), 99)
    call("fetch", STATION, "--from", (TODAY - dt.timedelta(days=90)).isoformat(), "--out", "a.csv")
    assert "nothing was changed" in call(*GRID, "--out", "a.csv", code=2)


def test_outlook_elsewhere_is_the_worlds(server, monkeypatch):
    service.put_world(server, TODAY, (2.35, 48.85))
    monkeypatch.setenv("CROSSDAY_CONTACT", "gardener@example.org")
    told = call("outlook", *PARIS, "--clock", "Europe/Paris", "--out", "ahead.csv", "--show", "C")
    assert "MET Norway, Locationforecast 2.0 at 48.85, 2.35: " in told
    assert "Days run from midnight to midnight by the clock Europe/Paris" in told
    assert "Data: MET Norway (api.met.no), Locationforecast 2.0, CC BY 4.0" in told
    text = Path("ahead.csv").read_text(encoding="utf-8")
    assert "crossday air outlook; Data: MET Norway (api.met.no)" in text
    assert "CC BY 4.0" in text
    assert len(read_air("ahead.csv")) >= 7
    call("outlook", *PARIS, "--out", "ahead.csv")  # ours: written over
    assert not any("/points/" in path for path in server.asked), "not in the US, not asked there"


def test_outlook_where_the_us_service_has_no_place_is_the_worlds(server):
    """Toronto lies in the box of the US service, which has no such point."""
    service.put_world(server, TODAY, (-79.38, 43.65))
    place = ("--lat", "43.65", "--lon", "-79.38", "--elev", "76m", "--contact", "a@example.org")
    told = call("outlook", *place, "--out", "ahead.csv")
    assert "MET Norway" in told
    assert "UTC-05:00, the nearest zone of 15°" in told
    assert server.asked[0] == "/points/43.65,-79.38"
    assert server.asked[1].endswith("?lat=43.65&lon=-79.38&altitude=76")
