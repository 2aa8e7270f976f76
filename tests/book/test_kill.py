"""Killed at any moment of an import, the book holds all of that import or none of it."""

import json
import os
import subprocess
import sys

import pytest

from forecaster.book import batches, bed_readings, open_book

ROWS = 6000
# A process that forks once a trial: the child imports, the parent kills it (SIGKILL) at a random
# point: of the whole import, or, every second time, of its writing, which the child announces.
# It prints what it did.
CODE = """
import json, os, random, signal, sys, time
import pandas as pd
from forecaster.book import add_readings, open_book
from forecaster.ingest import read_readings

path, log, trials = sys.argv[1], sys.argv[2], int(sys.argv[3])
random.seed(20260317)

def work(k, pipe):
    frame = read_readings(log)
    frame["time"] += pd.Timedelta(days=300 * k)
    with open_book(path) as book:
        os.write(pipe, b"w")
        with book.batch("import", str(k)) as batch:
            add_readings(batch, "north", frame)

def begin(k):
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        work(k, writer)
        os._exit(0)
    os.close(writer)
    return child, reader

# How long it takes unharmed.
start = time.monotonic()
child, reader = begin(0)
os.read(reader, 1)
reading = time.monotonic() - start
assert os.waitpid(child, 0)[1] == 0
writing = time.monotonic() - start - reading

killed, finished, k = [], [], 0
while len(killed) < trials and k < min(10 * trials, 280):  # some finish before their death
    k += 1
    child, reader = begin(k)
    if k % 2:
        os.read(reader, 1)
        time.sleep(random.uniform(0.0, 1.2 * writing))
    else:
        time.sleep(random.uniform(0.0, 1.1 * (reading + writing)))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    os.close(reader)
    assert os.WIFSIGNALED(status) or status == 0
    (killed if os.WIFSIGNALED(status) else finished).append(k)
    # Looked at after each death, as the next command would.
    with open_book(path) as book:
        assert book.db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
print(json.dumps({"killed": killed, "finished": finished, "writing_s": writing}))
"""


def trial(folder, make_book, times):
    make_book(folder / "garden.db").close()
    log = folder / "log.csv"
    lines = ["date,time,soil_c"]
    lines += [f"2020-{1 + d // 28:02d}-{1 + d % 28:02d},{h:02d}:00,{10 + (24 * d + h) % 89 / 10}"
              for d in range(ROWS // 24 + 1) for h in range(24)][:ROWS]  # fmt: skip
    log.write_text("\n".join(lines) + "\n")
    done = subprocess.run(
        [sys.executable, "-c", CODE, str(folder / "garden.db"), str(log), str(times)],
        capture_output=True, text=True, check=True, timeout=600,
    )  # fmt: skip
    found = json.loads(done.stdout)
    with open_book(folder / "garden.db") as book:
        held = {line.source: line.rows for line in batches(book) if line.kind == "import"}
        rows = len(bed_readings(book))
    assert set(map(tuple, (r.items() for r in held.values()))) == {(("reading", ROWS),)}
    assert rows == ROWS * len(held), "no row without its batch, no batch without all its rows"
    assert {"0", *map(str, found["finished"])} <= set(held)
    return {
        "killed": len(found["killed"]),
        "before it was written": len([k for k in found["killed"] if str(k) not in held]),
        "after it was written": len([k for k in found["killed"] if str(k) in held]),
    }


needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked processes")


@needs_fork
def test_killed_at_random_points(tmp_path, make_book):
    found = trial(tmp_path, make_book, 5)
    assert found["killed"] >= 5


@needs_fork
@pytest.mark.slow
def test_killed_at_many_random_points(tmp_path, make_book, record_property):
    found = trial(tmp_path, make_book, 75)
    record_property("kills", found)
    print(found)  # noqa: T201 - figures for DEVELOPERS.md
    assert found["killed"] >= 50
