"""The changeover of a bed: what to do by when, what to buy, how to lay it out.

`layout.scatter` and `layout.lightness` are imported only when a
layout is asked for.
"""

from forecaster.chance.days import DayChances
from forecaster.plan.bed import Bed, Goes, Wants
from forecaster.plan.compare import Change, changes
from forecaster.plan.frost import frost_span
from forecaster.plan.layout.read_shape import outline_of_bed, read_outline
from forecaster.plan.layout.shapes import Outline, circle, polygon, rectangle, strip
from forecaster.plan.make import make_plan
from forecaster.plan.pull import PullCurve, pull_curve
from forecaster.plan.supplies.shopping import Shopping, shopping_for
from forecaster.plan.tasks import FrostSpan, Plan, Task
from forecaster.plan.water import WaterLook, water_look
from forecaster.plan.whole import Changeover, WholePlan, plan_changeover, scattered

__all__ = [
    "Bed",
    "Change",
    "Changeover",
    "DayChances",
    "FrostSpan",
    "Goes",
    "Outline",
    "Plan",
    "PullCurve",
    "Shopping",
    "Task",
    "Wants",
    "WaterLook",
    "WholePlan",
    "changes",
    "circle",
    "frost_span",
    "make_plan",
    "outline_of_bed",
    "plan_changeover",
    "polygon",
    "pull_curve",
    "read_outline",
    "rectangle",
    "scattered",
    "shopping_for",
    "strip",
    "water_look",
]
