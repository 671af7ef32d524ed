"""A tree's season, day by day: waking, leaves, shoots, fruit and loss, driven by the warmth where it stands.

The figures make a plausible story, no more; what is measured on real trees is the analysis's business. Fig's base of
8 °C is Souza et al. 2009's; a normal shoot of 25 to 30 cm before its main crop sets is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from demo_db.orchard import PlannedTree
from demo_db.season import Season, dice
from demo_db.weather import DayTemperatures, Weather


@dataclass(frozen=True, slots=True)
class Habit:
    """How a species grows: warmth (°C days) to wake and for one leaf a shoot, cm a node, leaves kept over winter."""

    base_c: float
    wakes_dd: float
    leaf_dd: float
    internode_cm: float
    winter_leaves_a_shoot: float
    litres_a_shoot: float
    leaves_a_shoot_slow: float


HABITS = {
    "fig": Habit(8.0, 55.0, 46.0, 2.8, 0.0, 3.2, 14.0),
    "citrus": Habit(12.0, 60.0, 55.0, 2.2, 9.0, 3.0, 14.0),
    "pomegranate": Habit(10.0, 70.0, 15.0, 1.3, 0.0, 2.6, 24.0),
    "olive": Habit(9.0, 60.0, 60.0, 1.6, 16.0, 1.2, 24.0),
}
USUAL_LOSS_A_DAY, USUAL_LOSS_SHAPE = 0.003, 6.25
SETS_AT_CM = (25.0, 30.0)
FORCED_FROM_CM, FORCED_HOT_C, FORCED_AFTER_DD = 5.0, 28.0, 10.0
FORCED_FRUIT_A_LEAF, NORMAL_FRUIT_A_NEW_LEAF = 1.0, 0.35
FORCED_BREBA_A_SHOOT = 1.3
BREBA_AFTER_DD, BREBA_BURDEN = 60.0, 0.05
FIRST_NODES, FIRST_NODE_CM = 3.0, 1.0
# On this day the grower takes brebas off sound figs that carry this many or more, down to one.
THINNING_DAY, THINS_FROM_BREBAS = (5, 26), 3


@dataclass(slots=True)
class TreeDay:
    """A tree at a day's end; `lost` counts every leaf that fell since the season began."""

    place: str
    shoots: int
    leaves: int
    shoot_cm: float
    warmth_dd: float
    awake: bool
    breba: int = 0
    main: int = 0
    lost: int = 0
    damage_percent: float = 0.0


@dataclass(slots=True)
class _Growing:
    """What a tree carries from day to day besides its looks."""

    now: TreeDay
    rng: np.random.Generator
    vigour: float
    loss_a_day: float
    trouble_scale: float
    wakes_dd: float
    sets_at_cm: float
    hot_dd: float = 0.0
    nodes: float = 0.0
    forced: bool = False
    breba_due: bool = True


@dataclass(slots=True)
class Grown:
    """A tree's season: its state at the end of every day that is told, and the brebas taken off on thinning day."""

    days: dict[date, TreeDay] = field(default_factory=dict)
    brebas_thinned: int = 0


def grow(tree: PlannedTree, season: Season, weather: Weather, seed: int) -> Grown:
    """The tree's whole season."""
    grown = Grown()
    growing = _start(tree, dice(seed, 4, tree.number))
    out = {season.on(*when): place for when, place in tree.moves}
    for day in season.days:
        now = growing.now
        now.place = out.get(day, now.place)
        _one_day(growing, tree, weather[now.place, day], _trouble_day(tree, season, day))
        if day == season.on(*THINNING_DAY) and tree.trouble is None and now.breba >= THINS_FROM_BREBAS:
            grown.brebas_thinned, now.breba = now.breba - 1, 1
        grown.days[day] = replace(now)
    return grown


def _start(tree: PlannedTree, rng: np.random.Generator) -> _Growing:
    habit = HABITS[tree.variety.species]
    shoots = max(3, int(rng.normal(tree.pot_litres / habit.litres_a_shoot, 1.2)))
    leaves = int(shoots * habit.winter_leaves_a_shoot * rng.uniform(0.8, 1.2))
    return _Growing(
        now=TreeDay(tree.start, shoots, leaves, 0.0, 0.0, leaves > 0),
        rng=rng,
        vigour=tree.variety.vigour * float(rng.normal(1.0, 0.07)),
        loss_a_day=USUAL_LOSS_A_DAY * float(rng.gamma(USUAL_LOSS_SHAPE, 1 / USUAL_LOSS_SHAPE)),
        trouble_scale=float(rng.uniform(0.85, 1.25)),
        wakes_dd=float(rng.normal(habit.wakes_dd, habit.wakes_dd / 8)),
        sets_at_cm=float(rng.uniform(*SETS_AT_CM)),
    )


def _trouble_day(tree: PlannedTree, season: Season, day: date) -> int | None:
    """Days since the cause of the tree's trouble; None before it, and for a sound tree."""
    if tree.trouble is None:
        return None
    since = (day - season.on(*tree.trouble.starts)).days
    return since if since >= 0 else None


def _one_day(growing: _Growing, tree: PlannedTree, air: DayTemperatures, trouble_day: int | None) -> None:
    now, habit = growing.now, HABITS[tree.variety.species]
    warmth = air.degree_days(habit.base_c)
    now.warmth_dd += warmth
    growing.hot_dd += max(0.0, air.t_max_c - FORCED_HOT_C)
    now.awake = now.leaves > 0 or now.warmth_dd >= growing.wakes_dd
    _lose(growing, tree, trouble_day)
    if now.warmth_dd >= growing.wakes_dd:
        new_leaves = _leaf_out(growing, tree, warmth, trouble_day)
        if tree.variety.species == "fig":
            _set_fruit(growing, tree, new_leaves)
    _take_damage(growing, tree, trouble_day)


def _lose(growing: _Growing, tree: PlannedTree, trouble_day: int | None) -> None:
    share = growing.loss_a_day
    if tree.trouble is not None and trouble_day is not None:
        on_top = sum(w.share_a_day for w in tree.trouble.waves if w.first_day <= trouble_day <= w.last_day)
        share += on_top * growing.trouble_scale
    fallen = int(growing.rng.binomial(growing.now.leaves, min(share, 0.5)))
    growing.now.leaves -= fallen
    growing.now.lost += fallen


def _leaf_out(growing: _Growing, tree: PlannedTree, warmth: float, trouble_day: int | None) -> int:
    now, habit = growing.now, HABITS[tree.variety.species]
    pace = growing.vigour / (1 + BREBA_BURDEN * now.breba)
    if growing.nodes > habit.leaves_a_shoot_slow:
        pace *= 0.4
    if tree.trouble is not None and trouble_day is not None and (growing.forced or not _waits_for_fruit(tree)):
        pace *= tree.trouble.growth
    new = int(growing.rng.poisson(now.shoots * warmth / habit.leaf_dd * pace))
    nodes = new / now.shoots
    node_cm = FIRST_NODE_CM if growing.nodes < FIRST_NODES else habit.internode_cm
    growing.nodes += nodes
    now.leaves += new
    now.shoot_cm += nodes * node_cm
    return new


def _waits_for_fruit(tree: PlannedTree) -> bool:
    """An overloaded tree grows like others until its fruit sets."""
    return tree.trouble is not None and tree.trouble.finding == "overloaded"


def _set_fruit(growing: _Growing, tree: PlannedTree, new_leaves: int) -> None:
    now, rng = growing.now, growing.rng
    overloads = _waits_for_fruit(tree)
    if growing.breba_due and now.warmth_dd > growing.wakes_dd + BREBA_AFTER_DD:
        growing.breba_due = False
        a_shoot = FORCED_BREBA_A_SHOOT if overloads else tree.variety.breba
        now.breba = int(rng.poisson(now.shoots * a_shoot))
    if growing.forced:
        return
    if now.shoot_cm >= FORCED_FROM_CM and growing.hot_dd >= FORCED_AFTER_DD and overloads:
        growing.forced = True
        now.main = int(rng.poisson(now.leaves * FORCED_FRUIT_A_LEAF))
    elif now.shoot_cm >= growing.sets_at_cm:
        now.main += int(rng.binomial(new_leaves, NORMAL_FRUIT_A_NEW_LEAF))


def _take_damage(growing: _Growing, tree: PlannedTree, trouble_day: int | None) -> None:
    if tree.trouble is None or trouble_day is None:
        return
    days_to_full = 3 if tree.trouble.recorded == "cold" else 20
    full = tree.trouble.damage_percent_max * growing.trouble_scale
    growing.now.damage_percent = full * min(1.0, trouble_day / days_to_full)
