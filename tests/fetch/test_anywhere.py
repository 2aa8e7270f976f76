"""Air from anywhere: the gridded stand-in and the world's forecast, parsers and over loopback.

The forms are those of the services' documentation (service.py says which); neither was reached.
"""

import json
import time
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecaster.fetch import met, nws, power
from forecaster.fetch.ask import MET_HOST, POWER_HOST, NoDays, expires
from forecaster.fetch.session import Fetcher
from forecaster.ground.errors import DataMissing, InputError
from forecaster.ingest.account import is_gridded

from . import service

TODAY = date(2024, 6, 15)
HERE = power.Spot(52.37, 4.9)
FIRST, LAST = date(2024, 6, 1), date(2024, 6, 10)
PLACE = (52.37, 4.9)
ASKER = "gardener@example.org"
PATH = "/api/temporal/daily/point"


def days(first=FIRST, last=LAST):
    return [first + timedelta(days=k) for k in range((last - first).days + 1)]


def square(**parts):
    return service.square(days(), (4.9, 52.37), list(power.COLUMNS)) | parts


def body(told):
    return json.dumps(told).encode()


# NASA POWER


def test_the_question_is_as_documented():
    asked = power.days_request(HERE, FIRST, LAST, TODAY)
    assert asked.host == POWER_HOST
    assert asked.url() == (
        "https://power.larc.nasa.gov/api/temporal/daily/point?parameters=T2M_MIN,T2M_MAX,T2M,"
        "PRECTOTCORR&community=AG&longitude=4.9&latitude=52.37&start=20240601&end=20240610"
        "&format=JSON&time-standard=LST"
    )
    assert asked.keep is not None, "recent days are revised"
    assert power.days_request(HERE, date(2023, 1, 1), date(2023, 12, 31), TODAY).keep is None


@pytest.mark.parametrize("bad", [(91.0, 0.0), (0.0, 181.0), (float("nan"), 0.0)])
def test_a_place_that_is_none_never_reaches_an_address(bad):
    with pytest.raises(InputError, match="expected degrees"):
        power.spot(*bad)
    with pytest.raises(InputError, match="expected degrees"):
        met.outlook_request(*bad, ASKER)


def test_days_before_the_record_are_the_users_to_mend():
    with pytest.raises(InputError, match="begins on 1981-01-01"):
        power.days_request(HERE, date(1980, 12, 31), LAST, TODAY)
    with pytest.raises(InputError, match="swap them"):
        power.days_request(HERE, LAST, FIRST, TODAY)


def test_a_square_becomes_a_table(door, server):
    server.behind = date(2024, 6, 9)
    found = power.daily(door.ask, HERE, FIRST, TODAY, TODAY)
    assert list(found.table.columns) == ["tmin_c", "tmax_c", "tavg_c", "precip_mm"]
    assert (found.table.index[0].date(), found.table.index[-1].date()) == (FIRST, date(2024, 6, 8))
    told = square()["properties"]["parameter"]
    assert found.table["tmax_c"].iloc[0] == told["T2M_MAX"]["20240601"]
    assert found.table["tavg_c"].iloc[3] == told["T2M"]["20240604"]
    assert found.table["precip_mm"].eq(1.5).all()
    assert power.STAND_IN in found.notes
    assert any("443 m (1,453 ft)" in note for note in found.notes)
    assert is_gridded(HERE.station)


def test_a_square_without_days_yet_is_told(door, server):
    server.behind = FIRST
    with pytest.raises(NoDays, match="some days behind"):
        power.daily(door.ask, HERE, FIRST, LAST, TODAY)
    with pytest.raises(NoDays, match="not there yet"):
        power.daily(door.ask, HERE, TODAY, TODAY, TODAY)


def test_missing_values_are_missing():
    told = square()
    told["properties"]["parameter"]["T2M"]["20240603"] = -999
    told["properties"]["parameter"]["T2M_MIN"]["20240604"] = None
    table, height_m = power.parse_days(body(told), HERE, FIRST, LAST)
    assert np.isnan(table["tavg_c"].iloc[2])
    assert np.isnan(table["tmin_c"].iloc[3])
    assert height_m == 442.77


def spoiled_squares():
    fahrenheit = square()
    fahrenheit["parameters"] = fahrenheit["parameters"] | {"T2M_MAX": {"units": "F"}}
    yield fahrenheit, "T2M_MAX in 'F'; expected C"
    inches = square()
    inches["parameters"] = inches["parameters"] | {"PRECTOTCORR": {"units": "kg m-2 s-1"}}
    yield inches, "expected mm/day"
    yield square(geometry={"coordinates": [5.9, 52.37, 3.0]}), "answered for another place"
    yield square(geometry={"coordinates": ["x"]}), "no coordinates"
    yield square(header={"time_standard": "UTC", "fill_value": -999.0}), "expected LST"
    yield service.square(days(last=date(2024, 6, 20)), (4.9, 52.37), list(power.COLUMNS)), "asked"
    few = square()
    del few["properties"]["parameter"]["T2M_MIN"]
    yield few, "has no 'T2M_MIN'"
    words = square()
    words["properties"]["parameter"]["T2M"]["20240602"] = "warm"
    yield words, "no number"
    other = square()
    other["properties"]["parameter"]["T2M"]["2024-153"] = 3.0
    yield other, "for a day"


@pytest.mark.parametrize(("told", "says"), list(spoiled_squares()))
def test_a_square_that_is_not_what_was_asked_is_never_kept(door, server, told, says):
    server.misdeeds = [service.says("application/json", body(told))]
    with pytest.raises(DataMissing, match=says):
        power.daily(door.ask, HERE, FIRST, LAST, TODAY)
    assert len(power.daily(door.ask, HERE, FIRST, LAST, TODAY).table) == len(days())


def cut(handler):
    """Announce a whole answer and send half."""
    whole = body(square())
    handler.give(200, "application/json", whole[: len(whole) // 2], announce=len(whole))


def test_a_cut_square_is_asked_for_again(door, server):
    server.misdeeds = [cut]
    assert len(power.daily(door.ask, HERE, FIRST, LAST, TODAY).table) == len(days())
    assert len(server.asked) == 2


@pytest.mark.parametrize("code", [403, 422, 429, 500])
def test_a_refusal_is_one_line_with_the_services_words(door, server, code):
    told = body({"header": "Sorry", "messages": ["Please slow down."]})
    server.always = lambda handler: handler.give(code, "application/json", told)
    with pytest.raises(DataMissing, match=rf"NASA POWER .*{code}.*Please slow down"):
        power.daily(door.ask, HERE, FIRST, LAST, TODAY)


# MET Norway


def test_the_forecast_is_asked_for_as_documented():
    asked = met.outlook_request(52.370001234, -4.98765432, f" {ASKER} ")
    assert asked.host == MET_HOST
    assert asked.url() == (
        "https://api.met.no/weatherapi/locationforecast/2.0/complete?lat=52.37&lon=-4.9877"
    )
    assert asked.contact == ASKER
    assert met.outlook_request(*PLACE, ASKER, 119.6).url().endswith("lon=4.9&altitude=120")
    with pytest.raises(InputError, match="height is 12000 m"):
        met.outlook_request(*PLACE, ASKER, 12000.0)


@pytest.mark.parametrize("bad", [None, "", "me", "a b@c.d e", "x@y", "a@b.org\r\nX: y", "@" * 200])
def test_without_a_contact_nobody_is_asked(bad):
    with pytest.raises(InputError, match="contact"):
        met.outlook_request(*PLACE, bad)


@pytest.mark.parametrize("good", [ASKER, "https://example.org/garden", "github.com/someone/x"])
def test_a_contact_is_an_address(good):
    assert met.check_contact(good) == good


def test_the_caller_is_named_and_nobody_else_hears_of_it(door, server):
    service.put_world(server, TODAY)
    met.outlook(door.ask, *PLACE, contact=ASKER)
    power.daily(door.ask, HERE, FIRST, LAST, TODAY)
    assert server.headers[0]["User-Agent"].startswith("crossday/")
    assert server.headers[0]["User-Agent"].endswith(f" {ASKER}")
    assert ASKER not in server.headers[1]["User-Agent"]


def test_whole_days_get_their_extremes(door, server):
    """Worked by hand: hourly 10 + hour/4 °C, then six hours with −3 and +4 about that, UTC+0."""
    service.put_world(server, TODAY)
    found = met.outlook(door.ask, *PLACE, contact=ASKER)
    table = found.table
    assert table.index[0].date() == date(2024, 6, 16), "the day begun at 5:00 is not whole"
    assert len(table) == 8
    assert table["tmin_c"].iloc[0] == 10.0
    assert table["tmax_c"].iloc[0] == 10.0 + 23 / 4
    assert table["tmin_c"].iloc[1] == 10.0 - 3.0
    assert table["tmax_c"].iloc[1] == 10.0 + 18 / 4 + 4.0
    assert table["precip_mm"].eq(12.0).all()
    assert met.CREDIT in found.notes


def test_days_are_the_clocks():
    """At UTC+9 the six hours from 12 UTC cross midnight, with their middle on the next day."""
    told = body(service.world(TODAY, (4.9, 52.37)))
    tokyo = met.parse_outlook(told, PLACE, met.zone_of("Asia/Tokyo"))
    # 17 June is hourly to 9:00 (hour 23 UTC last); then the steps at 0 and 6 UTC are its own.
    assert tokyo.loc["2024-06-17", "tmax_c"] == max(10.0 + 23 / 4, 10.0 + 6 / 4 + 4.0)
    assert tokyo.loc["2024-06-17", "tmin_c"] == 10.0 - 3.0
    assert tokyo.loc["2024-06-18", "tmin_c"] == 10.0 - 3.0
    assert met.zone_at(-75.2).utcoffset(None) == timedelta(hours=-5)
    with pytest.raises(InputError, match="clock"):
        met.zone_of("Mars/Olympus")
    with pytest.raises(InputError, match="clock"):
        met.zone_of(30.0)


def test_a_day_of_23_hours_is_whole():
    told = body(service.world(date(2024, 3, 29), (4.9, 52.37)))
    table = met.parse_outlook(told, PLACE, met.zone_of("Europe/Amsterdam"))
    assert "2024-03-31" in table.index
    assert table["tmin_c"].notna().all()


def test_without_six_hours_extremes_only_hourly_days_count():
    told = body(service.world(TODAY, (4.9, 52.37), extremes=False))
    assert len(met.parse_outlook(told, PLACE, UTC)) == 1
    none = body(service.world(TODAY, (4.9, 52.37), extremes=False, hourly_days=1))
    with pytest.raises(DataMissing, match="no whole day"):
        met.parse_outlook(none, PLACE, UTC)


def test_a_hole_takes_its_day_away():
    told = service.world(TODAY, (4.9, 52.37))
    rows = told["properties"]["timeseries"]
    rows[:] = [row for row in rows if row["time"] != "2024-06-16T13:00:00Z"]
    table = met.parse_outlook(body(told), PLACE, UTC)
    assert table.index[0].date() == date(2024, 6, 17)
    rows[:] = [row for row in rows if not row["time"].startswith("2024-06-19T06")]
    table = met.parse_outlook(body(told), PLACE, UTC)
    assert np.isnan(table.loc["2024-06-19", "tmin_c"])
    assert np.isfinite(table.loc["2024-06-20", "tmin_c"])


def test_an_answer_is_kept_until_it_expires_then_confirmed(door, server):
    service.put_world(server, TODAY)
    met.outlook(door.ask, *PLACE, contact=ASKER)
    met.outlook(door.ask, *PLACE, contact=ASKER)
    assert len(server.asked) == 1
    server.pages[service.WORLD] = ("application/json", b"")
    server.stamps["Expires"] = "Wed, 21 Oct 2015 07:28:00 GMT"
    with_past = Fetcher(
        door._path.with_name("other.sqlite"), base=server.base, sleep=lambda _: None
    )
    with with_past as other:
        service.put_world(server, TODAY)
        modified = server.stamps["Last-Modified"]
        server.stamps["Expires"] = "Wed, 21 Oct 2015 07:28:00 GMT"
        first = met.outlook(other.ask, *PLACE, contact=ASKER)
        time.sleep(0.01)
        again = met.outlook(other.ask, *PLACE, contact=ASKER)
        assert server.headers[-1]["If-Modified-Since"] == modified
        assert again.fetched > first.fetched, "confirmed just now"
        assert again.table.equals(first.table)
        server.stamps["Expires"] = (datetime.now(UTC) + timedelta(hours=1)).strftime(
            "%a, %d %b %Y %H:%M:%S GMT"
        )
        met.outlook(other.ask, *PLACE, contact=ASKER)
        count = len(server.asked)
        met.outlook(other.ask, *PLACE, contact=ASKER)
        assert len(server.asked) == count, "the confirmation's own Expires counts"


def test_expires_is_a_date_within_a_day():
    now = datetime(2015, 10, 21, 7, 0, tzinfo=UTC)
    keep = timedelta(hours=1)
    assert expires(None, now, keep) == now + keep
    assert expires("0", now, keep) == now, "RFC 9111, section 5.3: already expired"
    assert expires("Thu, 01 Dec 1994 16:00:00 GMT", now, keep) == now
    assert expires("Wed, 21 Oct 2099 07:28:00 GMT", now, keep) == now + timedelta(days=1)


def spoiled_forecasts():
    whole = service.world(TODAY, (4.9, 52.37))
    warm = json.loads(json.dumps(whole))
    warm["properties"]["meta"]["units"]["air_temperature"] = "fahrenheit"
    yield warm, "air_temperature in 'fahrenheit'; expected celsius"
    bare = json.loads(json.dumps(whole))
    del bare["properties"]["meta"]
    yield bare, "expected celsius"
    yield service.world(TODAY, (5.9, 52.37)), "answered for another place"
    yield whole | {"geometry": None}, "no coordinates"
    yield whole | {"properties": {}}, "no timeseries"
    empty = json.loads(json.dumps(whole))
    empty["properties"]["timeseries"] = []
    yield empty, "without any time"
    far = json.loads(json.dumps(whole))
    far["properties"]["timeseries"][0]["time"] = "2023-01-01T00:00:00Z"
    yield far, "no forecast"


@pytest.mark.parametrize(("told", "says"), list(spoiled_forecasts()))
def test_a_forecast_that_is_not_what_was_asked_is_never_kept(door, server, told, says):
    service.put_world(server, TODAY)
    server.misdeeds = [service.says("application/json", body(told))]
    with pytest.raises(DataMissing, match=says):
        met.outlook(door.ask, *PLACE, contact=ASKER)
    assert len(met.outlook(door.ask, *PLACE, contact=ASKER).table) == 8


def test_a_cut_forecast_is_asked_for_again(door, server):
    service.put_world(server, TODAY)
    kind, whole = server.pages[service.WORLD]
    server.misdeeds = [lambda h: h.give(200, kind, whole[:900], announce=len(whole))]
    assert len(met.outlook(door.ask, *PLACE, contact=ASKER).table) == 8
    assert len(server.asked) == 2


@pytest.mark.parametrize(("code", "tries"), [(403, 1), (429, 4)])
def test_a_refused_forecast_is_told(door, server, code, tries):
    server.always = service.status(code)
    with pytest.raises(DataMissing, match=rf"MET Norway \(api.met.no\) answered {code}"):
        met.outlook(door.ask, *PLACE, contact=ASKER)
    assert len(server.asked) == tries


def test_only_the_listed_host_is_gone_to(door, server):
    service.put_world(server, TODAY)
    server.misdeeds = [service.redirects("https://elsewhere.example/x")]
    with pytest.raises(DataMissing, match="refused to go to"):
        met.outlook(door.ask, *PLACE, contact=ASKER)


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(st.dictionaries(st.sampled_from(["time", "data", "instant"]), json_values), json_values)
def test_any_json_is_an_answer_or_told_as_none(row, other):
    told = service.world(TODAY, (4.9, 52.37))
    told["properties"]["timeseries"][3] = row
    told["properties"]["timeseries"].append(other)
    assert len(met.parse_outlook(json.dumps(told).encode(), PLACE, UTC)) >= 6
    for spoiled in ({"properties": other}, other, {"geometry": other, "properties": row}):
        with pytest.raises(DataMissing):
            met.parse_outlook(json.dumps(spoiled).encode(), PLACE, UTC)
        with pytest.raises(DataMissing):
            power.parse_days(json.dumps(spoiled).encode(), HERE, FIRST, LAST)


# Who is asked


@pytest.mark.parametrize(
    ("place", "asked"),
    [
        ((39.95, -75.17), True), ((61.2, -149.9), True), ((21.3, -157.9), True),
        ((18.5, -66.1), True), ((13.5, 144.8), True), ((-14.3, -170.7), True),
        ((52.37, 4.9), False), ((-36.2, 146.6), False), ((19.4, -99.1), False),
        ((60.0, 11.0), False),
    ],
)  # fmt: skip
def test_the_us_service_is_asked_where_it_may_cover(place, asked):
    """Philadelphia, Anchorage, Honolulu, San Juan, Guam, Pago Pago; not Amsterdam and others."""
    assert nws.may_cover(*place) is asked
