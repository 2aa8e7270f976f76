"""A server on this computer that answers as the public services do, and misbehaves on demand.

Shapes: "NCEI Data Service API User Documentation" (query, CSV with attributes and location);
"GHCN-Daily readme.txt" (lists of stations); "USCRN/USRCRN daily files" readme.txt (names, fields);
"API Web Service" and "Gridpoint Frequently Asked Questions" of the National Weather Service
(GeoJSON, intervals, problem+json); "Daily API" of NASA POWER; "Locationforecast HOWTO", "General
point forecast JSON format" and "Terms of Service" of MET Norway; the last two with stored answers
of theirs in public tests. The quoting of CSV cells and the JSON of NCEI's and POWER's complaints
are from memory. All values are ours.
"""

from __future__ import annotations

import gzip
import json
import math
import threading
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from email.utils import format_datetime
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
        self.stamps: dict[str, str] = {}
        self.behind = date.max
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

    def square_json(self, query: dict[str, list[str]]) -> tuple[int, str, bytes]:
        """NASA POWER's answer to a query; days from `behind` on are not there yet."""
        kind = "application/json"
        needed = {"parameters", "community", "longitude", "latitude", "start", "end", "format"}
        if absent := needed - set(query):
            told = {"header": "…", "messages": [f"{name}: is required" for name in absent]}
            return 422, kind, json.dumps(told).encode()
        said = {name: values[0] for name, values in query.items()}
        first, last = (date.fromisoformat(said[k]) for k in ("start", "end"))
        days = [first + timedelta(days=k) for k in range((last - first).days + 1)]
        point = (float(said["longitude"]), float(said["latitude"]))
        told = square(days, point, said["parameters"].split(","), self.behind)
        return 200, kind, json.dumps(told).encode()

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
        elif parts.path == "/api/temporal/daily/point":
            code, kind, body = self.server.square_json(parse_qs(parts.query))
        elif parts.path.startswith("/weatherapi/"):
            self.give_forecast(parts.path)
            return
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

    def give_forecast(self, path: str) -> None:
        """Answer as MET Norway: only who says who they are, with stamps, unchanged if so."""
        names = self.headers.get("User-Agent", "")
        stamps = self.server.stamps
        since = self.headers.get("If-Modified-Since")
        if "@" not in names and "/" not in names.partition(" ")[2]:
            self.give(403, "text/html", b"<html>403 Forbidden</html>")
        elif since is not None and since == stamps.get("Last-Modified"):
            self.give(304, None, b"", stamps)
        else:
            kind, body = self.server.pages[path]
            self.give(200, kind, body, stamps)

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


UNITS = {"T2M": "C", "T2M_MAX": "C", "T2M_MIN": "C", "PRECTOTCORR": "mm/day"}


def square(
    days: list[date], point: tuple[float, float], names: list[str], behind: date = date.max
) -> dict[str, object]:
    """A square's days in the form of POWER's JSON: a year with seasons, colder in the south."""

    def value(name: str, day: date) -> float:
        if day >= behind:
            return -999.0
        turn = -1.0 if point[1] < 0 else 1.0
        mean = 10.0 - turn * 9.0 * math.cos((day.timetuple().tm_yday - 20) / 58.1)
        mean += (day.toordinal() * 7 % 13) / 2
        at = {"T2M_MIN": mean - 5.0, "T2M_MAX": mean + 6.0, "T2M": mean, "PRECTOTCORR": 1.5}
        return round(at[name], 2)

    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [*point, 442.77]},
        "properties": {
            "parameter": {name: {f"{d:%Y%m%d}": value(name, d) for d in days} for name in names}
        },
        "header": {
            "title": "NASA/POWER Source Native Resolution Daily Data",
            "api": {"version": "v2.8.0", "name": "POWER Daily API"},
            "sources": ["MERRA2", "POWER"],
            "fill_value": -999.0,
            "time_standard": "LST",
            "start": f"{days[0]:%Y%m%d}",
            "end": f"{days[-1]:%Y%m%d}",
        },
        "messages": [],
        "parameters": {name: {"units": UNITS[name], "longname": name} for name in names},
        "times": {"data": 0.5, "process": 0.02},
    }


WORLD = "/weatherapi/locationforecast/2.0/complete"


def step(at: datetime, now_c: float, hours: int, *, extremes: bool = True) -> dict[str, object]:
    """One time of a forecast: the temperature then, and what the next hours bring."""
    ahead: dict[str, object] = {"precipitation_amount": 0.5 * hours}
    if hours == 6 and extremes:
        ahead |= {"air_temperature_min": now_c - 3.0, "air_temperature_max": now_c + 4.0}
    next_hours = {"summary": {"symbol_code": "rain"}, "details": ahead}
    data = {"instant": {"details": {"air_temperature": now_c, "wind_speed": 2.0}}}
    return {"time": f"{at:%Y-%m-%dT%H:%M:%SZ}", "data": data | {f"next_{hours}_hours": next_hours}}


def world(
    first: date, point: tuple[float, float], *, extremes: bool = True, hourly_days: int = 2
) -> dict[str, object]:
    """A forecast from 05:00 universal time on: by the hour for some days, then six hours a step."""
    start = datetime(first.year, first.month, first.day, 5, tzinfo=UTC)
    turn = start.replace(hour=0) + timedelta(days=hourly_days)
    hours = [start + timedelta(hours=k) for k in range(24 * hourly_days - 5)]
    later = [turn + timedelta(hours=6 * k) for k in range(28)]
    rows = [step(at, 10.0 + at.hour / 4, 1) for at in hours]
    rows += [step(at, 10.0 + at.hour / 4, 6, extremes=extremes) for at in later]
    names = ("air_temperature", "air_temperature_max", "air_temperature_min")
    units = dict.fromkeys(names if extremes else names[:1], "celsius")
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [*point, 21]},
        "properties": {
            "meta": {
                "updated_at": f"{first}T04:10:00Z",
                "units": units | {"precipitation_amount": "mm", "wind_speed": "m/s"},
            },
            "timeseries": rows,
        },
    }


def put_world(service: Service, first: date, point: tuple[float, float] = (4.9, 52.37)) -> None:
    """Put a forecast there, made an hour ago and good for half an hour."""
    service.pages[WORLD] = ("application/json", json.dumps(world(first, point)).encode())
    now = datetime.now(UTC)
    service.stamps = {
        "Expires": format_datetime(now + timedelta(minutes=30), usegmt=True),
        "Last-Modified": format_datetime(now - timedelta(hours=1), usegmt=True),
    }


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
