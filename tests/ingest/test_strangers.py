"""Strangers' files: never read wrong, rarely refused; the truth of each is known."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_air, read_readings

sys.path.insert(0, str(Path(__file__).parent))
from stranger_cases import CASES

CLOSE_C = 0.011  # values are written with three digits, tenths and °F with fewer


def written(folder, case):
    path = folder / "file.txt"
    path.write_bytes(case.data)
    return path


def judge_air(path, case):
    """Return what became of the case, and the difference in words."""
    try:
        found = read_air(path, **case.air_options)
    except FileError as error:
        return ("refused rightly" if case.air is None else "refused needlessly"), str(error)
    if case.air is None:
        return "wrong", f"read although there is no air: {account_of(found).columns}"
    mine = found.dropna(how="all", subset=[c for c in case.air if c in found])
    if list(mine.index) != list(case.air.index):
        return "wrong", f"days {mine.index[:3]}… for {case.air.index[:3]}…"
    for column in ("tmin_c", "tmax_c", "tavg_c"):
        have = mine[column] if column in mine else pd.Series(np.nan, mine.index)
        want = case.air[column] if column in case.air else pd.Series(np.nan, mine.index)
        if not np.allclose(have, want, atol=CLOSE_C, equal_nan=True):
            return "wrong", f"{column}: {have[:4].tolist()} for {want[:4].tolist()}"
    return "right", ""


def judge_log(path, case):
    """Return what became of the case, and the difference in words."""
    try:
        found = read_readings(path, **case.log_options)
    except FileError as error:
        return ("refused rightly" if case.log is None else "refused needlessly"), str(error)
    if case.log is None:
        return "wrong", f"read although there is no soil: {account_of(found).columns}"
    probe = found["probe"] if "probe" in found else pd.Series("", found.index)
    depth = found["depth_m"].round(4).fillna(-1.0)
    mine = {key: found.loc[rows] for key, rows in found.groupby([probe, depth]).groups.items()}
    theirs = {(p, -1.0 if d is None else round(d, 4)): s.dropna() for (p, d), s in case.log.items()}
    if set(mine) != set(theirs):
        return "wrong", f"probes and depths {sorted(mine)} for {sorted(theirs)}"
    for key, series in theirs.items():
        have, want = mine[key], series.sort_index()
        if list(have["time"]) != list(want.index):
            return "wrong", f"{key}: times {have['time'].iloc[:3].tolist()} for {want.index[:3]}"
        if not np.allclose(have["temp_c"], want, atol=CLOSE_C):
            return "wrong", f"{key}: {have['temp_c'].iloc[:4].tolist()} for {want[:4].tolist()}"
    return "right", ""


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_a_strangers_file(tmp_path, case):
    path = written(tmp_path, case)
    for judge in (judge_air, judge_log):
        verdict, why = judge(path, case)
        assert verdict in ("right", "refused rightly"), why
        assert "\n" not in why


def test_names_are_told_apart():
    assert len({case.name for case in CASES}) == len(CASES) >= 120
