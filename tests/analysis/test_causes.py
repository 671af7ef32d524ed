"""Likely causes: what left a trace outranks what did not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from server.analysis.causes import ADVICE, Case, MoveEvent, began_on, likely_causes

CASE = Case(seen_whole_on=date(2026, 5, 1), first_seen_on=date(2026, 5, 5))
MOVE = MoveEvent(date(2026, 5, 1), "the porch", "the yard", 40.0, 100.0, companions=7, companions_dropping=4)


def first(case):
    return likely_causes(case).causes[0].cause


def test_without_a_trace_the_cause_is_unknown():
    found = likely_causes(CASE)
    assert [cause.cause for cause in found.causes] == ["unknown"]
    assert found.causes[0].weight == 1


@pytest.mark.parametrize(
    ("case", "cause"),
    [
        (replace(CASE, moves=[MOVE]), "move"),
        (replace(CASE, readings=[(date(2026, 5, 2), -2.0, 9.0)]), "cold"),
        (replace(CASE, readings=[(date(2026, 5, 2), 20.0, 40.0)]), "heat"),
        (replace(CASE, soils=[(date(2026, 5, 5), "dry")]), "drought"),
        (replace(CASE, works=[(date(2026, 4, 28), "root_prune")]), "repotting"),
        (replace(CASE, recorded=[(date(2026, 5, 5), "pest")]), "pest"),
        (replace(CASE, recorded=[(date(2026, 5, 5), "disease")]), "disease"),
        (replace(CASE, recorded=[(date(2026, 5, 5), "wind")]), "wind"),
        (replace(CASE, common_factor=3.0), "season"),
    ],
)
def test_a_trace_names_its_cause(case, cause):
    found = likely_causes(case)
    assert found.causes[0].cause == cause
    assert found.advice == ADVICE[cause]
    assert sum(c.weight for c in found.causes) == pytest.approx(1, abs=0.01)


def weight_of_move(*moves):
    return next(c.weight for c in likely_causes(replace(CASE, moves=moves)).causes if c.cause == "move")


def test_a_big_step_in_light_weighs_more():
    """The trees most shaded under cover suffer most when moved out: common practice, no published source."""
    assert weight_of_move(MOVE) > weight_of_move(replace(MOVE, from_light_percent=90.0))


def test_two_moves_close_together_weigh_more_than_one():
    """Two moves in quick succession are worse than one: common practice, no published source."""
    earlier = MoveEvent(date(2026, 4, 24), "the house", "the porch", 10.0, 40.0)
    assert weight_of_move(earlier, MOVE) > weight_of_move(MOVE)


def test_when_all_companions_drop_it_is_the_move_and_when_none_does_look_at_the_roots():
    all_drop, alone = replace(MOVE, companions_dropping=7), replace(MOVE, companions_dropping=0)
    assert weight_of_move(all_drop) > weight_of_move(alone)
    assert "roots" in likely_causes(replace(CASE, moves=[alone])).advice
    assert likely_causes(replace(CASE, moves=[all_drop])).advice == ADVICE["move"]


def test_evidence_reads_as_a_sentence():
    evidence = likely_causes(replace(CASE, moves=[MOVE])).causes[0].evidence
    assert "Moved to the yard on 1 May" in evidence
    assert "from 40 to 100 % of the light" in evidence
    assert "Five of eight moved that day are dropping." in evidence


def test_a_move_after_the_drop_was_seen_explains_nothing():
    late = replace(MOVE, on=date(2026, 5, 9))
    assert first(replace(CASE, moves=[late])) == "unknown"


def test_weather_long_before_explains_nothing():
    assert first(replace(CASE, readings=[(date(2026, 4, 10), -5.0, 9.0)])) == "unknown"


def test_a_drop_begins_between_the_visits_and_not_before_the_move():
    assert began_on(CASE) == date(2026, 5, 3)
    assert began_on(replace(CASE, moves=[replace(MOVE, on=date(2026, 5, 4))])) == date(2026, 5, 5)
