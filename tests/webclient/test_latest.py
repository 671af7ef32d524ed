"""Last visits, held against a plain recomputation from everything that was ever done, over random histories."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.webclient.phone import Phone, new_id, record, refused, stored

FIRST = datetime(2026, 4, 1, 8, tzinfo=UTC)
STEPS = 120
# How far back a value that the last visit left out is looked for, as the store promises.
VISITS_KNOWN_MAX = 8


class Model:
    """What home and phone hold, as dictionaries: the base as pulled, and the unsent changes in order."""

    def __init__(self) -> None:
        self.base: dict[tuple[str, str], dict[str, Any]] = {}
        self.own: list[tuple[str, str, str, dict[str, Any]]] = []

    def view(self) -> dict[tuple[str, str], dict[str, Any]]:
        fields = {key: dict(value) for key, value in self.base.items()}
        for kind, identity, _, edit in self.own:
            fields.setdefault((kind, identity), {}).update(edit)
        return {key: {f: v for f, v in value.items() if v is not None} for key, value in fields.items()}

    def facts(self, kind: str, tree: str) -> list[dict[str, Any]]:
        view = self.view().items()
        found = [v for (k, _), v in view if k == kind and v["tree"] == tree and not v.get("voided")]
        return sorted(found, key=lambda v: datetime.fromisoformat(moment_of(v)))

    def latest(self, tree: str) -> dict[str, Any]:
        card = self.view()[("tree", tree)]
        visits = self.facts("observation", tree)[::-1][:VISITS_KNOWN_MAX]
        moves = self.facts("move", tree)
        pots = [w for w in self.facts("work", tree) if w["task"] in ("pot_up", "pot_down") and "amount" in w]
        known: dict[str, Any] = {}
        for visit in visits:
            known = {**{f: v for f, v in visit.items() if f in ("leaves", "leaves_fallen", "soil")}, **known}
        return {
            "fields": visits[0] if visits else {},
            "place": moves[-1]["to_place"] if moves else card.get("place"),
            "pot_litres": pots[-1]["amount"] if pots else card.get("pot_litres"),
            "known": known,
        }


def moment_of(fields: dict[str, Any]) -> str:
    return next(fields[name] for name in ("seen_at", "moved_at", "done_at") if name in fields)


def some_time(chance: random.Random) -> str:
    """A distinct moment, written in one of several offsets so that text order is not time order."""
    moment = FIRST + timedelta(seconds=chance.randrange(2_000_000))
    offset = timedelta(hours=chance.choice([0, 2, -7, 5.5]))
    return moment.astimezone(timezone(offset)).isoformat()


def some_fact(chance: random.Random, trees: list[str], places: list[str]) -> tuple[str, dict[str, Any]]:
    tree = chance.choice(trees)
    kind = chance.choice(["observation", "observation", "observation", "move", "work"])
    if kind == "move":
        return kind, {"tree": tree, "moved_at": some_time(chance), "to_place": chance.choice(places)}
    if kind == "work":
        task = chance.choice(["pot_up", "pot_down", "water"])
        amount = chance.choice([19, 38, 57, None])
        return kind, {"tree": tree, "done_at": some_time(chance), "task": task, "amount": amount}
    values = {"leaves": chance.randrange(200), "leaves_fallen": chance.randrange(9), "soil": "dry"}
    chosen = {name: value for name, value in values.items() if chance.random() < 0.6}
    return kind, {"tree": tree, "seen_at": some_time(chance), **chosen}


def some_correction(chance: random.Random, kind: str, trees: list[str]) -> dict[str, Any]:
    moment = {"observation": "seen_at", "move": "moved_at", "work": "done_at"}[kind]
    corrections = [{"voided": True}, {"voided": False}, {"tree": chance.choice(trees)}, {moment: some_time(chance)}]
    if kind == "observation":
        corrections += [{"leaves": chance.randrange(200)}, {"leaves": None}]
    return chance.choice(corrections)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_last_visit_is_always_what_a_recomputation_gives(page: Page, seed: int) -> None:
    chance = random.Random(seed)
    phone, model = Phone(page), Model()
    places, trees = [new_id() for _ in range(3)], [new_id() for _ in range(3)]
    cards = {t: {"tag": "", "place": chance.choice(places), "pot_litres": 19} for t in trees}
    phone.take([record("tree", card, tree) for tree, card in cards.items()])
    model.base.update({("tree", tree): card for tree, card in cards.items()})
    for step in range(STEPS):
        act(chance, phone, model, trees, places, step)
        for tree in trees:
            check(phone, model, tree)


def some_recent(
    chance: random.Random, facts: list[tuple[str, str]], view: dict[tuple[str, str], dict[str, Any]]
) -> tuple[str, str]:
    """Mostly one of the newest facts, since a last visit is made of them."""
    in_order = sorted(facts, key=lambda key: datetime.fromisoformat(moment_of(view[key])))
    return chance.choice(in_order[-4:] if chance.random() < 0.7 else in_order)


def act(chance: random.Random, phone: Phone, model: Model, trees: list[str], places: list[str], step: int) -> None:
    """One random thing: save, correct, be pulled at, or hear an outcome."""
    facts = [key for key in model.view() if key[0] != "tree"]
    turn = chance.random()
    if turn < 0.45 or not facts:
        kind, fields = some_fact(chance, trees, places)
        saved = phone.save(kind, fields)
        model.own.append((kind, saved["record"], saved["change"], fields))
    elif turn < 0.65:
        kind, identity = some_recent(chance, facts, model.view())
        edit = some_correction(chance, kind, trees)
        saved = phone.save(kind, edit, identity)
        model.own.append((kind, identity, saved["change"], edit))
    elif turn < 0.8:
        pulled = [some_fact(chance, trees, places) for _ in range(chance.randrange(1, 5))]
        records = [record(kind, {f: v for f, v in fields.items() if v is not None}) for kind, fields in pulled]
        phone.take(records, cursor=f"pull {step}")
        model.base.update({(r["kind"], r["id"]): r["fields"] for r in records})
    elif model.own:
        settle(chance, phone, model, step)


def settle(chance: random.Random, phone: Phone, model: Model, step: int) -> None:
    """Home takes the first few changes, or refuses the last one."""
    if chance.random() < 0.3:
        change = model.own[-1][2]
        phone.take(results=[refused(change, "record", "Not today.")], cursor=f"refused {step}")
        model.own.pop()
        return
    count = chance.randrange(1, len(model.own) + 1)
    phone.take(results=stored(*(each[2] for each in model.own[:count])), cursor=f"stored {step}")
    for kind, identity, _, edit in model.own[:count]:
        model.base.setdefault((kind, identity), {}).update(edit)
    del model.own[:count]


def check(phone: Phone, model: Model, tree: str) -> None:
    ours = phone.run("store.records.latest(a)", tree)
    expected = model.latest(tree)
    expected["fields"] = {f: v for f, v in expected["fields"].items() if (f, v) != ("voided", False)}
    known = {name: value["value"] for name, value in ours["known"].items()}
    assert {**{name: ours[name] for name in expected}, "known": known} == expected
