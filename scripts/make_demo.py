"""Make the demo gardens of data/demo/ again, byte for byte, from the recipes and seeds below.

    python scripts/make_demo.py [DIR]        # default: data/demo beside this folder

The place, its weather and its readings are invented: nothing here was measured anywhere.
The numbers in `RECIPE` were chosen for an inland valley at 36° south whose winters are cool and
wet, with some frost, and whose summers are warm and dry; those of `NORTH`, in data/demo/north, for
flower beds at 36° north with hot, moist summers and restless winters. None comes from a station.

Air, day by day:
    mean = annual wave (two harmonics) + AR(2) weather, more restless in spring and summer,
           + a slow drift with a memory of weeks + an offset of each year + a wet-day shift
    rain = two-state Markov chain, wetter in winter; amounts from a gamma distribution
    range = annual wave, narrower on wet days, with AR(1) scatter
    minimum, maximum = mean ∓ range/2, printed to 0.1 °C; some cells and days are missing

Soil at planting depth: mean air plus a share of the season's usual sun and a smaller one of each
day's departure from it (FAO-56 eq. 21 and 50 from latitude, day and range), at every frequency
through H(ω) = exp(−z·q) / (1 + L·q), q = (1+i)·√(ω/2κ), plus a site offset, a yearly wave, and
slow and fast residuals. It is written out here anew, apart from the package, with constants of
its own, so that the demo is not the package's own echo.

A hand reading: that soil + the daily wave at the hour of reading (H at one cycle a day, driven by
the day's range, warmest at the surface at 13:42) + thermometer error, to the nearest 0.5 °F.

Random numbers: only `random.Random.random`, which Python promises to keep; shapes are made here.
"""

from __future__ import annotations

import json
import math
import random
import sys
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

SEED = 20260327
TODAY = date(2026, 3, 16)
YEARS = 12

GARDEN: dict[str, Any] = {
    "name": "Eddermarl Terrace kitchen garden",
    "invented": True,
    "story": (
        "Six kitchen beds lie on a gravelly loam terrace above the Eddering, a river that runs "
        "out of the hills into a dry inland valley. "
        "Twice a year the gardeners turn the beds over: beans, squash and marigolds in spring, "
        "lettuce, brassicas and violas in autumn, from flats that must be ordered weeks before. "
        "They have the valley's daily air record and an old dial thermometer, marked in °F, that "
        "somebody pushes into the grass edge of the beds about once a week."
    ),
    "latitude_deg": -36.2,
    "longitude_deg": 146.6,
    "depth_m": 0.1,
    "soil": "loam",
    "cover": "grass",
    "today": TODAY.isoformat(),
    "air": "air.csv",
    "readings": "readings.csv",
}

RECIPE = {
    "mean_c": 15.4,
    "wave_c": 8.3,
    "peak_day": 20.0,  # of the year: warmest air, 20 January
    "second_c": 0.5,
    "weather_sd_c": 2.7,
    "weather_sd_swing_c": 0.5,  # more in summer, less in winter
    "weather_phi": (0.82, -0.18),
    "slow_sd_c": 0.7,
    "slow_memory_days": 40.0,
    "year_sd_c": 0.4,
    "wet_after_dry": (0.19, 0.08),  # yearly mean, winter excess
    "wet_after_wet": (0.47, 0.10),
    "rain_shape": 0.75,
    "rain_mean_mm": 6.5,
    "wet_shift_c": -0.5,  # yearly mean; summer −1.3, winter +0.3
    "wet_shift_swing_c": -0.8,
    "range_c": 13.2,
    "range_swing_c": 2.3,
    "wet_range_factor": 0.72,
    "range_scatter": 0.20,
    "range_phi": 0.35,
    "diffusivity_m2_s": 4.7e-7,
    "exchange_m": 0.28,
    "sun_c_per_mj": 0.33,  # of the season's usual sun
    "sun_day_c_per_mj": 0.10,  # of a day's departure from it
    "sun_base_c": -5.0,
    "offset_c": 0.7,
    "yearly_c": 0.6,
    "soil_slow_sd_c": 0.7,
    "soil_slow_memory_days": 55.0,
    "soil_fast_sd_c": 0.6,
    "soil_fast_memory_days": 3.3,
    "thermometer_sd_c": 0.4,
    "day_wave_share": 1.8,  # surface wave over half the air's range: the sun drives it too
    "day_exchange_m": 0.10,  # within a day grass and the air above it hold little heat
    "day_peak_hour": 13.7,
}

# Days without a row, and single cells left blank: (days before the record's end, length or column).
MISSING_DAYS = ((3120, 9), (1815, 3), (640, 5))
MISSING_CELLS = (
    (4000, 0),
    (3651, 1),
    (2950, 0),
    (2949, 0),
    (2200, 2),
    (1410, 1),
    (377, 0),
    (96, 1),
)

# Days before today, and the hour as written; "" where nobody noted it.
READINGS = (
    (172, "7:40 am"),
    (165, "7:15 am"),
    (157, "5:30 pm"),
    (151, "8:05 am"),
    (143, "7:50 am"),
    (136, "noon"),
    (129, "7:30 am"),
    (122, "6:10 pm"),
    (110, "8:20 am"),
    (101, "7:45 am"),
    (92, ""),
    (80, "9:00 am"),
    (71, "7:35 am"),
    (63, "4:45 pm"),
    (54, "8:10 am"),
    (43, "7:55 am"),
    (33, "7:20 am"),
    (26, "6:40 pm"),
    (18, "8:00 am"),
    (9, "7:45 am"),
    (3, "2:15 pm"),
)
NOTES = {
    172: "first of the season",
    136: "hot wind",
    122: "after watering",
    92: "hour not noted",
    26: "dusk",
    9: "heavy dew",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A garden and its weather: what is said of it, its recipe, its day and the seed.

    `folder` lies below data/demo; with `fahrenheit` its weather post writes °F and inches.
    """

    folder: str
    garden: dict[str, Any]
    recipe: dict[str, Any]
    today: date
    seed: int
    notes: dict[int, str]
    fahrenheit: bool = False


SOUTH = Setting(folder="", garden=GARDEN, recipe=RECIPE, today=TODAY, seed=SEED, notes=NOTES)
NORTH = Setting(
    folder="north",
    garden=GARDEN
    | {
        "name": "Wexmoor Bend flower beds",
        "story": (
            "Eight beds of annual flowers line the lanes of Wexmoor Bend, on silty loam above a "
            "slow river among low hills. "
            "Each autumn the zinnias come out, often still in bloom, and violas go in; each spring "
            "it is the other way round, with a few tomatoes by the gate. "
            "The caretakers have the county's daily air record and a dial thermometer, marked in "
            "°F, that one of them pushes into the grass edge about once a week."
        ),
        "latitude_deg": 35.9,
        "longitude_deg": -86.1,
        "today": "2026-09-14",
    },
    recipe=RECIPE
    | {
        "mean_c": 14.9,
        "wave_c": 11.2,
        "peak_day": 203.0,  # 22 July
        "weather_sd_c": 3.7,
        "weather_sd_swing_c": -1.5,
        "wet_after_dry": (0.26, 0.03),
        "wet_after_wet": (0.45, 0.05),
        "rain_mean_mm": 10.0,
        "range_c": 11.6,
        "range_swing_c": 0.6,
    },
    today=date(2026, 9, 14),
    seed=20260915,
    notes=NOTES | {136: "dry wind"},
    fahrenheit=True,
)

Floats = NDArray[np.float64]


class Dice:
    """Normal and gamma draws from `random.Random.random`, whose stream Python keeps fixed."""

    def __init__(self, seed: int) -> None:
        self._uniform = random.Random(seed).random  # noqa: S311 - weather, not secrets

    def uniform(self) -> float:
        """Return a draw from (0, 1)."""
        while (value := self._uniform()) == 0.0:
            pass
        return value

    def normal(self) -> float:
        """Return a standard normal draw (Box & Muller)."""
        radius = math.sqrt(-2.0 * math.log(self.uniform()))
        return radius * math.cos(2.0 * math.pi * self.uniform())

    def gamma(self, shape: float, mean: float) -> float:
        """Return a gamma draw of shape ≤ 1 and this mean (Ahrens & Dieter 1974, method GS)."""
        edge = 1.0 + shape / math.e
        while True:
            p = edge * self.uniform()
            x = p ** (1.0 / shape) if p <= 1.0 else -math.log((edge - p) / shape)
            kept = math.exp(-x) if p <= 1.0 else x ** (shape - 1.0)
            if self.uniform() <= kept:
                return x * mean / shape

    def ar1(self, n: int, sd: float, memory_days: float) -> Floats:
        """Return n steps of a stationary AR(1) series with correlation e^(−1/memory)."""
        phi = math.exp(-1.0 / memory_days)
        values = np.empty(n)
        values[0] = sd * self.normal()
        for i in range(1, n):
            values[i] = phi * values[i - 1] + sd * math.sqrt(1.0 - phi * phi) * self.normal()
        return values


@dataclass(frozen=True, slots=True)
class World:
    """The invented valley: one entry a day, the days after `TODAY` included."""

    days: list[date]
    tmin_c: Floats
    tmax_c: Floats
    rain_mm: Floats
    soil_c: Floats
    where: Setting


def _season(days: list[date], peak_day: float = RECIPE["peak_day"]) -> Floats:
    """Return the phase of the year, radians, 0 at the warmest air."""
    of_year = np.array([day.timetuple().tm_yday for day in days], dtype=float)
    return 2.0 * np.pi * (of_year - peak_day) / 365.25


def _rain(dice: Dice, winter: Floats, recipe: dict[str, Any]) -> Floats:
    """Return daily rain, mm: a two-state chain and gamma amounts."""
    rain, wet = np.zeros(winter.size), False
    for i, share in enumerate(winter):
        base, excess = recipe["wet_after_wet" if wet else "wet_after_dry"]
        wet = dice.uniform() < base + excess * share
        if wet:
            rain[i] = max(0.2, round(dice.gamma(recipe["rain_shape"], recipe["rain_mean_mm"]), 1))
    return rain


def _weather(dice: Dice, summer: Floats, recipe: dict[str, Any]) -> Floats:
    """Return daily anomalies of mean air, °C: AR(2) with a seasonal spread, and a slow drift."""
    first, second = recipe["weather_phi"]
    variance = (1.0 - second) / ((1.0 + second) * ((1.0 - second) ** 2 - first**2))
    shock = 1.0 / math.sqrt(variance)
    unit = np.zeros(summer.size)
    before = last = 0.0
    for i in range(-30, summer.size):
        before, last = last, first * last + second * before + shock * dice.normal()
        if i >= 0:
            unit[i] = last
    slow = dice.ar1(summer.size, recipe["slow_sd_c"], recipe["slow_memory_days"])
    return unit * (recipe["weather_sd_c"] + recipe["weather_sd_swing_c"] * summer) + slow


def _air(dice: Dice, days: list[date], recipe: dict[str, Any]) -> tuple[Floats, Floats, Floats]:
    """Return minimum and maximum air, °C, and rain, mm, before anything is lost or rounded."""
    phase = _season(days, recipe["peak_day"])
    summer = np.cos(phase)
    rain = _rain(dice, -summer, recipe)
    wet = rain > 0.0
    years = {year: recipe["year_sd_c"] * dice.normal() for year in sorted({d.year for d in days})}
    mean = (
        recipe["mean_c"]
        + recipe["wave_c"] * summer
        + recipe["second_c"] * np.cos(2.0 * phase - 0.6)
        + np.array([years[day.year] for day in days])
        + _weather(dice, summer, recipe)
        + wet * (recipe["wet_shift_c"] + recipe["wet_shift_swing_c"] * summer)
    )
    scatter = dice.ar1(len(days), recipe["range_scatter"], -1.0 / math.log(recipe["range_phi"]))
    spread = (recipe["range_c"] + recipe["range_swing_c"] * summer) * np.exp(scatter)
    spread *= np.where(wet, recipe["wet_range_factor"], 1.06)
    spread = np.clip(spread, 2.0, 24.0)
    return mean - spread / 2.0, mean + spread / 2.0, rain


def _sun_mj(days: list[date], spread_c: Floats, latitude_deg: float) -> Floats:
    """Return solar radiation, MJ m⁻² a day (FAO-56 eq. 21, 23–25 and 50, inland 0.16)."""
    latitude = math.radians(latitude_deg)
    angle = 2.0 * np.pi / 365.0 * np.array([day.timetuple().tm_yday for day in days])
    tilt = 0.409 * np.sin(angle - 1.39)
    sunset = np.arccos(np.clip(-math.tan(latitude) * np.tan(tilt), -1.0, 1.0))
    beam = sunset * math.sin(latitude) * np.sin(tilt)
    beam += math.cos(latitude) * np.cos(tilt) * np.sin(sunset)
    clear = 24.0 * 60.0 / np.pi * 0.0820 * (1.0 + 0.033 * np.cos(angle)) * beam
    return 0.16 * np.sqrt(spread_c) * clear


def _response(omega: Floats, exchange_m: float) -> NDArray[np.complex128]:
    """Return H(ω) at the garden's depth; ω in rad/s."""
    q = (1.0 + 1.0j) * np.sqrt(omega / (2.0 * RECIPE["diffusivity_m2_s"]))
    return np.exp(-GARDEN["depth_m"] * q) / (1.0 + exchange_m * q)


def _soil(dice: Dice, days: list[date], tmin_c: Floats, tmax_c: Floats, where: Setting) -> Floats:
    """Return the soil's daily mean at planting depth, °C."""
    recipe, latitude_deg = where.recipe, where.garden["latitude_deg"]
    phase = _season(days, recipe["peak_day"])
    usual_range = recipe["range_c"] + recipe["range_swing_c"] * np.cos(phase)
    usual = _sun_mj(days, usual_range, latitude_deg)
    forcing = (tmin_c + tmax_c) / 2.0 + recipe["sun_c_per_mj"] * usual + recipe["sun_base_c"]
    forcing += recipe["sun_day_c_per_mj"] * (_sun_mj(days, tmax_c - tmin_c, latitude_deg) - usual)
    # A mirrored year at either end keeps the two ends of the record from touching.
    pad = min(365, len(days) - 1)
    padded = np.concatenate([forcing[pad:0:-1], forcing, forcing[-2 : -pad - 2 : -1]])
    omega = 2.0 * np.pi * np.fft.rfftfreq(padded.size, 86_400.0)
    response = _response(omega, recipe["exchange_m"])
    soil = np.fft.irfft(np.fft.rfft(padded) * response, padded.size)[pad:][: len(days)]
    soil += recipe["offset_c"] + recipe["yearly_c"] * np.cos(phase)
    soil += dice.ar1(len(days), recipe["soil_slow_sd_c"], recipe["soil_slow_memory_days"])
    soil += dice.ar1(len(days), recipe["soil_fast_sd_c"], recipe["soil_fast_memory_days"])
    return soil


def make_world(
    *, years: int = YEARS, after_days: int = 120, seed: int | None = None, where: Setting = SOUTH
) -> World:
    """Make a garden's weather and soil for whole years to its day, and some days after it."""
    dice, today = Dice(where.seed if seed is None else seed), where.today
    start = date(today.year - years, today.month, today.day) + timedelta(days=1)
    days = [start + timedelta(days=i) for i in range((today - start).days + 1 + after_days)]
    tmin_c, tmax_c, rain_mm = _air(dice, days, where.recipe)
    soil_c = _soil(dice, days, tmin_c, tmax_c, where)
    return World(days, tmin_c, tmax_c, rain_mm, soil_c, where)


def air_text(world: World) -> str:
    """Return the air record to the garden's day as its weather post would export it."""
    today = world.days.index(world.where.today)
    lost = {today - back + i for back, length in MISSING_DAYS for i in range(length)}
    blank = {(today - back, column) for back, column in MISSING_CELLS}
    lines = ["Date,Min temp (°C),Max temp (°C),Rain (mm)"]
    columns = [(values, 1) for values in (world.tmin_c, world.tmax_c, world.rain_mm)]
    if world.where.fahrenheit:
        lines = ["Date,Min temp (°F),Max temp (°F),Rain (in)"]
        low, high = (values * 1.8 + 32.0 for values in (world.tmin_c, world.tmax_c))
        columns = [(low, 1), (high, 1), (world.rain_mm / 25.4, 2)]
    for i in range(today + 1):
        if i in lost:
            continue
        cells = [f"{values[i]:.{digits}f}" for values, digits in columns]
        cells = ["" if (i, column) in blank else cell for column, cell in enumerate(cells)]
        lines.append(",".join([world.days[i].isoformat(), *cells]))
    return "\n".join(lines) + "\n"


def _hour(text: str) -> float:
    """Return hours since midnight from words as people write them."""
    if text == "noon":
        return 12.0
    clock, half = text.split()
    hours, minutes = clock.split(":")
    return int(hours) % 12 + int(minutes) / 60.0 + (12.0 if half == "pm" else 0.0)


def day_wave_c(spread_c: float, hour: float) -> float:
    """Return how far the soil stands above its daily mean at an hour, °C."""
    omega = 2.0 * math.pi / 86_400.0
    response = complex(_response(np.array([omega]), RECIPE["day_exchange_m"])[0])
    angle = omega * 3600.0 * (hour - RECIPE["day_peak_hour"])
    turn = complex(math.cos(angle), math.sin(angle))
    return RECIPE["day_wave_share"] * spread_c / 2.0 * (response * turn).real


def readings_text(world: World, *, seed: int | None = None) -> str:
    """Return the gardeners' log of the season, °F at 4 inches, as they wrote it."""
    where = world.where
    dice = Dice((where.seed if seed is None else seed) + 1)
    today = world.days.index(where.today)
    lines = [
        f"Soil thermometer log - {where.garden['name']} (invented)",
        "Dial in the grass edge of the beds, 4 inches down. Clock times are standard time.",
        "",
        "Date,Time,Soil 4 in (°F),Note",
    ]
    for back, written in READINGS:
        i = today - back
        hour = _hour(written) if written else 8.0
        soil = world.soil_c[i] + day_wave_c(world.tmax_c[i] - world.tmin_c[i], hour)
        soil += RECIPE["thermometer_sd_c"] * dice.normal()
        dial = round(2.0 * (soil * 1.8 + 32.0)) / 2.0
        clock = "12:00 pm" if written == "noon" else written
        lines.append(f"{world.days[i].isoformat()},{clock},{dial:.1f},{where.notes.get(back, '')}")
    return "\n".join(lines) + "\n"


def write_demo(folder: Path) -> None:
    """Write garden.json, air.csv and readings.csv of both gardens."""
    for where in (SOUTH, NORTH):
        here = folder / where.folder
        here.mkdir(parents=True, exist_ok=True)
        world = make_world(where=where)
        texts = {
            "garden.json": json.dumps(where.garden, ensure_ascii=False, indent=2) + "\n",
            where.garden["air"]: air_text(world),
            where.garden["readings"]: readings_text(world),
        }
        for name, text in texts.items():
            (here / name).write_bytes(text.encode())


if __name__ == "__main__":
    default = Path(__file__).resolve().parent.parent / "data" / "demo"
    if len(sys.argv) > 2 or sys.argv[-1].startswith("-"):
        sys.exit(__doc__)
    write_demo(Path(sys.argv[1]) if len(sys.argv) > 1 else default)
