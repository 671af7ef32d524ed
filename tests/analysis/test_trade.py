"""Facts of the trade that take more than one module: a year's heat, shoots that early heat makes set fruit.

All common practice, no published source, but for the heat that a fig needs.
"""

from __future__ import annotations

from datetime import date

import numpy as np

from server.analysis.gaps import fill_gaps
from server.analysis.heat import place_heat
from server.analysis.nested import Levels
from server.analysis.pace import Measured, Scale, pace
from server.analysis.pacecurve import LEAF_DD, NODE_CM
from server.analysis.species_table import species_table

FIG = species_table()["fig"]
# Normals of the coastal mid-Atlantic by month, lowest and highest, °C; from memory, rounded.
MONTHS = {
    1: (-3, 6),
    2: (-2, 8),
    3: (2, 13),
    4: (7, 19),
    5: (12, 24),
    6: (17, 29),
    7: (20, 31),
    8: (19, 30),
    9: (16, 27),
}
LATITUDE = 39.5


def heat_until(last: date) -> float:
    """A fig's degree-days in that climate since the beginning of the year, as a place's report counts them."""
    days = np.arange(np.datetime64("2025-11-01"), np.datetime64(last) + 1)
    month = days.astype("datetime64[M]").astype(int) % 12 + 1
    low, high = np.array([MONTHS.get(int(m), (2, 12)) for m in month], dtype=float).T
    filled = fill_gaps(low[None, :], high[None, :])
    return place_heat(days, filled, 0, FIG.get("base_c") or 0.0, FIG.get("upper_c"), LATITUDE).degree_days


def shoot_cm(heat: float) -> float:
    """Length of a fig's shoots after so much heat, before anything was counted."""
    nobody = Measured(*(np.zeros(0, dtype=kind) for kind in (np.int64, float, float, float, bool)))
    none = Levels(tuple(np.zeros(1, dtype=np.int64) for _ in range(4)))
    return float(pace(nobody, none, Scale(NODE_CM, np.array([LEAF_DD]))).band(0, np.array([heat]))[1][0])


def test_the_published_heat_to_harvest_falls_into_the_weeks_in_which_figs_are_picked() -> None:
    """Souza et al. 2009: 1955 to 2200 degree-days from pruning to the first harvest; main crops come in the weeks
    around the first of September in this climate. The few warm days of winter are left out, as buds are not awake.
    """
    asleep = heat_until(date(2026, 3, 31))
    assert heat_until(date(2026, 8, 10)) - asleep < 1955
    assert 1955 <= heat_until(date(2026, 9, 5)) - asleep <= 2200
    assert heat_until(date(2026, 9, 25)) - asleep > 2200


def test_forced_by_early_heat_fruit_sets_on_5_to_15_cm() -> None:
    """Woken under glass into days of 16 to 32 °C, fruit sets within one to two weeks: the heat of a normal June."""
    days = np.arange(np.datetime64("2026-01-01"), np.datetime64("2026-01-13"))
    filled = fill_gaps(np.full((1, 12), 16.0), np.full((1, 12), 32.0))
    a_day = place_heat(days, filled, 0, FIG.get("base_c") or 0.0, FIG.get("upper_c"), LATITUDE).degree_days / 12
    for woken_days in (7, 10, 13):
        assert 5.0 <= shoot_cm(woken_days * a_day) <= 15.0
    normal = FIG.figures["shoot_at_set_cm"]
    assert (normal.low, normal.high) == (25.0, 30.0)
