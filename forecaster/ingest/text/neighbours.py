"""What the headings of a table say of one another, after `columns` has judged each by itself."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from forecaster.ingest.text.columns import (
    AIR,
    MINUTE,
    MONTH,
    OTHER,
    SOIL,
    SURFACE,
    TEMP,
    TEMPERATURES,
    Meaning,
    normal,
)

_FILLED = re.compile(r"_f(?: \(.*\))?$", re.IGNORECASE)
_NEVER_FAHRENHEIT = frozenset({
    "heat flux", "radiation or light", "evaporation", "humidity", "pressure", "wind",
    "water content",
})  # fmt: skip
_MODELLED = re.compile(
    r"\b(?:gldas|nldas|era ?5?(?: land)?|merra ?2?|ncep|cfsr|model\w*|modell\w*|simul\w*|sim"
    r"|predict\w*|pred|forecast\w*|hindcast\w*|reanalys\w*)\b"
)
_WIND_PARTS = ({"ux", "uy", "uz"}, {"u", "v", "w"})


def together(headings: Sequence[str], meanings: Sequence[Meaning]) -> list[Meaning]:
    """Return the meanings of a table's headings, corrected where one explains another."""
    found = list(meanings)
    names = {h.strip().upper() for h in headings}
    for step in (_signs, _ports, _filled, _sonic, _modelled):
        found = step(headings, found)
    flux = any(
        n.startswith(("TIMESTAMP_START", "TIMESTAMP_END", "SW_IN", "NETRAD", "PPFD_IN", "TA_F_MDS"))
        or n.endswith("_F_QC")
        for n in names
    )
    skin = any(n.startswith("T2M") for n in names)
    minute = [k for k, h in enumerate(headings) if h.strip() == "mm" and found[k].role == MONTH]
    if minute and sum(m.role == MONTH for m in found) > 1:
        found[minute[-1]] = Meaning(role=MINUTE)
    for k, heading in enumerate(headings):
        if found[k].role not in TEMPERATURES:
            continue
        base = heading.strip().upper()
        if (flux and re.match(r"T[AS]_", base)) or (flux and base in ("TA", "TS")):
            found[k] = replace(found[k], unit="C", role=TEMP)
        elif skin and base == "TS":
            found[k] = replace(found[k], medium=SURFACE)
    return found


def _signs(headings: Sequence[str], meanings: list[Meaning]) -> list[Meaning]:
    """Where some numbers have a minus sign and others not, the others are heights."""
    lone = [
        k
        for k, m in enumerate(meanings)
        if m.role in TEMPERATURES
        and (m.depth_guess is not None or m.depth_m is not None)
        and not re.search(r"soil|suelo|solo|boden|pud|ground|terr", normal(headings[k]))
    ]
    if not any(meanings[k].below for k in lone):
        return meanings
    found = list(meanings)
    for k in lone:
        m = meanings[k]
        if not m.below:
            height = m.depth_m if m.depth_m is not None else (m.depth_guess or 0.0) / 100
            found[k] = replace(m, medium=AIR, height_m=height, depth_m=None, depth_guess=None)
    return found


def _ports(headings: Sequence[str], meanings: list[Meaning]) -> list[Meaning]:
    """Take a probe that measures water content beside its temperature to stand in the soil."""
    ports = [re.match(r"\W*(port\s*\d+)\b", normal(h)) for h in headings]
    wet = {
        port[1]
        for port, m in zip(ports, meanings, strict=True)
        if port and m.what == "water content"
    }
    return [
        replace(m, medium=SOIL)
        if port and port[1] in wet and m.role in TEMPERATURES and not m.medium
        else m
        for port, m in zip(ports, meanings, strict=True)
    ]


def _filled(headings: Sequence[str], meanings: list[Meaning]) -> list[Meaning]:
    """Where fluxes or humidity end in ``_f`` too, it says that gaps were filled, not °F."""
    ends = [bool(_FILLED.search(h.strip())) for h in headings]
    if not any(e and m.what in _NEVER_FAHRENHEIT for e, m in zip(ends, meanings, strict=True)):
        return meanings
    return [
        replace(m, unit="") if e and m.role in TEMPERATURES and m.unit == "F" else m
        for e, m in zip(ends, meanings, strict=True)
    ]


def _sonic(headings: Sequence[str], meanings: list[Meaning]) -> list[Meaning]:
    """Where only the wind's three parts stand beside it, ``Ts`` is of sound, not of soil."""
    bare = [normal(h).split(" ")[0] for h in headings]
    air = any(m.role in TEMPERATURES and m.medium == AIR for m in meanings)
    if air or not any(parts <= set(bare) for parts in _WIND_PARTS):
        return meanings
    return [
        Meaning(role=OTHER, what="sonic or infrared") if b == "ts" else m
        for b, m in zip(bare, meanings, strict=True)
    ]


def _modelled(headings: Sequence[str], meanings: list[Meaning]) -> list[Meaning]:
    """Leave what a model says of a temperature that is measured in the same table."""
    model = [bool(_MODELLED.search(normal(h))) for h in headings]
    measured = {
        m.medium for m, k in zip(meanings, model, strict=True) if m.role in TEMPERATURES and not k
    }
    return [
        Meaning(role=OTHER, what="of a model")
        if k and m.role in TEMPERATURES and m.medium in measured
        else m
        for m, k in zip(meanings, model, strict=True)
    ]
