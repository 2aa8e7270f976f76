"""Places and beds: what the book knows of the ground, and the site the model is asked about."""

from __future__ import annotations

import json
import sqlite3
import unicodedata
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace
from difflib import get_close_matches
from typing import Any, Literal, TypeVar, get_args

from forecaster.book.store import Batch, Book
from forecaster.ground.errors import InputError
from forecaster.ground.site import Cover, Site, Soil

Light = Literal["sun", "part shade", "shade"]

LONGEST_NAME, LONGEST_TEXT = 80, 4000
_LAYOUT = "\t\n\r"
Ground = TypeVar("Ground", "Place", "Bed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A garden: where it is, and which air record it uses.

    Parameters
    ----------
    name : str
    latitude_deg : float
        Degrees north.
    longitude_deg : float, optional
        Degrees east.
    elevation_m : float, optional
        Metres above the sea, −500 to 9,000.
    station : str
        The air station in use, or "".
    obs_hour : int, optional
        Hour at which that station is read, 0 to 23.
    """

    name: str
    latitude_deg: float
    longitude_deg: float | None = None
    elevation_m: float | None = None
    station: str = ""
    obs_hour: int | None = None

    def __post_init__(self) -> None:
        """Refuse what no place can have."""
        check_name(self.name, "place")
        check_text(self.station, "station")
        Site(self.latitude_deg, self.longitude_deg)
        _within("elevation", self.elevation_m, -500.0, 9000.0, "metres")
        if self.obs_hour is not None and self.obs_hour not in range(24):
            raise InputError(f"observation hour is {self.obs_hour!r}; expected 0 to 23")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """A bed: its ground, its light, and how deep its thermometer stands.

    Parameters
    ----------
    name : str
    place : str
        Name of its place.
    area_m2 : float, optional
        m²; worked out from the outline if there is one.
    outline : tuple of (float, float)
        Corners in order, metres east and north of any fixed point; may be empty.
    soil : str
        As `Site` knows it.
    organic_share : float, optional
        Share of organic matter by weight, 0 to 1.
    cover : {"grass", "bare", "mulch", "straw"}
    light : {"sun", "part shade", "shade"}
    raised : bool
    depth_m : float
        Depth of the thermometer, and the depth asked about; 0 to 2 m.
    shape : str
        The outline in words, as ``circle 10ft``, where it was told so; its area stands in
        `area_m2`.
    """

    name: str
    place: str
    area_m2: float | None = None
    outline: tuple[tuple[float, float], ...] = ()
    soil: Soil = "loam"
    organic_share: float | None = None
    cover: Cover = "bare"
    light: Light = "sun"
    raised: bool = False
    depth_m: float = 0.1016
    shape: str = ""

    def __post_init__(self) -> None:
        """Refuse what no bed can have."""
        check_name(self.name, "bed")
        Site(0.0, None, self.depth_m, self.soil, self.cover)
        _within("organic share", self.organic_share, 0.0, 1.0, "0.05 for 5 %")
        if self.light not in get_args(Light):
            raise InputError(f"light is {self.light!r}; expected {', '.join(get_args(Light))}")
        check_text(self.shape, "bed's outline")
        if self.outline and not outline_area(self.outline) > 0.0:
            raise InputError("the outline encloses nothing; expected three corners or more")
        if self.area_m2 is not None and not 0.0 < self.area_m2 < 1e9:
            raise InputError(f"area is {self.area_m2:g} m²; expected more than none")


def outline_area(outline: Sequence[tuple[float, float]]) -> float:
    """Return the area inside an outline, m², by the shoelace formula.

    >>> outline_area([(0, 0), (4, 0), (4, 2.5), (0, 2.5)])
    10.0
    """
    after = [*outline[1:], *outline[:1]]
    twice = sum(x * y2 - x2 * y for (x, y), (x2, y2) in zip(outline, after, strict=True))
    return abs(float(twice)) / 2.0


def add_place(batch: Batch, place: Place) -> int:
    """Add a place and return its number; its name must be new."""
    values = asdict(place)
    return _add(batch, "places", "place", values)


def add_bed(batch: Batch, bed: Bed) -> int:
    """Add a bed and return its number; its name must be new in the whole book."""
    values = _bed_values(bed) | {"place_id": place_number(batch.db, bed.place)}
    return _add(batch, "beds", "bed", values)


def _add(batch: Batch, table: str, what: str, values: dict[str, Any]) -> int:
    values = values | {"name_key": name_key(values["name"]), "batch_id": batch.number}
    columns, marks = ", ".join(values), ", ".join("?" * len(values))
    try:
        made = batch.db.execute(
            f"INSERT INTO {table} ({columns}) VALUES ({marks})",  # noqa: S608 - names are ours
            tuple(values.values()),
        )
    except sqlite3.IntegrityError as error:
        raise InputError(
            f"there is a {what} {say_name(values['name'])} already; give this one another name"
        ) from error
    batch.rows += 1
    return int(made.lastrowid or 0)


def change_bed(book: Book, name: str, **new: Any) -> Bed:
    """Change what the book says of a bed, as a batch, and return it. Its name and place stay.

    An area alone takes the place of an outline.
    """
    with book.batch("bed", name) as batch:
        old = find_bed(book, name)
        alone = "area_m2" in new and not {"outline", "shape"} & new.keys()
        if alone and new["area_m2"] != old.area_m2:
            new = {"outline": (), "shape": "", **new}
        bed = replace(old, **new)
        if new.get("outline") and "area_m2" not in new:
            bed = replace(bed, area_m2=outline_area(bed.outline))
        before, after = _bed_values(old), _bed_values(bed)
        changed = {key: value for key, value in after.items() if value != before[key]}
        number = bed_number(batch.db, bed.name)
        batch.db.executemany(
            "INSERT INTO bed_changes (bed_id, setting, batch_id, value) VALUES (?, ?, ?, ?)",
            [(number, key, batch.number, json.dumps(value)) for key, value in changed.items()],
        )
        batch.rows += len(changed)
    return bed


def _bed_values(bed: Bed) -> dict[str, Any]:
    values = asdict(bed)
    del values["place"]
    values["outline"] = json.dumps(bed.outline) if bed.outline else ""
    if bed.outline and bed.area_m2 is None:
        values["area_m2"] = outline_area(bed.outline)
    return values


def places(book: Book) -> list[Place]:
    """Return all places, the first made first."""
    names = [field.name for field in fields(Place)]
    with book.reading() as db:
        rows = db.execute(f"SELECT {', '.join(names)} FROM places ORDER BY id").fetchall()  # noqa: S608
    return [Place(**dict(zip(names, row, strict=True))) for row in rows]


def beds(book: Book) -> list[Bed]:
    """Return all beds, the first made first: as they were made, and the latest word on each."""
    names = [field.name for field in fields(Bed) if field.name != "place"]
    said = ", ".join(f"beds.{name}" for name in names)
    with book.reading() as db:
        rows = db.execute(
            f"SELECT beds.id, places.name, {said} FROM beds "  # noqa: S608 - names are ours
            "JOIN places ON places.id = place_id ORDER BY beds.id"
        ).fetchall()
        changes = db.execute(
            "SELECT bed_id, setting, value FROM bed_changes ORDER BY batch_id"
        ).fetchall()
    latest: dict[int, dict[str, Any]] = {}
    for number, setting, value in changes:
        latest.setdefault(number, {})[setting] = value
    found = []
    for number, place, *row in rows:
        values = dict(zip(names, row, strict=True))
        values |= {key: _setting(value) for key, value in latest.get(number, {}).items()}
        found.append(_bed(place, *(values[name] for name in names)))
    return found


def _setting(text: str) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"a bed's setting {text!r:.40} in the book cannot be read") from error


def _bed(place: str, name: str, area_m2: float | None, outline: str, *rest: Any) -> Bed:
    soil, organic_share, cover, light, raised, depth_m, shape = rest
    try:
        corners = tuple((float(x), float(y)) for x, y in json.loads(outline or "[]"))
    except (ValueError, TypeError, OverflowError, RecursionError) as error:
        raise InputError(f"the outline of bed {say_name(name)} is not one: {error}") from error
    return Bed(
        name=name,
        place=place,
        area_m2=area_m2,
        outline=corners,
        soil=soil,
        organic_share=organic_share,
        cover=cover,
        light=light,
        raised=bool(raised),
        depth_m=depth_m,
        shape=shape,
    )


def find_place(book: Book, name: str | None = None) -> Place:
    """Return a place by its name; without one, the only place.

    Raises
    ------
    InputError
        If there is none of that name, or the name is left out and there are several or none.
    """
    return _find("place", "crossday book start --lat 36.2S", places(book), name)


def find_bed(book: Book, name: str | None = None) -> Bed:
    """Return a bed by its name; without one, the only bed. Errors as for `find_place`."""
    return _find("bed", "crossday book bed north", beds(book), name)


def _find(what: str, make: str, known: list[Ground], name: str | None) -> Ground:
    said = ", ".join(say_name(one.name) for one in known)
    if not known:
        raise InputError(f"the book has no {what} yet; make one: {make}")
    if name is None:
        if len(known) == 1:
            return known[0]
        raise InputError(f"the book has {len(known)} {what}s; say which, with --{what}: {said}")
    key = name_key(name)
    found = [one for one in known if name_key(one.name) == key]
    if found:
        return found[0]
    near = get_close_matches(key, [name_key(one.name) for one in known], n=1)
    close = [say_name(one.name) for one in known if name_key(one.name) in near]
    hint = f"; did you mean {close[0]}?" if close else ""
    raise InputError(f"there is no {what} {say_name(name)} in the book, which has {said}{hint}")


def place_number(db: sqlite3.Connection, name: str) -> int:
    """Return the number of a place in the tables."""
    return _row_number(db, "places", name)


def bed_number(db: sqlite3.Connection, name: str) -> int:
    """Return the number of a bed in the tables."""
    return _row_number(db, "beds", name)


def _row_number(db: sqlite3.Connection, table: str, name: str) -> int:
    found = db.execute(
        f"SELECT id FROM {table} WHERE name_key = ?",  # noqa: S608 - names are ours
        (name_key(name),),
    ).fetchone()
    if found is None:
        raise InputError(f"the book has no {say_name(name)} among its {table}")
    return int(found[0])


def bed_site(book: Book, name: str | None = None) -> Site:
    """Return the site that the model is asked about for a bed."""
    bed = find_bed(book, name)
    place = find_place(book, bed.place)
    return Site(place.latitude_deg, place.longitude_deg, bed.depth_m, bed.soil, bed.cover)


def name_key(name: str) -> str:
    """Return what two names share that a person would take for the same.

    >>> name_key("  North   Bed ") == name_key("north bed")
    True
    """
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def say_name(name: str) -> str:
    """Return a name on one line, in quotes, with nothing that a terminal would obey."""
    shown = " ".join(name.split())
    return "'" + "".join(c if c.isprintable() else "�" for c in shown) + "'"


def check_name(name: str, what: str) -> None:
    """Refuse an empty or endless name, or one with control characters in it."""
    if not name_key(name) or len(name) > LONGEST_NAME:
        raise InputError(
            f"the {what}'s name is {say_name(name[:LONGEST_NAME])}; "
            f"expected 1 to {LONGEST_NAME} characters"
        )
    check_text(name, f"{what}'s name")


def check_text(text: str, what: str) -> None:
    """Refuse text that cannot be kept: control characters, half characters, too long."""
    if len(text) > LONGEST_TEXT:
        raise InputError(f"the {what} has {len(text):,} characters; expected {LONGEST_TEXT:,}")
    for at, letter in enumerate(text):
        if unicodedata.category(letter) in ("Cc", "Cs") and letter not in _LAYOUT:
            raise InputError(
                f"the {what} has a control character (U+{ord(letter):04X}) at place {at + 1}; "
                "leave it out"
            )


def _within(name: str, value: float | None, low: float, high: float, unit: str) -> None:
    if value is not None and not low <= value <= high:
        raise InputError(f"{name} is {value!r}; expected {low:g} to {high:g} ({unit})")
