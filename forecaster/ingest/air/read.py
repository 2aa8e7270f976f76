"""Daily air temperature from whatever file holds it → one checked table a day."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from forecaster.ground.errors import FileError, InputError
from forecaster.ground.plural import counted
from forecaster.ingest.account import Account, Suspect
from forecaster.ingest.air import daily, ghcn, uscrn
from forecaster.ingest.air.daily import Part, assemble
from forecaster.ingest.air.ghcn_fixed import fixed_part, is_fixed
from forecaster.ingest.air.table import table_part
from forecaster.ingest.checks import scale
from forecaster.ingest.checks.suspects import gaps
from forecaster.ingest.text.bytes import Paths, Source, open_sources, tables_among
from forecaster.ingest.text.dialect import has_data
from forecaster.ingest.text.told import Told, told

_MOST_REPEATED = 0.2


def read_air(
    path: Paths,
    *,
    obs_hour: int | None = None,
    units: str | None = None,
    day_first: bool | None = None,
    columns: Mapping[str, str] | None = None,
) -> pd.DataFrame:
    """Read a record of air temperature, by the day or oftener.

    Understood by their structure: GHCN-Daily station tables, long tables and fixed columns,
    USCRN daily01 text, and any table with a date and a maximum and minimum, or a mean, a row a day.
    Values by the hour or oftener become the extremes and mean of each day; days with less than
    four fifths of their values are refused and counted.

    Parameters
    ----------
    path : path or sequence of paths
        A file (plain, gzip or zip), a folder of files, or a list of files, all of one place.
    obs_hour : int, optional
        Hour, 0 to 23, at which the thermometer was read and reset. Before noon the maximum
        belongs to the day before and is moved there; 0 is midnight and moves nothing. Given, it
        stands above the file's own time of observation.
    units : {"F", "C", "K", "tenths"}, optional
        Unit of temperatures whose unit the file does not say, or says wrongly.
    day_first : bool, optional
        Order of day and month in dates such as 3/4/2025.
    columns : mapping of str to str, optional
        What columns hold, above what their headings say: ``{"tmax": "Hi Temp", "tmin": "4"}``;
        ``tavg``, ``air`` (values by the hour), ``rain``, ``date`` and ``time`` too.

    Returns
    -------
    DataFrame
        One row a day without holes in the calendar, index ``date`` (no zone), columns ``tmin_c``
        and ``tmax_c`` in °C, NaN where missing; ``tavg_c``, the true daily mean in °C, and
        ``precip_mm`` where the record has them. A record of means only has NaN in ``tmin_c`` and
        ``tmax_c`` and its values in ``tavg_c``. ``attrs["account"]`` is the `Account` of what was
        read.

    Raises
    ------
    FileError
        If the file cannot be read as it stands: file, line, what was expected and what to do.
    InputError
        If an option is not what it should be.
    """
    if obs_hour is not None and not (isinstance(obs_hour, int) and 0 <= obs_hour <= 23):
        raise InputError(f"obs_hour is {obs_hour!r}; expected a whole hour from 0 to 23")
    letter = scale.option(units)
    sources, passed = tables_among(open_sources(path), _is_table)
    parts = _parts(sources, obs_hour, letter, day_first, told(columns))
    named = _named(path, sources)
    frame, tally, suspects = assemble(parts, named)
    _refuse_many_rows_a_day(named, tally.counts(), len(tally.lines))
    if not len(frame):
        counts = ", ".join(f"{n} × {reason}" for reason, n in tally.counts().items())
        raise FileError(
            f"none of {len(tally.lines)} rows could be used ({counts})",
            path=named,
            expected="a date and a temperature a row",
        )
    gap_days, longest = gaps(frame)
    frame.attrs["account"] = Account(
        path=named,
        **_words(parts, len(sources)),
        rows_read=len(tally.lines),
        rows_used=tally.rows_used,
        refused=tally.listed(),
        refused_count=tally.counts(),
        gap_days=gap_days,
        longest_gap=longest,
        suspects=tuple(suspects),
        notes=(*passed, *_notes(parts, frame, suspects)),
        latitude_deg=next((p.latitude_deg for p in parts if p.latitude_deg is not None), None),
        longitude_deg=next((p.longitude_deg for p in parts if p.longitude_deg is not None), None),
        station=next((p.station for p in parts if p.station), ""),
        files=tuple(source.path for source in sources),
        columns=tuple(dict.fromkeys(c for p in parts for c in p.columns)),
    )
    return frame


def _is_table(source: Source) -> bool:
    return uscrn.is_uscrn(source) or is_fixed(source) or has_data(source)


def _named(path: Paths, sources: list[Source]) -> str:
    """Return the path as the user named it."""
    if isinstance(path, list | tuple):
        return sources[0].path + (f" and {len(sources) - 1} more" if len(sources) > 1 else "")
    return str(path)


def _parts(
    sources: list[Source],
    obs_hour: int | None,
    letter: str | None,
    day_first: bool | None,
    known: Told,
) -> list[Part]:
    """Read each source by its own structure; USCRN years together."""
    fixed = [source for source in sources if uscrn.is_uscrn(source)]
    parts = [uscrn.air_part(fixed)] if fixed else []
    for source in sources:
        if source in fixed:
            continue
        parts.append(_one_part(source, obs_hour, letter, day_first, known))
    if fixed and obs_hour is not None:
        parts[0].notes.append("USCRN days end at midnight by their format: obs_hour was not used.")
    stations = {p.station for p in parts if p.station}
    if len(stations) > 1:
        raise FileError(
            f"{len(stations)} stations: {', '.join(sorted(stations)[:4])}",
            path=sources[0].path,
            expected="files of one station",
            remedy="Give only the files of the station nearest to you.",
        )
    return parts


def _one_part(
    source: Source,
    obs_hour: int | None,
    letter: str | None,
    day_first: bool | None,
    known: Told,
) -> Part:
    """Read one source that is no USCRN text."""
    if is_fixed(source):
        return fixed_part(source, obs_hour)
    if dialect := ghcn.long_dialect(source):
        return ghcn.long_part(source, dialect, obs_hour)
    return table_part(source, obs_hour, letter, day_first, known)


def _refuse_many_rows_a_day(path: str, counts: dict[str, int], rows: int) -> None:
    """Stop where days come again and again with other values: hours, or several stations."""
    again = counts.get(daily.OTHER, 0)
    if again > max(3, _MOST_REPEATED * rows):
        raise FileError(
            f"{again} of {rows} rows give a day again with other values",
            path=path,
            expected="one row a day of one station",
            remedy="Keep the rows of one station, or take daily maxima and minima first.",
        )


def _words(parts: list[Part], files: int) -> dict[str, str]:
    """Return format and units, once where all files agree."""
    kinds = list(dict.fromkeys(p.format for p in parts))
    suffix = f", {files} files" if files > 1 else ""
    return {
        "format": " and ".join(kinds) + suffix,
        "why_format": "; ".join(dict.fromkeys(p.why_format for p in parts)),
        "units": "; ".join(dict.fromkeys(p.units for p in parts)),
        "why_units": "; ".join(dict.fromkeys(p.why_units for p in parts)),
    }


def _notes(parts: list[Part], frame: pd.DataFrame, suspects: list[Suspect]) -> tuple[str, ...]:
    notes = [note for p in parts for note in [*p.notes, p.shift_note] if note]
    if frame["tmax_c"].isna().all() and frame["tmin_c"].isna().all() and "tavg_c" in frame:
        notes.append("Only daily means were given: tmin_c and tmax_c are empty, tavg_c holds them.")
    dropped = sum(suspect.values for suspect in suspects if suspect.action == "dropped")  # noqa: PD011
    if dropped:
        notes.append(f"Dropped as wrong: {counted(dropped, 'value')} (see suspects).")
    return tuple(dict.fromkeys(notes))
