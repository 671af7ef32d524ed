"""Carrying, potting, pruning, feeding, thinning, and reading the thermometers: everything but the looking."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from demo_db.cards import RETIRED_ON, Cards
from demo_db.growth import THINNING_DAY, Grown
from demo_db.notebook import HELPER, OWNER, Notebook
from demo_db.orchard import POTTED_DOWN, RETIRED, PlannedTree
from demo_db.scenario import BIG_TUNNEL, CLOCHE_ROW, FIGS, KILN_BENCH, LOW_YARD, PLACES
from demo_db.season import FORECAST_DAYS, Season, dice
from demo_db.weather import Weather

MOVING_MINUTE, WORK_MINUTE, READING_MINUTE = 16 * 60.0, 17 * 60.0, 19 * 60.0
READINGS_MISSED_SHARE = 0.03
FEEDING_DAYS = ((4, 20), (5, 14), (6, 8))
WATERING = ((BIG_TUNNEL, ((5, 28), (6, 4), (6, 11))), (KILN_BENCH, ((5, 24), (6, 7))))
FLEECE_ON, FLEECE_OFF = (6, 4), (6, 5)
BREBAS_RIPE_FROM = (6, 9)
SORE_HANDS = "Gloves on; sap and sun blister."

Grove = list[tuple[PlannedTree, Grown]]


def carry_out(notebook: Notebook, season: Season, trees: Iterable[PlannedTree], cards: Cards) -> None:
    """Enter the moves: those of one day in one barrow, half a minute apart."""
    for tree in trees:
        for when, place in tree.moves:
            at = season.at(season.on(*when), MOVING_MINUTE + tree.in_group / 2)
            values = {"tree": tree.id, "moved_at": at.isoformat(), "to_place": cards.places[place]}
            notebook.new(at, OWNER, "move", values)


def work(notebook: Notebook, season: Season, grove: Grove, seed: int) -> None:
    """Enter the season's work, tree by tree."""
    rng = dice(seed, 7)
    for tree, grown in grove:
        tasks = [*_winter_work(tree, float(rng.uniform())), *_spring_work(tree, grown, season)]
        for when, minute, task, amount, note in tasks:
            day = season.on(*when)
            if tree.key == RETIRED and day >= season.on(*RETIRED_ON):
                continue
            at = season.at(day, minute + tree.number / 3)
            values = {"tree": tree.id, "done_at": at.isoformat(), "task": task, "amount": amount, "note": note}
            notebook.new(at, HELPER if task in ("water", "feed") else OWNER, "work", values)


Task = tuple[tuple[int, int], float, str, float | None, str | None]


def _winter_work(tree: PlannedTree, luck: float) -> list[Task]:
    tasks: list[Task] = []
    if tree.variety in FIGS and tree.standing == "keeper" and luck < 0.6:
        tasks.append(((3, 2), WORK_MINUTE, "prune", None, SORE_HANDS))
    if tree.key == POTTED_DOWN:
        tasks.append(((3, 14), WORK_MINUTE, "pot_down", 11.0, "Not worth a big pot."))
    elif tree.trouble is None and tree.standing == "keeper" and luck > 0.88:
        tasks.append(((3, 9), WORK_MINUTE, "root_prune", None, "Roots cut while it sleeps."))
    elif tree.trouble is None and tree.standing == "trial" and luck > 0.85:
        tasks.append(((3, 12), WORK_MINUTE, "pot_up", 38.0, "Earned a bigger pot."))
    if tree.variety.quality >= 4.2 and tree.in_group == 1:
        tasks.append(((3, 3), WORK_MINUTE, "take_cuttings", None, None))
    if tree.key == ("porch", 1):
        tasks.append(((3, 4), WORK_MINUTE, "rejuvenate", None, "Cut hard; old wood was bare."))
    if tree.key == ("lemons bench", 1):
        tasks.append(((4, 12), WORK_MINUTE, "graft", None, "One bud of the Dunlow Thinskin."))
    return tasks


def _spring_work(tree: PlannedTree, grown: Grown, season: Season) -> list[Task]:
    tasks: list[Task] = [(when, WORK_MINUTE, "feed", None, None) for when in FEEDING_DAYS]
    for place, days in WATERING:
        if tree.start == place:
            tasks += [(when, WORK_MINUTE, "water", round(tree.pot_litres / 8, 1), None) for when in days]
    if tree.start == CLOCHE_ROW:
        tasks.append(((4, 28), 10 * 60.0, "uncover", None, "Tunnel off for the season."))
    if grown.brebas_thinned:
        tasks.append((THINNING_DAY, WORK_MINUTE, "thin_breba", float(grown.brebas_thinned), SORE_HANDS))
    trouble = tree.trouble.name if tree.trouble else ""
    if trouble == "root_pruned":
        tasks.append(((6, 1), WORK_MINUTE, "root_prune", None, "Pot was full of roots; cut a third."))
        tasks.append(((6, 1), WORK_MINUTE + 10, "pot_up", 38.0, None))
    if trouble == "mites":
        tasks.append(((6, 3), WORK_MINUTE, "spray", None, "Soap, under the leaves, by its own label."))
    if trouble == "roots":
        tasks.append(((6, 10), WORK_MINUTE, "water", 4.0, "Stood it in a tub; it drank little."))
    if tree.group == "glass" and grown.days[season.on(6, 6)].shoot_cm > 28 and tree.in_group % 2 == 0:
        tasks.append(((6, 6), WORK_MINUTE, "pinch", None, None))
    in_frost = grown.days[season.on(*FLEECE_ON)].place == LOW_YARD
    if in_frost and trouble != "cold_night" and tree.variety.species != "olive":
        tasks.append((FLEECE_ON, 19 * 60.0 + 30, "shelter", None, "Fleece for the night."))
        tasks.append((FLEECE_OFF, 8 * 60.0, "uncover", None, None))
    return tasks


def read_thermometers(notebook: Notebook, season: Season, weather: Weather, cards: Cards, seed: int) -> None:
    """Enter each evening's lowest and highest a place, some evenings forgotten; on the last one the forecast too."""
    rng = dice(seed, 8)
    for day in season.days:
        by = HELPER if day.weekday() >= 5 else OWNER
        for number, place in enumerate(PLACES):
            if rng.uniform() >= READINGS_MISSED_SHARE or day == season.days[-1]:
                _reading(notebook, season.at(day, READING_MINUTE + number / 2), by, weather, (place.name, day), cards)
    for ahead in range(FORECAST_DAYS + 1):
        day = season.today + timedelta(days=ahead)
        for number, place in enumerate(PLACES):
            at = season.at(season.days[-1], READING_MINUTE + 10 + ahead + number / 20)
            _reading(notebook, at, OWNER, weather, (place.name, day), cards)


def _reading(
    notebook: Notebook, at: datetime, by: str, weather: Weather, where: tuple[str, date], cards: Cards
) -> None:
    place, day = where
    air = weather[where]
    values = {"place": cards.places[place], "date": day.isoformat(), "t_min_c": air.t_min_c, "t_max_c": air.t_max_c}
    notebook.new(at, by, "reading", values)


def pick(notebook: Notebook, season: Season, trees: Iterable[PlannedTree], seed: int) -> None:
    """Enter last year's harvest of the older trees from the paper book, the winter's citrus, and the first brebas."""
    rng = dice(seed, 9)
    second_day, line = season.days[1], 0
    for tree in trees:
        kind = tree.variety
        pickings: list[tuple[date, str]] = []
        if kind.species == "fig" and tree.age_years >= 2:
            first = season.on(8, 20, years_before=1) + timedelta(days=int(rng.integers(0, 20)))
            pickings = [(first + timedelta(days=int(n * rng.integers(7, 14))), "main") for n in range(3)]
        elif kind.species == "citrus":
            pickings = [(season.on(2, 1) + timedelta(days=int(rng.integers(0, 15))), "main")]
        for day, fruit in pickings:
            line += 1
            entered = season.at(second_day, 19 * 60.0 + line / 2)
            weight = kind.fruit_g * rng.integers(3, 12) * tree.pot_litres / 38
            _harvest(notebook, tree, (season.at(day, 18 * 60.0), entered), (fruit, weight, rng.normal(0, 0.6)))
        if tree.trouble is not None and tree.trouble.finding == "overloaded" and tree.in_group < 3:
            at = season.at(season.on(*BREBAS_RIPE_FROM) + timedelta(days=tree.in_group), 18 * 60.0 + tree.in_group)
            _harvest(notebook, tree, (at, at), ("breba", kind.fruit_g * 0.5, -1.0))


def _harvest(
    notebook: Notebook, tree: PlannedTree, when: tuple[datetime, datetime], what: tuple[str, float, float]
) -> None:
    picked_at, entered = when
    fruit, weight, luck = what
    values = {
        "tree": tree.id,
        "picked_at": picked_at.isoformat(),
        "fruit": fruit,
        "weight_g": float(round(weight)),
        "quality": int(min(5, max(1, round(tree.variety.quality + luck)))),
    }
    notebook.new(entered, OWNER, "harvest", values)
