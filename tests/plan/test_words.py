"""The plan said: text at every width, JSON, CSV without formulas, and the calendar file."""

import csv
import io
import json
import math
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from forecaster import find_crop
from forecaster.answers.decision import Decision
from forecaster.chance.days import DayChances
from forecaster.ground.errors import FileError
from forecaster.plan import Bed, FrostSpan, Wants, changes, circle, make_plan
from forecaster.plan.water import WaterLook
from forecaster.plan.week import dues
from forecaster.words.plan import change_words, plan_lead, plan_text
from forecaster.words.plan_calendar import garden_calendar, sequence, uid
from forecaster.words.plan_forms import (
    moved_json,
    plan_json,
    safe_cell,
    tasks_of_json,
)
from forecaster.words.plan_short import plan_answer
from forecaster.words.week_forms import COLUMNS, tasks_csv

TODAY = date(2026, 9, 1)
LOOK = WaterLook(
    set_out=date(2026, 10, 13),
    early=date(2026, 10, 16),
    likely=date(2026, 10, 18),
    late=date(2026, 10, 25),
    dry_spell=date(2026, 10, 17),
    stays_moist=0.1,
    years=12,
    soil="loam",
    rain_known=True,
)

MOIST = replace(LOOK, dry_spell=None, late=None, likely=None, early=None, stays_moist=0.9)


def calendar_of(plan) -> bytes:
    return garden_calendar(dues(plan, now=plan.today, place="A"), plan.today)


@pytest.fixture(scope="module")
def plans(plan, later, window, spring):
    """A plan in every state that words must serve."""
    return {
        "whole": plan,
        "later": later,
        "with look": replace(plan, look=LOOK),
        "moist": replace(
            plan, look=MOIST
        ),
        "bare": make_plan(window(), Bed(), today=TODAY),
        "spring": make_plan(spring, Bed(name="Bed", area_m2=20.0), today=date(2027, 1, 5)),
        "rest": make_plan(window(), Bed(area_m2=5.0, replanted=False), today=TODAY),
        "planted": make_plan(
            window(), Bed(outline=circle(1.0)), Wants(planted=date(2026, 10, 9)),
            today=date(2026, 10, 20),
            frost=FrostSpan(date(2026, 10, 15), date(2026, 11, 1), date(2026, 11, 20)),
        ),
        "over": make_plan(
            window(), Bed(), Wants(planted=date(2026, 8, 2)), today=date(2027, 1, 20)
        ),
        "doubtful": make_plan(window(share=(0.05,) * 8), Bed(area_m2=3.0), today=TODAY),
        "never": make_plan(window(share=(0.01,)), Bed(), today=TODAY),
        "late": make_plan(
            replace(window(), verdict="late", reason="it settled more than six weeks ago"),
            Bed(),
            today=date(2026, 12, 20),
        ),
    }  # fmt: skip


STATES = ["whole", "later", "with look", "moist", "bare", "spring", "rest", "planted", "over",
          "doubtful", "never", "late"]  # fmt: skip


@pytest.mark.parametrize("width", [30, 60, 72, 88, 200])
@pytest.mark.parametrize("state", STATES)
def test_words_fit_and_hold_no_nonsense(plans, state, width):
    text = plan_text(plans[state], width, changes(plans["whole"], plans[state]))
    assert max(len(line) for line in text.splitlines()) <= max(30, min(88, width))
    assert not re.search(r"\bnan\b|\bNone\b|\binf\b|NaT|\{|\}", text)
    assert "  ." not in text
    assert not re.search(r"(?<![\d.])1 (days|plants|flats|bags|loads|minutes)\b", text)
    assert text.endswith("\n")


@pytest.mark.parametrize("state", STATES)
def test_the_first_line_answers(plans, state):
    first = plan_text(plans[state], 88).splitlines()[0]
    assert first.startswith(plans[state].bed.name)
    assert re.search(
        r"set out about|planted on|cover and rest|no planting date|never gets there|: late –",
        plan_lead(plans[state]),
    )


def test_lead_in_full(plan):
    assert plan_lead(plan) == (
        "North bed, autumn 2026: set out about 10 October, 95 % chance between 2 and "
        "25 October. Now: order flats, by 4 September."
    )


def test_all_cautions_are_said_once_at_least(plans):
    text = " ".join(plan_text(plans["whole"], 88).split())
    for caution in plans["whole"].cautions:
        assert caution in text


def test_numbers_a_shopper_reads(plan):
    """By hand for 100 ft²: 25/27 yd³ in all, 222 plants row by row, 1.25 lb of 12-0-0."""
    text = " ".join(plan_text(plan, 88).split())
    for words in (
        "0.62 yd³ (0.47 m³) of bark fines: 9 bags of 2 cu ft",
        "0.31 yd³ (0.24 m³) of compost: 9 bags of 1 cu ft",
        "222 plants at 8 in (20.3 cm), square rows, counted row by row",
        "5 flats of 48 (18 left over), 110.00 in all, 0.46 a plant",
        "1.2 lb (0.57 kg) of 12-0-0 (12 % nitrogen) for 0.15 lb of nitrogen per 100 ft²",
        "31 gal (118 L) to water in",
        "6 minutes at your flow",
    ):
        assert words in text


def test_a_look_is_no_order_to_water(plans):
    text = " ".join(plan_text(plans["with look"], 88).split())
    assert "without rain: feel the soil after 4 days, 17 October" in text
    assert "8 years in 10 between 16 and 25 October" in text
    assert "Water only what feels dry" in text


def test_what_moved_in_words(plan, later):
    words = " ".join(change_words(changes(plan, later)))
    assert "Set out the plants: 3 days later" in words
    assert change_words(()) == ["Nothing moved."]


# --- JSON and CSV ---


@pytest.mark.parametrize("state", STATES)
def test_json_is_strict_and_reads_back(plans, state):
    made = plans[state]
    text = json.dumps(plan_json(made), allow_nan=False)
    back = tasks_of_json(text)
    assert changes(back, made) == ()
    assert len(back) == len(made.tasks)


def test_json_has_units_in_its_keys(plan):
    shopping = plan_json(plan)["shopping"]
    assert shopping["area_ft2"] == pytest.approx(100.0)
    assert shopping["bulk"][0]["volume_yd3"] + shopping["bulk"][1]["volume_yd3"] == pytest.approx(
        0.9259, abs=0.0001
    )
    assert shopping["fertilizer"]["mass_lb"] == pytest.approx(1.25, abs=0.005)


def test_moved_as_json(plan, later):
    rows = moved_json(changes(plan, later))
    assert all(row["what"] in {"moved", "new", "gone"} for row in rows)
    json.dumps(rows, allow_nan=False)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"tasks": [{"key": 1}]}', '{"tasks": 3}', "no"])
def test_what_is_no_plan_is_refused(text):
    with pytest.raises(FileError, match="this is no plan"):
        tasks_of_json(text, "old.json")


@pytest.mark.parametrize("state", STATES)
def test_csv_reads_back_and_starts_no_formula(plans, state):
    made = plans[state]
    due = dues(made, now=made.today)
    rows = list(csv.reader(io.StringIO(tasks_csv(due))))
    assert tuple(rows[0]) == COLUMNS
    assert [row[0] for row in rows[1:]] == [made.bed.name] * len(due)
    assert len({row[2] for row in rows[1:]}) == len(due), "a key names one task"
    assert all(len(row) == len(COLUMNS) for row in rows)
    for row in rows:
        assert not [cell for cell in row if cell[:1] in set("=+-@\t\r\n")]


@given(st.text(max_size=30))
def test_no_cell_is_a_formula(text):
    cell = safe_cell(text)
    assert cell.lstrip(" ")[:1] not in set("=+-@\t\r\n") or not cell
    assert cell in (text, f"'{text}")


# --- iCalendar ---


@pytest.mark.parametrize("state", STATES)
def test_the_calendar_is_read_back(plans, state):
    """RFC 5545: one VCALENDAR with PRODID and VERSION; each VEVENT with UID and DTSTAMP."""
    made = plans[state]
    due = dues(made, now=made.today, place="Garden")
    raw = garden_calendar(due, made.today)
    calendar = Calendar.from_ical(raw)
    assert calendar["version"] == "2.0"
    assert calendar["prodid"].startswith("-//Crossday//")
    events = calendar.walk("VEVENT")
    open_ = [one for one in due if one.when in ("week", "ahead")]
    assert len(events) == len(open_)
    for event, one in zip(events, open_, strict=True):
        assert event["uid"] == uid("Garden", made.bed.name, one.task.key)
        assert event.decoded("dtstamp") == datetime(
            made.today.year, made.today.month, made.today.day, tzinfo=UTC
        )
        # One day, none that is over: DTEND is the day after (RFC 5545, 3.6.1).
        assert made.today <= event.decoded("dtstart") == one.day
        assert one.task.earliest <= one.day <= one.task.latest
        assert event.decoded("dtend") == one.day + timedelta(days=1)
        assert not event.errors
        (alarm,) = event.walk("VALARM")
        # Required of a DISPLAY alarm (3.6.6).
        assert alarm["action"] == "DISPLAY"
        assert alarm["description"]
        assert alarm.decoded("trigger") < timedelta(0)


def test_lines_are_folded_and_ended_as_the_standard_says(plan):
    """RFC 5545, 3.1: CRLF, at most 75 octets."""
    raw = calendar_of(plan)
    assert raw.endswith(b"END:VCALENDAR\r\n")
    lines = raw.split(b"\r\n")
    assert all(len(line) <= 75 and b"\n" not in line for line in lines)


def test_one_plan_makes_one_file(plan):
    assert calendar_of(plan) == calendar_of(plan)


def test_a_second_import_updates_instead_of_doubling(plan, later):
    """Same UIDs, greater SEQUENCE and DTSTAMP (RFC 5545, 3.8.7.4)."""
    old, new = (
        {str(e["uid"]): e for e in Calendar.from_ical(calendar_of(p)).walk("VEVENT")}
        for p in (plan, later)
    )
    both = old.keys() & new.keys()
    assert len(both) >= len(plan.tasks) // 2
    for key in both:
        assert new[key]["sequence"] > old[key]["sequence"]
        assert new[key].decoded("dtstamp") > old[key].decoded("dtstamp")


def test_beds_and_places_do_not_share_events(plan):
    assert len({uid(p, b, "2026-autumn/feed") for p in ("A", "B") for b in ("north", "south")}) == 4
    assert uid("A", "B", "k") != uid("AB", "", "k")


def test_the_uid_of_a_task_is_for_ever():
    """Changing this would double every calendar made before (our own earlier output)."""
    assert uid("Garden", "North bed", "2026-autumn/feed") == UID_OF_OLD


UID_OF_OLD = "c03d9135-f20e-515a-88a7-a499480d213c"


@given(st.dates(date(2020, 1, 1), date(2100, 1, 1)), st.integers(0, 99))
def test_a_later_day_has_a_greater_sequence(day, revision):
    assert sequence(day + timedelta(days=1)) > sequence(day, revision) >= sequence(day)
    assert sequence(day, revision) < 2**31


@settings(max_examples=40, deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=60))
def test_any_name_of_a_bed_survives_the_calendar(plan, name):
    made = replace(plan, bed=replace(plan.bed, name=name), tasks=plan.tasks[-1:])
    (event,) = Calendar.from_ical(calendar_of(made)).walk("VEVENT")
    assert str(event["summary"]) == f"{plan.tasks[-1].title} ({name})"


def test_probabilities_in_json_are_numbers(plan):
    for row in plan_json(plan)["tasks"]:
        assert math.isfinite(row["probability"])


def test_several_crops_are_each_said_and_counted():
    early, late = date(2026, 10, 10), date(2026, 10, 20)

    def crop(name: str, best: date) -> Decision:
        days = tuple(best + timedelta(days=k) for k in (-3, 0, 3))
        setting = DayChances(days, (0.2, 0.6, 0.2))
        return Decision(
            what=name.capitalize(), crop=find_crop(name), season="autumn", setting=setting,
            season_start=date(2026, 8, 1), season_end=date(2027, 1, 31), opens=best, best=best,
            verdict="wait", reason="the soil is too warm before",
        )  # fmt: skip

    made = make_plan([crop("viola", late), crop("pansy", early)], Bed(area_m2=4.0), today=TODAY)
    assert "set out pansy about 10 October; set out viola about 20 October" in plan_lead(made)
    days = {task.key.split("/", 1)[1]: task.likely for task in made.tasks}
    assert (days["set-out/pansy"], days["set-out/viola"]) == (early, late)
    assert days["water-in/viola"] == late
    assert days["pull"] < early
    assert sum(part.plants for part in made.shopping.parts) == made.shopping.plants
    assert [part.area_m2 for part in made.shopping.parts] == [2.0, 2.0]


@pytest.mark.parametrize("width", [30, 60, 80])
@pytest.mark.parametrize("state", STATES)
def test_a_short_plan_says_the_same_sentence_and_every_late_task(plans, state, width):
    plan = plans[state]
    texts = {
        level: plan_answer(plan, width, notes=("The air is odd.",), level=level)
        for level in ("brief", "default", "full")
    }
    assert len(texts["brief"]) <= len(texts["default"])
    for text in texts.values():
        assert max(len(line) for line in text.splitlines()) <= max(30, width)
        said = " ".join(text.split())
        assert said.startswith(" ".join(plan_lead(plan).split()))
        assert "The air is odd." in said
        for task in plan.tasks:
            if task.standing(plan.today) == "overdue" and task.likely != plan.wants.planted:
                assert task.title in said
    assert "More: --full" in texts["brief"]
    assert "More: --full" not in texts["full"]
    if plan.shopping is not None:
        assert "To buy" in texts["default"]
        assert "To buy" not in texts["brief"]
