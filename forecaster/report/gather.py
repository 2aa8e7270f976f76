"""Everything that a page says, put together from a plan and its record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from forecaster.answers.check import hindcast
from forecaster.answers.crops import Crop, Wish, crop_windows_in, known_crops
from forecaster.answers.place_today import of_record
from forecaster.ground.errors import NotEnoughData
from forecaster.plan import WholePlan, scattered
from forecaster.plan.week import dues, last_read
from forecaster.report.contents import Report
from forecaster.words import Checked, tell
from forecaster.words.crops import CropTold
from forecaster.words.phrases import Show

CLASSES = {"autumn": "cool", "spring": "warm"}
SEASONS, LEADS_DAYS = 10, (0, 14, 28)


def gather(
    whole: WholePlan,
    asked: Sequence[Crop],
    wish: Wish,
    *,
    own: str | None = None,
    seed: int = 0,
    check: bool = True,
    show: Show = "F",
) -> Report:
    """Return everything that the page says.

    Parameters
    ----------
    whole : WholePlan
    asked : sequence of Crop
        The crops asked about; none for all that suit the plan's season.
    wish : Wish
        What is wanted of them.
    own : str, optional
        File of the user's own crop figures.
    seed : int
        Of the scatter.
    check : bool
        Whether past seasons are forecast again.
    show : {"F", "C"}
    """
    bed, shopping = whole.plan.bed, whole.plan.shopping
    drawn = bed.outline is not None and shopping is not None and shopping.coloured
    layout = scattered(bed, shopping, seed) if drawn else None
    checked, no_check = _checked(whole) if check else (None, "not asked for: --check does it")
    told = tell(whole.answer, whole.record)
    crops = _crops(whole, asked, wish, own)
    return Report(
        plan=whole.plan,
        window=whole.window,
        told=told,
        answer=whole.answer,
        crops=crops,
        checked=checked,
        no_check=no_check,
        layout=layout,
        dues=tuple(dues(whole.plan, now=whole.plan.today, last_read=last_read(whole.record))),
        show=show,
    )


def _crops(whole: WholePlan, asked: Sequence[Crop], wish: Wish, own: str | None) -> CropTold:
    """Return the windows of the crops asked about, or of all that suit the season."""
    record, plan = whole.record, whole.plan
    crops = asked or [
        c
        for c in known_crops(own=own).values()
        if c.crop_class == CLASSES[plan.season] and c.kind != "lawn"
    ]
    wish = replace(wish, season=plan.season, begins=plan.lead.season_start)
    lawns = any(crop.kind == "lawn" for crop in crops)
    lawn = of_record(record, offset_c=whole.here.offset_c, lawn=True) if lawns else None
    answer = crop_windows_in(whole.here, crops, wish, air=record.air, lawn=lawn)
    return CropTold(answer, record.site, record.accounts, record.notes, record.title)


def _checked(whole: WholePlan) -> tuple[Checked | None, str]:
    """Return the forecast of past seasons of the plan's threshold, or why there is none."""
    record = whole.record
    try:
        found = hindcast(
            *record.known(),
            thresholds=[whole.window.threshold],
            leads_days=LEADS_DAYS,
            seasons=SEASONS,
        )
    except NotEnoughData as error:
        return None, f"not done: {error}"
    return Checked(found, record.site, record.accounts, record.notes), ""
