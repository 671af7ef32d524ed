"""The sun over a place by latitude and day of the year: day length, radiation above the air and on the ground.

All after Allen et al. 1998, FAO Irrigation and Drainage Paper 56 (equation numbers given). Latitudes in degrees, north
positive; radiation in MJ m⁻² d⁻¹; arguments broadcast. Valid between the polar circles; beyond them day and night of
24 h are handled, but FAO-56 gives no check values there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

SOLAR_CONSTANT = 0.0820
"""MJ m⁻² min⁻¹; FAO-56, equation 21."""
ANGSTROM_OVERCAST, ANGSTROM_SUN = 0.25, 0.50
"""Shares of extraterrestrial radiation that pass an overcast sky and that sunshine adds; FAO-56, equation 35."""
HARGREAVES_INLAND, HARGREAVES_COAST = 0.16, 0.19
"""°C^−0.5, inland and at the coast; FAO-56, equation 50."""


def day_of_year(days: ArrayLike) -> NDArray[np.int64]:
    """Day of the year, 1 January = 1, of dates (numpy datetime64 or what becomes it)."""
    day = np.asarray(days, dtype="datetime64[D]")
    number: NDArray[np.int64] = (day - day.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64) + 1
    return number


def earth_sun_distance(day: ArrayLike) -> Floats:
    """Inverse relative distance of earth and sun on a day of the year; equation 23."""
    result: Floats = 1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * np.asarray(day, dtype=float))
    return result


def declination(day: ArrayLike) -> Floats:
    """Solar declination, rad, on a day of the year; equation 24."""
    result: Floats = 0.409 * np.sin(2.0 * np.pi / 365.0 * np.asarray(day, dtype=float) - 1.39)
    return result


def sunset_angle(day: ArrayLike, latitude: ArrayLike) -> Floats:
    """Sunset hour angle, rad; 0 in polar night, π under the midnight sun; equation 25.

    Raises ValueError for latitudes beyond ±90.
    """
    lat = np.asarray(latitude, dtype=float)
    if np.any(np.abs(lat) > 90.0):
        raise ValueError("a latitude lies between -90 and 90 degrees")
    # The poles' tangent is infinite; a hair beside them it is merely large.
    slope = np.tan(np.radians(np.clip(lat, -89.999, 89.999))) * np.tan(declination(day))
    result: Floats = np.arccos(np.clip(-slope, -1.0, 1.0))
    return result


def daylight_hours(day: ArrayLike, latitude: ArrayLike) -> Floats:
    """Hours between sunrise and sunset; equation 34."""
    result: Floats = 24.0 / np.pi * sunset_angle(day, latitude)
    return result


def extraterrestrial_radiation(day: ArrayLike, latitude: ArrayLike) -> Floats:
    """Radiation above the atmosphere on a level surface, MJ m⁻² d⁻¹; equation 21."""
    phi, delta = np.radians(np.asarray(latitude, dtype=float)), declination(day)
    angle = sunset_angle(day, latitude)
    beam = angle * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(angle)
    result: Floats = 24.0 * 60.0 / np.pi * SOLAR_CONSTANT * earth_sun_distance(day) * np.maximum(beam, 0.0)
    return result


def radiation_from_sunshine(ra: ArrayLike, sunshine_h: ArrayLike, daylight_h: ArrayLike) -> Floats:
    """Radiation on the ground from hours of sunshine, MJ m⁻² d⁻¹; equation 35 (Angström)."""
    daylight = np.asarray(daylight_h, dtype=float)
    share = np.divide(np.asarray(sunshine_h, dtype=float), daylight, out=np.zeros_like(daylight), where=daylight > 0.0)
    result: Floats = (ANGSTROM_OVERCAST + ANGSTROM_SUN * np.clip(share, 0.0, 1.0)) * np.asarray(ra, dtype=float)
    return result


def clear_sky_radiation(ra: ArrayLike, elevation_m: ArrayLike = 0.0) -> Floats:
    """Radiation on the ground under a cloudless sky, MJ m⁻² d⁻¹; equation 37."""
    result: Floats = (0.75 + 2e-5 * np.asarray(elevation_m, dtype=float)) * np.asarray(ra, dtype=float)
    return result


def radiation_from_temperatures(
    ra: ArrayLike, t_min_c: ArrayLike, t_max_c: ArrayLike, coefficient: float = HARGREAVES_INLAND
) -> Floats:
    """Radiation on the ground from the swing of the day's open-air temperature, MJ m⁻² d⁻¹; equation 50 (Hargreaves).

    Held at the clear-sky radiation of sea level. Valid for temperatures measured in open air, not under glass.
    Raises ValueError where a lowest lies above its highest.
    """
    swing = np.asarray(t_max_c, dtype=float) - np.asarray(t_min_c, dtype=float)
    if np.any(swing < 0.0):
        raise ValueError("a day's lowest temperature lies above its highest")
    result: Floats = np.minimum(coefficient * np.sqrt(swing) * np.asarray(ra, dtype=float), clear_sky_radiation(ra))
    return result
