"""Who gets a place: limits hold, newcomers displace who waits, and nobody who is served."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.lan.gate import Gate, Stage, Visit


def visitor(gone: list[Visit], client: str) -> Visit:
    visit = Visit(client, lambda: gone.append(visit))
    return visit


def test_a_client_at_its_limit_displaces_its_own_longest_waiting() -> None:
    gate, gone = Gate(10, 2), []
    first, second, third = (visitor(gone, "a") for _ in range(3))
    assert all(gate.enter(each) for each in (first, second))
    gate.now(first, Stage.AT_WORK)
    gate.now(first, Stage.WAITING)
    assert gate.enter(third)
    assert gone == [second], "the first has been at work since the second came"


def test_who_is_at_work_stays() -> None:
    gate, gone = Gate(10, 2), []
    for _ in range(2):
        visit = visitor(gone, "a")
        assert gate.enter(visit)
        gate.now(visit, Stage.AT_WORK)
    assert not gate.enter(visitor(gone, "a"))
    assert gate.enter(visitor(gone, "b"))
    assert gone == []


def test_a_full_house_makes_room_at_the_cost_of_who_holds_most() -> None:
    gate, gone = Gate(4, 4), []
    quiet = visitor(gone, "quiet")
    assert gate.enter(quiet)
    greedy = [visitor(gone, "greedy") for _ in range(3)]
    assert all(gate.enter(each) for each in greedy)
    assert gate.enter(visitor(gone, "new"))
    assert gone == [greedy[0]]


def test_who_waits_goes_before_who_sends_and_who_sends_before_who_reads() -> None:
    gate, gone = Gate(10, 3), []
    visits = [visitor(gone, "a") for _ in range(3)]
    for visit, stage in zip(visits, (Stage.LEAVING, Stage.ARRIVING, Stage.WAITING), strict=True):
        assert gate.enter(visit)
        gate.now(visit, stage)
    for _ in range(3):
        newcomer = visitor(gone, "a")
        assert gate.enter(newcomer)
        gate.now(newcomer, Stage.AT_WORK)
    assert gone == visits[::-1]
    assert not gate.enter(visitor(gone, "a"))


@pytest.mark.parametrize(("total", "each"), [(5, 2), (3, 3), (1, 1)])
@given(
    steps=st.lists(
        st.tuples(st.sampled_from("abc"), st.sampled_from(["enter", "leave", *Stage]), st.integers(0, 9)),
        max_size=60,
    )
)
def test_limits_hold_whatever_happens(total: int, each: int, steps: list[tuple[str, str | Stage, int]]) -> None:
    gate, gone = Gate(total, each), []
    inside: list[Visit] = []
    for client, step, pick in steps:
        if step == "enter":
            visit = visitor(gone, client)
            if gate.enter(visit):
                inside.append(visit)
        elif inside:
            visit = inside[pick % len(inside)]
            if isinstance(step, Stage):
                gate.now(visit, step)
            else:
                gate.leave(visit)
                inside.remove(visit)
        assert not [visit for visit in gone if visit in inside and visit.stage is Stage.AT_WORK]
        inside = [visit for visit in inside if visit not in gone]
        assert len(gate) == len(inside) <= total
        for name in "abc":
            assert sum(visit.client == name for visit in inside) <= each
