"""What headings mean."""

import pytest

from forecaster.ground.units import METRES_PER_INCH
from forecaster.ingest.text import columns as col
from forecaster.ingest.text.columns import understand
from forecaster.ingest.text.neighbours import together


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


@pytest.mark.parametrize(
    ("heading", "what"),
    [
        ("vwc5cm", "water content"),
        ("Water Content, m³/m³ (LGR S/N: 98, SEN S/N: 97, LBL: 5cmBG)", "water content"),
        ("Port 2 5TM Moisture/Temp m³/m³ VWC", "water content"),
        ("soilTempVariance", "a spread"),
        ("soilTempExpUncert", "an uncertainty"),
        ("soilTempNumPts", "a count"),
        ("finalQF", "a flag or quality mark"),
        ("TS_F_MDS_1_QC", "a flag or quality mark"),
        ("SLPAVG", "pressure"),
        ("presion_media", "pressure"),
        ("WSPD2MAVG", "wind"),
        ("velocidad_viento_200cm_media", "wind"),
        ("Soil EC 10 cm", "conductivity or salts"),
        ("PTemp_C_Avg", "the logger's own state"),
        ("rocio_medio", "dew point"),
        ("T_SONIC", "sonic or infrared"),
        ("Max Temp Time", "the hour of an extreme"),
        ("TN50", "at another place"),
        ("Temp In", "at another place"),
        ("d2m", "not known"),
        ("CNR_Temp", "sonic or infrared"),
        ("W2AVG", "not known"),
        ("HMAX", "not known"),
    ],
)
def test_what_is_no_temperature_is_named(heading, what):
    found = understand(heading)
    assert (found.role, found.what) == (col.OTHER, what)


@pytest.mark.parametrize(
    ("heading", "medium", "height_m", "role"),
    [
        ("TEMP2MMIN", "air", 2.0, col.TMIN),
        ("TEMP10MMAX", "air", 10.0, col.TMAX),
        ("Ambient Temp (1.2 m)", "air", 1.2, col.TEMP),
        ("temperatura_abrigo_150cm_maxima", "air", 1.5, col.TMAX),
        ("temperatura_intemperie_5cm_minima", "surface", 0.05, col.TMIN),
        ("Tair_C", "air", None, col.TEMP),
        ("Dry bulb (°C)", "air", None, col.TEMP),
        ("TGK", "surface", None, col.TMIN),
        ("Min grass temp", "surface", None, col.TMIN),
        ("최저 초상온도(°C)", "surface", None, col.TMIN),
        ("Lufttemperatur Tagesmittel", "air", None, col.TAVG),
        ("průměrná teplota vzduchu", "air", None, col.TAVG),
        ("平均気温(℃)", "air", None, col.TAVG),
    ],
)
def test_air_and_its_height(heading, medium, height_m, role):
    found = understand(heading)
    assert (found.medium, found.height_m, found.role) == (medium, height_m, role)
    assert found.depth_m is None
    assert found.depth_guess is None


@pytest.mark.parametrize(
    ("heading", "depth_m", "guess"),
    [
        ("temperatura_suelo_5cm_media", 0.05, None),
        ("Bodentemperatur 10 cm", 0.10, None),
        ("Teplota půdy v hloubce 20 cm", 0.20, None),
        ("Température du sol à 10 cm", 0.10, None),
        ("0.5m 지중온도(°C)", 0.5, None),
        ("Temp, °C (LGR S/N: 98, SEN S/N: 97, LBL: 3cmBG)", 0.03, None),
        ("STO.I-1:-8 (C)", 8 * METRES_PER_INCH, None),
        ("Soil Temperature Observed -2in (degF)", 2 * METRES_PER_INCH, None),
        ("SOILTMP10AVG655", None, 10),
        ("soil.temp.5cm", 0.05, None),
        ("STEMP_10", None, 10),
        ("V_TE005", None, 5),
        ("T-005", None, 5),
        ("TS_1_1_1", None, None),
        ("T109_C_Avg", None, None),
    ],
)
def test_depths_of_services_and_loggers(heading, depth_m, guess):
    found = understand(heading)
    assert found.depth_m == (None if depth_m is None else pytest.approx(depth_m, abs=1e-6))
    assert found.depth_guess == guess


def meanings(*headings):
    return dict(zip(headings, together(headings, [understand(h) for h in headings]), strict=True))


def test_a_minus_sign_makes_the_others_heights():
    found = meanings("T-005", "T020", "T005")
    assert [m.medium for m in found.values()] == ["soil", "air", "air"]
    assert [m.height_m for m in found.values()] == [None, 0.2, 0.05]
    assert [m.medium for m in meanings("T005", "T020").values()] == ["soil", "soil"]


def test_a_port_with_water_content_is_in_the_soil():
    found = meanings("Port 1 Temp °C", "Port 2 Moisture/Temp VWC", "Port 2 Moisture/Temp °C Temp")
    assert [m.medium for m in found.values()] == ["", "", "soil"]


def test_flux_networks_write_celsius():
    assert understand("TA_F").unit == "F"
    assert meanings("TA_F", "TA_F_QC")["TA_F"].unit == "C"
    assert meanings("TIMESTAMP_START", "TS_1_1_1")["TS_1_1_1"].unit == "C"
