"""Which places a folder, a table or a book holds."""

from datetime import date

import pytest
from click.testing import CliRunner

from forecaster.cli import main
from forecaster.ground.errors import FileError, InputError
from forecaster.packaged import data_path
from forecaster.region import RegionPlace, places_at, places_of_book


def test_a_table_says_what_it_says(folder):
    ash, birch, *_, gone = places_at(folder)
    assert (ash.name, ash.latitude_deg, ash.longitude_deg, ash.region) == ("ash", 38, -100, "west")
    assert ash.air == str(folder / "ash.csv")
    assert ash.depth_m == pytest.approx(0.1016)
    assert birch.depth_m == pytest.approx(0.127)
    assert (gone.name, gone.order, gone.depth_m, gone.soil) == ("gone", 5, None, None)
    assert places_at(folder / "places.csv") == places_at(folder)


def test_a_folder_without_a_table_is_a_place_a_file_and_a_folder(folder):
    (folder / "places.csv").unlink()
    (folder / "README.md").write_text("about the files", encoding="utf-8")
    (folder / "yearly").mkdir()
    found = places_at(folder)
    assert [one.name for one in found] == ["ash", "birch", "cedar", "elm", "fir", "yearly"]
    assert [one.order for one in found] == list(range(6))


def test_a_station_is_the_file_of_that_name_beside_the_table(folder):
    table = folder / "mine.csv"
    table.write_text("Station,Lat,Lon\nELM,40.5 S,95w\nno such,41,-96\n", encoding="utf-8")
    elm, none = places_at(table)
    assert (elm.latitude_deg, elm.longitude_deg) == (-40.5, -95.0)
    assert elm.air == str(folder / "elm.csv")
    assert none.problem == "no file of station 'no such' beside the table"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a,b\n1,2\n", "line 1: the headings are a, b; expected a table of places"),
        ("", "line 1: the headings are missing"),
        ("name,file,lat\nx,x.csv,95\n", "line 2: latitude is '95'; expected degrees from -90"),
        ("name,file,lat\nx,x.csv,nan\n", "line 2: latitude is 'nan'"),
        ("name,file,lat\nx,x.csv,36.2E\n", "line 2: latitude is '36.2E'"),
        ("name,file,depth\nx,x.csv,deep\n", "line 2: length 'deep'"),
        ("name,file,soil\n\nx,x.csv,mud\n", "line 3: soil is 'mud'; expected one of loam, sand"),
    ],
)
def test_a_wrong_table_is_said_with_its_line(tmp_path, text, said):
    table = tmp_path / "t.csv"
    table.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=said.replace("(", r"\(")):
        places_at(table)


def test_nothing_there_is_said(tmp_path):
    for path in (tmp_path / "none", tmp_path, "\0"):
        with pytest.raises(InputError, match=r"no such folder|no place in it"):
            places_at(path)


def test_the_beds_of_a_book_are_places(tmp_path):
    book = str(tmp_path / "garden.db")
    air = str(data_path("demo/air.csv"))
    for words in (
        ("start", "--lat", "36.2S", "--lon", "146.6E", "--air", air),
        ("bed", "front"),
        ("bed", "back"),
    ):
        done = CliRunner().invoke(main, ["book", *words, "--book", book])
        assert done.exit_code == 0, done.output
    found = places_of_book(book)
    assert sorted(one.bed for one in found) == ["back", "front"]
    assert {one.book for one in found} == {str((tmp_path / "garden.db").resolve())}


def test_a_key_knows_a_file_that_changed(folder):
    ash = places_at(folder)[0]
    before = ash.key()
    assert before == places_at(folder)[0].key()
    (folder / "ash.csv").write_text("other", encoding="utf-8")
    assert ash.key() != before


def test_a_question_is_known_by_what_it_asks(question):
    from dataclasses import replace  # noqa: PLC0415

    other = replace(question, by=date(2025, 10, 11))
    assert question.fingerprint() == replace(question).fingerprint() != other.fingerprint()
    with pytest.raises(InputError, match="about thresholds or about crops"):
        replace(question, thresholds=())
    assert RegionPlace(order=0, name="x").key() != RegionPlace(order=1, name="x").key()
