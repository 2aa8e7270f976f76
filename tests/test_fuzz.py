"""Anything typed at any command, and any file: an exit code as documented, one line, no stray file.

A case is one command line run whole in this process. It begins as one that works, then some of
its options are replaced, doubled, dropped or added from `ODD`, and some of its files are spoiled
as people spoil them. What must hold is in `judge`. Answers that look right though the input is
wrong are no matter of chance: `tests/test_wrong_but_sure.py` has them one by one.
"""

import csv
import functools
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
from collections import Counter
from contextlib import contextmanager
from pathlib import Path

import click
import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forecaster.cli import main
from forecaster.cli.degrees import Degrees
from forecaster.packaged import data_path

CODES = {0, 2, 3, 130}
LONGEST_S = 30
NO_ANSWER = re.compile(r"(?<![\w.])(nan|NaN|NaT|-?inf|None)(?![\w.])")
PROGRESS = re.compile(r"forecast \d+ of \d+")
NOTE = re.compile(r"\S.* was (given \d+ times: the last counts\.|taken as .+)")
"""How a call was understood; said before the answer, and before why there is none."""

ODD = (
    "", " ", "-", "--", "--lat", "=1+1", "@x", "'", '"', "a\nb", "\r", "../x", "../x.png", "🌱",
    "🌱.png", "\x1b[2J", "\udcff", "\0", "%s", "%", "{}", "1e999", "1e-999", "nan", "NaN", "inf",
    "-inf", "None", "-0", "0", "-5", "1", "9" * 40, "0x10", "١٢", "1,5", "1_000", "½", "91", "-91",
    "180.0001", "91S", "36.2SS", "-36.2S", "1800-01-01", "2200-12-31", "9999-12-31", "0001-01-01",
    "2026-02-30", "2025-02-29", "2024-02-29", "14/3/2026", "today", "10m", "0in", "-4in", "4 in",
    "4''", "1e3in", "99999m", "4mm", "0.0001mm", "61.5F", "-500F", "999C", "288K", "15R", "61.5",
    "F", "°C", "5%", "0%", "100%", "101%", "-3F", "-300F", "100ft2", "0ft2", "1e9m2", "0.0001m2",
    "999999999999ft2", "0,0 1,0 1,1", "circle 1in", "circle 9000ft", "circle 0ft",
    "rectangle 4ft 0ft", "strip 3ft around 20ft 30ft", "polygon 0,0 1,1 0,1 1,0 ft",
    "polygon 0,0 0,0 0,0 ft", "rectangle nanft 3ft", "0-0-0", "99-99-99", "12-0-0", "10-8", "8-10",
    "0:0", "1:0", "2:1", "0=0", "36=0", "1=1", "red=1", "red=9999", "red=1,red=2", "x=0", "cool",
    "warm", "all", "ALL", "tomato", "tomat", "TOMATO", "pansy", "x" * 10_000, "a/b", ".", "..",
    "/", "/dev/null", "/dev/zero", "/dev/full", "folder", "folder/", "empty folder", "out",
    "missing.csv", "no/such/folder/x.png", "con", "\u202e", "new.csv", "new.png", "new.svg",
    "new.html", "new.ics", "north", "0,14", "180", "181", "0,0,0", "USW00013739",
    "NE_Lincoln_11_SW",
)  # fmt: skip
"""What is typed by mistake, by somebody curious, or by a cat."""

FILES = (
    "air.csv", "short.csv", "station.csv", "network.txt", "log.csv", "hand.txt", "ahead.csv",
    "crops.csv", "plan.json", "other.csv", "empty.csv", "bytes.bin", "garden.db", "latin.csv",
    "loop.csv", "locked.csv", "folder", "empty folder", "missing.csv",
)  # fmt: skip

GOOD = {
    "lat": ("-36.2", "36.2S"),
    "lon": ("146.6",),
    "depth": ("4in", "10cm", "0in", "2m"),
    "readings": ("log.csv", "hand.txt"),
    "threshold": ("60F", "15.5C"),
    "today": ("2026-03-16", "2025-10-01"),
    "outlook": ("ahead.csv",),
    "obs_hour": ("7",),
    "crop": ("tomato", "pansy"),
    "crops": ("crops.csv",),
    "own": ("crops.csv",),
    "sown": ("2026-03-20",),
    "source": ("kansas",),
    "risk": ("10%",),
    "bed_offset": ("-3F",),
    "name": ("Nord 'links'",),
    "area": ("100ft2",),
    "outline": ("circle 12ft", "rectangle 4ft 25ft", "polygon 0,0 10,0 10,6 ft"),
    "spacing": ("8in",),
    "flat": ("36=18.50", "48"),
    "price": ("20",),
    "sow_weeks": ("8-10",),
    "depth_of_renewal": ("3in",),
    "ratio": ("2:1",),
    "bag": ("2cuft",),
    "load": ("2yd3",),
    "payload": ("1500lb",),
    "fertilizer": ("12-0-0",),
    "nitrogen": ("0.2",),
    "flow": ("5gpm",),
    "late_weight": ("2",),
    "planted": ("2026-03-10", "2025-10-01"),
    "since": ("plan.json",),
    "colours": ("yellow=6,white=5",),
    "layout": ("sheet.svg",),
    "ics": ("bed.ics",),
    "seed": ("3",),
    "seasons": ("2",),
    "leads_days": ("0,14",),
    "bed": ("north",),
    "book": ("garden.db",),
    "elev": ("400ft",),
    "first": ("2020-01-01",),
    "last": ("2020-02-01",),
    "years": ("15",),
    "count": ("2",),
    "cache": ("answers",),
    "by": ("2026-05-01",),
    "map": ("new.png",),
    "workers": ("0",),
    "limit": ("60",),
}
"""Values that work, by the option's name; choices and flags know their own."""

OUT = {"chart": "new.svg", "check": "new.svg", "report": "new.html", "demo": "pictures"}
MADE_BY_DEFAULT = {
    "soil-window.png",
    "soil-window.txt",
    "report.html",
    "region.csv",
    "task_hours.csv",
}


# --- files -----------------------------------------------------------------------------------


@functools.cache
def demo_rows():
    with data_path("demo/air.csv").open(encoding="utf-8", newline="") as handle:
        return tuple(tuple(row) for row in csv.reader(handle))[1:]


def as_text(head, rows):
    return "\n".join([head, *(",".join(map(str, row)) for row in rows)]) + "\n"


def network_text(rows):
    """Lines of the US Climate Reference Network's daily form."""
    return "".join(
        f"94996 {day.replace('-', '')}  2.422  146.60  -36.20 {float(high):7.1f} {float(low):7.1f} "
        f"{(float(high) + float(low)) / 2:7.1f} {(float(high) + float(low)) / 2:7.1f} "
        f"{float(rain):7.1f}    10.02 C     1.1   -12.0    -5.6    78.3    50.3    66.1 -99.000"
        "   0.315   0.327   0.274   0.317     0.1     0.6     1.4     3.1     5.6\n"
        for day, *values in rows
        for low, high, rain in [[-9999.0 if v == "" else v for v in values]]
    )


def station_text(rows):
    """A table as public services export it, in tenths of nothing: °C."""
    return as_text(
        "STATION,DATE,LATITUDE,LONGITUDE,TMIN (°C),TMAX (°C),PRCP (mm)",
        [("X1", day, "-36.2", "146.6", low, high, rain) for day, low, high, rain in rows],
    )


@functools.cache
def materials():
    """Return the files of a case by name, as bytes."""
    rows = demo_rows()
    short = as_text("date,tmin_c,tmax_c,rain_mm", rows[-430:])
    ahead = [(f"2026-03-{d:02d}", 8, 22) for d in range(17, 27)]
    jump = "time,soil_c\n" + "".join(
        f"2026-04-05 {h:02d}:30,{15 + k / 10}\n" for k, h in enumerate([0, 1, 2, 2, 3, 4])
    )
    texts = {
        "air.csv": as_text("date,tmin_c,tmax_c,rain_mm", rows[-830:]),
        "short.csv": short,
        "station.csv": station_text(rows[-500:]),
        "network.txt": network_text(rows[-400:]),
        "log.csv": data_path("demo/readings.csv").read_text(encoding="utf-8"),
        "hand.txt": "2026-03-01 7:40 68.5F 4in\n2026-03-08 8:00 67F\n2026-03-15 7:30 65.5F\n",
        "jump.csv": jump,
        "ahead.csv": as_text("date,tmin_c,tmax_c", ahead),
        "crops.csv": "crop,role,value_f\nmedlar,minimum,50\ntomato,minimum,61\n",
        "plan.json": "{}",
        "other.csv": "what,=1\n🌱,2\n",
        "empty.csv": "",
        "locked.csv": short,
        "folder/2025.csv": short,
    }
    found = {name: text.encode() for name, text in texts.items()}
    found["bytes.bin"] = bytes(range(256)) * 20
    found["latin.csv"] = "Datum;Tief °C;Hoch °C\n14.03.2025;1,5;12,5\n".encode("latin-1")
    return found


class Sandbox:
    """A folder to be in, with a sibling, a home and a place for passing files around it."""

    def __init__(self, root):
        self.root, self.here = root, root / "here"
        for name in ("here", "here/folder", "here/empty folder", "home", "passing"):
            (root / name).mkdir()
        self.keep = dict(materials())
        for name, data in self.keep.items():
            (self.here / name).write_bytes(data)
        (self.here / "locked.csv").chmod(0)
        (self.here / "loop.csv").symlink_to("loop.csv")

    def adopt(self):
        """Take what is there now for the beginning of every case."""
        for path in self.here.rglob("*"):
            if path.is_file():
                self.keep[str(path.relative_to(self.here))] = path.read_bytes()
        self.before = self.look()

    def look(self):
        found = {}
        for folder, folders, files in os.walk(self.root):
            for name in (*folders, *files):
                path = os.path.join(folder, name)  # noqa: PTH118 - many, and quick
                state = os.lstat(path)
                found[path] = (state.st_size, state.st_mtime_ns) if name in files else None
        return found

    def restore(self, changed):
        for path in map(Path, sorted(changed, reverse=True)):
            inside = path.relative_to(self.here) if path.is_relative_to(self.here) else None
            if path.is_dir() and not path.is_symlink():
                if str(path) not in self.before:
                    shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)
            if inside is not None and str(inside) in self.keep:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(self.keep[str(inside)])
        self.before = self.look()


@contextmanager
def at_most(seconds):
    """Stop a case that hangs."""

    def stop(*_):
        raise TimeoutError(f"no answer after {seconds} s")

    if not hasattr(signal, "SIGALRM"):
        yield
        return
    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="module")
def box(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        made = Sandbox(tmp_path_factory.mktemp("fuzz"))
        patch.chdir(made.here)
        for name in ("HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME", "APPDATA", "LOCALAPPDATA"):
            patch.setenv(name, str(made.root / "home"))
        patch.setenv("CROSSDAY_BOOK", str(made.here / "garden.db"))
        patch.setenv("CROSSDAY_TRACEBACK", "1")  # a stray exception ends in 70, and shows its way
        # The library that draws keeps its list of fonts where it always does.
        patch.setenv("MPLCONFIGDIR", str(tmp_path_factory.mktemp("fonts")))
        patch.setattr(tempfile, "tempdir", str(made.root / "passing"))

        def alone(*_):
            raise AssertionError("a command asked the network")

        patch.setattr(socket.socket, "connect", alone)
        patch.setattr(socket, "getaddrinfo", alone)
        run = CliRunner().invoke
        start = ["book", "start", "--lat", "-36.2", "--air", "air.csv", "--bed", "north"]
        assert run(main, start).exit_code == 0
        told = run(main, ["plan", "--bed", "north", "--area", "9m2", "--json"])
        assert told.exit_code == 0, told.output
        (made.here / "plan.json").write_text(told.stdout, encoding="utf-8")
        made.adopt()
        yield made


# --- what must hold --------------------------------------------------------------------------


def allowed(words, here):
    """Return paths that a command may write: what its words name, and what goes beside it."""
    named = {here / name for name in MADE_BY_DEFAULT}
    for word in words:
        for part in {word, word.partition("=")[2]}:
            if not part or "\0" in part or len(part) > 1000:
                continue
            path = Path(os.path.normpath(here / part))
            named.add(path)
            if path.name:
                beside = (f"{path.name}-wal", f"{path.name}-shm", f"{path.stem}.txt")
                named |= {path.with_name(name) for name in beside}
    # The book that the variable names is the user's too.
    named |= {here / f"garden.db{end}" for end in ("", "-wal", "-shm")}
    return named


def strays(words, box, now):
    """Return paths that came, went or changed without having been named."""
    moved = {path for path in {*now, *box.before} if now.get(path) != box.before.get(path)}
    moved |= {path for path in {*now, *box.before} if (path in now) != (path in box.before)}
    may = set(allowed(words, box.here))
    if "air" in words:  # its answers are kept in the user's cache folder, as the README says
        may.add(box.root / "home" / "crossday")
    # A folder that is named may be filled; the one that one is in only by files that are named.
    fillable = {p for p in may if p not in {box.here, box.root, *box.root.parents}}
    wrong = {
        p for p in map(Path, moved)
        if p not in may and not any(p.is_relative_to(folder) for folder in fillable)
    }  # fmt: skip
    return moved, wrong


def judge(words, found, box):
    """Say what is wrong with how a command ended, if anything."""
    moved, wrong = strays(words, box, box.look())
    box.restore(moved)
    if found.exception is not None and not isinstance(found.exception, SystemExit):
        raise found.exception
    assert found.exit_code in CODES, (found.exit_code, found.stderr)
    lines = found.stderr.splitlines()
    lines = [x for x in lines if not PROGRESS.fullmatch(x) and not NOTE.fullmatch(x)]
    if found.exit_code in (2, 3):
        assert len(lines) == 1, lines
        assert lines[0].startswith("crossday: "), lines
        assert len(lines[0]) < 2000, "a line that nobody reads"
        assert found.stdout == "" or "book" in words
    said = found.stdout
    if found.exit_code == 0 and "--json" in words and said.startswith(("{", "[")):
        json.loads(said, parse_constant=lambda name: pytest.fail(f"{name} in JSON"))
    echoed = {part for word in words for part in (word, word.partition("=")[2])}
    for word in sorted(filter(NO_ANSWER.search, echoed), key=len, reverse=True):
        said = said.replace(word, "")
    assert not NO_ANSWER.search(said), NO_ANSWER.search(said)
    assert not wrong, wrong


def try_one(words, box):
    with at_most(LONGEST_S):
        found = CliRunner().invoke(main, words, prog_name="crossday")
    judge(words, found, box)
    return found.exit_code


# --- command lines ---------------------------------------------------------------------------


def leaf_commands():
    """Return every command with the words that lead to it."""
    context = click.Context(main)
    for name in main.list_commands(context):
        command = main.get_command(context, name)
        if isinstance(command, click.Group):
            for inner in command.commands:
                yield (name, inner), command.commands[inner]
        else:
            yield (name,), command


# `open` serves until it is ended: tests/page tries it.
COMMANDS = {way: command for way, command in leaf_commands() if way != ("open",)}
OF_FILES = [
    ("when",), ("when",), ("when",), ("plan",), ("chart",), ("report",), ("check",),
    ("air", "import"),
]  # fmt: skip
CHOICES = (
    sorted(COMMANDS) + 3 * OF_FILES + [("demo",), ("crops",), ("crops",), ("done",), ("done",)]
)
ODD_WORD = st.one_of(
    st.sampled_from(ODD), st.sampled_from(FILES),
    st.text(st.characters(codec="utf-8"), max_size=8),
    st.floats().map(str), st.integers(-(10**6), 10**6).map(str),
)  # fmt: skip


def good_value(draw, option, way):
    if option.name == "out":
        return OUT.get(way[-1], "new.csv")
    if isinstance(option.type, click.Choice):
        return draw(st.sampled_from(list(option.type.choices)))
    return draw(st.sampled_from(GOOD[option.name])) if option.name in GOOD else draw(ODD_WORD)


def option_words(draw, option, way, *, odd):
    flag = draw(st.sampled_from([*option.opts, *option.secondary_opts]))
    if option.is_flag:
        return [flag]
    value = draw(ODD_WORD) if odd else good_value(draw, option, way)
    return draw(st.sampled_from([[flag, value], [f"{flag}={value}"]]))


def beginning(way):
    """Return words after the command's name that give an answer."""
    at = ["--lat", "-36.2"]
    if way[0] == "air" and way[1] != "import":
        station = ["USW00013739"] if way[1] == "fetch" else [*at, "--lon", "146.6"]
        out = [] if way[1] == "near" else ["--out", "new.csv"]
        return ["--cache", "answers", *station, *out]
    return {
        "when": ["air.csv", *at],
        "chart": ["air.csv", *at, "--out", "new.svg"],
        "check": ["air.csv", *at],
        "plan": ["air.csv", *at],
        "report": ["short.csv", *at, "--no-check"],
        "demo": ["--out", "pictures"],
        "import": ["air.csv", "--out", "new.csv"],
        "region": ["folder", "--workers", "0"],
        "done": ["set-out"],
    }.get(way[-1] if way[0] != "book" else "", [])


@st.composite
def lines(draw, file=None):
    """Return a command line: one that works, with some things done to it; fewer if a file is."""
    way = draw(st.sampled_from(CHOICES if file is None else OF_FILES))
    network = way[0] == "air" and way[1] != "import"
    words = beginning(way)
    options = [p for p in COMMANDS[way].params if isinstance(p, click.Option)]
    if file is None and way[0] in ("when", "chart", "check", "plan", "report"):
        words = draw(st.sampled_from([words, words, words, ["--bed", "north"]]))
    if way[0] == "book":
        words = [draw(ODD_WORD) for p in COMMANDS[way].params if isinstance(p, click.Argument)]
    # A bed of the book does not go with a file, nor a place with a bed.
    fitting = [p for p in options if p.name not in ("bed", "book")] or options
    for _ in range(draw(st.integers(0, 3 if file is None else 2))):
        words = [*words, *option_words(draw, draw(st.sampled_from(fitting)), way, odd=False)]
    for _ in range(draw(st.sampled_from([0, 1, 1, 2] if file is None else [0, 0, 0, 1]))):
        kind = draw(st.integers(0, 5))
        at = draw(st.integers(0, len(words)))
        if kind <= 2:
            words = [*words, *option_words(draw, draw(st.sampled_from(options)), way, odd=True)]
        elif kind == 3:
            words = [*words[:at], draw(ODD_WORD), *words[at:]]
        elif kind == 4 and at < len(words):
            words = [*words[:at], draw(ODD_WORD), *words[at + 1 :]]
        elif at < len(words):
            words = [*words[:at], *words[at + 1 :]]
    if file is not None:
        words = [file if w in ("air.csv", "short.csv") else w for w in words]
    return [*way, *(["--offline"] if network else []), *words]


# --- spoiled files ---------------------------------------------------------------------------

LAYOUTS = ("plain", "fahrenheit", "station", "network", "means", "semicolons", "nameless")
SHIFTS = {
    "kelvin": lambda x: x + 273.15,
    "fahrenheit": lambda x: x * 1.8 + 32.0,
    "tenths": lambda x: x * 10.0,
    "huge": lambda x: x * 1e6,
    "constant": lambda x: 15.0 + 0.0 * x,
    "none": lambda x: np.full_like(x, np.nan),
    "mild all year": lambda x: 24.0 + 0.05 * (x - 15.0),
    "polar": lambda x: x - 45.0,
    "hot": lambda x: x + 25.0,
    "nothing": lambda x: x,
}


@st.composite
def records(draw):
    """Return the text of an air record, and what was done to it."""
    days = draw(
        st.sampled_from([0, 1, 59, 60, 61, 90, 200, 330, 365, 366, 400, 430, 800, 1100, 2200])
    )
    rows = demo_rows()[-days:] if days else ()
    if draw(st.integers(0, 3)) == 0:
        start = draw(st.integers(0, len(demo_rows()) - days))
        rows = demo_rows()[start : start + days]
    shift = draw(st.sampled_from(["nothing"] * 12 + sorted(SHIFTS)))
    which = draw(st.sampled_from(["both", "both", "tmin", "tmax", "second half"]))
    low, high = (np.array([float(r[k] or "nan") for r in rows]) for k in (1, 2))
    part = slice(len(rows) // 2 if which == "second half" else 0, None)
    if which != "tmax":
        low[part] = SHIFTS[shift](low[part])
    if which != "tmin":
        high[part] = SHIFTS[shift](high[part])
    years = draw(st.sampled_from([0] * 12 + [-200, -30, 1, 3, 100, 7000]))
    table = [
        (f"{int(r[0][:4]) + years:04d}{r[0][4:]}", a, b, r[3])
        for r, a, b in zip(rows, np.round(low, 2), np.round(high, 2), strict=True)
    ]
    done = draw(st.sampled_from(["no"] * 8 + ["gap", "thin", "twice", "backwards", "swapped",
                                              "no column", "torn", "night only"]))  # fmt: skip
    size = max(len(table) // 3, 1)
    at = draw(st.integers(0, max(len(table) - 1, 0)))
    table = {
        "gap": lambda: table[:at] + table[at + size :],
        "thin": lambda: table[:: draw(st.integers(2, 9))],
        "twice": lambda: table + [(d, a - 3, b, r) for d, a, b, r in table[at : at + size]],
        "backwards": lambda: table[::-1],
        "swapped": lambda: [(d, b, a, r) for d, a, b, r in table],
        "no column": lambda: [(d, "", b, r) for d, a, b, r in table],
        "torn": lambda: [row[: 1 + (k % 4)] if k % 11 == 0 else row for k, row in enumerate(table)],
        "night only": lambda: [(d, a, a, r) for d, a, b, r in table],
    }.get(done, lambda: table)()
    return laid_out(draw(st.sampled_from(("plain", *LAYOUTS))), table), (days, shift, which, done)


def laid_out(layout, table):
    table = [[("" if x != x else x) for x in row] for row in table]  # noqa: PLR0124 - not a number
    whole = [row for row in table if len(row) == 4 and "" not in row]
    if layout == "network":
        return network_text(whole)
    if layout == "station":
        return station_text(whole)
    if layout == "means":
        rows = [(r[0], round((r[1] + r[2]) / 2, 2)) for r in whole]
        return as_text("date,tavg_c", rows)
    text = as_text(
        {
            "fahrenheit": "date,tmin_f,tmax_f,rain_in",
            "semicolons": "Datum;Tmin;Tmax;mm",
            "nameless": "date,tmin,tmax,rain",
        }.get(layout, "date,tmin_c,tmax_c,rain_mm"),
        table,
    )
    return text.replace(".", ",").replace(",", ";", 1) if layout == "semicolons" else text


@st.composite
def logs(draw):
    """Return the text of a thermometer log."""
    unit = draw(st.sampled_from(["c", "f", "k", ""]))
    real = draw(st.sampled_from(["c", "c", "f", "k"]))
    turn = {"c": lambda x: x, "f": SHIFTS["fahrenheit"], "k": SHIFTS["kelvin"]}[real]
    hours = draw(st.sampled_from([["07:40"], ["00:30", "01:30", "02:30", "02:30", "03:30"], [""]]))
    year = draw(st.sampled_from([2026, 2026, 2025, 1800, 2200]))
    count = draw(st.integers(0, 40))
    rows = [
        (
            f"{year}-{1 + k % 12:02d}-{1 + k % 28:02d} {hours[k % len(hours)]}".strip(),
            round(float(turn(np.float64(18 + 5 * np.cos(k % 12 / 1.9)))), 1),
            draw(st.sampled_from(["4in", "4in", "10cm", "", "9m", "-4in"])),
        )
        for k in range(count)
    ]
    return as_text(f"time,soil_{unit}".rstrip("_") + ",depth", rows)


@st.composite
def spoiled_lines(draw):
    """Return a command line on a record or log of its own, and those texts by name."""
    air, _ = draw(records())
    texts = {"mine.csv": air}
    words = draw(lines(file="mine.csv"))
    if draw(st.integers(0, 3)) == 0:
        texts["own.csv"] = draw(logs())
        words = [*words, "--readings", "own.csv"]
    if draw(st.integers(0, 5)) == 0:
        at = draw(st.integers(0, max(len(air) - 1, 0)))
        texts["mine.csv"] = air[:at] + draw(ODD_WORD) + air[at + draw(st.integers(0, 30)) :]
    return words, texts


def attack(box, cases, *, files):
    """Try so many cases; return how often each exit code came."""
    ends, answered = Counter(), Counter()

    @settings(max_examples=cases, database=None, suppress_health_check=list(HealthCheck))
    @given(spoiled_lines() if files else lines().map(lambda words: (words, {})))
    def one(case):
        words, texts = case
        for name, text in texts.items():
            (box.here / name).write_text(text, encoding="utf-8", errors="replace", newline="")
        box.before = box.look() if texts else box.before
        code = try_one(words, box)
        ends[code] += 1
        answered[words[0]] += code == 0

    one()
    return ends, answered


def test_odd_words(box):
    ends, answered = attack(box, 60, files=False)
    assert ends.total() >= 50
    assert answered["when"], "some of them were answered, so more than refusals was tried"


def test_odd_files(box):
    ends, answered = attack(box, 60, files=True)
    assert ends.total() >= 50
    assert answered["when"]


@pytest.mark.slow
@pytest.mark.parametrize(("files", "cases"), [(False, 2000), (True, 1500)])
def test_many(box, files, cases):
    ends, answered = attack(box, cases, files=files)
    print(f"\n{ends.total()} cases: {dict(ends)}, answered: {dict(answered)}")  # noqa: T201
    assert ends.total() >= cases
    asked = {way[0] for way in (OF_FILES if files else COMMANDS)} - {"check"}
    assert asked <= set(+answered), "each was answered at least once; check needs six years"


@pytest.mark.parametrize(
    "words",
    [
        [b"when", b"\xff\xfe.csv", b"--lat", b"1"],
        [b"when", b"air.csv", b"--lat", b"-36.2", b"--crop-class", b"cool"],
        [b"report", b"short.csv", b"--lat", b"-36.2", b"--out", b"../\xff/r.html"],
        [b"plan", b"--", b"--lat"],
    ],
)
def test_the_shell_sees_the_same(box, words):
    """The same through a process of its own: bytes as arguments, and the real end."""
    found = subprocess.run(
        [os.fsencode(sys.executable), b"-m", b"forecaster", *words],
        capture_output=True, cwd=box.here, timeout=LONGEST_S, check=False,
    )  # fmt: skip
    assert found.returncode in CODES
    assert b"Traceback" not in found.stderr
    if found.returncode:
        assert found.stderr.startswith(b"crossday: ")
        assert found.stderr.count(b"\n") == 1
    assert not strays([os.fsdecode(w) for w in words], box, box.look())[1]


@given(st.text(max_size=12) | st.floats().map(str))
def test_degrees_are_read_or_refused(text):
    try:
        value = Degrees("N", "S", 90.0).convert(text, None, None)
    except click.BadParameter:
        return
    assert -90.0 <= value <= 90.0
