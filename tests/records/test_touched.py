"""What the log says about whom changes bear on, on both engines."""

from __future__ import annotations

from typing import Any

import pytest

from server.records import touched
from server.records.database import read_counter
from server.records.touched import Touched, touched_since
from tests.support.collection import Phone

pytestmark = pytest.mark.usefixtures("collection")

SEEN_AT = "2026-05-01T08:00:00+02:00"


def observed(phone: Phone, tree: str, **fields: Any) -> str:
    change = phone.change("observation", tree=tree, seen_at=SEEN_AT, **fields)
    phone.send(change)
    return str(change["record"])


def test_facts_touch_their_trees_and_corrections_too() -> None:
    phone = Phone()
    first, second, third = (phone.tree() for _ in range(3))
    old = observed(phone, first, leaves=20)
    counter = read_counter()
    assert touched_since(counter) == Touched()
    phone.send(phone.change("observation", record=old, leaves=21))
    assert touched_since(counter) == Touched(frozenset({first}))
    new = observed(phone, second, leaves=30)
    phone.send(phone.change("observation", record=new, tree=third))
    assert touched_since(counter) == Touched(frozenset({first, second, third}))


def test_a_fact_that_changes_its_tree_bears_on_one_that_the_log_does_not_name() -> None:
    phone = Phone()
    first, second = phone.tree(), phone.tree()
    old = observed(phone, first)
    counter = read_counter()
    phone.send(phone.change("observation", record=old, tree=second))
    assert touched_since(counter).wider


def test_cards_bear_on_others_but_for_a_trees_own_remarks() -> None:
    phone = Phone()
    tree = phone.tree()
    counter = read_counter()
    phone.send(phone.change("tree", record=tree, note="by the door", pot_litres=20))
    assert touched_since(counter) == Touched(frozenset({tree}))
    phone.send(phone.change("tree", record=tree, standing="keeper"))
    assert touched_since(counter).wider
    counter = read_counter()
    phone.send(phone.change("place", place="Yard"))
    assert touched_since(counter).wider


def test_rounds_and_photos_touch_nothing() -> None:
    phone = Phone()
    tree = phone.tree()
    counter = read_counter()
    phone.send(phone.change("round", started_at=SEEN_AT))
    phone.send(phone.change("photo", tree=tree, sha256="ab" * 32, taken_at=SEEN_AT))
    assert touched_since(counter) == Touched()


def test_more_changes_than_are_followed_count_as_wider(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(touched, "CHANGES_MAX", 2)
    phone = Phone()
    tree = phone.tree()
    counter = read_counter()
    for told in (False, False, True):
        observed(phone, tree)
        assert touched_since(counter).wider is told
