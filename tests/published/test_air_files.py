"""Air records of data packages, read and compared with the network's own files.

`bokeh_sampledata` carries ``lincoln_weather.csv``: a GHCN-Daily station table of Lincoln 11 SW,
Nebraska, 2016, in whole °F. The same station's USCRN daily01 file of that year (NOAA NCEI; Diamond
et al. 2013, doi 10.1175/BAMS-D-12-00170.1) holds the same days in tenths of °C.
`vega_datasets` carries ``seattle-weather.csv``: 2012 to 2015, in °C and mm without saying so.
"""

from importlib.resources import files

import numpy as np
import pandas as pd
import pytest

from forecaster.ingest import account_of, read_air


@pytest.fixture(scope="module")
def lincoln():
    return read_air(str(files("bokeh_sampledata") / "_data" / "lincoln_weather.csv"))


@pytest.fixture(scope="module")
def seattle():
    return read_air(str(files("vega_datasets") / "_data" / "seattle-weather.csv"))


def test_lincoln_is_read_as_degrees_fahrenheit(lincoln):
    account = account_of(lincoln)
    assert account.units == "°F"
    assert account.station == "LINCOLN 11 SW, NE US"
    assert account.rows_read == 366
    # first lines of the file: 2016-01-01 36 15, 2016-01-02 39 18
    assert lincoln["tmax_c"].iloc[:2].tolist() == pytest.approx([20 / 9, 35 / 9])
    assert lincoln["tmin_c"].iloc[:2].tolist() == pytest.approx([-85 / 9, -70 / 9])


def test_lincoln_agrees_with_the_network_file(lincoln, shared_data):
    (path,) = (shared_data / "uscrn_raw" / "NE_Lincoln_11_SW").glob("*2016*")
    network = read_air(path)
    assert network.index.equals(lincoln.index)
    for column in ("tmax_c", "tmin_c"):
        apart = (network[column] - lincoln[column]).abs().dropna()
        assert len(apart) == 365  # one day is missing in both
        # Rounding to whole °F moves a value by up to 0.28 °C: all 365 days lie within that.
        assert (apart <= 0.5 / 1.8 + 1e-9).all()
    assert lincoln["tmax_c"].isna().equals(network["tmax_c"].isna())


def test_seattle_is_read_as_degrees_celsius(seattle):
    account = account_of(seattle)
    assert account.units == "°C, rain in mm"
    assert "whole year" in account.why_units
    assert account.rows_read == account.rows_used == len(seattle) == 1461
    raw = pd.read_csv(str(files("vega_datasets") / "_data" / "seattle-weather.csv"))
    np.testing.assert_array_equal(seattle["tmax_c"], raw["temp_max"])
    np.testing.assert_array_equal(seattle["tmin_c"], raw["temp_min"])
    np.testing.assert_array_equal(seattle["precip_mm"], raw["precipitation"])
