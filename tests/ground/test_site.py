"""The place asked about: ranges, and names that the tables know."""

from typing import get_args

import pytest

from forecaster.ground.errors import InputError
from forecaster.ground.site import Cover, Site, Soil
from forecaster.packaged import load_csv


def test_every_named_soil_and_cover_has_its_row_and_every_row_its_name():
    assert set(get_args(Soil)) == {row["soil"] for row in load_csv("soils.csv")}
    assert set(get_args(Cover)) == {row["cover"] for row in load_csv("covers.csv")}


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"latitude_deg": 91.0}, "latitude_deg is 91.0; expected a number from -90 to 90"),
        ({"latitude_deg": float("nan")}, "latitude_deg is nan"),
        ({"latitude_deg": 10.0, "longitude_deg": 181.0}, "longitude_deg is 181.0"),
        ({"latitude_deg": 10.0, "depth_m": 2.5}, "depth_m is 2.5; expected a number from 0 to 2"),
        ({"latitude_deg": 10.0, "soil": "moon dust"}, "soil is 'moon dust'; expected one of loam"),
        ({"latitude_deg": 10.0, "cover": "snow"}, "cover is 'snow'; expected one of grass"),
    ],
)
def test_what_no_place_has_is_refused_in_one_line(wrong, says):
    with pytest.raises(InputError, match=says) as caught:
        Site(**wrong)
    assert "\n" not in str(caught.value)


def test_ends_of_the_ranges_are_places():
    for latitude in (-90.0, 0, 90.0):
        for depth in (0, 2.0):
            assert Site(latitude, -180.0, depth).depth_m == depth
