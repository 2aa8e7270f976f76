"""The whole book out and back: equal, safe to open in a spreadsheet, and wary of what it reads."""

import csv
import json
import re
import shutil
import string
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from forecaster.book import (
    Bed,
    Cost,
    Note,
    Outcome,
    Place,
    Planting,
    Shown,
    ShownWindow,
    Want,
    add_air,
    add_bed,
    add_cost,
    add_note,
    add_outcome,
    add_place,
    add_planting,
    add_readings,
    add_want,
    export_book,
    import_book,
    is_export,
    keep_shown,
    open_book,
    undo,
)
from forecaster.book.csv_cells import from_cell, guarded, to_cell, unguarded
from forecaster.book.places import name_key
from forecaster.ground.errors import FileError, InputError

NASTY = (
    "=1+1", "+1", "-2", "@SUM(A1)", "\t=1", "'quoted'", "'=1", '"', "a,b", "two\nlines", "\r\n=x",
    "../../etc/passwd", "🌱🪴", "é", " =1", "＝1", ";", "", "--bed", "%s", "NULL", "1e5",
    "\u202eabc",
)  # fmt: skip
NUMBER = re.compile(r"-?\d+(\.\d+)?(e[+-]?\d+)?")
text = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=30)
words = st.one_of(
    st.builds(lambda a, b, c: a + b + c, text, st.sampled_from(["", "\n", "\r\n", "\t"]), text),
    st.sampled_from(NASTY),
).filter(lambda s: s.strip() != "")
temps = st.floats(-59.0, 69.0)
days = st.dates(date(1800, 1, 1), date(2200, 12, 31))


@st.composite
def gardens(draw):
    """What goes into a book: nasty names and words, dates far apart, values to the last bit."""
    readings = draw(st.lists(st.tuples(st.integers(-(2**32), 2**32), temps), max_size=8))
    return {
        "place": draw(words),
        "beds": draw(st.lists(words, min_size=1, max_size=3, unique_by=name_key)),
        "readings": readings,
        "air": draw(st.lists(st.tuples(temps, st.none() | temps), min_size=1, max_size=6)),
        "first": draw(days),
        "notes": draw(st.lists(st.tuples(days, words), max_size=4)),
        "plants": draw(
            st.lists(st.tuples(days, words, st.none() | st.integers(1, 999)), max_size=4)
        ),
        "undo": draw(st.booleans()),
    }


def fill(book, garden):
    with book.batch("start", garden["place"]) as batch:
        add_place(batch, Place(name=garden["place"], latitude_deg=-36.2, station=garden["place"]))
        for name in garden["beds"]:
            add_bed(
                batch,
                Bed(
                    name=name,
                    place=garden["place"],
                    area_m2=1 / 3,
                    outline=((0, 0), (1, 0), (0, 1)),
                ),
            )
    bed = garden["beds"][0]
    with book.batch("import", "air") as batch:
        index = pd.DatetimeIndex(
            np.datetime64(garden["first"], "D").astype("M8[s]")
            + np.arange(len(garden["air"])) * np.timedelta64(1, "D")
        )
        air = pd.DataFrame(garden["air"], index=index, columns=["tmin_c", "tmax_c"], dtype=float)
        add_air(
            batch,
            garden["place"],
            air,
            source=garden["place"],
            provisional=np.arange(len(air)) % 2 == 0,
        )
    with book.batch("import", "log") as batch:
        time = np.array([t for t, _ in garden["readings"]], dtype="datetime64[s]")
        frame = {"time": time, "temp_c": [v for _, v in garden["readings"]]}
        add_readings(batch, bed, pd.DataFrame(frame, columns=["time", "temp_c"]))
    with book.batch("note", "by hand") as batch:
        for day, said in garden["notes"]:
            add_note(batch, Note(day, said, bed))
        for day, what, many in garden["plants"]:
            add_planting(batch, Planting(bed, day, "planted", what, many))
            seen = Outcome(bed=bed, what=what, planted=day, seen=day, share=1 / 3, note=what)
            add_outcome(batch, seen)
            price = Cost(season="2026-autumn", day=day, what=what, amount=1 / 3, currency=what)
            add_cost(batch, price)
            sizes = ((36, 1 / 3), (48, None))
            add_want(batch, Want(bed=bed, season="spring", what=what, variety=what, flats=sizes,
                                 colours=((what, None),), weeks=(1 / 3, 8.0)))  # fmt: skip
    if garden["undo"]:
        undo(book)
    window = ShownWindow(
        threshold="x",
        threshold_c=18.3,
        direction="falling",
        season_start=garden["first"],
        season_end=garden["first"],
        early=None,
        median=None,
        late=None,
        never=1.0,
    )
    soil = pd.DataFrame(
        {"low_c": [1.0], "mid_c": [2.0], "high_c": [1 / 3]}, index=pd.DatetimeIndex(["2026-03-01"])
    )
    keep_shown(
        book,
        bed,
        Shown(issued=date(2026, 3, 1), depth_m=0.1, version="0.1.0", windows=(window,), soil=soil),
    )


@settings(max_examples=40)
@given(gardens(), st.sampled_from(["out", "out.json"]))
def test_what_was_written_reads_back(tmp_path_factory, all_rows, garden, name):
    folder = tmp_path_factory.mktemp("x")
    with open_book(folder / "a.db", create=True) as book:
        fill(book, garden)
        export_book(book, folder / name)
        before = all_rows(book)
    with open_book(folder / "b.db", create=True) as again:
        import_book(again, folder / name)
        assert all_rows(again) == before
        assert again.db.execute("PRAGMA foreign_key_check").fetchall() == []
    if name == "out":
        assert formulas(folder / name) == []


def formulas(folder):
    """Cells that a spreadsheet could take for a formula: read by the csv module alone."""
    found = []
    for file in folder.glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as handle:
            cells = [cell for row in csv.reader(handle) for cell in row]
        found += [
            c
            for c in cells
            if c.lstrip()[:1] and c.lstrip()[0] in "=+-@＝＋－＠" and not NUMBER.fullmatch(c)
        ]
        found += [c for c in cells if c[:1] in ("\t", "\r", "\n")]
    return found


@given(st.text(st.characters(codec="utf-8")))
@example("'=1")
@example("")
def test_guard_comes_off_again(value):
    assert unguarded(guarded(value)) == value


@pytest.mark.parametrize("value", NASTY)
def test_no_text_starts_a_formula(value):
    cell = guarded(value)
    assert cell
    assert not cell.lstrip() or cell.lstrip()[0] not in "=+-@＝＋－＠"
    assert cell[0] not in "\t\r\n"


def test_plain_words_and_numbers_are_left_alone():
    assert [to_cell(v) for v in ("lettuce", -3.5, 12, None)] == ["lettuce", "-3.5", "12", ""]
    assert guarded(string.ascii_letters) == string.ascii_letters


@pytest.mark.parametrize(
    ("cell", "kind"),
    [("nan", "REAL"), ("inf", "REAL"), ("x", "INTEGER"), ("1.5", "INTEGER"), ("9" * 30, "INTEGER")],
)
def test_cells_that_are_no_values_are_refused(cell, kind):
    with pytest.raises(ValueError):  # noqa: PT011 - of Python's own and ours alike
        from_cell(cell, kind)


@pytest.fixture
def exported(book, make_log, tmp_path):
    with book.batch("import", "log") as batch:
        add_readings(batch, "north", make_log(3))
    export_book(book, tmp_path / "out")
    export_book(book, tmp_path / "out.json")
    return tmp_path


def test_export_is_plain_csv_for_others(exported):
    """Read by another reader: the same temperatures to the last bit, and a count a table."""
    frame = pd.read_csv(exported / "out" / "readings.csv")
    assert frame["temp_c"].tolist() == [15.0, 15.1, 15.2]
    head = json.loads((exported / "out" / "manifest.json").read_text())
    assert head["rows"]["readings"] == 3
    assert json.loads((exported / "out.json").read_text())["rows"] == head["rows"]
    assert is_export(exported / "out")
    assert is_export(exported / "out.json")
    assert not is_export(exported)


def test_never_over_something_that_is_there(book, exported):
    for name in ("out", "out.json"):
        with pytest.raises(InputError, match="there already"):
            export_book(book, exported / name)
    with pytest.raises(InputError, match="folder is not there"):
        export_book(book, exported / "gone" / "out")
    assert [p.name for p in exported.iterdir() if "part" in p.name] == []


def test_only_into_an_empty_book(book, exported, all_rows):
    before = all_rows(book)
    with pytest.raises(InputError, match="not empty"):
        import_book(book, exported / "out")
    assert all_rows(book) == before


def spoil(file, old, new):
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), encoding="utf-8", newline="")


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("readings.csv", "15.1", "warm", r"readings\.csv, line 3"),
        ("readings.csv", "15.1", "1500", r"line 3: CHECK constraint"),
        ("readings.csv", "15.1", "15.1,7", "11 cells"),
        ("readings.csv", "temp_c", "temp_f", "columns"),
        ("manifest.json", '"readings": 3', '"readings": 4', "readings has 3 rows"),
        ("manifest.json", '"version": 3', '"version": 7', "version 7"),
        ("manifest.json", "crossday garden book", "other", "not an exported"),
        ("manifest.json", "{", "", "not readable"),
        ("beds.csv", "1,1,", "1,9,", "FOREIGN KEY"),
        ("air_days.csv", "place_id", "=x", "columns"),
    ],
)
def test_a_spoiled_export_is_refused_whole(exported, file, old, new, said):
    spoil(exported / "out" / file, old, new)
    with open_book(exported / "new.db", create=True) as book:
        with pytest.raises(FileError, match=said):
            import_book(book, exported / "out")
        assert book.db.execute("SELECT count(*) FROM batches").fetchone() == (0,)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ('{"tables"', "not JSON"),
        ('{"tables": {}, "format": "x"}', "not an exported"),
        ('{"tables": {}, "format": "crossday garden book", "version": 1}', "table batches"),
        ('{"tables": ' + "[" * 100000, "not JSON"),
    ],
)
def test_a_spoiled_json_is_refused(tmp_path, content, said):
    (tmp_path / "x.json").write_text(content)
    with open_book(tmp_path / "new.db", create=True) as book, pytest.raises(FileError, match=said):
        import_book(book, tmp_path / "x.json")


def test_a_missing_table_is_refused(exported):
    (exported / "out" / "notes.csv").unlink()
    with (
        open_book(exported / "new.db", create=True) as book,
        pytest.raises(FileError, match=r"notes\.csv"),
    ):
        import_book(book, exported / "out")


FIXTURES = Path(__file__).parents[1] / "fixtures"


def test_an_export_of_an_earlier_version_is_read(tmp_path, all_rows):
    """Written by the first release from its fixture; the same as migrating that book."""
    shutil.copy(FIXTURES / "book_version_1.db", tmp_path / "old.db")
    with open_book(tmp_path / "old.db") as old, open_book(tmp_path / "new.db", create=True) as new:
        assert import_book(new, FIXTURES / "export_version_1.json")["readings"] == 2
        assert all_rows(new) == all_rows(old)
        assert new.db.execute("PRAGMA foreign_keys").fetchone() == (1,)
    open_book(tmp_path / "new.db").close()


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("1" + "0" * 400, "no real value"),
        ("1" + "0" * 5000, "not JSON"),
        ("[" * 800 + "]" * 800, "no real value"),
        ("[" * 5000 + "]" * 5000, "not JSON"),
        ("NaN", "no real value"),
        ("-1e999", "no real value"),
        ('"\\ud800"', "no real value"),
    ],
)
def test_a_cell_that_is_no_number_in_json_is_refused(exported, cell, said):
    spoil(exported / "out.json", "15.1", cell)
    with open_book(exported / "new.db", create=True) as book:
        with pytest.raises(FileError, match=said):
            import_book(book, exported / "out.json")
        assert book.db.execute("SELECT count(*) FROM batches").fetchone() == (0,)


def test_half_characters_in_an_export_are_refused(exported):
    spoil(exported / "out.json", '"north"', '"\\ud800"')
    with open_book(exported / "new.db", create=True) as book:
        with pytest.raises(FileError, match="beds"):
            import_book(book, exported / "out.json")
        assert book.db.execute("SELECT count(*) FROM batches").fetchone() == (0,)
