"""Planting windows against extension calendars; each row says which calendar, as printed.

A calendar's range is what its writer thought worth printing; ours is what the place's own weather
lets go well. So asked is what a grower would notice: the middle of the printed range lies in our
window, a week's grace at each end, and our opening is within five weeks of the printed one.
`scripts/benchmark_windows.py` scores whole tables of them.
"""

from datetime import date, timedelta

import pandas as pd
import pytest

from forecaster import Site, crop_windows, find_crop
from forecaster.answers.crops import Wish

SPRING, AUTUMN = date(2023, 1, 1), date(2022, 6, 1)  # asked before the season begins
GRACE = timedelta(days=7)
KANSAS = ("KS_Manhattan_6_SSW", 39.10, -96.61)
CAROLINA = ("SC_Blackville_3_W", 33.36, -81.33)
GEORGIA = ("GA_Watkinsville_5_SSE", 33.78, -83.39)
LOUISIANA = ("LA_Lafayette_13_SE", 30.09, -91.87)
KENTUCKY = ("KY_Versailles_3_NNW", 38.09, -84.75)
OKLAHOMA = ("OK_Stillwater_2_W", 36.12, -97.09)
IOWA = ("IA_Des_Moines_17_E", 41.56, -93.29)
FLORIDA = ("FL_Titusville_7_E", 28.62, -80.69)
HANDBOOK = "Southeastern U.S. Vegetable Crop Handbook 2021 and 2022"
HLA_6009 = "Oklahoma State University Extension HLA-6009, Fall Gardening"
PM_534 = "Iowa State University Extension PM 534, Planting and Harvesting Times"
LSU = "Louisiana State University AgCenter, vegetables to plant in August"


@pytest.mark.parametrize(
    "printed",
    [
        (KANSAS, "tomato", "transplant", date(2023, 5, 1), date(2023, 5, 31),
         "Kansas State University (C. Marr), planting guide for eastern Kansas: May"),
        (CAROLINA, "broccoli", "transplant", date(2023, 3, 1), date(2023, 4, 10), HANDBOOK),
        (IOWA, "cabbage", "transplant", date(2023, 4, 1), date(2023, 6, 20),
         "Iowa State University Extension (C. Haynes) 2022: early April to mid-June"),
        (LOUISIANA, "zinnia", "transplant", date(2023, 3, 21), date(2023, 5, 10),
         "LSU AgCenter, bedding-plant tips 2009: late March through early May"),
        (KENTUCKY, "kale", "seed", date(2022, 7, 15), date(2022, 8, 1), HANDBOOK),
        (LOUISIANA, "broccoli", "transplant", date(2022, 8, 1), date(2022, 10, 31), LSU),
        (LOUISIANA, "cucumber", "seed", date(2022, 8, 1), date(2022, 9, 15), LSU),
        (OKLAHOMA, "turnip", "seed", date(2022, 8, 1), date(2022, 9, 15), HLA_6009),
        (OKLAHOMA, "tomato", "transplant", date(2022, 7, 1), date(2022, 7, 15), HLA_6009),
        (OKLAHOMA, "spinach", "seed", date(2022, 9, 5), date(2022, 9, 25), HLA_6009),
        (IOWA, "radish", "seed", date(2022, 8, 11), date(2022, 9, 20), PM_534),
        (IOWA, "lettuce", "seed", date(2022, 8, 1), date(2022, 8, 31), PM_534),
        (FLORIDA, "cabbage", "transplant", date(2022, 9, 1), date(2023, 2, 28),
         "University of Florida IFAS SP103, Florida Vegetable Gardening Guide, Table 1"),
        # Where soil alone is asked, pansies wait for 65 °F; the calendar has them rooting by then.
        (GEORGIA, "pansy", "transplant", date(2022, 10, 1), date(2022, 10, 15),
         "University of Georgia Extension, pansy pointers: first half of October"),
    ],
)  # fmt: skip
def test_the_printed_window_is_ours(records, printed):
    place, crop, use, first, last, source = printed
    station, latitude, longitude = place
    today = SPRING if first.month < 6 else AUTUMN
    air = pd.read_csv(
        next(records("uscrn_daily").glob(f"{station}.csv*")), parse_dates=["date"]
    ).set_index("date").asfreq("D")  # fmt: skip
    air = air.loc[air["tmax_c"].first_valid_index() : pd.Timestamp(today)]
    season = "spring" if today == SPRING else "autumn"
    (window,) = crop_windows(
        air[["tmin_c", "tmax_c", "tavg_c", "precip_mm"]],
        Site(latitude, longitude),
        [find_crop(crop)],
        today=today,
        wish=Wish(season=season, use=use),
        members=150,
    ).windows
    middle = first + (last - first) / 2
    opens, closes = window.opens.median, window.closes.median
    assert opens is not None, source
    assert opens - GRACE <= middle, source
    assert closes is None or middle <= closes + GRACE, source
    assert abs(opens - first) <= timedelta(days=35), source
