"""Today: a card a bed, with the sentence, one word of advice, and what to do this week."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster import book as kept
from forecaster.ground.errors import ForecasterError
from forecaster.page.say import Advice, advice_on, sentence_of, span
from forecaster.page.views.common import Here, bed_named, garden
from forecaster.page.views.week import lines_of

if TYPE_CHECKING:
    from forecaster.plan import WholePlan
    from forecaster.plan.week import Due

views = Blueprint("today", __name__)
AT_ONCE = 1  # beds worked out before the page is sent; others come one by one
SHOWN_TASKS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What is said of a bed today.

    Parameters
    ----------
    here : Here
    ready : bool
        Whether it is worked out already; if not, the page asks for it.
    first : tuple of str
        What must be known before all else: stale air, what is doubtful.
    station : str
        From which newer air can be fetched, if it is stale.
    tasks : tuple of Due
        Of this week.
    dots : list of Dot
    """

    here: Here
    ready: bool = True
    error: str = ""
    first: tuple[str, ...] = ()
    stale: bool = False
    station: str = ""
    advice: Advice | None = None
    dates: str = ""
    odds: str = ""
    sentence: str = ""
    soil: str = ""
    reason: str = ""
    worth: str = ""
    tasks: tuple[Due, ...] = ()
    more_tasks: int = 0
    strip: Strip | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """Twenty dots along the season, each one chance in twenty.

    Parameters
    ----------
    dots : tuple of (float, float)
        Place along the strip, 0 to 100, and height in the stack.
    tall : int
        The highest stack.
    now : float
        Where today lies.
    months : tuple of (float, str)
    never : int
        Dots that stand for never.
    words : str
        The same for those who cannot see it.
    """

    dots: tuple[tuple[float, float], ...]
    tall: int
    now: float
    months: tuple[tuple[float, str], ...]
    never: int
    words: str


@views.get("/")
def today() -> Answer | str:
    """Show a card for every bed."""
    if not garden().exists():
        return redirect("/begin", 303)
    with garden().open() as book:
        beds = kept.beds(book)
        if not beds:
            return redirect("/begin?step=bed", 303)
        wait = request.args.get("wait") == "1"
        at_once = AT_ONCE if garden().warm else 0
        cards = []
        fresh = 0
        for bed in beds:
            here = bed_named(book, bed.name)
            known = garden().has(book, bed.name, garden().plan_key(here.place, bed.name))
            if not known and fresh >= at_once and not wait:
                cards.append(Card(here=here, ready=False))
                continue
            fresh += not known
            cards.append(card_of(book, here))
    return render_template("today.html", cards=cards, here="today")


@views.get("/card")
def card() -> str:
    """Show the card of one bed."""
    with garden().open() as book:
        here = bed_named(book, request.args.get("bed"))
        return render_template("card.html", card=card_of(book, here))


@views.post("/scale")
def scale() -> Answer:
    """Show temperatures in the other scale from now on."""
    answer = redirect(_back(), 303)
    chosen = "F" if request.form.get("scale") == "F" else "C"
    answer.set_cookie("crossday_scale", chosen, samesite="Strict", httponly=True)
    return answer


def _back() -> str:
    """Return the page that asked, if it is one of ours."""
    path = request.form.get("back", "/")
    return path if path.startswith("/") and not path.startswith(("//", "/\\")) else "/"


def card_of(book: kept.Book, here: Here) -> Card:
    """Return the card of a bed; what cannot be answered is said on it."""
    try:
        whole = garden().whole(book, here.bed.name)
    except ForecasterError as error:
        return Card(here=here, error=sentence_of(error))
    from forecaster.words.account import GRIDDED_AIR
    from forecaster.words.phrases import odds
    from forecaster.words.window import lead, soil_words, stale_words, worth_words

    window, decision, day = whole.window, whole.plan.lead, whole.record.today
    now = here.now.date()
    stale = stale_words(window.so_far.last_day, window.so_far.stale_days)
    doubts = tuple(f"Check first: {one.sentence}" for one in whole.answer.doubtful)
    doubts += tuple(note for note in whole.answer.notes if note == GRIDDED_AIR)
    tasks = [due for due in lines_of(book, whole, here) if due.when in ("late", "week")]
    out = window.outlook
    if stale:  # dates and tasks of a day long past would be taken for today's
        from forecaster.answers.nearby import station_of

        return Card(
            here=here,
            first=(stale, *doubts),
            stale=True,
            station="" if here.invented else station_of(book, here.place.name),
            advice=advice_on(decision, now),
            sentence=lead(window, day, here.show),
            soil=soil_words(window, day, here.show),
        )
    if decision.crop is not None:
        return Card(
            here=here,
            first=doubts,
            advice=advice_on(decision, now),
            dates=span(decision.best, decision.best_until or decision.possible_until, day),
            sentence=_of_crops(whole),
            soil=soil_words(window, day, here.show),
            tasks=tuple(tasks[:SHOWN_TASKS]),
            more_tasks=max(0, len(tasks) - SHOWN_TASKS),
        )
    return Card(
        here=here,
        first=doubts,
        advice=advice_on(decision, now),
        dates=span(out.early, out.late, day),
        odds="" if out.early is None or out.late is None else "80 %",
        sentence=lead(window, day, here.show),
        soil=soil_words(window, day, here.show),
        reason=decision.reason,
        worth=worth_words(window, day),
        tasks=tuple(tasks[:SHOWN_TASKS]),
        more_tasks=max(0, len(tasks) - SHOWN_TASKS),
        strip=strip_of(whole, now, odds(window.outlook.never)),
    )


def _of_crops(whole: WholePlan) -> str:
    """Say when each of the crops goes in, the bed's name left out."""
    from forecaster.words.plan import plan_lead

    said = plan_lead(whole.plan).partition(": ")[2]
    return said[:1].upper() + said[1:]


def strip_of(whole: WholePlan, today: date, never_words: str) -> Strip | None:
    """Return the dots of a window's date, from today or the season's start to its end."""
    from forecaster.charts.data import dots, marks_of
    from forecaster.words.phrases import between

    window = whole.window
    mark = marks_of([window], [""])[0]
    days, never = dots(mark)
    if not days:
        return None
    first = min(today, days[0]) - timedelta(days=6)
    last = max(days[-1], today) + timedelta(days=10)
    size = (last - first).days

    def at(day: date) -> float:
        return round(100.0 * (day - first).days / size, 2)

    stack: dict[int, int] = {}
    placed = []
    for day in days:
        column = (day - first).days * 30 // size
        stack[column] = stack.get(column, 0) + 1
        placed.append((round((column + 0.5) / 30 * 100.0, 2), float(stack[column])))
    month = date(first.year, first.month, 1)
    months = []
    while month <= last:
        if month >= first:
            months.append((at(month), f"{month:%b}"))
        month = (month.replace(day=28) + timedelta(days=5)).replace(day=1)
    words = f"Each dot is one chance in twenty, {between(days[0], days[-1], today)}."
    return Strip(
        dots=tuple(placed),
        tall=max(stack.values()),
        now=at(today),
        months=tuple(months),
        never=never,
        words=words + (f" Never this season: {never_words}." if never else ""),
    )
