"""Trees that got too much light in a move: what to watch for after a step that was too big, and what it did.

When a step in light is too big stands in light.py. That burnt leaves show within a week is common practice, no
published source; damage in percent of the leaves.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from server.analysis.light import LightStep, gain_words
from server.wording.said import Day, say

# Common practice, no published source: burnt leaves show within a week or so, and blame the move for about three.
SHOWS_DAYS = 7
BLAMED_DAYS = 21
MORE_DAMAGE_PERCENT = 5.0
"""A smaller rise in damage lies within what two looks at one tree differ by."""

ADVICE = {
    "act": say("Shade it from late morning on for a week, then give it an hour more of sun each day."),
    "watch": say("Look at its youngest leaves on the next round; shade it at midday where they pale, brown or curl."),
}


@dataclass(frozen=True)
class LightFinding:
    """A tree after too big a step in light; `since` is the move."""

    level: str
    since: date
    why: tuple[str, ...]
    advice: str


def too_much_light(
    step: LightStep,
    moved_on: date,
    on: date,
    *,
    damage_before: float | None = None,
    damage_now: float | None = None,
    sun_noted: bool = False,
) -> LightFinding | None:
    """Judge a tree after a move; None where the step was small, is long past, or nothing shows after a week.

    act: damage rose by 5 points or more since the move, or the grower noted sun as its cause; watch: too early to tell.
    `damage_before`, `damage_now`: percent of the leaves, the last before and after the move, None where not noted.
    """
    days = (on - moved_on).days
    if step.level is None or not 0 <= days <= BLAMED_DAYS:
        return None
    signs = _signs(damage_before, damage_now, sun_noted)
    if not signs and days > SHOWS_DAYS:
        return None
    level = "act" if signs else "watch"
    moved = say(
        "Since the move on {on} it gets {gain}: {after:.0f} instead of {before:.0f} mol/m² a day.",
        on=Day(moved_on),
        gain=gain_words(step.ratio),
        after=step.after_mol,
        before=step.before_mol,
    )
    return LightFinding(level, moved_on, (moved, *signs), ADVICE[level])


def _signs(before: float | None, now: float | None, sun_noted: bool) -> tuple[str, ...]:
    signs = []
    if now is not None and now - (before or 0.0) >= MORE_DAMAGE_PERCENT:
        damage = {"before": before or 0.0, "now": now}
        signs.append(say("Damage to its leaves went from {before:.0f} to {now:.0f} percent since.", **damage))
    if sun_noted:
        signs.append(say("You noted sun as a cause."))
    return tuple(signs)
