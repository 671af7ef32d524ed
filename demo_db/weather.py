"""Simulated temperatures: a valley's open air day by day, and what each place makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from math import pi, sin

from demo_db.scenario import CLOCHE_ROW, PLACES, Climate
from demo_db.season import FORECAST_DAYS, Season, dice

MEAN_C, SWING_C, SWING_STARTS_DAY = 10.5, 9.5, 110
RANGE_C, RANGE_SD_C = 9.0, 2.5
NOISE_SD_C, NOISE_CARRIES = 2.6, 0.7
# Clear nights of the story: lowest temperature in open air. The last one is a forecast.
COLD_NIGHTS_C = {(6, 5): 0.4, (6, 15): 1.3}
# No other night after this day comes near freezing, so that each cold trouble has one night to blame.
MILD_FROM, MILD_MIN_C = (5, 10), 5.0
# Some of the places whose covers come off have open air's weather from then on.
UNCOVERED = {CLOCHE_ROW: (4, 28)}
BARE = Climate(0.5, 0.5)


@dataclass(frozen=True, slots=True)
class DayTemperatures:
    """A day's lowest and highest in one place (°C), to a tenth as a thermometer shows them."""

    t_min_c: float
    t_max_c: float

    def degree_days(self, base_c: float, upper_c: float = 32.0) -> float:
        """Warmth above a base from the bounded mean: enough to drive the story's growth."""
        return max(0.0, (min(self.t_min_c, upper_c) + min(self.t_max_c, upper_c)) / 2 - base_c)


Weather = dict[tuple[str, date], DayTemperatures]


def simulate(season: Season, seed: int) -> Weather:
    """Every place's temperatures from the first day to the last day that is forecast."""
    rng = dice(seed, 1)
    told = season.days
    days = [*told, *(season.today + timedelta(days=n) for n in range(FORECAST_DAYS + 1))]
    cold = {season.on(*when): t_min for when, t_min in COLD_NIGHTS_C.items()}
    weather: Weather = {}
    noise = 0.0
    for day in days:
        noise = NOISE_CARRIES * noise + NOISE_SD_C * (1 - NOISE_CARRIES**2) ** 0.5 * rng.standard_normal()
        swing = max(3.0, RANGE_C + RANGE_SD_C * rng.standard_normal())
        sunny = float(rng.uniform(0, 1))
        mean = MEAN_C + SWING_C * sin(2 * pi * (season.story_day(day) - SWING_STARTS_DAY) / 365) + noise
        t_min, t_max = mean - swing / 2, mean + swing / 2
        if day >= season.on(*MILD_FROM):
            t_min = max(t_min, MILD_MIN_C)
        t_min = cold.get(day, t_min)
        for place in PLACES:
            bare = place.name in UNCOVERED and day >= season.on(*UNCOVERED[place.name])
            jitter = rng.normal(0, 0.4, 2)
            weather[place.name, day] = _inside(BARE if bare else place.climate, t_min, t_max, sunny, jitter.tolist())
    return weather


def _inside(climate: Climate, t_min: float, t_max: float, sunny: float, jitter: list[float]) -> DayTemperatures:
    low = max(t_min + climate.t_min_shift_c, climate.t_min_floor_c) + jitter[0]
    high = min(t_max + climate.t_max_shift_c + climate.sun_warms_c * sunny, climate.t_max_cap_c) + jitter[1]
    return DayTemperatures(round(low, 1), round(max(high, low + 2.0), 1))
