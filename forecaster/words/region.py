"""A region in words, and its table as a file: CSV or JSON with ISO dates, °C and °F."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

import pandas as pd

from forecaster.ground.units import c_to_f
from forecaster.region.scores import Score
from forecaster.words.as_json import SCHEMA, rounded
from forecaster.words.check import ahead
from forecaster.words.layout import wrap
from forecaster.words.phrases import Show, between, count, degrees, number, percent, short_day
from forecaster.words.window import VERDICTS

WIDEST, NARROWEST = 88, 40
SHOWN_PLACES, SHOWN_PROBLEMS = 12, 6
NAME_COLUMN = 28
LIKE_USUAL_DAYS = 2
"""Nearer than this to the usual date is as usual."""
CAUTION = (
    "A date of the soil says nothing of frost. Before many beds are planted by it, read the "
    "soil at some of them, and ask the local extension service."
)


def counted(table: Any) -> dict[str, int]:
    """Return how many places have an answer and how many have none."""
    rows = table.select(["order", "problem"]).to_pylist()
    none = {row["order"] for row in rows if row["problem"]}
    return {"answered": len({row["order"] for row in rows} - none), "no_answer": len(none)}


def region_text(table: Any, show: Show = "F", width: int = WIDEST) -> str:
    """Return what a region's answers come to.

    Parameters
    ----------
    table : pyarrow.Table
        Of a run that asked.
    show : {"F", "C"}
    width : int
    """
    width = max(NARROWEST, min(WIDEST, width))
    frame = table.to_pandas(date_as_object=True)
    good, bad = frame[frame["problem"] == ""], frame[frame["problem"] != ""]
    number_of = counted(table)
    all_places = count(sum(number_of.values()), "place")
    none = f", {number_of['no_answer']:,} without" if number_of["no_answer"] else ""
    blocks = [f"{all_places}: {number_of['answered']:,} with an answer{none}."]
    for (what, season), rows in good.groupby(["what", "season"], sort=False):
        blocks.append("\n".join(_kind(f"{what}, {season}", rows, show, width)))
    blocks += _problems(bad, width)
    blocks.append(wrap(CAUTION, width))
    return "\n\n".join(blocks) + "\n"


def _kind(title: str, rows: pd.DataFrame, show: Show, width: int) -> list[str]:
    """Return what is said of one question."""
    first = rows.iloc[0]
    goal = ""
    if pd.notna(first["threshold_c"]):
        side = "below" if first["direction"] == "falling" else "above"
        goal = f" (soil settles {side} {degrees(float(first['threshold_c']), show)})"
    verdicts = Counter(VERDICTS[word] for word in rows["verdict"])
    today = ", ".join(f"{word} {many:,}" for word, many in verdicts.most_common())
    said = [f"{title}{goal}", wrap(f"Today: {today}.", width)]
    dates = sorted(day for day in rows["median"] if _there(day))
    if dates:
        quarter = len(dates) // 4
        half = between(dates[quarter], dates[-1 - quarter], dates[-1])
        ends = f"the first {short_day(dates[0])}, the last {short_day(dates[-1])}"
        said.append(wrap(f"Middle dates: half of the places {half}; {ends}.", width))
    said += [
        wrap(words, width)
        for words in (_old(rows), _never(rows), _against(rows), _by(rows))
        if words
    ]
    return [*said, "", *_places(rows, width)]


def _old(rows: pd.DataFrame) -> str:
    """Say how many records are too old to go by."""
    old = rows[rows["stale_days"] > 0]
    if old.empty:
        return ""
    last = max(old["last_day"])
    return (
        f"Too old to go by: the air of {count(len(old), 'place')} ends on {short_day(last)} "
        f"{last.year} or before, and no reading is newer; their dates are a guess from there."
    )


def _never(rows: pd.DataFrame) -> str:
    often = int((rows["never"] >= 0.5).sum())
    return f"Rather never than this season: {count(often, 'place')}." if often else ""


def _against(rows: pd.DataFrame) -> str:
    """Say how the season stands against the usual, over the places that know theirs."""
    days = rows["against_usual_days"].dropna()
    if days.empty:
        return ""
    early, late = int((days < -LIKE_USUAL_DAYS).sum()), int((days > LIKE_USUAL_DAYS).sum())
    near = f"{len(days) - early - late:,} within {count(LIKE_USUAL_DAYS, 'day')} of it"
    middle = _signed(float(days.median()))
    return f"Against the usual: {early:,} earlier, {late:,} later, {near}; in the middle {middle}."


def _signed(days: float) -> str:
    if abs(days) < 0.5:
        return "as usual"
    return f"{count(round(abs(days)), 'day')} {'earlier' if days < 0 else 'later'}"


def _by(rows: pd.DataFrame) -> str:
    chances = rows["chance_by"].dropna()
    if chances.empty:
        return ""
    even, sure = int((chances >= 0.5).sum()), int((chances >= 0.8).sum())
    day = rows["by"].dropna().iloc[0]
    return (
        f"By {short_day(day)} {day.year}: 50 % chance or more at {even:,} of {len(chances):,}, "
        f"80 % or more at {sure:,}."
    )


def _places(rows: pd.DataFrame, width: int) -> list[str]:
    """Return the first places by their date as lines of a table."""
    wide = width >= 80
    order = rows.sort_values("median", na_position="last", kind="stable")
    heads = ("middle", "8 in 10", "usual", "never", "today")
    room = NAME_COLUMN if wide else width - 20
    lines = [
        f"{'place':<{room}}"
        + (f"{heads[0]:>8}{heads[1]:>18}{heads[2]:>9}{heads[3]:>7}  {heads[4]}" if wide else
           f"{heads[0]:>8}  {heads[4]}")
    ]  # fmt: skip
    for row in order.head(SHOWN_PLACES).to_dict("records"):
        span = "–".join(_short(row[name]) for name in ("early", "late"))
        name = row["place"] if len(row["place"]) < room else f"{row['place'][: room - 2]}…"
        cells = f"{_short(row['median']):>8}"
        if wide:
            cells += f"{span:>18}{_short(row['usual']):>9}{percent(row['never']):>7}"
        lines.append(f"{name:<{room}}{cells}  {VERDICTS[row['verdict']]}")
    if len(order) > SHOWN_PLACES:
        lines.append(f"… and {len(order) - SHOWN_PLACES:,} more in the table")
    return lines


def _there(day: Any) -> bool:
    return isinstance(day, date)


def _short(day: Any) -> str:
    return short_day(day) if _there(day) else "–"


def _problems(rows: pd.DataFrame, width: int) -> list[str]:
    """Return why places have no answer, the first of them by name."""
    if rows.empty:
        return []
    said = [
        wrap(f"· {row['place']}: {row['problem']}", width)
        for row in rows.head(SHOWN_PROBLEMS).to_dict("records")
    ]
    if len(rows) > SHOWN_PROBLEMS:
        said.append(f"… and {len(rows) - SHOWN_PROBLEMS:,} more in the table, column problem")
    return ["\n".join(["No answer:", *said])]


def scores_text(table: Any, scores: Sequence[Score], width: int = WIDEST) -> str:
    """Return a region's summed scores as a table a region and season."""
    width = max(NARROWEST, min(WIDEST, width))
    number_of = counted(table)
    all_places = count(sum(number_of.values()), "place")
    none = f", {number_of['no_answer']:,} not" if number_of["no_answer"] else ""
    blocks = [f"{all_places}: {number_of['answered']:,} checked{none}."]
    kinds = dict.fromkeys((one.region, one.what, one.season, one.truth) for one in scores)
    for kind in kinds:
        some = [one for one in scores if (one.region, one.what, one.season, one.truth) == kind]
        region, what, season, truth = kind
        part = "against daily soil readings" if truth == "readings" else "WEATHER ONLY"
        lines = [f"{region}: {what}, {season}, {part}, {count(some[0].places, 'place')}"]
        lines.append(
            f"{'issued':<28}{'seasons':>8}{'missed by':>11}{'window held':>13}{'better':>8}"
        )
        lines += [
            f"{ahead(one.lead_days):<28}{one.n:>8,}{number(one.mae_days):>6} days"
            f"{percent(one.coverage):>9}{_better(one):>8}"
            for one in some
        ]
        blocks.append("\n".join(lines))
    bad = table.filter([bool(problem) for problem in table["problem"].to_pylist()])
    blocks += _problems(bad.to_pandas(), width)
    blocks.append(wrap(HOW, width))
    return "\n\n".join(blocks) + "\n"


HOW = (
    "Each forecast knew only what was known on its day, so many days before the median of the "
    "place's other seasons. Held: how often the span of 80 % held the true date. Better: how "
    "much nearer all of its chances lay than the place's other seasons' dates. WEATHER ONLY: "
    "the true dates are the model's own, driven by the air as it came; how well the model knows "
    "the ground is not in it."
)


def _better(one: Score) -> str:
    share = rounded(one.skill)
    return "–" if share is None else f"{round(100 * share):d} %".replace("-", "−")


def records_of(table: Any) -> list[dict[str, Any]]:
    """Return the rows as a program reads them: ISO dates, °F beside °C, what is not known null."""
    return [_record(row) for row in table.to_pylist()]


def _record(row: Mapping[str, Any]) -> dict[str, Any]:
    told: dict[str, Any] = {}
    for name, value in row.items():
        if name in ("key", "order"):
            continue
        told[name] = value.isoformat() if isinstance(value, date) else value
        if isinstance(value, float):
            told[name] = rounded(value)
        if name in ("threshold_c", "soil_c"):
            told[f"{name[:-2]}_f"] = None if value is None else rounded(c_to_f(value))
    return told


def region_json(table: Any, scores: Sequence[Score] | None = None) -> dict[str, Any]:
    """Return a region's answers, or its scores, as JSON's own types."""
    told: dict[str, Any] = {
        **counted(table), "places": records_of(table), "cautions": [CAUTION],
    }  # fmt: skip
    if scores is None:
        return told
    bad = [row for row in told.pop("places") if row["problem"]]
    told["problems"] = [{"place": row["place"], "problem": row["problem"]} for row in bad]
    told["scores"] = [
        {name: rounded(v) if isinstance(v, float) else v for name, v in asdict(one).items()}
        for one in scores
    ]
    return told


def table_bytes(table: Any, ending: str) -> bytes:
    """Return the rows as a file of CSV or JSON with our mark."""
    records = records_of(table)
    if ending == ".json":
        told = {"schema": SCHEMA, "written_by": "Crossday", "places": records}
        return (json.dumps(told, indent=1, ensure_ascii=False) + "\n").encode()
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*(records[0] if records else ()), "written_by"])
    writer.writerows([*record.values(), "crossday region"] for record in records)
    return text.getvalue().encode()
