"""Whatever the bytes, an answer or a `ForecasterError`; whatever the answer, every row counted."""

import gzip
import io
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forecaster.ground.errors import ForecasterError
from forecaster.ingest import account_of, read_air, read_readings

READERS = (read_air, read_readings)
DAILY = """\
date,tmax_c,tmin_c,tavg_c,soil5_c,soil10_c,precip_mm
2024-05-01,20.5,8.1,14,12,11,0
2024-05-02,21.0,9.0,15,12.5,11.2,3.4
2024-05-03,,,,,,
"""
STATION = """\
"STATION","NAME","DATE","PRCP","TMAX","TMIN","TOBS"
"USC1","A, B US","2018-01-01","0.00","65","34","42"
"USC1","A, B US","2018-01-02","0.10","61","38",
"""
LONG = """\
USC00042319,20180101,TMAX,183,,,7,0700
USC00042319,20180101,TMIN,11,,I,7,0700
"""
NETWORK = (
    "94996 20160101  2.422  -96.85   40.70     2.2    -9.3    -3.6    -3.3     0.0    10.02 C     "
    "1.1   -12.0    -5.6    78.3    50.3    66.1 -99.000   0.315   0.327   0.274   0.317     0.1"
    "     0.6     1.4     3.1     5.6\n"
)
LOGGER = """\
Serial: 7

Date/Time,Temp (°F),Battery
03/14/2025 07:40:00 AM,61.5,3
03/15/2025 07:40:00 PM,---,3
"""
COMMAS = "Datum;Zeit;Temp °C\n14.03.2025;07:40;16,5\n15.03.2025;7:45;-0,5\n"
HAND = "3/14 morning, 52F\n3/15, 53F\n3/21 cold, 49F 4in\n"
PARTS = "YEAR,MO,DY,T2M_MAX,T2M_MIN\n2019,1,1,5.3,-2.1\n2019,1,2,6.3,-1.1\n"
FLUX = """\
TIMESTAMP_START,TIMESTAMP_END,SWC_1_1_1,TA,TS_1_1_1,TS_2_1_1
202101010000,202101010030,45.1,-9999,3.468,3.13
202101010030,202101010100,45.0,11.69,3.605,3.155
"""
HOURS = "time,air temp (C),wind,T-005,T020\n" + "".join(
    f"2021-03-{d:02d} {h:02d}:00,{h / 2},TRUE,{d},NA\n" for d in (1, 2) for h in range(24)
)
PORTS = """\
Measurement Time\tPort 1 °C Temp\tPort 2 m³/m³ VWC\tPort 2 °C Temp
04/13/14 08:00 AM\t-7.8\t0.146\t4.0
04/13/14 10:00 AM\t5.0\t0.146\t* * *
"""
BARE = (
    "0;2020.10.06 09:00;4;10.875;10.5;12.3;1257;202;0\n1;2020.10.06 09:15;4;10.8;10.6;11;1262;2;0\n"
)
BEDS = "date,when,bed,soil_f\n2025-03-14,morning,A,52\n2025-03-14,noon,B,54\n"
FIXED = "USC00042319201802TMAX" + "".join(f"{v:5d}  7" for v in range(100, 131)) + "\n"
TEXTS = (
    FLUX,
    HOURS,
    PORTS,
    BARE,
    BEDS,
    FIXED,
    DAILY,
    STATION,
    LONG,
    NETWORK,
    LOGGER,
    COMMAS,
    HAND,
    PARTS,
)
PIECES = st.sampled_from(
    [",", ";", "\t", '"', "\n", "\r", "-9999", "1e999", "NaN", "inf", "\x00", "2025-02-30",
     "24:00", "99999999999999999999", "#", "/", " ", "°F", "K", ",,,,,,,,", "4in", "True", "é",
     "1/2/3", "depth", "soil", "date", "°", "0000000000", "12:99", "\x1a", "Feb 30"]
)  # fmt: skip
OPTIONS = st.fixed_dictionaries(
    {},
    optional={
        "units": st.sampled_from(["F", "C", "K", "tenths"]),
        "day_first": st.booleans(),
        "columns": st.dictionaries(
            st.sampled_from(["soil10", "tmax", "air", "date", "time", "probe", "snow"]),
            st.sampled_from(["1", "2", "4", "TA", "time", "bed", "99"]),
            max_size=2,
        ),
    },
)


def answer_or_error(path, options):
    for reader in READERS:
        try:
            frame = reader(path, **options)
        except ForecasterError as error:
            message = str(error)
        else:
            message = "an answer"
            account = account_of(frame)
            assert account.rows_used + sum(account.refused_count.values()) == account.rows_read
            assert len(account.refused) <= sum(account.refused_count.values())
            assert len(frame)
            assert account.rows_used
        assert "\n" not in message
        assert 0 < len(message) < 800


@st.composite
def spoiled(draw):
    text = draw(st.sampled_from(TEXTS))
    for _ in range(draw(st.integers(1, 6))):
        place = draw(st.integers(0, len(text)))
        kind = draw(st.integers(0, 4))
        if kind == 0:
            text = text[:place] + draw(PIECES) + text[place:]
        elif kind == 1:
            text = text[:place] + text[place + draw(st.integers(1, 20)) :]
        elif kind == 2:
            text = text.replace(draw(PIECES), draw(PIECES))
        elif kind == 3:
            text = text[:place]
        else:
            lines = text.split("\n")
            text = "\n".join(draw(st.permutations(lines)))
    return text


def packed(data, how):
    if how == "gzip":
        return gzip.compress(data)
    if how == "zip":
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w") as archive:
            archive.writestr("a", data)
        return buffer.getvalue()
    return data


CALM = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@CALM
@given(st.binary(max_size=400), st.sampled_from(["plain", "gzip", "zip"]))
def test_garbage(tmp_path, data, how):
    path = tmp_path / "a"
    path.write_bytes(packed(data, how))
    answer_or_error(path, {})


@CALM
@given(st.text(alphabet="0123456789-/:., ;\t\nFCK°abcdet", max_size=200), OPTIONS)
def test_almost_tables(tmp_path, text, options):
    path = tmp_path / "a"
    path.write_text("date,tmax_c,tmin_c,soil_c\n" + text, encoding="utf-8")
    answer_or_error(path, options)


@settings(CALM, max_examples=100)
@given(spoiled(), OPTIONS, st.sampled_from(["utf-8", "utf-16", "latin-1"]))
def test_spoiled_tables(tmp_path, text, options, encoding):
    path = tmp_path / "a"
    path.write_bytes(text.encode(encoding, "replace"))
    answer_or_error(path, options)


@settings(CALM, max_examples=60)
@given(st.sampled_from(TEXTS), st.integers(1, 400), st.sampled_from(["gzip", "zip"]))
def test_cut_archives(tmp_path, text, length, how):
    path = tmp_path / "a"
    path.write_bytes(packed(text.encode(), how)[:length])
    answer_or_error(path, {})


@pytest.mark.slow
@settings(CALM, max_examples=8000)
@given(spoiled(), OPTIONS)
def test_many_spoiled_tables(tmp_path, text, options):
    path = tmp_path / "a"
    path.write_text(text, encoding="utf-8", newline="")
    answer_or_error(path, options)
