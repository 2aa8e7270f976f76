"""What the ``air`` commands say: stations ranked, what was fetched, how old it is, what changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from forecaster.fetch.ask import PROVISIONAL_DAYS, spoken
from forecaster.fetch.near import KM_PER_100_M, Candidate
from forecaster.fetch.record import PROVISIONAL, Correction, Record
from forecaster.fetch.table import Fetched
from forecaster.ground.units import METRES_PER_FOOT, METRES_PER_INCH, c_to_f
from forecaster.words.as_json import json_text
from forecaster.words.phrases import count

METRES_PER_MILE = 1609.344
LISTED_CORRECTIONS = 5
ELSEWHERE = (
    "Outside the United States: GHCN-Daily covers most of the world, and many national "
    "meteorological services publish daily station records and forecasts as open data; "
    "crossday when reads their files. Where there is none, crossday air grid has a stand-in for "
    "the whole world."
)


def near_table(
    found: Sequence[Candidate], shares: dict[str, float | None], years: int, show: str
) -> list[str]:
    """Return the ranked stations as aligned lines, the heading first."""
    rows = [("", "Station", "Distance", "Height", "Record", "Name")]
    for number, one in enumerate(found, start=1):
        share = shares.get(one.station.station)
        span = f"{one.span.first_year}–{one.span.last_year}"
        full = f", {share:.0%} of the last {years} years" if share is not None else ""
        height = "unknown" if one.height_m is None else tall(one.height_m, show)
        rows.append(
            (str(number), one.station.station, far(one.distance_km * 1000.0, show), height,
             span + full, spoken(one.station.name, 40))
        )  # fmt: skip
    widths = [max(len(row[k]) for row in rows) for k in range(6)]
    return [
        "  ".join(c.rjust(w) if k in (2, 3) else c.ljust(w)
                  for k, (c, w) in enumerate(zip(row, widths, strict=True))).rstrip()
        for row in rows
    ]  # fmt: skip


def near_words(height_m: float | None, show: str, *, assumed: bool, checked: bool) -> list[str]:
    """Say how stations were ranked, and what is not known of them."""
    step, cools = ("330 ft", "1.2 °F") if show.upper() == "F" else ("100 m", "0.65 °C")
    ranked = (
        "Ranked by how much the air is likely to differ: elevation matters more than distance. "
        f"{step} of height (about {cools}) count as much as {far(KM_PER_100_M * 1000.0, show)} "
        "over the ground; that is an assumption."
    )
    words = [ranked]
    if assumed and height_m is None:
        words.append("No height is known around here: ranked by distance alone. Give --elev.")
    elif assumed and height_m is not None:
        above = tall(height_m, show).lstrip("+")
        words.append(
            f"Your height was taken as {above}, the middle of the five nearest stations; "
            "--elev says it better."
        )
    if not checked:
        words.append(
            "Years are the first and last with both extremes; how many days lie between is known "
            "only after fetching: add --check 3."
        )
    return words


def near_json(
    found: Sequence[Candidate],
    shares: dict[str, float | None],
    fetched: dt.datetime,
    height_m: float | None,
) -> str:
    """Return the ranked stations as JSON, in SI units."""
    told = {
        "elevation_m": height_m,
        "fetched": fetched.isoformat(timespec="seconds"),
        "stations": [
            {
                "station": one.station.station,
                "name": one.station.name,
                "latitude_deg": one.station.latitude_deg,
                "longitude_deg": one.station.longitude_deg,
                "distance_km": round(one.distance_km, 1),
                "height_difference_m": None if one.height_m is None else round(one.height_m, 1),
                "counts_km": round(one.counts_km, 1),
                "first_year": one.span.first_year,
                "last_year": one.span.last_year,
                "share_of_days": shares.get(one.station.station),
            }
            for one in found
        ],
    }
    return json_text(told)


def fetch_words(
    kept: Record | None,
    fetched: Sequence[Fetched],
    *,
    added: int,
    corrections: Sequence[Correction],
    out: str,
    show: str,
    provisional_days: int = PROVISIONAL_DAYS,
) -> list[str]:
    """Say what came, how old it is, what changed, and what may still change."""
    if kept is None or not fetched:
        return [f"{out}: nothing new; every day asked for is there or not yet published."]
    table = kept.table
    days = f"{table.index[0].date()} to {table.index[-1].date()}, {count(len(table), 'day')}"
    words = [f"{fetched[-1].source}: {days}."]
    one = max(fetched, key=lambda f: (f.stale, f.age))
    words.append(age_of(one.age, stale=one.stale, why=one.why, what="Record"))
    words += list(dict.fromkeys(note for f in fetched for note in f.notes))
    words += list(dict.fromkeys(n for f in fetched for n in f.table.attrs["account"].notes))
    words.append(f"Added {count(added, 'day')}." if added else "No new days.")
    words += [_correction(change, show) for change in corrections[:LISTED_CORRECTIONS]]
    if len(corrections) > LISTED_CORRECTIONS:
        words.append(f"{len(corrections) - LISTED_CORRECTIONS:,} more corrections are in the file.")
    open_days = int((table["status"] == PROVISIONAL).sum())
    if open_days:
        words.append(
            f"Marked provisional: {count(open_days, 'day')}; the service revises recent days, and "
            f"those of the last {provisional_days} are asked for again next time."
        )
    return [*words, f"Written: {out}", f"Next: crossday when {out}"]


def _correction(change: Correction, show: str) -> str:
    names = {"tmin_c": "low", "tmax_c": "high", "tavg_c": "mean", "precip_mm": "rain"}
    say = _wet if change.column == "precip_mm" else warm
    now = "withdrawn by the service" if change.now is None else say(change.now, show)
    return f"Corrected {change.day}: {names[change.column]} {now}, was {say(change.was, show)}."


def warm(temp_c: float, show: str) -> str:
    """Return a temperature in the scale shown."""
    return f"{c_to_f(temp_c):.0f} °F" if show.upper() == "F" else f"{temp_c:.1f} °C"


def _wet(rain_mm: float, show: str) -> str:
    return (
        f"{rain_mm / 1000.0 / METRES_PER_INCH:.2f} in"
        if show.upper() == "F"
        else f"{rain_mm:.1f} mm"
    )


def far(metres: float, show: str) -> str:
    """Return a distance over the ground in miles or kilometres."""
    if show.upper() == "F":
        return f"{metres / METRES_PER_MILE:,.0f} mi"
    return f"{metres / 1000.0:,.0f} km"


def tall(metres: float, show: str) -> str:
    """Return a height or a difference of heights, with its sign, in feet or metres."""
    if show.upper() == "F":
        return f"{round(metres / METRES_PER_FOOT):+,d} ft"
    return f"{round(metres):+,d} m"


def age_of(age: dt.timedelta, *, stale: bool, why: str, what: str) -> str:
    """Say how old an answer is, and why no newer one serves."""
    words = f"{what} fetched {age_words(age)}"
    if not stale:
        return f"{words}."
    reason = "--offline asks nobody" if why == "offline" else f"the service {why}"
    return f"{words}: an older answer, because {reason}."


def age_words(age: dt.timedelta) -> str:
    """Return an age in words.

    >>> age_words(dt.timedelta(hours=30))
    '30 hours ago'
    """
    seconds = age.total_seconds()
    for unit, length, most in (("minute", 60, 120), ("hour", 3600, 48), ("day", 86400, 10**9)):
        count = int(seconds // length)
        if seconds < length * most:
            return "just now" if count == 0 else f"{count:,} {unit}{'s' * (count != 1)} ago"
    return "long ago"
