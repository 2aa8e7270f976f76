"""A region on a Dask cluster of two workers: what is killed, poisoned, slow, stopped.

Slow, for the workers have to start; they are started once for all that leaves them alive.
"""

import csv
import os
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import cloudpickle
import pytest

from forecaster.ground.errors import DataMissing, ForecasterError
from forecaster.region import forecast_places, local_cluster, places_at, running_cluster
from forecaster.region.engine import ENVIRONMENT
from forecaster.region.row import answer_place

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),  # Dask's own, of ports and of workers that were killed
]
cloudpickle.register_pickle_by_value(sys.modules[__name__])  # workers cannot import the tests
MANY = 40


@pytest.fixture(scope="module")
def client():
    with local_cluster(2) as made:
        yield made


@pytest.fixture
def places(folder):
    """Forty places of the six, in turn."""
    from dataclasses import replace  # noqa: PLC0415

    six = places_at(folder)
    return [replace(six[k % 6], order=k, name=f"{six[k % 6].name} {k}") for k in range(MANY)]


def rows_of(coming) -> list[dict]:
    return sorted((row for came in coming for row in came.rows), key=lambda row: row["order"])


def test_the_same_rows_whoever_asks(client, places, question):
    alone = rows_of(forecast_places(places, question))
    assert rows_of(forecast_places(places, question, client=client)) == alone
    assert rows_of(forecast_places(places[::-1], question, client=client)) == alone
    assert [row["order"] for row in alone] == list(range(MANY))


def test_few_are_under_way_at_any_time(client, places, question):
    taken = 0

    def one_by_one():
        nonlocal taken
        for place in places:
            taken += 1
            yield place

    done = 0
    for _ in forecast_places(one_by_one(), question, client=client, work=at_once):
        done += 1
        assert taken - done <= 8  # four for each of two threads
    assert done == taken == MANY


def at_once(place, question):
    return [{"order": place.order, "problem": ""}]


def test_workers_keep_what_they_free(client):
    """Else a forecast takes twice as long (forecaster/region/engine.py)."""
    told = client.run(lambda: dict(os.environ))
    for one in told.values():
        assert {name: one[name] for name in ENVIRONMENT} == ENVIRONMENT


def test_a_worker_that_is_killed_costs_no_place(client, places, question):
    alone = rows_of(forecast_places(places, question))
    pids = list(client.run(os.getpid).values())
    coming = forecast_places(places, question, client=client)
    first = [next(coming) for _ in range(3)]
    os.kill(pids[0], signal.SIGKILL)
    rows = sorted((r for c in (*first, *coming) for r in c.rows), key=lambda r: r["order"])
    assert rows == alone


def poisoned(place, question):
    if place.order == 5:
        os._exit(1)
    return answer_place(place, question)


def test_a_place_that_kills_its_workers_is_given_up(client, places, question):
    rows = rows_of(forecast_places(places, question, client=client, work=poisoned))
    assert len(rows) == MANY
    assert "each worker that took it died" in rows[5]["problem"]
    alone = rows_of(forecast_places(places, question))
    assert rows[:5] + rows[6:] == alone[:5] + alone[6:]


def endless(place, question):
    while place.order == 2:
        time.sleep(0.1)
    return answer_place(place, question)


def test_a_place_that_takes_too_long_is_given_up(client, places, question):
    coming = forecast_places(places[:8], question, client=client, work=endless, limit_s=5.0)
    rows = rows_of(coming)
    assert rows[2]["problem"] == "it takes longer than 5 s, and was given up"
    assert [bool(row["problem"]) for row in rows[:2]] == [False, False]


def faulty(place, question):
    if place.order == 1:
        raise ZeroDivisionError("no such thing")
    return answer_place(place, question)


def test_a_fault_is_tried_again_and_then_said(client, places, question):
    rows = rows_of(forecast_places(places[:3], question, client=client, work=faulty))
    assert "ZeroDivisionError: no such thing" in rows[1]["problem"]
    assert not rows[0]["problem"]


def region(*words: object, cwd: Path, **how) -> subprocess.Popen:
    command = [sys.executable, "-m", "forecaster", "region", *map(str, words)]
    ask = ["--threshold", "18C", "--direction", "falling", "--today", "2025-09-01"]
    return subprocess.Popen(
        [*command, *ask], cwd=cwd, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **how
    )


def test_a_scheduler_by_its_address(client, folder, tmp_path):
    there = client.scheduler.address
    for out, where in (("a.csv", ("--cluster", there)), ("b.csv", ("--workers", "0"))):
        run = region(folder, "--out", out, *where, cwd=tmp_path)
        said, wrong = run.communicate(timeout=120)
        assert run.returncode == 0, wrong
        assert "4 with an answer, 2 without" in said
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()
    client.write_scheduler_file(str(tmp_path / "scheduler.json"))
    with running_cluster(str(tmp_path / "scheduler.json")) as other:
        assert other.scheduler.address == there
    with (
        pytest.raises(DataMissing, match="no scheduler answers there"),
        running_cluster("tcp://127.0.0.1:9", patience_s=1.0),
    ):
        pass
    with pytest.raises(ForecasterError, match="neither an address"), running_cluster("nowhere"):
        pass


def test_ctrl_c_keeps_what_is_done_and_resume_goes_on(places, folder, tmp_path):
    lines = ["name,file,latitude,longitude"]
    lines += [f"{p.name},{Path(p.air).name},{p.latitude_deg},{p.longitude_deg}" for p in places * 2]
    (folder / "many.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    table, out = folder / "many.csv", tmp_path / "region.csv"
    heard = {"preexec_fn": partial(signal.signal, signal.SIGINT, signal.default_int_handler)}
    with region(table, "--workers", "2", cwd=tmp_path, start_new_session=True, **heard) as run:
        for line in run.stderr:
            if "places done" in line:
                break
        os.killpg(run.pid, signal.SIGINT)  # as a terminal does: to the workers too
        said, wrong = run.communicate(timeout=60)
    assert run.returncode == 130
    assert "Table: region.csv" in said
    assert wrong.splitlines()[-1].endswith("go on with --resume.")
    assert "Traceback" not in wrong
    with out.open(encoding="utf-8", newline="") as file:
        some = list(csv.DictReader(file))
    assert 5 < len(some) < 2 * MANY
    for more in (("--workers", "2", "--resume"), ("--workers", "0", "--out", "whole.csv")):
        with region(table, *more, cwd=tmp_path) as run:
            _, wrong = run.communicate(timeout=300)
        assert run.returncode == 0, wrong
    assert out.read_bytes() == (tmp_path / "whole.csv").read_bytes()
    assert not list(tmp_path.glob("*.parts"))
