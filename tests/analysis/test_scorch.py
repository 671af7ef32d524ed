"""Too much light after a move: signs, time, and the size of the step."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from server.analysis.light import DailyLight, LightStep, light_step
from server.analysis.scorch import too_much_light

MOVED = date(2026, 5, 2)


def step(before: float, after: float) -> LightStep:
    return light_step(DailyLight(before, 0.0, 60.0), DailyLight(after, 0.0, 60.0))


BIG, SMALL = step(18.0, 45.0), step(40.0, 45.0)


def after(days: int) -> date:
    return MOVED + timedelta(days=days)


def test_burnt_leaves_after_a_big_step_call_for_shade() -> None:
    found = too_much_light(BIG, MOVED, after(5), damage_before=2.0, damage_now=14.0, sun_noted=True)
    assert found is not None
    assert (found.level, found.since) == ("act", MOVED)
    assert found.why == (
        "Since the move on 2 May it gets 2.5 times the light: 45 instead of 18 mol/m² a day.",
        "Damage to its leaves went from 2 to 14 percent since.",
        "You noted sun as a cause.",
    )
    assert "Shade it" in found.advice


@pytest.mark.parametrize(
    ("days", "before", "now", "sun", "level"),
    [
        (0, None, None, False, "watch"),
        (7, 3.0, 6.0, False, "watch"),
        (8, 3.0, 6.0, False, None),
        (8, 3.0, 8.0, False, "act"),
        (8, None, 5.0, False, "act"),
        (8, 30.0, 10.0, False, None),
        (21, None, None, True, "act"),
        (22, 0.0, 50.0, True, None),
        (-1, 0.0, 50.0, True, None),
    ],
)
def test_signs_and_days_decide(
    days: int, before: float | None, now: float | None, sun: bool, level: str | None
) -> None:
    found = too_much_light(BIG, MOVED, after(days), damage_before=before, damage_now=now, sun_noted=sun)
    assert (found.level if found else None) == level


def test_a_small_step_is_not_blamed() -> None:
    assert too_much_light(SMALL, MOVED, after(3), damage_before=0.0, damage_now=40.0, sun_noted=True) is None
