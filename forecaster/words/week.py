"""The week in plain words: what is due in all beds, day by day, with hours and loads."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from forecaster.ground.units import METRES_PER_INCH
from forecaster.plan.several import BedPlan
from forecaster.plan.ticking import Tick
from forecaster.plan.week import WEEK, Due, Week, hours_of, loads_of
from forecaster.plan.wet import RECENT_DAYS, WetSoil
from forecaster.words.layout import wrap
from forecaster.words.phrases import count, listed, number, say_day, sentence, short_day
from forecaster.words.plan import plan_lead
from forecaster.words.window import stale_words

WIDEST, NARROWEST = 88, 40
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LEAST_RAIN_MM = 1.0
LONGEST_WEEKS = 80
HANDFUL = (
    "Squeeze a handful: while it stays a sticky ball, wait. Estimated from rain, evaporation and "
    "texture; common practice, no source."
)
ASSUMED = "Hours are an assumption: crossday week --own-hours makes a table of your own."


def week_text(week: Week, width: int = 72, weeks: int = 4) -> str:
    """Return the list of what is due; the first line sums up this week.

    Parameters
    ----------
    week : Week
    width : int
        Columns to fill, 40 to 88.
    weeks : int
        Weeks from today that are listed; later tasks are counted.
    """
    width = max(NARROWEST, min(WIDEST, width))
    end = week.today + weeks * WEEK
    coming = week.of("ahead")
    near = [due for due in coming if due.day < end]
    blocks = [
        wrap(week_lead(week), width),
        *(wrap(words, width) for words in (*wet_words(week), *silent_words(week))),
        _listed("This week", week.of("week"), week, width),
        _listed("Late", week.of("late"), week, width),
        _listed("Coming", near, week, width),
    ]
    if later := coming[len(near) :]:
        last = later[-1].day
        at_all = -(-((last - week.today).days + 1) // WEEK.days)
        more = f"{count(len(later), 'more task')} up to {say_day(last, week.today)}"
        blocks.append(wrap(f"{more}: --weeks {at_all}", width))
    if week.dues:
        ticked = 'Done? crossday done NAME --bed "BED"; --undo takes it back.'
        blocks.append("\n".join(wrap(words, width) for words in (ticked, ASSUMED)))
    return "\n\n".join(block for block in blocks if block) + "\n"


def plans_text(plans: Sequence[BedPlan], week: Week, width: int = 72) -> str:
    """Return the plans of several beds: each one's sentence, then all tasks by day."""
    width = max(NARROWEST, min(WIDEST, width))
    leads = [wrap(plan_lead(one.whole.plan), width) for one in plans if one.whole is not None]
    more = "What to buy, when to pull and why, bed by bed: crossday plan --bed NAME"
    return (
        "\n\n".join([*leads, week_text(week, width, weeks=LONGEST_WEEKS) + wrap(more, width)])
        + "\n"
    )


def week_lead(week: Week) -> str:
    """Return the week in a line: how many tasks in how many beds, hours, loads."""
    last = week.today + WEEK - timedelta(days=1)
    span = f"{short_day(week.today)} to {short_day(last)} {last.year}"
    now, late = week.of("week"), week.of("late")
    if week.silent and len(week.silent) == len(week.beds):
        return f"{span}: no bed can be told what to do."
    if not now and not late:
        following = next(iter(week.of("ahead")), None)
        if following is None:
            return f"{span}: nothing to do is known."
        first = f"{_small(following.task.title)}, {say_day(following.day, week.today)}"
        return f"{span}: nothing is due in {_beds(week.beds)}. Next: {first}."
    words = f"{span}: {count(len(now), 'task')} due in {_beds({due.bed for due in now})}"
    words += f", {len(late)} late" if late else ""
    if hours := hours_of([*now, *late]):
        unsized = {due.bed for due in (*now, *late) if due.plan.shopping is None}
        without = f", {listed(sorted(unsized))} without a size" if unsized else ""
        words += f"; about {_hours(hours)} of work for one{without}"
    return f"{words}. {' '.join(load_words(week))}".strip()


def load_words(week: Week) -> list[str]:
    """Say how many loads this week's tasks need fetched, if any."""
    loads = loads_of(week.of("week", "late"))
    return [f"{count(loads, 'load')} to fetch at the volume and weight set."] if loads else []


def wet_words(week: Week) -> list[str]:
    """Say which soil is too wet to work now, and from when it may be worked."""
    found = []
    alike: dict[WetSoil, list[str]] = {}
    for bed, soil in week.wet:
        alike.setdefault(soil, []).append(bed)
    for soil, beds in alike.items():
        fell = soil.rain_mm >= LEAST_RAIN_MM
        rain = f": {_rain(soil.rain_mm)} in the {RECENT_DAYS} days to {short_day(soil.as_of)}"
        ahead = f"; {_rain(soil.ahead_mm)} foretold" if soil.ahead_mm >= LEAST_RAIN_MM else ""
        free = soil.workable(week.today)
        when = (
            "not within two weeks even if it stays dry"
            if free is None
            else f"about right from {day_words(free, week.today)} if it stays dry"
        )
        where = f"{_named(beds, week.beds)} ({soil.soil})"
        found.append(f"Too wet to work: {where}{rain if fell else ''}{ahead}; {when}.")
    return [*found, HANDFUL] if found else []


def silent_words(week: Week) -> list[str]:
    """Say which beds tell nothing, and why; beds with one reason are said together."""
    reasons: dict[str, list[str]] = {}
    for one in week.silent:
        why = stale_words(one.last_day, one.stale_days) if one.error is None else str(one.error)
        reasons.setdefault(why, []).append(one.bed)
    return [
        f"Not listed: {_named(beds, week.beds)}. {sentence(why)}" for why, beds in reasons.items()
    ]


def _listed(heading: str, dues: Sequence[Due], week: Week, width: int) -> str:
    """Return a heading and its tasks; what is the same in several beds is said once."""
    if not dues:
        return ""
    lines = [heading]
    for same in same_tasks(dues):
        day = day_words(same[0].day, week.today)
        lines.append(wrap(f"{day:<11} {same[0].task.title}", width, "  ", hang=" " * 14))
        behind = f"{behind_words(same, week)} · [{handle(same[0])}]"
        lines.append(wrap(behind, width, " " * 14, hang=" " * 14))
    return "\n".join(lines)


def same_tasks(dues: Sequence[Due]) -> list[list[Due]]:
    """Return tasks that are said together: of one title and day, late ones of any day."""
    groups: dict[tuple[str, ...], list[Due]] = {}
    for due in dues:
        when = due.why if due.when == "late" else due.day.isoformat()
        groups.setdefault((when, due.task.title, handle(due)), []).append(due)
    return list(groups.values())


def handle(due: Due) -> str:
    """Return the name by which a task is ticked: its key without the season."""
    return due.task.key.split("/", 1)[1]


def behind_words(same: Sequence[Due], week: Week) -> str:
    """Return of one task in some beds: beds, span, hours, loads, what is late or wet."""
    first = same[0]
    words = [_named([due.bed for due in same], week.beds)]
    start = min(due.task.earliest for due in same)
    end = max(due.task.latest for due in same)
    if start != end:
        words.append(f"{_in_year(start, week.today)} to {_in_year(end, week.today)}")
    if hours := hours_of(same):
        words.append(_hours(hours))
    if loads := loads_of(same):
        words.append(count(loads, "load"))
    if first.when == "late":
        words.append(first.why)
    if far := [due.bed for due in same if due.too_far]:
        words.append(f"moved out of these days: {_named(far, week.beds)}")
    elif any(due.moved for due in same):
        words.append("moved")
    if wet := [due.bed for due in same if due.too_wet]:
        words.append(f"too wet to work then: {_named(wet, week.beds)}")
    return " · ".join(words)


def _named(some: Sequence[str], known: Sequence[str]) -> str:
    """Return beds in the order of the book, all of many as such."""
    if len(some) == len(known) > 2:
        return f"all {len(known)} beds"
    at = {bed: place for place, bed in enumerate(known)}
    return listed(sorted(some, key=lambda bed: at.get(bed, len(at))))


def _hours(hours: float) -> str:
    return f"{number(60.0 * hours, 0)} min" if hours < 1.0 else f"{number(hours, 1)} h"


def day_words(day: date, today: date) -> str:
    """Return a day with its weekday: `Mon 16 Mar`."""
    return f"{DAYS[day.weekday()]} {_in_year(day, today)}"


def _in_year(day: date, today: date) -> str:
    return short_day(day) if day.year == today.year else f"{short_day(day)} {day.year}"


def _rain(rain_mm: float) -> str:
    return f"{number(rain_mm / 1000.0 / METRES_PER_INCH, 1)} in ({number(rain_mm, 0)} mm) of rain"


def _beds(names: Sequence[str] | set[str]) -> str:
    return count(len(names), "bed")


def _small(text: str) -> str:
    return text[0].lower() + text[1:]


def tick_words(ticks: Sequence[Tick], today: date, *, undone: bool) -> list[str]:
    """Say what was ticked off, or taken back."""
    verb = "Not done after all" if undone else "Done"
    return [
        f"{verb}: {one.title or one.key}, {one.bed}"
        + ("." if undone else f", on {say_day(one.day, today)}.")
        for one in ticks
    ]
