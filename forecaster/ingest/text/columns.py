"""What a heading means: which quantity, of what, in which unit, how deep or high, at which hour.

The words are in `lexicon`; `understand` judges one heading by itself, `neighbours.together` all
headings of a table. Nothing is known here of files or values.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from functools import lru_cache

from forecaster.ground.units import METRES_PER_FOOT, METRES_PER_INCH
from forecaster.ingest.text import lexicon as lex

DATE, TIME, YEAR, MONTH, DAY, DOY, HOUR = "date", "time", "year", "month", "day", "doy", "hour"
MINUTE = "minute"
TMIN, TMAX, TAVG, TEMP, PRECIP = "tmin", "tmax", "tavg", "temp", "precip"
DEPTH, LATITUDE, LONGITUDE, STATION, NAME, PROBE, FLAGS, UNIT, OTHER = (
    "depth", "latitude", "longitude", "station", "name", "probe", "flags", "unit", "other",
)  # fmt: skip
TEMPERATURES = (TMIN, TMAX, TAVG, TEMP)
SOIL, AIR, SURFACE = "soil", "air", "surface"


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What one heading says.

    Parameters
    ----------
    role : str
        One of the constants of this module.
    what : str
        The quantity in words, where it is none that is read: ``water content``.
    unit : {"F", "C", "K", "mm", "in", "cm", "m", ""}
        Unit named in the heading.
    depth_m : float, optional
        Depth named in the heading.
    depth_guess : float, optional
        A depth number without its unit of length.
    height_m : float, optional
        Height above the ground named in the heading.
    below : bool
        The number has a minus sign before it, as depths have and heights have not.
    medium : {"soil", "air", "surface", ""}
        What the temperature is of.
    hour : float, optional
        Hour of the reading named in the heading.
    daily_mean : bool
        The heading says mean, average or daily.
    weak : bool
        The heading would fit many quantities: ``mean``, ``value``.
    """

    role: str
    what: str = ""
    unit: str = ""
    depth_m: float | None = None
    depth_guess: float | None = None
    height_m: float | None = None
    below: bool = False
    medium: str = ""
    hour: float | None = None
    daily_mean: bool = False
    weak: bool = False


_DATE_WORDS = (
    r"(date|datum|fecha|data|day date|obs(ervation)? date|lst date|date lst|local date|date local|"
    r"date ?time.*|date and time|date hour|time ?stamp.*|datetime.*|valid|valid time|"
    r"date\b.*|.* date|.*date ?time.*|.*timestamp.*|measurement time|yyyy ?mm ?dd|yyyymmdd|"
    r"aaaammjj.*|mess datum.*|fecha .*|data (?:e )?(?:hora|medicao|ora).*|.* fecha|datum .*|"
    r"day|일시|날짜|年月日.*|日期.*|日付.*|日時.*|date heure.*|zeitstempel|rrrrmmdd)"
)
_WORDS: tuple[tuple[str, str], ...] = (
    (YEAR, r"(year|yr|yyyy|yy|jahr|ano|annee|anno|rok|年|년|연도)"),
    (MONTH, r"(month|mon|mo|mm|mes|mois|monat|mese|mesic|月|월)"),
    (DAY, r"(day|dd|dom|day of month|dy|dia|jour|tag|giorno|den|日)"),
    (DATE, _DATE_WORDS),
    (DOY, r"(do ?y|julian.*|jday|jd|yday|day of year|julday|jul|day of the year|yearday)"),
    (HOUR, r"(hour|hr|hh|hour of day|obs hour|hora|heure|stunde|ora|hodina|hours)"),
    (MINUTE, r"(minute|minutes|minuto|minuten?)"),
    (TIME, (r"(time|time of day|clock|time (?!of).*|(?:local|lst|utc|gmt|obs\w*|reading|sampl\w*"
            r"|measure\w*|standard|start|begin\w*|log\w*|record\w*|solar|station|end) time|"
            r"time of (?:reading|observation|measurement)|hhmm|hh mm( ss)?|uhrzeit|zeit|cas|"
           r"hora .*|when|period of day|heure .*|시간|時刻|時間)")),
    (DEPTH, (r"(depth.*|(?!.*\b(?:snow|water|frost|rain|ice|well|lake|cloud)\b).* depth"
            r"|sensor depth.*|profundidad|tiefe|profondeur|hloubka"
            r"|prof(?:undidad)? cm)")),
    (LATITUDE, r"(lat|latitude|latitud|breite)"),
    (LONGITUDE, r"(lon|long|lng|longitude|longitud|lange)"),
    (STATION, (r"(station|station id|stn|stn id|site|site id|wbanno|id|station number|stations id|"
              r"estacion|estacao|staid|num poste|stid|지점|station code|station no)")),
    (NAME, r"(name|station name|site name|nom usuel|stn name|nombre|지점명|stnm)"),
    (PROBE, (r"(plot|plot ?id|plot ?n(?:o|r|um\w*)?|bed|probe|probe ?id|sensor"
            r"|sensor ?id|sensor ?name|logger|logger ?id|"
            r"treatment|block|location|loc|rep|replicate|(?:\w+ ?)?position|serial|serial ?n.*"
            r"|device|device ?id|parcela|parzelle|site ?plot|locality|locality ?id|garden|node)")),
    (UNIT, r"(units?|scale|temp(erature)? units?)"),
)  # fmt: skip
_WORD_PATTERNS = tuple((role, re.compile(pattern)) for role, pattern in _WORDS)

_LENGTH = r"(?P<unit>cm|mm|in(?:ch(?:es)?)?(?![a-z])|\"|″|''|ft(?![a-z])|feet|foot|m(?![a-z0-9/]))"
_DEPTH = re.compile(
    r"(?<![\d.])(?:(?P<from>\d+(?:\.\d+)?)\s*(?:cm|in|m)?\s*(?:-|–|to|a)\s*)?(?P<sign>(?<![a-z\d])[-−]\s?|"
    rf"(?<=[a-z])[-−](?=\d))?(?P<number>\d+(?:[.,]\d+)?)\s*-?\s*{_LENGTH}"
)
_BARE_DEPTH = re.compile(
    r"(?:soil ?(?:te?mp(?:erature)?)?|\bt ?s(?:oil)?|\bst|\bte|\bs?te?mp(?:erature)?|depth|\bt|"
    r"\b(?:boden|temperatura|suelo|solo|pudy|terreno))(?: ?(?:avg|mean|max|min))?"
    r"\s*(?P<sign>[-−]?)\s*(?P<number>\d{1,3})(?![\d.]| ?\d)"
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
_SIGNED_UNIT = re.compile(r"°\s*[cfk]\b|celsius|fahrenheit|kelvin|\bdeg(?:rees?)?\.?\s*[cfk]\b")
_TEMPERATURE_UNIT = (
    (
        "F",
        re.compile(
            r"°\s*f\b|fahrenheit|\bdeg(?:rees?)?\.?\s*f\b|\bf$|\(f\)|\[f\]|\bdegf|\*f\b|\bf\b"
        ),
    ),
    (
        "C",
        re.compile(
            r"°\s*c(?:\b|(?=\d))|celsius|centigrade|\bdeg(?:rees?)?\.?\s*c(?:els?)?\b|\bc$|\(c\)"
            r"|\[c\]|\bdegc|\bc\b|\bo ?c\b|\*c\b"
        ),
    ),
    ("K", re.compile(r"kelvin|\bk$|\(k\)|\[k\]|\bdeg ?k\b|\bk\b")),
)
_OTHER_UNIT = re.compile(
    r"%|m3|m\^?3|m³|w/?m|w m-|mj|kpa|hpa|mbar|\bpa\b|m/s|ms-1|km/?h|mph|ds/m|us/cm|ms/cm|umol|vwc"
)
_RAIN_UNIT = re.compile(r"\b(mm|cm|in(?:ch(?:es)?)?)\b|(\")")
_DEEPEST_NAMED_M = 5.0
SHELTER_M = 1.2
"""Thermometers of the air hang 1.2 to 2 m above the ground (WMO-No. 8, from memory)."""
_SERIAL = re.compile(r"\b(?:lgr|sen|log|sensor|logger)\.?\s*s/?n:?\s*[\w-]+,?|\blbl:|\bs/n:?\s*\d+")
_NETWORK_ELEMENT = re.compile(r"^([a-z]{3,5})\.[a-z]-\d+(?::-(\d+))?\b")
_BRACKETED = re.compile(r"[(\[]\s*[cf]\s*[)\]]")
_NO_WORDS = re.compile(r"t[nxgm] ?\d+|in te?mp\w*|te?mp\w* in|(?P<flags>.* attributes)")


def _latin(text: str) -> str:
    """Take the accents off Latin letters; other scripts stay."""
    return "".join(
        unicodedata.normalize("NFD", c)[0] if ord(c) < 0x250 and c.isalpha() else c for c in text
    )


def normal(heading: str) -> str:
    """Return a heading in lower case, words apart: ``SoilTemp_10cm`` → ``soil temp 10cm``."""
    text = heading.replace("Â°", "°").replace("º", "°").replace("˚", "°")
    text = re.sub("\ufffd(?=[CFK])", "°", text)
    text = unicodedata.normalize("NFKC", text).strip().strip("#'").strip()
    text = re.sub(r"\b[oO](?=C\b)", "°", text)
    text = re.sub(r"(?<=[A-Z])(max|min|avg|mean|air|soil|temp)\b", r" \1", _latin(text))
    text = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", text)
    text = re.sub(r"(?<=[a-z])\.(?=\w)", " ", text.replace("_", " ").lower())
    text = _SERIAL.sub(" ", text)
    text = re.sub(
        r"(\d)(mm|cm|m|in|ft)?(min|max|avg|mean|ave|std|bg|ag)(?![a-z])", r"\1\2 \3", text
    )
    text = re.sub(r"(cm|\dm)(bg|ag)\b", r"\1 \2", text)
    text = re.sub(r"\b(t(?:e?mp|max|min|avg|air|soil)?|airt|soilt)([cf])\b", r"\1 \2", text)
    text = re.sub(r"^p temp", "ptemp", text)
    text = re.sub(r"[/:;,|]+(?!\d)|(?<!\d)[:/]", " ", text)
    return " ".join(text.split())


@lru_cache(maxsize=4096)
def understand(heading: str) -> Meaning:
    """Return what a heading means; role ``other`` where it is no business of ours."""
    text = normal(heading)
    plain = re.sub(r"[()\[\]{}\"]", " ", text)
    plain = " ".join(plain.replace("-", " ").replace(".", " ").split())
    if not plain:
        return Meaning(role=OTHER)
    if match := _NO_WORDS.fullmatch(plain):
        flags = bool(match["flags"])
        what = "a flag or quality mark" if flags else "at another place"
        return Meaning(role=FLAGS if flags else OTHER, what=what)
    if match := _NETWORK_ELEMENT.match(heading.strip().lower()):
        text = f"{match[1]} {'' if match[2] is None else match[2] + ' in'} {text[match.end() :]}"
        plain = text
    rest, hour = _take_hour(text)
    words, others, unknown = _read(_tokens(rest))
    role = _word(plain)
    if role == UNIT or (role and lex.TEMP not in words):
        return Meaning(role=role, unit=_length_unit(text) if role == DEPTH else "")
    unit = next((name for name, pattern in _TEMPERATURE_UNIT if pattern.search(text)), "")
    signed = bool(_SIGNED_UNIT.search(text) and not _OTHER_UNIT.search(text))
    if other := _other(words, others, signed=signed):
        return Meaning(role=OTHER, what=other)
    if lex.RAIN in words:
        return _rain(text, words, unknown)
    found = _temperature(rest, words, unknown, unit, signed=signed)
    return replace(found, hour=hour) if found.role in TEMPERATURES else found


def unknown_words(heading: str) -> int:
    """Return how many words of a heading say nothing that is known."""
    return len(_read(_tokens(_take_hour(normal(heading))[0]))[2])


def _tokens(text: str) -> list[str]:
    """Return the words of a heading, glued ones parted."""
    rough = re.findall(r"[a-z]+|[^\W\d_a-z]+|°", text)
    return [piece for word in rough for piece in lex.parted(word)]


def _read(tokens: list[str]) -> tuple[set[str], list[str], list[str]]:
    """Return what is said, which other quantities are named, and which words are not known."""
    words: set[str] = set()
    others, unknown = [], []
    told = any(lex.TEMP in lex.said(t)[0] and t not in lex.CODES for t in tokens)
    for piece in tokens:
        found, other = lex.said(piece)
        if told and piece in lex.BARE_CODES:
            found = frozenset()
        words |= found
        if other:
            others.append(other)
        elif not found and piece != "°":
            unknown.append(piece)
    return words, others, unknown


def _other(words: set[str], others: list[str], *, signed: bool) -> str:
    """Name the quantity of a heading that is no temperature of air or soil, or return ""."""
    for name in sorted(others, key=lambda o: o != "water content"):
        if name in lex.WORDED and signed and lex.TEMP in words:
            continue
        if name == lex.INDOORS and lex.SOIL in words:
            continue
        return name
    if lex.CLOCK in words and words & {lex.MAX, lex.MIN} and lex.OBSERVED not in words:
        return "the hour of an extreme"
    if lex.MAX in words and lex.MIN in words:
        return "a range or difference"
    return ""


def _word(plain: str) -> str:
    return next((role for role, pattern in _WORD_PATTERNS if pattern.fullmatch(plain)), "")


def _length_unit(text: str) -> str:
    match = re.search(r"\b(cm|mm|m|in(?:ch(?:es)?)?|ft)\b|(\")", text)
    if match is None:
        return ""
    return "in" if match[2] or match[1].startswith("in") else match[1]


def _rain(text: str, words: set[str], unknown: list[str]) -> Meaning:
    """Understand a heading of precipitation; hours, intensities and hourly maxima are no sums."""
    if lex.CLOCK in words or re.search(
        r"hours\b|intens|rate|durat|prob|type|max|최다|last|since", text
    ):
        return Meaning(role=OTHER, what="how rain fell")
    unit = _RAIN_UNIT.search(text)
    word = unit[0] if unit else ""
    return Meaning(
        role=PRECIP, unit="in" if word.startswith(("in", '"')) else word, weak=len(unknown) > 1
    )


def _temperature(
    text: str, words: set[str], unknown: list[str], unit: str, *, signed: bool
) -> Meaning:
    """Understand a heading that may name a temperature."""
    rest, length, below = _take_length(text)
    guess, below_guess = (None, False) if length is not None else _take_bare(rest, words)
    if guess is None and length is None and not _says_temperature(words, unknown, unit, rest):
        return Meaning(role=OTHER, what="" if not unknown else "not known")
    medium, depth_m, height_m = _place(words, length, text, below=below)
    if guess is not None and medium in ("", SOIL):
        medium = SOIL
    elif guess is not None:
        height_m, guess = guess / 100.0, None
    says = lex.TEMP in words or (bool(unit) and (signed or bool(_BRACKETED.search(text))))
    if (length is not None or guess is not None) and not says and unknown:
        return Meaning(role=OTHER, what="not known")
    mean = bool(words & {lex.MEAN, lex.DAILY})
    role = TEMP
    for found, named in ((lex.MAX, TMAX), (lex.MIN, TMIN), (lex.MEAN, TAVG), (lex.DAILY, TAVG)):
        if found in words:
            role = named
            break
    weak = not signed and not words & {lex.TEMP, lex.SOIL, lex.AIR} and not unit
    return Meaning(
        role=role, unit=unit, depth_m=depth_m, depth_guess=guess, height_m=height_m,
        below=below or below_guess, medium=medium, daily_mean=mean, weak=weak,
    )  # fmt: skip


def _says_temperature(words: set[str], unknown: list[str], unit: str, text: str) -> bool:
    """Whether the words make a temperature: one says so, or there is nothing but place and kind."""
    if "bed" in text.split() and unit:
        return True
    if lex.TEMP in words:
        letters = re.search(r"te?mp|temper|teplot|therm|celsius|fahrenheit|[^\x00-\x7f]", text)
        return bool(letters or unit or not unknown)
    if unknown:
        return bool(unit) and ("°" in text or (lex.SOIL in words and bool(_BRACKETED.search(text))))
    if words & {lex.SOIL, lex.AIR}:
        return True
    if unit:
        return not words - {lex.PLAIN, lex.MAX, lex.MIN, lex.MEAN, lex.DAILY, lex.OBSERVED}
    alone = words - {lex.PLAIN, lex.DAILY}
    return bool(re.fullmatch(r"(?:the )?(?:reading|value|probe|thermometer)s?(?: \d+)?", text)) or (
        len(alone) == 1 and bool(alone & {lex.MAX, lex.MIN, lex.MEAN})
    )


def _place(
    words: set[str], length: float | None, text: str, *, below: bool
) -> tuple[str, float | None, float | None]:
    """Return of what a temperature is, its depth and its height in metres."""
    if lex.SURFACE in words or (lex.COVER in words and lex.SOIL not in words):
        return SURFACE, None, length
    if lex.SOIL in words or below:
        fits = length is not None and length <= _DEEPEST_NAMED_M
        return SOIL, length if fits else None, None
    high = length is not None and bool(re.search(r"\d\s*m\b", text)) and length >= SHELTER_M
    if lex.AIR in words or high:
        return AIR, None, length
    if length is None:
        return "", None, None
    if lex.ABOVE in words and lex.BELOW not in words:
        return AIR, None, length
    return (SOIL, length, None) if length <= _DEEPEST_NAMED_M else (AIR, None, length)


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


def _take_length(text: str) -> tuple[str, float | None, bool]:
    """Find a length with its unit, m; a layer counts at its middle. Also: has it a minus sign."""
    for match in _DEPTH.finditer(text):
        factor = _UNITS[match["unit"].replace("″", '"')]
        length = float(match["number"].replace(",", ".")) * factor
        if match["from"]:
            length = (length + float(match["from"]) * factor) / 2
        rest = text[: match.start()] + " " + text[match.end() :]
        return rest, round(length, 6), bool(match["sign"])
    return text, None, False


def _take_bare(text: str, words: set[str]) -> tuple[float | None, bool]:
    """Find a depth without a unit, as in ``soil10``, ``T-005`` or ``TS05``."""
    if re.search(r"\d+ \d+ \d+$", text):
        return None, False
    match = _BARE_DEPTH.search(text)
    if match is None:
        return None, False
    number = int(match["number"])
    small = number == 2 and lex.SOIL in words
    padded = len(match["number"]) > 1 and match["number"].startswith("0") and number > 0
    if number > 100 and number % 5:
        return None, False  # a kind of sensor
    if number >= LEAST_BARE_DEPTH or small or padded:
        return float(number), bool(match["sign"])
    return None, False
