"""The overview after a sync: only touched trees are computed again, and the outcome is that of a full pass."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest

from server import ids
from server.reports import kept
from server.reports.computed import compute_again
from server.reports.load import today
from server.reports.overview import Overview, overview
from tests.support.collection import Phone

pytestmark = pytest.mark.usefixtures("sqlite_collection")

TREES, VISITS = 16, 9
Document = dict[str, Any]


def ago(days: float) -> str:
    return (ids.now() - timedelta(days=days)).isoformat()


@dataclass
class Yard:
    """Sixteen trees in two places, seen every four days, the last ones dropping."""

    phone: Phone = field(default_factory=Phone)
    trees: list[str] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)
    places: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        for name in ("Yard", "Bench"):
            self.places.append(self.stored("place", place=name, cover="open"))
        kind = self.stored("variety", variety="Early", species="fig")
        for number in range(TREES):
            self.trees.append(self.phone.tree(place=self.places[number % 2], variety=kind))
        changes = [self.visit(number, back) for number in range(TREES) for back in range(VISITS - 1, -1, -1)]
        self.send(*changes)
        self.seen = [each["record"] for each in changes]

    def visit(self, number: int, back: int, **besides: Any) -> dict[str, Any]:
        """A visit so many rounds ago, of a tree that grows, or drops over the last two rounds if it is the last."""
        dropping = number == TREES - 1 and back < 2
        leaves = 40 + 2 * (VISITS - back) + number - (18 * (2 - back) if dropping else 0)
        counts: dict[str, Any] = {
            "leaves": leaves,
            "leaves_fallen": 18 if dropping else (number + back) % 2,
            "shoots": 6,
        }
        counts |= {"shoot_cm": 10 + 2 * (VISITS - back), "fruit_main": 4, "seen_at": ago(4 * back + 0.01)}
        return self.phone.change("observation", tree=self.trees[number], **(counts | besides))

    def send(self, *changes: dict[str, Any]) -> None:
        assert {each.outcome for each in self.phone.send(*changes)} == {"stored"}

    def stored(self, kind: str, **fields: Any) -> str:
        change = self.phone.change(kind, **fields)
        self.send(change)
        return str(change["record"])


@dataclass
class Passes:
    """How often all trees were learned from, and how many were computed again each time."""

    full: int = 0
    again: list[int] = field(default_factory=list)


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> Passes:
    """Counts the passes on their way; they do their work."""
    counted, learn, again = Passes(), kept.learn, compute_again

    def learning(*given: Any) -> Any:
        counted.full += 1
        return learn(*given)

    def computing(part: Any, *given: Any) -> Any:
        counted.again.append(len(part.trees))
        return again(part, *given)

    monkeypatch.setattr("server.reports.overview.learn", learning)
    monkeypatch.setattr(kept, "compute_again", computing)
    return counted


def by_tree(document: Document, name: str) -> dict[str, str]:
    """Each tree's part of a list, as text."""
    found: dict[str, str] = {}
    for item in document[name]:
        found[item["tree"]] = found.get(item["tree"], "") + json.dumps(item)
    return found


def in_full() -> Document:
    """What a full pass makes of the same records."""
    on = today()
    found: Document = json.loads(kept.write_out(kept.learn(on), {"on": on.isoformat()}))
    return found


def test_a_tree_computed_again_with_the_same_counts_says_exactly_the_same(passes: Passes) -> None:
    yard = Yard()
    before = overview()
    yard.send(yard.phone.change("observation", record=yard.seen[-1], note="windy"))
    yard.send(yard.phone.change("tree", record=yard.trees[0], position="7"))
    after = overview()
    assert (passes.full, passes.again) == (1, [2])
    assert after.version != before.version
    assert after.document == before.document


def test_a_tree_with_marked_shoots_computed_again_goes_by_what_all_marked_shoots_told(passes: Passes) -> None:
    yard = Yard()
    counts = ("9;12;7", "9;14;7", "10;14;9", "11;15;9", "11;18;10")
    for tree in yard.trees[:3]:
        yard.send(
            *(
                yard.phone.change("observation", tree=tree, seen_at=ago(5 * back + 0.2), shoot_leaves=text, shoots=9)
                for back, text in enumerate(reversed(counts))
            )
        )
    before = overview().document
    yard.send(yard.phone.change("tree", record=yard.trees[0], position="7"))
    after = overview().document
    assert (passes.full, passes.again) == (1, [1])
    assert after == before


def test_only_touched_trees_are_computed_again_and_as_a_full_pass_would(passes: Passes) -> None:
    yard = Yard()
    before = overview().document
    yard.send(yard.visit(0, 0, seen_at=ago(0), leaves=30, leaves_fallen=25))
    after = overview().document
    assert (passes.full, passes.again) == (1, [1])
    full = in_full()
    touched = yard.trees[0]
    for name in ("trends", "pace", "crop", "alerts"):
        was, now = by_tree(before, name), by_tree(after, name)
        assert {tree for tree in was.keys() | now.keys() if was.get(tree) != now.get(tree)} <= {touched}
        assert now.keys() == by_tree(full, name).keys()
    trend, of_full = ({item["tree"]: item for item in each["trends"]}[touched] for each in (after, full))
    # Learned figures (variances, what is usual) are those of the pass before; one visit of 145 hardly moves them.
    assert trend["leaves"] == pytest.approx(of_full["leaves"], rel=0.03)
    assert trend["change_percent_per_week"] == pytest.approx(of_full["change_percent_per_week"], abs=3.0)
    drop, drop_of_full = (
        next(item for item in each["alerts"] if (item["tree"], item["kind"]) == (touched, "leaf_drop"))
        for each in (after, full)
    )
    assert drop["probability"] == pytest.approx(drop_of_full["probability"], abs=0.05)
    assert drop["loss_percent_per_day"] == pytest.approx(drop_of_full["loss_percent_per_day"], rel=0.03)
    told = ("level", "since", "leaves_lost", "advice")
    assert [drop[name] for name in told] == [drop_of_full[name] for name in told]


def test_trees_touched_one_by_one_come_to_what_they_come_to_together(passes: Passes) -> None:
    yard = Yard()
    overview()
    # All of one place shed together: the first looks alone until its peers are known.
    for number in range(0, TREES, 2):
        yard.send(yard.visit(number, 0, seen_at=ago(0), leaves=45 + number, leaves_fallen=14))
        one_by_one = overview().document
    assert (passes.full, passes.again) == (1, list(range(1, 9)))
    together = in_full()
    assert by_tree(one_by_one, "alerts").keys() == by_tree(together, "alerts").keys()
    assert [notice["place"] for notice in one_by_one["notices"]] == [notice["place"] for notice in together["notices"]]


def moved_home(yard: Yard) -> None:
    yard.stored("move", tree=yard.trees[2], moved_at=ago(0.5), to_place=yard.places[1])


def picked(yard: Yard) -> None:
    yard.stored("harvest", tree=yard.trees[3], picked_at=ago(0.5), fruit="main", weight_g=50)


def withdrew(yard: Yard) -> None:
    yard.send(yard.phone.change("observation", record=yard.seen[0], voided=True))


@pytest.mark.parametrize("change", [moved_home, picked, withdrew])
def test_moves_harvests_and_withdrawals_touch_their_tree(passes: Passes, change: Callable[[Yard], None]) -> None:
    yard = Yard()
    overview()
    change(yard)
    after = overview().document
    assert (passes.full, passes.again) == (1, [1])
    full = in_full()
    assert by_tree(after, "alerts").keys() == by_tree(full, "alerts").keys()
    assert by_tree(after, "crop").keys() == by_tree(full, "crop").keys()


def another_place(yard: Yard) -> None:
    yard.stored("place", place="Shed", cover="indoors")


def a_reading(yard: Yard) -> None:
    yard.stored("reading", place=yard.places[0], date=ids.now().date().isoformat(), t_min_c=3.0)


def another_tree(yard: Yard) -> None:
    yard.phone.tree(place=yard.places[0])


def another_standing(yard: Yard) -> None:
    yard.send(yard.phone.change("tree", record=yard.trees[0], standing="retired"))


def a_visit_meant_for_another_tree(yard: Yard) -> None:
    yard.send(yard.phone.change("observation", record=yard.seen[0], tree=yard.trees[5]))


@pytest.mark.parametrize(
    "change", [another_place, a_reading, another_tree, another_standing, a_visit_meant_for_another_tree]
)
def test_what_bears_on_others_brings_a_full_pass(passes: Passes, change: Callable[[Yard], None]) -> None:
    yard = Yard()
    overview()
    change(yard)
    after = overview().document
    assert passes.full == 2
    assert {name: after[name] for name in ("alerts", "trends", "pace", "crop")} == {
        name: values for name, values in in_full().items() if name in ("alerts", "trends", "pace", "crop")
    }


def test_rounds_and_photos_touch_no_tree(passes: Passes) -> None:
    yard = Yard()
    before = overview()
    yard.stored("round", started_at=ago(0.2))
    yard.stored("photo", tree=yard.trees[0], sha256="ab" * 32, taken_at=ago(0.1))
    assert overview().document == before.document
    assert (passes.full, passes.again) == (1, [])


def test_a_full_pass_is_due_when_many_trees_were_touched(passes: Passes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "FULL_TREES_MIN", 2)
    yard = Yard()
    for number, full in ((0, 1), (0, 1), (1, 1), (2, 2), (3, 2)):
        yard.send(yard.visit(number, 0, seen_at=ago(0)))
        overview()
        assert passes.full == full, number


def test_a_new_day_brings_a_full_pass(passes: Passes, monkeypatch: pytest.MonkeyPatch) -> None:
    Yard()
    overview()
    tomorrow = ids.now() + timedelta(days=1)
    monkeypatch.setattr(ids, "now", lambda: tomorrow)
    assert overview().document["on"] > (tomorrow - timedelta(days=1, hours=14)).date().isoformat()
    assert passes.full == 2


def test_a_pass_that_failed_halfway_leaves_nothing_behind(passes: Passes, monkeypatch: pytest.MonkeyPatch) -> None:
    yard = Yard()
    overview()
    yard.send(yard.visit(0, 0, seen_at=ago(0)))
    with monkeypatch.context() as broken:
        broken.setattr(kept, "pieces_of", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            overview()
    assert overview().document["trends"] == in_full()["trends"]
    assert passes.full == 2


def test_threads_that_ask_at_once_share_one_pass(passes: Passes) -> None:
    Yard()
    found: list[Overview] = []
    asking = [threading.Thread(target=lambda: found.append(overview())) for _ in range(4)]
    for thread in asking:
        thread.start()
    for thread in asking:
        thread.join()
    assert (passes.full, len(found), len({each.version for each in found})) == (1, 4, 1)
