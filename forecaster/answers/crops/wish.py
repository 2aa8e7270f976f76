"""What a user wants of a crop's window."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from forecaster.ground.given import number, one, whole
from forecaster.rules.crops import PlantingSeason, Use


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is wanted of a crop's window; what is None is taken from the tables.

    Parameters
    ----------
    season : {"autumn", "spring"}, optional
        By default the one whose window is next for the crop at the place on the day.
    use : {"transplant", "seed"}, optional
        By default as the crop is usually begun.
    risk : float, optional
        Chance of a later frost that is accepted, 0 to 1.
    offset_c : float, optional
        What the bed is warmer than the record's air on a frosty night, °C.
    rooting_days, season_days : int, optional
        Days to root; days of good weather that the crop needs before frost.
    source : str, optional
        Part of the name of the source whose thresholds are used where it gives one.
    sown : date, optional
        Day of sowing in the bed; makes `use` seed.
    begins : date, optional
        First day of the season that is meant, as a plan for the next one gives it; by default
        the season that runs, or comes next.
    """

    season: PlantingSeason | None = None
    use: Use | None = None
    risk: float | None = None
    offset_c: float | None = None
    rooting_days: int | None = None
    season_days: int | None = None
    source: str | None = None
    sown: date | None = None
    begins: date | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.risk is not None:
            number("risk", self.risk, 0.0, 1.0, "a probability")
        if self.offset_c is not None:
            number("offset_c", self.offset_c, -30.0, 30.0, "°C")
        for name in ("rooting_days", "season_days"):
            if getattr(self, name) is not None:
                whole(name, getattr(self, name), 1, 365)
        for name in ("season", "use", "source"):
            if getattr(self, name) is not None:
                one(name, getattr(self, name), str, "a word")
        for name in ("sown", "begins"):
            if getattr(self, name) is not None:
                one(name, getattr(self, name), date, "a date")
