"""Print the package's requirements at their floors, as pip reads them: ``name==lowest``.

Those of the extra ``region`` are among them.

.ci/run installs these into an environment of its own, so that a floor that no longer works is
found here and not by a user. With ``--tests``: what the tests need besides, types and style aside.
"""

import re
import sys
import tomllib
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[1] / "pyproject.toml"
FLOOR = re.compile(r"([A-Za-z0-9_.-]+)>=([0-9][0-9.]*)")

STYLE_AND_TYPES = ("mypy", "pandas-stubs", "pytest-cov", "ruff", "scipy-stubs", "types-")


def floors(requirements: list[str]) -> list[str]:
    """Return each requirement at its floor; one without a floor is refused."""
    found = [FLOOR.fullmatch(one) for one in requirements]
    if None in found:
        wrong = [one for one, match in zip(requirements, found, strict=True) if match is None]
        raise SystemExit(f"pyproject.toml: {', '.join(wrong)}; expected name>=lowest version")
    return [f"{match[1]}=={match[2]}" for match in found if match is not None]


if __name__ == "__main__":
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    if sys.argv[1:] == ["--tests"]:
        extra = project["optional-dependencies"]["test"]
        region = project["optional-dependencies"]["region"]  # at their floors already
        wanted = [one for one in extra if one not in region]
        print(*(one for one in wanted if not one.startswith(STYLE_AND_TYPES)), sep="\n")
    else:
        region = project["optional-dependencies"]["region"]
        print(*floors([*project["dependencies"], *region]), sep="\n")
