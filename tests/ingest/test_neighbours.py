"""What columns say of one another, in structures met in public files; the numbers are invented."""

import numpy as np
import pandas as pd
import pytest

from forecaster.ground.errors import FileError
from forecaster.ingest import account_of, read_air, read_readings

HOURS = pd.date_range("2022-07-01", periods=96, freq="h")
WAVE = 15.0 - 6.0 * np.cos((HOURS.hour.to_numpy() - 4) / 24 * 2 * np.pi)


@pytest.fixture
def table(tmp_path):
    """Write columns as a CSV file and return its path."""

    def write(columns, name="stranger.csv", **how):
        path = tmp_path / name
        pd.DataFrame(columns).to_csv(path, index=False, **how)
        return path

    return write


def why_left(frame, name):
    """Return why a column was left aside."""
    return next(c.why for c in account_of(frame).columns if c.name == name)


def test_an_f_for_gaps_filled_is_no_fahrenheit(table):
    columns = {"TIMESTAMP": HOURS, "Tair_f": WAVE, "LE_f": 40.0, "VPD_f": 0.9, "LE_fqc": 1}
    frame = read_air(table(columns))
    assert frame["tmax_c"].to_numpy() == pytest.approx(21.0, abs=0.1)
    frame = read_air(table({"time": HOURS, "air_f": WAVE * 1.8 + 32.0, "dew_f": 45.0}))
    assert frame["tmax_c"].to_numpy() == pytest.approx(21.0, abs=0.1)


def test_the_temperature_of_sound_is_not_the_soils(table):
    wind = {"Ux": 0.1, "Uy": 0.2, "Uz": 0.0}
    with pytest.raises(FileError, match="no column understood as a soil temperature"):
        read_readings(table({"TIMESTAMP": HOURS, **wind, "Ts": WAVE}))
    frame = read_readings(table({"TIMESTAMP": HOURS, "TA": WAVE + 1.0, "Ts": WAVE}))
    assert frame["temp_c"].to_numpy() == pytest.approx(WAVE)


def test_a_machine_or_a_room_is_neither_air_nor_soil(table):
    odd = {"inverter_temp": 31.0, "module_temp": 40.0, "room temp (C)": 21.0}
    with pytest.raises(FileError):
        read_air(table({"time": HOURS, **odd}))
    with pytest.raises(FileError):
        read_readings(table({"time": HOURS, **odd}))
    frame = read_readings(table({"time": HOURS, "soil temp module 2 (C)": WAVE, **odd}))
    assert frame["temp_c"].to_numpy() == pytest.approx(WAVE)


def test_a_model_beside_a_thermometer_is_left(table):
    columns = {"utc": HOURS, "soil_temperature": WAVE, "era5_soil_temperature": WAVE + 4.0}
    frame = read_readings(table(columns))
    assert frame["temp_c"].to_numpy() == pytest.approx(WAVE)
    assert why_left(frame, "era5_soil_temperature") == "of a model"
    columns.pop("soil_temperature")
    assert len(read_readings(table(columns))) == len(HOURS)


def test_one_heading_over_several_probes_is_asked_about(tmp_path):
    both = zip(HOURS, WAVE, strict=True)
    rows = [f"{t:%Y\t%m\t%d\t%H}\t{v:.2f}\t{v + 2:.2f}\t\n" for t, v in both]
    path = tmp_path / "card.txt"
    path.write_text("Year\tMonth\tDay\tHour\tTemperatures (C)\n" + "".join(rows))
    with pytest.raises(FileError, match="2 columns may be the soil temperature"):
        read_readings(path)
    with pytest.raises(FileError, match="2 columns may be the air's temperature"):
        read_air(path)
    frame = read_readings(path, columns={"soil10": "Temperatures (C) 2"})
    assert frame["temp_c"].to_numpy() == pytest.approx(np.round(WAVE + 2, 2))


def test_a_nameless_air_is_asked_about_unless_one_is_plainer(table):
    odd = {"time": HOURS, "North (C) temp": WAVE, "South (C) temp": WAVE + 3.0}
    with pytest.raises(FileError, match="2 columns may be the air's temperature"):
        read_air(table(odd))
    frame = read_air(table({**odd, "temp (C)": WAVE - 1.0}))
    assert frame["tmax_c"].to_numpy() == pytest.approx(20.0, abs=0.1)


def test_the_length_of_the_day_tells_a_table_of_the_weather(table):
    days = pd.date_range("2023-01-01", periods=60)
    columns = {"date": days, "temperature": np.linspace(-8, 12, 60), "daylength": 9.5}
    with pytest.raises(FileError, match="the air's temperature unless it says soil"):
        read_readings(table(columns))
    frame = read_air(table(columns), units="C")
    assert frame["tavg_c"].to_numpy() == pytest.approx(np.linspace(-8, 12, 60))


def test_months_are_no_days(table):
    months = pd.date_range("2019-01-15", periods=30, freq="30D")
    with pytest.raises(FileError, match="rows 30 days apart"):
        read_air(table({"date": months, "temp (F)": np.linspace(30, 80, 30)}))


def test_a_few_values_of_a_day_are_not_its_mean(table):
    few = {"time": HOURS[:3], "Temperature_C": WAVE[:3]}
    with pytest.raises(FileError, match="none of 1 days is whole"):
        read_air(table(few))


def test_a_colon_may_part_date_and_hour(table):
    columns = {"time(UTC)": HOURS.strftime("%Y%m%d:%H%M"), "T2m": WAVE, "WS10m": 2.0}
    frame = read_air(table(columns))
    assert frame["tmax_c"].to_numpy() == pytest.approx(21.0, abs=0.1)


def test_a_date_may_stand_last_in_a_wide_table(table):
    days = pd.date_range("2023-01-01", periods=40)
    wide = {f"visitors {k}": np.arange(40) * k for k in range(30)}
    columns = {**wide, "temp_min (C)": -2.0, "temp_max (C)": np.linspace(3, 9, 40), "date": days}
    assert read_air(table(columns))["tmax_c"].to_numpy() == pytest.approx(np.linspace(3, 9, 40))


def test_a_number_at_the_end_of_every_day_is_missing(table):
    """Zero Fahrenheit put in for an empty cell: −17.78 °C on each summer's night."""
    days = pd.date_range("2022-06-01", periods=40)
    rows = [(d + pd.Timedelta(hours=h, minutes=53), round(WAVE[h] + 0.01 * (k % 97), 2))
            for k, (d, h) in enumerate((d, h) for d in days for h in range(24))]  # fmt: skip
    rows += [(d + pd.Timedelta(hours=23, minutes=59), -17.78) for d in days]
    times, values = zip(*sorted(rows), strict=True)
    frame = read_air(table({"date": times, "DryBulbCelsius": values}))
    assert frame["tmin_c"].min() > 8.0
    assert any("-17.78 °C stood for missing" in note for note in account_of(frame).notes)


def test_counts_of_a_sensor_without_a_heading_are_no_temperatures(tmp_path):
    path = tmp_path / "counts.txt"
    path.write_text("".join(f"2025-12-0{d} 08:41:21,4095,4016,4095\n" for d in range(1, 9)))
    with pytest.raises(FileError, match="several numbers without a unit"):
        read_readings(path)


def test_a_time_written_out_by_a_browser(tmp_path):
    """Two headings: that of the device above, that of the readings below it."""
    times = [f"{t:%a %b %d %Y %H:%M:%S} GMT-0700 (Mountain Standard Time)" for t in HOURS]
    rows = [f"{k},{t},{v:.1f},44.0" for k, (t, v) in enumerate(zip(times, WAVE, strict=True))]
    above = ["Name,Device,Download Date,Interval,Temp_Units,Temp_Calibration"]
    above += [f"Bed 3,C0FFEE,{times[-1]},3600,Celsius,0", "index,date,temperature,humidity"]
    path = tmp_path / "browser.csv"
    path.write_text("\n".join([*above, *rows]) + "\n")
    frame = read_readings(path)
    assert frame["temp_c"].to_numpy() == pytest.approx(np.round(WAVE, 1))
    assert frame["time"].iloc[0] == HOURS[0]


def test_daily_means_beside_a_column_of_depths_are_the_soils(table):
    days = pd.date_range("2024-06-06", periods=30)
    columns = {"Date": days, "Depth": 20, "mean_temp": 17.0 + np.arange(30) / 10}
    columns |= {"max_temp": columns["mean_temp"] + 3.0, "min_temp": columns["mean_temp"] - 3.0}
    frame = read_readings(table(columns), units="C")
    assert frame["depth_m"].unique() == pytest.approx([0.2])
    with pytest.raises(FileError, match="no column understood"):
        read_air(table(columns), units="C")


def test_snow_has_no_depth_of_a_reading(table):
    days = pd.date_range("2024-01-06", periods=30)
    columns = {"date": days, "temp": np.arange(30) - 20.0, "snow_depth": 31.0, "prec": 0.4}
    with pytest.raises(FileError, match="the air's temperature unless it says soil"):
        read_readings(table(columns), units="C")


def test_decimal_commas_are_metric(table):
    columns = {"data": HOURS.strftime("%d/%m/%Y %H:%M"), "tmed": WAVE - 6.0, "ur": 63.8}
    frame = read_air(table(columns, sep=";", decimal=","))
    assert frame["tmax_c"].to_numpy() == pytest.approx(15.0, abs=0.1)


def test_hours_of_the_german_service(table):
    """Headings ``TT_TU`` and ``RF_TU``: air and humidity (from memory)."""
    columns = {"STATIONS_ID": 99, "MESS_DATUM": HOURS.strftime("%Y%m%d%H"), "QN_9": 1}
    columns |= {"TT_TU": WAVE.round(1), "RF_TU": 60.0, "eor": "eor"}
    frame = read_air(table(columns, sep=";"))
    assert frame["tmax_c"].to_numpy() == pytest.approx(21.0, abs=0.1)


def test_an_empty_column_of_the_air_is_named(table):
    columns = {"time": HOURS, "ambient_temp": np.nan, "ac_power": 3.0}
    with pytest.raises(FileError, match="no number in 'ambient_temp'"):
        read_air(table(columns))
