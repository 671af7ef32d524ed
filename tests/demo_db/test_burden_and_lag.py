"""Trees of the demonstration that carry too much or lag, held against what was planted."""

from __future__ import annotations

from demo_db.build import Built
from server.reports.alerts import alerts


def test_overloaded_and_lagging_trees_are_found_and_no_others(demo: Built):
    found = alerts(demo.today).items
    for kind in ("overloaded", "behind"):
        planted = {truth.tag for truth in demo.truths if truth.finding == kind}
        assert planted
        assert {item.tag for item in found if item.kind == kind} == planted


def test_taking_fruit_off_comes_with_the_caution_about_sap(demo: Built):
    overloaded = [item for item in alerts(demo.today).document()["items"] if item["kind"] == "overloaded"]
    assert overloaded
    assert {item["caution"] for item in overloaded} == {"sap"}
    assert {item["level"] for item in overloaded} == {"act"}
