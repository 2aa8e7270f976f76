"""`pandas.read_csv` that complains in one way only."""

from __future__ import annotations

import io
import warnings
from typing import Any

import pandas as pd


def read_strictly(body: bytes, names: list[int], **options: Any) -> pd.DataFrame:
    """Read cells without a heading, one row a line.

    Raises
    ------
    ValueError
        If the parser fails, loses cells, or finds another number of rows than there are lines.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("error", pd.errors.ParserWarning)
        try:
            frame: pd.DataFrame = pd.read_csv(
                io.BytesIO(body),
                header=None,
                names=names,
                skip_blank_lines=False,
                index_col=False,
                encoding="utf-8",
                **options,
            )
        except (pd.errors.ParserError, pd.errors.ParserWarning, OverflowError) as error:
            raise ValueError(str(error)) from error
    if len(frame) != body.count(b"\n") + (not body.endswith(b"\n")):
        raise ValueError("rows do not match lines")
    return frame
