"""The growth stage that a grower would write down for a tree of the story, as extended BBCH code."""

from __future__ import annotations

from demo_db.growth import HABITS, TreeDay

# Warmth since winter as a share of what waking takes, and the bud's code by then (Singh et al. 2023 for fig).
BUDS = ((0.3, 1), (0.55, 5), (0.85, 7))
BUD_BREAK, FIRST_LEAF, UNFOLDING, MOST_UNFOLDED = 9, 11, 15, 17
SHOOT_BEGINS, SHOOT_GROWS, SHOOT_LONG, FLOWERS, FRUIT_SET = 31, 33, 37, 61, 71
GROWS_FROM_CM, LONG_FROM_CM = 8.0, 20.0


def stage(species: str, state: TreeDay) -> int:
    """The furthest stage that can be seen on the tree."""
    if not state.awake:
        share = state.warmth_dd / HABITS[species].wakes_dd
        return next((code for below, code in BUDS if share < below), BUD_BREAK)
    if state.main or state.breba:
        return FRUIT_SET
    if state.shoot_cm >= LONG_FROM_CM:
        return FLOWERS if species in ("pomegranate", "citrus") else SHOOT_LONG
    if state.shoot_cm >= GROWS_FROM_CM:
        return SHOOT_GROWS
    if HABITS[species].winter_leaves_a_shoot:
        return SHOOT_BEGINS
    a_shoot = state.leaves / state.shoots
    return FIRST_LEAF if a_shoot < 1 else UNFOLDING if a_shoot < 3 else MOST_UNFOLDED
