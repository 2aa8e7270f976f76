"""Speed as ratios measured in one run, so that a slow or busy computer cancels out.

    scripts/bench [--repeats 15] [--only when help estimate readings years forecast hindcast linear]

Each pair is run in turn, once each and again, after one unmeasured round; the ratio of the
quickest runs says what the code costs, the ratio of the medians what a user sees today. Files are
made from the demo garden's recipe in a temporary folder. The exit code is 0 whatever the ratios
are: a busy computer is not a fault of the code.
"""

from __future__ import annotations

import argparse
import math
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

import make_demo

CROSSDAY = (sys.executable, "-m", "forecaster")
LOG_ROWS = 300_000


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of one subject's runs: by the wall clock, and on the processor."""

    wall_s: list[float]
    cpu_s: list[float]


def run_program(*words: object) -> Callable[[], None]:
    """Return a call that runs a program to its end, its output thrown away."""
    command = [str(word) for word in words]

    def call() -> None:
        subprocess.run(
            command, check=True, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            env=os.environ | {"MPLBACKEND": "Agg"},
        )  # fmt: skip

    return call


def _cpu_s() -> float:
    """Return processor seconds so far, of this program and of those it ran."""
    usages = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(usage.ru_utime + usage.ru_stime for usage in usages)


def measure(calls: list[Callable[[], object]], repeats: int) -> list[Times]:
    """Run the calls in turn, `repeats` times after one round to warm up."""
    times = [Times([], []) for _ in calls]
    for round_ in range(repeats + 1):
        for call, kept in zip(calls, times, strict=True):
            wall, cpu = time.perf_counter(), _cpu_s()
            call()
            if round_:
                kept.wall_s.append(time.perf_counter() - wall)
                kept.cpu_s.append(_cpu_s() - cpu)
    return times


def report(title: str, target: float, subject: Times, base: Times) -> None:
    """Print one comparison: both times, and the ratio of minima and of medians."""
    print(f"{title}  (target ≤ {target:g}×)")
    for name, kept in (("subject", subject), ("base", base)):
        print(
            f"    {name:8} min {min(kept.wall_s) * 1e3:10.2f} ms"
            f"   median {statistics.median(kept.wall_s) * 1e3:10.2f} ms"
            f"   ({len(kept.wall_s)} runs)"
        )
    low = min(subject.wall_s) / min(base.wall_s)
    middle = statistics.median(subject.wall_s) / statistics.median(base.wall_s)
    verdict = "meets the target" if low <= target else f"misses it by {low / target - 1:.0%}"
    print(f"    ratio    min {low:.2f}×   median {middle:.2f}×   {verdict}\n", flush=True)


def air_file(folder: Path, years: int) -> Path:
    """Write an air record of so many years by the demo's recipe."""
    path = folder / f"air_{years}.csv"
    if not path.exists():
        path.write_text(make_demo.air_text(make_demo.make_world(years=years, after_days=0)))
    return path


def log_file(folder: Path) -> Path:
    """Write a logger's export: one reading every 15 minutes, °F, by the demo's daily wave."""
    path = folder / "log.csv"
    start = datetime(2017, 1, 1)
    step = timedelta(minutes=15)
    wave = [make_demo.day_wave_c(14.0, quarter / 4.0) for quarter in range(96)]
    with path.open("w", encoding="utf-8") as handle:
        handle.write("Date time,Soil 4 in (°F)\n")
        for i in range(LOG_ROWS):
            season = 17.0 + 9.0 * math.cos(2.0 * math.pi * (i / 96 - 30.0) / 365.25)
            temp_f = (season + wave[i % 96]) * 1.8 + 32.0
            handle.write(f"{start + i * step:%Y-%m-%d %H:%M},{temp_f:.2f}\n")
    return path


def when_words(path: Path) -> tuple[object, ...]:
    """Return the command that asks the main question of an air record."""
    garden = make_demo.GARDEN
    return (
        *CROSSDAY, "when", path, "--lat", garden["latitude_deg"], "--depth", "4in",
        "--today", garden["today"],
    )  # fmt: skip


def bench_when(folder: Path, repeats: int) -> None:
    """(a) The main question on 20 years against importing what it needs."""
    base = run_program(sys.executable, "-c", "import pandas, scipy.fft")
    times = measure([run_program(*when_words(air_file(folder, 20))), base], repeats)
    report("crossday when, 20 years : import pandas, scipy.fft", 2.0, *times)


def bench_help(_folder: Path, repeats: int) -> None:
    """(b) The help text against importing click."""
    base = run_program(sys.executable, "-c", "import click")
    times = measure([run_program(*CROSSDAY, "--help"), base], 2 * repeats)
    report("crossday --help : import click", 2.0, *times)


def _estimate(folder: Path, years: int) -> tuple[Callable[[], object], int]:
    """Return a call of estimate_soil on so many years, and the number of days."""
    from forecaster import Site, estimate_soil, read_air  # noqa: PLC0415 - not for --only help

    air = read_air(air_file(folder, years))
    site = Site(make_demo.GARDEN["latitude_deg"])
    return (lambda: estimate_soil(air, site)), len(air)


def bench_estimate(folder: Path, repeats: int) -> None:
    """(c) The soil estimate on 40 years against one real FFT and its inverse."""
    import numpy as np  # noqa: PLC0415
    from scipy import fft  # noqa: PLC0415

    subject, days = _estimate(folder, 40)
    values = np.random.default_rng(0).normal(size=days)
    times = measure([subject, lambda: fft.irfft(fft.rfft(values), days)], 10 * repeats)
    report(f"estimate_soil, 40 years : one real FFT and inverse of {days} days", 10.0, *times)


def bench_readings(folder: Path, repeats: int) -> None:
    """(d) Reading a long log against pandas.read_csv alone."""
    import pandas as pd  # noqa: PLC0415

    from forecaster import read_readings  # noqa: PLC0415

    path = log_file(folder)
    calls: list[Callable[[], object]] = [lambda: read_readings(path), lambda: pd.read_csv(path)]
    times = measure(calls, max(3, repeats // 2))
    report(f"read_readings, {LOG_ROWS:,} rows : pandas.read_csv", 3.0, *times)


def bench_years(folder: Path, repeats: int) -> None:
    """(e) Processor time against the length of the record."""
    spans = (10, 20, 40)
    whole = [run_program(*when_words(air_file(folder, years))) for years in spans]
    only = [_estimate(folder, years)[0] for years in spans]
    for title, calls, runs in (
        ("crossday when, with start-up", whole, max(3, repeats // 2)),
        ("estimate_soil", only, 10 * repeats),
    ):
        cpu_ms = [
            # The processor clock ticks too coarsely for one short call; the sum does not.
            (min if calls is whole else statistics.mean)(kept.cpu_s) * 1e3
            for kept in measure(calls, runs)
        ]
        row = "   ".join(f"{y} years {t:.2f} ms" for y, t in zip(spans, cpu_ms, strict=True))
        early, late = (cpu_ms[1] - cpu_ms[0]) / 10, (cpu_ms[2] - cpu_ms[1]) / 20
        print(f"CPU time, {title}\n    {row}")
        print(
            f"    each further year costs {early:.3f} ms from 10 to 20,"
            f" {late:.3f} ms from 20 to 40 (equal if linear)\n",
            flush=True,
        )


def _forecast(
    folder: Path, members: int = 200, readings_days: int = 3 * 365
) -> tuple[Callable[[], object], int]:
    """Return a call of forecast_soil on 20 years with daily readings, and the record's days."""
    import pandas as pd  # noqa: PLC0415

    from forecaster import Site, estimate_soil, forecast_soil, read_air  # noqa: PLC0415

    air = read_air(air_file(folder, 20))
    site = Site(make_demo.GARDEN["latitude_deg"])
    soil = estimate_soil(air, site)["soil_c"].iloc[-readings_days:]
    log = pd.DataFrame(
        {"time": soil.index, "temp_c": soil.to_numpy() + 0.7, "depth_m": 0.1, "span": "day"}
    )
    issued = air.index[-1]

    def call() -> object:
        return forecast_soil(air, site, log, issued=issued, horizon_days=150, members=members)

    return call, len(air)


def bench_forecast(folder: Path, repeats: int) -> None:
    """(f) One forecast against one real FFT and inverse of its members, and as many normals."""
    import numpy as np  # noqa: PLC0415
    from scipy import fft  # noqa: PLC0415

    subject, _ = _forecast(folder)
    random = np.random.default_rng(0)
    days = subject().soil_c.shape[1]  # type: ignore[attr-defined]
    values = random.normal(size=(200, days))

    def base() -> None:
        fft.irfft(fft.rfft(values), days)
        random.standard_normal(values.shape)

    times = measure([subject, base], 4 * repeats)
    report(f"forecast_soil : FFT and inverse of 200 × {days} days, as many normals", 8.0, *times)


def bench_hindcast(folder: Path, repeats: int) -> None:
    """(g) A hindcast of ten years at five leads against its forecasts alone."""
    import pandas as pd  # noqa: PLC0415

    from forecaster import Site, forecast_soil, hindcast, known_thresholds, read_air  # noqa: PLC0415

    air = read_air(air_file(folder, 20))
    site = Site(make_demo.GARDEN["latitude_deg"])
    cool = known_thresholds("cool")
    found = hindcast(air, site, thresholds=cool, seasons=10)

    def forecasts() -> None:
        for row in found.rows:
            issued = pd.Timestamp(row.issued)
            forecast_soil(air, site, issued=issued, start=issued - pd.Timedelta(days=60))

    whole: Callable[[], object] = lambda: hindcast(air, site, thresholds=cool, seasons=10)  # noqa: E731
    times = measure([whole, forecasts], max(2, repeats // 4))
    report(f"hindcast, {len(found.rows)} forecasts : those forecasts alone", 10.0, *times)


def bench_linear(folder: Path, repeats: int) -> None:
    """(h) Processor time of one forecast against members and against days of readings."""
    for title, sizes, calls in (
        ("members", (200, 400, 800), [_forecast(folder, m)[0] for m in (200, 400, 800)]),
        (
            "days of readings",
            (1095, 2190, 4380),
            [_forecast(folder, 200, days)[0] for days in (1095, 2190, 4380)],
        ),
    ):
        cpu_ms = [statistics.mean(kept.cpu_s) * 1e3 for kept in measure(calls, 2 * repeats)]
        row = "   ".join(f"{n} {t:.1f} ms" for n, t in zip(sizes, cpu_ms, strict=True))
        early = (cpu_ms[1] - cpu_ms[0]) / (sizes[1] - sizes[0]) * 1e3
        late = (cpu_ms[2] - cpu_ms[1]) / (sizes[2] - sizes[1]) * 1e3
        print(f"CPU time, forecast_soil by {title}\n    {row}")
        print(
            f"    each further thousand costs {early:.1f} ms at first, {late:.1f} ms then"
            " (equal if linear)\n",
            flush=True,
        )


BENCHES = {
    "when": bench_when,
    "help": bench_help,
    "estimate": bench_estimate,
    "readings": bench_readings,
    "years": bench_years,
    "forecast": bench_forecast,
    "hindcast": bench_hindcast,
    "linear": bench_linear,
}


def main() -> None:
    """Run the chosen comparisons."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=15, help="runs of each subject")
    parser.add_argument("--only", nargs="+", choices=list(BENCHES), default=list(BENCHES))
    options = parser.parse_args()
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        for name in options.only:
            BENCHES[name](Path(folder), options.repeats)


if __name__ == "__main__":
    main()
