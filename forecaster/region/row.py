"""One place asked one question: what runs on a worker, and all that runs there.

The answers are those of `crossday when` and `crossday check`: the same record, the same
functions, the same seed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from forecaster.answers.check import hindcast
from forecaster.answers.crops import crop_windows_of
from forecaster.answers.decision import SEASONS, Decision, by_crop, by_threshold
from forecaster.answers.of_files import days_of, record_of_files
from forecaster.answers.place_today import soil_of_record
from forecaster.answers.record import Record
from forecaster.answers.window import Window, decided, notes_of
from forecaster.ground.errors import ForecasterError
from forecaster.region.places import RegionPlace
from forecaster.region.question import Question

Row = dict[str, Any]
Work = Callable[[RegionPlace, Question], list[Row]]

WHERE: Mapping[str, type] = {
    "order": int, "key": str, "place": str, "region": str, "latitude_deg": float,
    "longitude_deg": float, "depth_m": float, "soil": str, "cover": str,
}  # fmt: skip
READ: Mapping[str, type] = {
    "last_day": date, "stale_days": int, "years": int, "kind": str, "filled_days": int,
    "read": str, "rows_read": int, "rows_used": int, "readings_used": int, "notes": str,
}  # fmt: skip
ANSWER: Mapping[str, type] = {
    **WHERE, "problem": str, "what": str, "threshold_c": float, "direction": str, "season": str,
    "use": str, "issued": date, "season_start": date, "season_end": date, "usual_early": date,
    "usual": date, "usual_late": date, "usual_ground_days": float, "early": date, "median": date,
    "late": date, "against_usual_days": int, "never": float, "by": date, "chance_by": float,
    "verdict": str, "reason": str, "best": date, "best_until": date, "possible_until": date,
    "soil_c": float, "soil_sd_c": float, "trend_c_per_week": float, "check_first": str, **READ,
}  # fmt: skip
"""Columns of an answer's row, and what they hold: °C, metres, days, shares of 1."""
SCORE: Mapping[str, type] = {
    **WHERE, "problem": str, "what": str, "threshold_c": float, "direction": str, "season": str,
    "truth": str, "year": int, "lead_days": int, "issued": date, "usual": date, "settled": date,
    "early": date, "median": date, "late": date, "never": float, "crps_days": float,
    "climatology_crps_days": float, "miss_days": float, "inside": bool, "width_days": float,
}  # fmt: skip
"""Columns of a check's row: one forecast of a past season."""


def columns_of(question: Question) -> Mapping[str, type]:
    """Return the columns of the rows that a question brings."""
    return SCORE if question.check else ANSWER


def answer_place(place: RegionPlace, question: Question) -> list[Row]:
    """Return the rows of one place: its answers, or one row with the reason why there is none."""
    try:
        if place.problem:
            return [no_answer(place, place.problem)]
        record = read_place(place, question)
        if question.check:
            return _scores(place, record, question)
        rows = _crops if question.crops else _thresholds
        return rows(place, record, question)
    except ForecasterError as error:
        words = " ".join(str(error).split())
        return [no_answer(place, words.replace(place.air, Path(place.air).name or place.air))]


def no_answer(place: RegionPlace, problem: str) -> Row:
    """Return the row of a place without an answer."""
    return _where(place) | {
        "latitude_deg": place.latitude_deg,
        "longitude_deg": place.longitude_deg,
        "problem": problem,
    }


def read_place(place: RegionPlace, question: Question) -> Record:
    """Return the record of a place, as `crossday when` would read it."""
    if place.bed:
        return _of_bed(place, question)
    told: dict[str, Any] = {
        "depth_m": place.depth_m or question.depth_m,
        "soil": place.soil or question.soil,
        "cover": place.cover or question.cover,
    }
    return record_of_files(
        place.air,
        now=question.now,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        readings=place.readings or None,
        units=question.units,
        obs_hour=question.obs_hour,
        day_first=question.day_first,
        today=question.today,
        where_to_say="it in a table of places with the columns name, file, latitude, longitude",
        **{name: value for name, value in told.items() if value is not None},
    )


def _of_bed(place: RegionPlace, question: Question) -> Record:
    from forecaster.answers.bed import ask_bed  # noqa: PLC0415 - SQLite only where asked
    from forecaster.book import open_book  # noqa: PLC0415
    from forecaster.ingest import account_of  # noqa: PLC0415

    with open_book(place.book) as book:
        held = ask_bed(book, place.bed)
    day, asked_on, notes = days_of(held.air, question.today, question.now)
    other = {name: getattr(question, name) for name in ("depth_m", "soil", "cover")}
    return Record(
        air=held.air,
        log=held.readings,
        site=replace(held.site, **{name: v for name, v in other.items() if v is not None}),
        today=day,
        asked_on=asked_on,
        accounts={"Air": account_of(held.air)},
        notes=tuple(notes),
        held=held,
    )


def _where(place: RegionPlace) -> Row:
    return {
        "order": place.order, "key": place.key(), "place": place.name, "region": place.region,
        "problem": "",
    }  # fmt: skip


def _site(record: Record) -> Row:
    site = record.site
    return {
        "latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg,
        "depth_m": site.depth_m, "soil": site.soil, "cover": site.cover,
    }  # fmt: skip


def _read(record: Record, notes: Sequence[str]) -> Row:
    """Return the account of what was read, in short."""
    air = record.accounts["Air"]
    return {
        "read": f"{air.format}, {air.units}" if air.units else air.format,
        "rows_read": air.rows_read,
        "rows_used": air.rows_used,
        "readings_used": 0 if record.log is None else len(record.log),
        "notes": " ".join(dict.fromkeys((*record.notes, *notes))),
    }


def _thresholds(place: RegionPlace, record: Record, question: Question) -> list[Row]:
    here = soil_of_record(record)
    rows = []
    for window in decided(here, question.thresholds, thermometer=False):
        told, so_far = by_threshold(window, record.today, here.unsure), window.so_far
        rows.append(
            _where(place)
            | _site(record)
            | _decision(told, question, record)
            | _usual(window)
            | {
                "never": window.outlook.never,
                "threshold_c": window.threshold.threshold_c,
                "direction": window.threshold.direction,
                "soil_c": so_far.soil_c,
                "soil_sd_c": so_far.sd_c,
                "trend_c_per_week": so_far.trend_c_per_week,
                "last_day": so_far.last_day,
                "years": here.place.day.size // 365,
                "kind": here.place.kind,
                "filled_days": here.place.modelled.filled_days,
            }
            | _read(record, notes_of(here))
        )
    return rows


def _usual(window: Window) -> Row:
    typical, median = window.typical, window.outlook.median
    against = None
    if typical.median is not None and median is not None:
        against = (median - typical.median).days
    return {
        "usual_early": typical.early,
        "usual": typical.median,
        "usual_late": typical.late,
        "usual_ground_days": typical.ground_days,
        "against_usual_days": against,
    }


def _crops(place: RegionPlace, record: Record, question: Question) -> list[Row]:
    answer = crop_windows_of(record, question.known_crops(), question.wish)
    return [
        _where(place)
        | _site(record)
        | _decision(
            by_crop(window, unsure=answer.unsure, stale_days=answer.stale_days), question, record
        )
        | {"last_day": answer.last_day, "years": answer.years}
        | _read(record, answer.notes)
        for window in answer.windows
    ]


def _decision(told: Decision, question: Question, record: Record) -> Row:
    """Return what is decided, by whichever question."""
    early, median, late = (told.setting.quantile(q) for q in (0.1, 0.5, 0.9))
    return {
        "what": told.what,
        "season": told.season,
        "use": told.use,
        "issued": record.today,
        "season_start": told.season_start,
        "season_end": told.season_end,
        "early": early,
        "median": median,
        "late": late,
        "never": told.never,
        "by": question.by,
        "chance_by": None if question.by is None else told.setting.by(question.by),
        "verdict": told.verdict,
        "reason": told.reason,
        "best": told.best,
        "best_until": told.best_until,
        "possible_until": told.possible_until,
        "check_first": told.check_first,
        "stale_days": told.stale_days,
    }


def _scores(place: RegionPlace, record: Record, question: Question) -> list[Row]:
    """Return a row for each forecast of a past season."""
    found = hindcast(
        *record.known(),
        thresholds=question.thresholds,
        leads_days=question.leads_days,
        seasons=question.seasons,
    )
    by_name = {one.name: one for one in found.thresholds}
    rows = []
    for row in found.rows:
        asked = by_name[row.threshold]
        rows.append(
            _where(place)
            | _site(record)
            | {
                "what": asked.label,
                "threshold_c": asked.threshold_c,
                "direction": asked.direction,
                "season": SEASONS[asked.direction],
                "truth": found.truth,
            }
            | {name: getattr(row, name) for name in SCORE if hasattr(row, name)}
        )
    return rows
