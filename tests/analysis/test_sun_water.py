"""Sun and water against the worked examples of FAO-56 (Allen et al. 1998) and two libraries.

The examples' printed values, as two libraries' tests hold them; intermediate values recomputed.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analysis import sun, water
from tests.analysis import penman

BANGKOK_LAT, UCCLE_LAT, LYON_LAT = 13 + 44 / 60, 50 + 48 / 60, 45 + 43 / 60
APRIL, UCCLE_DAY, LYON_DAY = 105, 187, 196
# Computed with pyet 1.5.0 (meteo_utils): latitude, day of the year, extraterrestrial radiation, hours of daylight.
PYET = [
    *[(-20, 246, 32.19400, 11.66559), (-20, 172, 23.97530, 10.78974), (-20, 355, 42.16852, 13.2102)],
    *[(45, 79, 26.24389, 11.90603), (45, 172, 41.91046, 15.42483), (45, 355, 10.44058, 8.57532)],
    *[(60, 246, 24.78626, 13.60259), (60, 172, 41.33070, 18.48733), (60, 355, 2.11636, 5.51304)],
]


def test_example_3_vapour_pressures() -> None:
    assert penman.saturation_pressure(24.5) == pytest.approx(3.075, abs=0.0006)
    assert penman.saturation_pressure(15.0) == pytest.approx(1.705, abs=0.0006)
    assert penman.mean_saturation_pressure(15.0, 24.5) == pytest.approx(2.39, abs=0.005)


def test_example_8_radiation_above_the_atmosphere() -> None:
    assert sun.day_of_year(["2015-09-03"]).tolist() == [246]
    assert sun.earth_sun_distance(246) == pytest.approx(0.985, abs=0.0006)
    assert sun.declination(246) == pytest.approx(0.120, abs=0.0006)
    assert sun.sunset_angle(246, -20.0) == pytest.approx(1.527, abs=0.0006)
    assert sun.extraterrestrial_radiation(246, -20.0) == pytest.approx(32.2, abs=0.05)


def test_example_9_daylight() -> None:
    assert sun.daylight_hours(246, -20.0) == pytest.approx(11.7, abs=0.05)


def test_example_17_bangkok() -> None:
    ra = sun.extraterrestrial_radiation(APRIL, BANGKOK_LAT)
    rs = sun.radiation_from_sunshine(ra, 8.5, sun.daylight_hours(APRIL, BANGKOK_LAT))
    assert ra == pytest.approx(38.06, abs=0.005)
    assert rs == pytest.approx(22.65, abs=0.01)
    net = penman.net_radiation(rs, sun.clear_sky_radiation(ra, 2.0), 25.6, 34.8, 2.85)
    saturation = penman.mean_saturation_pressure(25.6, 34.8)
    # The example is a month's mean, so heat goes into the soil: 0.14 × (30.2 − 29.2) MJ m⁻² d⁻¹, equation 43.
    et0 = penman.et0_penman_monteith(net, 30.2, 2.0, saturation, 2.85, 2.0, soil_heat=0.14)
    assert et0 == pytest.approx(5.72, abs=0.006)


def test_example_18_uccle() -> None:
    ra = sun.extraterrestrial_radiation(UCCLE_DAY, UCCLE_LAT)
    rs = sun.radiation_from_sunshine(ra, 9.25, sun.daylight_hours(UCCLE_DAY, UCCLE_LAT))
    assert ra == pytest.approx(41.09, abs=0.005)
    assert rs == pytest.approx(22.07, abs=0.01)
    vapour = penman.vapour_pressure_from_humidity(12.3, 21.5, 84.0, 63.0)
    net = penman.net_radiation(rs, sun.clear_sky_radiation(ra, 100.0), 12.3, 21.5, vapour)
    saturation = penman.mean_saturation_pressure(12.3, 21.5)
    et0 = penman.et0_penman_monteith(net, 16.9, 2.078, saturation, vapour, 100.0)
    assert et0 == pytest.approx(3.88, abs=0.005)


def test_example_20_lyon() -> None:
    ra = sun.extraterrestrial_radiation(LYON_DAY, LYON_LAT)
    assert ra == pytest.approx(40.55, abs=0.01)
    assert water.et0_hargreaves(ra, 14.8, 26.6) == pytest.approx(5.0, abs=0.05)


def test_hargreaves_lies_near_penman_and_monteith_on_the_worked_days() -> None:
    """Uccle and Bangkok, examples 17 and 18 above: 3.88 and 5.72 mm; Hargreaves knows neither wind nor humidity."""
    for et0, day, latitude, low, high in (
        (3.88, UCCLE_DAY, UCCLE_LAT, 12.3, 21.5),
        (5.72, APRIL, BANGKOK_LAT, 25.6, 34.8),
    ):
        ra = sun.extraterrestrial_radiation(day, latitude)
        assert water.et0_hargreaves(ra, low, high) == pytest.approx(et0, rel=0.15)


def test_a_week_of_water_is_seven_days_like_those_that_are_known() -> None:
    """Lyon, example 20: 5.0 mm a day."""
    low, high = np.full(9, 14.8), np.full(9, 26.6)
    ra = sun.extraterrestrial_radiation(LYON_DAY, LYON_LAT)
    assert water.week_of_water(ra, low, high) == pytest.approx(7 * 5.0, abs=0.35)
    low[[3, 6]] = np.nan
    assert water.week_of_water(ra, low, high) == pytest.approx(7 * 5.0, abs=0.35)
    low[7] = np.nan
    assert np.isnan(water.week_of_water(ra, low, high))


@pytest.mark.parametrize(("latitude", "day", "ra", "daylight"), PYET)
def test_sun_agrees_with_pyet(latitude: float, day: int, ra: float, daylight: float) -> None:
    assert sun.extraterrestrial_radiation(day, latitude) == pytest.approx(ra, rel=2e-4)
    assert sun.daylight_hours(day, latitude) == pytest.approx(daylight, abs=1e-4)


def test_water_agrees_with_refet() -> None:
    """Against refet 0.5.0 (Daily, method asce): Uccle and a winter's day.

    refet takes clear-sky radiation, the solar constant and the psychrometric constant with other last digits.
    """
    summer = {"t_min_c": 12.3, "t_max_c": 21.5, "vapour_kpa": 1.409}
    ra = sun.extraterrestrial_radiation(187, 50.8)
    assert ra == pytest.approx(41.0884, abs=0.01)
    net = penman.net_radiation(22.07, sun.clear_sky_radiation(ra, 100.0), **summer)
    assert net == pytest.approx(13.2841, abs=0.01)
    saturation = penman.mean_saturation_pressure(12.3, 21.5)
    assert penman.et0_penman_monteith(net, 16.9, 2.078, saturation, 1.409, 100.0) == pytest.approx(3.8799, abs=0.01)
    ra = sun.extraterrestrial_radiation(60, 45.0)
    assert ra == pytest.approx(20.9790, abs=0.01)
    net = penman.net_radiation(9.0, sun.clear_sky_radiation(ra, 400.0), -2.0, 9.0, 0.5)
    assert net == pytest.approx(4.0580, abs=0.01)
    saturation = penman.mean_saturation_pressure(-2.0, 9.0)
    assert penman.et0_penman_monteith(net, 3.5, 3.0, saturation, 0.5, 400.0) == pytest.approx(1.6397, abs=0.01)


@given(st.integers(1, 366), st.floats(-90, 90))
def test_day_and_radiation_stay_within_their_bounds_everywhere(day: int, latitude: float) -> None:
    assert 0.0 <= sun.daylight_hours(day, latitude) <= 24.0
    # At midsummer on a pole the sun stands 23.4° high all day: 24 · 60 · 0.082 · 1.033 · sin 23.4° = 48.5.
    assert 0.0 <= sun.extraterrestrial_radiation(day, latitude) <= 48.6


@given(st.integers(1, 365), st.floats(-66, 66))
def test_day_and_opposite_night_fill_a_day(day: int, latitude: float) -> None:
    both = sun.daylight_hours(day, latitude) + sun.daylight_hours(day, -latitude)
    assert both == pytest.approx(24.0, abs=1e-9)


@given(st.floats(-30, 30), st.floats(0, 40), st.floats(0.5, 45))
def test_radiation_from_temperatures_stays_below_a_clear_sky(low: float, swing: float, ra: float) -> None:
    found = sun.radiation_from_temperatures(ra, low, low + swing)
    assert 0.0 <= found <= sun.clear_sky_radiation(ra) + 1e-9


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="latitude"):
        sun.daylight_hours(100, 91.0)
    with pytest.raises(ValueError, match="above its highest"):
        sun.radiation_from_temperatures(30.0, 10.0, 9.0)
    with pytest.raises(ValueError, match="above its highest"):
        water.et0_hargreaves(30.0, np.array([10.0]), np.array([9.0]))
