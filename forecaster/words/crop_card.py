"""What is known of a crop, in words: every figure with its source and how well it is known."""

from __future__ import annotations

import math
from collections.abc import Iterable

from forecaster.ground.units import METRES_PER_INCH
from forecaster.rules.crops import Crop, CropThreshold, Figure
from forecaster.words.crops import BEGUN, NO_DATE, READ, columns, fill
from forecaster.words.page import NARROWEST, WIDEST
from forecaster.words.phrases import (
    Show,
    degrees,
    number,
)

ROLES = {
    "minimum": "least to plant",
    "optimum_low": "best from",
    "optimum": "best",
    "optimum_high": "best to",
    "maximum": "most",
    "lower_limit": "roots grow from",
    "upper_limit": "plant below",
}


def crop_list(crops: Iterable[Crop], show: Show = "F") -> str:
    """Return the known crops as a table: what opens their window, and how well it is known."""
    rows = [("Crop", "Season", "Begun", "Hardiness", "Opens", "Known", "Figures")]
    for crop in crops:
        used = _opening(crop)
        claim = crop.stands()
        rows.append(
            (
                crop.label,
                crop.crop_class,
                crop.usual_use,
                NO_DATE if claim is None else claim.hardiness.name,
                NO_DATE if used is None else degrees(used.value_c, show),
                NO_DATE if used is None else used.basis,
                str(len(crop.thresholds)),
            )
        )
    return columns(rows) + "\n"


def _opening(crop: Crop) -> CropThreshold | None:
    """Return the threshold that opens a crop's usual window."""
    choice = (
        crop.first_choice(("upper_limit", "optimum_high"), "autumn", crop.usual_use)
        if crop.crop_class == "cool"
        else crop.first_choice(("minimum",), "spring", crop.usual_use)
    )
    return None if choice is None else choice.used


def crop_text(crop: Crop, width: int = WIDEST, show: Show = "F") -> str:
    """Return all that is known of one crop, every source and how well it is known."""
    width = max(NARROWEST, min(WIDEST, width))
    also = f" (also {', '.join(crop.also)})" if crop.also else ""
    lines = [
        fill(
            f"{crop.label}{also}: {crop.crop_class}-season {crop.kind}, usually "
            f"{BEGUN[crop.usual_use]}.",
            width,
        ),
        "Soil",
    ]
    used = _opening(crop)
    for row in crop.thresholds:
        when = "" if row.season == "any" else f" in {row.season}"
        how = ", ".join(word for word in (row.depth, READ[row.measured]) if word)
        words = f"· {ROLES[row.role]} {degrees(row.value_c, show)}, {BEGUN[row.use]}{when}"
        words += f", {how}" if how else ""
        words += f" ({row.basis}: {row.source})" + (" – used" if row is used else "")
        lines.append(fill(words, width, "  "))
    if crop.hardiness:
        lines.append("Hardiness")
        told = (f"· {c.hardiness.name} ({c.basis}: {c.source})" for c in crop.hardiness)
        lines += [fill(words, width, "  ") for words in told]
    for title, figures, unit in _figures(crop):
        if figures:
            lines.append(title)
        for figure in figures:
            span = f"{_trim(figure.low / unit)}"
            span += f"–{_trim(figure.high / unit)}" if figure.high > figure.low else ""
            lines.append(fill(f"· {span} ({figure.basis}: {figure.source})", width, "  "))
    if crop.emergence is not None:
        table = crop.emergence
        lines.append("Days to emergence at steady soil temperatures")
        pairs = zip(table.temp_c, table.days, strict=True)
        came = [f"{degrees(temp, show)} {_days(days)}" for temp, days in pairs]
        lines.append(fill(f"· {', '.join(came)} ({table.basis}: {table.source})", width, "  "))
    return "\n".join(lines) + "\n"


def _figures(crop: Crop) -> tuple[tuple[str, tuple[Figure, ...], float], ...]:
    return (
        ("Weeks from sowing to setting out", crop.weeks_to_set_out, 1.0),
        ("Spacing, in", crop.spacing_m, METRES_PER_INCH),
        ("Sowing depth, in", crop.sowing_depth_m, METRES_PER_INCH),
        ("Days from planting to harvest", crop.days_to_maturity, 1.0),
    )


def _days(days: float) -> str:
    if math.isnan(days):
        return "not tried"
    return "none" if math.isinf(days) else f"{days:.0f}"


def _trim(value: float) -> str:
    return number(value, 2)
