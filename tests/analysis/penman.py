"""A second opinion on water: reference evapotranspiration by Penman-Monteith, which asks for wind and humidity too.

All after Allen et al. 1998, FAO Irrigation and Drainage Paper 56 (equation numbers given). Temperatures in °C,
pressures in kPa, radiation in MJ m⁻² d⁻¹, wind in m s⁻¹ at 2 m, water in mm a day; arguments broadcast.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from server.analysis.water import LATENT_HEAT

Floats = NDArray[np.float64]

ALBEDO_GRASS = 0.23
"""Equation 38."""
STEFAN_BOLTZMANN = 4.903e-9
"""MJ K⁻⁴ m⁻² d⁻¹; equation 39."""


def saturation_pressure(t_c: ArrayLike) -> Floats:
    """Saturation vapour pressure, kPa; equation 11."""
    t = np.asarray(t_c, dtype=float)
    result: Floats = 0.6108 * np.exp(17.27 * t / (t + 237.3))
    return result


def mean_saturation_pressure(t_min_c: ArrayLike, t_max_c: ArrayLike) -> Floats:
    """Mean saturation vapour pressure of a day, kPa; equation 12."""
    return (saturation_pressure(t_min_c) + saturation_pressure(t_max_c)) / 2.0


def vapour_pressure_from_humidity(
    t_min_c: ArrayLike, t_max_c: ArrayLike, humidity_max: ArrayLike, humidity_min: ArrayLike
) -> Floats:
    """Actual vapour pressure, kPa, from the day's highest and lowest relative humidity, percent; equation 17."""
    morning = saturation_pressure(t_min_c) * np.asarray(humidity_max, dtype=float)
    noon = saturation_pressure(t_max_c) * np.asarray(humidity_min, dtype=float)
    result: Floats = (morning + noon) / 200.0
    return result


def saturation_slope(t_c: ArrayLike) -> Floats:
    """Slope of the saturation vapour pressure, kPa/°C; equation 13."""
    t = np.asarray(t_c, dtype=float)
    result: Floats = 4098.0 * saturation_pressure(t) / (t + 237.3) ** 2
    return result


def psychrometric_constant(elevation_m: ArrayLike) -> Floats:
    """Psychrometric constant, kPa/°C, at a height above the sea; equations 7 and 8."""
    pressure = 101.3 * ((293.0 - 0.0065 * np.asarray(elevation_m, dtype=float)) / 293.0) ** 5.26
    result: Floats = 0.665e-3 * pressure
    return result


def net_radiation(
    rs: ArrayLike, clear_sky: ArrayLike, t_min_c: ArrayLike, t_max_c: ArrayLike, vapour_kpa: ArrayLike
) -> Floats:
    """Radiation that grass keeps, MJ m⁻² d⁻¹: short waves kept less long waves given off; equations 38 to 40."""
    radiation = np.asarray(rs, dtype=float)
    kelvin4 = (
        (np.asarray(t_max_c, dtype=float) + 273.16) ** 4 + (np.asarray(t_min_c, dtype=float) + 273.16) ** 4
    ) / 2.0
    humid = 0.34 - 0.14 * np.sqrt(np.asarray(vapour_kpa, dtype=float))
    cloud = 1.35 * np.minimum(radiation / np.asarray(clear_sky, dtype=float), 1.0) - 0.35
    result: Floats = (1.0 - ALBEDO_GRASS) * radiation - STEFAN_BOLTZMANN * kelvin4 * humid * cloud
    return result


def et0_penman_monteith(
    net: ArrayLike,
    t_mean_c: ArrayLike,
    wind: ArrayLike,
    saturation_kpa: ArrayLike,
    vapour_kpa: ArrayLike,
    elevation_m: ArrayLike = 0.0,
    soil_heat: ArrayLike = 0.0,
) -> Floats:
    """Reference evapotranspiration, mm/d; equation 6. `soil_heat` in MJ m⁻² d⁻¹ is 0 for single days."""
    t, u2 = np.asarray(t_mean_c, dtype=float), np.asarray(wind, dtype=float)
    slope, gamma = saturation_slope(t), psychrometric_constant(elevation_m)
    deficit = np.asarray(saturation_kpa, dtype=float) - np.asarray(vapour_kpa, dtype=float)
    energy = LATENT_HEAT * slope * (np.asarray(net, dtype=float) - np.asarray(soil_heat, dtype=float))
    result: Floats = (energy + gamma * 900.0 / (t + 273.0) * u2 * deficit) / (slope + gamma * (1.0 + 0.34 * u2))
    return result
