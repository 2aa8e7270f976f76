"""What a heading means: which quantity, in which unit, at which depth, at which hour.

The words are those people write and that data services use; `understand` knows nothing of files.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from forecaster.units import METRES_PER_FOOT, METRES_PER_INCH

DATE, TIME, YEAR, MONTH, DAY, DOY, HOUR = "date", "time", "year", "month", "day", "doy", "hour"
TMIN, TMAX, TAVG, TEMP, PRECIP = "tmin", "tmax", "tavg", "temp", "precip"
DEPTH, LATITUDE, LONGITUDE, STATION, NAME, FLAGS, UNIT, OTHER = (
    "depth", "latitude", "longitude", "station", "name", "flags", "unit", "other",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Meaning:
    """What one heading says.

    Parameters
    ----------
    role : str
        One of the constants of this module.
    unit : {"F", "C", "K", "mm", "in", "cm", "m", ""}
        Unit named in the heading.
    depth_m : float, optional
        Depth named in the heading.
    depth_guess : float, optional
        A depth number without its unit of length.
    medium : {"soil", "air", ""}
        What the temperature is of.
    hour : float, optional
        Hour of the reading named in the heading.
    daily_mean : bool
        The heading says mean, average or daily.
    """

    role: str
    unit: str = ""
    depth_m: float | None = None
    depth_guess: float | None = None
    medium: str = ""
    hour: float | None = None
    daily_mean: bool = False


_OTHER_QUANTITIES = re.compile(
    r"humid|\brh\b|\bvpd\b|moist|\bvwc\b|\bswc\b|water content|wind|gust|pressure|\bbaro|\bsolar|"
    r"radiat|\bsrad|\bpar\b|\blux\b|light|snow|\bsnwd\b|batter|volt|\bec\b|conductiv|salin|\bph\b|"
    r"evap|\bet0?\b|\beto\b|\bdew|\bwet ?bulb|\bwdf|\bwsf|\bawnd|flag|attribut|quality|\bqc\b|"
    r"comment|\bnotes?\b|remark|weather|cloud|sunshine|sunrise|sunset|degree day|\bgdd\b|"
    r"\bheat index|chill|feels|apparent|elev|altitude|serial|\bid\b|count|record|\brec\b|\bnum|"
    r"signal|rssi|internal|logger temp|panel|leaf|canopy|pool|\bwell\b|departure|normal|"
    r"uncertain|\bsd\b|std|offset|\btz\b|time ?zone|tension|potential|\bsuction|infrared|\bsur\b|"
    r"range"
)
_MAX = re.compile(r"max|\bhigh|\bhi\b|\btx\b|\bhot")
_MIN = re.compile(r"min(?!ute)|\blow|\blo\b|\btn\b|\bcold")
_MEAN = re.compile(r"mean|avg|\baver?|\bave\b|\btg\b|\bdaily\b|\bdtr\b")
_TEMP = re.compile(
    r"temp|\bt\b|\bt2\b|\bair\b|\bsoil|\bground|\bearth|\bprobe|\bthermo|\breading|\bvalue\b|"
    r"\bdeg|celsius|fahrenheit|\bt[0-9]|\bts\b|\bst\b|\btsoil|\btmp|\btobs\b|°"
)
_PRECIP = re.compile(r"precip|\bprectot|\brain|\bprcp|\bppt\b|\brr\b|\bpcp|\bpcpn\b")
_SOIL = re.compile(r"soil|ground|earth|\bbed\b|\bst\b|\bts\b|root")
_AIR = re.compile(
    r"\bair|\bambient|\boutdoor|\boutside|\bt ?2 ?m|\b2 ?m\b|\bta\b|\btobs\b|\bindoor"
)
_DATE_WORDS = (
    r"(date|datum|day date|obs(ervation)? date|lst date|date lst|local date|date local|"
    r"date ?time.*|date and time|date hour|time ?stamp.*|datetime.*|valid|valid time|"
    r"date\b.*|.* date|.*date ?time.*|.*timestamp.*|measurement time|yyyy ?mm ?dd|yyyymmdd)"
)
_WORDS: tuple[tuple[str, str], ...] = (
    (DATE, _DATE_WORDS),
    (YEAR, r"(year|yr|yyyy|yy|jahr)"),
    (MONTH, r"(month|mon|mo|mm)"),
    (DAY, r"(day|dd|dom|day of month|dy)"),
    (DOY, r"(doy|julian.*|jday|jd|yday|day of year|julday)"),
    (HOUR, r"(hour|hr|hh|hour of day|obs hour)"),
    (TIME, r"(time|time of day|clock|time .*|.* time|lst time|hhmm|hh mm( ss)?|uhrzeit)"),
    (DEPTH, r"(depth.*|.* depth|sensor depth.*)"),
    (LATITUDE, r"(lat|latitude)"),
    (LONGITUDE, r"(lon|long|lng|longitude)"),
    (STATION, r"(station|station id|stn|site|site id|wbanno|id|station number)"),
    (NAME, r"(name|station name|site name)"),
    (UNIT, r"(units?|scale|temp(erature)? units?)"),
)  # fmt: skip
_WORD_PATTERNS = tuple((role, re.compile(pattern)) for role, pattern in _WORDS)

_LENGTH = r"(?P<unit>cm|mm|in(?:ch(?:es)?)?\b|\"|″|''|ft|feet|foot|m\b)"
_DEPTH = re.compile(
    rf"(?<![\d.])(?:(?P<from>\d+(?:\.\d+)?)\s*(?:-|–|to)\s*)?(?P<number>\d+(?:\.\d+)?)\s*-?\s*{_LENGTH}"
)
_BARE_DEPTH = re.compile(
    r"(?:soil ?(?:temp(?:erature)?)?|\bt ?s(?:oil)?|\bst|\btemp(?:erature)?|depth|\bt)\s*"
    r"(?P<number>\d{1,3})\b"
)
LEAST_BARE_DEPTH = 4
"""Smaller numbers without a unit of length count sensors, as T1, T2, T3; 2 may be either."""
_AT_HOUR = re.compile(
    r"(?P<hour>[0-2]\d)(?P<minute>[0-5]\d)\s*(?:[a-z]{1,2}st|lst|local|hrs?)\b"
    r"|\b(?P<hour2>[0-2]?\d):(?P<minute2>[0-5]\d)\s*(?P<half2>[ap]m)?"
    r"|\b(?P<hour3>1?\d)\s*(?P<half3>[ap]m)\b"
)
_UNITS = {
    "mm": 0.001, "cm": 0.01, "m": 1.0, "in": METRES_PER_INCH, "inch": METRES_PER_INCH,
    "inches": METRES_PER_INCH, '"': METRES_PER_INCH, "″": METRES_PER_INCH, "''": METRES_PER_INCH,
    "ft": METRES_PER_FOOT, "feet": METRES_PER_FOOT, "foot": METRES_PER_FOOT,
}  # fmt: skip
_TEMPERATURE_UNIT = (
    ("F", re.compile(r"°\s*f\b|fahrenheit|\bdeg(?:rees?)?\.?\s*f\b|\bf$|\(f\)|\[f\]|\bdegf|\bf\b")),
    (
        "C",
        re.compile(
            r"°\s*c\b|celsius|centigrade|\bdeg(?:rees?)?\.?\s*c\b|\bc$|\(c\)|\[c\]|\bdegc|\bc\b"
        ),
    ),
    ("K", re.compile(r"kelvin|\bk$|\(k\)|\[k\]|\bdeg ?k\b|\bk\b")),
)
_RAIN_UNIT = re.compile(r"\b(mm|cm|in(?:ch(?:es)?)?)\b|(\")")
_DEEPEST_NAMED_M = 5.0


def normal(heading: str) -> str:
    """Return a heading in lower case, words apart: ``SoilTemp_10cm`` → ``soil temp 10cm``."""
    text = heading.replace("Â°", "°").replace("º", "°").replace("˚", "°").replace("℃", "°C")
    text = text.replace("℉", "°F").replace("\ufffd", "°").strip().strip("#'").strip()
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    text = re.sub(r"[_/:;,|]+(?!\d)|(?<!\d)[:/]", " ", text)
    return " ".join(text.replace("_", " ").lower().split())


@lru_cache(maxsize=2048)
def understand(heading: str) -> Meaning:  # noqa: PLR0911 - one a kind of quantity
    """Return what a heading means; role ``other`` where it is no business of ours."""
    text = normal(heading)
    plain = re.sub(r"[()\[\]{}\"]", " ", text)
    plain = " ".join(plain.replace("-", " ").replace(".", " ").split())
    if not plain:
        return Meaning(OTHER)
    if plain.endswith(" attributes"):
        return Meaning(FLAGS)
    if re.search(r"\b(moisture|vwc|swc|humidity)\b", plain) or _OTHER_QUANTITIES.search(plain):
        known = next((r for r, p in _WORD_PATTERNS if r == STATION and p.fullmatch(plain)), OTHER)
        return Meaning(known)
    if _PRECIP.search(plain):
        unit = _RAIN_UNIT.search(text)
        word = unit[0] if unit else ""
        return Meaning(PRECIP, "in" if word.startswith(("in", '"')) else word)
    if role := _word(plain):
        if role == DEPTH:
            return Meaning(DEPTH, _length_unit(text))
        return Meaning(role)
    return _temperature(text, plain)


def _word(plain: str) -> str:
    if re.search(r"\btemp", plain) and not plain.startswith("date") and "unit" not in plain:
        return ""
    return next((role for role, pattern in _WORD_PATTERNS if pattern.fullmatch(plain)), "")


def _length_unit(text: str) -> str:
    match = re.search(r"\b(cm|mm|m|in(?:ch(?:es)?)?|ft)\b|(\")", text)
    if match is None:
        return ""
    return "in" if match[2] or match[1].startswith("in") else match[1]


def _temperature(text: str, plain: str) -> Meaning:
    """Understand a heading that may name a temperature."""
    rest, hour = _take_hour(text)
    rest, depth_m = _take_depth(rest)
    guess = None
    bare = None if depth_m is not None else _BARE_DEPTH.search(rest)
    two = bool(bare and bare["number"] == "2" and _SOIL.search(plain))
    if bare and (two or int(bare["number"]) >= LEAST_BARE_DEPTH):
        guess = float(bare["number"])
        rest = rest[: bare.start("number")] + rest[bare.end("number") :]
    unit = next((name for name, pattern in _TEMPERATURE_UNIT if pattern.search(rest)), "")
    soil = bool(_SOIL.search(plain)) or depth_m is not None or guess is not None
    air = bool(_AIR.search(plain)) and not soil
    meaning = Meaning(
        TEMP, unit, depth_m, guess, "soil" if soil else "air" if air else "", hour,
        bool(_MEAN.search(plain)),
    )  # fmt: skip
    high, low = _MAX.search(plain), _MIN.search(plain)
    if high and low:
        return Meaning(OTHER)
    for found, role in ((high, TMAX), (low, TMIN), (_MEAN.search(plain), TAVG)):
        if found:
            return replace(meaning, role=role)
    if depth_m is not None or guess is not None or air or unit or _TEMP.search(plain):
        return meaning
    return Meaning(OTHER)


def _take_hour(text: str) -> tuple[str, float | None]:
    """Find an hour of reading such as ``1700mst``, ``at 17:00`` or ``5pm``."""
    match = _AT_HOUR.search(text)
    if match is None:
        return text, None
    hour = int(match["hour"] or match["hour2"] or match["hour3"])
    minute = int(match["minute"] or match["minute2"] or 0)
    half = match["half2"] or match["half3"]
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    if hour > 23:
        return text, None
    return text[: match.start()] + " " + text[match.end() :], hour + minute / 60


def _take_depth(text: str) -> tuple[str, float | None]:
    """Find a depth with its unit of length; a layer counts at its middle."""
    for match in _DEPTH.finditer(text):
        if match["unit"] == "m" and re.match(r"t?\s*2\s*m\b", match[0]):
            continue  # two metres above the ground
        factor = _UNITS[match["unit"].replace("″", '"')]
        depth = float(match["number"]) * factor
        if match["from"]:
            depth = (depth + float(match["from"]) * factor) / 2
        if depth <= _DEEPEST_NAMED_M:
            return text[: match.start()] + " " + text[match.end() :], round(depth, 6)
    return text, None
