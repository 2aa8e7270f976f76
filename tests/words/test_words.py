"""What the tool says: fractions, dates, sentences for every state, and JSON."""

import json
import math
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.answers.window import Outlook, SoFar, Threshold, Typical, Window, Worth
from forecaster.ground.site import Site
from forecaster.ground.units import f_to_c
from forecaster.ingest.account import Account, Column, Refusal, Suspect
from forecaster.words import Told, account_words, lead, to_json, told_json, told_text
from forecaster.words.phrases import (
    between,
    clock,
    degrees,
    difference,
    length,
    number,
    odds,
    percent,
    say_years,
)
from forecaster.words.window import weeks_shown, what, window_words

TODAY = date(2026, 10, 5)
COOL = Threshold(
    name="cool-65", label="Cool-season flats", threshold_c=f_to_c(65.0), direction="falling"
)
WARM = Threshold(
    name="warm-65", label="Warm-season plants", threshold_c=f_to_c(65.0), direction="rising"
)
WEEKS = tuple(
    (TODAY + timedelta(days=7 * k), p) for k, p in ((1, 0.2), (2, 0.55), (3, 0.85), (4, 0.97))
)
WINDOW = Window(
    threshold=COOL,
    season_start=date(2026, 8, 1),
    season_end=date(2027, 1, 31),
    typical=Typical(
        dates=tuple((year, date(year, 10, 14)) for year in range(2004, 2023)),
        median=date(2026, 10, 14),
        early=date(2026, 10, 2),
        late=date(2026, 10, 25),
        never_years=(),
        already_years=(),
        ground_days=6.0,
    ),
    so_far=SoFar(
        last_day=TODAY,
        soil_c=18.9,
        sd_c=0.8,
        trend_c_per_week=-1.2,
        first_touch=date(2026, 10, 3),
        touches=20,
        came_back=14,
        settled_chance=0.02,
    ),
    outlook=Outlook(
        median=date(2026, 10, 16),
        early=date(2026, 10, 9),
        late=date(2026, 10, 24),
        never=0.0,
        by_week=WEEKS,
        day=(date(2026, 10, 16),),
        share=(1.0,),
    ),
    verdict="wait",
    reason="it has not settled.",
    worth=Worth(15.0, 12.2, 9.1, 7.5, 0.1016),
)
ACCOUNT = Account(
    path="air.csv",
    format="table a row a day",
    why_format="headings Date, tmin, tmax",
    units="°C",
    why_units="the heading says so",
    rows_read=100,
    rows_used=96,
    refused=tuple(Refusal(line, "no temperature") for line in (5, 9, 12, 40)),
    refused_count={"no temperature": 4},
    gap_days=4,
    longest_gap="2 days, 2020-01-02 to 2020-01-03",
    suspects=(
        Suspect(
            kind="stuck",
            column="tmin_c",
            first="2020-07-01",
            last="2020-07-19",
            values=19,
            action="dropped",
            note="19 days of 0.0 °C",
        ),
    ),
    notes=("The time of observation is not known.",),
)
SITE = Site(-36.2, 146.6, 0.1016)


def told(*windows: Window, **changes) -> Told:
    changes = {"accounts": {"Air": ACCOUNT}} | changes
    return Told(windows=windows, today=TODAY, site=SITE, **changes)


# --- phrases -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "less than 1 %"),
        (0.004, "less than 1 %"),
        (0.02, "2 %"),
        (0.5, "50 %"),
        (0.8, "80 %"),
        (0.95, "95 %"),
        (0.999, "more than 99 %"),
        (1.0, "more than 99 %"),
    ],
)
def test_odds_are_never_more_certain_than_they_are(chance, words):
    assert odds(chance) == words


@given(st.floats(0, 1))
def test_chances_have_one_form(chance):
    said = re.fullmatch(r"(less than |more than )?(\d+) %", odds(chance))
    assert said is not None
    assert 0 < int(said[2]) < 100
    assert int(said[2]) == pytest.approx(100 * chance, abs=1.0)
    assert percent(chance) not in ("0 %", "100 %")


def test_dates_say_what_differs():
    assert between(date(2026, 10, 9), date(2026, 10, 24), TODAY) == "between 9 and 24 October"
    assert between(date(2026, 9, 28), date(2026, 10, 4), TODAY) == (
        "between 28 September and 4 October"
    )
    assert between(date(2026, 12, 20), date(2027, 1, 8), TODAY) == (
        "between 20 December 2026 and 8 January 2027"
    )
    assert between(date(2027, 4, 3), date(2027, 4, 9), TODAY) == "between 3 and 9 April 2027"
    assert between(TODAY, TODAY, TODAY) == "on 5 October"


def test_temperatures_and_differences_are_different_things():
    assert degrees(f_to_c(65.0), "F") == "65 °F"
    assert degrees(f_to_c(65.0), "F", both=True) == "65 °F (18.3 °C)"
    assert degrees(18.333, "C", both=True) == "18.3 °C"
    assert difference(-1.0, "F") == "1.8 °F"
    assert difference(1.0, "C") == "1 °C"


def test_lengths_hours_numbers_and_years():
    assert (length(0.1), length(0.1016), length(0.0)) == (
        "4 in (10 cm)",
        "4 in (10 cm)",
        "the surface",
    )
    assert length(0.03) == "1.2 in (3 cm)"
    assert (clock(7.5), clock(15.0), clock(23.999)) == ("7:30", "15:00", "0:00")
    assert (number(20.0, 0), number(20.0), number(100), number(-0.01)) == ("20", "20", "100", "0")
    assert say_years([2016]) == "2016"
    assert say_years([2018, 2012, 2016, 2017]) == "2012 and 2016–2018"


# --- the sentence --------------------------------------------------------------------------


def test_the_sentence_reads_as_it_was_asked_for():
    assert lead(changed(so_far__touch_c=f_to_c(64.6)), TODAY) == (
        "Cool-season flats: the soil settles below 65 °F about 16 October, 80 % chance between 9 "
        "and 24 October; it was first 64.6 °F on 3 October, but such a first time lasted in 6 of "
        "20 seasons."
    )


def changed(window: Window = WINDOW, **parts) -> Window:
    """A window with some fields of its parts changed: outlook__never=0.3."""
    for path, value in parts.items():
        part, _, name = path.partition("__")
        window = replace(
            window, **{part: replace(getattr(window, part), **{name: value}) if name else value}
        )
    return window


UNTOUCHED = changed(so_far__first_touch=None)


@pytest.mark.parametrize(
    ("window", "words"),
    [
        (changed(UNTOUCHED, so_far__settled_chance=0.3), ", 30 % that it already has."),
        (
            changed(UNTOUCHED, outlook__late=None, outlook__never=0.12),
            ("the soil settles below 65 °F about 16 October, if it does, 50 % chance by then, 10 % "
            "by 9 October, 12 % chance that it never does this autumn."),
        ),
        (
            changed(UNTOUCHED, outlook__late=None, outlook__median=None, outlook__never=0.7),
            ("the soil may never settle below 65 °F this autumn, 70 % chance of that; if it does, "
            "hardly before 9 October."),
        ),
        (
            changed(
                UNTOUCHED, outlook__early=None, outlook__late=None, outlook__median=None,
                outlook__never=0.98,
            ),
            "is not expected to settle below 65 °F this autumn, 98 % chance of never.",
        ),
        (
            changed(
                UNTOUCHED, outlook__early=None, outlook__late=None, outlook__median=None,
                outlook__never=math.nan,
            ),
            "no date can be given on which the soil settles below 65 °F.",
        ),
        (
            changed(
                UNTOUCHED, outlook__early=date(2026, 9, 1), outlook__median=date(2026, 9, 5),
                outlook__late=date(2026, 9, 12),
            ),
            ("the soil settled below 65 °F about 5 September, 80 % chance between 1 and "
            "12 September."),
        ),
        (
            changed(
                UNTOUCHED, outlook__early=date(2026, 8, 1), outlook__median=date(2026, 8, 1),
                outlook__late=date(2026, 8, 1),
            ),
            "the soil is below 65 °F from the season's first day, 1 August.",
        ),
        (changed(UNTOUCHED, threshold=WARM), "the soil settles above 65 °F about 16 October, 80 %"),
        (changed(so_far__touches=0), "it was first below 65 °F on 3 October."),
        (changed(so_far__came_back=0), "and such a first time lasted in 20 of 20 seasons."),
        (changed(so_far__touches=5, so_far__came_back=2), "first time lasted in 3 of 5 seasons."),
    ],
)  # fmt: skip
def test_every_state_has_its_sentence(window, words):
    assert words in lead(window, TODAY)


def paragraphs(window: Window, width: int = 80) -> str:
    return "\n".join(window_words(window, TODAY, "F", width))


@pytest.mark.parametrize(
    ("window", "words"),
    [
        (WINDOW, "Today: wait – it has not settled.\n"),
        (changed(verdict="go", reason=""), "Today: plant now.\n"),
        (changed(verdict="late"), "Today: late – "),
        (changed(verdict="unsure"), "Today: check first – "),
        (changed(verdict="no season"), "Today: no window now – "),
        (
            WINDOW,
            ("Usually here (19 autumns 2004–2022): 14 October, 8 years in 10 between 2 and "
            "25 October; give or take 6 days, until readings show how this ground differs from "
            "others."),
        ),
        (changed(typical__ground_days=0.2), "between 2 and 25 October."),
        (changed(typical__ground_days=math.nan), "between 2 and 25 October."),
        (changed(typical__early=None), "Usually here (19 autumns 2004–2022): 14 October; give"),
        (changed(typical__dates=()), "Usually here: not known; the record holds no whole autumn."),
        (
            changed(typical__dates=((2025, date(2025, 10, 14)),), typical__median=None),
            "Usually here: not told from 1 autumn 2025; too few for a typical window.",
        ),
        (
            changed(
                typical__dates=((2024, None), (2025, None)), typical__never_years=(2024, 2025),
                typical__median=None,
            ),
            ("Usually here (2 autumns 2024–2025): it does not settle below this temperature.\n"
            "Never crossed in 2024 and 2025."),
        ),
        (changed(typical__never_years=(2016,)), "Never crossed in 2016."),
        (changed(typical__already_years=(2012,)), "Already below it when the season began in 2012"),
        (WINDOW, "on 5 October: 66 °F (18.9 °C), ±1.8 °F (80 % sure), falling 2.2 °F a week."),
        (changed(so_far__sd_c=math.nan), "66 °F (18.9 °C), falling"),
        (changed(so_far__trend_c_per_week=0.01), "(80 % sure), steady."),
        (changed(so_far__trend_c_per_week=1.0), "rising 1.8 °F a week."),
        (changed(so_far__trend_c_per_week=math.nan), "±1.8 °F (80 % sure)."),
        (WINDOW, "This season so far: first below it 2 days ago."),
        (UNTOUCHED, "This season so far: not yet below it."),
        (changed(so_far__first_touch=TODAY), "first below it on the last day of the record."),
        (changed(so_far__first_touch=date(2026, 8, 1)), "below it since the season began."),
        (
            WINDOW,
            ("What the next reading buys: the dates of the 80 % chance lie 15 days apart; one "
            "today narrows it to about 12 days, one a week for four weeks to about 9 days. Worth "
            "most at 7:30 standard time, 4 in (10 cm) down."),
        ),
        (changed(worth__one_today_days=14.8), "one today would hardly narrow it, one a week"),
        (changed(worth__weekly_days=14.8), "more readings would hardly narrow it, the weather"),
    ],
)  # fmt: skip
def test_what_stands_behind_the_sentence(window, words):
    assert words in paragraphs(window) + "\n"


def test_nothing_is_said_of_what_is_not_known():
    window = changed(
        worth=None,
        so_far__soil_c=math.nan,
        so_far__first_touch=None,
        season_start=date(2026, 11, 1),
    )
    text = paragraphs(window)
    assert "next reading" not in text
    assert "The soil on" not in text
    assert "so far" not in text


def test_the_weeks_are_a_table_that_fits():
    table = next(t for t in window_words(WINDOW, TODAY, "F", 60) if t.startswith("Settled by"))
    assert table == (
        "Settled by  12 Oct  19 Oct  26 Oct   2 Nov\nChance        20 %    55 %    85 %    97 %"
    )
    narrow = [t for t in window_words(WINDOW, TODAY, "F", 30) if t.startswith("Settled by")]
    assert len(narrow) == 2
    never = paragraphs(changed(outlook__never=0.04))
    assert re.search(r"never\nChance.* 4 %", never)


def test_weeks_without_a_chance_are_left_out():
    days = [TODAY + timedelta(days=7 * k) for k in range(1, 7)]
    late = tuple(zip(days, (0.0, 0.0, 0.004, 0.3, 0.995, 0.999), strict=True))
    heads = paragraphs(changed(outlook__by_week=late)).split("\n")
    assert "Settled by  26 Oct   2 Nov   9 Nov" in heads
    nothing = tuple((day, 0.001) for day in days)
    assert "Settled by" not in paragraphs(changed(outlook__by_week=nothing))


# --- the page ------------------------------------------------------------------------------


def test_the_page_leads_with_the_answer_and_ends_with_cautions():
    text = " ".join(told_text(told(WINDOW, title="Some terrace"), 72).split())
    order = ["Some terrace, 5 October 2026", "Cool-season flats: wait", "settles", "80 % chance"]
    order += ["air.csv: 100 rows read, 96 used, 4 refused", "From air.csv", "More: --full"]
    assert sorted(order, key=text.index) == order
    assert "What was read" not in text
    full = told_text(told(WINDOW, title="Some terrace"), 72, level="full")
    order = [*order[:4], "What was read", "Cautions"]
    assert sorted(order, key=full.index) == order
    assert "36.2° S 146.6° E; as of" in " ".join(full.split())
    text = full
    assert "advisory service" in " ".join(text.split())


@pytest.mark.parametrize("width", [10, 40, 60, 72, 88, 200])
def test_the_page_fits_the_screen(width):
    text = told_text(told(WINDOW, changed(threshold=WARM), notes=("A note " * 30,)), width)
    assert max(len(line) for line in text.splitlines()) <= max(30, min(88, width))
    assert not [line for line in text.splitlines() if line != line.rstrip()]


def test_numbers_stay_with_what_they_count():
    for width in range(40, 89):
        text = told_text(told(WINDOW), width)
        assert not re.search(r"\d\n\s*(°|October)", text)


def test_the_soil_of_the_day_is_said_once():
    assert told_text(told(WINDOW, changed(threshold=WARM))).count("The soil on 5 October") == 1


def test_celsius_alone_where_asked():
    text = told_text(told(changed(so_far__touch_c=18.1)), show="C")
    assert "°F" not in text
    assert "settles below 18.3 °C" in text
    assert "first 18.1 °C" in text


def test_contradicted_readings_are_named_in_the_scale_shown():
    one = ("2025-12-25: -3.3 °C from what the others foretell",)
    assert "2025-12-25: -5.9 °F from" in told_text(told(WINDOW, outliers=one))
    assert "2025-12-25: -3.3 °C from" in told_text(told(WINDOW, outliers=one), show="C")


def test_the_answer_is_three_lines_what_when_and_how_sure():
    lines = told_text(told(UNTOUCHED), 88).splitlines()
    assert lines[:3] == [
        "Cool-season flats: wait – it has not settled.",
        "  The soil settles below 65 °F about 16 October.",
        "  80 % chance between 9 and 24 October.",
    ]


@pytest.mark.parametrize("level", ["brief", "default", "full"])
def test_what_speaks_against_an_answer_is_said_at_every_level(level):
    doubt = "The air is 9 °C too warm for this place."
    text = told_text(told(WINDOW, check_first=(doubt,), notes=(doubt, "No rain.")), 88, level=level)
    assert f"Check first: {doubt}" in text
    assert text.count(doubt) == 1
    assert "No rain." in text
    said = " ".join(text.split())
    assert "100 rows read, 96 used, 4 refused: 4 × no temperature." in said
    assert "uspect: stuck in tmin_c" in said
    assert "he time of observation is not known." in said


def test_brief_is_a_line_a_window():
    text = told_text(told(UNTOUCHED, accounts={}), 88, level="brief")
    assert " ".join(text.split()).startswith(
        "Cool-season flats: wait; the soil settles below 65 °F about 16 October (80 % chance "
        "between 9 and 24 October). Soil 4 in (10 cm) down,"
    )


def test_where_it_may_have_settled_a_reading_that_decides_is_named():
    window = changed(
        UNTOUCHED, verdict="unsure", reason="the soil has perhaps settled (62 % sure)",
        so_far__go_c=f_to_c(63.0),
    )  # fmt: skip
    assert what(window) == (
        "Cool-season flats: check first – the soil has perhaps settled (62 % sure). Read the soil "
        "today: if its mean of the day is below 63 °F, plant."
    )


def test_the_weeks_reach_95_percent_or_where_nothing_more_settles():
    days = [TODAY + timedelta(days=7 * k) for k in range(1, 31)]
    slow = tuple((day, min(0.999, 0.04 * k)) for k, day in enumerate(days))
    shown = weeks_shown(changed(outlook__by_week=slow))
    assert shown[-1][1] >= 0.95
    assert len(shown) <= 15
    never = tuple((day, min(0.6, 0.1 * k)) for k, day in enumerate(days))
    assert weeks_shown(changed(outlook__by_week=never, outlook__never=0.4))[-1] == (days[6], 0.6)


def test_no_window_and_nothing_read_is_still_an_answer():
    bare = Told(windows=(), today=TODAY, site=Site(40.0, depth_m=0.0))
    text = told_text(bare)
    assert "No window can be worked out" in text
    assert "Soil at the surface, 40° N;" in text
    assert "What was read" not in text
    json.dumps(told_json(bare), allow_nan=False)


def test_the_account_counts_what_was_refused():
    words = account_words("Air", ACCOUNT)
    assert words[0] == "Air: air.csv"
    assert "100 rows read, 96 used, 4 refused: 4 × no temperature." in words
    assert words.count("· and 1 more") == 1
    assert "· line 5: no temperature" in words
    assert "4 days without a value; the longest: 2 days, 2020-01-02 to 2020-01-03." in words
    assert any(text.startswith("· Suspect: stuck in tmin_c") for text in words)
    assert words[-1] == "The time of observation is not known."


def test_the_account_of_a_clean_file_is_short():
    clean = Account(
        path="folder",
        format="text",
        why_format="",
        units="°C",
        why_units="",
        rows_read=10,
        rows_used=10,
        station="12345",
    )
    assert account_words("Air", clean) == [
        "Air: folder (station 12345)",
        "Text.",
        "Temperatures in °C.",
        "10 rows read, all used.",
    ]


def test_every_column_is_accounted_for():
    columns = (
        Column("TMAX", "daily maximum"),
        *(Column(f"W{k}", "", "wind") for k in range(5)),
        Column("P", "", "pressure"),
    )
    words = account_words("Air", replace(ACCOUNT, columns=columns))
    assert "Columns taken: 'TMAX' as daily maximum." in words
    left = "Columns left: 'W0', 'W1', 'W2' and 2 more (wind); 'P' (pressure). Say otherwise with"
    assert any(text.startswith(left) for text in words)


def test_many_suspects_and_files_are_cut_short():
    many = replace(
        ACCOUNT,
        suspects=ACCOUNT.suspects * 5,
        refused=(Refusal(7, "no date", "folder/b.txt"),),
        refused_count={"no date": 1},
    )
    words = account_words("Air", many)
    assert "· and 2 more suspect stretches." in words
    assert "· b.txt, line 7: no date" in words


def test_days_between_hand_readings_are_no_gap():
    words = account_words("Readings", ACCOUNT, by_hand=True)
    assert "Longest pause: 2 days, 2020-01-02 to 2020-01-03." in words
    assert not any("without a value" in text for text in words)


# --- JSON ----------------------------------------------------------------------------------


def test_json_has_units_in_its_keys_and_iso_dates():
    found = to_json(WINDOW)
    assert found["threshold"]["threshold_c"] == 18.3333
    assert found["threshold"]["threshold_f"] == 65.0
    assert found["outlook"]["settled_median"] == "2026-10-16"
    assert found["outlook"]["settled_by"][0] == {"date": "2026-10-12", "probability": 0.2}
    assert found["so_far"]["sd_f"] == pytest.approx(0.8 * 1.8)
    assert found["so_far"]["soil_f"] == pytest.approx(66.02)
    assert found["next_reading"]["best_depth_m"] == 0.1016
    assert found["typical"]["seasons"][0] == {"year": 2004, "settled": "2004-10-14"}
    assert to_json(changed(worth=None))["next_reading"] is None


def test_json_of_the_page_holds_everything():
    found = json.loads(json.dumps(told_json(told(WINDOW)), allow_nan=False))
    assert found["today"] == "2026-10-05"
    assert found["site"] == {
        "latitude_deg": -36.2, "longitude_deg": 146.6, "depth_m": 0.1016, "soil": "loam",
        "cover": "grass",
    }  # fmt: skip
    assert found["read"]["air"]["refused"][0] == {"line": 5, "reason": "no temperature", "file": ""}
    assert len(found["windows"]) == 1
    assert found["cautions"]


# --- every combination ---------------------------------------------------------------------

DATES = st.dates(date(1950, 1, 1), date(2090, 12, 31))
MAYBE = st.none() | DATES
CHANCES = st.floats(0, 1) | st.just(math.nan)
TEMPS = st.floats(-40, 50) | st.just(math.nan)
DAYS = st.floats(0, 400) | st.just(math.nan)
YEARS = st.lists(st.integers(1950, 2090), max_size=6).map(tuple)


@st.composite
def windows(draw):
    shares = draw(st.lists(st.tuples(DATES, st.floats(0, 1)), max_size=4))
    weeks = draw(st.lists(st.tuples(DATES, CHANCES), max_size=9))
    return Window(
        threshold=draw(st.sampled_from([COOL, WARM])),
        season_start=draw(DATES),
        season_end=draw(DATES),
        typical=Typical(
            dates=tuple(draw(st.lists(st.tuples(st.integers(1950, 2090), MAYBE), max_size=5))),
            median=draw(MAYBE),
            early=draw(MAYBE),
            late=draw(MAYBE),
            never_years=draw(YEARS),
            already_years=draw(YEARS),
            ground_days=draw(DAYS),
        ),
        so_far=SoFar(
            last_day=draw(DATES),
            soil_c=draw(TEMPS),
            sd_c=draw(st.floats(0, 9) | st.just(math.nan)),
            trend_c_per_week=draw(st.floats(-9, 9) | st.just(math.nan)),
            first_touch=draw(MAYBE),
            touches=draw(st.integers(0, 40)),
            came_back=draw(st.integers(0, 40)),
            settled_chance=draw(CHANCES),
        ),
        outlook=Outlook(
            median=draw(MAYBE),
            early=draw(MAYBE),
            late=draw(MAYBE),
            never=draw(CHANCES),
            by_week=tuple(weeks),
            day=tuple(day for day, _ in shares),
            share=tuple(share for _, share in shares),
        ),
        verdict=draw(st.sampled_from(["go", "wait", "late", "no season", "unsure"])),
        reason=draw(st.sampled_from(["", "it has not settled", "it has settled."])),
        worth=draw(
            st.none()
            | st.builds(
                Worth, DAYS, DAYS, DAYS, st.floats(0, 23.99) | st.just(math.nan), st.floats(0, 2)
            )
        ),
    )


LEVELS = st.sampled_from(["brief", "default", "full"])


@settings(max_examples=100, deadline=None)
@given(
    windows(), DATES, TEMPS | st.none(), st.tuples(st.sampled_from(["F", "C"]), LEVELS),
    st.integers(20, 100),
)  # fmt: skip
def test_any_window_is_said_without_stumbling(window, today, touched_c, how, width):
    show, level = how
    window = changed(window, so_far__touch_c=touched_c)
    page = Told(windows=(window, window), today=today, site=SITE)
    text = told_text(page, width, show, level)
    assert not re.search(r"(?<![\d.,])1 (days|readings|rows|seasons|weeks)\b", text)
    assert not re.search(r"\b(nan|inf|None|NaT|NaN)\b", text)
    assert not re.search(r"\b\d+ in (5|10|20|50|100)\b", text.replace("8 years in 10", ""))
    assert ".." not in text
    assert "  ." not in text
    assert all(len(line) <= max(30, min(88, width)) for line in text.splitlines())
    json.dumps(told_json(page), allow_nan=False)
