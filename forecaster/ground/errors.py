"""What can go wrong, and whose it is to mend.

Everything raised on purpose is a `ForecasterError`. What the user can mend is also a
`ValueError`; what the world did is also a `RuntimeError`.
"""

from __future__ import annotations

from pathlib import Path


class ForecasterError(Exception):
    """Root of every error that this package raises on purpose."""


class InputError(ForecasterError, ValueError):
    """A value, option or argument that the user can mend."""


class FileError(InputError):
    """A file that cannot be read as it stands.

    Parameters
    ----------
    problem : str
        What is wrong, with the value seen.
    path : str or Path, optional
        The file, as the user named it.
    line, column : int, optional
        Where in the file, counted from 1.
    expected : str, optional
        What would have been right.
    remedy : str, optional
        What to do about it.
    """

    def __init__(
        self,
        problem: str,
        *,
        path: str | Path | None = None,
        line: int | None = None,
        column: int | None = None,
        expected: str = "",
        remedy: str = "",
    ) -> None:
        self.problem, self.path, self.line, self.column = problem, path, line, column
        self.expected, self.remedy = expected, remedy
        where = [str(path)] if path is not None else []
        where += [f"line {line}"] if line is not None else []
        where += [f"column {column}"] if column is not None else []
        text = f"{', '.join(where)}: {problem}" if where else problem
        text += f"; expected {expected}" if expected else ""
        text += f". {remedy}" if remedy else ""
        super().__init__(" ".join(text.split()))


class NotEnoughData(ForecasterError, ValueError):  # noqa: N818 - it reads as what it says
    """The data given cannot carry an honest answer."""


class DataMissing(ForecasterError, RuntimeError):  # noqa: N818
    """A file or service that should be there is not."""
