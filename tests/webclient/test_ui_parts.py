"""The screens' pure pieces: addresses, presses, searches, and what a form's texts mean."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page


def call(page: Page, module: str, name: str, *arguments: Any) -> Any:
    """One exported function of a module of the screens."""
    return page.evaluate(
        "async ([module, name, args]) => (await import(`/ui/${module}.js`))[name](...args)",
        [module, name, list(arguments)],
    )


@pytest.mark.parametrize(
    ("path", "found"),
    [
        ("tree/a1", {"name": "tree", "params": {"id": "a1"}}),
        ("tree/a1/move", {"name": "carry", "params": {"id": "a1", "deed": "move"}}),
        ("tree//a1", {"name": "tree", "params": {"id": "a1"}}),
        ("tree/%zz", {"name": "tree", "params": {"id": "%zz"}}),
        ("tree", None),
        ("nowhere", None),
    ],
)
def test_an_address_leads_to_its_screen(page: Page, path: str, found: Any) -> None:
    routes = [["tree/:id", "tree"], ["tree/:id/:deed", "carry"]]
    assert call(page, "router", "matchRoute", routes, path) == found


@pytest.mark.parametrize(
    ("text", "last", "sign", "after"),
    [
        ("", None, 1, "0.5"),
        ("", 5.5, 1, "6"),
        ("", 5.5, -1, "5"),
        ("7", 5.5, 1, "7.5"),
        ("7,5", None, -1, "7"),
        ("eight", 2, 1, "2.5"),
        ("0", 3, -1, "0"),
        ("500", None, 1, "500"),
    ],
)
def test_a_press_counts_from_what_stands_there_else_from_the_last_visit(
    page: Page, text: str, last: float | None, sign: int, after: str
) -> None:
    field = {"text": text, "last": last, "from": 0, "step": 0.5, "min": 0, "max": 500, "decimals": 1}
    assert call(page, "counter", "nudgedText", field, sign) == after


@pytest.mark.parametrize(
    ("text", "standing", "found"),
    [
        ("", "grown", ["a", "b"]),
        ("", "retired", ["c"]),
        ("porch amber", "all", ["a", "c"]),
        ("xyz 123", "grown", ["b"]),
        ("nothing of it", "all", []),
    ],
)
def test_trees_are_found_by_every_word(page: Page, text: str, standing: str, found: list[str]) -> None:
    lines = [
        {"tree": {"id": "a", "fields": {"standing": "trial"}}, "haystack": "abc def porch amber"},
        {"tree": {"id": "b", "fields": {"standing": "keeper"}}, "haystack": "xyz 123 yard kestrel"},
        {"tree": {"id": "c", "fields": {"standing": "retired"}}, "haystack": "qqq 777 porch amber"},
    ]
    assert [line["tree"]["id"] for line in call(page, "screens/trees", "matching", lines, text, standing)] == found


def test_only_fields_that_differ_from_the_record_are_set(page: Page) -> None:
    before = {"place": "Yard", "light_percent": 100, "heated": False, "note": "windy"}
    texts = {"place": "Yard", "light_percent": "80", "heated": "no", "note": "", "latitude": ""}
    options = {"before": before, "units": {"length": "cm", "volume": "l", "temperature": "C"}}
    assert call(page, "fields", "readForm", "place", texts, options) == {
        "set": {"light_percent": 80, "note": None},
        "problems": [],
    }


def test_an_unchanged_value_in_gallons_is_not_set_again(page: Page) -> None:
    """19 l shows as 5.02 gal, which read back would be 19.0027 l: looking at a card must not change it."""
    units = {"length": "in", "volume": "gal", "temperature": "F"}
    text = call(page, "fields", "textOf", "tree", "pot_litres", 19, units)
    assert text == "5.02"
    options = {"before": {"tag": "ABCDEF", "pot_litres": 19}, "units": units}
    assert call(page, "fields", "readForm", "tree", {"pot_litres": text}, options)["set"] == {}


def test_a_bound_is_told_in_the_growers_unit(page: Page) -> None:
    units = {"length": "in", "volume": "gal", "temperature": "F"}
    options = {"units": units, "given": {"tree": "0" * 8, "seen_at": "2026-05-03T09:14:00+02:00"}}
    problems = call(page, "fields", "readForm", "observation", {"shoot_cm": "300"}, options)["problems"]
    message = next(problem["message"] for problem in problems if problem["field"] == "shoot_cm")
    # 500 cm / 2.54 = 196.85 in, by NIST SP 811.
    assert message == "Give a value between 0 in and 196.9 in."


@pytest.mark.parametrize(
    ("choice", "answer"),
    [
        ({"what": "all", "blank": "", "paper": "a4-21"}, {"path": "/tags.pdf?paper=a4-21"}),
        ({"what": "blank", "blank": "24", "paper": "letter-14"}, {"path": "/tags.pdf?paper=letter-14&blank=24"}),
        ({"what": "p1", "blank": "0", "paper": "a4-21"}, {"path": "/tags.pdf?paper=a4-21&place=p1"}),
        ({"what": "blank", "blank": "0", "paper": "a4-21"}, {"wrong": "Give a whole number from 1 to 500."}),
        ({"what": "blank", "blank": "1e9", "paper": "a4-21"}, {"wrong": "Give a whole number from 1 to 500."}),
    ],
)
def test_tags_are_asked_for_as_chosen(page: Page, choice: dict[str, str], answer: dict[str, str]) -> None:
    assert call(page, "screens/tags", "tagsPath", choice) == answer


def test_what_came_over_many_trees_at_once_is_told_once(page: Page) -> None:
    def alert(tag: str, **more: Any) -> dict[str, Any]:
        return {"tag": tag, "level": "act", "kind": "leaf_drop", "why": [f"of {tag}"], "advice": "Look.", **more}

    moved = {"kind": "too_much_light", "from_place": "Porch", "to_place": "Terrace", "since": "2026-05-02"}
    night = {"kind": "cold", "place": "Terrace", "night": "2026-05-09"}
    alerts = [
        alert("A", **night, why=["Tonight falls to −1 °C.", "Figs are harmed from 0 °C."]),
        alert("B", **night, why=["Tonight falls to −1 °C.", "Olives are harmed from −1 °C."]),
        alert("A", **moved, why=["Four times the light.", "Damage went to 5 percent."]),
        alert("B", **moved, why=["Four times the light.", "Damage went to 9 percent."]),
        alert("C", **{**moved, "since": "2026-05-05"}),
        alert("A"),
        alert("D", level="watch"),
    ]
    told = call(page, "finding", "gathered", alerts)
    assert [(each["alert"]["kind"], each["tags"]) for each in told] == [
        ("cold", ["A", "B"]),
        ("too_much_light", ["A", "B"]),
        ("too_much_light", ["C"]),
        ("leaf_drop", ["A"]),
        ("leaf_drop", ["D"]),
    ]
    assert len(told[0]["alert"]["why"]) == 3
    assert told[1]["alert"]["why"] == ["Four times the light."]
    # A tree with three findings is one tree.
    assert call(page, "finding", "treesNamed", alerts) == {"act": 3, "watch": 1}
