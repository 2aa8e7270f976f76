"""Which columns of a table are the air's, and in which unit they are."""

from __future__ import annotations

import numpy as np

from forecaster.arrays import Days, Floats
from forecaster.ingest.air import daily
from forecaster.ingest.checks import scale
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.cells import (
    MISSING_CODES,
    MISSING_TENTHS,
    Numbers,
    numbers,
)
from forecaster.ingest.text.table import Table, no_columns

ROLE_OF = {daily.TMIN: col.TMIN, daily.TMAX: col.TMAX, daily.TAVG: col.TAVG}


def choose(table: Table) -> dict[int, int]:
    """Choose the column for each element: air before unnamed, soil never.

    Raises
    ------
    FileError
        If there is neither a maximum with a minimum nor a mean.
    """
    found: dict[int, int] = {}
    for element, role in ROLE_OF.items():
        places = [k for k in table.find(role) if table.meanings[k].medium != "soil"]
        places.sort(key=lambda k: table.meanings[k].medium != "air")
        if places:
            found[element] = places[0]
    if not table.dialect.headings:
        _choose_by_order(table, found)
    elif not found:
        means = [k for k in table.find(col.TEMP) if table.meanings[k].medium != "soil"]
        if means:
            found[daily.TAVG] = means[0]
    if daily.TAVG not in found and len(found) < 2:
        raise no_columns(
            table,
            "a daily maximum and minimum, or a mean, of the air",
            "Name the columns, as date,tmax_f,tmin_f.",
        )
    if rain := table.find(col.PRECIP):
        found[daily.PRECIP] = rain[0]
    return found


def _choose_by_order(table: Table, found: dict[int, int]) -> None:
    """Without a heading, take two columns of which one is never below the other."""
    places = table.find(col.TEMP)
    if len(places) != 2:
        return
    first, second = (numbers(table.cells[k]).value for k in places)
    with np.errstate(invalid="ignore"):
        above, below = bool((first > second).any()), bool((first < second).any())
    if above != below:
        high, low = places if above else reversed(places)
        found.update({daily.TMAX: high, daily.TMIN: low})


def has_attributes(table: Table) -> bool:
    """Whether the table is of the kind that may hold tenths of °C."""
    return bool(table.find(col.FLAGS))


def unit_of(
    table: Table, cells: dict[int, Numbers], places: dict[int, int], days: Days, letter: str | None
) -> tuple[str, str]:
    """Decide the unit of the temperatures: by option, heading, cells, or values.

    Parameters
    ----------
    table : Table
        The table.
    cells, places : dict
        Numbers and column of each element.
    days : array
        The date of each row.
    letter : str, optional
        The option.

    Returns
    -------
    letter, why : str
    """
    order = [k for k in (daily.TMAX, daily.TMIN, daily.TAVG) if k in places]
    named = [unit for k in order if (unit := table.meanings[places[k]].unit)]
    if letter:
        other = sorted(set(named) - {letter})
        return letter, "as asked" + (
            f", though the heading says {'/'.join(other)}" if other else ""
        )
    if named:
        return named[0], "the heading says so"
    written = {
        str(unit)
        for k in order
        if (units := cells[k].units) is not None
        for unit in np.unique(units)
    } - {""}
    if len(written) == 1:
        return written.pop(), "written in the cells"
    tenths = has_attributes(table)
    codes = MISSING_TENTHS if tenths else MISSING_CODES
    value = {k: np.where(np.isin(cells[k].value, codes), np.nan, cells[k].value) for k in order}
    nothing: Floats = np.zeros(0)
    means = value.get(daily.TAVG, nothing)
    return scale.air_unit(
        table.path,
        value.get(daily.TMAX, means),
        value.get(daily.TMIN, means),
        len(np.unique(days[~np.isnat(days)])),
        tenths=tenths,
    )
