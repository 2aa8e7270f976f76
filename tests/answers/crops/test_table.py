"""The crop tables: finding a crop, the user's own rows, and what is refused with its line."""

import pytest

from forecaster.answers.crops import defaults, find_crop, hardiness_classes, known_crops
from forecaster.ground.errors import FileError, InputError
from forecaster.ground.units import c_to_f


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("tomato", "tomato"), ("Tomatoes", "tomato"), ("PANSIES", "pansy"), ("peppers", "pepper"),
        ("muskmelon", "cantaloupe"), ("sweet-corn", "sweet corn"), ("corn", "sweet corn"),
        ("radishes", "radish"), ("violas", "viola"), ("snap_beans", "snap bean"),
        ("  beets ", "beet"), ("cowpeas", "southern pea"),
    ],
)  # fmt: skip
def test_a_crop_is_found_by_its_names(asked, name):
    assert find_crop(asked).name == name


@pytest.mark.parametrize(
    ("asked", "hint"),
    [("tomatto", "did you mean tomato"), ("cabage", "cabbage"), ("xyzzy", "crossday crops lists")],
)
def test_an_unknown_crop_is_refused_with_names_that_come_near(asked, hint):
    with pytest.raises(InputError, match=hint):
        find_crop(asked)


def test_names_lead_to_one_crop_each():
    names = [n for crop in known_crops().values() for n in (crop.name, *crop.also)]
    assert len(names) == len(set(names))
    assert all(find_crop(n) is crop for crop in known_crops().values() for n in (crop.name,))


def test_classes_part_the_crops():
    cool, warm = known_crops("cool"), known_crops("warm")
    assert not set(cool) & set(warm)
    assert len(cool) + len(warm) == len(known_crops())
    with pytest.raises(InputError, match="tepid"):
        known_crops("tepid")


def test_hardier_classes_go_out_earlier_and_stand_more_cold():
    classes = list(hardiness_classes().values())
    weeks = [c.weeks_low for c in classes]
    cold = [c.damaging_c for c in classes]
    assert weeks == sorted(weeks)
    assert cold == sorted(cold)


def test_every_crop_opens_in_its_own_season():
    for crop in known_crops().values():
        season, roles = (
            ("autumn", ("upper_limit", "optimum_high"))
            if crop.crop_class == "cool"
            else ("spring", ("minimum", "lower_limit"))
        )
        choice = crop.first_choice(roles, season, crop.usual_use)
        assert choice is not None, crop.name
        assert 40.0 <= c_to_f(choice.used.value_c) <= 105.0


def test_defaults_are_marked_as_what_they_are():
    bases = {each.basis for each in defaults().values()}
    assert bases <= {"assumption", "common practice"}


def own(tmp_path, text: str):
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_your_own_figures_come_first_and_the_others_stay(tmp_path):
    path = own(tmp_path, "# mine\ncrop,role,value_f\ntomatoes,minimum,63\n")
    choice = known_crops(own=path)["tomato"].choose("minimum", "spring", "transplant")
    assert c_to_f(choice.used.value_c) == pytest.approx(63.0)
    assert choice.used.basis == "yours"
    packaged = find_crop("tomato").choose("minimum", "spring", "transplant")
    assert len(choice.others) == len(packaged.others) + 1
    assert find_crop("tomato").thresholds[0].basis != "yours"  # the packaged ones are untouched


def test_a_crop_of_your_own_says_its_class(tmp_path):
    path = own(
        tmp_path,
        "crop,role,value_f,crop_class,season,use\n"
        "Oca,upper_limit,68,cool,,\nOca,lower_limit,41,,,transplant\n",
    )
    oca = find_crop("oca", known_crops(own=path))
    assert (oca.crop_class, len(oca.thresholds)) == ("cool", 2)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("crop,value_f\ntomato,60\n", r"line 1: no column role"),
        ("crop,role,value_f,color\ntomato,minimum,60,red\n", r"line 1: a column 'color'"),
        ("crop,role,value_f\ntomato,minimum,warm\n", r"line 2: value_f is 'warm'"),
        ("crop,role,value_f\ntomato,minimum,nan\n", r"line 2: value_f is 'nan'"),
        ("crop,role,value_f\ntomato,minimum,600\n", r"line 2: a soil temperature of"),
        ("crop,role,value_f\n\ntomato,least,60\n", r"line 3: role is 'least'"),
        ("crop,role,value_f\ntomato,minimum\n", r"line 2: 2 cells; expected 3"),
        ("crop,role,value_f\nzzz,minimum,60\n", r"line 2: crop 'zzz' is not known"),
        ("crop,role,value_f,season\ntomato,minimum,60,noon\n", r"line 2: season is 'noon'"),
        ("", r"line 1: no column crop"),
    ],
)
def test_a_file_that_is_no_such_table_is_refused_with_its_line(tmp_path, text, said):
    with pytest.raises(FileError, match=said):
        known_crops(own=own(tmp_path, text))


def test_a_file_that_is_not_there_is_said_so(tmp_path):
    with pytest.raises(FileError, match="cannot be read"):
        known_crops(own=tmp_path / "none.csv")
