"""What more than one test needs."""

import os
from pathlib import Path

import pytest

BESIDE = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of public records that the project does not ship; CROSSDAY_DATA names another."""
    folder = Path(os.environ.get("CROSSDAY_DATA", BESIDE))
    if not folder.is_dir():
        pytest.skip(f"no folder {folder.name!r} of public records; name one in CROSSDAY_DATA")
    return folder
