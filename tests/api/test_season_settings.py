"""What counts in the season's review, over HTTP: who may set it, what is taken, what is refused."""

from __future__ import annotations

import pytest

from tests.support.server import Visitor

PATH = "/settings/season"


def figures_of(visitor: Visitor) -> dict[str, dict[str, object]]:
    return {each["name"]: each for each in visitor.call("GET", PATH).json["figures"]}


def test_owners_set_what_counts_and_everyone_paired_reads_it(owner: Visitor, helper: Visitor) -> None:
    body = {"name": "care", "value": 70}
    assert helper.call("PUT", PATH, json=body).status_code == 403
    before = figures_of(helper)
    assert all(each["is_setting"] and not each["own"] for each in before.values())
    # 40 and 25 and 15 and 10 and 10 parts are 100.
    assert [each["share"] for each in before.values()] == [0.4, 0.25, 0.15, 0.1, 0.1, None, None]
    assert owner.call("PUT", PATH, json=body).status_code == 200
    after = figures_of(helper)
    assert (after["care"]["value"], after["care"]["own"], after["care"]["table_value"]) == (70, True, 10)
    assert after["yield_g"]["share"] == pytest.approx(40 / 160, abs=5e-4)
    assert owner.call("GET", "/reports/season").json["weights"]["care"] == pytest.approx(70 / 160, abs=1e-3)
    owner.call("PUT", PATH, json={**body, "value": None})
    assert figures_of(helper) == before
    assert "season" not in owner.call("GET", "/settings").json


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": "colour"}, "name"),
        ({"value": 101}, "value"),
        ({"value": -1}, "value"),
        ({"value": "10"}, "value"),
        ({"value": True}, "value"),
        ({"value": [1]}, "value"),
        ({"name": "sure_percent", "value": 50}, "value"),
        ({"colour": 1}, "colour"),
    ],
)
def test_a_bad_figure_is_refused_by_field(owner: Visitor, change: dict[str, object], field: str) -> None:
    answer = owner.call("PUT", PATH, json={"name": "care", "value": 5, **change})
    assert (answer.status_code, answer.mimetype) == (422, "application/problem+json")
    assert [each["field"] for each in answer.json["errors"]] == [field]
    assert figures_of(owner)["care"]["value"] == 10


def test_something_must_count(owner: Visitor) -> None:
    for name in ("yield_g", "quality", "days_to_ripeness", "troubles"):
        assert owner.call("PUT", PATH, json={"name": name, "value": 0}).status_code == 200
    assert owner.call("PUT", PATH, json={"name": "care", "value": 0}).status_code == 422
    assert figures_of(owner)["care"]["share"] == 1.0
