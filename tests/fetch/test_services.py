"""Each service's answer becomes a checked table: pure parsers, then the whole way over loopback."""

import contextlib
import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.fetch import ncei, near, nws, record, uscrn
from forecaster.ground.errors import DataMissing, FileError, InputError
from forecaster.ground.files import Mark, Target
from forecaster.ingest import account_of, read_air

from . import service
from .conftest import STATION

HERE = Path(__file__).parent
TODAY = date(2024, 6, 15)
CHICAGO = "America/Chicago"


# NCEI Access Data Service


def test_query_is_as_documented():
    asked = ncei.daily_request(STATION, date(2019, 1, 1), date(2019, 12, 31), TODAY)
    assert asked.url() == (
        "https://www.ncei.noaa.gov/access/services/data/v1?dataset=daily-summaries"
        "&stations=USW00013739&startDate=2019-01-01&endDate=2019-12-31&dataTypes=TMAX,TMIN,PRCP"
        "&format=csv&units=metric&includeAttributes=true&includeStationName=true"
        "&includeStationLocation=1"
    )


@pytest.mark.parametrize(
    "bad",
    ["", "USW0001373", "usw00013739", "USW00013739\n", "../../etc/pa", "USW0001373&",
     "USW00013739,X", "ÜSW00013739", "USW0001373 "],
)  # fmt: skip
def test_a_station_that_cannot_be_one_never_reaches_an_address(bad):
    with pytest.raises(InputError, match="is no GHCN-Daily id"):
        ncei.check_station(bad)


def test_blocks_of_settled_years_do_not_depend_on_where_one_starts():
    blocks = ncei.spans(date(2007, 5, 1), date(2024, 6, 15), TODAY)
    assert blocks[0] == (date(2005, 1, 1), date(2009, 12, 31))
    assert blocks[-1] == (date(2024, 1, 1), date(2024, 12, 31))
    assert blocks[:3] == ncei.spans(date(2005, 1, 1), date(2024, 6, 15), TODAY)[:3]
    days = [d for a, b in blocks for d in pd.date_range(a, b)]
    assert len(days) == len(set(days)), "no day is asked for twice"
    # In January the year before is not settled, and neither is the block that holds it.
    assert ncei.spans(date(2020, 1, 1), date(2025, 1, 10), date(2025, 1, 10))[0][1].year == 2020


def test_daily_summaries_become_a_table(door, server):
    server.put_days(STATION, date(2020, 1, 1), 1600)
    found = ncei.daily_summaries(door.ask, STATION, date(2021, 3, 1), date(2024, 5, 1), TODAY)
    assert (found.table.index[0].date(), found.table.index[-1].date()) == (
        date(2021, 3, 1), date(2024, 5, 1),
    )  # fmt: skip
    high, low, _, _ = server.stations[STATION][date(2022, 7, 4)]
    row = found.table.loc["2022-07-04"]
    assert (row["tmax_c"], row["tmin_c"], row["precip_mm"]) == (float(high), float(low), 0.0)
    account = account_of(found.table)
    assert (account.latitude_deg, account.longitude_deg) == (39.95, -75.16)
    assert "NCEI" in account.path
    assert account.files == ()
    assert len(server.asked) == 4, "2021 to 2024, a year each: 2020–2024 is not settled"
    assert not found.stale


def test_flags_and_hours_in_the_attributes_are_heeded(door, server):
    server.put_days(STATION, date(2023, 1, 1), 60, attributes=",,7,0700")
    high, low, rain, _ = server.stations[STATION][date(2023, 1, 20)]
    server.stations[STATION][date(2023, 1, 20)] = (high, low, rain, ",I,7,0700")
    found = ncei.daily_summaries(door.ask, STATION, date(2023, 1, 1), date(2023, 3, 1), TODAY)
    assert np.isnan(found.table.loc["2023-01-20", "tmin_c"]), "a failed check is no value"
    morning = float(server.stations[STATION][date(2023, 1, 11)][0])
    assert found.table.loc["2023-01-10", "tmax_c"] == morning, "read at 7: yesterday's maximum"


def test_a_station_without_such_days_is_told(door, server):
    server.stations.clear()
    with pytest.raises(DataMissing, match="has no days; check the station"):
        ncei.daily_summaries(door.ask, STATION, date(2023, 1, 1), date(2023, 3, 1), TODAY)
    server.put_days(STATION, date(2023, 6, 1), 30)
    with pytest.raises(DataMissing, match="no days from 2023-01-01 to 2023-03-01"):
        ncei.daily_summaries(door.ask, STATION, date(2023, 1, 1), date(2023, 3, 1), TODAY)


def test_days_in_the_wrong_order_are_the_users_to_mend(door, server):
    with pytest.raises(InputError, match="swap them"):
        ncei.daily_summaries(door.ask, STATION, date(2023, 3, 1), date(2023, 1, 1), TODAY)
    assert server.asked == []


def test_a_table_of_another_kind_is_told_with_the_service(door, server):
    server.always = service.says(
        "text/csv", b'"STATION","DATE","SNOW"\n"USW00013739","2023-01-01",1\n'
    )
    with pytest.raises(DataMissing, match=r"NCEI.*cannot be used.*no column") as told:
        ncei.daily_summaries(door.ask, STATION, date(2023, 1, 1), date(2023, 3, 1), TODAY)
    assert ".txt" not in str(told.value), "the reader's own file is nobody's business"
    assert "\n" not in str(told.value)


# GHCN-Daily lists


def test_stations_are_read_by_their_columns():
    found = ncei.parse_stations(service.STATIONS.encode())
    assert [s.station for s in found][-1] == "ASN00001011"
    assert found[0] == ncei.Station("USC00310001", 39.95, -75.1, 10.0, "NEAR AND LOW PA")
    assert found[-1].elevation_m is None, "−999.9 is no height"


def test_lines_that_are_no_stations_are_passed_over():
    body = b"<junk>\nUSC00310001  99.9500  -75.1000   10.0 PA TOO FAR NORTH\n\xff\xfe\n"
    assert ncei.parse_stations(body) == []


def test_inventory_gives_the_years_both_extremes_share():
    found = ncei.parse_inventory(service.inventory(2024).encode())
    assert found["USC00310001"] == ncei.Span(1951, 2024)
    assert "USC00310006" not in found, "a maximum alone is not enough"


def test_published_lines_of_the_lists_are_read():
    """First lines of the lists as NOAA publishes them (quoted in many public projects)."""
    stations = (
        b"ACW00011604  17.1167  -61.7833   10.1    ST JOHNS COOLIDGE FLD                       \n"
        b"AE000041196  25.3330   55.5170   34.0    SHARJAH INTER. AIRP            GSN     41196\n"
    )
    years = (
        b"ACW00011604  17.1167  -61.7833 TMAX 1949 1949\n"
        b"ACW00011604  17.1167  -61.7833 TMIN 1949 1949\n"
        b"ACW00011604  17.1167  -61.7833 PRCP 1949 1949\n"
    )
    found = ncei.parse_stations(stations)
    assert [(s.name, s.elevation_m) for s in found] == [
        ("ST JOHNS COOLIDGE FLD", 10.1),
        ("SHARJAH INTER. AIRP", 34.0),
    ]
    assert ncei.inventory_request().check(years) == ""
    assert ncei.stations_request().check(stations) == ""
    assert ncei.parse_inventory(ncei.inventory_request().trim(years)) == {
        "ACW00011604": ncei.Span(1949, 1949)
    }


def test_lists_over_the_network_keep_only_what_is_needed(door, server):
    service.put_lists(server, 2024)
    body = door.ask(ncei.inventory_request()).body
    assert b"PRCP" not in body
    assert len(ncei.parse_inventory(body)) == 6
    moved = ("text/plain", b"moved elsewhere\n")
    server.pages["/pub/data/ghcn/daily/ghcnd-stations.txt"] = moved
    with pytest.raises(DataMissing, match="something else than its list"):
        door.ask(ncei.stations_request())


def ranked(**options):
    options = {"elevation_m": 12.0, "years": 15, "this_year": 2024} | options
    stations = ncei.parse_stations(service.STATIONS.encode())
    spans = ncei.parse_inventory(service.inventory(2024).encode())
    return near.rank(stations, spans, 39.95, -75.165, **options)


def test_height_counts_before_distance():
    found = ranked()
    assert [c.station.station for c in found] == ["USC00310001", "USC00310003", "USC00310002"]
    nearest = min(found, key=lambda c: c.distance_km)
    assert nearest.station.station == "USC00310002", "the nearest stands 400 m higher: last"
    assert nearest.height_m == pytest.approx(398.0)
    assert nearest.counts_km == pytest.approx(nearest.distance_km + 3.98 * near.KM_PER_100_M)


def test_short_and_ended_records_are_left_out():
    names = {c.station.station for c in ranked()}
    assert names.isdisjoint({"USC00310004", "USC00310005", "USC00310006"})
    assert "USC00310004" in {c.station.station for c in ranked(years=4)}


def test_without_a_height_distance_ranks_alone():
    found = ranked(elevation_m=None)
    assert [c.distance_km for c in found] == sorted(c.distance_km for c in found)
    assert found[0].station.station == "USC00310002"


def test_distance_is_the_great_circle():
    """A degree of latitude is π/180 of the Earth's radius; the antipode is half a turn away."""
    assert near.distance_km(0, 0, 1, 0) == pytest.approx(6371.0 * np.pi / 180, rel=1e-12)
    assert near.distance_km(0, 0, 0, 180) == pytest.approx(6371.0 * np.pi, rel=1e-12)
    assert near.distance_km(10, 179.9, 10, -179.9) < 25, "the date line is no wall"


def test_a_stand_in_for_the_users_height():
    stations = ncei.parse_stations(service.STATIONS.encode())
    assert near.usual_height_m(stations, 39.95, -75.165) == 11.0
    assert near.usual_height_m(stations, 0.0, 0.0) is None


# US Climate Reference Network

DAY = (
    "99999 {day}  2.422   -96.85   40.85 {tmax:7.1f} {tmin:7.1f} {mean:7.1f} {mean:7.1f}     0.0"
    "     8.58 C     5.6    -6.1    -2.5    89.9    60.9    77.1   0.387   0.395   0.379   0.454"
    "   0.478     9.0     9.1     9.2     9.4    10.2\n"
)


def put_year(server, name: str, year: int) -> None:
    days = pd.date_range(f"{year}-01-01", f"{year}-12-31")
    rows = [(day, 10.0 + k % 17) for k, day in enumerate(days)]
    text = "".join(DAY.format(day=f"{d:%Y%m%d}", tmax=t + 5, tmin=t - 5, mean=t) for d, t in rows)
    path = f"/pub/data/uscrn/products/daily01/{year}/CRND0103-{year}-{name}.txt"
    server.pages[path] = ("text/plain", text.encode())


def test_reference_network_years_become_a_table(door, server):
    for year in (2022, 2023):
        put_year(server, "NE_Lincoln_11_SW", year)
    asked = (date(2021, 1, 1), date(2023, 12, 31), TODAY)
    found = uscrn.daily(door.ask, "NE_Lincoln_11_SW", *asked)
    assert len(found.table) == 730
    assert found.table.loc["2022-01-02", "tmax_c"] == 16.0
    assert account_of(found.table).latitude_deg == 40.85
    assert found.notes == ("The network has no file for 2021.",)
    sent = len(server.asked)
    uscrn.daily(door.ask, "NE_Lincoln_11_SW", *asked)
    assert len(server.asked) == sent + 1, "only the year that was not there is asked for again"


def test_a_name_without_files_is_told(door):
    with pytest.raises(DataMissing, match="no files from 2022 to 2023; check the name"):
        uscrn.daily(door.ask, "NE_Nowhere_1_N", date(2022, 1, 1), date(2023, 1, 1), TODAY)


@pytest.mark.parametrize(
    "name",
    ["NE_Lincoln_11_SW", "MT_St._Mary_1_SSW", "AK_Utqiagvik_formerly_Barrow_4_ENE"],
)
def test_names_of_the_network_pass(name):
    assert uscrn.is_name(name)


@pytest.mark.parametrize(
    "name",
    ["", "NE", "NE_../../x_1", "NE_Lincoln_11_SW/../..", "ne_lincoln_11_sw", "NE_a_..b", "NE_Á_1_N",
     "NE_x y_1", "NE_Lincoln_11_SW\n", "USW00013739", f"NE_{'x' * 80}_1"],
)  # fmt: skip
def test_names_that_cannot_be_the_networks_are_refused(name):
    assert not uscrn.is_name(name)
    with pytest.raises(InputError):
        uscrn.year_request(name, 2020, TODAY)


def test_reference_network_file_as_published(door, server, shared_data):
    """A yearly file of the network as published: the same numbers as reading it from disk."""
    files = sorted((shared_data / "uscrn_raw" / "NE_Lincoln_11_SW").glob("CRND0103-*.txt"))
    if not files:
        pytest.skip("no published file of NE_Lincoln_11_SW")
    year = int(files[-1].name.split("-")[1])
    path = f"/pub/data/uscrn/products/daily01/{year}/{files[-1].name}"
    server.pages[path] = ("text/plain", files[-1].read_bytes())
    span = (date(year, 1, 1), date(year, 12, 31))
    found = uscrn.daily(door.ask, "NE_Lincoln_11_SW", *span, date(year + 1, 6, 1))
    pd.testing.assert_frame_equal(found.table, read_air(files[-1]))


# US National Weather Service


def test_coordinates_are_written_as_the_service_wants_them():
    assert nws.point_request(39.74560001, -97.0892).path == "/points/39.7456,-97.0892"
    assert nws.point_request(39.5, -97.0).path == "/points/39.5,-97"
    assert nws.point_request(0.0, -0.00001).path == "/points/0,0"
    for bad in ((91.0, 0.0), (0.0, 181.0), (float("nan"), 0.0)):
        with pytest.raises(InputError):
            nws.point_request(*bad)


def test_intervals_are_read_as_documented():
    """The example of the gridpoint FAQ: from 18:00 UTC on 2019-07-04 for three hours."""
    start, lasts = nws.interval("2019-07-04T18:00:00+00:00/PT3H")
    assert start == datetime(2019, 7, 4, 18, tzinfo=UTC)
    assert lasts == timedelta(hours=3)
    assert nws.interval("2019-07-04T18:00:00-07:00/P1DT2H30M")[0].hour == 1
    for bad in ("", "2019-07-04T18:00:00+00:00", "2019-07-04T18:00:00/PT3H", "x/PT3H",
                "2019-07-04T18:00:00+00:00/P", "2019-07-04T18:00:00+00:00/PT0H",
                "2019-07-04T18:00:00+00:00/P99D"):  # fmt: skip
        with pytest.raises(ValueError, match=r".*"):
            nws.interval(bad)


def test_a_forecast_becomes_an_outlook(door, server):
    service.put_forecast(server, date(2024, 6, 15))
    found = nws.outlook(door.ask, 39.7456, -97.0892)
    table = found.table
    assert list(table.columns) == ["tmin_c", "tmax_c", "precip_mm"]
    assert table.index.name == "date"
    # 13:00 UTC to 02:00 UTC is 8 in the morning to 9 at night in Chicago in June: that day's high.
    assert table.loc["2024-06-15", "tmax_c"] == 15.0
    # 00:00 to 14:00 UTC is the night that ends on the same date: its low.
    assert table.loc["2024-06-15", "tmin_c"] == 4.5
    assert table.loc["2024-06-16", "precip_mm"] == pytest.approx(6.0), "four times 1.5 mm"
    assert np.isnan(table.loc["2024-06-21", "precip_mm"]), "the last day is covered in part only"
    assert [urlpath.split("?")[0] for urlpath in server.asked] == [
        "/points/39.7456,-97.0892",
        "/gridpoints/TOP/31,80",
    ], "the link in the answer leads elsewhere and is not followed"
    assert "application/geo+json" in server.headers[0]["Accept"]


def test_rain_is_shared_out_over_midnight():
    """8 mm from 22:00 to 02:00 in Chicago: 4 mm each side of midnight."""
    told = service.grid(date(2024, 6, 15), 3)
    told["properties"]["quantitativePrecipitation"] = service.layer(
        "wmoUnit:mm",
        ("2024-06-15T05:00:00+00:00/PT22H", 0.0),
        ("2024-06-16T03:00:00+00:00/PT4H", 8.0),
        ("2024-06-16T07:00:00+00:00/P1D", 0.0),
    )
    table = nws.parse_grid(json.dumps(told).encode(), CHICAGO)
    assert table.loc["2024-06-15", "precip_mm"] == pytest.approx(4.0)
    assert table.loc["2024-06-16", "precip_mm"] == pytest.approx(4.0)


def test_merged_intervals_reach_every_day_they_hold():
    told = service.grid(date(2024, 6, 15), 3)
    told["properties"]["maxTemperature"] = service.layer(
        "wmoUnit:degC", ("2024-06-15T13:00:00+00:00/P1DT13H", 21.0)
    )
    table = nws.parse_grid(json.dumps(told).encode(), CHICAGO)
    assert table.loc["2024-06-15":"2024-06-16", "tmax_c"].tolist() == [21.0, 21.0]


def test_nulls_and_nonsense_in_a_forecast_are_passed_over():
    told = service.grid(date(2024, 6, 15), 3)
    values = told["properties"]["maxTemperature"]["values"]
    values += [
        {"validTime": "2024-06-18T13:00:00+00:00/PT13H", "value": None},
        {"validTime": "2024-06-19T13:00:00+00:00/PT13H", "value": "hot"},
        {"validTime": "never", "value": 1.0},
        {"validTime": "2024-06-19T13:00:00+00:00/PT13H", "value": 999.0},
        {"value": 3.0}, 7, None,
    ]  # fmt: skip
    table = nws.parse_grid(json.dumps(told).encode(), CHICAGO)
    assert table["tmax_c"].tolist() == [15.0, 16.0, 17.0]


def test_fahrenheit_is_converted_and_other_units_are_refused():
    told = service.grid(date(2024, 6, 15), 1)
    told["properties"]["maxTemperature"] = service.layer(
        "wmoUnit:degF", ("2024-06-15T13:00:00+00:00/PT13H", 68.0)
    )
    assert nws.parse_grid(json.dumps(told).encode(), CHICAGO)["tmax_c"].iloc[0] == 20.0
    told["properties"]["maxTemperature"]["uom"] = "wmoUnit:K"
    with pytest.raises(DataMissing, match="unit 'K'; expected degC"):
        nws.parse_grid(json.dumps(told).encode(), CHICAGO)


@pytest.mark.parametrize(
    "change",
    [{"gridId": "../x"}, {"gridX": "1"}, {"gridX": -1}, {"gridY": True}, {"timeZone": "../etc"},
     {"timeZone": None}, {"gridId": None}],
)  # fmt: skip
def test_a_square_that_cannot_be_one_never_reaches_an_address(change):
    told = {"properties": service.POINT["properties"] | change}
    with pytest.raises(DataMissing, match="no grid square"):
        nws.parse_point(json.dumps(told).encode())


@pytest.mark.parametrize("body", [b"[1]", b"{}", b'{"properties": 3}', b"{", b"[" * 100_000])
def test_other_json_is_refused_before_it_is_kept(door, server, body):
    server.pages["/points/39.7456,-97.0892"] = ("application/geo+json", body)
    with pytest.raises(DataMissing, match="answered with"):
        nws.outlook(door.ask, 39.7456, -97.0892)
    service.put_forecast(server, date(2024, 6, 15))
    assert len(nws.outlook(door.ask, 39.7456, -97.0892).table) == 7


def test_a_place_outside_says_what_else_there_is(door):
    with pytest.raises(DataMissing, match=r"United States.*your national weather service"):
        nws.outlook(door.ask, 48.85, 2.35)


def test_a_forecast_without_extremes_is_told(door, server):
    service.put_forecast(server, date(2024, 6, 15))
    told = json.dumps({"properties": {"maxTemperature": {"values": []}}}).encode()
    server.pages["/gridpoints/TOP/31,80"] = ("application/geo+json", told)
    with pytest.raises(DataMissing, match="no daily maximum and minimum"):
        nws.outlook(door.ask, 39.7456, -97.0892)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=30)
    | st.sampled_from(["2024-06-15T13:00:00+00:00/PT13H", "0001-01-01T00:00:00+14:00/PT1H",
                       "9999-12-31T23:00:00+00:00/P31D", 10**400]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(
        st.sampled_from(["uom", "values", "validTime", "value", "maxTemperature", "properties",
                         "minTemperature", "quantitativePrecipitation"]), inner, max_size=4),
    max_leaves=20,
)  # fmt: skip
LAYER = st.fixed_dictionaries(
    {
        "uom": st.sampled_from(["wmoUnit:degC", "wmoUnit:mm", "unit:degF", None, 3]),
        "values": st.lists(st.fixed_dictionaries({"validTime": JSON, "value": JSON}), max_size=5),
    }
)


@given(
    JSON
    | st.dictionaries(
        st.sampled_from(["maxTemperature", "minTemperature", "quantitativePrecipitation"]), LAYER
    )
)
def test_any_json_is_a_forecast_or_told_as_none(told):
    """Hypothesis's hundred cases of hostile JSON: a table, or `DataMissing`, nothing else."""
    body = json.dumps({"properties": told}).encode()
    with contextlib.suppress(DataMissing):
        assert len(nws.parse_grid(body, CHICAGO)) > 0


@given(st.binary(max_size=400))
def test_any_bytes_are_lists_or_none(body):
    ncei.parse_stations(body)
    ncei.parse_inventory(body)
    ncei.inventory_request().trim(body)
    for request in (ncei.stations_request(), ncei.inventory_request(), uscrn.year_request(
        "NE_Lincoln_11_SW", 2020, TODAY), ncei.daily_request(STATION, TODAY, TODAY, TODAY),
        nws.point_request(1, 2)):  # fmt: skip
        assert isinstance(request.check(body), str)


# A record kept in a file

PLACE = (STATION, 39.95, -75.16)


def days(first: str, values: list[float], **more: list[float]) -> pd.DataFrame:
    index = pd.date_range(first, periods=len(values), name="date").as_unit("ns")
    high = np.array(values, dtype=float)
    return pd.DataFrame({"tmin_c": high - 10, "tmax_c": high} | more, index=index)


def test_a_new_record_marks_what_may_still_change(tmp_path):
    new = days("2024-04-20", [20.0 + k % 5 for k in range(30)])
    kept, added, found = record.merge(None, new, (date(2024, 1, 1), TODAY), TODAY, PLACE)
    assert (added, found) == (30, [])
    marks = kept.table["status"]
    assert marks.loc["2024-05-01"] == "final", "45 days before 15 June"
    assert marks.loc["2024-05-02"] == "provisional"
    record.write_record(tmp_path / "a.csv", kept)
    again = record.read_record(tmp_path / "a.csv", STATION)
    pd.testing.assert_frame_equal(again.table, kept.table, check_freq=False)
    assert (again.latitude_deg, again.longitude_deg) == (39.95, -75.16)


def test_a_kept_record_is_asked_for_from_its_first_provisional_day(tmp_path):
    new = days("2024-04-20", [20.0 + k % 5 for k in range(30)])
    kept, _, _ = record.merge(None, new, (date(2024, 4, 20), TODAY), TODAY, PLACE)
    assert record.wanted(None, date(2024, 1, 1), TODAY) == [(date(2024, 1, 1), TODAY)]
    assert record.wanted(kept, date(2024, 4, 20), TODAY) == [(date(2024, 5, 2), TODAY)]
    assert record.wanted(kept, date(2024, 4, 1), TODAY) == [
        (date(2024, 4, 1), date(2024, 4, 19)),
        (date(2024, 5, 2), TODAY),
    ]
    assert record.wanted(kept, date(2024, 4, 20), date(2024, 4, 30)) == []


def test_a_corrected_value_replaces_the_old_with_a_note(tmp_path):
    kept, _, _ = record.merge(
        None, days("2024-06-01", [20.0, 21.0, 22.0]), (date(2024, 6, 1), TODAY), TODAY, PLACE
    )
    later = date(2024, 6, 20)
    new = days("2024-06-01", [20.0, 25.5, 22.0, 23.0])
    kept, added, found = record.merge(kept, new, (date(2024, 6, 1), later), later, PLACE)
    assert added == 1
    assert found == [
        record.Correction(date(2024, 6, 2), "tmin_c", 11.0, 15.5),
        record.Correction(date(2024, 6, 2), "tmax_c", 21.0, 25.5),
    ]
    assert kept.table.loc["2024-06-02", "tmax_c"] == 25.5
    assert kept.table.loc["2024-06-02", "note"] == (
        "corrected 2024-06-20: tmin_c was 11; corrected 2024-06-20: tmax_c was 21"
    )
    assert kept.table.loc["2024-06-01", "note"] == ""
    record.write_record(tmp_path / "a.csv", kept)
    assert "tmax_c was 21" in (tmp_path / "a.csv").read_text()


def test_a_withdrawn_value_goes_and_an_unfinished_last_day_stays():
    span = (date(2024, 6, 1), date(2024, 6, 3))
    kept, _, _ = record.merge(None, days("2024-06-01", [20.0, 21.0, 22.0]), span, TODAY, PLACE)
    new = days("2024-06-01", [20.0, np.nan, np.nan])
    new["tmin_c"] = [10.0, 11.0, 12.0]
    kept, _, found = record.merge(kept, new, span, TODAY, PLACE)
    assert found == [record.Correction(date(2024, 6, 2), "tmax_c", 21.0, None)]
    assert np.isnan(kept.table.loc["2024-06-02", "tmax_c"])
    assert kept.table.loc["2024-06-03", "tmax_c"] == 22.0


def test_what_lies_outside_the_stretch_is_left_alone():
    kept, _, _ = record.merge(
        None, days("2024-01-01", [5.0] * 5), (date(2024, 1, 1), TODAY), TODAY, PLACE
    )
    new = days("2024-01-03", [9.0] * 5)
    kept, added, found = record.merge(kept, new, (date(2024, 1, 6), date(2024, 1, 7)), TODAY, PLACE)
    assert (added, found) == (2, [])
    assert kept.table.loc["2024-01-03", "tmax_c"] == 5.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("date,tmax\n2024-01-01,3\n", "not written by crossday air fetch"),
        ("", "not written by crossday air fetch"),
        (",".join(record.HEADING) + "\nUSW00099999,,,2024-01-01,1,2,,,final,\n", "holds station"),
        (",".join(record.HEADING) + f"\n{STATION},,,2024-01-01,1\n", "has 5 cells, not 10"),
        (",".join(record.HEADING) + f"\n{STATION},,,yesterday,1,2,,,final,\n", "a cell"),
        (",".join(record.HEADING) + f"\n{STATION},x,,2024-01-01,1,2,,,final,\n", "a cell"),
        (",".join(record.HEADING) + f"\n{STATION},,,0001-01-01,1,2,,,final,\n", "a cell"),
        (
            ",".join(record.HEADING) + f"\n{STATION},,,2024-01-01,1,2,,,final," * 2 + "\n",
            "a day stands in it twice",
        ),
    ],
    ids=[
        "other table",
        "empty",
        "other station",
        "short line",
        "no date",
        "no place",
        "year 1",
        "day twice",
    ],
)
def test_a_file_that_is_not_ours_is_left_alone(tmp_path, text, words):
    path = tmp_path / "mine.csv"
    path.write_text(text)
    with pytest.raises(FileError, match=f"{words}.*nothing was changed"):
        record.read_record(path, STATION)
    assert path.read_text() == text


def test_a_kept_record_reads_as_any_air_file(tmp_path):
    new = days("2023-01-01", [20.0 + k % 7 for k in range(500)], precip_mm=[1.5] * 500)
    kept, _, _ = record.merge(None, new, (date(2023, 1, 1), TODAY), TODAY, PLACE)
    record.write_record(tmp_path / "air.csv", kept)
    table = read_air(tmp_path / "air.csv")
    pd.testing.assert_frame_equal(table[["tmin_c", "tmax_c", "precip_mm"]], new, check_freq=False)
    account = account_of(table)
    assert (account.latitude_deg, account.longitude_deg, account.station) == (
        39.95,
        -75.16,
        STATION,
    )
    assert account.rows_used == 500


def test_an_outlook_in_a_file_reads_back(tmp_path):
    told = json.dumps(service.grid(date(2024, 6, 15))).encode()
    table = nws.parse_grid(told, CHICAGO)
    target = Target(tmp_path / "ahead.csv", Mark(record.OUTLOOK.encode()), "ahead.csv")
    record.write_table(target, table.dropna(subset=["tmin_c", "tmax_c"]), record.OUTLOOK)
    again = read_air(tmp_path / "ahead.csv")
    whole = table.dropna(subset=["tmin_c", "tmax_c"])
    pd.testing.assert_frame_equal(again[list(table.columns)], whole, check_freq=False)
