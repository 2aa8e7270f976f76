"""What a worker of a local cluster does when it starts: Dask loads this there.

Ctrl-C on a terminal reaches every process; the one that was called ends the others in order.
"""

from __future__ import annotations

import signal
from typing import Any


def dask_setup(worker: Any) -> None:
    """Leave Ctrl-C to the process that started this worker."""
    del worker
    signal.signal(signal.SIGINT, signal.SIG_IGN)
