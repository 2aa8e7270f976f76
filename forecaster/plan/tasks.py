"""What must be done by when: tasks as frozen values, and the words that belong to each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from forecaster.answers.decision import Decision
from forecaster.plan.bed import Bed, Wants
from forecaster.plan.history import Past, Return
from forecaster.plan.pull import PullCurve
from forecaster.plan.supplies.shopping import Shopping
from forecaster.plan.water import WaterLook

Season = Literal["autumn", "spring"]
Standing = Literal["overdue", "now", "ahead"]

DIG = (
    "Before digging deeper than hand tools reach, have buried utilities located: in the US call "
    "811, elsewhere the local service."
)
DUST = "Gloves on; do not breathe the dust of bulk bark and compost: damp it, or wear a mask."
LIFT = "Lift with care; keep every load within the vehicle's rating."
LABEL = "Use any product by its label; the label stands above the amount given here."
LOCAL_WATER = "Local water rules come first."
ESTIMATE = (
    "Planting dates are estimates: where your local extension service or a licensed professional "
    "says otherwise, they know better."
)
WET = (
    "Soil too wet to work is too wet at any temperature: squeeze a handful; while it stays a "
    "sticky ball, wait."
)
SOIL_TEST = "Have the soil tested, its pH too, every few years: what the laboratory says goes."
RESIDUE = (
    "Compost, manure and straw can carry weedkiller that cripples broad-leaved plants for a "
    "season: ask the seller, or try it on a few beans in a pot."
)
MANURE = (
    "Where food grows, raw manure goes on no later than 120 days before a harvest that touches "
    "the soil, 90 days before others (US organic rule, 7 CFR 205.203; from memory); local rules "
    "come first."
)
HEAT = "In heat work early, drink, rest in the shade; dizziness and nausea are the signs to stop."
CAUTIONS = (
    ESTIMATE, WET, DIG, LABEL, SOIL_TEST, RESIDUE, MANURE, DUST, LIFT, HEAT, LOCAL_WATER,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to do.

    Parameters
    ----------
    key : str
        Stable from one plan to the next, as ``2026-autumn/set-out``, with the crop behind it
        where several go in.
    title : str
    earliest, likely, latest : date
        The span, and the day most likely right.
    probability : float
        How sure, 0 to 1: what of is said in `sure_of`.
    sure_of : str
        What the probability is of; empty if it is of nothing.
    why : str
    depends_on : tuple of str
        Keys of tasks that come before.
    caution : str
    basis : str
        How well its days are known.
    """

    key: str
    title: str
    earliest: date
    likely: date
    latest: date
    probability: float
    sure_of: str
    why: str
    depends_on: tuple[str, ...] = ()
    caution: str = ""
    basis: str = ""

    @property
    def name(self) -> str:
        """The task's name without its season and its crop."""
        return self.key.split("/")[1]

    def standing(self, today: date) -> Standing:
        """Return whether the span is over, running or to come."""
        if self.latest < today:
            return "overdue"
        return "now" if self.earliest <= today else "ahead"


@dataclass(frozen=True, slots=True)
class FrostSpan:
    """Dates of the frost that matters: the first in autumn, the last in spring.

    Parameters
    ----------
    early, likely, late : date
        10, 50 and 90 % dates, in the order of the calendar.
    """

    early: date
    likely: date
    late: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a bed's changeover asks of its owner, as it stands on a day.

    Parameters
    ----------
    key : str
        Year of the season's middle, and the season: ``2026-autumn``.
    season : {"autumn", "spring"}
    today : date
    bed : Bed
    wants : Wants
    decisions : tuple of Decision
        What goes in, what opens first in front.
    tasks : tuple of Task
        By their likely day.
    pull : PullCurve or None
    shopping : Shopping or None
    look : WaterLook or None
    notes : tuple of str
    history : tuple of Past
        What was planted there before, and what came of it.
    returns : tuple of Return
        Families of vegetables that would come back too soon.
    cautions : tuple of str
    """

    key: str
    season: Season
    today: date
    bed: Bed
    wants: Wants
    decisions: tuple[Decision, ...]
    tasks: tuple[Task, ...]
    pull: PullCurve | None
    shopping: Shopping | None
    look: WaterLook | None
    notes: tuple[str, ...]
    history: tuple[Past, ...] = ()
    returns: tuple[Return, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS

    def task(self, name: str) -> Task | None:
        """Return a task of this season by its name, as ``set-out``; None if there is none."""
        ours = f"{self.key}/{name}"
        return next((task for task in self.tasks if f"{task.key}/".startswith(f"{ours}/")), None)

    @property
    def lead(self) -> Decision:
        """The decision that the bed's own tasks are counted from."""
        return self.decisions[0]


@dataclass(frozen=True, slots=True)
class TaskWords:
    """What is said of a task: its title, why it is done, after what, and with what care."""

    title: str
    why: str
    depends_on: tuple[str, ...] = ()
    caution: str = ""


WORDS: dict[str, TaskWords] = {
    "read-soil": TaskWords(
        "Read the soil thermometer, once a week",
        "each reading narrows the window; the hour worth most stands with the forecast",
    ),
    "order": TaskWords(
        "Order flats", "growers need the weeks; counted so that even an early window is met"
    ),
    "sow": TaskWords(
        "Sow under cover, if you raise your own",
        "so many weeks from sowing to setting out, counted back from the window",
    ),
    "stop-feeding": TaskWords(
        "Stop feeding what grows there now", "plants soon pulled need no more", (), LABEL
    ),
    "edge": TaskWords(
        "Mow a last time and re-edge where turf meets the bed",
        "clippings and cut turf go out before the bed is clean",
        (),
        DIG,
    ),
    "pull": TaskWords(
        "Pull what is there",
        "weighs days of bloom given up against planting late",
        ("stop-feeding",),
    ),
    "renew": TaskWords(
        "Renew the bed with bark fines and compost",
        "once a year, at the autumn change, while the bed is empty",
        ("pull",),
        f"{DIG} {WET} {RESIDUE} {MANURE} {DUST} {LIFT} {HEAT}",
    ),
    "rest": TaskWords(
        "Cover the bed with wood chips and let it rest",
        "nothing is planted; bare soil would grow weeds and crust",
        ("pull",),
        f"{DUST} {LIFT}",
    ),
    "rest-ready": TaskWords(
        "The rested bed is ready: rake the chips aside and plant",
        "chips lie on top and are not dug in, as they would bind nitrogen",
        ("rest",),
    ),
    "set-out": TaskWords(
        "Set out the plants",
        "the soil has settled past the threshold",
        ("pull",),
        f"{ESTIMATE} {WET}",
    ),
    "water-in": TaskWords(
        "Water in, thoroughly", "settles the soil round the roots", ("set-out",), LOCAL_WATER
    ),
    "first-look": TaskWords(
        "Feel the soil for the first time",
        "4–5 days after planting in a dry spell: new roots still live in what their cells held; "
        "water only if it is dry to the finger",
        ("water-in",),
        LOCAL_WATER,
    ),
    "later-looks": TaskWords(
        "Feel the soil again, weekly and after dry wind",
        "water thoroughly where it is dry, then let it dry: roots follow the water down",
        ("first-look",),
        LOCAL_WATER,
    ),
    "feed": TaskWords(
        "Feed",
        "roots have left their cells and can use it; in soil below 60 °F at least half of the "
        "nitrogen as nitrate",
        ("set-out",),
        f"{LABEL} {SOIL_TEST}",
    ),
    "watch-frost": TaskWords(
        "Watch the nights for frost",
        "new plants are softest; have covers ready for clear, still nights",
        ("set-out",),
    ),
}

TITLES = {
    ("order", "seed"): "Get the seed",
    ("order", "bulb"): "Order bulbs",
    ("order", "tuber"): "Order seed tubers or slips",
    ("order", "crown"): "Order crowns",
    ("set-out", "seed"): "Sow in the bed",
    ("set-out", "bulb"): "Plant the bulbs",
    ("set-out", "tuber"): "Plant the tubers or slips",
    ("set-out", "crown"): "Plant the crowns",
}
"""Titles of what goes in otherwise than as a plant."""

IN_SPRING = {"edge": "Mow, and re-edge where turf meets the bed"}
"""Titles that differ in spring."""


LATE = {
    "order": "too late to be sure of it: ask what is in stock",
    "sow": "too late to sow for this window: buy flats",
    "read-soil": "read it today all the same",
    "stop-feeding": "stop now",
}


def late_words(task: Task, plan: Plan) -> str:
    """Say what to do where a task's days are over; nothing where they are not."""
    if task.standing(plan.today) != "overdue" or plan.wants.planted is not None:
        return ""
    return LATE.get(task.name, "do it now if it is not done")
