"""The plan in plain words: what to do by when, what to buy. US units lead, SI in brackets."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from forecaster.ground.units import (
    CUBIC_METRES_PER_CUBIC_FOOT,
    CUBIC_METRES_PER_CUBIC_YARD,
    CUBIC_METRES_PER_GALLON,
    KILOGRAMS_PER_POUND,
    SQUARE_METRES_PER_SQUARE_FOOT,
)
from forecaster.plan.compare import Change
from forecaster.plan.pull import PullCurve
from forecaster.plan.supplies.quantities import Heap, loads_together
from forecaster.plan.supplies.shopping import Shopping
from forecaster.plan.tasks import ESTIMATE, Plan, Task, late_words
from forecaster.plan.water import WaterLook
from forecaster.words.buying import bed_words, plants_words
from forecaster.words.layout import wrap
from forecaster.words.measures import mass, small_length
from forecaster.words.phrases import (
    between,
    count,
    counted,
    listed,
    number,
    odds,
    say_day,
    sentence,
    short_day,
)
from forecaster.words.season import before_words

WIDEST, NARROWEST = 88, 30
PUT_IN = {
    "transplant": "set out",
    "seed": "sow",
    "bulb": "plant",
    "tuber": "plant",
    "crown": "plant",
}
"""What is done with what goes in."""


def plan_text(
    plan: Plan,
    width: int = 72,
    moved: Sequence[Change] | None = None,
    notes: Sequence[str] = (),
) -> str:
    """Return the whole plan as a page of plain words; the first sentence answers the question.

    `words.plan_short.plan_answer` says the same in fewer.

    Parameters
    ----------
    plan : Plan
    width : int
        Columns to fill, 30 to 88.
    moved : sequence of Change, optional
        What changed since the plan before this one.
    notes : sequence of str, optional
        What else the reader should know, of the record.
    """
    width = max(NARROWEST, min(WIDEST, width))
    said: set[str] = set()
    tasks = _tasks(plan, width, said)
    left = [text for text in plan.cautions if text not in said]
    parts = [
        wrap(plan_lead(plan), width),
        _section("What moved", change_words(moved), width) if moved is not None else "",
        tasks,
        _section("To buy", shopping_words(plan.shopping), width),
        _section("When to pull", pull_words(plan), width),
        _section("Water after planting", look_words(plan.look, plan.today), width),
        _section("This bed before", before_words(plan), width),
        _section("Good to know", [f"· {sentence(note)}" for note in (*plan.notes, *notes)], width),
        _section(
            "More cautions" if said else "Cautions", [f"· {caution}" for caution in left], width
        ),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def plan_lead(plan: Plan) -> str:
    """Return the sentence that answers: when to plant, how sure, and what comes first."""
    where = f"{plan.bed.name}, {plan.season} {plan.lead.year}"
    out = plan.task("set-out") or plan.task("rest")
    if out is None:
        return f"{where}: no planting date can be given – {plan.lead.reason}."
    done = plan.wants.planted
    if done is not None:
        head = f"{where}: planted on {say_day(done, plan.today)}"
    elif plan.lead.verdict == "late" and out.name == "set-out":
        return (
            f"{where}: late – {plan.lead.reason}. What is set out now has less of its season "
            f"left than it needs: plant only what stands that, or rest the bed. {_first(plan)}"
        )
    elif plan.lead.never >= 0.5 and out.name == "set-out":
        return (
            f"{where}: {odds(plan.lead.never)} chance that {_never(plan)}; if it "
            f"does, set out {between(out.earliest, out.latest, plan.today)}. {_first(plan)}"
        )
    else:
        verb = PUT_IN[plan.lead.use] if out.name == "set-out" else "cover and rest the bed"
        about = say_day(out.likely, plan.today)
        head = f"{where}: {verb} about {about}"
        if out.earliest != out.latest and out.sure_of:
            head += (
                f", {odds(out.probability)} chance {between(out.earliest, out.latest, plan.today)}"
            )
    if len(plan.decisions) > 1 and done is None and out.name == "set-out":
        head = f"{where}: {_each(plan)}"
    if plan.lead.check_first and done is None:
        return f"{head}, if that is right: {plan.lead.check_first}. {_first(plan)}"
    return f"{head}. {_first(plan)}"


def _each(plan: Plan) -> str:
    """Say when each of several crops goes in."""
    parts = []
    for each in plan.decisions:
        name = _small(each.what)
        if each.hopeless or each.best is None:
            parts.append(f"{name}: no day can be given")
        else:
            verb = PUT_IN[each.use]
            parts.append(f"{verb} {name} about {say_day(max(each.best, plan.today), plan.today)}")
    return "; ".join(parts)


def _never(plan: Plan) -> str:
    return "the soil never gets there" if plan.lead.crop is None else "no day goes well"


def _first(plan: Plan) -> str:
    """Say what comes next."""
    this = [t for t in plan.tasks if t.standing(plan.today) != "overdue"]
    if not this:
        return "Nothing is left to do."
    now = [t for t in this if t.standing(plan.today) == "now"]
    if now:
        nearest = min(now, key=lambda t: (t.latest, t.key))
        return f"Now: {_small(nearest.title)}, by {say_day(nearest.latest, plan.today)}."
    nearest = min(this, key=lambda t: (t.earliest, t.key))
    return f"Next: {_small(nearest.title)}, from {say_day(nearest.earliest, plan.today)}."


def _small(text: str) -> str:
    return text[0].lower() + text[1:]


def _tasks(plan: Plan, width: int, said: set[str]) -> str:
    """Return the tasks: what is late, what is now, what comes, what the next season wants."""
    groups: list[tuple[str, list[Task]]] = [
        ("The day for this has passed", []),
        ("Now", []),
        ("Coming", []),
        ("The next changeover", []),
    ]
    at = {"overdue": 0, "now": 1, "ahead": 2}
    for task in plan.tasks:
        if task.likely == plan.wants.planted and task.name == "set-out":
            continue
        ours = task.key.startswith(f"{plan.key}/")
        groups[at[task.standing(plan.today)] if ours else 3][1].append(task)
    titles = {task.key: task.title for task in plan.tasks}
    blocks = []
    for heading, tasks in groups:
        if tasks:
            lines = [heading]
            for task in tasks:
                lines.append(wrap(_dates(task, plan.today), width, "  "))
                lines += [wrap(t, width, "    ") for t in _behind(task, plan, titles, said)]
            blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def _dates(task: Task, today: date) -> str:
    """Return a task's days and its title."""
    if task.earliest == task.latest:
        return f"{_day(task.likely, today)}: {task.title}"
    return f"{_day(task.earliest, today)} to {_day(task.latest, today)}: {task.title}"


def _day(day: date, today: date) -> str:
    words = short_day(day)
    return words if day.year == today.year else f"{words} {day.year}"


def _behind(task: Task, plan: Plan, titles: dict[str, str], said: set[str]) -> list[str]:
    """Return the likely day, how sure, why, after what and with what care."""
    words = []
    if task.earliest != task.latest:
        likely = f"most likely {say_day(task.likely, plan.today)}"
        sure = f"; {odds(task.probability)} chance that {task.sure_of}" if task.sure_of else ""
        words.append(f"{likely}{sure}")
    late = late_words(task, plan)
    words.append(late or f"{task.why} ({task.basis})" if task.basis else late or task.why)
    before = [_short(titles[key]) for key in task.depends_on if key in titles]
    if before:
        words.append(f"after: {listed([_small(title) for title in before])}")
    care = [text for text in plan.cautions if text in task.caution and text not in said]
    if care and care != [ESTIMATE]:
        said.update(care)
        words.append(f"Take care: {' '.join(care)}")
    return [sentence(w) if w.startswith("Take care") else w for w in words]


def _short(title: str) -> str:
    """Return a title without what follows its first clause."""
    return re.split(r", | with | and ", title)[0]


def shopping_words(shopping: Shopping | None) -> list[str]:
    """Return the shopping list, a line an item."""
    if shopping is None:
        return []
    lines = [bed_words(shopping), *plants_words(shopping)]
    lines += [heap_words(heap) for heap in shopping.heaps]
    if shopping.heaps:
        loads = loads_together(shopping.heaps)
        deep = small_length(shopping.renewal_depth_m)
        together = "together " if len(shopping.heaps) > 1 else ""
        lines.append(
            f"{together}{deep} deep, {count(loads, 'load')} at the volume and weight set for the "
            "vehicle; weights are for wet material, and its own label is the limit"
        )
    if shopping.feed is not None:
        target = shopping.feed.nitrogen_kg_m2 / KILOGRAMS_PER_POUND
        per_100 = target * 100.0 * SQUARE_METRES_PER_SQUARE_FOOT
        lines.append(
            f"{mass(shopping.feed.mass_kg)} of {shopping.fertilizer} "
            f"({number(100.0 * shopping.feed.nitrogen_share)} % nitrogen) for "
            f"{number(per_100, 2)} lb of nitrogen per 100 ft²; the label's rate stands above this"
        )
    if shopping.watering is not None:
        water = shopping.watering
        words = (
            f"{number(water.volume_m3 / CUBIC_METRES_PER_GALLON, 0)} gal "
            f"({number(1000.0 * water.volume_m3, 0)} L) to water in, "
            f"{small_length(water.depth_m)} over the bed"
        )
        if water.minutes is not None:
            words += f": {count(max(1, round(water.minutes)), 'minute')} at your flow"
        lines.append(words)
    return [f"· {line}" for line in lines]


def heap_words(heap: Heap) -> str:
    """Return a heap in cubic yards, bags and weight."""
    cubic_feet = heap.bag_m3 / CUBIC_METRES_PER_CUBIC_FOOT
    known = heap.material.basis
    return (
        f"{number(heap.volume_m3 / CUBIC_METRES_PER_CUBIC_YARD, 2)} yd³ "
        f"({number(heap.volume_m3, 2)} m³) of {heap.material.name}: "
        f"{count(heap.bags, 'bag')} of {number(cubic_feet)} cu ft, or "
        f"{mass(heap.mass_kg[1])} loose, up to {mass(heap.mass_kg[2])} wet (density: {known})"
    )


def pull_words(plan: Plan) -> list[str]:
    """Return what pulling early and late costs."""
    curve = plan.pull
    if curve is None or plan.task("pull") is None:
        return []
    today = plan.today
    bloom, late = curve.at(curve.best)
    best = (
        f"Pull about {say_day(curve.best, today)}: {count(curve.work_days, 'day')} of work lie "
        f"between pulling and setting out. That gives up {_days(bloom)} of bloom on average, "
        f"with {odds(curve.late_chance)} chance that the bed is not ready when the window opens "
        f"({_days(late)} late on average)."
    )
    weighed = (
        f"This weighs one day of planting late as {_days(curve.late_weight)} of bloom: "
        "an assumption, set your own."
    )
    return [best, weighed, *_other_days(curve, today)]


def _other_days(curve: PullCurve, today: date) -> list[str]:
    """Return what pulling a week earlier or later costs."""
    at = curve.day.index(curve.best)
    words = []
    for step, name in ((-7, "A week earlier"), (7, "A week later")):
        if 0 <= at + step < len(curve.day):
            bloom, late = curve.at(curve.day[at + step])
            words.append(
                f"{name}, {say_day(curve.day[at + step], today)}: {_days(bloom)} of bloom "
                f"given up, {_days(late)} late on average."
            )
    return words


def look_words(look: WaterLook | None, today: date) -> list[str]:
    """Return when to feel the soil: never an order to water."""
    if look is None:
        return []
    start = say_day(look.set_out, today)
    words = []
    if look.dry_spell is not None:
        days = (look.dry_spell - look.set_out).days
        words.append(
            f"Set out on {start} and watered in, without rain: feel the soil after "
            f"{count(days, 'day')}, {say_day(look.dry_spell, today)}."
        )
    else:
        words.append(f"Set out on {start}, the root zone keeps enough for six weeks without rain.")
    if look.likely is not None:
        spread = ""
        if look.early is not None and look.late is not None and look.early != look.late:
            spread = f", 8 years in 10 {between(look.early, look.late, today)}"
        words.append(
            f"With the rain of {count(look.years, 'past year')}: about "
            f"{say_day(look.likely, today)}{spread}."
        )
    if look.rain_known and look.stays_moist >= 0.05:
        words.append(f"In {odds(look.stays_moist)} of them rain kept it moist for six weeks.")
    words.append(
        "Water only what feels dry to the second finger joint, thoroughly, then let it dry. "
        f"Estimated for {look.soil} from temperature alone: wind and raised beds dry sooner."
    )
    return words


def change_words(moved: Sequence[Change]) -> list[str]:
    """Return what moved since the plan before."""
    if not moved:
        return ["Nothing moved."]
    words = []
    for change in moved:
        if change.what == "new":
            words.append(f"· New: {_small(change.title)}.")
        elif change.what == "gone":
            words.append(f"· No longer asked: {_small(change.title)}.")
        else:
            words.append(f"· {change.title}: {_shift(change)}.")
    return words


def _shift(change: Change) -> str:
    days = change.likely_days
    words = (
        f"{count(abs(days), 'day')} {'later' if days > 0 else 'earlier'}" if days else "same day"
    )
    width = change.latest_days - change.earliest_days
    if width:
        kind = "wider" if width > 0 else "narrower"
        words += f", its span {count(abs(width), 'day')} {kind}"
    return words


def _days(days: float) -> str:
    """Return days to a tenth: `1 day`, `2.5 days`."""
    return counted(days, 1, "day")


def _section(heading: str, lines: Sequence[str], width: int) -> str:
    if not lines:
        return ""
    return "\n".join([heading, *(wrap(line, width, "  ") for line in lines)])
