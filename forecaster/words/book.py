"""What the garden book holds, and what was done to it, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import pandas as pd

from forecaster.answers.bed import Came, Followed
from forecaster.book import (
    Added,
    AirAdded,
    BatchLine,
    Bed,
    Note,
    Place,
    Planting,
    say_name,
)
from forecaster.ground.units import METRES_PER_FOOT
from forecaster.words.phrases import Show, count, degrees, length, listed, number, percent, say_day

_AIR_UNIT = {"precip_mm": "mm"}


def one_line(text: str) -> str:
    """Return a text on one line, without anything that a terminal would obey."""
    return "".join(c if c.isprintable() else "�" for c in " ".join(text.split()))


def place_line(place: Place) -> str:
    """Return a place in words."""
    north = f"{abs(place.latitude_deg):g}° {'N' if place.latitude_deg >= 0 else 'S'}"
    parts = [north]
    if place.longitude_deg is not None:
        parts[0] += f" {abs(place.longitude_deg):g}° {'E' if place.longitude_deg >= 0 else 'W'}"
    if place.elevation_m is not None:
        parts.append(f"{place.elevation_m:,.0f} m above the sea")
    if place.station:
        parts.append(f"air of {one_line(place.station)}")
    if place.obs_hour is not None:
        parts.append(f"read at {place.obs_hour}:00")
    return f"{say_name(place.name)}: {', '.join(parts)}"


def bed_line(bed: Bed) -> str:
    """Return a bed in words."""
    parts = [bed.soil, bed.cover if bed.cover != "bare" else "bare ground", bed.light]
    if bed.organic_share is not None:
        parts.append(f"{number(bed.organic_share * 100.0)} % organic matter")
    if bed.raised:
        parts.append("raised")
    if bed.area_m2 is not None:
        feet = bed.area_m2 / METRES_PER_FOOT**2
        parts.append(f"{number(feet, 0)} ft² ({number(bed.area_m2)} m²)")
    deep = "surface" if bed.depth_m == 0.0 else f"{length(bed.depth_m)} down"
    return f"{say_name(bed.name)}: {', '.join(parts)}, thermometer {deep}"


def readings_words(added: Added, bed: str, show: Show) -> list[str]:
    """Return what became of the readings given, a sentence each."""
    words = [f"{count(added.new, 'new reading')} for {say_name(bed)}."]
    if added.same:
        words.append(f"{count(added.same, 'reading')} in the book already, passed over.")
    if added.conflicts:
        words.append(
            f"{count(added.conflicts, 'reading')} contradict the book, which keeps its own:"
            if added.conflicts > 1
            else "1 reading contradicts the book, which keeps its own:"
        )
        for one in added.first_conflicts:
            deep = f", {length(one.depth_m)}"
            kept, given = degrees(one.kept_c, show), degrees(one.given_c, show)
            words.append(f"· {one.time.replace('T', ' ')}{deep}: kept {kept}, not {given}")
        if (more := added.conflicts - len(added.first_conflicts)) > 0:
            words.append(f"· and {more:,} more")
        words.append("If the new ones are right, undo the batch that brought the old ones first.")
    return words


def air_words(added: AirAdded, place: str, show: Show) -> list[str]:
    """Return what became of the air days given, a sentence each."""
    words = [f"{count(added.new, 'new day')} of air for {say_name(place)}."]
    if added.completed:
        words.append(f"{count(added.completed, 'day')} completed.")
    if added.same:
        words.append(f"{count(added.same, 'day')} in the book already, passed over.")
    if added.corrected:
        words.append(f"{count(added.corrected, 'day')} corrected; undo brings the old ones back.")
    if added.conflicts:
        words.append(f"{count(added.conflicts, 'day')} differ from the book, which keeps its own:")
    if added.corrected or added.conflicts:
        for one in added.first_changes:
            unit = _AIR_UNIT.get(one.column)
            old, new = (
                f"{number(value)} {unit}" if unit else degrees(value, show)
                for value in (one.old, one.new)
            )
            what = one.column.rsplit("_", 1)[0]
            verb = f"{old} became {new}" if added.corrected else f"kept {old}, not {new}"
            words.append(f"· {one.day} {what}: {verb}")
    return words


def air_span_words(facts: Mapping[str, Any]) -> str:
    """Return how much air the book has for a place."""
    if not facts["air_days"]:
        return "no air yet"
    words = f"{count(facts['air_days'], 'day')} of air, {facts['air_first']} to {facts['air_last']}"
    marked = facts["air_provisional"]
    return words + (f", {marked:,} provisional" if marked else "")


def reading_span_words(facts: Mapping[str, Any], show: Show = "F") -> str:
    """Return how many readings a bed has, and the last one."""
    if not facts["readings"]:
        return "no reading yet"
    last = f"{degrees(facts['last_reading_c'], show)} on {facts['last_reading'].replace('T', ' ')}"
    return f"{count(facts['readings'], 'reading')}, the last {last}"


def planting_line(planting: Planting, today: date) -> str:
    """Return a planting or removal in words."""
    many = "" if planting.how_many is None else f"{planting.how_many:,} "
    verb = "planted" if planting.action == "planted" else "pulled"
    return (
        f"{say_day(planting.day, today)}: {verb} {many}{one_line(planting.what)} "
        f"in {say_name(planting.bed)}"
    )


def note_line(note: Note, today: date) -> str:
    """Return a note in words."""
    bed = "" if note.bed is None else f" ({say_name(note.bed)})"
    return f"{say_day(note.day, today)}{bed}: {one_line(note.text)}"


def batch_line(line: BatchLine) -> str:
    """Return a batch in words."""
    held = [count(n, kind) for kind, n in line.rows.items()]
    state = "undone" if line.undone_at else listed(held) if held else "nothing"
    return f"{line.number}. {line.kind} {one_line(line.source)}: {state}"


def season_words(followed: Followed, show: Show) -> list[str]:
    """Return what was forecast at a planting and what the soil did, a line each."""
    planted, shown, table = followed.planted, followed.shown, followed.table
    today = planted.day
    later = "" if shown.was_shown_by(planted.day) else f" (shown only on {shown.shown_at[:10]})"
    issued = f"Forecast issued {say_day(shown.issued, date.min)}{later}"
    issued += f", {length(shown.depth_m)} down."
    lines = [
        f"{planting_line(planted, date.min)}. {issued}",
        f"{'Week of':<12}{'forecast (10 to 90 %)':<26}{'soil, estimated':<18}readings",
    ]
    for day, row in table.iterrows():
        if pd.isna(row["low_c"]):
            said = "–"
        else:
            said = f"{degrees(row['mid_c'], show)} ({degrees(row['low_c'], show)[:-3]} to "
            said += f"{degrees(row['high_c'], show)[:-3]})"
        soil = "not known yet" if pd.isna(row["soil_c"]) else degrees(row["soil_c"], show)
        mark = {True: "", False: " !", None: ""}[row["inside"]]
        own = f"{degrees(row['reading_c'], show)}, {row['readings']}" if row["readings"] else ""
        lines.append(f"{day:%Y-%m-%d}  {said:<26}{soil + mark:<18}{own}".rstrip())
    told = [inside for inside in table["inside"] if inside is not None]
    if told:
        lines.append(f"Inside the forecast in {sum(told)} of {count(len(told), 'week')}.")
    return lines + [settled_line(one, today, show) for one in followed.came]


def settled_line(one: Came, today: date, show: Show) -> str:
    """Return what was forecast of a threshold, and what came."""
    window, date_came, over = one.window, one.settled, one.over
    way = "below" if window.direction == "falling" else "above"
    said = "never" if window.median is None else say_day(window.median, today)
    if window.early is not None and window.late is not None:
        said += f" ({say_day(window.early, today)} to {say_day(window.late, today)})"
    if window.never >= 0.01:
        said += f", never {percent(window.never)}"
    if date_came is None:
        then = "it did not" if over else "not over yet"
    else:
        then = f"came {say_day(date_came, today)}" + ("" if over else ", so far")
    return f"Settled {way} {degrees(window.threshold_c, show)}: forecast {said}; {then}."
