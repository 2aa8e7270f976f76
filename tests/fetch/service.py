"""A server on this computer that answers as the public services do, and misbehaves on demand.

Shapes: "NCEI Data Service API User Documentation" (query, CSV with attributes and location);
"GHCN-Daily readme.txt" (lists of stations); "USCRN/USRCRN daily files" readme.txt (names, fields);
"API Web Service" and "Gridpoint Frequently Asked Questions" of the National Weather Service
(GeoJSON, intervals, problem+json). The quoting of CSV cells and the JSON of NCEI's complaints are
from memory. All values are ours.
"""

from __future__ import annotations

import gzip
import json
import threading
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

Misdeed = Callable[["Handler"], None]


class Service(ThreadingHTTPServer):
    """Answers from `pages` (path → kind, body) or `daily`; `misdeeds` go first, one a request."""

    daemon_threads = True

    def __init__(self) -> None:
        self.pages: dict[str, tuple[str, bytes]] = {}
        self.stations: dict[str, dict[date, tuple[str, str, str, str]]] = {}
        self.misdeeds: list[Misdeed] = []
        self.always: Misdeed | None = None
        self.asked: list[str] = []
        self.headers: list[dict[str, str]] = []
        self.sent_bytes = 0
        self.etag = ""
        self.done = threading.Event()
        super().__init__(("127.0.0.1", 0), Handler)

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.server_port}"

    def put_days(
        self,
        station: str,
        first: date,
        days: int,
        *,
        tmax: float = 20.0,
        tmin: float = 8.0,
        attributes: str = ",,W,2400",
    ) -> None:
        table = self.stations.setdefault(station, {})
        for k in range(days):
            swing = (k * 7 % 13) / 2  # so that no value stands still
            day = first + timedelta(days=k)
            table[day] = (f"{tmax + swing:.1f}", f"{tmin + swing:.1f}", "0.0", attributes)

    def daily_csv(self, query: dict[str, list[str]]) -> tuple[int, str, bytes]:
        """The Access Data Service's answer to a query."""
        needed = {"dataset", "stations", "startDate", "endDate"} - set(query)
        if needed or query["dataset"] != ["daily-summaries"]:
            told = {
                "errorMessage": "Errors validating request parameters",
                "errorCode": 400,
                "errors": [{"field": f, "message": "is required", "value": ""} for f in needed],
            }
            return 400, "application/json", json.dumps(told).encode()
        station = query["stations"][0]
        first, last = (date.fromisoformat(query[k][0]) for k in ("startDate", "endDate"))
        days = self.stations.get(station, {})
        lines = [
            f'"{station}","{day}","39.95","-75.16","13.1","SOMEWHERE, PA US",'
            f'"{rain:>6}","{flags}","{high:>6}","{flags}","{low:>6}","{flags}"'
            for day, (high, low, rain, flags) in sorted(days.items())
            if first <= day <= last
        ]
        heading = (
            '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES",'
            '"TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"'
        )
        body = "\n".join([heading, *lines]) + "\n" if lines else ""
        return 200, "text/csv;charset=UTF-8", body.encode()


class Handler(BaseHTTPRequestHandler):
    server: Service
    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        self.close_connection = True
        self.server.asked.append(self.path)
        self.server.headers.append(dict(self.headers.items()))
        misdeed = self.server.misdeeds.pop(0) if self.server.misdeeds else self.server.always
        try:
            if misdeed is not None:
                misdeed(self)
            else:
                self.answer()
        except (BrokenPipeError, ConnectionResetError):
            return

    def answer(self) -> None:
        """Answer well."""
        parts = urlsplit(self.path)
        if parts.path == "/access/services/data/v1":
            code, kind, body = self.server.daily_csv(parse_qs(parts.query))
        elif parts.path in self.server.pages:
            code, (kind, body) = 200, self.server.pages[parts.path]
        elif parts.path.startswith(("/points/", "/gridpoints/")):
            told = {
                "title": "Data Unavailable For Requested Point",
                "type": "https://api.weather.gov/problems/InvalidPoint",
                "status": 404,
                "detail": "Unable to provide data for requested point",
            }
            code, kind, body = 404, "application/problem+json", json.dumps(told).encode()
        else:
            code, kind, body = 404, "text/html", b"<html><body>404 Not Found</body></html>"
        if code == 200 and self.server.etag:
            if self.headers.get("If-None-Match") == self.server.etag:
                self.give(304, None, b"", {"ETag": self.server.etag})
                return
            self.give(code, kind, body, {"ETag": self.server.etag})
            return
        self.give(code, kind, body)

    def give(
        self,
        code: int,
        kind: str | None,
        body: bytes,
        headers: dict[str, str] | None = None,
        *,
        announce: int | None = None,
    ) -> None:
        self.send_response(code)
        for name, value in (headers or {}).items():
            self.send_header(name, value)
        if kind is not None:
            self.send_header("Content-Type", kind)
        if code != 304:
            self.send_header("Content-Length", str(len(body) if announce is None else announce))
        self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *args: object) -> None:
        """Stay quiet."""


def status(code: int, **headers: str) -> Misdeed:
    """Answer with a status and a page of words."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return lambda handler: handler.give(code, "text/html", b"<html>sorry</html>", named)


def says(kind: str | None, body: bytes, **headers: str) -> Misdeed:
    """Answer 200 with this kind and body."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return lambda handler: handler.give(200, kind, body, named)


def redirects(to: str) -> Misdeed:
    return lambda handler: handler.give(302, None, b"", {"Location": to})


def packed(handler: Handler) -> None:
    """Answer well, packed."""
    _, kind, body = handler.server.daily_csv(parse_qs(urlsplit(handler.path).query))
    handler.give(200, kind, gzip.compress(body), {"Content-Encoding": "gzip"})


def cut(handler: Handler) -> None:
    """Announce a whole body and send half."""
    _, kind, body = handler.server.daily_csv(parse_qs(urlsplit(handler.path).query))
    handler.give(200, kind, body[: len(body) // 2], announce=len(body))


def announces(size: int) -> Misdeed:
    return lambda handler: handler.give(200, "text/csv", b'"STATION","DATE"\n', announce=size)


def endless(handler: Handler) -> None:
    """Send rows without announcing how many, 500 MB of them."""
    handler.send_response(200)
    handler.send_header("Content-Type", "text/csv")
    handler.send_header("Connection", "close")
    handler.end_headers()
    handler.wfile.write(b'"STATION","DATE","TMAX","TMIN"\n')
    piece = b'"USW00000000","2020-01-01","1.0","0.0"\n' * 25_000
    while handler.server.sent_bytes < 500_000_000:
        handler.wfile.write(piece)
        handler.server.sent_bytes += len(piece)


def drips(handler: Handler) -> None:
    """Send a byte now and then, for ever."""
    handler.send_response(200)
    handler.send_header("Content-Type", "text/csv")
    handler.send_header("Connection", "close")
    handler.end_headers()
    while not handler.server.done.wait(0.05):
        handler.wfile.write(b"x")


def stalls(handler: Handler) -> None:
    """Take the request and say nothing."""
    handler.server.done.wait(5.0)


def hangs_up(handler: Handler) -> None:
    """Close the connection without an answer."""
    handler.connection.close()


POINT = {
    "id": "https://api.weather.gov/points/39.7456,-97.0892",
    "type": "Feature",
    "properties": {
        "cwa": "TOP",
        "gridId": "TOP",
        "gridX": 31,
        "gridY": 80,
        "forecast": "https://api.weather.gov/gridpoints/TOP/31,80/forecast",
        "forecastGridData": "https://elsewhere.example/gridpoints/TOP/31,80",
        "timeZone": "America/Chicago",
    },
}


def layer(unit: str, *values: tuple[str, float | None]) -> dict[str, object]:
    return {"uom": unit, "values": [{"validTime": t, "value": v} for t, v in values]}


def grid(first: date, days: int = 7) -> dict[str, object]:
    """A grid forecast with day and night extremes at UTC−6, and rain in six-hour steps."""
    highs, lows, rain = [], [], []
    for k in range(days):
        day = first + timedelta(days=k)
        highs.append((f"{day}T13:00:00+00:00/PT13H", 15.0 + k))
        lows.append((f"{day}T00:00:00+00:00/PT14H", 4.5 + k))
        rain += [(f"{day}T{hour:02d}:00:00+00:00/PT6H", 1.5) for hour in (0, 6, 12, 18)]
    return {
        "type": "Feature",
        "properties": {
            "updateTime": f"{first}T10:05:00+00:00",
            "maxTemperature": layer("wmoUnit:degC", *highs),
            "minTemperature": layer("wmoUnit:degC", *lows),
            "quantitativePrecipitation": layer("wmoUnit:mm", *rain),
        },
    }


def put_forecast(service: Service, first: date, days: int = 7) -> None:
    geo = "application/geo+json"
    service.pages["/points/39.7456,-97.0892"] = (geo, json.dumps(POINT).encode())
    told = json.dumps(grid(first, days)).encode()
    service.pages["/gridpoints/TOP/31,80"] = (geo, told)


# Columns as the readme lists them; stations, heights and years are ours.
STATIONS = (
    "USC00310001  39.9500  -75.1000   10.0 PA NEAR AND LOW                                      \n"
    "USC00310002  39.9600  -75.1600  410.0 PA NEAREST AND HIGH               HCN 72408         \n"
    "USC00310003  40.3000  -75.1600   12.0 PA FARTHER AND LOW                                   \n"
    "USC00310004  39.9500  -75.1700   11.0 PA SHORT                                             \n"
    "USC00310005  39.9500  -75.1800   11.0 PA ENDED                                             \n"
    "USC00310006  39.9500  -75.1900   11.0 PA NO MINIMUM                                        \n"
    "ASN00001011 -16.0497  124.9500 -999.9    NO HEIGHT                                         \n"
)


def inventory(this_year: int) -> str:
    rows = [
        ("USC00310001", "39.9500", "-75.1000", "TMAX", 1950, this_year),
        ("USC00310001", "39.9500", "-75.1000", "TMIN", 1951, this_year),
        ("USC00310001", "39.9500", "-75.1000", "PRCP", 1900, this_year),
        ("USC00310002", "39.9600", "-75.1600", "TMAX", 1990, this_year),
        ("USC00310002", "39.9600", "-75.1600", "TMIN", 1990, this_year),
        ("USC00310003", "40.3000", "-75.1600", "TMAX", 2000, this_year),
        ("USC00310003", "40.3000", "-75.1600", "TMIN", 2000, this_year),
        ("USC00310004", "39.9500", "-75.1700", "TMAX", this_year - 3, this_year),
        ("USC00310004", "39.9500", "-75.1700", "TMIN", this_year - 3, this_year),
        ("USC00310005", "39.9500", "-75.1800", "TMAX", 1950, 2001),
        ("USC00310005", "39.9500", "-75.1800", "TMIN", 1950, 2001),
        ("USC00310006", "39.9500", "-75.1900", "TMAX", 1950, this_year),
        ("ASN00001011", "-16.0497", "124.9500", "TMAX", 1950, this_year),
        ("ASN00001011", "-16.0497", "124.9500", "TMIN", 1950, this_year),
    ]
    return "".join(f"{i} {la:>8} {lo:>9} {e} {a} {b}\n" for i, la, lo, e, a, b in rows)


def put_lists(service: Service, this_year: int) -> None:
    plain = "text/plain; charset=UTF-8"
    service.pages["/pub/data/ghcn/daily/ghcnd-stations.txt"] = (plain, STATIONS.encode())
    told = inventory(this_year).encode()
    service.pages["/pub/data/ghcn/daily/ghcnd-inventory.txt"] = (plain, told)


def count(service: Service) -> Counter[str]:
    return Counter(urlsplit(path).path for path in service.asked)
