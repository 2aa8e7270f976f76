#!/usr/bin/env python3
"""Attack the tool as the world does, and count what it loses: kills, spoiled files, hostile texts.

    scripts/attack [--seed N] [--kills N] [--files N] [--reads N] [--texts N] [--answers N]
                   [--minutes M]

Everything happens in a temporary folder; nothing is asked of the network but a server on this
computer. A class ends when its cases are done or its share of the minutes is over, and the table
says how many there were. Cases are drawn by the seed. A case is a command line run whole in a
process of its own, but for `reads`, which call the readers. What must hold: exit 0, 2 or 3; one
line where it fails; nothing that a terminal obeys; at most 20 s of processor time and 1 GB of
memory; no row and no file lost; no value shown that was not written.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import gzip
import importlib.util
import io
import json
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

# Imported once, for every child: also what the commands import only when they run.
import forecaster.charts
import forecaster.cli.air
import forecaster.cli.book
import forecaster.cli.plan
import forecaster.cli.when
import forecaster.ingest
import forecaster.plan
import forecaster.words
from forecaster.book import open_book, schema
from forecaster.cli import main as command
from forecaster.fetch import ncei
from forecaster.fetch.session import Fetcher
from forecaster.ground.errors import DataMissing, ForecasterError

ROOT = Path(__file__).resolve().parents[1]
CODES = {0, 2, 3}
LONGEST_S, MOST_BYTES = 20, 1_000_000_000
OBEYED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
NOTE = re.compile(r" was (given \d+ times: the last counts\.|taken as )")  # before an answer
COLUMNS = ("cases", "answered", "refused", "wrong", "lost", "faults", "hangs", "over 1 GB")


@dataclass
class Found:
    """How a command ended in a process of its own."""

    code: int
    out: str
    err: str
    memory_bytes: int
    killed: bool = False


@dataclass
class Tally:
    """What became of the cases of a class; `examples` has the first few that went wrong."""

    counts: Counter[str] = field(default_factory=Counter)
    memory_bytes: int = 0
    examples: list[str] = field(default_factory=list)

    def judge(self, found: Found, what: object) -> None:
        """Count a case, and whatever must not be."""
        self.counts["cases"] += 1
        self.memory_bytes = max(self.memory_bytes, found.memory_bytes)
        self.counts["answered"] += found.code == 0
        self.counts["refused"] += found.code in (2, 3)
        if found.code == -signal.SIGXCPU:
            self.note("hangs", what)
        elif found.code not in CODES or "Traceback" in found.err:
            self.note("faults", (what, found.code, found.err[-300:]))
        elif found.code and len([x for x in found.err.splitlines() if not NOTE.search(x)]) != 1:
            self.note("wrong", (what, "not one line", found.err[-300:]))
        if OBEYED.search(found.out + found.err):
            self.note("wrong", (what, "a terminal would obey", found.out[-200:]))
        if found.memory_bytes > MOST_BYTES:
            self.note("over 1 GB", what)

    def note(self, column: str, what: object) -> None:
        """Count something that must not be, and keep it as an example."""
        self.counts[column] += 1
        if len(self.examples) < 10:
            self.examples.append(f"{column}: {what!r:.600}")


def run(words: list[str], folder: Path, kill_after_s: float | None = None) -> Found:
    """Run a command line in a child of this process, in a folder; end it after a while if asked."""
    out, err = tempfile.TemporaryFile(), tempfile.TemporaryFile()  # noqa: SIM115
    child = os.fork()
    if child == 0:
        _be_a_command(words, folder, out.fileno(), err.fileno())
    if kill_after_s is not None:
        time.sleep(kill_after_s)
        os.kill(child, signal.SIGKILL)
    _, status, used = os.wait4(child, 0)
    texts = []
    for stream in (out, err):
        stream.seek(0)
        texts.append(stream.read().decode("utf-8", "replace"))
        stream.close()
    code = os.waitstatus_to_exitcode(status)
    return Found(code, *texts, used.ru_maxrss * 1024, code == -signal.SIGKILL)


def _be_a_command(words: list[str], folder: Path, out: int, err: int) -> None:
    """Become the command: its own streams, folder and limits; never return."""
    code = 70
    try:
        os.dup2(out, 1)
        os.dup2(err, 2)
        sys.stdout = io.TextIOWrapper(io.FileIO(1, "w", closefd=False), encoding="utf-8",
                                      write_through=True)  # fmt: skip
        sys.stderr = io.TextIOWrapper(io.FileIO(2, "w", closefd=False), encoding="utf-8",
                                      errors="backslashreplace", write_through=True)  # fmt: skip
        os.chdir(folder)
        resource.setrlimit(resource.RLIMIT_CPU, (LONGEST_S, LONGEST_S + 5))
        command(words, prog_name="crossday")
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    except BaseException as error:  # noqa: BLE001 - judged by the parent
        os.write(2, f"Traceback {type(error).__name__}: {error}\n".encode())
    finally:
        os._exit(code)


# --- what is attacked --------------------------------------------------------------------------


def material(folder: Path) -> None:
    """Write a garden: records, a log, a book with some history, its export, pictures and a plan."""
    folder.mkdir()
    data = ROOT / "data" / "demo"
    rows = (data / "air.csv").read_text(encoding="utf-8").splitlines()
    (folder / "air.csv").write_text("\n".join([rows[0], *rows[-500:]]) + "\n", encoding="utf-8")
    (folder / "more.csv").write_text("\n".join([rows[0], *rows[-900:]]) + "\n", encoding="utf-8")
    shutil.copy(data / "readings.csv", folder / "log.csv")
    with gzip.open(folder / "air.csv.gz", "wb") as packed:
        packed.write((folder / "air.csv").read_bytes())
    for words in (
        "book start --lat 36.2S --lon 146.6 --air air.csv --bed north",
        "book import log.csv",
        "book read 61.5F --at 2026-03-10",
        "book bed north --soil clay --depth 6in",
        "book planted lettuce --on 2026-03-01",
        "book export out.json",
        "book export out",
        "chart more.csv --lat 36.2S --out old.png",
        "air import air.csv --out kept.csv",
    ):
        found = run(words.split(), folder)
        if found.code:
            raise SystemExit(f"{words}: {found.err}")
    plan = run(["plan", "more.csv", "--lat", "36.2S", "--area", "9m2", "--json"], folder)
    (folder / "plan.json").write_text(plan.out, encoding="utf-8")


def rows_of(path: Path) -> dict[str, Counter[tuple[Any, ...]]]:
    """Return every row of a book, checked as a command checks it."""
    with open_book(path) as book:
        return {
            table: Counter(
                # Sums know millionths; less of a degree is nothing that is shown.
                tuple(round(cell, 5) if isinstance(cell, float) else cell for cell in row)
                for row in book.db.execute(f"SELECT * FROM {table}")  # noqa: S608
            )
            for table in schema.TABLES
        }


WRITES = (
    ("book start --lat 10 --name far --bed fern", "", 3),
    ("book bed north --cover mulch", "", 3),
    ("book bed south --soil sand", "", 3),
    ("book read 63F --at 2026-03-12", "", 4),
    ("book import more.csv --air", "", 4),
    ("book planted beans", "", 2),
    ("book note rain", "", 2),
    ("book undo", "", 3),
    ("book start --book new.db --lat 10 --air air.csv", "new.db", 3),
    ("book import out.json --book new.db", "new.db", 3),
    ("book import out --book new.db", "new.db", 2),
    ("book backup copy.db", "copy.db", 4),
    ("book salvage saved.db", "saved.db", 3),
    ("book export new.json", "new.json", 3),
    ("book export new", "new", 3),
    ("air import more.csv --out kept.csv", "kept.csv", 4),
    ("chart more.csv --lat 36.2S --out old.png", "old.png", 1),
    ("plan more.csv --lat 36.2S --area 9m2 --ics new.ics", "new.ics", 1),
    ("week --today 2026-03-16 --ics new.ics", "new.ics", 1),
    ("done set-out --bed north", "", 2),
    ("book want pansy --bed north", "", 2),
    ("book outcome lettuce --survived 90% --count 40", "", 2),
    ("book cost 12.50 bark", "", 2),
)
"""Commands that write, the file that they name, and how often each is tried."""


def whole(path: Path) -> bool:
    """Whether a file that a command wrote is whole."""
    if path.is_dir():
        return (path / "manifest.json").is_file() and len(list(path.iterdir())) > 10
    data = path.read_bytes()
    if path.suffix == ".db":
        rows_of(path)
        return True
    if path.suffix == ".json":
        return bool(json.loads(data)["tables"])
    end = {".png": b"IEND\xaeB`\x82", ".ics": b"END:VCALENDAR\r\n", ".csv": b"\n"}[path.suffix]
    return data.endswith(end)


def kills(here: Path, random_: random.Random, cases: int, until: float) -> Tally:
    """Kill commands that write at any moment; every row and file of before must be there."""
    tally = Tally()
    material(here / "kept")
    before = rows_of(here / "kept" / "garden.db")
    last = max(row[0] for row in before["batches"])
    lasts: dict[str, float] = {}
    ways = [(words, out) for words, out, often in WRITES for _ in range(often)]
    while tally.counts["cases"] < cases and time.monotonic() < until:
        words, out = random_.choice(ways)
        work = here / "work"
        shutil.copytree(here / "kept", work)
        if words not in lasts:
            start = time.monotonic()
            run(words.split(), work)
            lasts[words] = time.monotonic() - start
            shutil.rmtree(work)
            shutil.copytree(here / "kept", work)
        found = run(words.split(), work, random_.uniform(0.0, 1.1 * lasts[words]))
        tally.counts["cases"] += 1
        tally.counts["answered"] += not found.killed
        try:
            after = rows_of(work / "garden.db")
            gone = {t: before[t] - after[t] for t in before}
            if "undo" in words and any(row[0] == last and row[4] for row in after["batches"]):
                gone = {t: Counter({r: n for r, n in rows.items() if last not in r})
                        for t, rows in gone.items()}  # fmt: skip
            if lost := sum(map(Counter.total, gone.values())):
                tally.note("lost", (words, "rows", lost, str(gone)[:200]))
            for path in (here / "kept").rglob("*"):
                same = work / path.relative_to(here / "kept")
                mine = path.name.startswith("garden.db") or path.name == out
                if path.is_file() and not mine and same.read_bytes() != path.read_bytes():
                    tally.note("lost", (words, str(same)))
            target = work / out
            if out and target.exists() and not whole(target):
                tally.note("wrong", (words, f"half a file: {out}"))
            again = run(words.split(), work)
            said_so = "there already" in again.err or "already" in again.err
            fine = again.code == 0 or (again.code == 2 and said_so) or "not empty" in again.err
            if not fine:
                tally.note("wrong", (words, "cannot be done again", again.err))
        except (ForecasterError, OSError, ValueError) as error:
            tally.note("lost", (words, repr(error)))
        shutil.rmtree(work)
    return tally


# --- spoiled files -----------------------------------------------------------------------------

ODD = (
    "9" * 400, "-" + "9" * 5000, "1e999", "nan", "\x00", "\x1b[2J", "\x9b5m", "\u202e", '"', "'",
    "=1+1", "[" * 3000, "{" * 300, "0000-00-00", "0001-01-01", "9999-12-31", "10000-01-01", "\r",
    "\n\n\n", ",,,,", ";" * 50, "," * 3000, "\t", "#", "\ufeff", "\ud83c", "½", "١٢", "-0", "$^{",
)  # fmt: skip


def spoiled(data: bytes, random_: random.Random) -> bytes:
    """Return bytes with something done to them."""
    found = bytearray(data)
    for _ in range(random_.choice((1, 1, 1, 2, 5, 30))):
        at = random_.randrange(len(found) + 1)
        more = min(int(random_.expovariate(1 / 60)) + 1, len(found) - at)
        way = random_.randrange(8)
        if way == 0 and at < len(found):
            found[at] ^= 1 << random_.randrange(8)
        elif way == 1:
            del found[at : at + more]
        elif way == 2:
            found[at:at] = found[at : at + more] * random_.choice((1, 1, 3, 40))
        elif way == 3:
            found[at:at] = random_.choice(ODD).encode("utf-8", "replace")
        elif way == 4:
            found[at : at + more] = random_.choice(ODD).encode("utf-8", "replace")
        elif way == 5:
            found[at : at + more] = bytes(more)
        elif way == 6:
            found[at : at + more] = random_.randbytes(more)
        elif random_.random() < 0.2:
            del found[at:]
    return bytes(found)


FILES = (
    ("air.csv", "air import it.csv --out got.csv", 6),
    ("air.csv", "when it.csv --lat 36.2S", 1),
    ("air.csv.gz", "air import it.csv --out got.csv", 2),
    ("log.csv", "book import it.csv", 6),
    ("air.csv", "book import it.csv --air", 3),
    ("out.json", "book import it.json --book got.db", 5),
    ("out/readings.csv", "book import out --book got.db", 3),
    ("out/manifest.json", "book import out --book got.db", 2),
    ("plan.json", "plan air.csv --lat 36.2S --area 9m2 --since it.json", 1),
    ("garden.db", "book show", 6),
    ("garden.db", "book export got.json", 3),
    ("garden.db", "book salvage got.db", 3),
)
"""A file that is spoiled, the command that reads it, and how often each is tried."""


def files(here: Path, random_: random.Random, cases: int, until: float) -> Tally:
    """Spoil files; a refusal or an answer, and of a damaged book no value that was not written."""
    tally = Tally()
    kept, work = here / "garden", here / "spoiled"
    material(kept)
    before = rows_of(kept / "garden.db")
    ways = [(name, words) for name, words, often in FILES for _ in range(often)]
    shutil.copytree(kept, work)
    while tally.counts["cases"] < cases and time.monotonic() < until:
        name, words = random_.choice(ways)
        bad = spoiled((kept / name).read_bytes(), random_)
        own = name.startswith(("out/", "garden.db"))
        target = work / (name if own else f"it{Path(name).suffixes[0]}")
        target.write_bytes(bad)
        found = run(words.split(), work)
        tally.judge(found, (words, tally.counts["cases"]))
        if name == "garden.db" and found.code == 0 and "salvage" not in words:
            with contextlib.suppress(ForecasterError):
                after = rows_of(work / "garden.db")
                if after != before:
                    tally.note("wrong", (words, "other rows shown"))
        for left in ("got.csv", "got.db", "got.json", "garden.db-wal", "garden.db-shm"):
            (work / left).unlink(missing_ok=True)
        for mended in {name, "garden.db"}:
            shutil.copy(kept / mended, work / mended)
        strays = {p.name for p in work.iterdir()} - {p.name for p in kept.iterdir()}
        if strays := {s for s in strays if not s.startswith("it")}:
            tally.note("wrong", (words, "left behind", strays))
            for stray in strays:
                (work / stray).unlink()
    return tally


ODD_CELLS = (
    "1", "2.5", "-9999", "2024-01-02", "NaN", "14:30", "°F", "soil temp 10cm", "TRUE",
    "04.09.21 00:00",
)  # fmt: skip


def reads(here: Path, random_: random.Random, cases: int, until: float) -> Tally:
    """Spoil records and logs small and large, and read them in this process: thousands a minute.

    An answer or a `ForecasterError`; whatever else comes is a fault. Memory is the process's own,
    and a file that takes longer than the rest may is a hang.
    """
    tally = Tally()
    material(here / "garden")
    whole = {name: (here / "garden" / name).read_bytes() for name in ("air.csv", "log.csv")}
    good = []
    for data in whole.values():
        lines = data.splitlines(keepends=True)
        good += [b"".join([lines[0], *lines[at : at + 60]]) for at in (1, 400, 900) if lines[at:]]
        good.append(data)
    readers = (forecaster.ingest.read_air, forecaster.ingest.read_readings)
    target = here / "it.csv"
    while tally.counts["cases"] < cases and time.monotonic() < until:
        data = spoiled(random_.choice(good[:-1] if random_.random() < 0.97 else good), random_)
        if random_.random() < 0.3:
            cells = data.split(b",")
            cells[random_.randrange(len(cells))] = random_.choice(ODD_CELLS).encode()
            data = b",".join(cells)
        target.write_bytes(data)
        reader = random_.choice(readers)
        begun = time.process_time()
        tally.counts["cases"] += 1
        try:
            reader(target)
            tally.counts["answered"] += 1
        except ForecasterError as error:
            tally.counts["refused"] += 1
            if "\n" in str(error):
                tally.note("wrong", (reader.__name__, "not one line", str(error)[:200]))
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what is looked for
            kept = here / f"fault{tally.counts['faults']}.csv"
            kept.write_bytes(data)
            tally.note("faults", (reader.__name__, repr(error), data[:400]))
        if time.process_time() - begun > LONGEST_S:
            tally.note("hangs", (reader.__name__, data[:200]))
    tally.memory_bytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    if tally.memory_bytes > MOST_BYTES:
        tally.note("over 1 GB", tally.memory_bytes)
    return tally


TEXTS = (
    "\x1b]0;owned\x07", "\x1b[2J\x1b[H", "\x9b31m", "$\\frac{", "$x$", "a^{b",
    "<script>alert(1)</script>",
    "=HYPERLINK(1)", "@SUM(1)", "-2+3", "'; DROP TABLE beds;--", "\u202egnp.exe", "%s%n", "{0}",
    "a\nb", "a\r\nBEGIN:VEVENT", "\t=1", "x" * 5000, "🌱" * 300, "\ud800", "\x00", "../../etc", "",
)  # fmt: skip
SAID = ("book note TEXT", "book planted TEXT", "book bed TEXT", "book read 60F --bed TEXT",
        "book start --lat 1 --name TEXT", "book export TEXT",
        "plan air.csv --lat 36.2S --area 9m2 --name TEXT",
        "book undo --batch TEXT", "when TEXT --lat 1", "air import air.csv --out TEXT",
        "when air.csv --lat TEXT", "book import TEXT", "book backup TEXT",
        "crops TEXT")  # fmt: skip


def texts(here: Path, random_: random.Random, cases: int, until: float) -> Tally:
    """Say hostile texts wherever a text is taken, then show and export them."""
    tally = Tally()
    work = here / "texts"
    material(work)
    while tally.counts["cases"] < cases and time.monotonic() < until:
        text = random_.choice(TEXTS) + random_.choice(("", "", random_.choice(TEXTS)))
        words = [text if w == "TEXT" else w for w in random_.choice(SAID).split()]
        if any("\0" in w for w in words) or ".." in text:
            continue
        tally.judge(run(words, work), words)
    tally.judge(run(["book", "show"], work), "show")
    found = run(["book", "export", "table"], work)
    tally.judge(found, "export")
    for path in (work / "table").glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as handle:
            cells = [cell for row in csv.reader(handle) for cell in row]
        number = re.compile(r"-?\d+(\.\d+)?(e-?\d+)?")
        bad = [c for c in cells if c[:1] in tuple("=+-@\t\r") and not number.fullmatch(c)]
        if bad:
            tally.note("wrong", (path.name, bad[:3]))
    return tally


# --- answers of services -----------------------------------------------------------------------

STATION = "USW00013739"
TODAY = date(2024, 6, 15)


@contextlib.contextmanager
def service() -> Iterator[Any]:
    """Run the tests' server of services on this computer."""
    spec = importlib.util.spec_from_file_location("service", ROOT / "tests/fetch/service.py")
    module = importlib.util.module_from_spec(spec)  # type: ignore[arg-type]
    sys.modules["service"] = module
    spec.loader.exec_module(module)  # type: ignore[union-attr]
    with module.Service() as running:
        threading.Thread(target=running.serve_forever, args=(0.02,), daemon=True).start()
        running.put_days(STATION, date(2019, 12, 1), 1500)
        yield running
        running.done.set()
        running.shutdown()


def _misdeed(random_: random.Random, good: bytes) -> Callable[[Any], None]:
    """Return an answer that is not whole, or not one to what was asked."""
    body = good
    way = random_.randrange(5)
    if way == 0:
        body = good[: random_.randrange(1, len(good) - 40)]
    elif way == 1:
        body = good.replace(STATION.encode(), b"USC00310001")
    elif way == 2:
        body = good + random_.randbytes(50)
    elif way == 3:
        at = random_.randrange(200, len(good) - 200)
        body = good[:at] + random_.randbytes(20) + good[at + random_.randrange(60) :]
    else:
        lines = good.splitlines(keepends=True)  # whole days left out cannot be known
        body = b"".join(lines + random_.sample(lines[1:], random_.randrange(1, 9)))
    packed = random_.random() < 0.4
    if packed:
        body = gzip.compress(body if random_.random() < 0.5 else good)
        body = body[: random_.randrange(20, len(body) - 1)]

    def misdeed(handler: Any) -> None:
        handler.send_response(200)
        handler.send_header("Content-Type", "text/csv")
        if packed:
            handler.send_header("Content-Encoding", "gzip")
        if way and not packed and random_.random() < 0.5:
            handler.send_header("Content-Length", str(len(body)))
        handler.send_header("Connection", "close")
        handler.end_headers()
        handler.wfile.write(body)

    return misdeed


def answers(here: Path, random_: random.Random, cases: int, until: float) -> Tally:
    """Send answers that are not whole; none may be kept, and the next good one counts."""
    tally = Tally()
    folder = here / "answers"
    folder.mkdir()
    asked = ncei.daily_request(STATION, date(2020, 1, 1), date(2020, 12, 31), TODAY)
    with service() as server:
        with Fetcher(folder / "good.sqlite", base=server.base) as door:
            good = door.ask(asked).body
        while tally.counts["cases"] < cases and time.monotonic() < until:
            tally.counts["cases"] += 1
            file = folder / f"{tally.counts['cases']}.sqlite"
            server.always = _misdeed(random_, good)
            with Fetcher(file, base=server.base, sleep=lambda _: None) as door:
                try:
                    door.ask(asked)
                    tally.note("wrong", "taken for whole")
                except DataMissing as error:
                    tally.counts["refused"] += 1
                    if OBEYED.search(str(error)):
                        tally.note("wrong", str(error))
                server.always = None
                if door.ask(asked).body != good:
                    tally.note("wrong", "a bad answer was kept")
            file.unlink()
    return tally


CLASSES: dict[str, Callable[[Path, random.Random, int, float], Tally]] = {
    "kills": kills, "files": files, "reads": reads, "texts": texts, "answers": answers,
}  # fmt: skip


def attack(wanted: dict[str, int], seed: int, minutes: float) -> dict[str, Tally]:
    """Attack by class; return what was found."""
    found: dict[str, Tally] = {}
    with tempfile.TemporaryDirectory(prefix="crossday-attack-") as name:
        here = Path(name)
        os.environ |= {"CROSSDAY_BOOK": "garden.db", "HOME": name, "XDG_CACHE_HOME": name,
                       "CROSSDAY_TRACEBACK": "1", "MPLCONFIGDIR": name}  # fmt: skip
        for kind, cases in wanted.items():
            if cases:
                until = time.monotonic() + 60.0 * minutes
                random_ = random.Random(f"{seed} {kind}")  # noqa: S311 - seeded, to be repeated
                (here / kind).mkdir()
                found[kind] = CLASSES[kind](here / kind, random_, cases, until)
    return found


def table(found: dict[str, Tally]) -> str:
    """Return the table of what was found."""
    lines = ["| class | " + " | ".join(COLUMNS) + " | most memory, MB |",
             "|---|" + "---:|" * (len(COLUMNS) + 1)]  # fmt: skip
    for kind, tally in found.items():
        cells = [f"{tally.counts[column]:,}" for column in COLUMNS]
        memory = f"{tally.memory_bytes / 1e6:,.0f}" if tally.memory_bytes else "–"
        lines.append(f"| {kind} | " + " | ".join(cells) + f" | {memory} |")
    return "\n".join(lines)


def main() -> int:
    """Attack and print; 1 if anything was found that must not be."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--seed", type=int, default=1)
    for kind, cases in (
        ("kills", 200),
        ("files", 2000),
        ("reads", 20000),
        ("texts", 200),
        ("answers", 100),
    ):
        parser.add_argument(f"--{kind}", type=int, default=cases, metavar="N")
    parser.add_argument("--minutes", type=float, default=10.0, help="at most, for each class")
    given = vars(parser.parse_args())
    found = attack({k: given[k] for k in CLASSES}, given["seed"], given["minutes"])
    print(table(found))
    for kind, tally in found.items():
        for example in tally.examples:
            print(f"{kind}: {example}")
    bad = ("wrong", "lost", "faults", "hangs", "over 1 GB")
    return int(any(tally.counts[column] for tally in found.values() for column in bad))


if __name__ == "__main__":
    sys.exit(main())
