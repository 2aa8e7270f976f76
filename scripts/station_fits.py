"""Soil models fitted without the stations that they are scored on, kept in a file.

A fit on 56 stations takes minutes; benchmarks that deal the stations in the same way share it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import numpy as np
from fit_model import Heat, Station, as_model, fit_heat, fit_kind

from forecaster.soil.model import SoilModel

ROOT = Path(__file__).resolve().parent.parent
FIT_CODE = ("scripts/fit_model.py", *(f"forecaster/soil/{name}.py" for name in (
    "forcing", "heat", "residual", "season", "sun",
)))  # fmt: skip


def fit_without(others: Sequence[Station], kind: str) -> dict[str, Any]:
    """Everything that fit_model.py fits, from these stations."""
    heat = fit_heat(others)
    return {"heat": [heat.diffusivity_m2_s, heat.exchange_length_m]} | fit_kind(others, kind, heat)


def models_left_out(
    stations: Sequence[Station],
    fold: np.ndarray,
    kind: str,
    *,
    kept: Path | None,
    pool: Executor,
    also: Sequence[Station] = (),
) -> list[SoilModel]:
    """The model of every fold, fitted on the stations of the others and on those of `also`.

    Fits in the file `kept` are used where they come from the same stations, kind and code;
    new ones are written to it as they are done.
    """
    code = hashlib.sha256(b"".join((ROOT / name).read_bytes() for name in FIT_CODE)).hexdigest()
    known = json.loads(kept.read_text(encoding="utf-8")) if kept and kept.exists() else {}
    groups = [
        [*(s for s, k in zip(stations, fold, strict=True) if k != out), *also]
        for out in np.unique(fold)
    ]
    keys = [name_of(others, kind, code) for others in groups]
    jobs = {
        key: pool.submit(fit_without, others, kind)
        for key, others in zip(keys, groups, strict=True)
        if key not in known
    }
    for key, job in jobs.items():
        known[key] = job.result()
        if kept:
            kept.write_text(json.dumps(known) + "\n", encoding="utf-8")
    return [
        as_model(known[key], Heat(*known[key]["heat"]), others)
        for key, others in zip(keys, groups, strict=True)
    ]


def name_of(others: Sequence[Station], kind: str, code: str) -> str:
    """What a fit depends on, as one word."""
    text = "\n".join([kind, code, *sorted(station.name for station in others)])
    return hashlib.sha256(text.encode()).hexdigest()[:24]
