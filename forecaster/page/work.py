"""Work that takes longer than a page may: on a thread of its own, counted, and left when asked."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from forecaster.ground.errors import ForecasterError
from forecaster.page.say import sentence_of

Found = TypeVar("Found")
STOPPED = "Stopped; nothing was written."
OUR_FAULT = "That failed for a reason that is this program's fault."


@dataclass(slots=True, kw_only=True)
class Work(Generic[Found]):
    """Work that runs, or ran.

    Parameters
    ----------
    what : str
        What is done, for the page.
    done, total : int
        How far it is; a total of 0 where that is not known.
    stop : bool
        Whether someone asked it to stop.
    found : object or None
        What came of it.
    error : str
        Why nothing did.
    """

    what: str = ""
    done: int = 0
    total: int = 0
    stop: bool = False
    found: Found | None = None
    error: str = ""
    lock: Any = field(default_factory=threading.Lock)
    waken: threading.Event = field(default_factory=threading.Event)

    @property
    def running(self) -> bool:
        """Whether it is not over yet."""
        return self.found is None and not self.error

    def step(self, done: int, total: int) -> None:
        """Note how far it is; leave off if asked to."""
        self.done, self.total = done, total
        if self.stop:
            raise KeyboardInterrupt

    def wait(self, seconds: float) -> None:
        """Wait, but not for what was stopped."""
        if self.waken.wait(seconds):
            raise KeyboardInterrupt

    def finish(self, write: Callable[[], Found]) -> Found:
        """Do the last part, which is done whole even if someone asks to stop meanwhile."""
        with self.lock:
            self.step(self.done, self.total)
            self.found = write()
            return self.found

    def leave(self) -> None:
        """Stop, now: what still runs finds out, and writes nothing."""
        with self.lock:
            self.stop = self.running
            self.waken.set()

    def begin(self, job: Callable[[], Found]) -> None:
        """Do something on a thread; whatever fails is said on the page."""
        threading.Thread(target=self._run, args=(job,), daemon=True).start()

    def _run(self, job: Callable[[], Found]) -> None:
        try:
            self.found = job()
        except ForecasterError as error:
            self.error = sentence_of(error)
        except KeyboardInterrupt:
            self.error = STOPPED
        except Exception:  # noqa: BLE001 - a thread has no one else to tell
            self.error = OUR_FAULT
