"""Many places asked: in this process one after another, or as tasks of a Dask cluster.

A task is a place. A few more than there are threads are under way at any time; what comes is
yielded at once, in the order in which it comes, so that memory does not grow with the places.
"""

from __future__ import annotations

import functools
import os
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from forecaster.ground.errors import DataMissing, InputError
from forecaster.region.places import RegionPlace
from forecaster.region.question import Question
from forecaster.region.row import Row, Work, answer_place, no_answer

if TYPE_CHECKING:
    from distributed import Client

AHEAD = 4  # tasks under way for each thread: none idles, and none waits long
ASK_AGAIN_S = 5.0  # how many threads the cluster has
TRIES = 2
LIMIT_S = 120.0
WORKER_BYTES = 700_000_000  # what a worker needs (measured: DEVELOPERS.md), with room
TOPIC = "crossday-region"
LOST = "the cluster was lost while places were under way; what is done is kept. Go on with --resume"
Task = Callable[[RegionPlace], list[Row]]
HELD_BYTES = str(256 * 1024 * 1024)
ENVIRONMENT = {
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    # Dask gives every freed page back to the system at once, and then a forecast takes twice as
    # long: its arrays of 2 MB are made and dropped by the hundred.
    "MALLOC_TRIM_THRESHOLD_": HELD_BYTES,
    "MALLOC_MMAP_THRESHOLD_": HELD_BYTES,
    "MALLOC_TOP_PAD_": str(64 * 1024 * 1024),
}
"""For the workers, before they start: of a local cluster, and advised for any other."""

SETTINGS = {
    "distributed.nanny.pre-spawn-environ": ENVIRONMENT,
    "distributed.scheduler.allowed-failures": 1,
    # What Dask does at rest takes 6 % of a core with two workers as it comes, and 1 % so.
    "distributed.worker.profile.enabled": False,
    "distributed.worker.memory.monitor-interval": "1s",
    "distributed.admin.tick.interval": "1s",
    "distributed.admin.system-monitor.interval": "10s",
    "distributed.scheduler.work-stealing-interval": "1s",
    # Of each task that is done Dask keeps 7 kB of events as it comes, and 1 kB so.
    "distributed.admin.log-length": 100,
    "distributed.admin.low-level-log-length": 100,
}
"""Of a local cluster."""


@dataclass(frozen=True, slots=True)
class Came:
    """A place and its rows.

    Parameters
    ----------
    place : RegionPlace
    rows : list of dict
        Never empty: a place without an answer has a row that says why.
    """

    place: RegionPlace
    rows: list[Row]

    @property
    def failed(self) -> bool:
        """Whether there is no answer."""
        return bool(self.rows[0]["problem"])


def forecast_places(
    places: Iterable[RegionPlace],
    question: Question,
    *,
    client: Client | None = None,
    tries: int = TRIES,
    limit_s: float = LIMIT_S,
    work: Work = answer_place,
) -> Iterator[Came]:
    """Yield the rows of each place as they come.

    Parameters
    ----------
    places : iterable of RegionPlace
        As `places_at` gives them; taken one by one as there is room.
    question : Question
    client : distributed.Client, optional
        Of a running cluster, whose workers have this package and see the places' files. By
        default the places are asked in this process, one after another.
    tries : int
        How often a place is tried whose worker dies, or whose task fails by a fault.
    limit_s : float
        A place that takes longer ends its worker, if that has a nanny who starts another.
    work : callable
        What is done with a place.

    Yields
    ------
    Came
        In no certain order where there is a client.

    Raises
    ------
    DataMissing
        If the cluster is lost; what was yielded stands.
    """
    if client is None:
        yield from (Came(place, _in_process(place, question, work)) for place in places)
    else:
        task = functools.partial(_watched, question=question, limit_s=limit_s, work=work)
        yield from _on_cluster(places, task, client, tries)


def _in_process(place: RegionPlace, question: Question, work: Work) -> list[Row]:
    try:
        return work(place, question)
    except Exception as error:  # noqa: BLE001 - one place's fault ends no region
        return [no_answer(place, _fault(error))]


def _fault(error: BaseException) -> str:
    return f"a fault of this program ({type(error).__name__}: {str(error)[:200]})"


def _on_cluster(
    places: Iterable[RegionPlace], task: Task, client: Client, tries: int
) -> Iterator[Came]:
    from distributed import as_completed  # noqa: PLC0415 - only who has a cluster needs it

    left = iter(places)
    tried: dict[str, tuple[RegionPlace, int]] = {}
    coming: Any = as_completed()
    room, asked_s = 0, float("-inf")

    def submit(place: RegionPlace, times: int) -> None:
        key = f"place-{place.order}-{times}-{os.urandom(4).hex()}"
        tried[key] = (place, times)
        coming.add(client.submit(task, place, pure=False, key=key))

    try:
        while True:
            if time.monotonic() - asked_s > ASK_AGAIN_S:  # workers may have come or gone
                room = AHEAD * max(sum(client.nthreads().values()), 1)
                asked_s = time.monotonic()
            for _, place in zip(range(room - len(tried)), left, strict=False):
                submit(place, 1)
            if not tried:
                return
            batch = coming.next_batch()
            found = _fetched(client, batch)
            for future in batch:
                place, times = tried.pop(future.key)
                rows = found.get(future.key)
                if rows is None and future.status == "error" and times >= tries:
                    rows = [_why_failed(future, place)]
                if rows is not None:
                    yield Came(place, rows)
                elif future.status == "cancelled":
                    raise DataMissing(LOST)
                else:  # its own fault, or its rows died with the worker that had them
                    submit(place, times + (future.status == "error"))
    finally:
        with suppress(Exception):
            client.cancel(list(coming.futures))


def _fetched(client: Client, batch: list[Any]) -> dict[str, list[Row]]:
    """Return what has come, by key: fetched at once, for one by one takes twice as long."""
    done = [future for future in batch if future.status == "finished"]
    try:
        return dict(zip((one.key for one in done), client.gather(done), strict=True))
    except Exception:  # noqa: BLE001 - a worker died with it; whoever has its rows still gives them
        found = {}
        for one in done:
            with suppress(Exception):
                found[one.key] = one.result()
        return found


def _why_failed(future: Any, place: RegionPlace) -> Row:
    """Return the row of a place whose last try failed."""
    from distributed import KilledWorker  # noqa: PLC0415

    error = future.exception()
    killed = isinstance(error, KilledWorker)
    return no_answer(place, _why_killed(future.client, place) if killed else _fault(error))


def _why_killed(client: Client, place: RegionPlace) -> str:
    told = [event for _, event in client.get_events(TOPIC) if event["order"] == place.order]
    if told:
        return f"it takes longer than {told[-1]['limit_s']:g} s, and was given up"
    return "each worker that took it died (out of memory?), and it was given up"


def _watched(place: RegionPlace, *, question: Question, limit_s: float, work: Work) -> list[Row]:
    """Ask a place on a worker; where that takes too long, end the worker."""
    with _limit(place, limit_s):
        return work(place, question)


@contextmanager
def _limit(place: RegionPlace, limit_s: float) -> Iterator[None]:
    from distributed import get_worker  # noqa: PLC0415

    worker = get_worker()
    if worker.nanny is None:  # nobody would start another
        yield
        return

    def give_up() -> None:
        worker.log_event(TOPIC, {"order": place.order, "limit_s": limit_s})
        time.sleep(0.5)  # until the scheduler has heard
        os._exit(1)

    timer = threading.Timer(limit_s, give_up)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


@contextmanager
def local_cluster(workers: int | None = None) -> Iterator[Client]:
    """Start workers on this computer, a process each, and end them after.

    Parameters
    ----------
    workers : int, optional
        By default one for each core that we may use and there is memory for.
    """
    import dask  # noqa: PLC0415
    from distributed import Client, LocalCluster  # noqa: PLC0415

    count = workers or room_for_workers()
    with dask.config.set(SETTINGS), LocalCluster(
        n_workers=count, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0",
        memory_limit="auto", preload=["forecaster.region.worker"], silence_logs=50,
    ) as cluster, Client(cluster) as client:  # fmt: skip
        yield client


def room_for_workers() -> int:
    """Return how many workers this computer has cores and memory for."""
    from dask.system import CPU_COUNT  # noqa: PLC0415
    from distributed.system import MEMORY_LIMIT  # noqa: PLC0415

    return int(max(1, min(CPU_COUNT, MEMORY_LIMIT // WORKER_BYTES)))


@contextmanager
def running_cluster(where: str, *, patience_s: float = 20.0) -> Iterator[Client]:
    """Use a cluster that runs: by its scheduler's address, or the file that a scheduler writes.

    Raises
    ------
    InputError
        If it is neither.
    DataMissing
        If no scheduler answers, or it has no worker.
    """
    from distributed import Client  # noqa: PLC0415

    by_file = "://" not in where
    if by_file and not os.path.isfile(where):  # noqa: PTH113
        raise InputError(
            f"--cluster {where!r} is neither an address, as tcp://10.0.0.5:8786, "
            "nor a scheduler's file"
        )
    named: dict[str, Any] = {"scheduler_file": where} if by_file else {"address": where}
    try:
        client = Client(timeout=patience_s, **named)
    except (OSError, ValueError, TimeoutError) as error:
        raise DataMissing(
            f"--cluster {where!r}: no scheduler answers there; is it running? ({error})"
        ) from error
    with client:
        try:
            client.wait_for_workers(1, timeout=patience_s)
        except TimeoutError as error:
            raise DataMissing(f"--cluster {where!r}: it has no worker; start one") from error
        yield client
