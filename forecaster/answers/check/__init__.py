"""The forecast repeated for past seasons, with what was known then, and scored."""

from forecaster.answers.check.results import Cell, Hindcast, Row
from forecaster.answers.check.run import LEADS_DAYS, hindcast
from forecaster.answers.check.truth import Truth, what_came_true

__all__ = ["LEADS_DAYS", "Cell", "Hindcast", "Row", "Truth", "hindcast", "what_came_true"]
