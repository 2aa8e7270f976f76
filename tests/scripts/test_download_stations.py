"""Download script: conversion against published files, fetching against a loopback server."""

import csv
import gzip
import importlib.util
import io
import sys
import threading
from collections import Counter
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
# Two days in the shape of daily01, values ours; the second has no true mean, no soil, no rain.
DAY = (
    "99999 {day}  2.422  146.60  -36.20 {tmax:7.1f} {tmin:7.1f} {mean:7.1f} {avg:7.1f} {rain:7.1f}"
    "     8.58 C     5.6    -6.1    -2.5    89.9    60.9    77.1   0.387   0.395   0.379   0.454"
    "   0.478 {s5:7.1f} {s10:7.1f} {s20:7.1f}     9.4    10.2\n"
)
FULL = {"tmax": 21.5, "tmin": -3.0, "mean": 9.2, "avg": 8.9, "rain": 0.0}
FULL |= {"s5": 10.1, "s10": 10.4, "s20": 11.0}
BARE = {"tmax": 20.0, "tmin": 1.0, "mean": 10.5}
BARE |= dict.fromkeys(("avg", "rain", "s5", "s10", "s20"), -9999.0)


@pytest.fixture(scope="module")
def script() -> ModuleType:
    path = ROOT / "scripts" / "download_stations.py"
    spec = importlib.util.spec_from_file_location("download_stations", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["download_stations"] = module
    spec.loader.exec_module(module)
    return module


class Server(ThreadingHTTPServer):
    """Answers as the public one does: plain text for what it has, 404 for what it has not."""

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}
        self.failures: Counter[str] = Counter()
        self.cut: Counter[str] = Counter()
        self.asked: list[tuple[str, str | None]] = []
        super().__init__(("127.0.0.1", 0), Handler)

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.server_port}/daily01"


class Handler(BaseHTTPRequestHandler):
    server: Server

    def do_GET(self) -> None:
        self.server.asked.append((self.path, self.headers.get("User-Agent")))
        if self.server.failures[self.path] > 0:
            self.server.failures[self.path] -= 1
            self.send_error(503)
            return
        body = self.server.files.get(self.path)
        if body is None:
            self.send_error(404)
            return
        self.send_response(200)
        self.send_header("Content-Type", "text/plain")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.server.cut[self.path] > 0:
            self.server.cut[self.path] -= 1
            body = body[: len(body) // 2]
        self.wfile.write(body)

    def log_message(self, *args: object) -> None:
        """Stay quiet."""


@pytest.fixture
def server():
    with Server() as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        yield running
        running.shutdown()
        thread.join()


def put(server: Server, year: int, name: str, *days: str) -> str:
    path = f"/daily01/{year}/CRND0103-{year}-{name}.txt"
    server.files[path] = "".join(days).encode("ascii")
    return path


def table(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(gzip.decompress(path.read_bytes()).decode())))


def test_convert_picks_the_fields_and_blanks_what_is_missing(script):
    lines = [DAY.format(day="20160229", **FULL), "\n", DAY.format(day="20160301", **BARE)]
    assert list(script.convert(lines)) == [
        ("2016-02-29", "21.5", "-3.0", "8.9", "10.1", "10.4", "11.0", "0.0"),
        ("2016-03-01", "20.0", "1.0", "", "", "", "", ""),
    ]


def test_convert_refuses_a_line_of_another_shape(script):
    with pytest.raises(ValueError, match=r"x\.txt, line 2: 3 fields; expected 28"):
        list(script.convert([DAY.format(day="20160229", **FULL), "Error 404 page"], "x.txt"))


@pytest.mark.parametrize(
    "name", ["IN_Bedford_5_WNW", "KS_Manhattan_6_SSW", "NE_Lincoln_11_SW", "SC_Blackville_3_W"]
)
def test_conversion_equals_the_daily_tables_others_made(script, shared_data, name):
    """The network's yearly files against daily tables of the same station: equal numbers."""
    daily_path = shared_data / "uscrn_daily" / f"{name}.csv.gz"
    raw = sorted((shared_data / "uscrn_raw" / name).glob("CRND0103-*.txt"))
    if not raw or not daily_path.exists():
        pytest.skip(f"no published files of {name}")
    theirs = {row["date"]: row for row in table(daily_path)}
    packed = script.station_gz((path.name, path.read_text()) for path in raw)
    ours = list(csv.DictReader(io.StringIO(gzip.decompress(packed).decode())))
    assert len(ours) > 300 * len(raw) * 0.9
    for row in ours:
        numbers = [float(row[key] or "nan") for key in script.HEADING[1:]]
        expected = [float(theirs[row["date"]][key] or "nan") for key in script.HEADING[1:]]
        assert numbers == pytest.approx(expected, nan_ok=True, abs=1e-9), row["date"]


def test_downloads_skips_absent_years_and_asks_for_nothing_twice(script, server, tmp_path):
    put(server, 2015, "AL_Selma_13_WNW", DAY.format(day="20151231", **FULL))
    put(server, 2016, "AL_Selma_13_WNW", DAY.format(day="20160101", **BARE))
    arguments = [str(tmp_path), "--years", "2014-2016", "--stations", "AL_Selma_13_WNW"]
    arguments += ["--base", server.base, "--pause", "0"]
    assert script.main(arguments) == 0
    rows = table(tmp_path / "AL_Selma_13_WNW.csv.gz")
    assert [row["date"] for row in rows] == ["2015-12-31", "2016-01-01"]
    assert rows[0]["soil10_c"] == "10.4"
    assert (tmp_path / "stations.csv").read_text() == (
        "station,lat,lon\nAL_Selma_13_WNW,32.46,-87.24\n"
    )
    assert len(server.asked) == 3
    assert {agent for _, agent in server.asked} == {script.USER_AGENT}
    first = (tmp_path / "AL_Selma_13_WNW.csv.gz").read_bytes()
    assert script.main(arguments) == 0
    assert [path for path, _ in server.asked[3:]] == [
        "/daily01/2014/CRND0103-2014-AL_Selma_13_WNW.txt"
    ], "only the year that was absent may be asked for again"
    assert (tmp_path / "AL_Selma_13_WNW.csv.gz").read_bytes() == first
    assert not list(tmp_path.rglob("*.part"))


def test_a_busy_server_and_a_cut_answer_are_tried_again(script, server):
    path = put(server, 2015, "X", DAY.format(day="20151231", **FULL))
    server.failures[path], server.cut[path] = 1, 1
    url = f"{server.base.removesuffix('/daily01')}{path}"
    assert script.fetch(url, pause_s=0.0) == server.files[path]
    assert len(server.asked) == 3


def test_a_server_that_stays_broken_ends_the_run(script, server, tmp_path, capsys):
    path = put(server, 2015, "AL_Selma_13_WNW", DAY.format(day="20151231", **FULL))
    server.failures[path] = 99
    arguments = [str(tmp_path), "--years", "2015", "--stations", "AL_Selma_13_WNW"]
    assert script.main([*arguments, "--base", server.base, "--pause", "0"]) == 3
    assert "503" in capsys.readouterr().err
    assert not (tmp_path / "AL_Selma_13_WNW.csv.gz").exists()


def test_nothing_there_at_all_is_an_error(script, server, tmp_path, capsys):
    arguments = [str(tmp_path), "--years", "2015", "--stations", "AL_Selma_13_WNW"]
    assert script.main([*arguments, "--base", server.base, "--pause", "0"]) == 3
    assert "nothing found for AL_Selma_13_WNW" in capsys.readouterr().err


def test_an_unknown_station_is_wrong_use(script, tmp_path, capsys):
    assert script.main([str(tmp_path), "--stations", "Nowhere"]) == 2
    assert "Nowhere" in capsys.readouterr().err


def test_the_list_is_seventy_stations_that_could_be_places(script):
    rows = list(csv.DictReader(io.StringIO(script.STATIONS.read_text(encoding="utf-8"))))
    assert len({row["station"] for row in rows}) == len(rows) == 70
    assert all(18 < float(row["lat"]) < 72 and -180 < float(row["lon"]) < -60 for row in rows)
