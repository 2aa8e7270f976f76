"""The live check's own logic, asked of a server on loopback: it never asks the real one here."""

import functools
import importlib.util
import os
import sys
import threading
from datetime import date, timedelta
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
TODAY = date.today()


def load(name: str, path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


service = load("service", ROOT / "tests" / "fetch" / "service.py")


@pytest.fixture
def script(monkeypatch):
    module = load("live_check", ROOT / "scripts" / "live_check.py")
    with service.Service() as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        here = functools.partial(module.Fetcher, base=running.base, sleep=lambda _: None)
        monkeypatch.setattr(module, "Fetcher", here)
        module.server = running
        yield module
        running.shutdown()
        thread.join()


def test_every_service_is_asked_and_told(script, capsys):
    script.server.put_days("USW00013739", TODAY - timedelta(days=400), 398)
    service.put_lists(script.server, TODAY.year)
    service.put_forecast(script.server, TODAY)
    assert script.main(["--lat", "39.7456", "--lon", "-97.0892"]) == 3
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("Daily record: 363 days, the last 3 days ago; latitude 39.95; °C")
    assert lines[1].startswith("Station lists: 7 stations, 6 with both extremes; first: none near")
    assert lines[2].startswith("Reference network: FAILED (fetch/uscrn.py): US Climate Reference")
    assert lines[3].startswith(f"Forecast: 7 days from {TODAY}; columns tmin_c, tmax_c, precip_mm")


def test_it_can_be_started(script):
    assert os.access(ROOT / "scripts" / "live_check", os.X_OK)
    assert "could not be run where it was written" in " ".join(script.__doc__.split())
