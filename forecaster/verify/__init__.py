"""The forecast repeated for past seasons, with what was known then, and scored."""

from forecaster.verify.results import Cell, Hindcast, Row
from forecaster.verify.run import LEADS_DAYS, hindcast
from forecaster.verify.truth import Truth, what_came_true

__all__ = ["LEADS_DAYS", "Cell", "Hindcast", "Row", "Truth", "hindcast", "what_came_true"]
