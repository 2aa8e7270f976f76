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
from forecaster.book.outcomes import (
    Cost,
    Outcome,
    add_cost,
    add_outcome,
    costs,
    outcomes,
    season_of,
)
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
from forecaster.book.readings import (
    Added,
    Conflict,
    KnownLogs,
    add_readings,
    bed_readings,
    reading_span,
)
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
from forecaster.book.sound import Sound
from forecaster.book.store import Batch, Book, default_path, open_book
from forecaster.book.touched import Touched
from forecaster.book.trouble import BookError
from forecaster.book.wants import Want, add_want, drop_want, wants

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
    "Cost",
    "KnownLogs",
    "Note",
    "Outcome",
    "Place",
    "Planting",
    "Salvaged",
    "Shown",
    "ShownWindow",
    "Sound",
    "Touched",
    "Undone",
    "Want",
    "add_air",
    "add_bed",
    "add_cost",
    "add_done",
    "add_note",
    "add_outcome",
    "add_place",
    "add_planting",
    "add_readings",
    "add_want",
    "air_span",
    "batches",
    "bed_readings",
    "bed_site",
    "beds",
    "change_bed",
    "copy_book",
    "costs",
    "default_path",
    "done_batch",
    "done_tasks",
    "drop_want",
    "export_book",
    "find_bed",
    "find_place",
    "import_book",
    "is_export",
    "keep_shown",
    "last_air_source",
    "notes",
    "open_book",
    "outcomes",
    "outline_area",
    "place_air",
    "places",
    "plantings",
    "reading_span",
    "salvage_book",
    "say_name",
    "season_of",
    "season_table",
    "shown_before",
    "shown_forecasts",
    "undo",
    "wants",
]  # fmt: skip
