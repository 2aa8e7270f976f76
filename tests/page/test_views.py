"""What the page says and keeps, without a browser: it must work without scripts too."""

import io
import json
import re
from datetime import date
from time import sleep

import numpy as np
import pandas as pd
import pytest

from forecaster import book as kept
from forecaster.answers import towns
from forecaster.ground.errors import DataMissing
from forecaster.packaged import data_path
from forecaster.page import say
from forecaster.page.garden import scale_of
from forecaster.page.views import check
from forecaster.plan import several
from forecaster.words.window import lead

DEMO_AIR = data_path("demo/air.csv")


def test_an_empty_folder_leads_to_begin(visitor):
    for path in ("/", "/read", "/data", "/week"):
        answer = visitor.get(path)
        assert (answer.status_code, answer.headers.get("Location")) in ((303, "/begin"),), path
    assert not visitor.garden.path.exists()


def test_from_a_town_to_a_forecast(visitor):
    """Town, air, bed: three forms and there is a card with the sentence of the command line."""
    listed = visitor.get("/begin?step=place&town=Wangaratta").text
    chosen = re.search(r'value="([^"|]+\|[^"|]+\|Wangaratta[^"]*)"', listed)
    assert chosen
    assert visitor.post("/begin/place", chosen=chosen[1]).headers["Location"].endswith("air")
    with DEMO_AIR.open("rb") as air:
        taken = visitor.post("/begin/air", file=(air, "valley.csv"))
    assert "4,366 new days of air" in taken.text
    assert "valley.csv" in taken.text
    assert visitor.post("/begin/bed", name="long bed", soil="loam", cover="bare", depth="10")
    page = visitor.get("/").text
    with visitor.garden.open() as book:
        whole = visitor.garden.whole(book, "long bed")
    assert whole.record.site.depth_m == pytest.approx(0.10)
    assert say.tight(lead(whole.window, whole.record.today, "C")) in page


def test_the_card_says_what_was_decided(example):
    page = example.get("/").text
    with example.garden.open() as book:
        whole = example.garden.whole(book, "north bed")
    advice = say.advice_on(whole.plan.lead, date(2026, 3, 16))
    assert f'<p class="big">{advice.word}</p>' in page
    assert "An invented garden, as it stood on 16 March 2026" in page
    assert page.count('class="dot"') + whole.window.outlook.never * 20 == pytest.approx(20, abs=1)


def test_gridded_air_is_said_on_the_card(visitor, tmp_path):
    """A file saved anew by another program keeps the mark in its column of stations."""
    air = pd.read_csv(DEMO_AIR, comment="#").assign(station="gridded NASA POWER -36.2 146.6")
    air.to_csv(tmp_path / "square.csv", index=False, sep=";")
    visitor.post("/begin/place", north="36.2S", east="146.6E", name="garden")
    with (tmp_path / "square.csv").open("rb") as given:
        visitor.post("/begin/air", file=(given, "square.csv"))
    visitor.post("/begin/bed", name="long bed", soil="loam", cover="bare", depth="10")
    assert "The air is a gridded stand-in" in visitor.get("/").text


def test_stale_air_is_said_first_and_nobody_is_told_to_go(visitor, tmp_path):
    """Air that ends eight months before the day: a guess from there, and a way to mend it."""
    visitor.post("/begin/place", north="36.2S", east="146.6E", name="garden")
    head, *rows = DEMO_AIR.read_text().splitlines()
    old = "\n".join([head, *(row for row in rows if row < "2025-07-01")])
    visitor.post("/begin/air", file=(io.BytesIO(old.encode()), "air.csv"))
    visitor.post("/begin/bed", name="b", soil="loam", cover="bare")
    page = visitor.get("/").text
    words = page.index("The air record ends on")
    assert words < page.index('class="advice"')
    assert "Add newer air" in page
    assert '<p class="big">check first</p>' in page
    assert 'class="dates"' not in page
    assert 'class="task' not in visitor.get("/week").text


def test_a_reading_moves_the_window_and_undo_moves_it_back(example):
    before = example.get("/bed/soil.json").json
    answer = example.post(
        "/read", bed="north bed", temperature="18", day="2026-03-16", hour="08:00", depth="10"
    )
    assert answer.status_code == 200
    assert "The likely day moved" in answer.text
    after = example.get("/bed/soil.json").json
    assert after["fan"] != before["fan"]
    assert 18.0 in after["typed"]
    found = re.search(r'name="batch" value="(\d+)"', answer.text)
    assert found
    assert example.post("/undo", batch=found[1], back="/").headers["Location"] == "/"
    assert example.get("/bed/soil.json").json == before


@pytest.mark.parametrize(
    ("text", "show", "expected_c"),
    [
        ("61", "F", 16.1111), ("16", "C", 16.0), ("16,5", "C", 16.5), ("61F", "C", 16.1111),
        ("16 °C", "F", 16.0), (" 61.0 ", "F", 16.1111),
    ],
)  # fmt: skip
def test_a_bare_number_is_of_the_place(text, show, expected_c):
    assert say.temperature_c(text, show) == pytest.approx(expected_c, abs=1e-3)


@pytest.mark.parametrize(
    ("text", "show", "metres"), [("4", "F", 0.1016), ("10", "C", 0.10), ("4in", "C", 0.1016)]
)
def test_a_bare_depth_is_of_the_place(text, show, metres):
    assert say.depth_m(text, show) == pytest.approx(metres)


@pytest.mark.parametrize(
    ("north", "east", "scale"), [(44.94, -123.04, "F"), (-36.2, 146.6, "C"), (51.5, -0.1, "C")]
)
def test_the_scale_is_that_of_the_country(north, east, scale):
    assert scale_of(kept.Place(name="x", latitude_deg=north, longitude_deg=east)) == scale


@pytest.mark.parametrize(
    ("words", "first", "north", "east"),
    [
        ("Salem, OR", "Salem", 44.94, -123.04),
        ("são paulo", "São Paulo", -23.55, -46.64),
        ("DUBLIN, Ireland", "Dublin", 53.33, -6.25),
    ],
)
def test_towns_are_where_they_are(words, first, north, east):
    """Positions as any atlas has them, to a twentieth of a degree (from memory)."""
    found = towns.find_towns(words)[0]
    assert found.name == first
    assert found.latitude_deg == pytest.approx(north, abs=0.05)
    assert found.longitude_deg == pytest.approx(east, abs=0.05)


def test_a_tick_is_kept_in_the_book_and_taken_back(example):
    page = example.get("/week").text
    key = re.search(r'name="key" value="([^"]+/order)"', page)
    assert key
    example.post("/week/done", bed="north bed", key=key[1])
    with example.garden.open() as book:
        assert kept.done_tasks(book, "north bed") == {key[1]: date(2026, 3, 16)}
        assert kept.batches(book)[-1].kind == "done"
    assert "done on 16 March" in example.get("/week").text
    example.post("/week/done", bed="north bed", key=key[1])
    with example.garden.open() as book:
        assert kept.done_tasks(book, "north bed") == {}


def test_a_task_is_moved_and_put_back(example):
    """On the page, in the calendar file and in the book: one day, kept as an entry."""
    page = example.get("/week").text
    key = re.search(r'name="key" value="([^"]+/order)"', page)
    assert key
    same = {"bed": "north bed", "key": key[1]}
    assert example.post("/week/move", **same, to="2026-03-25").status_code == 303
    with example.garden.open() as book:
        assert kept.moved_tasks(book, "north bed") == {key[1]: date(2026, 3, 25)}
    assert "Moved by you" in example.get("/week").text
    assert "20260325" in example.get("/week/garden.ics").text
    example.post("/week/move", **same, to="2026-09-25")
    assert "out of the days that are right" in example.get("/week").text
    example.post("/week/move", **same, back="yes")
    with example.garden.open() as book:
        assert kept.moved_tasks(book, "north bed") == {}
    again = example.get("/week").text
    assert "Moved by you" not in again
    for to in ("2026-03-01", "2028-01-01", "soon", ""):
        assert example.post("/week/move", **same, to=to).status_code == 422


def test_what_a_book_does_not_change_is_not_worked_out_again(example, monkeypatch):
    calls: list[int] = []
    real = several.plan_changeover

    def counted(*given):
        calls.append(1)
        return real(*given)

    monkeypatch.setattr(several, "plan_changeover", counted)
    for path in ("/", "/", "/bed", "/week", "/bed/soil.json", "/crops?crop=lettuce"):
        assert example.get(path).status_code == 200
    assert len(calls) == 1
    with example.garden.open() as book, book.batch("note", "x") as batch:
        kept.add_note(batch, kept.Note(date(2026, 3, 16), "a note"))
    example.get("/")
    assert len(calls) == 2


def test_a_change_by_another_program_is_seen(example):
    """The command line and the page at once: neither hides what the other wrote."""
    before = example.get("/bed/soil.json").json
    row = {"time": [pd.Timestamp("2026-03-15 08:00")], "temp_c": [17.0]}
    with kept.open_book(example.garden.path) as book, book.batch("read", "by hand") as batch:
        kept.add_readings(batch, "north bed", pd.DataFrame(row))
    assert example.get("/bed/soil.json").json != before


def test_a_spoiled_file_is_said_and_not_taken(example):
    with example.garden.open() as book:
        before = kept.batches(book)
    spoiled = (io.BytesIO(b"\x89PNG\r\n\x1a\n" + bytes(500)), "photo.csv")
    answer = example.post("/data/drop", file=spoiled, what="either")
    assert "photo.csv was not taken" in answer.text
    assert "dropped" not in answer.text
    with example.garden.open() as book:
        assert kept.batches(book) == before


def test_a_log_is_told_column_by_column(example):
    log = "time,Soil 10 cm (C),Battery (V)\n2026-03-10 08:00,21.5,3.1\n2026-03-11 08:00,21.0,3.1\n"
    sent = (io.BytesIO(log.encode()), "probe.csv")
    answer = example.post("/data/drop", file=sent, what="soil", bed="north bed")
    assert "2 new readings" in answer.text
    assert "Column by column" in answer.text
    assert "Battery (V)" in answer.text


def test_the_live_chart_has_what_the_answer_has(example):
    told = example.get("/bed/soil.json").json
    with example.garden.open() as book:
        whole = example.garden.whole(book, "north bed")
    days = np.array(told["day"], dtype="datetime64[s]").astype("datetime64[D]")
    at = int(np.flatnonzero(days == np.datetime64(whole.record.today))[0])
    assert told["soil"][at] == pytest.approx(whole.window.so_far.soil_c, abs=0.01)
    median = int(np.flatnonzero(days == np.datetime64(whole.window.outlook.median))[0])
    assert told["chance"][median] == pytest.approx(0.5, abs=0.06)
    assert len({len(told[name]) for name in ("day", "soil", "low", "chance", "typed")}) == 1


def test_another_threshold_and_another_day_are_asked(example):
    base = example.get("/bed").text
    other = example.get("/bed?threshold=15&direction=falling&issued=2025-04-01").text
    assert "Your threshold" in other
    assert "below 15\u00a0°C" in other
    assert "Your threshold" not in base
    early = example.get("/bed/soil.json?issued=2025-04-01").json
    assert early["today"] == int(np.datetime64("2025-04-01").astype("datetime64[s]").astype(int))
    ahead = [v for d, v in zip(early["day"], early["typed"], strict=True) if d > early["today"]]
    assert set(ahead) <= {None}, "a forecast never sees the future"


def test_the_usual_question_sent_along_stays_the_usual(example):
    """The form sends the soil to reach with every change; moving the day alone asks no other."""
    usual = re.search(r'name="usual" value="([\d.]+) (\w+)"', example.get("/bed").text)
    assert usual
    same = f"threshold={usual[1]}&direction={usual[2]}&usual={usual[1]}+{usual[2]}"
    day = example.get(f"/bed?{same}&issued=2026-03-01").text
    assert "Your threshold" not in day
    assert "Cool-season flats" in day
    other = "rising" if usual[2] == "falling" else "falling"
    turned = same.replace(f"direction={usual[2]}", f"direction={other}")
    assert "Your threshold" in example.get(f"/bed?{turned}").text


def test_the_ground_of_a_bed_is_changed_and_taken_back(example):
    """Sand at half the depth: another site, another window, one entry that goes as it came."""
    before = example.get("/bed/soil.json").json
    answer = example.post("/bed/ground", bed="north bed", soil="sand", cover="mulch", depth="5")
    assert "The ground of the bed is changed, in north bed" in answer.text
    with example.garden.open() as book:
        bed = kept.find_bed(book, "north bed")
    assert (bed.soil, bed.cover, bed.depth_m) == ("sand", "mulch", pytest.approx(0.05))
    assert example.get("/bed/soil.json").json["fan"] != before["fan"]
    found = re.search(r'name="batch" value="(\d+)"', answer.text)
    assert found
    example.post("/undo", batch=found[1])
    assert example.get("/bed/soil.json").json == before


@pytest.mark.parametrize("field", [{"soil": "moon"}, {"depth": "-3"}, {"area": "many"}, {}])
def test_ground_that_cannot_be_is_refused(example, field):
    with example.garden.open() as book:
        before = kept.batches(book)
        bed = kept.find_bed(book, "north bed")
    as_it_is = {"soil": bed.soil, "cover": bed.cover}
    assert example.post("/bed/ground", bed=bed.name, **(as_it_is | field)).status_code == 422
    with example.garden.open() as book:
        assert kept.batches(book) == before


def test_crops_show_their_chances_and_compare_days(example):
    page = example.get("/crops?crop=lettuce&one=2026-03-20&two=2026-06-01").text
    assert page.count('class="bar"') > 20
    assert "Planted on 20 March" in page
    assert "Planted on 1 June" in page


def test_materials_add_up(example):
    """9 m² at 0.2 m on a square grid are 225 plants: 7 flats of 36."""
    page = example.get("/materials?area=9&spacing=20&flats=36").text
    assert "225 plants" in page
    assert "7 flats of 36" in page
    assert "ounce" not in page


def test_materials_count_as_the_plan_does(example):
    """The outline and what goes in are the book's; a field that is filled in stands above it."""
    want = kept.Want(
        bed="north bed", season="autumn", what="pansy", spare_share=0.05, flats=((36, 18.5),),
        colours=(("yellow", None), ("white", 30)), currency="AUD",
    )  # fmt: skip
    with kept.open_book(example.garden.path) as book:
        kept.change_bed(book, "north bed", shape="strip 1ft around circle 8ft", outline=())
        with book.batch("want", "pansy") as batch:
            kept.add_want(batch, want)
        plan = example.garden.whole(book, "north bed").plan
    page = example.get("/materials?bed=north%20bed")
    counts = {line.colour: (line.plants, line.spare) for line in plan.shopping.lines}
    assert counts["white"] == (30, 2)
    for colour, (plants, spare) in counts.items():
        assert f"Pansy, {colour}: {plants} plants and {spare} spare" in page.text
    assert "Where each plant goes" in page.text
    sheet = example.get("/layout?bed=north%20bed")
    assert f"{counts['yellow'][0]} yellow plants and 30 white plants" in sheet.text
    assert "9 white" in example.get("/layout?bed=north%20bed&colours=white%3D9").text
    assert "/layout/paper?bed=north%20bed" in sheet.text
    paper = example.get("/layout/paper?bed=north%20bed")
    assert paper.mimetype == "application/pdf"
    assert paper.data.startswith(b"%PDF")


def test_corners_keep_their_commas(example):
    """4 m × 2.5 m at 0.25 m, by hand: 16 × 10 plants."""
    page = example.get("/materials?outline=polygon+0,0+4,0+4,2.5+0,2.5+m&spacing=25").text
    assert "160 plants" in page


def test_what_goes_in_is_counted_and_ordered(example):
    """Two crops share a bed of 9 m²: the plan's tasks, the sums and the order name both."""
    for what in ("pansy", "lettuce"):
        sent = {"bed": "north bed", "season": "autumn", "what": what, "plants": "40"}
        assert example.post("/goes", **sent).status_code == 303
    page = example.get("/materials?season=autumn").text
    assert "autumn: pansy: 40 plants" in page
    with example.garden.open() as book:
        decided = example.garden.whole(book, "north bed").plan.lead
    card = example.get("/").text
    assert decided.crop is not None
    assert say.span(decided.best, decided.best_until, date(2026, 3, 16)) in card
    assert "Cool-season flats" not in card, "the bed's crops decide, not a soil in general"
    sums = page[page.index("To buy") :]
    assert "Pansy" in sums
    assert "Lettuce" in sums
    order, table = example.get("/order").text, example.get("/order.csv").text
    assert "Pansy" in order
    assert table.count("north bed") >= 2
    example.post("/goes", bed="north bed", season="autumn", what="pansy", drop="yes")
    assert "autumn: pansy" not in example.get("/materials?season=autumn").text
    for wrong in ({"what": ""}, {"what": "pansy", "plants": "many"}, {"what": "x", "drop": "yes"}):
        assert example.post("/goes", bed="north bed", **wrong).status_code == 422


def test_export_and_backup_are_whole(example, tmp_path):
    copy = tmp_path / "copy.db"
    copy.write_bytes(example.get("/data/backup").data)
    with kept.open_book(copy) as book:
        assert [bed.name for bed in kept.beds(book)] == ["north bed"]
    assert example.get("/data/export").data[:2] == b"PK"


def test_the_calendar_has_the_tasks(example):
    text = example.get("/week/garden.ics?bed=north%20bed").text
    assert text.startswith("BEGIN:VCALENDAR")
    assert "Set out" in text


def test_a_check_runs_and_can_be_stopped(example):
    example.post("/check", bed="north bed")
    example.post("/check", bed="north bed", stop="yes")
    for _ in range(600):
        page = example.get("/check").text
        if "Forecast" not in page and "Beginning" not in page:
            break
        sleep(0.1)
    assert "Check again" in page or "Check the past seasons" in page


def test_a_check_is_of_what_the_book_says_now(example, monkeypatch):
    def none(*_):
        raise DataMissing("too few years to check")

    monkeypatch.setattr(check, "_checked", none)
    example.post("/check", bed="north bed")
    while "Beginning" in example.get("/check").text:
        sleep(0.01)
    assert "Too few years to check" in example.get("/check").text
    example.post("/read", bed="north bed", temperature="20")
    assert "Too few years to check" not in example.get("/check").text


def test_the_pages_weigh_little(example):
    """The most that a first visit fetches, as it comes over the wire without packing: 300 kB."""
    vendored = ("htmx.min.js", "uplot.iife.min.js", "uplot.min.css")
    files = sum(len(example.get(f"/vendored/{name}").data) for name in vendored)
    own = sum(len(example.get(f"/static/{n}").data) for n in ("page.css", "page.js", "mark.svg"))
    page = max(len(example.get(path).data) for path in ("/", "/bed", "/week", "/crops", "/data"))
    series = len(json.dumps(example.get("/bed/soil.json").json))
    assert files + own + page + series < 300_000
