"""The garden book: readings kept for years in one SQLite file, nothing lost or overwritten."""

from __future__ import annotations

from forecaster.book.air import AirAdded, AirChange, add_air, air_span, last_air_source, place_air
from forecaster.book.copying import copy_book
from forecaster.book.diary import (
    BatchLine,
    Note,
    Planting,
    Undone,
    add_note,
    add_planting,
    batches,
    notes,
    plantings,
    undo,
)
from forecaster.book.done import add_done, done_batch, done_tasks
from forecaster.book.exchange import export_book, import_book, is_export
from forecaster.book.places import (
    Bed,
    Place,
    add_bed,
    add_place,
    bed_site,
    beds,
    change_bed,
    find_bed,
    find_place,
    outline_area,
    places,
    say_name,
)
from forecaster.book.readings import Added, Conflict, add_readings, bed_readings, reading_span
from forecaster.book.salvage import Salvaged, salvage_book
from forecaster.book.shown import (
    LATEST_DAYS,
    WEEKS,
    Shown,
    ShownWindow,
    keep_shown,
    season_table,
    shown_before,
    shown_forecasts,
)
from forecaster.book.store import Batch, Book, default_path, open_book
from forecaster.book.trouble import BookError

__all__ = [
    "LATEST_DAYS",
    "WEEKS",
    "Added",
    "AirAdded",
    "AirChange",
    "Batch",
    "BatchLine",
    "Bed",
    "Book",
    "BookError",
    "Conflict",
    "Note",
    "Place",
    "Planting",
    "Salvaged",
    "Shown",
    "ShownWindow",
    "Undone",
    "add_air",
    "add_bed",
    "add_done",
    "add_note",
    "add_place",
    "add_planting",
    "add_readings",
    "air_span",
    "batches",
    "bed_readings",
    "bed_site",
    "beds",
    "change_bed",
    "copy_book",
    "default_path",
    "done_batch",
    "done_tasks",
    "export_book",
    "find_bed",
    "find_place",
    "import_book",
    "is_export",
    "keep_shown",
    "last_air_source",
    "notes",
    "open_book",
    "outline_area",
    "place_air",
    "places",
    "plantings",
    "reading_span",
    "salvage_book",
    "say_name",
    "season_table",
    "shown_before",
    "shown_forecasts",
    "undo",
]  # fmt: skip
