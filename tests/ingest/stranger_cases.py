"""The cases of `test_strangers`, family by family."""

from __future__ import annotations

import numpy as np
import pandas as pd
from strangers import Case, air_of, by_day, log_of, text, weather

HOURS = weather()
DAILY = by_day(HOURS)
LONG = by_day(weather(days=400, start="2022-01-01"))
HALF = weather("30min")
QUARTER = weather("15min", days=6)
TWO_HOURS = weather("2h")


def daily_tables() -> list[Case]:
    """Daily tables in nine languages: extremes, mean, soil, rain and what is none of it."""
    languages = {
        "english": (
            "date",
            "max air temperature (°C)",
            "min air temperature (°C)",
            "mean air temperature (°C)",
            "soil temperature 10 cm (°C)",
            "rain (mm)",
            "mean wind speed (m/s)",
            "soil moisture 10 cm",
            "mean pressure (kPa)",
        ),
        "spanish": (
            "fecha",
            "temperatura_maxima",
            "temperatura_minima",
            "temperatura_media",
            "temperatura_suelo_10cm",
            "precipitacion",
            "viento_medio_200cm",
            "humedad_suelo_10cm",
            "presion_media",
        ),
        "portuguese": (
            "Data",
            "Temperatura máxima (°C)",
            "Temperatura mínima (°C)",
            "Temperatura média (°C)",
            "Temperatura do solo 10 cm (°C)",
            "Chuva (mm)",
            "Velocidade média do vento",
            "Umidade do solo",
            "Pressão média",
        ),
        "french": (
            "Date",
            "Température maximale",
            "Température minimale",
            "Température moyenne",
            "Température du sol à 10 cm",
            "Pluie",
            "Vent moyen",
            "Humidité du sol",
            "Pression moyenne",
        ),
        "german": (
            "Datum",
            "Höchsttemperatur",
            "Tiefsttemperatur",
            "Lufttemperatur Tagesmittel",
            "Bodentemperatur 10 cm",
            "Niederschlag",
            "Windgeschwindigkeit Mittel",
            "Bodenfeuchte 10 cm",
            "Luftdruck Mittel",
        ),
        "italian": (
            "Data",
            "Temperatura massima",
            "Temperatura minima",
            "Temperatura media",
            "Temperatura del suolo 10 cm",
            "Pioggia",
            "Vento medio",
            "Umidità del suolo",
            "Pressione media",
        ),
        "czech": (
            "Datum",
            "Maximální teplota vzduchu",
            "Minimální teplota vzduchu",
            "Průměrná teplota vzduchu",
            "Teplota půdy 10 cm",
            "Úhrn srážek",
            "Průměrná rychlost větru",
            "Vlhkost půdy 10 cm",
            "Průměrný tlak",
        ),
        "korean": (
            "일시",
            "최고기온(°C)",
            "최저기온(°C)",
            "평균기온(°C)",
            "평균 10cm 지중온도(°C)",
            "일강수량(mm)",
            "평균 풍속(m/s)",
            "토양수분(%)",
            "평균 현지기압(hPa)",
        ),
        "japanese": (
            "年月日",
            "最高気温(℃)",
            "最低気温(℃)",
            "平均気温(℃)",
            "平均地温 10cm(℃)",
            "降水量の合計(mm)",
            "平均風速(m/s)",
            "土壌水分(%)",
            "平均現地気圧(hPa)",
        ),
    }
    encodings = {"korean": "cp949", "japanese": "cp932", "german": "cp1252", "french": "cp1252"}
    parts = {"german": (";", True), "french": (";", True), "portuguese": (";", True)}
    whole = ("time", "tmax", "tmin", "air", "soil10", "rain", "wind", "vwc", "pressure")
    cases = []
    for language, names in languages.items():
        part, comma = parts.get(language, (",", False))
        how = {
            "part": part,
            "comma": comma,
            "style": "%Y-%m-%d",
            "encoding": encodings.get(language, "utf-8"),
        }
        columns = dict(zip(names, whole, strict=True))
        cases.append(
            Case(
                f"{language}, all",
                text(LONG, columns, **how),
                air_of(LONG),
                log_of(LONG, soil10=0.10),
            )
        )
        few = {k: v for k, v in columns.items() if v not in ("soil10",)}
        cases.append(Case(f"{language}, no soil", text(LONG, few, **how), air_of(LONG), None))
        few = {k: v for k, v in columns.items() if v not in ("tmax", "tmin", "air")}
        cases.append(
            Case(f"{language}, no air", text(LONG, few, **how), None, log_of(LONG, soil10=0.10))
        )
        few = {k: v for k, v in columns.items() if v not in ("tmax", "tmin", "soil10")}
        cases.append(
            Case(f"{language}, mean only", text(LONG, few, **how), air_of(LONG, "tavg"), None)
        )
    return cases


def coded_tables() -> list[Case]:
    """Networks' codes in capitals: two heights of air, soil of two kinds of probe, winds."""
    columns = {
        "TIMESTAMP": "time",
        "STATION": "=Alder",
        "PRESSUREAVG": "pressure",
        "SLPAVG": "pressure",
        "TEMP2MAVG": "air",
        "TEMP2MMIN": "tmin",
        "TEMP2MMAX": "tmax",
        "TEMP10MAVG": "surface",
        "RELHUM2MAVG": "rh",
        "PRECIP": "rain",
        "SRAVG": "sun",
        "WSPD2MAVG": "wind",
        "WSPD2MMAX": "wind",
        "SOILTMP5AVG": "soil5",
        "SOILTMP5MAX": "surface",
        "SOILTMP10AVG": "soil10",
        "VWC5CM": "vwc",
        "VWC10CM": "vwc",
    }
    soil = log_of(LONG, soil5=0.05, soil10=0.10)
    cases = [Case("coded", text(LONG, columns, style="%Y-%m-%d"), air_of(LONG), soil)]
    twice = columns | {"SOILTMP5AVG655": "soil10", "SOILTMP10AVG655": "soil20"}
    cases.append(
        Case(
            "coded, two probes",
            text(LONG, twice, style="%Y-%m-%d"),
            air_of(LONG),
            {
                ("soiltmp", 0.05): LONG["soil5"],
                ("soiltmp", 0.10): LONG["soil10"],
                ("soiltmp avg655", 0.05): LONG["soil10"],
                ("soiltmp avg655", 0.10): LONG["soil20"],
            },
        )
    )
    plain = {
        "Date": "time|%m/%d/%y %H:%M",
        "DOY": "doy",
        "TMAX": "tmax",
        "TMIN": "tmin",
        "RAIN": "rain",
        "HMAX": "rh",
        "HMIN": "rh",
        "ATOT": "sun",
        "W2AVG": "wind",
        "ETgrass": "wind",
    }
    cases.append(Case("wind named AVG", text(LONG, plain), air_of(LONG, "tmin tmax")))
    codes = {
        "STAID": "=7",
        "DATE": "time|%Y%m%d",
        "TX": "tmax|T",
        "Q_TX": "=0",
        "TN": "tmin|T",
        "Q_TN": "=0",
        "RR": "rain|T",
        "HTX": "=1400",
    }
    truth = air_of(LONG.round(1), "tmin tmax")
    cases.append(Case("tenths, asked", text(LONG, codes), truth, air_options={"units": "tenths"}))
    german = {
        "STATIONS_ID": "=99",
        "MESS_DATUM": "time|%Y%m%d",
        "QN_3": "=10",
        "FX": "wind",
        "RSK": "rain",
        "VPM": "wind",
        "PM": "pressure",
        "TMK": "air",
        "UPM": "rh",
        "TXK": "tmax",
        "TNK": "tmin",
        "TGK": "surface",
        "eor": "=eor",
    }
    cases.append(Case("TXK TNK TGK", text(LONG, german, part=";"), air_of(LONG)))
    deep = {
        "STATIONS_ID": "=99",
        "MESS_DATUM": "time|%Y%m%d",
        "QN_2": "=3",
        "V_TE005": "soil5",
        "V_TE010": "soil10",
        "V_TE020": "soil20",
        "eor": "=eor",
    }
    cases.append(
        Case(
            "V_TE005",
            text(LONG, deep, part=";"),
            None,
            log_of(LONG, soil5=0.05, soil10=0.10, soil20=0.20),
        )
    )
    french = {
        "NUM_POSTE": "=7",
        "NOM_USUEL": "=AULNE",
        "LAT": "=44.1",
        "LON": "=1.2",
        "AAAAMMJJ": "time|%Y%m%d",
        "RR": "rain",
        "TN": "tmin",
        "QTN": "=1",
        "TX": "tmax",
        "QTX": "=1",
        "TM": "air",
        "TN50": "surface",
        "TNSOL": "surface",
    }
    cases.append(Case("TN TX TM TN50", text(LONG, french, part=";"), air_of(LONG)))
    shelter = {
        "id": "=Q7",
        "fecha": "time",
        "temperatura_abrigo_150cm_maxima": "tmax",
        "temperatura_abrigo_150cm_minima": "tmin",
        "temperatura_intemperie_5cm_minima": "surface",
        "temperatura_suelo_5cm_media": "soil5",
        "temperatura_suelo_10cm_media": "soil10",
        "temperatura_inte_5cm": "surface",
        "velocidad_viento_200cm_media": "wind",
        "presion_media": "pressure",
        "profundidad_napa": "wind",
        "rocio_medio": "surface",
    }
    cases.append(
        Case(
            "shelter at 150 cm",
            text(DAILY, shelter, style="%Y-%m-%d"),
            air_of(DAILY, "tmin tmax"),
            log_of(DAILY, soil5=0.05, soil10=0.10),
        )
    )
    elements = {
        "Site Id": "=2001",
        "Date": "time|%Y-%m-%d",
        "TMAX.D-1 (degC)": "tmax",
        "TMIN.D-1 (degC)": "tmin",
        "TAVG.D-1 (degC)": "air",
        "STO.I-1:-2 (C)": "soil5",
        "STO.I-1:-8 (C)": "soil20",
        "SMS.I-1:-2 (pct)": "vwc",
    }
    cases.append(
        Case(
            "elements by inches",
            text(DAILY, elements),
            air_of(DAILY),
            log_of(DAILY, soil5=0.0508, soil20=0.2032),
        )
    )
    power = {
        "YEAR": "time|%Y",
        "MO": "time|%m",
        "DY": "time|%d",
        "T2M": "air",
        "T2M_MAX": "tmax",
        "T2M_MIN": "tmin",
        "T2MDEW": "surface",
        "TS": "surface",
        "RH2M": "rh",
        "PRECTOTCORR": "rain",
        "WS2M": "wind",
    }
    cases.append(Case("T2M beside a skin", text(LONG, power), air_of(LONG)))
    return cases


def hourly_tables() -> list[Case]:
    """Stations by the hour, half hour and quarter: air to days, soil as it is."""
    columns = {
        "TIMESTAMP": "time",
        "RECORD": "count",
        "BattV_Min": "volts",
        "PTemp_C_Avg": "surface",
        "AirTC_Avg": "air",
        "RH": "rh",
        "SlrW_Avg": "sun",
        "WS_ms_Avg": "wind",
        "Soil_T_5cm_Avg": "soil5",
        "Soil_T_20cm_Avg": "soil20",
        "SoilT_5cm_Std": "vwc",
        "VWC_5cm_Avg": "vwc",
        "Rain_mm_Tot": "rain",
    }
    cases = []
    soil = {"soil5": 0.05, "soil20": 0.20}
    for name, table in (
        ("hours", HOURS),
        ("half hours", HALF),
        ("quarters", QUARTER),
        ("two hours", TWO_HOURS),
    ):
        cases.append(
            Case(
                f"station by {name}",
                text(table, columns),
                air_of(by_day(table)),
                log_of(table, **soil),
            )
        )
    iso = text(HOURS, columns, style="%Y-%m-%dT%H:%M:%SZ")
    cases.append(Case("station, UTC", iso, air_of(DAILY), log_of(HOURS, **soil)))
    holes = HOURS.copy()
    holes.loc[holes.index[100:110], "air"] = np.nan
    whole = holes.groupby(holes.index.normalize())["air"].count() >= 22
    truth = air_of(by_day(holes))[whole.to_numpy()]
    cases.extend(
        Case(
            f"station, missing as {missing}",
            text(holes, columns, missing=missing),
            truth,
            log_of(holes, **soil),
        )
        for missing in ("NA", "-9999", "-6999", "7999", "* * *", "NAN", "-99.9", '"NAN"')
    )
    four = "\n".join(
        (
            '"TOA5","hill","CR7","1234","CR7.Std.01","CPU:hill.CR7","4321","Table"',
            '"TIMESTAMP","RECORD","AirT","RH","Soil_5","Batt_V"',
            '"TS","RN","Deg C","%","Deg C","V"',
            '"","","Avg","Smp","Avg","Min"',
        )
    )
    body = text(
        HOURS,
        {"t": "time", "n": "count", "a": "air", "r": "rh", "s": "soil5", "b": "volts"},
        above=four,
        heading=False,
    )
    cases.append(Case("four heading lines", body, air_of(DAILY), log_of(HOURS, soil5=0.05)))
    unit = {
        "Year": "time|%Y",
        "DoY": "doy",
        "Hour": "hour",
        "NEE": "wind",
        "Rg": "sun",
        "Tair": "air",
        "Tsoil": "soil5",
        "rH": "rh",
        "VPD": "wind",
    }
    heading = (
        "\t".join(unit)
        + "\n"
        + "\t".join(("-", "-", "-", "umolm-2s-1", "Wm-2", "degC", "degC", "%", "hPa"))
    )
    cases.append(
        Case(
            "year, day of the year, hour",
            text(HALF, unit, part="\t", above=heading, heading=False),
            air_of(by_day(HALF)),
            log_of(HALF, soil5=None),
        )
    )
    serial = {
        "datenum": "serial",
        "Date": "serial",
        "TIMESTAMP": "time",
        "Tair_C": "air",
        "Tsoil_10cm_C": "soil10",
    }
    cases.append(
        Case("a serial date beside", text(HOURS, serial), air_of(DAILY), log_of(HOURS, soil10=0.10))
    )
    apart = {
        "Date": "time|%d/%m/%Y",
        "Time": "time|%H:%M",
        "Ambient Temp (1.2 m)": "air",
        "Soil Temp (3 cm)": "soil5",
        "RH": "rh",
        "DewPt": "surface",
    }
    cases.append(
        Case(
            "ambient at 1.2 m",
            text(HOURS, apart),
            air_of(DAILY),
            log_of(HOURS, soil5=0.03),
            air_options={"units": "C"},
            log_options={"units": "C"},
        )
    )
    sheet = {
        "": "count",
        "times": "time",
        "temp": "air",
        "rh": "rh",
        "ws": "wind",
        "wd": "=TRUE",
        "lon": "=9.9",
        "lat": "=51.4",
        "YYYY": "time|%Y",
        "MM": "time|%m",
        "DD": "time|%d",
        "hh": "time|%H",
        "mm": "time|%M",
        "Datum": "time|%Y-%m-%d",
        "Stunde": "time|%H",
        "T-005": "soil5",
        "T020": "surface",
        "GS200": "sun",
        "Akku": "volts",
        "T005": "surface",
        "Blatt": "=0",
    }
    cases.append(
        Case("T-005 beside T005", text(HOURS, sheet), air_of(DAILY), log_of(HOURS, soil5=0.05))
    )
    rows = dict(sheet)
    del rows[""]
    data = text(HOURS, {"": "count", **rows}).decode().replace(",times,", "times,", 1)
    cases.append(Case("row names", data.encode(), air_of(DAILY), log_of(HOURS, soil5=0.05)))
    utc = {
        "Dia": "time|%d/%m/%Y",
        "Hora": "time|%H:%M",
        "Temperatura do ar - bulbo seco (°C)": "air",
        "Temperatura do ponto de orvalho (°C)": "surface",
        "Pressão (mB)": "pressure",
        "Temperatura do solo 20 cm (°C)": "soil20",
    }
    cases.append(
        Case(
            "dry bulb",
            text(HOURS, utc, part=";", comma=True),
            air_of(DAILY),
            log_of(HOURS, soil20=0.20),
        )
    )
    thin = HOURS[HOURS.index.hour.isin([6, 12, 18])]
    cases.append(Case("three times a day", text(thin, {"time": "time", "air_c": "air"}), None))
    short = HOURS.iloc[5:20]
    cases.append(Case("no whole day", text(short, {"time": "time", "air_c": "air"}), None))
    return cases


def research_tables() -> list[Case]:
    """Flux networks and observatories."""
    flux = {
        "TIMESTAMP_START": "time",
        "TIMESTAMP_END": "=202301010000",
        "CO2": "=-9999",
        "H": "wind",
        "T_SONIC": "surface",
        "T_SONIC_SIGMA": "vwc",
        "PA": "pressure",
        "RH": "rh",
        "TA": "air",
        "TS_1_1_1": "soil5",
        "TS_2_1_1": "soil10",
        "SWC_1_1_1": "vwc",
        "NETRAD": "sun",
        "SW_IN": "sun",
        "P": "rain",
    }
    above = "# Site: XX-Ald,,,\n# Version: 1-1,,,"
    style = "%Y%m%d%H%M"
    two = {("TS_1_1_1", None): HALF["soil5"], ("TS_2_1_1", None): HALF["soil10"]}
    cases = [
        Case(
            "flux",
            text(HALF, flux, style=style, above=above, missing="-9999"),
            air_of(by_day(HALF)),
            two,
        )
    ]
    one = {k: v for k, v in flux.items() if k != "TS_2_1_1"}
    cases.append(
        Case(
            "flux, one soil",
            text(HALF, one, style=style),
            air_of(by_day(HALF)),
            log_of(HALF, soil5=None),
        )
    )
    cases.append(
        Case(
            "flux, one of two",
            text(HALF, flux, style=style),
            air_of(by_day(HALF)),
            log_of(HALF, soil10=None),
            log_options={"probe": "TS_2_1_1"},
        )
    )
    cases.append(
        Case(
            "flux, told",
            text(HALF, flux, style=style),
            air_of(by_day(HALF)),
            log_of(HALF, soil5=0.02, soil10=0.1),
            log_options={"columns": {"soil2": "TS_1_1_1", "soil10": "TS_2_1_1"}},
        )
    )
    filled = {
        "TIMESTAMP": "time|%Y%m%d",
        "TA_F": "air",
        "TA_F_QC": "=1",
        "TA_ERA": "surface",
        "VPD_F": "wind",
        "TS_F_MDS_1": "soil5",
        "TS_F_MDS_1_QC": "=1",
        "P_F": "rain",
    }
    cases.append(
        Case("flux by the day", text(LONG, filled), air_of(LONG, "tavg"), log_of(LONG, soil5=None))
    )
    for place, truth in (
        ("soilTemp", (None, log_of(HALF, soil5=None))),
        ("airTemp", (air_of(by_day(HALF)), None)),
    ):
        name = "soil5" if place == "soilTemp" else "air"
        whole = {
            "startDateTime": "time|%Y-%m-%dT%H:%M:%SZ",
            "endDateTime": "=2023-05-01T00:30:00Z",
            f"{place}Mean": name,
            f"{place}Minimum": name,
            f"{place}Maximum": name,
            f"{place}Variance": "vwc",
            f"{place}NumPts": "=180",
            f"{place}ExpUncert": "vwc",
            f"{place}StdErMean": "vwc",
            "rangeFailQM": "=0.00",
            "rangePassQM": "=100.00",
            "finalQF": "=0",
        }
        cases.append(Case(f"observatory, {place}", text(HALF, whole), *truth))
    wet = {"Date": "time", "vwc5cm": "vwc", "tSoil5cm_C": "soil5"}
    cases.append(Case("water content beside", text(HOURS, wet), None, log_of(HOURS, soil5=0.05)))
    only = {"Date": "time", "vwc5cm": "vwc", "EC_5cm (dS/m)": "wind", "battery (V)": "volts"}
    cases.append(Case("water content alone", text(HOURS, only)))
    profile = {
        "station": "=Alder",
        "time_cst": "time|%m/%d/%y %H:%M",
        "T5cm": "soil5",
        "T10cm": "soil10",
        "T20cm": "soil20",
        "T50cm": "soil50",
    }
    deep = {"soil5": 0.05, "soil10": 0.1, "soil20": 0.2, "soil50": 0.5}
    cases.append(Case("a profile", text(HOURS, profile), None, log_of(HOURS, **deep)))
    minus = {
        "time": "time",
        "T_-5cm": "soil5",
        "T_-10cm": "soil10",
        "T_+20cm": "surface",
        "T_150cm": "air",
    }
    cases.append(
        Case("signs", text(HOURS, minus), air_of(DAILY), log_of(HOURS, soil5=0.05, soil10=0.10))
    )
    return cases


def loggers() -> list[Case]:
    """Loggers with title lines, labels, ports, without a heading."""
    serial = "(LGR S/N: 7654321, SEN S/N: 7654321"
    plain = {
        "#": "count",
        "Date Time, GMT+00:00": "time|%m.%d.%y %H:%M:%S",
        f"Temp, °F {serial})": "soil5|F",
        "Stopped (LGR S/N: 7654321)": "=",
    }
    night = QUARTER["2023-03-31 20:00":"2023-04-02 09:00"]  # type: ignore[misc]
    early = weather("15min", 3, "2023-04-04")["2023-04-04 21:00":"2023-04-06 09:00"]  # type: ignore[misc]
    cases = [
        Case(
            "months first by the step",
            text(early, plain),
            air_of(by_day(early))[1:2],
            log_of(early, soil5=None),
        ),
        Case(
            "a title line",
            text(night, plain, above='"Plot Title: 7654321"'),
            air_of(by_day(night))[1:2],
            log_of(night, soil5=None),
        ),
    ]
    cases[0] = Case(cases[0].name, cases[0].data, _soil_as_air(early), cases[0].log)
    cases[1] = Case(cases[1].name, cases[1].data, _soil_as_air(night), cases[1].log)
    days_first = {k: v.replace("%m.%d.%y", "%d.%m.%y") for k, v in plain.items()}
    cases.append(
        Case(
            "days first by the step",
            text(early, days_first),
            _soil_as_air(early),
            log_of(early, soil5=None),
        )
    )
    halves = text(
        early,
        {
            "#": "count",
            "Date": "time|%m.%d.%y",
            "Time, GMT+02:00": "time|%I:%M:%S %p.",
            f"Temp, °C {serial})": "soil5",
        },
    )
    halves = halves.replace(b" AM.", b" dop.").replace(b" PM.", b" odp.")
    cases.append(Case("dop. and odp.", halves, _soil_as_air(early), log_of(early, soil5=None)))
    labels = {
        "Date": "time|%d/%m/%y",
        "Time, GMT+11:00": "time|%H:%M:%S",
        f"Temp, °C {serial}, LBL: Ambient)": "air",
        f"RH, % {serial})": "rh",
        f"Temp, °C {serial}, LBL: 3cmBG)": "soil5",
        f"Water Content, m³/m³ {serial}, LBL: 5cmBG)": "vwc",
        f"DewPt, °C {serial})": "surface",
    }
    cases.append(
        Case(
            "labels",
            text(HOURS, labels, encoding="utf-8-sig"),
            air_of(DAILY),
            log_of(HOURS, soil5=0.03),
        )
    )
    ports = {
        "Measurement Time": "time|%m/%d/%y %I:%M %p",
        "Port 1 RT-1 Temperature °C Temp": "air",
        "Port 2 5TM Moisture/Temp m³/m³ VWC": "vwc",
        "Port 2 5TM Moisture/Temp °C Temp": "soil5",
        "Port 3 5TM Moisture/Temp m³/m³ VWC": "vwc",
        "Port 3 5TM Moisture/Temp °C Temp": "soil20",
        "Port 5 5TM Moisture/Temp m³/m³ VWC": "=* * * ",
        "Port 5 5TM Moisture/Temp °C Temp": "=* * * ",
    }
    truth = {("Port 2", None): HOURS["soil5"], ("Port 3", None): HOURS["soil20"]}
    cases.append(
        Case("ports", text(HOURS, ports, part="\t", encoding="cp1252"), air_of(DAILY), truth)
    )
    cases.append(
        Case(
            "a port asked",
            text(HOURS, ports, part="\t"),
            air_of(DAILY),
            log_of(HOURS, soil20=None),
            log_options={"probe": "port 3"},
        )
    )
    three = "\n".join(
        (
            "AB1234\tPort 1\tPort 2\tPort 2\tPort 3\tPort 3",
            (
                "960 records\tRT-1 Temperature\t5TM Moisture/Temp\t5TM Moisture/Temp\t"
                "5TM Moisture/Temp\t5TM Moisture/Temp"
            ),
            "Measurement Time\t°C Temp\tm³/m³ VWC\t°C Temp\tm³/m³ VWC\t°C Temp",
        )
    )
    few = {k: v for k, v in ports.items() if "Port 5" not in k}
    cases.append(
        Case(
            "ports, three lines",
            text(HOURS, few, part="\t", above=three, heading=False),
            air_of(DAILY),
            truth,
        )
    )
    device = "\n".join(
        (
            "z-0123,Port 1,Port 1,Port 2,Port 2,Port 8",
            ",TR 12,TR 12,TR 12,TR 12,Battery",
            (
                "Timestamps,m³/m³ Water Content,°C Soil Temperature,m³/m³ Water Content,"
                "°C Soil Temperature,% Battery Percent"
            ),
        )
    )
    again = {
        "t": "time|%m/%d/%Y %I:%M:%S %p",
        "a": "vwc",
        "b": "soil5",
        "c": "vwc",
        "d": "soil20",
        "e": "volts",
    }
    truth = {("Port 1", None): HOURS["soil5"], ("Port 2", None): HOURS["soil20"]}
    cases.append(
        Case("ports, names again", text(HOURS, again, above=device, heading=False), None, truth)
    )
    bare = {
        "n": "count",
        "t": "time|%Y.%m.%d %H:%M",
        "z": "=4",
        "1": "soil5",
        "2": "surface",
        "3": "air",
        "m": "=1257",
        "s": "=202",
        "e": "=0",
    }
    data = text(QUARTER, bare, part=";", heading=False)
    cases.append(Case("without a heading", data, None, log_of(QUARTER, soil5=0.06)))
    lone = text(QUARTER, bare | {"2": "=-200", "3": "=-200", "m": "=0"}, part=";", heading=False)
    cases.append(Case("without a heading, lone", lone, None, log_of(QUARTER, soil5=None)))
    stem = text(QUARTER, bare | {"2": "=-200", "3": "=-200"}, part=";", heading=False)
    cases.append(Case("without a heading, a stem", stem))
    three = {"t": "time", "1": "soil5", "2": "soil10", "3": "air"}
    data = text(HOURS, three, part=";", heading=False)
    cases.append(Case("three numbers", data))
    cases.append(
        Case(
            "three numbers, told",
            data,
            air_of(DAILY),
            log_of(HOURS, soil10=0.10),
            {"columns": {"air": "4"}, "units": "C"},
            {"columns": {"soil10": "3"}, "units": "C"},
        )
    )
    commas = {"DATE TIME": "time", "1. PAR [umol/m2,sec]": "sun", "2. Temperature [oC]": "soil5"}
    cases.append(
        Case(
            "decimal commas",
            text(QUARTER, commas, part=";", comma=True),
            _soil_as_air(QUARTER),
            log_of(QUARTER, soil5=None),
        )
    )
    words = pd.concat([HOURS[HOURS.index.hour == h] for h in (8, 12, 18)]).sort_index()
    parts = text(
        words, {"date": "time|%Y-%m-%d", "when": "time|@%H", "soil 10 cm (°F)": "soil10|F"}
    )
    for hour, word in ((b"@08", b"morning"), (b"@12", b"noon"), (b"@18", b"Evening")):
        parts = parts.replace(hour, word)
    cases.append(Case("morning, noon, evening", parts, None, log_of(words, soil10=0.10)))
    tabs = {
        "Time": "time|%d %b %Y %H:%M",
        "Soil North Bed 10 cm (C)": "soil10",
        "Remark of day": "=all is well",
    }
    cases.append(
        Case("blanks between tabs", text(HOURS, tabs, part="\t"), None, log_of(HOURS, soil10=0.10))
    )
    return cases


def _soil_as_air(table: pd.DataFrame) -> pd.DataFrame | None:
    """What an air reader makes of a thermometer that says neither soil nor air."""
    count = table.groupby(table.index.normalize())["soil5"].count()
    days = by_day(table.assign(air=table["soil5"]))[(count >= 0.9 * count.max()).to_numpy()]
    whole = count[count >= 87]
    return air_of(days.loc[whole.index]) if len(whole) else None


def probes() -> list[Case]:
    """Several probes or beds in one file."""
    north, south = HOURS["soil10"], HOURS["soil20"]
    rows = pd.concat([HOURS.assign(who="north", t=north), HOURS.assign(who="south", t=south)])
    both = {("north", None): north, ("south", None): south}
    cases = []
    for column in ("bed", "Plot", "probe", "sensor_id", "station", "site", "treatment", "logger"):
        table = pd.DataFrame({column: rows["who"], "time": rows.index, "soil_c": rows["t"]})
        data = table.to_csv(index=False).encode()
        cases.append(Case(f"a column {column!r}", data, None, both))
        cases.append(
            Case(
                f"a column {column!r}, one",
                data,
                None,
                {("", None): south},
                log_options={"probe": "South"},
            )
        )
    told = pd.DataFrame({"row": rows["who"], "time": rows.index, "soil_c": rows["t"]})
    cases.append(
        Case(
            "a column told",
            told.to_csv(index=False).encode(),
            None,
            both,
            log_options={"columns": {"probe": "row"}},
        )
    )
    wide = {"time": "time", "soil_north_10cm (°C)": "soil10", "soil_south_10cm (°C)": "soil20"}
    truth = {("soil_north_10cm (°C)", 0.1): north, ("soil_south_10cm (°C)", 0.1): south}
    cases.append(Case("two of a depth", text(HOURS, wide), None, truth))
    pairs = {
        "time": "time",
        "north soil 5cm (°C)": "soil5",
        "north soil 10cm (°C)": "soil10",
        "south soil 5cm (°C)": "soil10",
        "south soil 10cm (°C)": "soil20",
    }
    truth = {
        ("north soil", 0.05): HOURS["soil5"],
        ("north soil", 0.1): north,
        ("south soil", 0.05): north,
        ("south soil", 0.1): south,
    }
    cases.append(Case("two profiles", text(HOURS, pairs), None, truth))
    return cases


def places_in_rows() -> list[Case]:
    """Plots and levels in columns of positions; soil under two covers in columns."""
    parts = {
        ("001 501", None): HALF["soil5"],
        ("001 502", None): HALF["soil10"],
        ("002 501", None): HALF["soil20"],
    }
    rows = [
        pd.DataFrame(
            {
                "siteID": "ALDR",
                "horizontalPosition": name.split()[0],
                "verticalPosition": name.split()[1],
                "startDateTime": series.index.strftime("%Y-%m-%dT%H:%M:%SZ"),
                "soilTempMean": series.to_numpy(),
                "soilTempVariance": 0.001,
                "finalQF": 0,
            }
        )
        for (name, _), series in parts.items()
    ]
    data = pd.concat(rows).to_csv(index=False).encode()
    cases = [Case("positions", data, None, parts)]
    table = {
        "Station Name": "=Alder",
        "Latitude": "=46.9",
        "Longitude": "=-96.8",
        "Year": "time|%Y",
        "Month": "time|%m",
        "Day": "time|%d",
        "Max Temp": "tmax|F",
        "Max Temp Flag": "=",
        "Min Temp": "tmin|F",
        "Min Temp Flag": "=",
        "Avg Temp": "air|F",
        "Bare Soil Temp": "soil5|F",
        "Turf Soil Temp": "soil10|F",
        "Avg Bare Soil Temp Flag": "=",
        "Avg Wind Speed": "wind",
        "Dew Point": "tmin|F",
    }
    covers = {("Bare Soil Temp", None): LONG["soil5"], ("Turf Soil Temp", None): LONG["soil10"]}
    return [*cases, Case("bare and turf", text(LONG, table), air_of(LONG), covers)]


def clocks() -> list[Case]:
    """Clocks that fall back, or run years ahead."""
    columns = {"time": "time", "soil_10cm_c": "soil10"}
    back = HOURS.copy()
    late = pd.date_range("2000-01-01", periods=50, freq="h")
    back.index = back.index[:-50].append(late)
    cases = [Case("back to 2000", text(back, columns), None, log_of(back[:-50], soil10=0.10))]
    ahead = HOURS.copy()
    ahead.index = ahead.index[:-50].append(pd.date_range("2165-01-01", periods=50, freq="h"))
    cases.append(Case("years ahead", text(ahead, columns), None, log_of(ahead[:-50], soil10=0.10)))
    far = HOURS.copy()
    far.index = far.index + pd.Timedelta("20000D")
    cases.append(Case("all years ahead", text(far, columns)))
    return cases


def traps() -> list[Case]:
    """Tables in which something else looks like what is sought."""
    cases = []
    for name in ("Wind", "SLP", "RH", "Solar rad", "VPD", "Batt_V", "ET", "Dew point", "SWC"):
        columns = {"date": "time|%Y-%m-%d", f"{name} avg": "air"}
        cases.append(Case(f"a mean of {name}", text(LONG, columns)))
    for name in (
        "Tair_C",
        "Dry bulb (°C)",
        "Ambient (°C)",
        "Shelter temp (°C)",
        "air_temp_2m (C)",
        "Outdoor temperature °C",
        "Temperatura abrigo °C",
        "Lufttemperatur °C",
    ):
        columns = {"time": "time", name: "air"}
        cases.append(Case(f"air named {name}", text(HOURS, columns), air_of(DAILY), None))
    for name in (
        "soil_temp_variance",
        "soil temp std",
        "soil_temp_count",
        "soil_temp_qc",
        "soil temp uncertainty",
        "soil_temp_flag",
        "panel temp (C)",
        "water temp (C)",
        "leaf temp (C)",
        "soil moisture 10cm",
        "soil EC 10 cm",
        "soil heat flux 8cm",
        "soil water potential 10 cm (kPa)",
        "snow depth (cm)",
        "wet bulb (C)",
    ):
        columns = {"time": "time", name: "soil5"}
        cases.append(Case(f"no soil temperature: {name}", text(HOURS, columns)))
    for name in ("TAVG", "temperatura_media", "Mean temp (C)"):
        columns = {"date": "time|%Y-%m-%d", name: "air"}
        cases.append(Case(f"a lone mean, {name}", text(LONG, columns), air_of(LONG, "tavg")))
    mixed = {
        "date": "time|%Y-%m-%d",
        "max temp (F)": "tmax|F",
        "min temp (F)": "tmin|F",
        "mean temp (F)": "pressure",
    }
    cases.append(Case("a mean outside", text(LONG, mixed), air_of(LONG, "tmin tmax")))
    yes = text(HOURS, {"time": "time", "soil_10cm (C)": "soil10", "soil_20cm (C)": "=TRUE"})
    cases.append(Case("TRUE is no degree", yes, None, log_of(HOURS, soil10=0.10)))
    kelvin = {"time": "time", "soil temperature 10 cm (K)": "soil10|K"}
    share = {"time": "time", "Probe": "vwc"}
    cases.append(Case("shares of water unnamed", text(HOURS, share)))
    cases.append(Case("kelvin", text(HOURS, kelvin), None, log_of(HOURS, soil10=0.10)))
    return cases


CASES = [
    *daily_tables(),
    *coded_tables(),
    *hourly_tables(),
    *research_tables(),
    *loggers(),
    *probes(),
    *places_in_rows(),
    *clocks(),
    *traps(),
]
