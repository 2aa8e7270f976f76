"""A wheel installed elsewhere, with the checkout out of sight, still answers for the demo."""

import os
import re
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SOURCES = ("forecaster", "data", "pyproject.toml", "README.md", "LICENSE")
# Run the module with the checkout's own import hooks and folders taken off the path.
ELSEWHERE = """
import runpy, sys
checkout, target = {checkout!r}, {target!r}
sys.meta_path[:] = [f for f in sys.meta_path if "editable" not in repr(f).lower()]
sys.path[:] = [target, *(p for p in sys.path if p not in ("", checkout))]
import forecaster
assert forecaster.__file__.startswith(target), forecaster.__file__
sys.argv = ["crossday", *{arguments!r}]
runpy.run_module("forecaster", run_name="__main__")
"""


def run(*command: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    clean = {k: v for k, v in os.environ.items() if k not in {"PYTHONPATH", "PYTHONHOME"}}
    clean |= {"PIP_NO_INDEX": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1", "MPLBACKEND": "Agg"}
    done = subprocess.run(
        [str(word) for word in command],
        cwd=cwd, env=clean, capture_output=True, text=True, check=False, timeout=240,
        stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    """Build from a copy, so that nothing is left behind in the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    for name in SOURCES:
        source, copy = ROOT / name, folder / "source" / name
        copy.parent.mkdir(exist_ok=True)
        if source.is_dir():
            shutil.copytree(source, copy, ignore=shutil.ignore_patterns("__pycache__", ".*"))
        else:
            shutil.copy2(source, copy)
    pip = (sys.executable, "-m", "pip", "--quiet")
    build = ("wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", folder / "dist")
    run(*pip, *build, folder / "source", cwd=folder)
    shutil.rmtree(folder / "source")
    (made,) = (folder / "dist").glob("crossday-*.whl")
    return made


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory) -> Path:
    target = tmp_path_factory.mktemp("installed")
    pip = (sys.executable, "-m", "pip", "--quiet")
    run(*pip, "install", "--no-deps", "--target", target, wheel, cwd=target)
    return target


def test_wheel_carries_every_data_file(wheel):
    with zipfile.ZipFile(wheel) as packed:
        carried = {n for n in packed.namelist() if n.startswith("forecaster/data/")}
    own = (p for p in (ROOT / "data").rglob("*") if p.is_file() and not p.name.startswith("."))
    assert carried == {f"forecaster/data/{p.relative_to(ROOT / 'data').as_posix()}" for p in own}


def test_wheel_carries_the_package_and_nothing_else(wheel):
    with zipfile.ZipFile(wheel) as packed:
        tops = {name.split("/")[0] for name in packed.namelist()}
    assert tops == {"forecaster", f"{wheel.name.split('-py3')[0]}.dist-info"}


def test_wheel_carries_what_is_no_python_beside_it(wheel):
    """Style sheet and the mark of types lie in the package's own folders."""
    with zipfile.ZipFile(wheel) as packed:
        carried = set(packed.namelist())
    beside = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "forecaster").rglob("*")
        if path.is_file() and path.suffix not in {".py", ".pyc"}
    }
    assert "forecaster/report/page.css" in beside
    assert beside <= carried


def test_demo_runs_from_the_wheel_in_another_folder(installed, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    program = ELSEWHERE.format(
        checkout=str(ROOT), target=str(installed), arguments=["demo", "--out", str(out)]
    )
    done = run(sys.executable, "-c", program, cwd=tmp_path)
    assert "°F" in done.stdout
    assert str(ROOT) not in done.stdout, "the demo's files must be the wheel's own"
    made = sorted(path.suffix for path in out.rglob("*") if path.is_file())
    assert {".png", ".svg"} & set(made), f"no chart among {made}"


def test_command_is_declared(installed):
    (points,) = installed.glob("crossday-*.dist-info/entry_points.txt")
    assert "crossday = forecaster.cli:main" in points.read_text()


@pytest.fixture(scope="module")
def users_python(wheel, tmp_path_factory) -> Path:
    """Return a small environment with the wheel, and the other packages of this one beside it."""
    folder = tmp_path_factory.mktemp("user") / "env"
    venv.EnvBuilder(with_pip=False).create(folder)
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    site = Path(
        run(
            python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=folder
        ).stdout.strip()
    )
    # A .pth inside a folder named by a .pth is not read, so the checkout stays out of sight.
    (site / "beside.pth").write_text(sysconfig.get_path("purelib"), encoding="utf-8")
    run(
        sys.executable,
        "-m",
        "pip",
        "-q",
        "install",
        "--no-deps",
        "--target",
        site,
        wheel,
        cwd=folder,
    )
    return python


RIGHT = """
import pandas as pd
from forecaster import (
    Site, Threshold, Wish, __version__, crop_windows, find_crop, find_windows, forecast_soil,
    read_air,
)

site = Site(43.0, depth_m=0.1, soil="clay")
air: pd.DataFrame = read_air("air.csv")
chance: float = forecast_soil(air, site, issued="2025-10-01").crossing(18.3, "falling").quantile(
    0.5
).astype(float)
own = Threshold(name="own", label="Own", threshold_c=18.3, direction="falling")
answer = find_windows(air, site, [own], today=pd.Timestamp("2025-10-01"))
verdict: str = answer.windows[0].verdict
crops = crop_windows(air, site, [find_crop("lettuce")], today="2025-10-01", wish=Wish(risk=0.2))
version: str = __version__
"""
WRONG = {
    'forecaster.Site("north")': "arg-type",
    "forecaster.find_window": "attr-defined",
    "forecaster.Site(43.0, soil='granite')": "arg-type",
    "forecaster.forecast_soil(forecaster.read_air('a'), forecaster.Site(43.0))": "call-arg",
}


@pytest.mark.slow
def test_a_users_types_are_checked(users_python, tmp_path):
    """PEP 561: the installed package has types, right and wrong calls are told apart."""
    (tmp_path / "right.py").write_text(RIGHT, encoding="utf-8")
    wrong = "import forecaster\n" + "\n".join(WRONG) + "\n"
    (tmp_path / "wrong.py").write_text(wrong, encoding="utf-8")
    words = ("-m", "mypy", "--strict", "--config-file=", "--python-executable", users_python)
    done = subprocess.run(
        [sys.executable, *map(str, words), "right.py", "wrong.py"],
        cwd=tmp_path, capture_output=True, text=True, check=False, timeout=240,
        stdin=subprocess.DEVNULL,
    )  # fmt: skip
    found = re.findall(r"^(.+):(\d+): error: .*\[([\w-]+)\]$", done.stdout, re.MULTILINE)
    expected = [("wrong.py", str(n), code) for n, code in enumerate(WRONG.values(), 2)]
    assert found == expected, done.stdout + done.stderr
