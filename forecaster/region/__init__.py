"""A region at once: one question asked of many places, on one computer or on a Dask cluster."""

from forecaster.region.engine import Came, forecast_places, local_cluster, running_cluster
from forecaster.region.places import RegionPlace, places_at, places_of_book
from forecaster.region.question import Question

__all__ = [
    "Came",
    "Question",
    "RegionPlace",
    "forecast_places",
    "local_cluster",
    "places_at",
    "places_of_book",
    "running_cluster",
]
