"""Species figures, hardening plans and steps over HTTP: who may, what is taken, what is refused."""

from __future__ import annotations

import pytest

from server import ids
from tests.support.server import Visitor

FIGURE = {"species", "name", "value", "unit", "low", "high", "source", "is_setting", "own"}


def value_of(visitor: Visitor, species: str, name: str) -> object:
    figures = visitor.call("GET", "/settings/species").json["figures"]
    return next(each["value"] for each in figures if (each["species"], each["name"]) == (species, name))


def test_owners_set_figures_and_helpers_read_them(owner: Visitor, helper: Visitor, stranger: Visitor) -> None:
    known = {"If-None-Match": owner.call("GET", "/overview").headers["ETag"]}
    body = {"species": "fig", "name": "leaves_per_fruit", "value": 5.5}
    assert helper.call("PUT", "/settings/species", json=body).status_code == 403
    assert stranger.call("GET", "/settings/species").status_code == 401
    assert owner.call("GET", "/overview", headers=known).status_code == 304
    answer = owner.call("PUT", "/settings/species", json=body)
    assert answer.status_code == 200
    assert set(answer.json["figures"][0]) >= FIGURE
    assert value_of(helper, "fig", "leaves_per_fruit") == 5.5
    assert owner.call("GET", "/overview", headers=known).status_code == 200
    owner.call("PUT", "/settings/species", json={**body, "value": None})
    assert value_of(helper, "fig", "leaves_per_fruit") == 4.0
    assert "species" not in owner.call("GET", "/settings").json


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"species": "turnip"}, "species"),
        ({"name": "colour"}, "name"),
        ({"value": 5000}, "value"),
        ({"value": "5"}, "value"),
        ({"value": True}, "value"),
        ({"value": {"a": 1}}, "value"),
        ({"colour": 1}, "colour"),
        ({"species": 1}, "species"),
    ],
)
def test_a_bad_figure_is_refused_by_field(owner: Visitor, change: dict[str, object], field: str) -> None:
    body = {"species": "fig", "name": "leaves_per_fruit", "value": 5, **change}
    answer = owner.call("PUT", "/settings/species", json=body)
    assert (answer.status_code, answer.mimetype) == (422, "application/problem+json")
    assert [each["field"] for each in answer.json["errors"]] == [field]
    assert value_of(owner, "fig", "leaves_per_fruit") == 4.0


def test_a_plan_and_a_step_are_asked_for_by_anyone_paired(owner: Visitor, helper: Visitor) -> None:
    house = owner.change("place", place="House", cover="glasshouse", latitude=48.0)
    room = owner.change("place", place="Room", cover="indoors", latitude=48.0)
    yard = owner.change("place", place="Yard", cover="open", latitude=48.0)
    owner.stored(house, room, yard)
    code = ids.new_tag_code()
    tree = owner.tree(tag=code, place=room["record"])
    owner.tree(place=house["record"])
    day = "on=2026-05-02"
    (item,) = helper.call("GET", f"/reports/hardening?{day}&tree={code}").json["items"]
    assert [each["tree"] for each in item["trees"]] == [tree]
    assert item["days"][0]["on"] == "2026-05-02"
    assert helper.call("GET", f"/reports/hardening?{day}&tree={tree}").json["items"] == [item]
    assert helper.call("GET", f"/reports/hardening?{day}&place=Room&to={yard['record']}").json["items"] == [item]
    assert len(helper.call("GET", f"/reports/hardening?{day}").json["items"]) == 2
    step = helper.call("GET", f"/trees/{tree}/step?to=Yard&{day}").json
    assert (step["tag"], step["from_place"], step["to_place"]) == (code, "Room", "Yard")
    assert step["step"]["level"] == "act"
    assert step["reasons"]
    assert step["words"]


def test_a_plan_or_step_that_can_not_be_made_says_why(owner: Visitor) -> None:
    yard = owner.change("place", place="Yard", cover="open")
    owner.stored(yard)
    tree = owner.tree(place=yard["record"])
    for path, status in (
        ("/reports/hardening?place=Attic", 404),
        ("/reports/hardening?tree=ABC", 422),
        (f"/reports/hardening?tree={ids.new_tag_code()}", 404),
        (f"/reports/hardening?tree={ids.new_id()}", 404),
        ("/reports/hardening?on=9999-12-31", 422),
        ("/reports/hardening?colour=red", 422),
        (f"/trees/{tree}/step", 422),
        (f"/trees/{tree}/step?to=Attic", 404),
        (f"/trees/{ids.new_id()}/step?to=Yard", 404),
        ("/trees/nothing/step?to=Yard", 404),
    ):
        answer = owner.call("GET", path)
        assert (answer.status_code, answer.mimetype) == (status, "application/problem+json"), path
