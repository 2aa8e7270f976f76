"""Invented files in the structures of strangers' files, each with the truth that it holds.

The structures are those met in public files (daily tables of networks and services, flux
half-hours, observatories, field sheets, port loggers, loggers without a heading); the numbers
and the places are made here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

START, DAYS = "2023-03-30", 40


@dataclass(frozen=True)
class Case:
    """A file, and what each reader should make of it; None where it should refuse."""

    name: str
    data: bytes
    air: pd.DataFrame | None = None
    log: dict[tuple[str, float | None], pd.Series] | None = None
    air_options: dict[str, Any] = field(default_factory=dict)
    log_options: dict[str, Any] = field(default_factory=dict)


def weather(step: str = "1h", days: int = DAYS, start: str = START, seed: int = 1) -> pd.DataFrame:
    """Invented weather: air, soil at four depths, and what else stations measure."""
    time = pd.date_range(
        start, periods=round(days * pd.Timedelta("1D") / pd.Timedelta(step)), freq=step
    )
    random = np.random.default_rng(seed)
    day = (time - pd.Timestamp(start)) / pd.Timedelta("1D") + 90.0
    slow = 11.0 - 9.0 * np.cos(2 * np.pi * (day - 20) / 365.25) + 2.0 * np.sin(day / 3.1)
    turn = 2 * np.pi * (day % 1.0)
    made = {"air": slow - 6.0 * np.cos(turn - 0.9)}
    for depth, share, lag in ((5, 0.5, 1.6), (10, 0.35, 2.1), (20, 0.18, 3.0), (50, 0.03, 5.0)):
        made[f"soil{depth}"] = slow + 0.5 - 6.0 * share * np.cos(turn - lag)
    n = len(time)
    made["surface"] = slow - 9.0 * np.cos(turn - 0.8)
    made["vwc"] = 0.27 + 0.01 * np.sin(day)
    made["rh"] = 70.0 + 15.0 * np.cos(turn - 0.9)
    made["wind"] = 3.0 + random.random(n)
    made["pressure"] = 98.6 + 0.3 * np.sin(day / 2)
    made["sun"] = np.maximum(0.0, -600.0 * np.cos(turn))
    made["rain"] = np.where(random.random(n) < 0.03, 1.2, 0.0)
    made["volts"] = 12.6 + 0.1 * np.sin(day)
    return pd.DataFrame(made, index=time).round(3)


def by_day(hours: pd.DataFrame) -> pd.DataFrame:
    """Daily extremes and mean of the air, daily means of the rest."""
    groups = hours.groupby(hours.index.normalize())
    found = groups.mean().round(3)
    found["tmax"], found["tmin"] = groups["air"].max(), groups["air"].min()
    found["rain"] = groups["rain"].sum()
    return found


def air_of(days: pd.DataFrame, columns: str = "tmin tmax tavg") -> pd.DataFrame:
    """The truth for an air reader."""
    named = {"tmin": days["tmin"], "tmax": days["tmax"], "tavg": days["air"]}
    return pd.DataFrame({f"{c}_c": named[c] for c in columns.split()})


def log_of(
    table: pd.DataFrame, **columns: float | None
) -> dict[tuple[str, float | None], pd.Series]:
    """The truth for a log reader: one probe, each column at its depth."""
    return {("", depth): table[name] for name, depth in columns.items()}


def text(
    table: pd.DataFrame,
    columns: dict[str, str | tuple[str, str]],
    *,
    style: str = "%Y-%m-%d %H:%M",
    part: str = ",",
    comma: bool = False,
    above: str = "",
    encoding: str = "utf-8",
    missing: str = "",
    heading: bool = True,
) -> bytes:
    """Write a table: heading → column of `table`, ``time``, ``=constant``, with ``|F`` for °F."""
    rows = []
    for k, (time, row) in enumerate(table.iterrows()):
        cells = []
        for what in columns.values():
            name, _, unit = str(what).partition("|")
            if name == "time":
                cells.append(time.strftime(unit or style))
            elif name == "count":
                cells.append(str(k + 1))
            elif name.startswith("="):
                cells.append(name[1:])
            elif name == "doy":
                cells.append(str(time.day_of_year))
            elif name == "hour":
                cells.append(f"{time.hour + time.minute / 60:g}")
            elif name == "serial":
                cells.append(f"{(time - pd.Timestamp('1899-12-30')) / pd.Timedelta('1D'):.6f}")
            else:
                cells.append(_number(row[name], unit, missing, comma=comma))
        rows.append(part.join(cells))
    lines = [above] if above else []
    quoted = [f'"{name}"' if part in name else name for name in columns]
    lines += [part.join(quoted)] if heading else []
    return ("\n".join([*lines, *rows]) + "\n").encode(encoding)


def _number(value: float, unit: str, missing: str, *, comma: bool) -> str:
    if not np.isfinite(value):
        return missing
    value = {"F": value * 1.8 + 32.0, "K": value + 273.15, "T": value * 10}.get(unit, value)
    written = f"{value:.0f}" if unit == "T" else f"{value:.3f}".rstrip("0").rstrip(".")
    return written.replace(".", ",") if comma else written
