"""The garden of twelve beds is made, and what is asked of it is compared."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from forecaster import book as kept

ROOT = Path(__file__).resolve().parents[2]


def run(script: str, *words: str) -> str:
    command = [sys.executable, str(ROOT / "scripts" / script), *words]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.mark.slow
def test_twelve_beds_in_three_places(tmp_path):
    path = tmp_path / "garden.db"
    assert "crossday week --book" in run("make_twelve_beds.py", str(path))
    with kept.open_book(path) as book:
        beds = kept.beds(book)
        assert len(beds) == 12
        assert len(kept.places(book)) == len({bed.place for bed in beds}) == 3
        read = [bed.name for bed in beds if len(kept.bed_readings(book, bed.name))]
        assert read == ["gate bed", "long bed", "meadow bed", "top bed"]
        first, second = (kept.place_air(book, place.name) for place in kept.places(book)[:2])
        assert first["tmin_c"].mean() > second["tmin_c"].mean()


@pytest.mark.slow
def test_every_comparison_runs():
    text = run("bench_garden.py", "--repeats", "1")
    assert len(re.findall(r"^    ratio ", text, re.MULTILINE)) >= 4
