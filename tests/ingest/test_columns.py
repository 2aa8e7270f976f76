"""What headings mean."""

import pytest

from forecaster.ingest.text import columns as col
from forecaster.ingest.text.columns import understand
from forecaster.units import METRES_PER_INCH


@pytest.mark.parametrize(
    ("heading", "role", "unit"),
    [
        ("Date", col.DATE, ""),
        ("DATE", col.DATE, ""),
        ("# date", col.DATE, ""),
        ("Date/Time", col.DATE, ""),
        ("Date Time, GMT-07:00", col.DATE, ""),
        ("timestamp", col.DATE, ""),
        ("valid_time", col.DATE, ""),
        ("Time", col.TIME, ""),
        ("Time (LST)", col.TIME, ""),
        ("YEAR", col.YEAR, ""),
        ("MO", col.MONTH, ""),
        ("DY", col.DAY, ""),
        ("DOY", col.DOY, ""),
        ("Hour", col.HOUR, ""),
        ("High", col.TMAX, ""),
        ("Low °F", col.TMIN, "F"),
        ("Tmax (F)", col.TMAX, "F"),
        ("min temp °C", col.TMIN, "C"),
        ("Min Temp (ºC)", col.TMIN, "C"),
        ("Temp Max (Â°C)", col.TMAX, "C"),
        ("Max [deg F]", col.TMAX, "F"),
        ("MaxTemp", col.TMAX, ""),
        ("tmin_k", col.TMIN, "K"),
        ("T2M_MAX", col.TMAX, ""),
        ("temperature_2m_max (°C)", col.TMAX, "C"),
        ("temperature_2m_mean (°C)", col.TAVG, "C"),
        ("Maximum temperature (Degree C)", col.TMAX, "C"),
        ("TAVG", col.TAVG, ""),
        ("Temperature, ℃", col.TEMP, "C"),
        ("Temp, (*F)", col.TEMP, "F"),
        ("°F", col.TEMP, "F"),
        ("Reading", col.TEMP, ""),
        ("PRCP", col.PRECIP, ""),
        ("PRECTOTCORR", col.PRECIP, ""),
        ("Rain (in)", col.PRECIP, "in"),
        ('Rainfall (")', col.PRECIP, "in"),
        ("precipitation_sum (mm)", col.PRECIP, "mm"),
        ("Depth (in)", col.DEPTH, "in"),
        ("Depth inches", col.DEPTH, "in"),
        ("depth_m", col.DEPTH, "m"),
        ("depth", col.DEPTH, ""),
        ("LATITUDE", col.LATITUDE, ""),
        ("lon", col.LONGITUDE, ""),
        ("WBANNO", col.STATION, ""),
        ("TMAX_ATTRIBUTES", col.FLAGS, ""),
        ("Humidity (%)", col.OTHER, ""),
        ("Soil moisture 10cm", col.OTHER, ""),
        ("Battery (V)", col.OTHER, ""),
        ("Dew point max", col.OTHER, ""),
        ("Wind max", col.OTHER, ""),
        ("T2M_RANGE", col.OTHER, ""),
        ("max-min", col.OTHER, ""),
        ("Minutes", col.MINUTE, ""),
        ("Notes", col.OTHER, ""),
        ("Bed", col.PROBE, ""),
        ("Unit", col.UNIT, ""),
        ("Temp unit", col.UNIT, ""),
        ("", col.OTHER, ""),
    ],
)
def test_roles_and_units(heading, role, unit):
    found = understand(heading)
    assert (found.role, found.unit) == (role, unit)


@pytest.mark.parametrize(
    ("heading", "depth_m", "guess"),
    [
        ("Soil 4 in (°F)", 4 * METRES_PER_INCH, None),
        ('Soil 4" F', 4 * METRES_PER_INCH, None),
        ("Soil Temp (4 inch)", 4 * METRES_PER_INCH, None),
        ("10 cm", 0.10, None),
        ("T_10cm_C", 0.10, None),
        ("soil_temperature_0_to_7cm (°C)", 0.035, None),
        ("soil temp 0-10 cm", 0.05, None),
        ("Temperature at 0.1 m (°C)", 0.10, None),
        ("soil5_c", None, 5),
        ("SOIL_TEMP_10", None, 10),
        ("T10", None, 10),
        ("soil 2", None, 2),
        ("T1", None, None),
        ("T2 (°C)", None, None),
        ("Sensor 3 temp", None, None),
        ("temperature_2m (°C)", None, None),
        ("soil temp", None, None),
    ],
)
def test_depths(heading, depth_m, guess):
    found = understand(heading)
    assert found.role == col.TEMP
    assert found.depth_m == (None if depth_m is None else pytest.approx(depth_m, abs=1e-6))
    assert found.depth_guess == guess


@pytest.mark.parametrize(
    ("heading", "hour"),
    [
        ("soil10_1700mst_c", 17.0),
        ("Soil temp at 07:30 (°C)", 7.5),
        ("soil temp 8am F", 8.0),
        ("Soil 5 pm", 17.0),
        ("soil_c", None),
    ],
)
def test_an_hour_in_the_heading(heading, hour):
    assert understand(heading).hour == hour


def test_air_and_soil_are_told_apart():
    assert understand("Air temp").medium == "air"
    assert understand("Soil temp").medium == "soil"
    assert understand("10 cm").medium == "soil"
    assert understand("Temp").medium == ""
    assert understand("Daily soil temp (°F)").daily_mean
