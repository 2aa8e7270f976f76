"""Words of headings and what each says, in the languages in which services and loggers write.

English, Spanish, Portuguese, French, German, Italian and Czech are matched word by word, without
accents; Korean, Japanese and Chinese by the signs that occur. Short codes are those of public
services and of the flux networks' standard (``TA``, ``TS``: °C).
"""

from __future__ import annotations

import re
from functools import lru_cache

TEMP, SOIL, AIR, SURFACE, MAX, MIN, MEAN, DAILY = (
    "temperature", "soil", "air", "surface", "max", "min", "mean", "daily",
)  # fmt: skip
COVER, RAIN, OBSERVED, ABOVE, BELOW, CLOCK, UNIT, PLAIN = (
    "cover", "rain", "observed", "above", "below", "clock", "unit", "plain",
)  # fmt: skip

_SAID: tuple[tuple[str, str], ...] = (
    (TEMP, r"temp|temps|temper\w*|tmp|t|tt|tobs|teplot\w*|thermometer|celsius|fahrenheit|kelvin"),
    (SOIL, (r"soils?|ground|earth|bed|roots?|suelo|sol|solo|boden|bodens|erd|erde|erdboden|suolo"
           r"|terreno|pud[aeyu]|pudni\w*|substrat\w*|subsurface|buried|belowground")),
    (AIR, (r"air|amb(?:ient\w*)?|out|outdoors?|outside|exterior|shelter\w*|screen|abrigo|abri|aire"
          r"|ar|aria|luft|seco|seca|vzduch\w*|ovzdusi|dry|drybulb")),
    (SURFACE, (r"surface|surf|superfic\w*|skin|terrestrial|concrete|intemperie|inte|oberflache\w*"
               r"|tgk|prizemni")),
    (COVER, r"grass|gras|gazon|turf|sod|cesped|rasen|travnik"),
    (MAX, (r"max|maxi|maxim\w*|high|highest|hi|hot|hottest|hochst|hochste[rn]?|hoechst|massim\w*"
          r"|nejvyssi|maxmum")),
    (MIN, r"min|mini|minim\w*|low|lowest|lo|cold|coldest|tiefst|tiefste[rn]?|nejnizsi"),
    (MEAN, (r"mean\w*|avg|aver\w*|ave|med|media|medio|medias?|promedio|moy|moyen\w*|mittel\w*"
           r"|mittler\w*|durchschnitt\w*|prum\w*|medie|tagesmittel")),
    (DAILY, r"daily|diari[ao]|quotidien\w*|journalier\w*|taglich\w*|giornalier\w*|denni"),
    (RAIN, (r"precip\w*|prec|prcp|rain\w*|ppt|rr|rsk|pcpn?|pluies?|pluvi\w*|lluvia|chuva|prectot\w*"
           r"|niederschlag\w*|regen\w*|pioggi\w*|srazk\w*|uhrn")),
    (OBSERVED, r"obs|observ\w*|instant\w*|smp"),
    (ABOVE, r"above|agl|ag|altura|hauteur|hohe|height|altezza|vyska|vysce"),
    (BELOW, r"below|bg|depth|deep|prof\w*|tiefe|hloub\w*|under"),
    (CLOCK, r"time|hora|heure|uhrzeit|ora|cas|minutes?|hours?"),
    (PLAIN, (r"readings?|values?|probe|sensor|no|the|of|at|in|de|del|do|da|du|des|la|le|el"
            r"|deg|degrees?|grad|c|f|k|oc|today|day|cm|mm|m|in|inch|inches|ft|channel|ch|bulb|bulbo|pi|and|mds|port|to")),
)  # fmt: skip

INDOORS = "indoors or in a machine"

_OTHERS: tuple[tuple[str, str], ...] = (
    ("a flag or quality mark", (r"flag\w*|flg|qc|qf|qm|qa|qn|qual\w*|qualit\w*|attribut\w*|status"
                               r"|detached|attached|connected|stopped|priznak")),
    ("a spread", r"std\w*|sd|stdev|sigma|varianc\w*|var|desv\w*|stdabw|streuung|odchylka"),
    ("an uncertainty", r"uncert\w*|stder\w*|ster|sem|err|error|unsicherheit|incert\w*|accuracy"),
    ("a count", r"counts?|num|npts|pts|nobs|samples?|records?|rec|recnum|anzahl|pocet|percent\w*"),
    ("a range or difference", (r"range|amplitud\w*|delta|dtr|diff\w*|departure|anomal\w*|normals?"
                              r"|offset|trend|gradient|depart")),
    ("degree days", r"gdd|hdd|cdd|dju|gradtag\w*"),
    ("dew point", r"dew\w*|dwp|dwpt|rocio|rosee|taupunkt|orvalho|rosn\w*|rugiada|td|dp"),
    ("wet bulb", r"wet|wetbulb|humide|feuchttemp\w*"),
    ("a felt temperature", r"chill|feels?|apparent|humidex|windchill|heatindex|sensation|thsw|thw"),
    ("the logger's own state", (r"panel|ptemp|internal|box|housing|chip|cpu|case|batt\w*|akku"
                               r"|volt\w*|bateria|rssi|signal|serial|firmware|enclosure|logger")),
    ("water or plant", (r"water|agua|eau|wasser|acqua|voda|vody|leaf|leaves|blatt|blattn\w*|foliar"
                       r"|foliage|canopy|stem|bark|pool|well|compost|snow\w*|snwd|nieve|neve|neige"
                       r"|schnee\w*|snih|snehu|ice|sea|lake|river|indoors?|inside|greenhouse|sst")),
    (INDOORS, (r"rooms?|bedroom|kitchen|basement|attic|garage|office|zimmer|keller|heizung|vorlauf"
               r"|rucklauf|kessel|inverter|modules?|motor|engine|compressor|boiler|furnace|oven"
               r"|fridge|freezer|coolant|heater|radiator|supply|return|pipe|tank|duct|exhaust"
               r"|pump|hive|brood|rectal|gpu|pcb|onboard|mcu|rtc")),
    ("sonic or infrared", (r"sonic|infrared|ir|irt|radiometer|cnr\d*|nr|targ|sb|brightness"
                          r"|pyrgeo\w*|body|bio\w*")),
    ("water content", (r"vwc|swc|vwmc|moist\w*|content|feuchte|bodenfeuchte|humedad|umidade|teneur"
                      r"|smc?|sms|wfv|vlhkost|umidita|theta|wc|saturation|matric|tension|suction"
                      r"|potential|kpot")),
    ("humidity", r"humid\w*|hum|relhum|rh|hr|feucht\w*|luftfeuchte|luftfeuchtigkeit"),
    ("conductivity or salts", (r"ec|ecb|conductiv\w*|salin\w*|ph|permittiv\w*|dielectric\w*|bulk"
                              r"|epsilon|porewater|pore")),
    ("pressure", (r"press\w*|pression\w*|presion|pressao|pressione|druck|luftdruck|tlak\w*|slp"
                 r"|mslp|baro\w*|bar|vpd|vpdef\w*|vapou?r\w*|tens|tesion|dampfdruck|pa|atm|vp")),
    ("wind", (r"wind\w*|wnd|ws|wd|wspd|wdir|wdf|wsf|awnd|gust\w*|viento|vento|vents?|raf\w*"
             r"|racha|boe\w*|vitr\w*|veloc\w*|vitesse|direc\w*|richtung|speed")),
    ("radiation or light", (r"rad|radiat\w*|radiac\w*|rayon\w*|strahl\w*|radiaz\w*|zaren\w*|solar"
                           r"|srad|sr|par|ppfd|netrad|rg|rn|sw|lw|lux|light|albedo|uv|global\w*"
                           r"|insol\w*|lumin\w*|photosynth\w*")),
    ("sunshine or cloud", (r"sun|sunshine|sunrise|sunset|daylen\w*|photoperiod\w*|heliof\w*"
                          r"|ensoleil\w*|sonnen\w*"
                          r"|soleggia\w*|cloud\w*|nubos\w*|nebul\w*|bewolk\w*|oblac\w*|slunec\w*|svit\w*")),
    ("evaporation", r"evap\w*|eto?|etr|etgrass|etp|et0|evapo\w*|verdunst\w*|vypar\w*"),
    ("heat flux", r"flux|shf|heat|le|nee|gpp|reco|ustar|fc|co2|ch4|h2o|no2"),
    ("remarks", r"comments?|notes?|remarks?|weather|bemerk\w*|observaciones|poznam\w*"),
    ("an elevation", r"elev\w*|altitude|altitud|elevation|alti|alt|hohenmeter"),
)  # fmt: skip
WORDED = frozenset({
    "water content", "humidity", "conductivity or salts", "pressure", "wind", "radiation or light",
})  # fmt: skip
"""Quantities of a probe that may measure temperature too: ``Moisture/Temp °C``."""

_SIGNS: tuple[tuple[str, str], ...] = (
    (CLOCK, "시각 시간 時刻 時間 時分"),
    ("a flag or quality mark", "品質 均質 품질 现象"),
    ("dew point", "이슬점 露点"),
    ("humidity", "습도 湿度 濕度"),
    ("wind", "풍속 풍향 風速 风速 風向 风向 풍정"),
    ("pressure", "기압 증기압 気圧 气压 氣壓 蒸気圧"),
    ("sunshine or cloud", "일조 운량 日照 雲量 云量 가조"),
    ("radiation or light", "일사 日射 辐射"),
    ("water or plant", "적설 신적설 積雪 雪 水温 수온"),
    ("evaporation", "증발 蒸発 蒸发"),
    ("water content", "수분 水分"),
    (SURFACE, "지면 초상 地面 地表"),
    (SOIL, "지중 지온 토양 地温 地中 地溫 土壤 土壌"),
    (AIR, "기온 気温 气温 氣溫"),
    (TEMP, "기온 온도 지온 気温 气温 氣溫 温度 溫度 地温 地溫"),
    (MAX, "최고 最高"),
    (MIN, "최저 最低"),
    (MEAN, "평균 平均"),
    (RAIN, "강수량 降水量 雨量 강수"),
)  # fmt: skip
WEATHER_SIGNS = (
    "기온",
    "온도",
    "강수",
    "일시",
    "지점",
    "습도",
    "気温",
    "地温",
    "降水量",
    "年月日",
    "気圧",
    "气温",
    "温度",
    "日期",
    "降水",
    "平均気温",
)
"""Signs by which a text in an East Asian encoding is known to be read right."""

CODES: dict[str, tuple[str, ...]] = {
    "tx": (TEMP, MAX), "tn": (TEMP, MIN), "tg": (TEMP, MEAN), "tm": (TEMP, MEAN),
    "txk": (TEMP, MAX, AIR), "tnk": (TEMP, MIN, AIR), "tmk": (TEMP, MEAN, AIR),
    "ta": (TEMP, AIR), "ts": (TEMP, SOIL), "st": (TEMP, SOIL), "tair": (TEMP, AIR),
    "tgk": (TEMP, MIN, SURFACE), "te": (TEMP, SOIL), "sto": (TEMP, SOIL), "tsoil": (TEMP, SOIL),
    "stemp": (TEMP, SOIL), "soilt": (TEMP, SOIL), "tamb": (TEMP, AIR), "tout": (TEMP, AIR),
    "tu": (AIR,), "tmed": (TEMP, MEAN), "tmoy": (TEMP, MEAN),
}  # fmt: skip
"""Codes of services (European daily sets, the German service, the flux networks)."""

BARE_CODES = frozenset({"tx", "tn", "tg", "tm"})
"""Codes that mean nothing beside a word for temperature: ``5TM Temp`` is the name of a probe."""

_PATTERNS = tuple((name, re.compile(pattern)) for name, pattern in _SAID)
_OTHER_PATTERNS = tuple((name, re.compile(pattern)) for name, pattern in _OTHERS)
_GLUED = tuple(
    sorted(
        [
            "soil",
            "air",
            "temperatures",
            "temperature",
            "temperatura",
            "temperatur",
            "temper",
            "temp",
            "tmp",
            "maximum",
            "minimum",
            "maximal",
            "minimal",
            "max",
            "min",
            "avg",
            "mean",
            "pressure",
            "press",
            "humidity",
            "relhum",
            "humid",
            "hum",
            "wind",
            "wspd",
            "wdir",
            "dew",
            "point",
            "vwc",
            "swc",
            "moisture",
            "moist",
            "content",
            "water",
            "batt",
            "volt",
            "rain",
            "precip",
            "std",
            "dev",
            "uncert",
            "exp",
            "num",
            "pts",
            "count",
            "flag",
            "surface",
            "surf",
            "ground",
            "ambient",
            "bulb",
            "dry",
            "wet",
            "sensor",
            "probe",
            "depth",
            "slp",
            "srad",
            "solar",
            "rad",
            "vp",
            "def",
            "boden",
            "luft",
            "erd",
            "tages",
            "mittel",
            "hochst",
            "tiefst",
            "feuchte",
            "druck",
            "daily",
            "day",
            "obs",
            "grass",
            "canopy",
            "leaf",
            "panel",
            "variance",
            "minimum",
            "sonic",
            "sto",
            "er",
            "st",
            "inst",
        ],
        key=len,
        reverse=True,
    )
)


@lru_cache(maxsize=8192)
def said(word: str) -> tuple[frozenset[str], str]:
    """Return what one word says, and which other quantity it names ("" if none)."""
    if word in CODES:
        return frozenset(CODES[word]), ""
    if not word.isascii():
        found = frozenset(name for name, some in _SIGNS if any(s in word for s in some.split()))
        other = next((name for name, _ in _OTHERS if name in found), "")
        return found, other
    found = frozenset(name for name, pattern in _PATTERNS if pattern.fullmatch(word))
    other = next((name for name, pattern in _OTHER_PATTERNS if pattern.fullmatch(word)), "")
    return found, other


@lru_cache(maxsize=8192)
def parted(word: str) -> tuple[str, ...]:
    """Part a run of letters into words that are known, ``soiltmp`` → soil, tmp; else leave it."""
    if word in CODES or any(said(word)) or not word.isascii() or len(word) < 3:
        return (word,)
    found = _split(word, first=True)
    return found or (word,)


def _split(word: str, *, first: bool) -> tuple[str, ...]:
    if not word:
        return ()
    for piece in _GLUED:
        if word == piece:
            return (piece,)
        if word.startswith(piece) and (rest := _split(word[len(piece) :], first=False)):
            return (piece, *rest)
    if first and word[0] == "t" and (rest := _split(word[1:], first=False)):
        return ("t", *rest)
    if not first and word in ("t", "c", "f", "k"):
        return (word,)
    return ()
