"""What is wanted, what came of it and what it cost, in sentences."""

from __future__ import annotations

from datetime import date

from forecaster.answers.summary import BedSeason, SeasonSummary
from forecaster.book import Cost, Note, Outcome, Want, say_name
from forecaster.plan.history import Past, Return
from forecaster.plan.tasks import Plan
from forecaster.words.book import one_line, settled_line
from forecaster.words.buying import money, weeks_words
from forecaster.words.measures import small_length
from forecaster.words.phrases import Show, count, degrees, listed, number, say_day

PAST_SHOWN = 6


def before_words(plan: Plan, last: int = PAST_SHOWN, show: Show = "F") -> list[str]:
    """Return what was planted in the bed before and what came of it; what returns too soon first.

    It is what was seen, beside the forecast and not in it; the last few plantings are told.
    """
    past = plan.history[len(plan.history) - min(last, len(plan.history)) :]
    words = [f"· {return_line(one, plan.today)}" for one in plan.returns]
    return words + [f"· {past_line(one, plan.today, show)}" for one in past]


def return_line(one: Return, today: date) -> str:
    """Say that a family would come back to its bed too soon, and who says so."""
    same = one.crop == one.before
    kin = "" if same else f", of the {one.named} too,"
    years = f"{number(one.least_years)} to {number(one.most_years)} years"
    who = one.source.split(",")[0]
    return (
        f"Too soon for {one.crop.lower()}: {one.before.lower()}{kin} was planted here on "
        f"{say_day(one.planted, today)}; {who} advises {years} between vegetables of one family "
        "in the same place."
    )


def past_line(one: Past, today: date, show: Show = "F") -> str:
    """Return an earlier planting in words: how warm the soil was, and what survived."""
    soil = "" if one.soil_c is None else f", soil about {degrees(one.soil_c, show)} (estimated)"
    head = f"{say_day(one.planted, today)}{soil}: "
    if one.outcome is not None:
        return head + came_of(one.outcome, today)
    many = "" if one.how_many is None else f"{one.how_many:,} "
    return f"{head}{many}{one_line(one.what)}; what came of it is not written down"


def want_line(want: Want) -> str:
    """Return one thing that goes into a bed in words."""
    name = one_line(" ".join(part for part in (want.what, want.variety) if part))
    parts = []
    if want.colours:
        parts.append(listed([one_line(c) if m is None else f"{m} {c}" for c, m in want.colours]))
    if want.plants is not None:
        parts.append(count(want.plants, "plant"))
    if want.spacing_m is not None:
        parts.append(f"{small_length(want.spacing_m)} apart")
    if want.flats:
        each = [
            f"{size}{'' if price is None else f' at {money(price, one_line(want.currency))}'}"
            for size, price in want.flats
        ]
        parts.append(f"flats of {' or '.join(each)}")
    if want.spare_share:
        parts.append(f"{number(100.0 * want.spare_share)} % spare")
    if want.weeks is not None:
        parts.append(f"growers need {weeks_words(want.weeks)}")
    told = f": {', '.join(parts)}" if parts else ""
    return f"{say_name(want.bed)}, each {want.season}: {name}{told}"


def outcome_line(outcome: Outcome, today: date) -> str:
    """Return what came of a planting in words."""
    return (
        f"{say_name(outcome.bed)}, planted {say_day(outcome.planted, today)}: "
        f"{came_of(outcome, today)}"
    )


def came_of(outcome: Outcome, today: date) -> str:
    """Return what was planted and what of it was alive, without bed and day of planting."""
    many = "" if outcome.how_many is None else f"{outcome.how_many:,} "
    words = f"{many}{one_line(outcome.what)}"
    if outcome.share is not None:
        alive = "" if outcome.survived is None else f"{outcome.survived:,} survived, "
        words += f"; {alive}{number(100.0 * outcome.share, 0)} %"
        words += " of them" if alive else " survived"
        words += f", seen {say_day(outcome.seen, today)}"
    return words + (f" – {one_line(outcome.note)}" if outcome.note.strip() else "")


def cost_line(cost: Cost, today: date) -> str:
    """Return what was paid in words."""
    bed = "" if cost.bed is None else f" ({say_name(cost.bed)})"
    paid = money(cost.amount, one_line(cost.currency))
    return f"{say_day(cost.day, today)}, {cost.season}: {paid} for {one_line(cost.what)}{bed}"


def summary_words(summary: SeasonSummary, today: date, show: Show = "F") -> list[str]:
    """Return a season on one page, a line each; the first adds it up."""
    lines = [summary_lead(summary)]
    for bed in summary.beds:
        if bed.quiet:
            continue
        lines += ["", say_name(bed.bed)]
        lines += [f"  {words}" for words in _bed_words(bed, today, show)]
    general = [*(_paid(one) for one in summary.costs), *(_note(n, today) for n in summary.notes)]
    if general:
        lines += ["", "The garden", *(f"  {words}" for words in general)]
    quiet = [say_name(bed.bed) for bed in summary.beds if bed.quiet]
    if quiet:
        lines += ["", f"Nothing in the book of {listed(quiet)}."]
    return lines


def summary_lead(summary: SeasonSummary) -> str:
    """Return the sentence that adds a season up."""
    year, name = summary.season.split("-")
    beds = sum(bool(bed.planted) for bed in summary.beds)
    words = f"{name.capitalize()} {year}: {count(beds, 'bed')} planted"
    if summary.plants:
        words += f" with {count(summary.plants, 'plant')}"
    alive, of = summary.seen
    if of:
        words += f"; {alive:,} of {of:,} counted survived, {number(100.0 * alive / of, 0)} %"
    for currency, amount in summary.money.items():
        words += f"; {money(amount, one_line(currency) or 'without a currency')}"
    return f"{words}."


def _bed_words(bed: BedSeason, today: date, show: Show) -> list[str]:
    words = []
    for one in bed.planted:
        many = "" if one.how_many is None else f"{one.how_many:,} "
        seen = f"{many}{one_line(one.what)}" if one.outcome is None else came_of(one.outcome, today)
        words.append(f"{say_day(one.day, today)}: planted {seen}")
        words += [f"  {settled_line(each, today, show)}" for each in one.came]
    words += [
        f"{say_day(one.day, today)}: pulled {'' if one.how_many is None else f'{one.how_many:,} '}"
        f"{one_line(one.what)}"
        for one in bed.pulled
    ]
    words += [_paid(one) for one in bed.costs]
    told = [(bed.readings, "reading of the soil", "readings of the soil"),
            (bed.tasks_done, "task ticked off", "tasks ticked off")]  # fmt: skip
    kept = [f"{n:,} {one if n == 1 else more}" for n, one, more in told if n]
    words += [", ".join(kept)] if kept else []
    return words + [_note(one, today) for one in bed.notes]


def _paid(cost: Cost) -> str:
    return f"paid {money(cost.amount, one_line(cost.currency))} for {one_line(cost.what)}"


def _note(note: Note, today: date) -> str:
    return f"{say_day(note.day, today)}: {one_line(note.text)}"
