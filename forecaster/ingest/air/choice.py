"""Which columns of a table are the air's, and in which unit they are."""

from __future__ import annotations

import numpy as np

from forecaster.ground.arrays import Days, Floats
from forecaster.ground.errors import FileError
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

SHELTER_M, LOWEST_M = 2.0, 1.0
"""Air is measured 1.2 to 2 m above the ground (WMO-No. 8, from memory)."""
ELEMENT_NAMES = {
    daily.TMIN: "daily minimum", daily.TMAX: "daily maximum", daily.TAVG: "daily mean",
    daily.PRECIP: "rain",
}  # fmt: skip
ROLE_OF = {daily.TMIN: col.TMIN, daily.TMAX: col.TMAX, daily.TAVG: col.TAVG}


def choose(table: Table) -> dict[int, int]:
    """Choose the column for each element: air before unnamed, two metres before other heights.

    Raises
    ------
    FileError
        If there is neither a maximum with a minimum nor a mean.
    """
    found: dict[int, int] = {}
    for element, role in ROLE_OF.items():
        if places := _ranked(table, role):
            found[element] = places[0]
    if (
        not table.dialect.headings
        and not table.find(*col.TEMPERATURES[:3])
        and not any(table.meanings[k].medium == col.AIR for k in table.find(col.TEMP))
    ):
        _choose_by_order(table, found)
    elif daily.TAVG not in found and (values := _ranked(table, col.TEMP)):
        found[daily.TAVG] = _only(table, values)
    if daily.TAVG in found and len(found) < 3 and table.meanings[found[daily.TAVG]].weak:
        table.left[found[daily.TAVG]] = "does not say that it is a temperature"
        del found[daily.TAVG]
    if daily.TAVG not in found and len(found) < 2:
        raise no_columns(
            table,
            "a daily maximum and minimum, or a mean, of the air",
            "Name the columns, as date,tmax_f,tmin_f, or say --column tmax=NAME.",
        )
    if rain := sorted(table.find(col.PRECIP), key=lambda k: table.meanings[k].weak):
        found[daily.PRECIP] = rain[0]
    _refuse_empty(table, [k for element, k in found.items() if element != daily.PRECIP])
    _account(table, found)
    return found


def _refuse_empty(table: Table, places: list[int]) -> None:
    """Refuse columns of temperatures without one number."""
    if any(table.cells[k].notna().any() or table.meanings[k].unit for k in places):
        return
    raise FileError(
        f"no number in {', '.join(repr(table.heading(k)) for k in places)}",
        path=table.path,
        line=table.dialect.heading_line or None,
        expected="a daily maximum and minimum, or a mean, of the air",
        remedy="If another column is the air's, say --column tavg=NAME.",
    )


def _rank(table: Table, place: int) -> tuple[bool, bool, bool, int]:
    """Return how far a column is from the air's at two metres: less is nearer."""
    meaning = table.meanings[place]
    return (
        meaning.medium != col.AIR,
        meaning.weak,
        abs((meaning.height_m or SHELTER_M) - SHELTER_M) > 1.0,
        0 if meaning.medium == col.AIR else col.unknown_words(table.heading(place)),
    )


def _only(table: Table, ranked: list[int]) -> int:
    """Return the best column; where others that say as little are as good, ask which.

    Raises
    ------
    FileError
        If several columns say neither soil nor air.
    """
    best = ranked[0]
    alike = [k for k in ranked if _rank(table, k) == _rank(table, best)]
    units = [table.meanings[k].unit for k in alike]
    in_two_units = len(set(units)) == len(units) and "" not in units
    if table.meanings[best].medium == col.AIR or len(alike) == 1 or in_two_units:
        return best
    names = ", ".join(repr(table.heading(k)) for k in alike[:8])
    raise FileError(
        f"{len(alike)} columns may be the air's temperature: {names}",
        path=table.path,
        line=table.dialect.heading_line or None,
        expected="one, or headings that say air",
        remedy="Say which: --column tavg=NAME.",
    )


def _ranked(table: Table, role: str) -> list[int]:
    """Return columns of one role that may be the air's, the best first."""
    meanings = table.meanings
    places = [k for k in table.find(role) if meanings[k].medium not in (col.SOIL, col.SURFACE)]
    if table.find(col.DEPTH):  # what says nothing is at those depths
        places = [k for k in places if meanings[k].medium == col.AIR]
    places = [k for k in places if (meanings[k].height_m or SHELTER_M) >= LOWEST_M]
    filled = [k for k in places if len(places) == 1 or table.cells[k].notna().any()]
    return sorted(
        filled or places,
        key=lambda k: _rank(table, k),
    )


def _account(table: Table, found: dict[int, int]) -> None:
    """Say what each column was taken as, and why other temperatures were left."""
    for element, place in found.items():
        table.taken[place] = ELEMENT_NAMES[element]
    for k, m in enumerate(table.meanings):
        if k in table.taken or m.role not in (*col.TEMPERATURES, col.PRECIP):
            continue
        if m.medium == col.SOIL:
            table.left.setdefault(k, "of the soil")
        elif m.medium == col.SURFACE or (m.height_m or SHELTER_M) < LOWEST_M:
            table.left.setdefault(k, "near the ground, not in the air at 2 m")
        else:
            table.left.setdefault(k, "another column was taken")


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
        metric=_metric(table),
    )


def _metric(table: Table) -> str:
    """Say what else in the table shows that it is in °C: its soil, or metric headings."""
    if table.dialect.decimal == ",":
        return "numbers with decimal commas are of metric countries (common practice, no source)"
    if scale.is_metric(table.dialect.headings):
        return "the other headings are metric"
    if any(m.what in ("an uncertainty", "heat flux") for m in table.meanings):
        return "a research table is in SI units (common practice, no source)"
    soil = [
        k
        for k in table.find(*col.TEMPERATURES)
        if table.meanings[k].medium == col.SOIL and k in table.cells
    ]
    if not soil:
        return ""
    try:
        letter, _ = scale.soil_unit(
            table.path, np.concatenate([numbers(table.cells[k]).value for k in soil])
        )
    except FileError:
        return ""
    return "the soil in the same table can only be in °C" if letter == "C" else ""
