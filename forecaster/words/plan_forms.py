"""The plan for a program: JSON's own types, and CSV whose cells never start a formula."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from forecaster.ground.errors import FileError
from forecaster.ground.units import (
    CUBIC_METRES_PER_CUBIC_YARD,
    CUBIC_METRES_PER_GALLON,
    KILOGRAMS_PER_POUND,
    METRES_PER_INCH,
    SQUARE_METRES_PER_SQUARE_FOOT,
)
from forecaster.plan.compare import Change
from forecaster.plan.history import Past
from forecaster.plan.supplies.lines import Line
from forecaster.plan.supplies.plants import Flats
from forecaster.plan.supplies.quantities import Heap
from forecaster.plan.supplies.shopping import Shopping
from forecaster.plan.tasks import Plan, Task
from forecaster.words.as_json import rounded
from forecaster.words.plan import plan_lead

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def plan_json(plan: Plan) -> dict[str, Any]:
    """Return the plan as JSON's own types: ISO dates, SI numbers, US units beside them."""
    pull = plan.pull
    return {
        "answer": plan_lead(plan),
        "key": plan.key,
        "season": plan.season,
        "today": plan.today.isoformat(),
        "bed": plan.bed.name,
        "threshold": plan.lead.threshold or None,
        "check_first": plan.lead.check_first or None,
        "plants": [each.what for each in plan.decisions],
        "tasks": [task_json(task, plan.today) for task in plan.tasks],
        "shopping": None if plan.shopping is None else _shopping(plan.shopping),
        "pull": None
        if pull is None
        else {
            "best": pull.best.isoformat(),
            "first": pull.first.isoformat(),
            "last": pull.last.isoformat(),
            "work_days": pull.work_days,
            "late_weight": pull.late_weight,
            "late_chance": rounded(pull.late_chance),
            "by_day": [
                {
                    "date": day.isoformat(),
                    "cost": rounded(cost),
                    "bloom_days": rounded(bloom),
                    "late_days": rounded(late),
                }
                for day, cost, bloom, late in zip(
                    pull.day, pull.cost, pull.bloom_days, pull.late_days, strict=True
                )
            ],
        },
        "feel_the_soil": None
        if plan.look is None
        else {key: _plain(value) for key, value in asdict(plan.look).items()},
        "history": [past_json(one) for one in plan.history],
        "returns": [
            {key: _plain(value) for key, value in asdict(one).items()} for one in plan.returns
        ],
        "notes": list(plan.notes),
        "cautions": list(plan.cautions),
    }


def past_json(one: Past) -> dict[str, Any]:
    """Return an earlier planting as JSON's own types; temperatures in °C."""
    seen = one.outcome
    return {
        "planted": one.planted.isoformat(),
        "what": one.what,
        "how_many": one.how_many,
        "soil_c": rounded(one.soil_c),
        "survived": None if seen is None else seen.survived,
        "share": None if seen is None else rounded(seen.share),
        "seen": None if seen is None else seen.seen.isoformat(),
        "note": "" if seen is None else seen.note,
    }


def task_json(task: Task, today: date) -> dict[str, Any]:
    """Return one task as JSON's own types."""
    return {
        "key": task.key,
        "title": task.title,
        "earliest": task.earliest.isoformat(),
        "likely": task.likely.isoformat(),
        "latest": task.latest.isoformat(),
        "standing": task.standing(today),
        "probability": rounded(task.probability),
        "sure_of": task.sure_of,
        "why": task.why,
        "depends_on": list(task.depends_on),
        "caution": task.caution,
        "basis": task.basis,
    }


def moved_json(moved: Sequence[Change]) -> list[dict[str, Any]]:
    """Return what moved as JSON's own types."""
    return [
        {
            "key": change.key,
            "title": change.title,
            "what": change.what,
            "earliest_days": change.earliest_days,
            "likely_days": change.likely_days,
            "latest_days": change.latest_days,
        }
        for change in moved
    ]


def tasks_of_json(text: str, path: str = "") -> tuple[Task, ...]:
    """Return the tasks of a plan that was written as JSON.

    Raises
    ------
    FileError
        If it is not such a plan.
    """
    try:
        return tuple(
            Task(
                key=str(row["key"]),
                title=str(row["title"]),
                earliest=date.fromisoformat(row["earliest"]),
                likely=date.fromisoformat(row["likely"]),
                latest=date.fromisoformat(row["latest"]),
                probability=float(row["probability"]),
                sure_of=str(row["sure_of"]),
                why=str(row["why"]),
            )
            for row in json.loads(text)["tasks"]
        )
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise FileError(
            "this is no plan", path=path or None, expected="what crossday plan --json wrote"
        ) from error


def safe_cell(value: object) -> str:
    """Return a cell that no spreadsheet takes for a formula.

    >>> safe_cell("=1+1"), safe_cell("Feed"), safe_cell(0.8)
    ("'=1+1", 'Feed', '0.8')
    """
    text = "" if value is None else str(value)
    risky = text.lstrip(" ").startswith(FORMULA_STARTS) or text.startswith(FORMULA_STARTS)
    return f"'{text}" if risky else text


def _shopping(shopping: Shopping) -> dict[str, Any]:
    return {
        "area_m2": rounded(shopping.area_m2),
        "area_ft2": rounded(shopping.area_m2 / SQUARE_METRES_PER_SQUARE_FOOT),
        "spacing_m": rounded(shopping.spacing_m),
        "spacing_in": rounded(shopping.spacing_m / METRES_PER_INCH),
        "pattern": shopping.pattern,
        "plants": shopping.plants,
        "counted_by_outline": shopping.by_outline,
        "parts": [
            {
                "what": part.what,
                "area_m2": rounded(part.area_m2),
                "spacing_m": rounded(part.spacing_m),
                "plants": part.plants,
            }
            for part in (shopping.parts if len(shopping.parts) > 1 else ())
        ],
        "lines": [line_json(line) for line in shopping.lines],
        "flats": [_flats(flat) for flat in shopping.flats],
        "bulk": [heap_json(heap) for heap in shopping.heaps],
        "bulk_depth_m": rounded(shopping.renewal_depth_m),
        "fertilizer": None
        if shopping.feed is None
        else {
            "label": shopping.fertilizer,
            "mass_kg": rounded(shopping.feed.mass_kg),
            "mass_lb": rounded(shopping.feed.mass_kg / KILOGRAMS_PER_POUND),
            "nitrogen_share": rounded(shopping.feed.nitrogen_share),
            "nitrogen_kg_m2": round(shopping.feed.nitrogen_kg_m2, 6),
        },
        "watering_in": None
        if shopping.watering is None
        else {
            "depth_m": rounded(shopping.watering.depth_m),
            "volume_m3": rounded(shopping.watering.volume_m3),
            "volume_gal": rounded(shopping.watering.volume_m3 / CUBIC_METRES_PER_GALLON),
            "minutes": rounded(shopping.watering.minutes),
        },
    }


def line_json(line: Line) -> dict[str, Any]:
    """Return one thing to order as JSON's own types."""
    return {
        "what": line.what,
        "variety": line.variety,
        "colour": line.colour,
        "begun": line.use,
        "plants": line.plants,
        "spare": line.spare,
        "flats": [_flats(flat) for flat in line.flats],
        "currency": line.currency,
        "weeks": None if line.weeks is None else list(line.weeks),
    }


def _flats(flat: Flats) -> dict[str, Any]:
    return {key: _plain(value) for key, value in asdict(flat).items()}


def heap_json(heap: Heap) -> dict[str, Any]:
    """Return a heap as JSON's own types."""
    low, usual, high = (rounded(mass) for mass in heap.mass_kg)
    return {
        "material": heap.material.name,
        "volume_m3": rounded(heap.volume_m3),
        "volume_yd3": rounded(heap.volume_m3 / CUBIC_METRES_PER_CUBIC_YARD),
        "bags": heap.bags,
        "bag_m3": rounded(heap.bag_m3),
        "mass_kg": {"low": low, "usual": usual, "wet": high},
        "loads": heap.loads,
        "density_basis": heap.material.basis,
        "density_source": heap.material.source,
    }


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    return rounded(value) if isinstance(value, float) else value
